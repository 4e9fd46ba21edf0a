//! Those who code, as written.

use super::{Table, Word};
use crate::source::Span;

/// How well an observer reads some clues.
#[derive(Clone, Debug)]
pub struct Reads {
    /// The clues.
    pub clues: Vec<Word>,
    /// Chance of a right reading, or of each record given the state.
    pub table: Table,
    /// The whole entry.
    pub span: Span,
}

/// Somebody who codes.
#[derive(Clone, Debug)]
pub struct Observer {
    /// Short name.
    pub id: Word,
    /// Name for people.
    pub name: Option<Word>,
    /// What becomes of the clues not named: `as the tables say` or `not asked`.
    pub otherwise: Option<Word>,
    /// What is read, and how well.
    pub reads: Vec<Reads>,
}

/// Everybody who codes.
#[derive(Clone, Debug)]
pub struct Observers {
    /// Whose the findings are that name nobody.
    pub default: Option<Word>,
    /// The observers.
    pub observers: Vec<Observer>,
    /// The file.
    pub span: Span,
}
