//! A piece: what was looked at, and what was found.
//!
//! Four different entries are kept apart for every clue: *not looked* (nothing is known), a state *seen* (among them the
//! state that means looked and there was nothing), *cannot tell* (looked, and no claim), and an *uncertain* reading
//! (likelihoods of what was seen under each state). A piece never changes: every note gives a new one, so that what-if
//! variants leave the original alone. A second look replaces the first and the record keeps both.

mod carried;
mod colour;
mod condition;
mod dating;
mod error;
mod how_seen;
mod observed;
mod record;
mod size_class;
mod weighing;
mod words_of_doubt;

pub use carried::NotCarried;
pub use colour::coloured;
pub use condition::Condition;
pub use dating::{Registered, dated, found, registration, wording};
pub use error::PieceError;
pub use how_seen::HowSeen;
pub use record::{EarlierShown, FindingShown, record};
pub use size_class::{find_class, require_coding};
pub use weighing::{Bounded, Dimension, weight_clue};
pub use words_of_doubt::{believed, sure};

use crate::cielab::Lab;
use crate::dating::Edtf;
use crate::model::{
    Clue, ClueKind, ClueTarget, LetteringRules, MarkFragment, MeasureRules, Model, Values,
    column::weight,
};
use crate::nearest_name::nearest;
use crate::network::{Evidence, EvidenceItem};
use crate::source::Place;
use crate::units::Reading;

/// What was found of one clue.
#[derive(Clone, Debug, PartialEq)]
pub enum Look {
    /// One state for sure, by position.
    Seen(usize),
    /// Looked, and no claim; with the reason if one was given.
    CannotTell(String),
    /// Likelihood evidence: the chance of what was seen under each state, up to a common factor.
    ///
    /// Source: Pearl 1988, *Probabilistic Reasoning in Intelligent Systems*, sec. 2.2.2 (virtual evidence).
    Uncertain(Vec<f64>),
    /// A stated belief: the probabilities that the states have once everything else is taken into account.
    ///
    /// Source: Jeffrey 1965, *The Logic of Decision*, ch. 11.
    Believed(Vec<f64>),
    /// A mass, with the capacity or area it is judged by, where one is given with it.
    Weighed {
        /// Mass in grams.
        mass: Reading,
        /// What it is divided by, where neither the piece's size nor an earlier note says.
        per: Option<Dimension>,
    },
    /// A measured colour, with the instrument's standard deviations of L*, a* and b* where the pack's do not hold.
    Coloured {
        /// The colour.
        lab: Lab,
        /// Standard deviations of the instrument.
        spread: Option<[f64; 3]>,
    },
    /// What was read of a mark, letter by letter.
    Fragment(Box<MarkFragment>),
    /// A feature that a rule dates is there.
    Found,
    /// A date on the piece or with it.
    Dated(Edtf),
    /// The dates that a registration can mean.
    Registered(Vec<Edtf>),
    /// Quantities measured together: position among the clue's quantities, and value, each quantity once.
    Measured(Vec<(usize, f64)>),
}

/// One entry of the record.
#[derive(Clone, Debug, PartialEq)]
pub struct Finding {
    /// Position among the catalogue's clues.
    pub clue: usize,
    /// Who coded it, among the catalogue's observers; none in a pack that lists none.
    pub observer: Option<usize>,
    /// What was found.
    pub look: Look,
    /// The finding in the words it was entered with.
    pub said: String,
    /// How it was come by.
    pub how: HowSeen,
    /// Whether it was coded without knowing what another observer made of it.
    pub blind: bool,
    /// For a coding, the size class it was made for.
    pub compared: Option<Compared>,
    /// Earlier looks that this one replaced, oldest first.
    pub replaced: Vec<Earlier>,
    /// Where it was written down, if in a text.
    pub entered_at: Option<Place>,
    /// What is supposed, in words, if it was not found at all.
    pub supposed: Option<String>,
}

/// A finding that a what-if leaves out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeftOut {
    /// Position among the catalogue's clues.
    pub clue: usize,
    /// The finding in the words it was entered with.
    pub said: String,
}

/// A look that was replaced by a later one.
#[derive(Clone, Debug, PartialEq)]
pub struct Earlier {
    /// Who coded it, as for [`Finding::observer`].
    pub observer: Option<usize>,
    /// The finding in the words it was entered with.
    pub said: String,
    /// How it was come by.
    pub how: HowSeen,
}

/// The size class that a coding was made for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Compared {
    /// Position among the size classes.
    pub size_class: usize,
    /// Whether the comparison is said to be a loose one, so that another class is allowed.
    pub loosely: bool,
}

/// A piece as described so far.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Piece {
    /// What the appraiser calls it.
    pub title: String,
    findings: Vec<Finding>,
    /// Findings that a what-if leaves out.
    left_out: Vec<LeftOut>,
    /// How the findings that follow are come by.
    how: HowSeen,
    /// How large it is, with the words it was noted in.
    dimension: Option<(Dimension, String)>,
    /// What condition it is in.
    condition: Option<Condition>,
    /// Where the next finding is written down.
    entering_at: Option<Place>,
}

/// A piece's evidence, with the finding each item comes from.
#[derive(Clone, Debug)]
pub struct PieceEvidence {
    /// The evidence.
    pub evidence: Evidence,
    /// Item and position of its finding, in the order of the notes; circumstances included.
    pub items: Vec<(EvidenceItem, usize)>,
}

impl Piece {
    /// A piece of which nothing is noted yet.
    #[must_use]
    pub fn new(title: impl Into<String>) -> Self {
        Self {
            title: title.into(),
            findings: Vec::new(),
            left_out: Vec::new(),
            how: HowSeen::default(),
            dimension: None,
            condition: None,
            entering_at: None,
        }
    }

    /// The findings, in the order they were noted.
    #[must_use]
    pub fn findings(&self) -> &[Finding] {
        &self.findings
    }

    /// The piece as if this clue had not been looked at, without a trace: for workings that say themselves what they leave out.
    #[must_use]
    pub fn without(&self, clue: usize) -> Self {
        let mut piece = self.clone();
        piece.findings.retain(|f| f.clue != clue);
        piece
    }

    /// The piece as if this clue had not been looked at; the record keeps what was found.
    #[must_use]
    pub fn leaving_out(&self, clue: usize) -> Self {
        let mut piece = self.without(clue);
        let found = self.findings.iter();
        let found = found.filter(|f| f.clue == clue && f.supposed.is_none());
        piece.left_out.extend(found.map(|f| LeftOut {
            clue,
            said: f.said.clone(),
        }));
        piece
    }

    /// The piece as if this had been found, whatever was; the record keeps what was found.
    ///
    /// # Errors
    /// As for [`note`](Self::note).
    pub fn supposing(
        &self,
        clue: usize,
        look: Look,
        said: String,
        model: &Model,
    ) -> Result<Self, PieceError> {
        let noted = self
            .leaving_out(clue)
            .note(clue, look, format!("supposed: {said}"), model);
        let mut piece = noted?;
        if let Some(finding) = piece.findings.last_mut() {
            finding.supposed = Some(said);
        }
        Ok(piece)
    }

    /// Findings that a what-if leaves out, in the order they were noted.
    #[must_use]
    pub fn left_out(&self) -> &[LeftOut] {
        &self.left_out
    }

    /// The findings as evidence for a model's network. `values` are the beliefs that densities of measured clues are
    /// taken from.
    ///
    /// # Errors
    /// [`PieceError::WeightNeeds`] if a weight is noted without what it is judged by, [`PieceError::NoLettering`] if a
    /// fragment is noted and the pack does not say how lettering is read; [`PieceError::Outside`] if a date lies
    /// outside all periods.
    pub fn evidence(&self, model: &Model, values: &Values) -> Result<PieceEvidence, PieceError> {
        let mut entered = PieceEvidence {
            evidence: Evidence::new(),
            items: Vec::new(),
        };
        for (position, finding) in self.findings.iter().enumerate() {
            let clue = &model.catalogue.clues[finding.clue];
            let target = model.catalogue.target(finding.clue, finding.observer);
            let item = match (&finding.look, target) {
                // What a stated belief counts for depends on everything else: see `query`.
                (Look::CannotTell(_) | Look::Believed(_), _) => continue,
                (Look::Seen(state), ClueTarget::Variable(id)) => {
                    entered.evidence.observe(id, *state);
                    EvidenceItem::Variable(id)
                }
                (Look::Uncertain(weights), ClueTarget::Variable(id)) => {
                    entered.evidence.likelihood(id, weights.clone());
                    EvidenceItem::Variable(id)
                }
                (Look::Fragment(noted), _) => {
                    let lettering = lettering(model)?;
                    let densities = model.fragment_densities(lettering, noted, values);
                    entered.evidence.measured(lettering.measure, densities);
                    EvidenceItem::Measure(lettering.measure)
                }
                (Look::Measured(readings), ClueTarget::Measure(id)) => {
                    let MeasureRules::Learned(together) = &model.measures[id.index()] else {
                        continue;
                    };
                    let densities = together.densities(readings);
                    let densities = densities.ok_or_else(|| PieceError::BeyondMeasure {
                        clue: clue.id.clone(),
                    })?;
                    entered.evidence.measured(id, densities);
                    EvidenceItem::Measure(id)
                }
                (Look::Measured(_), ClueTarget::Variable(_)) => continue,
                (Look::Weighed { mass, per }, target) => {
                    let judged = self.judged_weight(model, clue, *mass, *per)?;
                    match (target, &clue.kind) {
                        (ClueTarget::Variable(id), ClueKind::Weight { edges, .. }) => {
                            match weight::bands_of(edges, judged.value, judged.within) {
                                weight::Banded::In(band) => entered.evidence.observe(id, band),
                                weight::Banded::Across(parts) => {
                                    entered.evidence.likelihood(id, parts)
                                }
                            };
                            EvidenceItem::Variable(id)
                        }
                        (ClueTarget::Measure(id), _) => {
                            entered.evidence.measured(
                                id,
                                model.densities(id, judged.value, judged.within, values),
                            );
                            EvidenceItem::Measure(id)
                        }
                        (ClueTarget::Variable(_), _) => continue,
                    }
                }
                (Look::Coloured { lab, spread }, ClueTarget::Measure(id)) => {
                    let densities = model.colour_densities(id, *lab, *spread, values);
                    entered.evidence.measured(id, densities);
                    EvidenceItem::Measure(id)
                }
                (Look::Found | Look::Dated(_) | Look::Registered(_), ClueTarget::Measure(id)) => {
                    let likelihood = dating::likelihood(model, clue, &finding.look, id, values)?;
                    entered.evidence.measured(id, likelihood);
                    EvidenceItem::Measure(id)
                }
                (
                    Look::Coloured { .. } | Look::Found | Look::Dated(_) | Look::Registered(_),
                    ClueTarget::Variable(_),
                )
                | (Look::Seen(_) | Look::Uncertain(_), ClueTarget::Measure(_)) => continue,
            };
            entered.items.push((item, position));
        }
        Ok(entered)
    }
}

/// The position of a clue by name.
///
/// # Errors
/// [`PieceError::UnknownClue`], with the nearest known name.
pub fn find_clue(model: &Model, name: &str) -> Result<usize, PieceError> {
    let clues = &model.catalogue.clues;
    clues
        .iter()
        .position(|clue| clue.id == name)
        .ok_or_else(|| PieceError::UnknownClue {
            name: shorten(name),
            nearest: nearest(name, clues.iter().map(|c| c.id.as_str())).map(str::to_owned),
            known: clues.iter().map(|c| c.id.clone()).collect(),
        })
}

/// The position of a clue's state by name.
///
/// # Errors
/// [`PieceError::Measured`] for a clue without states, [`PieceError::UnknownState`] with the nearest known one.
pub fn find_state(clue: &Clue, name: &str) -> Result<usize, PieceError> {
    if matches!(clue.kind, ClueKind::Together { .. }) {
        return Err(PieceError::MeasuredTogether {
            clue: clue.id.clone(),
        });
    }
    if clue.states.is_empty() {
        return Err(has_no_states(clue));
    }
    clue.states
        .iter()
        .position(|state| state == name)
        .ok_or_else(|| PieceError::UnknownState {
            clue: clue.id.clone(),
            state: shorten(name),
            nearest: nearest_state(clue, name).map(str::to_owned),
            known: clue.states.clone(),
        })
}

/// The state that was meant: one that is spelt nearly so, or the only one that begins so (`modern, full` by `modern`).
fn nearest_state<'c>(clue: &'c Clue, name: &str) -> Option<&'c str> {
    let states = || clue.states.iter().map(String::as_str);
    let goes_on = |state: &&str| {
        let rest = state.strip_prefix(name);
        !name.is_empty() && rest.is_some_and(|rest| !rest.starts_with(char::is_alphanumeric))
    };
    nearest(name, states()).or_else(|| {
        let mut begin = states().filter(goes_on);
        begin.next().filter(|_| begin.next().is_none())
    })
}

/// How the pack reads lettering.
///
/// # Errors
/// [`PieceError::NoLettering`] if it does not say.
pub fn lettering(model: &Model) -> Result<&LetteringRules, PieceError> {
    model.lettering.as_ref().ok_or(PieceError::NoLettering)
}

/// What was read of a mark, letter by letter, as a look at the clue of marks: its position, the look, and its words.
///
/// # Errors
/// [`PieceError::NoLettering`], and [`PieceError::Fragment`] for letters, a quality or a device that the pack does not
/// know.
pub fn fragment<'a>(
    model: &Model,
    letters: &str,
    quality: Option<&str>,
    seen: impl IntoIterator<Item = (&'a str, &'a str)>,
) -> Result<(usize, Look, String), PieceError> {
    let lettering = lettering(model)?;
    let clue = model
        .catalogue
        .clues
        .iter()
        .position(|clue| clue.kind == ClueKind::Mark)
        .ok_or(PieceError::NoLettering)?;
    let noted = lettering.note(letters, quality, seen)?;
    let said = lettering.said(&noted);
    Ok((clue, Look::Fragment(Box::new(noted)), said))
}

/// A state was given for a clue that is measured.
#[must_use]
pub fn has_no_states(clue: &Clue) -> PieceError {
    let id = clue.id.clone();
    match clue.kind {
        ClueKind::Colour => PieceError::MeasuredColour { clue: id },
        _ => dating::no_states(clue).unwrap_or(PieceError::Measured { clue: id }),
    }
}

/// The state of a clue that means: looked, and there was nothing.
///
/// # Errors
/// [`PieceError::NoAbsentState`] if the pack names none.
pub fn absent_state(clue: &Clue) -> Result<usize, PieceError> {
    clue.absent.ok_or_else(|| PieceError::NoAbsentState {
        clue: clue.id.clone(),
        known: clue.states.clone(),
    })
}

/// Likelihoods from weights on named states, 0 on the rest.
///
/// # Errors
/// [`PieceError`] for unknown states, weights that are negative, not finite or all zero, or a circumstance.
pub fn uncertain<'a>(
    clue: &Clue,
    weights: impl IntoIterator<Item = (&'a str, f64)>,
) -> Result<Look, PieceError> {
    if clue.kind == ClueKind::Circumstance {
        return Err(PieceError::UncertainCircumstance {
            clue: clue.id.clone(),
        });
    }
    if clue.states.is_empty() {
        return Err(has_no_states(clue));
    }
    let mut likelihoods = vec![0.0; clue.states.len()];
    let wrong = |what: String| PieceError::Weights {
        clue: clue.id.clone(),
        what,
    };
    for (state, weight) in weights {
        let place = find_state(clue, state)?;
        if !weight.is_finite() || weight < 0.0 {
            return Err(wrong(format!(
                "hold {weight} for {state}; a weight is a finite number, 0 or more"
            )));
        }
        likelihoods[place] = weight;
    }
    if likelihoods.iter().all(|&w| w == 0.0) {
        return Err(wrong("are all 0: nothing could have been seen".to_owned()));
    }
    Ok(Look::Uncertain(likelihoods))
}

/// Quantities measured together, by name. What is not named was not measured.
///
/// # Errors
/// [`PieceError`] for a clue that is not of this kind, unknown names, a name given twice, or values that are not finite.
pub fn measured<'a>(
    clue: &Clue,
    values: impl IntoIterator<Item = (&'a str, f64)>,
) -> Result<Look, PieceError> {
    let ClueKind::Together { columns } = &clue.kind else {
        return Err(PieceError::NotMeasuredTogether {
            clue: clue.id.clone(),
        });
    };
    let mut readings = Vec::new();
    for (name, value) in values {
        let place = columns.iter().position(|column| column == name);
        let place = place.ok_or_else(|| PieceError::UnknownState {
            clue: clue.id.clone(),
            state: shorten(name),
            nearest: nearest(name, columns.iter().map(String::as_str)).map(str::to_owned),
            known: columns.clone(),
        })?;
        if !value.is_finite() || readings.iter().any(|(p, _)| *p == place) {
            return Err(PieceError::Weights {
                clue: clue.id.clone(),
                what: format!("hold {value} for {name}; a reading is a finite number, given once"),
            });
        }
        readings.push((place, value));
    }
    if readings.is_empty() {
        return Err(PieceError::Weights {
            clue: clue.id.clone(),
            what: "hold no reading".to_owned(),
        });
    }
    // The same readings in any order are the same finding, to the last digit.
    readings.sort_by_key(|(place, _)| *place);
    Ok(Look::Measured(readings))
}

/// A name cut to a length fit for a message.
fn shorten(text: &str) -> String {
    if text.chars().count() <= 80 {
        return text.to_owned();
    }
    text.chars().take(80).chain(['…']).collect()
}
