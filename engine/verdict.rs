//! The verdict: who, when, where, how sure, in the trade's words; and how well the clues fit together.

pub mod interval;
pub mod opinion;
pub mod standing;
pub mod surprise;
pub mod wording;

use rayon::prelude::*;
use serde::Serialize;

use crate::circuit::Posterior;
use crate::model::{CompiledModel, MakerRole, MeasureRules, Model};
use crate::network::EvidenceItem;
use crate::piece::{FindingShown, Piece, record};
use crate::query::{Answer, AskError, marginal};
use crate::what_if::{self, WhatIf};
pub use interval::PeriodInterval;
pub use surprise::Surprise;
pub use wording::Attribution;

/// The share of the posterior that the dating interval holds.
pub const DATE_COVERAGE: f64 = 0.9;

/// Cautions that stand under every verdict. Common practice of the trade.
pub const CAUTIONS: [&str; 4] = [
    "An attribution is an opinion, on the findings and prior files named here, with the stated odds; it is no certificate. Makers not listed and later copies remain possible at the chances shown.",
    "A value, and any report for insurance, probate or tax, needs a qualified appraiser.",
    "Old glazes and colours may hold lead or cadmium: not for food or drink unless tested by a laboratory.",
    "Export and heritage law may ask for a licence before the piece leaves the country: ask the authority.",
];

/// The first caution of a pack that leaves out makers not listed or later copies.
const CLOSED_LIST: &str = "An attribution is an opinion, on the findings and prior files named here, with the stated odds; it is no certificate. This pack leaves out some possibilities, named above: its odds hold among the rest alone.";

/// The first caution where what is on no list has no chance: see [`beyond_the_list_at_zero`].
fn ruled_out(what: &str) -> String {
    format!(
        "An attribution is an opinion, on the findings and prior files named here, with the stated odds; it is no certificate. These prior files rule out, given these findings, {what}: nothing of the kind can be ruled out for certain, so give the rows concerned a small chance before you rely on it."
    )
}

/// Whoever is on no list and has no chance at all, in words.
#[must_use]
pub fn beyond_the_list_at_zero(model: &Model, makers: &[f64]) -> Vec<&'static str> {
    let roles = model.catalogue.makers.iter().zip(makers);
    let gone = roles.filter(|(_, p)| **p == 0.0);
    let words = gone.filter_map(|(maker, _)| match maker.role {
        MakerRole::Listed => None,
        MakerRole::Unlisted => Some("a maker not listed"),
        MakerRole::Reproduction => Some("a later copy"),
    });
    words.collect()
}

fn cautions(model: &Model, posterior: &Posterior, what_if: Option<&WhatIf>) -> Vec<String> {
    let mut cautions = what_if::with_caution(what_if, &CAUTIONS);
    let first = cautions.len() - CAUTIONS.len();
    if !model.catalogue.leaves_out.is_empty() {
        cautions[first] = CLOSED_LIST.to_owned();
    } else {
        let gone = beyond_the_list_at_zero(model, marginal(posterior, model.catalogue.maker));
        if !gone.is_empty() {
            cautions[first] = ruled_out(&gone.join(" and "));
        }
    }
    cautions
}

/// One possible answer with its probability.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Share {
    /// Short code, as in the prior files.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Posterior probability.
    pub probability: f64,
    /// Whether it stands for what is on no list: a maker not listed, a later reproduction.
    #[serde(skip_serializing_if = "is_false")]
    pub beyond_the_list: bool,
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "as serde asks for it")]
fn is_false(value: &bool) -> bool {
    !value
}

/// The verdict on a piece.
#[derive(Clone, Debug, Serialize)]
pub struct Verdict {
    /// The piece's title.
    pub piece: String,
    /// What is supposed, so that it is no opinion on the piece as it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub what_if: Option<WhatIf>,
    /// The pack's name.
    pub pack: String,
    /// SHA-256 of the pack's files.
    pub pack_sha256: String,
    /// The opinion in words.
    pub attribution: Attribution,
    /// The shortest interval of whole periods that holds [`DATE_COVERAGE`].
    pub dating: PeriodInterval,
    /// Makers, most probable first.
    pub makers: Vec<Share>,
    /// Works, most probable first; empty if the pack names none.
    pub works: Vec<Share>,
    /// Regions, most probable first.
    pub regions: Vec<Share>,
    /// Periods, in order of time.
    pub periods: Vec<Share>,
    /// Engravings, most probable first; empty for packs without.
    pub engravings: Vec<Share>,
    /// Natural logarithm of P(evidence); of a density, if values were measured that have no bands.
    pub log_evidence: f64,
    /// Whether it is the logarithm of a density, which may be above 1 and depends on units, or of a likelihood up to a factor.
    pub is_density: bool,
    /// How well the findings fit together.
    pub surprise: Surprise,
    /// What was found.
    pub findings: Vec<FindingShown>,
    /// What was not looked at.
    pub not_looked: Vec<String>,
    /// What the pack leaves out, with the reasons.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub leaves_out: Vec<crate::model::LeftOut>,
    /// Cautions.
    pub cautions: Vec<String>,
}

impl CompiledModel {
    /// The verdict on a piece.
    ///
    /// # Errors
    /// As for [`CompiledModel::ask`].
    pub fn verdict(&self, piece: &Piece) -> Result<Verdict, AskError> {
        let answer = self.ask(piece)?;
        self.verdict_of(piece, &answer)
    }

    /// The verdicts on many pieces, each on its own, in their order, on all threads.
    #[must_use]
    pub fn verdicts(&self, pieces: &[Piece]) -> Vec<Result<Verdict, AskError>> {
        pieces.par_iter().map(|piece| self.verdict(piece)).collect()
    }

    /// The verdict from an answer at hand.
    ///
    /// # Errors
    /// As for [`CompiledModel::ask`].
    pub fn verdict_of(&self, piece: &Piece, answer: &Answer) -> Result<Verdict, AskError> {
        let model = &self.model;
        let (findings, not_looked) = record(piece, model);
        let posterior = &answer.posterior;
        let surprise = surprise::surprise(self, piece, answer)?;
        let asked = |what: &str, shares: Vec<Share>| {
            if model.catalogue.leaves_out(what) {
                Vec::new()
            } else {
                shares
            }
        };
        let what_if = WhatIf::of(model, piece);
        Ok(Verdict {
            piece: crate::what_if::title(&self.model, piece),
            pack: model.name.clone(),
            pack_sha256: model.hash.clone(),
            attribution: wording::attribution(model, piece, posterior, surprise.conflict_decibans),
            dating: interval::shortest(
                &model.catalogue.periods,
                marginal(posterior, model.catalogue.period),
                DATE_COVERAGE,
            ),
            makers: asked("maker", makers(model, posterior)),
            works: ranked(
                model
                    .catalogue
                    .works
                    .map_or_else(Vec::new, |id| shares(model, posterior, id)),
            ),
            regions: asked(
                "maker",
                ranked(shares(model, posterior, model.catalogue.region)),
            ),
            periods: asked("period", periods(model, posterior)),
            engravings: engravings(model, posterior),
            log_evidence: posterior.log_evidence(),
            is_density: is_density(model, answer),
            surprise,
            findings,
            not_looked,
            leaves_out: model.catalogue.leaves_out.clone(),
            cautions: cautions(model, posterior, what_if.as_ref()),
            what_if,
        })
    }
}

/// Whether a finding counts by a density, or by a likelihood up to a factor, so that P(evidence) is no probability.
fn is_density(model: &Model, answer: &Answer) -> bool {
    let items = answer.entered.items.iter();
    items.into_iter().any(|(item, _)| match item {
        EvidenceItem::Variable(_) => false,
        EvidenceItem::Measure(id) => {
            !matches!(model.measures[id.index()], MeasureRules::Fragment { .. })
        }
    })
}

/// Makers, most probable first.
#[must_use]
pub fn makers(model: &Model, posterior: &Posterior) -> Vec<Share> {
    let probabilities = marginal(posterior, model.catalogue.maker);
    let share = |(maker, &probability): (&crate::model::Maker, &f64)| Share {
        id: maker.id.clone(),
        name: maker.name.clone(),
        probability,
        beyond_the_list: maker.role != MakerRole::Listed,
    };
    ranked(
        model
            .catalogue
            .makers
            .iter()
            .zip(probabilities)
            .map(share)
            .collect(),
    )
}

/// Engravings, most probable first.
#[must_use]
pub fn engravings(model: &Model, posterior: &Posterior) -> Vec<Share> {
    let Some(id) = model.catalogue.engraving else {
        return Vec::new();
    };
    let mut engravings = shares(model, posterior, id);
    for (share, name) in engravings.iter_mut().zip(&model.catalogue.engravings) {
        share.name.clone_from(name);
    }
    ranked(engravings)
}

/// Periods, in order of time.
#[must_use]
pub fn periods(model: &Model, posterior: &Posterior) -> Vec<Share> {
    let probabilities = marginal(posterior, model.catalogue.period);
    let share = |(period, &probability): (&crate::model::Period, &f64)| Share {
        id: period.id.clone(),
        name: period.in_words(),
        probability,
        beyond_the_list: false,
    };
    model
        .catalogue
        .periods
        .iter()
        .zip(probabilities)
        .map(share)
        .collect()
}

fn shares(model: &Model, posterior: &Posterior, id: crate::network::VariableId) -> Vec<Share> {
    let states = &model.network.variable(id).states;
    let share = |(state, &probability): (&String, &f64)| Share {
        id: state.clone(),
        name: model.catalogue.place_name(state).to_owned(),
        probability,
        beyond_the_list: false,
    };
    states
        .iter()
        .zip(marginal(posterior, id))
        .map(share)
        .collect()
}

/// Most probable first; equal ones keep the order of the pack.
fn ranked(mut shares: Vec<Share>) -> Vec<Share> {
    shares.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    shares
}
