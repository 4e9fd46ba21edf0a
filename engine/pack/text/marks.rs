//! The registry of marks and who used them, as written.

use super::{Clue, Placed, Table, Word};
use crate::pack::belief::Chance;
use crate::pack::years::Years;
use crate::source::Span;

/// A mark of the registry.
#[derive(Clone, Debug)]
pub struct Mark {
    /// Name.
    pub id: Word,
    /// Printed, impressed, incised, painted.
    pub method: Option<Word>,
    /// What it says; `?` if nobody knows.
    pub text: Option<Word>,
    /// Crown, anchor, shield …
    pub devices: Vec<Word>,
    /// What usually stands beside it: a size number, a pattern name.
    pub companions: Vec<Word>,
}

/// One mark among those a maker used.
#[derive(Clone, Debug)]
pub struct Kind {
    /// The mark.
    pub mark: Word,
    /// Its base share among the maker's marked pieces.
    pub say: Option<Placed<Chance>>,
    /// Years of use, where narrower than the maker's.
    pub years: Option<Placed<Years>>,
}

/// The marks a maker used.
#[derive(Clone, Debug)]
pub struct MarkedBy {
    /// The maker.
    pub maker: Word,
    /// Its marks.
    pub kinds: Vec<Kind>,
    /// Equivalent sample size of the shares.
    pub seen: Option<Placed<f64>>,
    /// The whole entry.
    pub span: Span,
}

/// Initials that are not the maker's: a retailer's, a workman's.
#[derive(Clone, Debug)]
pub struct Stray {
    /// Chance per marked piece.
    pub say: Option<Placed<Chance>>,
    /// Equivalent sample size.
    pub seen: Option<Placed<f64>>,
    /// Makers to whom it does not apply.
    pub except: Vec<Word>,
    /// The whole entry.
    pub span: Span,
}

/// Everything about marks.
#[derive(Clone, Debug)]
pub struct Marks {
    /// The registry.
    pub marks: Vec<Mark>,
    /// How well a mark that is there came out, by method.
    pub strike: Table,
    /// Chance of being marked, by maker and period.
    pub rate: Table,
    /// Which marks each maker used.
    pub marked_by: Vec<MarkedBy>,
    /// Initials that are not the maker's.
    pub stray: Option<Stray>,
    /// What is read.
    pub reading: Clue,
}
