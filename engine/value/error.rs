//! Why there is no value.

use super::regression::RegressionError;
use crate::instruction::InstructionError;
use crate::query::AskError;

/// Why there is no value.
#[derive(Clone, Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ValueError {
    /// The pack says nothing of prices.
    #[error(
        "pack `{pack}` says nothing of prices; write market.toml (what value means, how prices differ) and comparables.csv (what was sold) beside its priors"
    )]
    NoMarket {
        /// The pack.
        pack: String,
    },
    /// The pack does not ask for the maker.
    #[error(
        "a pack that leaves out the makers has no wording that a market could accept; ask another pack"
    )]
    NoMakers,
    /// The instruction has no definition of value.
    #[error("the instruction names no definition of value; add `definition`, one of: {}", known.join(", "))]
    NoDefinition {
        /// Those of the pack.
        known: Vec<String>,
    },
    /// A definition that the pack does not have.
    #[error("the pack has no definition of value `{name}`; {}", suggestion(nearest.as_deref(), known))]
    UnknownDefinition {
        /// What was written.
        name: String,
        /// The nearest known.
        nearest: Option<String>,
        /// Those of the pack.
        known: Vec<String>,
    },
    /// The size is not noted for sure.
    #[error(
        "a value needs the size of the piece, which is not noted for sure; note it, such as piece.saw(\"{clue}\", \"{example}\")"
    )]
    SizeNotNoted {
        /// The clue.
        clue: String,
        /// A size.
        example: String,
    },
    /// The condition is not noted.
    #[error(
        "a value needs the condition of the piece, which is not noted; note a grade and every defect, such as piece.in_condition({example}, [\"hairline 12 mm from the rim\"])"
    )]
    ConditionNotNoted {
        /// A grade.
        example: i64,
    },
    /// A wording that the market does not have.
    #[error("the market has no wording `{name}`; {}", suggestion(nearest.as_deref(), known))]
    UnknownWording {
        /// What was written.
        name: String,
        /// The nearest known.
        nearest: Option<String>,
        /// Those of the market.
        known: Vec<String>,
    },
    /// A maker or works that the pack does not have.
    #[error("there is no {what} `{name}`{}", nearest.as_ref().map_or_else(String::new, |near| format!("; did you mean `{near}`?")))]
    UnknownName {
        /// Maker or works.
        what: &'static str,
        /// What was written.
        name: String,
        /// The nearest known.
        nearest: Option<String>,
    },
    /// A wording that names nobody, asked for with a name.
    #[error("`{wording}` names nobody; leave `names` out")]
    NamesNobody {
        /// The wording.
        wording: String,
    },
    /// A wording that names somebody, asked for without a name.
    #[error("`{wording}` names somebody; say whom, such as `names: \"K02\"`")]
    NamesSomebody {
        /// The wording.
        wording: String,
    },
    /// A mark that is not there, or not accepted.
    #[error("the piece is not valued as marked by {maker}: {why}; ask for it as attributed")]
    MarkNotAccepted {
        /// The maker.
        maker: String,
        /// Why.
        why: String,
    },
    /// A wording that the findings do not bear out.
    #[error(
        "the piece cannot be catalogued as `{wording}`: {why}; note what was found, or ask for another wording"
    )]
    Untrue {
        /// The wording.
        wording: String,
        /// Why.
        why: String,
    },
    /// A date of value far from all prices.
    #[error(
        "the date of value, {effective}, lies more than 50 years from the prices of the pack's market, which are of about {usual}; nothing is known of prices then"
    )]
    TooFar {
        /// The date.
        effective: String,
        /// The year of the usual price.
        usual: f64,
    },
    /// The instruction does not stand.
    #[error(transparent)]
    Instruction(#[from] InstructionError),
    /// The verdict could not be had.
    #[error(transparent)]
    Ask(#[from] AskError),
    /// The regression failed.
    #[error("no estimate could be worked out: {0}")]
    Regression(#[from] RegressionError),
}

fn suggestion(nearest: Option<&str>, known: &[String]) -> String {
    match nearest {
        Some(name) => format!("did you mean `{name}`?"),
        None => format!("known: {}", known.join(", ")),
    }
}
