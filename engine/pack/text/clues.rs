//! Clues, hidden qualities and the circumstances of a look, as written.

use super::{Placed, Table, Triple, Word};
use crate::pack::belief::Chance;

/// Something the appraiser states about the look itself, which has no chance of its own.
#[derive(Clone, Debug)]
pub struct Circumstance {
    /// Name.
    pub id: Word,
    /// Name for people.
    pub name: Option<Word>,
    /// States.
    pub states: Vec<Word>,
    /// How to judge it.
    pub look: Option<Word>,
}

/// How a weight is judged.
#[derive(Clone, Debug)]
pub struct Weighing {
    /// `usual weight`, `per litre`, `per square centimetre`, `as it is`.
    pub judged: Word,
    /// `normal` or `lognormal`.
    pub family: Word,
    /// Edges of bands; none: the measured value itself is the evidence.
    pub bands: Option<Vec<Placed<f64>>>,
    /// What a reading of the scale may be off by, in grams, either way; none: read exactly.
    pub tolerance: Option<Placed<f64>>,
}

/// A state put on to deceive, beside the states that the rows speak of.
#[derive(Clone, Debug)]
pub struct Simulated {
    /// Its name.
    pub state: Word,
    /// Its chance on a later reproduction.
    pub of_reproductions: Option<Placed<Chance>>,
    /// Its chance on any other piece.
    pub of_others: Option<Placed<Chance>>,
    /// Equivalent sample size of both.
    pub seen: Option<Placed<f64>>,
}

/// A clue.
#[derive(Clone, Debug)]
pub struct Clue {
    /// Name in scripts.
    pub id: Word,
    /// Name for people.
    pub name: Option<Word>,
    /// `choice`, `graded`, `count`, `weight` or `date`.
    pub kind: Word,
    /// States, as agreed.
    pub states: Vec<Word>,
    /// The state that means: looked, and there was nothing.
    pub absent: Option<Word>,
    /// How to look.
    pub look: Option<Word>,
    /// The measurement it is taken from, so that one measurement is not entered twice.
    pub taken_from: Option<Word>,
    /// How a weight is judged.
    pub weighing: Option<Weighing>,
    /// How often a date is wrong.
    pub wrong: Option<Placed<Chance>>,
    /// The hidden quality whose grade is read.
    pub reads: Option<Word>,
    /// The state put on to deceive.
    pub simulated: Option<Simulated>,
    /// Standard deviations of the instrument that a colour is measured with.
    pub instrument: Option<Triple>,
    /// Its table.
    pub table: Table,
}

impl Clue {
    /// Whether what is noted of it is a date.
    #[must_use]
    pub fn is_date(&self) -> bool {
        self.kind.value == "date"
    }
}
