//! Why a finding was not taken into the record.

/// Why a note was refused.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PieceError {
    /// No such clue.
    #[error("there is no clue `{name}` in this pack{}", suggestion(nearest.as_deref(), known))]
    UnknownClue {
        /// What was written.
        name: String,
        /// The nearest known name.
        nearest: Option<String>,
        /// Known names, for a hint.
        known: Vec<String>,
    },
    /// The clue has no such state.
    #[error("`{state}` is not a state of `{clue}`{}", suggestion(nearest.as_deref(), known))]
    UnknownState {
        /// The clue.
        clue: String,
        /// What was written.
        state: String,
        /// The nearest known state.
        nearest: Option<String>,
        /// Known states, for a hint.
        known: Vec<String>,
    },
    /// The clue is already noted.
    #[error(
        "`{clue}` is already noted as {said}; a second look replaces the first: use look_again"
    )]
    AlreadyNoted {
        /// The clue.
        clue: String,
        /// The first finding.
        said: String,
    },
    /// A second look without a first.
    #[error("`{clue}` has not been noted yet, so nothing can be looked at again: use saw")]
    NotNoted {
        /// The clue.
        clue: String,
    },
    /// The clue has no state that means: looked, and there was nothing.
    #[error("the pack does not say which state of `{clue}` means that there was nothing; use saw with one of: {}", known.join(", "))]
    NoAbsentState {
        /// The clue.
        clue: String,
        /// Known states.
        known: Vec<String>,
    },
    /// Likelihoods that are none.
    #[error("the weights of `{clue}` {what}")]
    Weights {
        /// The clue.
        clue: String,
        /// What is wrong.
        what: String,
    },
    /// A circumstance must be known for sure.
    #[error("`{clue}` is a circumstance of the look and needs one state for sure")]
    UncertainCircumstance {
        /// The clue.
        clue: String,
    },
    /// A weight for a clue that is not one.
    #[error("`{clue}` is not judged by weighing; its states are: {}", known.join(", "))]
    NotAWeight {
        /// The clue.
        clue: String,
        /// Its states.
        known: Vec<String>,
    },
    /// A state for a clue that is measured.
    #[error("`{clue}` is measured: note a weight, such as weighs(\"1345 g\")")]
    Measured {
        /// The clue.
        clue: String,
    },
    /// The pack has no weight clue.
    #[error("this pack does not judge by weight")]
    NoWeightClue,
    /// The weight cannot be judged yet.
    #[error("the weight cannot be judged: {what}")]
    WeightNeeds {
        /// What is missing.
        what: String,
    },
}

fn suggestion(nearest: Option<&str>, known: &[String]) -> String {
    match nearest {
        Some(name) => format!("; did you mean `{name}`?"),
        None => format!("; known: {}", known.join(", ")),
    }
}
