//! Which of the engravings at hand a print was pulled from, or one never seen.
//!
//! What is at hand follows from the histories of the engravings, and is not the same in every year: the column is the mean
//! over all that may have been at hand. Of one set of engravings, each is used in proportion to its share of use; with the
//! chance *never seen* the print is from another all the same. With nothing at hand, or nothing that is used, it is from one
//! never seen.

use super::chance::Chance;
use crate::model::belief::{BeliefId, Values};

/// Shares of use: one cell for each engraving, that of one never seen apart.
#[derive(Clone, Debug)]
pub struct Shares {
    /// The belief.
    pub belief: BeliefId,
    /// Its cell for each engraving; none for one never seen.
    pub cell_of: std::sync::Arc<[Option<usize>]>,
}

impl Shares {
    /// The share of use of an engraving, among all that there are.
    pub fn of<T: Chance>(&self, values: &Values<T>, engraving: usize) -> T {
        self.cell_of[engraving].map_or(T::all(0.0), |cell| values.of(self.belief)[cell])
    }

    /// The share of use of several together.
    pub fn sum<T: Chance>(&self, values: &Values<T>, engravings: &[usize]) -> T {
        engravings.iter().fold(T::all(0.0), |sum, &engraving| {
            sum.with(self.of(values, engraving), |sum, share| sum + share)
        })
    }
}

/// The engraving behind a print of one maker and period.
#[derive(Clone, Debug)]
pub struct Pulled {
    /// Engravings that may be at hand together, with the chance that they are; the chances sum to 1.
    pub at_hand: Vec<(Vec<usize>, f64)>,
    /// Shares of use.
    pub shares: Shares,
    /// Chance of an engraving never seen: cells `[never seen, one at hand]`.
    pub never_seen: BeliefId,
    /// The engraving that stands for one never seen.
    pub unseen: usize,
}

impl Pulled {
    /// The chance of each engraving.
    pub fn write<T: Chance>(&self, values: &Values<T>, column: &mut [T]) {
        column.fill(T::all(0.0));
        let never_seen = values.of(self.never_seen)[0];
        for (set, chance) in &self.at_hand {
            let all = self.shares.sum(values, set);
            // With nothing at hand that is used, all of the chance.
            let unseen = all.with(never_seen, |all, never| if all > 0.0 { never } else { 1.0 });
            let add =
                |cell: &mut T, part: T| *cell = cell.with(part, |sum, part| sum + chance * part);
            add(&mut column[self.unseen], unseen);
            for &engraving in set {
                let share = self.shares.of(values, engraving);
                let part = share.with_two(all, unseen, |share, all, unseen| {
                    if all > 0.0 {
                        (1.0 - unseen) * share / all
                    } else {
                        0.0
                    }
                });
                add(&mut column[engraving], part);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::model::belief::{Belief, Beliefs};

    fn column(at_hand: &[(Vec<usize>, f64)], shares: &[f64], never: f64) -> Vec<f64> {
        let mut beliefs = Beliefs::default();
        let mut belief = |say: Vec<f64>| beliefs.add(Belief::of_chances(say));
        let cell_of: Vec<Option<usize>> = (0..shares.len()).map(Some).chain([None]).collect();
        let rule = Pulled {
            at_hand: at_hand.to_vec(),
            shares: Shares {
                belief: belief(shares.to_vec()),
                cell_of: cell_of.into(),
            },
            never_seen: belief(vec![never, 1.0 - never]),
            unseen: shares.len(),
        };
        let mut column = vec![f64::NAN; shares.len() + 1];
        rule.write(&beliefs.stated(), &mut column);
        column
    }

    #[test]
    fn those_at_hand_share_what_is_not_from_one_never_seen() {
        let shares = [0.2, 0.6, 0.2];
        let check = |at_hand: &[(Vec<usize>, f64)], expected: [f64; 4]| {
            let column = column(at_hand, &shares, 0.1);
            for (found, expected) in column.iter().zip(expected) {
                assert!((found - expected).abs() < 1e-15, "{column:?} {expected:?}");
            }
        };
        check(&[(vec![0], 1.0)], [0.9, 0.0, 0.0, 0.1]);
        check(&[(vec![0, 1], 1.0)], [0.225, 0.675, 0.0, 0.1]);
        check(&[(vec![], 1.0)], [0.0, 0.0, 0.0, 1.0]);
        check(&[(vec![], 0.25), (vec![2], 0.75)], [0.0, 0.0, 0.675, 0.325]);
    }

    #[test]
    fn what_is_not_used_is_not_at_hand() {
        assert_eq!(column(&[(vec![0], 1.0)], &[0.0, 1.0], 0.1), [0.0, 0.0, 1.0]);
    }

    proptest! {
        #[test]
        fn a_print_is_from_something(a in 0.0..1.0_f64, b in 0.0..1.0_f64, never in 0.0..1.0_f64, w in 0.0..1.0_f64) {
            let shares = [a * b, a * (1.0 - b), 1.0 - a];
            let column = column(&[(vec![0, 1], w), (vec![1, 2], 1.0 - w)], &shares, never);
            prop_assert!((column.iter().sum::<f64>() - 1.0).abs() < 1e-12, "{:?}", column);
        }
    }
}
