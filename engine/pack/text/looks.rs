//! What a look costs, as written.

use super::{Placed, Word};
use crate::source::Span;

/// A thing that looks need.
#[derive(Clone, Debug)]
pub struct Tool {
    /// Short name.
    pub id: Word,
    /// Name for people.
    pub name: Option<Word>,
    /// Minutes until it is at hand.
    pub minutes: Option<Placed<f64>>,
}

/// What some looks cost.
#[derive(Clone, Debug)]
pub struct Look {
    /// The clues.
    pub clues: Vec<Word>,
    /// Circumstances under which it holds, each with its state; `None` if that was unreadable (already reported).
    pub when: Vec<(Word, Option<Word>)>,
    /// Minutes.
    pub minutes: Option<Placed<f64>>,
    /// Tools.
    pub tools: Vec<Word>,
    /// The whole entry.
    pub span: Span,
}

/// The whole file.
#[derive(Clone, Debug)]
pub struct Looks {
    /// Least bits per minute.
    pub bits_per_minute: Option<Placed<f64>>,
    /// Minutes of a look that no entry speaks of.
    pub otherwise: Option<Placed<f64>>,
    /// Tools.
    pub tools: Vec<Tool>,
    /// Costs.
    pub looks: Vec<Look>,
}
