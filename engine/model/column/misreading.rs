//! A coding read right with a chance, else any other state evenly.
//!
//! One belief about reading serves every coding it covers, so that a stress run doubts them together: a coder who is
//! worse than thought is worse on all of them.

use super::chance::Chance;
use crate::model::belief::{BeliefId, Values};

/// The reading of a coding whose usual state is known.
#[derive(Clone, Debug)]
pub struct Misreading {
    /// The state the engraving shows.
    pub usual: usize,
    /// Chance of a right reading: cells `[right, wrong]`.
    pub right: BeliefId,
}

impl Misreading {
    /// `right` on the usual state, what is left spread evenly over the others (all of it on the only state there is).
    pub fn write<T: Chance>(&self, values: &Values<T>, column: &mut [T]) {
        let n_others = column.len() - 1;
        if n_others == 0 {
            column[0] = T::all(1.0);
            return;
        }
        let right = values.of(self.right);
        column.fill(right[1].with(T::all(n_others as f64), |wrong, n| wrong / n));
        column[self.usual] = right[0];
    }
}
