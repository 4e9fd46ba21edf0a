//! Histories of engravings as written: who cut them, and what became of them.

use super::{Placed, SeenSay, Table, Word};
use crate::dating::edtf::Edtf;
use crate::pack::belief::Chance;
use crate::source::Span;

/// What happened to an engraving.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// Sold to another.
    Sold,
    /// Handed down to another.
    Inherited,
    /// Another pulls from it as well.
    Shared,
    /// Another pulls from it instead, and gives it back.
    Lent,
    /// Stock: anyone can have impressions or plates of it.
    Stock,
    /// Re-cut, so that it is another engraving from then on.
    Recut,
    /// Another engraving was made after it.
    Copied,
    /// Melted down, worn out, lost.
    Retired,
}

impl What {
    /// All of them, with the key that dates each.
    pub const KEYS: [(Self, &'static str); 8] = [
        (Self::Sold, "sold"),
        (Self::Inherited, "inherited"),
        (Self::Shared, "shared"),
        (Self::Lent, "lent"),
        (Self::Stock, "stock"),
        (Self::Recut, "recut"),
        (Self::Copied, "copied"),
        (Self::Retired, "retired"),
    ];

    /// Whether it goes on for a time, so that its date may be an interval with open ends.
    #[must_use]
    pub fn lasts(self) -> bool {
        matches!(self, Self::Shared | Self::Lent | Self::Stock)
    }

    /// The key that dates it.
    #[must_use]
    pub fn key(self) -> &'static str {
        let of_it = Self::KEYS.iter().find(|(what, _)| *what == self);
        of_it.map_or("", |(_, key)| key)
    }
}

/// One event.
#[derive(Clone, Debug)]
pub struct Event {
    /// What happened.
    pub what: What,
    /// When.
    pub date: Placed<Edtf>,
    /// To or with whom: makers or works.
    pub to: Vec<Word>,
    /// By whom: the one who gives it away, or who makes the copy.
    pub by: Option<Word>,
    /// The engraving that comes of it.
    pub becomes: Option<Word>,
    /// The state of the plate from then on.
    pub plate: Option<Word>,
    /// The place of the key that dates it and of the date.
    pub span: Span,
}

/// Where an engraving came from and what became of it.
#[derive(Clone, Debug, Default)]
pub struct History {
    /// When it was cut; none for one that came of another.
    pub cut: Option<Placed<Edtf>>,
    /// For whom it was cut: a maker or a works; nobody for a plate cut for sale.
    pub by: Option<Word>,
    /// What happened, in order.
    pub events: Vec<Event>,
    /// The size classes it was cut for; none named: all.
    pub size_classes: Vec<Word>,
}

impl History {
    /// Whether anything is said.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.cut.is_none() && self.by.is_none() && self.events.is_empty()
    }
}

/// How plates wear.
#[derive(Clone, Debug)]
pub struct Plate {
    /// States, from freshly cut on.
    pub states: Vec<Word>,
    /// Chance of passing on to the next state in ten years of use.
    pub table: Table,
    /// The state behind a print from an engraving never seen.
    pub unseen: Option<SeenSay>,
    /// The table's place.
    pub span: Span,
}

/// What a table of rows would say, where histories stand in its place.
#[derive(Clone, Debug, Default)]
pub struct FromHistories {
    /// Chance of an engraving never seen.
    pub never_seen: Option<Table>,
    /// How much each of the engravings at hand is used.
    pub shares: Option<Table>,
    /// How plates wear.
    pub plate: Option<Plate>,
}

/// A state that is seen as another once the plate has lost detail.
#[derive(Clone, Debug)]
pub struct WornLook {
    /// The state of the plate.
    pub plate: Word,
    /// The state that the engraving has.
    pub state: Word,
    /// What it then looks like.
    pub like: Word,
    /// The chance of it.
    pub say: Option<Placed<Chance>>,
    /// Equivalent sample size.
    pub seen: Option<Placed<f64>>,
    /// The entry's place.
    pub span: Span,
}
