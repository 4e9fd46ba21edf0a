//! Why a network cannot be compiled or a query not be answered.

use thiserror::Error;

use crate::network::{EvidenceError, EvidenceItem, VariableId};

/// Why a network was not compiled.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum CompileError {
    /// Exact inference would take too much memory or time. Fewer parents or fewer states would help.
    #[error("the network needs at least {predicted_cells} table cells, more than {limit}")]
    TooLarge {
        /// Cells that one pass would go through, as far as they were counted. Saturates.
        predicted_cells: u128,
        /// Cells allowed.
        limit: usize,
    },
}

/// Why a query has no answer.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum QueryError {
    /// The evidence does not fit the network.
    #[error(transparent)]
    Evidence(#[from] EvidenceError),
    /// The tables that this evidence leaves are too large.
    #[error(transparent)]
    TooLarge(#[from] CompileError),
    /// The model gives this combination of evidence probability 0.
    #[error("the evidence is impossible: {}", list(conflicting))]
    ImpossibleEvidence {
        /// A smallest set of items that cannot stand together: without any one of them the others can.
        /// An input that is not named makes no difference: the others are impossible at each of its
        /// settings. The set is empty if the tables alone leave nothing possible.
        conflicting: Vec<EvidenceItem>,
    },
    /// There is evidence about something that depends on an input whose setting is not given.
    #[error("{needed_by} depends on input {input}, which is not given")]
    InputNotGiven {
        /// The input.
        input: VariableId,
        /// Evidence about a descendant.
        needed_by: EvidenceItem,
    },
    /// An input was given by likelihoods. It has no probability that they could act on.
    #[error("input {input} must be given by a state, not by likelihoods")]
    InputNotHard {
        /// The input.
        input: VariableId,
    },
    /// The parameters were made for a network of another structure.
    #[error("the parameters belong to another network")]
    ForeignParameters,
    /// A parameter is not a probability.
    #[error(
        "the table of {variable} holds {value} for state {state_idx} in column {configuration}"
    )]
    NotAProbability {
        /// The variable whose table it is.
        variable: VariableId,
        /// Column, counted from 0.
        configuration: usize,
        /// Row, counted from 0.
        state_idx: usize,
        /// The entry.
        value: f64,
    },
}

fn list(items: &[EvidenceItem]) -> String {
    if items.is_empty() {
        return "the tables leave nothing possible".to_owned();
    }
    let names: Vec<String> = items.iter().map(ToString::to_string).collect();
    format!("{} cannot stand together", names.join(", "))
}
