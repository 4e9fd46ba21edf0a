//! Beliefs, rows and tables, as written.

use super::{Placed, Word};
use crate::pack::belief::Chance;
use crate::source::Span;

/// How what is left of a row is shared out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Remainder {
    /// The states not named cannot happen.
    Impossible,
    /// What is left is spread evenly over the states not named.
    Evenly,
}

/// `say = { … }`: beliefs over states.
#[derive(Clone, Debug)]
pub struct Say {
    /// State and belief, in the order of the file; `None` if the belief was unreadable (already reported).
    pub entries: Vec<(Word, Option<Placed<Chance>>)>,
    /// `otherwise = …`, if given.
    pub otherwise: Option<Placed<Remainder>>,
    /// Whether all of it could be read, the beliefs of the entries apart; if not, that is reported already.
    pub readable: bool,
    /// The whole map.
    pub span: Span,
}

/// `parent = value`, `parent = [values]` or `parent = "from..to"` in a row.
#[derive(Clone, Debug)]
pub struct Condition {
    /// The parent variable.
    pub parent: Word,
    /// The values the row speaks of; each may be a range `from..to`.
    pub values: Vec<Word>,
}

/// What a row says.
#[derive(Clone, Debug)]
pub enum RowBody {
    /// A belief for each state.
    States(Say),
    /// One belief, for the first of two states.
    Single(Placed<Chance>),
    /// `mean` and `sd` of a normal.
    Normal {
        /// Mean.
        mean: Placed<f64>,
        /// Standard deviation.
        sd: Placed<f64>,
    },
    /// `median` and `factor` of a lognormal.
    Lognormal {
        /// Median.
        median: Placed<f64>,
        /// Geometric standard deviation.
        factor: Placed<f64>,
    },
    /// `mean`, `sd` and `correlation` of a colour.
    Colour {
        /// Means.
        mean: Triple,
        /// Standard deviations.
        sd: Triple,
        /// Correlations.
        correlation: Triple,
    },
}

/// Three numbers of a colour, in the order L*, a*, b* (correlations: L*–a*, L*–b*, a*–b*).
#[derive(Clone, Debug)]
pub struct Triple {
    /// The numbers.
    pub values: [f64; 3],
    /// The list.
    pub span: Span,
}

/// One row of a table.
#[derive(Clone, Debug)]
pub struct Row {
    /// The cases it speaks of; no condition at all needs `otherwise = true`.
    pub conditions: Vec<Condition>,
    /// `otherwise = true`.
    pub otherwise: bool,
    /// What it says; `None` if that was missing or unreadable (already reported).
    pub body: Option<RowBody>,
    /// Equivalent sample size of this row.
    pub seen: Option<Placed<f64>>,
    /// Whether all of it could be read; if not, that is reported already.
    pub readable: bool,
    /// The whole row.
    pub span: Span,
}

/// A table of beliefs.
#[derive(Clone, Debug)]
pub struct Table {
    /// Parents.
    pub depends_on: Vec<Word>,
    /// Equivalent sample size of rows that give none.
    pub seen: Option<Placed<f64>>,
    /// Rows, in the order of the file.
    pub rows: Vec<Row>,
    /// Whether all of it could be read; if not, that is reported already.
    pub readable: bool,
    /// The table's place.
    pub span: Span,
}

/// A belief with its own `seen`.
#[derive(Clone, Debug)]
pub struct SeenSay {
    /// What is said.
    pub say: Option<Say>,
    /// Equivalent sample size.
    pub seen: Option<Placed<f64>>,
}
