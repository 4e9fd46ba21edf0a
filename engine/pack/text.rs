//! A pack as written: names, beliefs and rows with their places, before anything is checked against anything else.
//!
//! Everything here is faithful to the files; [`crate::check`] alone turns it into a model. An `Option` that the format
//! does not allow to be left out is `None` where the file has nothing readable: that is reported already, and the entry
//! is kept so that its name is still known to the rest of the pack.

mod clues;
mod collection;
mod engravings;
pub mod histories;
mod lettering;
pub mod looks;
pub mod market;
mod marks;
mod observers;
mod rows;
pub mod rules;
mod sizes;

pub use clues::{Circumstance, Clue, Simulated, Weighing};
pub use collection::{Collection, Learned};
pub use engravings::{Coding, Engraving, Engravings, Shows};
pub use lettering::Lettering;
pub use marks::{Kind, Mark, MarkedBy, Marks, Stray};
pub use observers::{Observer, Observers, Reads};
pub use rows::{Condition, Remainder, Row, RowBody, Say, SeenSay, Table, Triple};
pub use sizes::{Shape, Size, Sizes};

use super::belief::Chance;
use super::years::Years;
use crate::dating::edtf::Edtf;
use crate::source::{SourceId, Span};

/// A value with the place it was written at.
#[derive(Clone, Debug)]
pub struct Placed<T> {
    /// The value.
    pub value: T,
    /// Its place.
    pub span: Span,
}

/// A word with its place.
pub type Word = Placed<String>;

/// One bin of years.
#[derive(Clone, Debug)]
pub struct Period {
    /// Name.
    pub id: Word,
    /// Its years.
    pub years: Option<Placed<Years>>,
}

/// Thresholds of the ladder of words.
#[derive(Clone, Debug)]
pub struct Wording {
    /// `marked`, `attributed`, … with its threshold, in the order of the file.
    pub rungs: Vec<(Word, Option<Placed<Chance>>)>,
    /// Their table.
    pub span: Span,
    /// The house's own words for some of them.
    pub words: Vec<(Word, Option<Word>)>,
    /// The verbal scale for the strength of evidence.
    pub scale: Option<Word>,
}

/// A maker of the list, or one of the two that stand for what no list holds.
#[derive(Clone, Debug)]
pub struct Maker {
    /// Short code.
    pub id: Word,
    /// Name.
    pub name: Option<Word>,
    /// The works, if known.
    pub works: Option<Word>,
    /// Region.
    pub region: Option<Word>,
    /// Active years.
    pub years: Option<Placed<Years>>,
    /// Share of what survives.
    pub share: Option<Placed<Chance>>,
    /// Share of its output by period.
    pub output: Option<SeenSay>,
    /// Years of its output, where they are given instead.
    pub output_years: Option<Placed<Edtf>>,
    /// `unlisted` or `reproduction`.
    pub role: Option<Word>,
}

/// What a pack takes from elsewhere to date by, and how soft its dates are.
#[derive(Clone, Debug, Default)]
pub struct Included {
    /// Names of rules files.
    pub rules: Vec<Word>,
    /// `[dating] about`: years either way of a date marked `~`.
    pub about: Option<Placed<f64>>,
    /// `[dating] wrong`: chance that a date marked `?` is wrong.
    pub wrong: Option<Placed<Chance>>,
}

/// A question that the pack leaves out, with the reason.
#[derive(Clone, Debug)]
pub struct LeftOut {
    /// `maker`, `period`, `unlisted` or `reproduction`.
    pub what: Word,
    /// Why.
    pub why: Option<Word>,
}

/// Clues that are weighed as one, besides one by one.
#[derive(Clone, Debug)]
pub struct ClueGroup {
    /// What they are called.
    pub name: Word,
    /// The clues.
    pub clues: Vec<Word>,
}

/// Beliefs that an expert set together.
#[derive(Clone, Debug)]
pub struct SetTogether {
    /// What they are called.
    pub name: Word,
    /// How the descriptions of the beliefs begin.
    pub beliefs: Vec<Word>,
    /// How closely their errors go together.
    pub correlation: Option<Placed<Chance>>,
}

/// A whole pack as written.
#[derive(Clone, Debug)]
pub struct PackText {
    /// Name.
    pub name: Word,
    /// What ware it is about.
    pub ware: Option<Word>,
    /// Bins of years.
    pub periods: Vec<Period>,
    /// Circumstances of the look.
    pub circumstances: Vec<Circumstance>,
    /// Words for the verdict.
    pub wording: Option<Wording>,
    /// Clues that are weighed as one.
    pub groups: Vec<ClueGroup>,
    /// Beliefs that were set together.
    pub set_together: Vec<SetTogether>,
    /// Regions.
    pub regions: Vec<Word>,
    /// Their names for people, where they have others.
    pub region_names: Vec<Option<Word>>,
    /// Works.
    pub works: Vec<Word>,
    /// Their names for people, where they have others.
    pub works_names: Vec<Option<Word>>,
    /// Equivalent sample size of the makers' shares.
    pub shares_seen: Option<Placed<f64>>,
    /// The table `[shares]`, if it is there.
    pub shares_span: Option<Span>,
    /// Makers.
    pub makers: Vec<Maker>,
    /// Sizes, for wares that have them.
    pub sizes: Option<Sizes>,
    /// Marks, for wares that carry them.
    pub marks: Option<Marks>,
    /// How lettering is read, for wares whose marks are scored letter by letter.
    pub lettering: Option<Lettering>,
    /// Engravings, for printed wares.
    pub engravings: Option<Engravings>,
    /// Hidden qualities, which clues tell of.
    pub hidden: Vec<Clue>,
    /// Other clues.
    pub clues: Vec<Clue>,
    /// Who codes, where it is told apart.
    pub observers: Option<Observers>,
    /// What a look costs, where the pack says.
    pub looks: Option<looks::Looks>,
    /// What was sold and what value means, where the pack says.
    pub market: Option<market::Market>,
    /// Rules files and the softness of dates.
    pub included: Included,
    /// The rules files, as far as they could be read.
    pub rules: Vec<rules::RulesText>,
    /// Pieces of known origin to learn from.
    pub collection: Option<Collection>,
    /// What the pack leaves out on purpose.
    pub leaves_out: Vec<LeftOut>,
    /// The files, for the content hash.
    pub sources: Vec<SourceId>,
    /// Files that are not whole: unreadable, or not valid TOML (already reported). Names and rows may be missing from
    /// them.
    pub not_whole: Vec<SourceId>,
    /// Whether all of it could be read: only then can it become a model.
    pub readable: bool,
    /// SHA-256 of names and texts of the files.
    pub hash: String,
}

impl PackText {
    /// Whether the pack leaves out a question, or one of the two makers that are otherwise always there.
    #[must_use]
    pub fn leaves_out(&self, what: &str) -> bool {
        self.leaves_out.iter().any(|left| left.what.value == what)
    }
}
