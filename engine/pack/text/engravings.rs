//! Engravings and what they show, as written.

use super::histories::{FromHistories, History, WornLook};
use super::{Clue, SeenSay, Table, Word};
use crate::source::Span;

/// A hidden engraved copper (or family of coppers).
#[derive(Clone, Debug)]
pub struct Engraving {
    /// Short code.
    pub id: Word,
    /// Name.
    pub name: Option<Word>,
    /// Stands for an engraving never seen.
    pub unseen: bool,
    /// Where it came from and what became of it; nothing where rows say who used it.
    pub history: History,
}

/// A motif with agreed states, fixed by the engraving.
#[derive(Clone, Debug)]
pub struct Coding {
    /// Name and states, as for any clue (without a table of its own).
    pub clue: Clue,
    /// What is read under the engraving never seen.
    pub unseen: Option<SeenSay>,
    /// How well it is read, where it has a table of its own.
    pub right: Option<Table>,
    /// What a worn plate makes of it.
    pub worn_looks: Vec<WornLook>,
}

/// What one engraving shows in one size class.
#[derive(Clone, Debug)]
pub struct Shows {
    /// The engraving.
    pub engraving: Word,
    /// The size class.
    pub size_class: Word,
    /// Coding and its usual state; `None` if that was unreadable (already reported).
    pub states: Vec<(Word, Option<Word>)>,
    /// The whole entry.
    pub span: Span,
}

/// Everything about engravings.
#[derive(Clone, Debug)]
pub struct Engravings {
    /// The engravings.
    pub engravings: Vec<Engraving>,
    /// Which engraving, by maker and period; none where histories say it.
    pub used: Option<Table>,
    /// Where histories say it: the chance of an engraving never seen, how the engravings at hand are shared, wear.
    pub from_histories: FromHistories,
    /// Chance that a coding is read right.
    pub right: Table,
    /// The codings.
    pub codings: Vec<Coding>,
    /// What each engraving shows.
    pub shows: Vec<Shows>,
    /// The file.
    pub span: Span,
}
