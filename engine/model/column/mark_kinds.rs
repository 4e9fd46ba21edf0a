//! Which mark a piece carries: marked or not, and if so with which of its maker's marks.
//!
//! A mark used for part of a period gets its base share times the part of the firm's years in that period in which it
//! was in use; the shares are then brought back to sum to one over the maker's marks.

use super::chance::Chance;
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
    pub fn write<T: Chance>(&self, values: &Values<T>, column: &mut [T]) {
        column.fill(T::all(0.0));
        let rate = values.of(self.rate);
        let shares = values.of(self.shares);
        let share_in_use = |kind: &KindInUse| {
            shares[kind.cell].with(T::all(kind.use_share), |share, use_share| share * use_share)
        };
        let in_use = self.kinds.iter().fold(T::all(0.0), |sum, kind| {
            sum.with(share_in_use(kind), |sum, share| sum + share)
        });
        for kind in &self.kinds {
            let chance = rate[0].with_two(share_in_use(kind), in_use, |rate, share, in_use| {
                if in_use > 0.0 {
                    rate * (share / in_use)
                } else {
                    0.0
                }
            });
            column[kind.state] = column[kind.state].with(chance, |sum, chance| sum + chance);
        }
        // No mark in use: nothing can be marked. The check refuses a rate above zero here; a draw in which every share in
        // use fell to nothing comes to the same.
        column[self.unmarked] = rate[1].with(
            in_use,
            |unmarked, in_use| if in_use > 0.0 { unmarked } else { 1.0 },
        );
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
    pub fn write<T: Chance>(&self, values: &Values<T>, column: &mut [T]) {
        let (rate, stray) = (values.of(self.rate)[0], values.of(self.stray)[0]);
        let stray = rate.with(stray, |rate, stray| rate * stray);
        column[self.yes] = stray;
        column[self.no] = T::all(1.0).with(stray, |one, stray| one - stray);
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
