//! What is asked of a piece: one claim against another, over maker, works, region, period, engraving or any clue.
//!
//! A [`Question`] is text as an appraiser says it; [`CompiledModel::pose`] finds its names in the pack. A claim about one
//! variable is a set of its states. A claim about several becomes a variable of its own below them, whose state follows from
//! theirs: so whatever can be asked of one variable can be asked of any claim.
//!
//! ```
//! # use saggar::{check, source::Sources};
//! use saggar::question::{Claim, Question};
//! # let (mut sources, mut found) = (Sources::default(), Vec::new());
//! # let model = check::load(std::path::Path::new("priors/tidewheel"), &mut sources, &mut found)?.ok_or("defects")?;
//! # let compiled = model.compile()?;
//! let early = Claim::Years("1818/1849".to_owned());
//! let question = Question::of(Claim::region("Saltharrow").and(early)).against(Claim::maker("K02"));
//! let posed = compiled.pose(&question)?;
//! assert_eq!(posed.hypothesis_words, "made in Saltharrow, and made 1818–1849");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod pose;
mod resolve;

use std::borrow::Cow;
use std::fmt;

use serde::Serialize;

use crate::circuit::CompileError;
use crate::model::CompiledModel;
use crate::network::{NetworkError, VariableId};

/// Something that may be true of a piece.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Claim {
    /// A variable is in one of some states.
    Is {
        /// `maker`, `works`, `region`, `period`, `engraving`, the name of a clue (what is true of it, not how it was read) or
        /// of a hidden quality.
        about: String,
        /// Names of states; makers by short code or name.
        states: Vec<String>,
    },
    /// Made in one of the periods from the first to the last, by their short codes.
    Between {
        /// The first.
        first: String,
        /// The last, counted too.
        last: String,
    },
    /// Made in these years, in EDTF; they must begin and end with a period of the pack.
    Years(String),
    /// Both.
    Both(Box<Claim>, Box<Claim>),
    /// One or the other, or both.
    Either(Box<Claim>, Box<Claim>),
    /// Not so.
    Not(Box<Claim>),
}

impl Claim {
    /// One state of one variable.
    #[must_use]
    pub fn is(about: &str, state: &str) -> Self {
        Self::Is {
            about: about.to_owned(),
            states: vec![state.to_owned()],
        }
    }

    /// Made by a maker, by short code or name.
    #[must_use]
    pub fn maker(maker: &str) -> Self {
        Self::is("maker", maker)
    }

    /// Made at a works, under any of its partnerships.
    #[must_use]
    pub fn works(works: &str) -> Self {
        Self::is("works", works)
    }

    /// Made in a region.
    #[must_use]
    pub fn region(region: &str) -> Self {
        Self::is("region", region)
    }

    /// Both this and the other.
    #[must_use]
    pub fn and(self, other: Self) -> Self {
        Self::Both(Box::new(self), Box::new(other))
    }

    /// This, or the other, or both.
    #[must_use]
    pub fn or(self, other: Self) -> Self {
        Self::Either(Box::new(self), Box::new(other))
    }

    /// How many claims it is put together from.
    #[must_use]
    pub fn n_parts(&self) -> usize {
        match self {
            Self::Is { .. } | Self::Between { .. } | Self::Years(_) => 1,
            Self::Both(one, other) | Self::Either(one, other) => one.n_parts() + other.n_parts(),
            Self::Not(claim) => 1 + claim.n_parts(),
        }
    }

    /// Not this.
    #[must_use]
    pub fn negated(self) -> Self {
        Self::Not(Box::new(self))
    }
}

impl fmt::Display for Claim {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Is { about, states } => write!(f, "{about} {}", states.join(" or ")),
            Self::Between { first, last } => write!(f, "periods {first} to {last}"),
            Self::Years(years) => write!(f, "years {years}"),
            Self::Both(one, other) => write!(f, "({one} and {other})"),
            Self::Either(one, other) => write!(f, "({one} or {other})"),
            Self::Not(claim) => write!(f, "not {claim}"),
        }
    }
}

impl fmt::Display for Question {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.alternative {
            Some(alternative) => write!(f, "{}, against {alternative}", self.hypothesis),
            None => write!(f, "{}, against all else", self.hypothesis),
        }
    }
}

/// A claim, and what it is weighed against.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Question {
    /// The claim.
    pub hypothesis: Claim,
    /// The other claim; none: that the first is not so.
    pub alternative: Option<Claim>,
}

impl Question {
    /// A claim against everything else.
    #[must_use]
    pub fn of(hypothesis: Claim) -> Self {
        Self {
            hypothesis,
            alternative: None,
        }
    }

    /// The same against one other claim. What is neither has no say.
    #[must_use]
    pub fn against(self, alternative: Claim) -> Self {
        Self {
            alternative: Some(alternative),
            ..self
        }
    }
}

/// A question with its names found in a pack.
#[derive(Clone, Debug)]
pub struct Posed<'a> {
    /// The model that answers it: the one it was put to, or that with one more variable. Findings entered for the first are
    /// findings of the second.
    pub compiled: Cow<'a, CompiledModel>,
    /// The variable it is about.
    pub variable: VariableId,
    /// States of that variable in which the claim holds.
    pub hypothesis: Vec<usize>,
    /// States in which the alternative holds; no state is in both.
    pub alternative: Vec<usize>,
    /// The claim in words.
    pub hypothesis_words: String,
    /// The alternative in words.
    pub alternative_words: String,
}

impl Posed<'_> {
    /// Probabilities of claim and alternative from those of the variable's states, each summed on its own so that neither is
    /// lost beside 1.
    #[must_use]
    pub fn of(&self, probabilities: &[f64]) -> (f64, f64) {
        let sum = |states: &[usize]| states.iter().filter_map(|&s| probabilities.get(s)).sum();
        (sum(&self.hypothesis), sum(&self.alternative))
    }

    /// The question in words, for a result.
    #[must_use]
    pub fn asked(&self) -> Asked {
        Asked {
            claim: self.hypothesis_words.clone(),
            against: self.alternative_words.clone(),
        }
    }
}

/// A question in words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Asked {
    /// The claim.
    pub claim: String,
    /// What it is weighed against.
    pub against: String,
}

/// Why a question cannot be put to a pack.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum QuestionError {
    /// A variable that the pack does not have.
    #[error("this pack knows nothing of `{about}`; {}", said(nearest, known))]
    UnknownAbout {
        /// As asked.
        about: String,
        /// The nearest known name.
        nearest: Option<String>,
        /// What can be asked about.
        known: Vec<String>,
    },
    /// A state that the variable does not have.
    #[error("there is no {about} `{state}` in this pack; {}", said(nearest, known))]
    UnknownState {
        /// The variable.
        about: String,
        /// As asked.
        state: String,
        /// The nearest known name.
        nearest: Option<String>,
        /// The known ones.
        known: Vec<String>,
    },
    /// A circumstance of the look has no probability.
    #[error(
        "`{about}` is a circumstance of the look and has no probability of its own; ask about what is true of the piece"
    )]
    Circumstance {
        /// Its name.
        about: String,
    },
    /// A measured quantity has no states.
    #[error("`{about}` is measured and has no states to ask about; ask about what it tells of")]
    Measured {
        /// Its name.
        about: String,
    },
    /// The pack leaves the question out.
    #[error(
        "this pack leaves out the {what} of a piece, so nothing can be asked about it; ask for the verdict"
    )]
    LeftOut {
        /// `maker` or `period`.
        what: String,
    },
    /// Years that are no date, or not whole periods.
    #[error("`{years}` cannot be asked about: {why}")]
    Years {
        /// As asked.
        years: String,
        /// Why not, and the remedy.
        why: String,
    },
    /// Periods in the wrong order.
    #[error("{first} is later than {last}; name the earlier period first")]
    Backwards {
        /// The first.
        first: String,
        /// The last.
        last: String,
    },
    /// Claim and alternative can both be true.
    #[error(
        "“{claim}” and “{alternative}” can both be true, so one cannot be weighed against the other; take what they share out of one of them"
    )]
    Overlap {
        /// The claim.
        claim: String,
        /// The alternative.
        alternative: String,
    },
    /// A claim that holds of every piece, or of none.
    #[error("“{claim}” is {} of every piece in this pack; ask what can be so or not", if *.always { "true" } else { "untrue" })]
    Settled {
        /// The claim.
        claim: String,
        /// Whether it always holds.
        always: bool,
    },
    /// The maker asked about is the one that leads.
    #[error("{maker} leads; ask why not of another")]
    Leads {
        /// The maker.
        maker: String,
    },
    /// Too many states together.
    #[error("a claim about {} at once is too wide to be asked; ask about fewer", about.join(", "))]
    TooWide {
        /// The variables.
        about: Vec<String>,
    },
    /// The network with the question in it is too large.
    #[error(transparent)]
    Compile(#[from] CompileError),
    /// The network with the question in it cannot be made.
    #[error(transparent)]
    Network(#[from] NetworkError),
}

fn said(nearest: &Option<String>, known: &[String]) -> String {
    match nearest {
        Some(name) => format!("did you mean `{name}`?"),
        None => format!("known: {}", known.join(", ")),
    }
}
