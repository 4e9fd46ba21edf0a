//! What was found: states, likelihoods, densities.

use std::collections::BTreeMap;
use std::fmt;

use thiserror::Error;

use super::{MeasureId, Structure, VariableId};

/// Findings about variables and measures, at most one for each; a second one replaces the first.
///
/// Entries are kept in the order of the ids, so the order of entry never changes a result.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Evidence {
    findings: BTreeMap<VariableId, Finding>,
    densities: BTreeMap<MeasureId, Vec<f64>>,
}

/// What was found of one variable.
#[derive(Clone, Debug, PartialEq)]
pub enum Finding {
    /// It has this state.
    State(usize),
    /// Likelihood evidence: P(what was seen | state), one entry for each state, up to a common factor.
    ///
    /// # Source
    /// Pearl, *Probabilistic Reasoning in Intelligent Systems*, 1988, section 2.2.2 ("virtual evidence").
    Likelihood(Vec<f64>),
}

/// Names one piece of evidence: what it is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum EvidenceItem {
    /// The finding about this variable.
    Variable(VariableId),
    /// The value of this measure.
    Measure(MeasureId),
}

impl fmt::Display for EvidenceItem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Variable(id) => id.fmt(f),
            Self::Measure(id) => id.fmt(f),
        }
    }
}

/// The content of one piece of evidence.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ItemContent<'a> {
    /// A variable has this state.
    State(usize),
    /// Likelihoods, one for each state of a variable.
    Likelihood(&'a [f64]),
    /// Densities of a measured value, one for each configuration of the measure's parents.
    Densities(&'a [f64]),
}

impl Evidence {
    /// No evidence.
    pub fn new() -> Self {
        Self::default()
    }

    /// Enters that `variable` has the state `state_idx`.
    pub fn observe(&mut self, variable: VariableId, state_idx: usize) -> &mut Self {
        self.findings.insert(variable, Finding::State(state_idx));
        self
    }

    /// Enters likelihood evidence about `variable`, one entry for each state. A common factor changes
    /// P(evidence) but no posterior.
    pub fn likelihood(&mut self, variable: VariableId, likelihoods: Vec<f64>) -> &mut Self {
        self.findings
            .insert(variable, Finding::Likelihood(likelihoods));
        self
    }

    /// Enters the density of a measured value under each configuration of the measure's parents, the last
    /// parent fastest. A unit of measurement is a common factor: it changes P(evidence) but no posterior.
    pub fn measured(&mut self, measure: MeasureId, densities: Vec<f64>) -> &mut Self {
        self.densities.insert(measure, densities);
        self
    }

    /// Enters what [`items`](Self::items) gave out. Content that does not suit the item is left out.
    pub(crate) fn enter(&mut self, item: EvidenceItem, content: ItemContent<'_>) {
        match (item, content) {
            (EvidenceItem::Variable(id), ItemContent::State(state_idx)) => {
                self.observe(id, state_idx);
            }
            (EvidenceItem::Variable(id), ItemContent::Likelihood(values)) => {
                self.likelihood(id, values.to_vec());
            }
            (EvidenceItem::Measure(id), ItemContent::Densities(values)) => {
                self.measured(id, values.to_vec());
            }
            _ => {}
        }
    }

    /// Enters a finding that was there before.
    pub(crate) fn restore(&mut self, variable: VariableId, finding: Finding) {
        self.findings.insert(variable, finding);
    }

    /// Removes one piece of evidence; `true` if it was there.
    pub fn remove(&mut self, item: EvidenceItem) -> bool {
        match item {
            EvidenceItem::Variable(id) => self.findings.remove(&id).is_some(),
            EvidenceItem::Measure(id) => self.densities.remove(&id).is_some(),
        }
    }

    /// The finding about one variable.
    pub fn finding(&self, variable: VariableId) -> Option<&Finding> {
        self.findings.get(&variable)
    }

    /// The densities of one measured value.
    pub fn densities(&self, measure: MeasureId) -> Option<&[f64]> {
        self.densities.get(&measure).map(Vec::as_slice)
    }

    /// All evidence: findings in the order of the variables, then measures in their order.
    pub fn items(&self) -> impl Iterator<Item = (EvidenceItem, ItemContent<'_>)> {
        let findings = self.findings.iter().map(|(&id, finding)| {
            let content = match finding {
                Finding::State(state_idx) => ItemContent::State(*state_idx),
                Finding::Likelihood(values) => ItemContent::Likelihood(values),
            };
            (EvidenceItem::Variable(id), content)
        });
        let densities = self
            .densities
            .iter()
            .map(|(&id, values)| (EvidenceItem::Measure(id), ItemContent::Densities(values)));
        findings.chain(densities)
    }

    /// Number of pieces of evidence.
    pub fn len(&self) -> usize {
        self.findings.len() + self.densities.len()
    }

    /// Whether there is no evidence.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Checks the evidence against a network.
    ///
    /// # Errors
    /// The first item, in the order of [`items`](Self::items), that names what the network has not, names
    /// a state out of range, or has a vector of the wrong length, with a negative or non-finite entry, or
    /// of zeros only.
    pub fn check(&self, structure: &Structure) -> Result<(), EvidenceError> {
        for (item, content) in self.items() {
            let expected = match item {
                EvidenceItem::Variable(id) => structure
                    .variables()
                    .get(id.index())
                    .map(|v| v.states.len()),
                EvidenceItem::Measure(id) => (id.index() < structure.measures().len())
                    .then(|| structure.n_measure_configurations(id)),
            };
            let Some(expected) = expected else {
                return Err(EvidenceError::Unknown { item });
            };
            match content {
                ItemContent::State(state_idx) if state_idx < expected => {}
                ItemContent::State(state_idx) => {
                    return Err(EvidenceError::StateOutOfRange {
                        item,
                        state_idx,
                        n_states: expected,
                    });
                }
                ItemContent::Likelihood(values) | ItemContent::Densities(values) => {
                    check_vector(item, values, expected)?;
                }
            }
        }
        Ok(())
    }
}

fn check_vector(item: EvidenceItem, values: &[f64], expected: usize) -> Result<(), EvidenceError> {
    if values.len() != expected {
        return Err(EvidenceError::Length {
            item,
            found: values.len(),
            expected,
        });
    }
    if let Some(index) = values.iter().position(|v| !v.is_finite() || *v < 0.0) {
        return Err(EvidenceError::NotALikelihood {
            item,
            index,
            value: values[index],
        });
    }
    if values.iter().all(|&v| v == 0.0) {
        return Err(EvidenceError::AllZero { item });
    }
    Ok(())
}

/// Why evidence does not fit a network.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum EvidenceError {
    /// The network has no such variable or measure.
    #[error("evidence about {item}, which the network does not have")]
    Unknown {
        /// What the evidence is about.
        item: EvidenceItem,
    },
    /// The variable has fewer states.
    #[error("state {state_idx} of {item}, which has {n_states} states")]
    StateOutOfRange {
        /// What the evidence is about.
        item: EvidenceItem,
        /// State named, counted from 0.
        state_idx: usize,
        /// States there are.
        n_states: usize,
    },
    /// A vector has the wrong length.
    #[error("{found} likelihoods for {item} instead of {expected}")]
    Length {
        /// What the evidence is about.
        item: EvidenceItem,
        /// Length given.
        found: usize,
        /// States of the variable, or configurations of the measure's parents.
        expected: usize,
    },
    /// An entry is negative or not finite.
    #[error("likelihood {value} in place {index} for {item}")]
    NotALikelihood {
        /// What the evidence is about.
        item: EvidenceItem,
        /// Place in the vector, counted from 0.
        index: usize,
        /// The entry.
        value: f64,
    },
    /// Nothing could have produced this evidence.
    #[error("all likelihoods for {item} are 0")]
    AllZero {
        /// What the evidence is about.
        item: EvidenceItem,
    },
}
