//! Beliefs learned from a collection: pieces of known origin, one row each.
//!
//! Two ways, both with the dependence between clues inside the model:
//!
//! - [`groups`]: quantities measured together (a chemical analysis, a set of dimensions). Each class (a maker) has a
//!   multivariate Student t that follows in closed form from a conjugate prior with three levels, piece below class below
//!   district, so that a class of two pieces leans on its district instead of on nothing.
//! - [`codes`]: features present or absent, and classes in an order (periods). A hidden phase stands between period and
//!   features, so that the features of one assemblage go early or late together and are not so many witnesses.
//!
//! How strongly anything leans is chosen inside the collection by [`groups::choose`] and [`codes::choose`]: a piece that
//! is to be judged has no say in it. [`odd`] asks of every cell how probable it is given all others of the same row.
//!
//! Nothing here knows of makers, periods, files or packs: classes are numbers.

pub mod codes;
pub mod collection;
pub mod groups;
pub mod odd;
pub mod readings;
pub mod shares;
pub mod student_t;

/// Why nothing can be learned.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LearnError {
    /// No class has a second piece, so nothing shows how much the pieces of one class differ.
    #[error(
        "no class has two pieces, so nothing shows how much pieces of one class differ; at least one needs a second"
    )]
    NoSecondPiece,
    /// A column that never varies within a class.
    #[error(
        "column {column} (counted from 1) is the same for all pieces of every class; leave it out"
    )]
    NeverVaries {
        /// Its position, from 1.
        column: usize,
    },
    /// Numbers too far apart to be computed with.
    #[error("the measured values differ so much in size that nothing can be computed from them")]
    OutOfRange,
    /// No piece at all.
    #[error("the collection is empty")]
    Empty,
}
