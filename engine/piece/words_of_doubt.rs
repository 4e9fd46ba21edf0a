//! "Sure 80 %" and "I believe 70 to 30": likelihood evidence and a stated belief, which are two different things.
//!
//! *Sure* is said of a reading: the chance that the thing looks as it did, if it is what it looks like. It is one more
//! piece of evidence, and is weighed with all the others. A *belief* is said of the state itself, everything else considered:
//! it is not weighed, but put in the place of what the model would have believed. Numbers meant for one and entered as the
//! other give another answer.

use super::{Look, Piece, PieceError, PieceEvidence, find_state};
use crate::model::{Clue, ClueKind, ClueTarget, Model};
use crate::network::{EvidenceItem, VariableId};

/// How far a stated belief may miss 1.
const SUM_TOLERANCE: f64 = 1e-9;

/// Likelihood evidence for one state: if it is that state, the reading comes out so with chance `right`; if it is another,
/// with what is left, spread evenly over the others.
///
/// Of two states, `right` = 0.8 is a likelihood ratio of 4 to 1.
///
/// # Source
/// Pearl 1988, *Probabilistic Reasoning in Intelligent Systems*, sec. 2.2.2 (virtual evidence).
///
/// # Errors
/// [`PieceError`] for an unknown state, a circumstance, a chance outside 0 to 1, or one no better than guessing.
pub fn sure(clue: &Clue, state: &str, right: f64) -> Result<Look, PieceError> {
    if clue.kind == ClueKind::Circumstance {
        return Err(PieceError::UncertainCircumstance {
            clue: clue.id.clone(),
        });
    }
    let place = find_state(clue, state)?;
    let n = clue.states.len();
    let guess = 1.0 / n as f64;
    if !(right > guess && right <= 1.0) {
        return Err(PieceError::Weights {
            clue: clue.id.clone(),
            what: format!(
                "say {state} with chance {right}, and among {n} states guessing is right with {guess:.4}; note what the \
                 reading tells against with unsure"
            ),
        });
    }
    let mut likelihoods = vec![(1.0 - right) / (n - 1).max(1) as f64; n];
    likelihoods[place] = right;
    Ok(Look::Uncertain(likelihoods))
}

/// A stated belief over a clue's states; states not named are believed impossible.
///
/// # Errors
/// [`PieceError`] for unknown states, a circumstance, and probabilities that are negative, not finite or do not sum to 1
/// within 1e-9: they are never rescaled.
pub fn believed<'a>(
    clue: &Clue,
    probabilities: impl IntoIterator<Item = (&'a str, f64)>,
) -> Result<Look, PieceError> {
    if clue.kind == ClueKind::Circumstance {
        return Err(PieceError::UncertainCircumstance {
            clue: clue.id.clone(),
        });
    }
    let wrong = |what: String| PieceError::Beliefs {
        clue: clue.id.clone(),
        what,
    };
    let mut belief = vec![0.0; clue.states.len()];
    for (state, probability) in probabilities {
        let place = find_state(clue, state)?;
        if !probability.is_finite() || probability < 0.0 {
            return Err(wrong(format!(
                "holds {probability} for {state}; a probability is a number from 0 to 1"
            )));
        }
        belief[place] = probability;
    }
    let sum: f64 = belief.iter().sum();
    if (sum - 1.0).abs() > SUM_TOLERANCE {
        // Twelve digits show a slip; the rounding beyond them does not help.
        let sum = (sum * 1e12).round() / 1e12;
        return Err(wrong(format!(
            "sums to {sum}, not to 1; give every state its probability, or note how well each would explain what was seen \
             with unsure"
        )));
    }
    Ok(Look::Believed(belief))
}

impl Piece {
    /// The stated beliefs: position of the finding, variable, and one probability for each of its states.
    #[must_use]
    pub fn stated_beliefs<'p>(&'p self, model: &Model) -> Vec<(usize, VariableId, &'p [f64])> {
        let belief = |(position, finding): (usize, &'p super::Finding)| {
            let Look::Believed(probabilities) = &finding.look else {
                return None;
            };
            let ClueTarget::Variable(variable) = model.catalogue.clues[finding.clue].target else {
                return None;
            };
            Some((position, variable, probabilities.as_slice()))
        };
        self.findings
            .iter()
            .enumerate()
            .filter_map(belief)
            .collect()
    }
}

impl PieceEvidence {
    /// Takes over what the stated beliefs of a piece were found to count for.
    pub fn take_beliefs(&mut self, piece: &Piece, from: &PieceEvidence) {
        for &(item, position) in &from.items {
            if let (Look::Believed(_), EvidenceItem::Variable(_)) =
                (&piece.findings()[position].look, item)
                && let Some((_, content)) = from.evidence.items().find(|(i, _)| *i == item)
            {
                self.evidence.enter(item, content);
            }
        }
    }
}
