//! Which rung of the ladder an opinion stands on, and of whom it speaks: from probabilities alone, by the pack's thresholds.

use crate::circuit::Posterior;
use crate::model::{ClueKind, MakerRole, Model, Wording};
use crate::network::VariableId;
use crate::piece::{Look, Piece};
use crate::query::{marginal, most_probable};

/// A works is named under "one of its partnerships" only if a second partnership has at least this chance.
const SECOND_PARTNERSHIP: f64 = 0.01;

/// Probabilities an opinion rests on.
#[derive(Clone, Debug)]
pub struct Grounds {
    /// Of each maker.
    pub maker: Vec<f64>,
    /// Of each works; empty if the pack names none.
    pub works: Vec<f64>,
    /// Of each region.
    pub region: Vec<f64>,
    /// Of each engraving; empty for wares without.
    pub engraving: Vec<f64>,
}

impl Grounds {
    /// As a posterior has them.
    #[must_use]
    pub fn of(model: &Model, posterior: &Posterior) -> Self {
        let catalogue = &model.catalogue;
        let of = |id: Option<VariableId>| id.map(|id| marginal(posterior, id).to_vec());
        Self {
            maker: marginal(posterior, catalogue.maker).to_vec(),
            region: marginal(posterior, catalogue.region).to_vec(),
            works: of(catalogue.works).unwrap_or_default(),
            engraving: of(catalogue.engraving).unwrap_or_default(),
        }
    }
}

/// What is said, without the words: two opinions are the same if they say the same of the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Opinion {
    /// A later copy.
    Copy,
    /// By none of the listed makers.
    Unlisted {
        /// The engraving it was printed from, if that is sure enough.
        engraving: Option<usize>,
    },
    /// By a maker whose own full mark it bears, with findings that do not pull against each other.
    Marked {
        /// The maker.
        maker: usize,
    },
    /// Attributed to a maker.
    Attributed {
        /// The maker.
        maker: usize,
    },
    /// A works, under one of its partnerships.
    Works {
        /// The works.
        works: usize,
    },
    /// Probably by a maker.
    Probably {
        /// The maker.
        maker: usize,
    },
    /// By one of two makers.
    Either {
        /// The two, the one listed earlier in the pack first.
        makers: [usize; 2],
        /// The engraving, if sure enough.
        engraving: Option<usize>,
    },
    /// From a region, maker not identified.
    Region {
        /// The region.
        region: usize,
        /// The engraving, if sure enough.
        engraving: Option<usize>,
    },
    /// Printed from an engraving, maker not identified.
    Engraving {
        /// The engraving.
        engraving: usize,
    },
    /// Maker not identified.
    NotIdentified,
}

impl Opinion {
    /// The rung's name.
    #[must_use]
    pub fn rung(self) -> &'static str {
        match self {
            Self::Copy => "copy",
            Self::Unlisted { .. } | Self::Attributed { .. } => "attributed",
            Self::Marked { .. } => "marked",
            Self::Works { .. } => "works",
            Self::Probably { .. } => "probably",
            Self::Either { .. } => "either",
            Self::Region { .. } => "region",
            Self::Engraving { .. } => "engraving",
            Self::NotIdentified => "not identified",
        }
    }

    /// The rung's threshold; 0 for the lowest.
    #[must_use]
    pub fn at_least(self, ladder: &Wording) -> f64 {
        match self {
            Self::Copy => ladder.copy,
            Self::Unlisted { .. } | Self::Attributed { .. } => ladder.attributed,
            Self::Marked { .. } => ladder.marked,
            Self::Works { .. } => ladder.works,
            Self::Probably { .. } => ladder.probably,
            Self::Either { .. } => ladder.either,
            Self::Region { .. } => ladder.region,
            Self::Engraving { .. } => ladder.engraving,
            Self::NotIdentified => 0.0,
        }
    }

    /// How probable it is that what it claims is so; of an opinion that identifies nobody, the leading maker's chance.
    #[must_use]
    pub fn probability(self, grounds: &Grounds) -> f64 {
        let p = &grounds.maker;
        let leader = || most_probable(p).map_or(0.0, |first| p[first]);
        match self {
            Self::Marked { maker } | Self::Attributed { maker } | Self::Probably { maker } => {
                p[maker]
            }
            Self::Copy | Self::Unlisted { .. } | Self::NotIdentified => leader(),
            Self::Works { works } => grounds.works[works],
            Self::Either { makers: [a, b], .. } => p[a] + p[b],
            Self::Region { region, .. } => grounds.region[region],
            Self::Engraving { engraving } => grounds.engraving[engraving],
        }
    }
}

/// The opinion by the pack's thresholds. `has_own_mark` holds true of a maker whose full mark the piece bears; the name alone
/// needs findings without conflict as well.
#[must_use]
pub fn opinion(
    model: &Model,
    grounds: &Grounds,
    has_own_mark: impl Fn(usize) -> bool,
    in_conflict: bool,
) -> Opinion {
    let catalogue = &model.catalogue;
    let ladder = &catalogue.wording;
    let p = &grounds.maker;
    let Some(first) = most_probable(p) else {
        return Opinion::NotIdentified;
    };
    let Some(second) = second_to(p, first) else {
        return Opinion::NotIdentified;
    };
    let engraving = most_probable(&grounds.engraving)
        .filter(|&engraving| grounds.engraving[engraving] >= ladder.engraving);
    let role = catalogue.makers[first].role;
    match role {
        MakerRole::Reproduction if p[first] >= ladder.copy => return Opinion::Copy,
        MakerRole::Unlisted if p[first] >= ladder.attributed => {
            return Opinion::Unlisted { engraving };
        }
        MakerRole::Listed if p[first] >= ladder.marked && has_own_mark(first) && !in_conflict => {
            return Opinion::Marked { maker: first };
        }
        MakerRole::Listed if p[first] >= ladder.attributed => {
            return Opinion::Attributed { maker: first };
        }
        _ => {}
    }
    if let Some(works) = works_of(model, first, p)
        && grounds.works[works] >= ladder.works
    {
        return Opinion::Works { works };
    }
    if role == MakerRole::Listed && p[first] >= ladder.probably {
        return Opinion::Probably { maker: first };
    }
    if p[first] + p[second] >= ladder.either {
        let makers = [first.min(second), first.max(second)];
        return Opinion::Either { makers, engraving };
    }
    let region = most_probable(&grounds.region);
    if let Some(region) = region
        && grounds.region[region] >= ladder.region
        && role == MakerRole::Listed
    {
        return Opinion::Region { region, engraving };
    }
    match engraving {
        Some(engraving) => Opinion::Engraving { engraving },
        None => Opinion::NotIdentified,
    }
}

/// The most probable beside one.
pub(super) fn second_to(p: &[f64], first: usize) -> Option<usize> {
    (0..p.len())
        .filter(|&other| other != first)
        .max_by(|&a, &b| p[a].total_cmp(&p[b]).then(b.cmp(&a)))
}

/// The leader's works, if a second of its partnerships is a serious answer.
fn works_of(model: &Model, leader: usize, p: &[f64]) -> Option<usize> {
    model.catalogue.works?;
    let makers = &model.catalogue.makers;
    let works = makers[leader].works?;
    let partners = (0..p.len()).filter(|&m| m != leader && makers[m].works == Some(works));
    let second = partners.map(|m| p[m]).fold(0.0, f64::max);
    (second >= SECOND_PARTNERSHIP).then_some(works)
}

/// The makers who used the mark that was read in full, if one was.
#[must_use]
pub fn makers_of_full_mark(model: &Model, piece: &Piece) -> Option<Vec<usize>> {
    let clues = &model.catalogue.clues;
    let state = piece
        .findings()
        .iter()
        .find_map(|f| match (&clues[f.clue].kind, &f.look) {
            (ClueKind::Mark, Look::Seen(state)) => Some(*state),
            _ => None,
        })?;
    model.catalogue.full_readings.get(&state).cloned()
}
