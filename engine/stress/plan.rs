//! How a stress run is made: how many draws, of which beliefs, doubted by how much, and when to stop.

use std::fmt;

use crate::model::BeliefId;
use crate::query::AskError;
use crate::stop::Stop;

/// The most draws one run may ask for.
pub const MOST_DRAWS: usize = 10_000_000;
/// Fewer draws tell little, of their own standard errors too. Common practice, no source.
pub const FEW_DRAWS: usize = 100;
/// The most a belief may be doubted: a thousandth of the pieces said to be behind it.
pub const MOST_DOUBT: f64 = 1000.0;

/// What a run is to do.
#[derive(Clone, Copy)]
pub struct StressPlan<'a> {
    /// Draws to make; with [`until`](Self::until), the most to make.
    pub draws: usize,
    /// Seed.
    pub seed: u64,
    /// The beliefs drawn, the others kept as stated; none: all of them.
    pub beliefs: Option<&'a [BeliefId]>,
    /// Divides every belief's `seen`: 2 takes each to rest on half as many pieces.
    pub doubt: f64,
    /// Stop as soon as the standard errors of the claim's mean probability and of the share of draws in which it holds are
    /// both at most this; looked at after every [`DRAWS_BETWEEN_LOOKS`](super::run::DRAWS_BETWEEN_LOOKS) draws.
    pub until: Option<f64>,
    /// When to give up.
    pub stop: Option<&'a Stop>,
    /// Told now and then, from any thread, how many draws are done and how many may be made.
    pub progress: Option<&'a (dyn Fn(usize, usize) + Sync)>,
}

impl<'a> StressPlan<'a> {
    /// All beliefs, doubted by as much as their `seen` says.
    #[must_use]
    pub fn new(draws: usize, seed: u64) -> Self {
        Self {
            draws,
            seed,
            beliefs: None,
            doubt: 1.0,
            until: None,
            stop: None,
            progress: None,
        }
    }

    /// The same with only these beliefs drawn.
    #[must_use]
    pub fn over(self, beliefs: &'a [BeliefId]) -> Self {
        Self {
            beliefs: Some(beliefs),
            ..self
        }
    }

    /// The same with every `seen` divided by this.
    #[must_use]
    pub fn doubted(self, doubt: f64) -> Self {
        Self { doubt, ..self }
    }

    /// The same up to a wanted standard error.
    #[must_use]
    pub fn until(self, standard_error: f64) -> Self {
        Self {
            until: Some(standard_error),
            ..self
        }
    }

    pub(super) fn check(&self) -> Result<(), StressError> {
        if !(2..=MOST_DRAWS).contains(&self.draws) {
            return Err(StressError::Draws(self.draws));
        }
        if !(self.doubt >= 1.0 / MOST_DOUBT && self.doubt <= MOST_DOUBT) {
            return Err(StressError::Doubt(self.doubt));
        }
        match self.until {
            Some(until) if !(until > 0.0 && until < 1.0) => Err(StressError::Until(until)),
            _ => Ok(()),
        }
    }
}

impl fmt::Debug for StressPlan<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("StressPlan")
            .field("draws", &self.draws)
            .field("seed", &self.seed)
            .field("beliefs", &self.beliefs.map(<[_]>::len))
            .field("doubt", &self.doubt)
            .field("until", &self.until)
            .finish_non_exhaustive()
    }
}

/// Why a stress run was not made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum StressError {
    /// Too few or too many draws.
    #[error("a stress run takes from 2 to {MOST_DRAWS} draws, not {0}")]
    Draws(usize),
    /// A doubt that is none.
    #[error(
        "doubt divides the pieces behind every belief, by a number from 0.001 to {MOST_DOUBT}, not {0}; 2 takes each to rest on half as many"
    )]
    Doubt(f64),
    /// A standard error that cannot be reached or says nothing.
    #[error(
        "a wanted standard error lies between 0 and 1, not at {0}; 0.005 is good for two digits"
    )]
    Until(f64),
    /// Draws times beliefs beyond reason.
    #[error(
        "this would take {judgements} judgements, one for every draw and belief, and {most} are the most; ask for fewer draws, or over fewer beliefs"
    )]
    TooMany {
        /// Judgements asked for.
        judgements: usize,
        /// The most.
        most: usize,
    },
    /// It had to end before the last draw.
    #[error("the run was ended before its last draw")]
    Stopped,
    /// The findings are impossible under every draw.
    #[error("under none of the {0} draws were the findings possible")]
    NothingPossible(usize),
    /// The piece could not be judged.
    #[error(transparent)]
    Ask(#[from] AskError),
}
