//! How well the findings fit together, and which fits worst.

use serde::Serialize;

use crate::model::CompiledModel;
use crate::network::{Evidence, EvidenceItem, ItemContent};
use crate::piece::Piece;
use crate::query::{Answer, AskError};

/// Conflict above this many decibans is called out. Common practice, no source.
pub const CONFLICT_CALLED_OUT: f64 = 5.0;
/// A reading less expected than this, given all the others, is called out. Common practice, no source.
pub const ODD_READING: f64 = 0.05;

/// How surprising the findings are together.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Surprise {
    /// 10 log₁₀ of the product of the findings' single probabilities over their joint probability, in decibans. Above 0
    /// the findings are less likely together than if they had nothing to do with each other.
    ///
    /// Source: Jensen, Chamberlain, Nordahl & Jensen 1990, "Analysis in HUGIN of data conflict", UAI-6 (from memory).
    pub conflict_decibans: f64,
    /// What that means.
    pub words: &'static str,
    /// The finding least expected given all the others.
    pub oddest: Option<Odd>,
}

/// A finding and how expected it was.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Odd {
    /// The clue.
    pub clue: String,
    /// The finding.
    pub said: String,
    /// Probability of this finding given all the others (for an uncertain one, of its likelihood's mean).
    pub probability_given_others: f64,
}

/// Works out the surprise of a piece's findings. Circumstances are given throughout; measured quantities, whose densities
/// are not probabilities, take part in the conflict but cannot be the oddest.
///
/// # Errors
/// As for [`CompiledModel::ask`].
pub fn surprise(
    compiled: &CompiledModel,
    piece: &Piece,
    answer: &Answer,
) -> Result<Surprise, AskError> {
    let network = &compiled.model.network;
    let entered = &answer.entered;
    let is_input = |item: &EvidenceItem| match item {
        EvidenceItem::Variable(id) => network.variable(*id).role == crate::network::Role::Input,
        EvidenceItem::Measure(_) => false,
    };
    let mut circumstances = Evidence::new();
    for (item, content) in entered.evidence.items().filter(|(item, _)| is_input(item)) {
        circumstances.enter(item, content);
    }
    let mut sum_of_logs = 0.0;
    let mut oddest: Option<Odd> = None;
    for (item, content) in entered.evidence.items().filter(|(item, _)| !is_input(item)) {
        let mut alone = circumstances.clone();
        alone.enter(item, content);
        let log = compiled
            .circuit
            .log_evidence(&compiled.parameters, &alone)
            .map_err(|error| compiled.explain(error, piece, entered))?;
        sum_of_logs += log;
        let EvidenceItem::Variable(id) = item else {
            continue;
        };
        let Some(expected) = answer.posterior.marginal_without_own_evidence(id) else {
            continue;
        };
        let probability = match content {
            ItemContent::State(state) => expected[state],
            ItemContent::Likelihood(weights) => {
                let scale = weights.iter().copied().fold(0.0, f64::max);
                expected
                    .iter()
                    .zip(weights)
                    .map(|(p, w)| p * w / scale)
                    .sum()
            }
            ItemContent::Densities(_) => continue,
        };
        if oddest
            .as_ref()
            .is_none_or(|odd| probability < odd.probability_given_others)
        {
            let finding = entered
                .items
                .iter()
                .find(|(i, _)| *i == item)
                .map(|&(_, position)| &piece.findings()[position]);
            oddest = finding.map(|finding| Odd {
                clue: compiled.model.catalogue.clues[finding.clue].name.clone(),
                said: finding.said.clone(),
                probability_given_others: probability,
            });
        }
    }
    let conflict_decibans =
        10.0 * (sum_of_logs - answer.posterior.log_evidence()) / std::f64::consts::LN_10;
    Ok(Surprise {
        conflict_decibans,
        words: if conflict_decibans > CONFLICT_CALLED_OUT {
            "the findings pull against each other: look again, and think of a copy, a marriage or a maker not listed"
        } else if conflict_decibans > 0.0 {
            "the findings fit together no better than unrelated ones"
        } else {
            "the findings support each other"
        },
        oddest,
    })
}
