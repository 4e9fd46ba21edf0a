//! The market of a ware, as written.

use super::{Placed, Word};
use crate::learn::collection::Collection;
use crate::pack::belief::Chance;
use crate::source::{SourceId, Span};

/// A factor or a price with its range: `{ say = "x1.35", between = ["x1.2", "x1.5"], coverage = "90%" }`.
#[derive(Clone, Debug)]
pub struct Factor {
    /// The median.
    pub say: Option<Placed<f64>>,
    /// The range.
    pub between: Option<[Placed<f64>; 2]>,
    /// The chance that it holds.
    pub coverage: Option<Placed<Chance>>,
    /// The whole entry.
    pub span: Span,
}

/// The usual piece.
#[derive(Clone, Debug)]
pub struct Usual {
    /// Its price.
    pub price: Option<Factor>,
    /// The year.
    pub year: Option<Placed<f64>>,
    /// Size.
    pub size: Option<Word>,
    /// Grade.
    pub condition: Option<Placed<f64>>,
    /// Wording.
    pub wording: Option<Word>,
    /// Kind of sale.
    pub sale: Option<Word>,
    /// The whole table.
    pub span: Span,
}

/// How prices differ.
#[derive(Clone, Debug)]
pub struct Prices {
    /// Works.
    pub works_apart: Option<Placed<f64>>,
    /// Makers.
    pub makers_apart: Option<Placed<f64>>,
    /// One size larger.
    pub size_step: Option<Factor>,
    /// One grade better.
    pub condition_step: Option<Factor>,
    /// One year later.
    pub year: Option<Factor>,
    /// Dealer over hammer.
    pub retail: Option<Factor>,
    /// Scatter: factor.
    pub scatter: Option<Placed<f64>>,
    /// Scatter: sales' worth of experience.
    pub scatter_seen: Option<Placed<f64>>,
    /// The whole table.
    pub span: Span,
}

/// A kind of sale.
#[derive(Clone, Debug)]
pub struct Sale {
    /// Name.
    pub id: Word,
    /// Beside the usual one.
    pub fetches: Option<Factor>,
    /// Buyer's premium.
    pub premium: Option<Placed<Chance>>,
}

/// A wording.
#[derive(Clone, Debug)]
pub struct Wording {
    /// Name.
    pub id: Word,
    /// Words.
    pub words: Option<Word>,
    /// Whom it names.
    pub names: Option<Word>,
    /// Rungs.
    pub rungs: Vec<Word>,
    /// What must be noted of the piece: clue and state, with the place of the state.
    pub only_where: Vec<(Word, Option<Word>)>,
    /// Beside the usual one.
    pub fetches: Option<Factor>,
}

/// A grade.
#[derive(Clone, Debug)]
pub struct Grade {
    /// Number.
    pub grade: Placed<f64>,
    /// Words.
    pub words: Option<Word>,
}

/// A definition of value.
#[derive(Clone, Debug)]
pub struct Definition {
    /// Short name.
    pub id: Word,
    /// Name.
    pub name: Option<Word>,
    /// The source's own words.
    pub words: Option<Word>,
    /// The definition in our words.
    pub in_our_words: Option<Word>,
    /// What the pack takes it as.
    pub taken_as: Option<Word>,
    /// Words of purposes that it suits.
    pub suits: Vec<Word>,
    /// Source.
    pub source: Option<Word>,
    /// What price.
    pub price: Option<Word>,
    /// Which kind of sale.
    pub sale: Option<Word>,
    /// Given as a band.
    pub is_band: bool,
}

/// `market.toml`, with the table of comparables.
#[derive(Clone, Debug)]
pub struct Market {
    /// ISO 4217.
    pub currency: Option<Word>,
    /// Years.
    pub oldest: Option<Placed<f64>>,
    /// The usual piece.
    pub usual: Option<Usual>,
    /// How prices differ.
    pub prices: Option<Prices>,
    /// Kinds of sale.
    pub sales: Vec<Sale>,
    /// Wordings.
    pub wordings: Vec<Wording>,
    /// Grades.
    pub grades: Vec<Grade>,
    /// Definitions.
    pub definitions: Vec<Definition>,
    /// Sold pieces, if they could be read.
    pub comparables: Option<(SourceId, Collection)>,
    /// SHA-256 of the two files.
    pub hash: String,
    /// The whole file.
    pub span: Span,
}
