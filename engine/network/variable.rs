//! Variables, measures and the indices that name them.

use std::fmt;

/// Names one variable of a network by its place in [`Network::variables`](super::Structure::variables).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct VariableId(u32);

impl VariableId {
    /// The variable at place `index`, counted from 0.
    pub fn new(index: u32) -> Self {
        Self(index)
    }

    /// The place, counted from 0.
    pub fn index(self) -> usize {
        self.0 as usize
    }

    /// The ids of the first `n` variables, in order.
    ///
    /// A network of more than `u32::MAX` variables cannot be held in memory, so the ids cannot run out.
    pub(crate) fn first(n: usize) -> impl DoubleEndedIterator<Item = Self> + Clone {
        (0..u32::try_from(n).unwrap_or(u32::MAX)).map(Self)
    }
}

impl fmt::Display for VariableId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "variable {}", self.0)
    }
}

/// Names one measure of a network by its place in [`Network::measures`](super::Structure::measures).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct MeasureId(u32);

impl MeasureId {
    /// The measure at place `index`, counted from 0.
    pub fn new(index: u32) -> Self {
        Self(index)
    }

    /// The place, counted from 0.
    pub fn index(self) -> usize {
        self.0 as usize
    }

    /// The ids of the first `n` measures, in order.
    pub(crate) fn first(n: usize) -> impl DoubleEndedIterator<Item = Self> + Clone {
        (0..u32::try_from(n).unwrap_or(u32::MAX)).map(Self)
    }
}

impl fmt::Display for MeasureId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "measure {}", self.0)
    }
}

/// Whether a variable has a probability of its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Role {
    /// Distributed by its conditional probability table.
    Chance,
    /// Set by the user: a circumstance such as how long one searched. It has no parents and no
    /// probability of its own, and adds no factor to P(evidence).
    Input,
}

/// One question with finitely many answers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Variable {
    /// Unique among the variables and measures of a network.
    pub name: String,
    /// At least one; unique within the variable. The order is the order of every vector of states.
    pub states: Vec<String>,
    /// Chance or input.
    pub role: Role,
}

/// A continuous leaf, such as mass per volume. It is only ever evidence, given as one density for each
/// configuration of the parents.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Measure {
    /// Unique among the variables and measures of a network.
    pub name: String,
    /// The variables that the density depends on. The last parent turns fastest in a configuration index.
    pub parents: Vec<VariableId>,
}
