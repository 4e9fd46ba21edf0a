//! What is learned, as written.

use super::Word;
use crate::source::{SourceId, Span};

/// A way of learning from the collection.
#[derive(Clone, Debug)]
pub struct Learned {
    /// Name: of the clue, for quantities measured together; else of what is coded.
    pub id: Word,
    /// Name for people.
    pub name: Option<Word>,
    /// `measured together` or `present or absent`.
    pub kind: Word,
    /// What the columns depend on: `maker` or `period`.
    pub given: Word,
    /// Columns of the collection.
    pub columns: Vec<Word>,
    /// How to look.
    pub look: Option<Word>,
}

/// Pieces of known origin, and what is learned from them.
#[derive(Clone, Debug)]
pub struct Collection {
    /// Where the table was published.
    pub published: Option<Word>,
    /// The column that names each piece.
    pub piece: Option<Word>,
    /// The column that says who made it.
    pub maker: Option<Word>,
    /// The column that says its period.
    pub period: Option<Word>,
    /// What is learned.
    pub learned: Vec<Learned>,
    /// The table, if it could be read; if not, that is reported already.
    pub table: Option<crate::learn::collection::Collection>,
    /// The table's text.
    pub source: SourceId,
    /// The table `[collection]`.
    pub span: Span,
}
