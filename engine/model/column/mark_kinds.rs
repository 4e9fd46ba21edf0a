//! Which mark a piece carries: marked or not, and if so with which of its maker's marks.
//!
//! A mark used for part of a period gets its base share times the part of the firm's years in that period in which it
//! was in use; the shares are then brought back to sum to one over the maker's marks.

use crate::model::belief::{BeliefId, Values};

/// One of the maker's marks in one period.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KindInUse {
    /// State of the mark variable.
    pub state: usize,
    /// Cell of the belief about the maker's shares.
    pub cell: usize,
    /// Part of the firm's years in the period in which the mark was in use, from 0 to 1.
    pub use_share: f64,
}

/// The marks of one maker in one period.
#[derive(Clone, Debug)]
pub struct MarkKinds {
    /// State that means: carries no mark.
    pub unmarked: usize,
    /// Chance of being marked: cells `[marked, unmarked]`.
    pub rate: BeliefId,
    /// Base shares of the maker's marks.
    pub shares: BeliefId,
    /// Which of them were in use, and how much of the period.
    pub kinds: Vec<KindInUse>,
}

impl MarkKinds {
    /// P(mark) for the maker and period.
    pub fn write(&self, values: &Values, column: &mut [f64]) {
        column.fill(0.0);
        let rate = values.of(self.rate);
        let shares = values.of(self.shares);
        let in_use: f64 = self
            .kinds
            .iter()
            .map(|kind| shares[kind.cell] * kind.use_share)
            .sum();
        if in_use > 0.0 {
            for kind in &self.kinds {
                column[kind.state] += rate[0] * (shares[kind.cell] * kind.use_share / in_use);
            }
            column[self.unmarked] = rate[1];
        } else {
            // No mark in use: nothing can be marked. The check refuses a rate above zero here; a draw in which every
            // share in use fell to nothing comes to the same.
            column[self.unmarked] = 1.0;
        }
    }
}

/// Whether a piece carries initials that are not its maker's: so many per marked piece.
#[derive(Clone, Debug)]
pub struct StrayInitials {
    /// State that means: it does.
    pub yes: usize,
    /// State that means: it does not.
    pub no: usize,
    /// Chance of being marked: cells `[marked, unmarked]`.
    pub rate: BeliefId,
    /// Chance of stray initials per marked piece: cells `[stray, none]`.
    pub stray: BeliefId,
}

impl StrayInitials {
    /// P(stray) = rate × chance per marked piece.
    pub fn write(&self, values: &Values, column: &mut [f64]) {
        let stray = values.of(self.rate)[0] * values.of(self.stray)[0];
        column[self.yes] = stray;
        column[self.no] = 1.0 - stray;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::belief::{Belief, Beliefs, Spread};

    fn belief(beliefs: &mut Beliefs, say: &[f64]) -> BeliefId {
        beliefs.add(Belief {
            about: String::new(),
            citation: String::new(),
            spread: Spread::Categorical { say: say.to_vec() },
            seen: 30.0,
        })
    }

    /// Worked by hand: a firm that marked 65 % of its ware; a bell (base share 0.5) in use five of the firm's seven years
    /// in the period, a ribbon (0.5) all seven: shares 0.5 × 5/7 and 0.5, brought back to 5/12 and 7/12.
    #[test]
    fn part_use_is_brought_back_to_one() {
        let mut beliefs = Beliefs::default();
        let rate = belief(&mut beliefs, &[0.65, 0.35]);
        let shares = belief(&mut beliefs, &[0.5, 0.5]);
        let kind = |state, cell, use_share| KindInUse {
            state,
            cell,
            use_share,
        };
        let rule = MarkKinds {
            unmarked: 0,
            rate,
            shares,
            kinds: vec![kind(1, 0, 5.0 / 7.0), kind(2, 1, 1.0)],
        };
        let mut column = [0.0; 4];
        rule.write(&beliefs.stated(), &mut column);
        let expected = [0.35, 0.65 * 5.0 / 12.0, 0.65 * 7.0 / 12.0, 0.0];
        for (got, want) in column.iter().zip(expected) {
            assert!((got - want).abs() < 1e-15, "{column:?}");
        }
    }
}
