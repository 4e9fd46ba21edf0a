//! How far a plate has worn, by the years since it was cut, re-cut or bought in a known state.
//!
//! Wear is a step at a time at an even rate: in ten years of use a plate passes on to the next state with a chance that the
//! pack says, however long it has been in the one before. So the steps of t years are a Poisson count with mean λt, where
//! 1 − exp(−10 λ) is that chance; the last state holds all that is left. Of two states, *worn* after t years has the chance
//! 1 − (1 − q)^(t/10).
//!
//! Source: Ross 2014, *Introduction to Probability Models* (11th ed.), sec. 5.3 (Poisson process), from memory. That wear is
//! even is an assumption of this model: *common practice, no source*.
//!
//! The column is the mean over the years in which a print of this maker, period and engraving may have been pulled, each as
//! likely as the engraving was at hand and used then.

use super::chance::Chance;
use super::pulled::Shares;
use crate::model::belief::{BeliefId, Values};

/// Engravings at hand together, and how the plate has worn then.
#[derive(Clone, Debug)]
pub struct AgesOfSet {
    /// The engravings, that of the plate among them.
    pub set: Vec<usize>,
    /// Places in [`PlateState::ages`] and their weights.
    pub ages: Vec<(usize, f64)>,
}

/// The state of the plate behind a print from one engraving, by one maker in one period.
#[derive(Clone, Debug)]
pub struct PlateState {
    /// The engraving.
    pub engraving: usize,
    /// Sets of engravings at hand that hold it.
    pub at_hand: Vec<AgesOfSet>,
    /// State that wear counts from, and years since.
    pub ages: Vec<(usize, i64)>,
    /// Shares of use.
    pub shares: Shares,
    /// Chance of passing on to the next state in ten years: cells `[passed on, not]`.
    pub wear: BeliefId,
}

impl PlateState {
    /// The chance of each state.
    pub fn write<T: Chance>(&self, values: &Values<T>, column: &mut [T]) {
        let add = |cell: &mut T, part: T| *cell = cell.with(part, |sum, part| sum + part);
        let mut weights = vec![T::all(0.0); self.ages.len()];
        let own = self.shares.of(values, self.engraving);
        for AgesOfSet { set, ages } in &self.at_hand {
            let all = self.shares.sum(values, set);
            // An engraving that is never used has no print whose plate could be asked for: its years count alike.
            let used = own.with(all, |own, all| if own > 0.0 { own / all } else { 1.0 });
            for &(age, weight) in ages {
                add(
                    &mut weights[age],
                    used.with(T::all(weight), |used, weight| used * weight),
                );
            }
        }
        let mut total = T::all(0.0);
        weights.iter().for_each(|&weight| add(&mut total, weight));
        let passed_on = values.of(self.wear)[0];
        column.fill(T::all(0.0));
        let last = column.len() - 1;
        for (&(from, years), weight) in self.ages.iter().zip(weights) {
            let share = weight.with(total, |weight, total| weight / total);
            let mut left = share;
            for (steps, cell) in column[from..last].iter_mut().enumerate() {
                let part = share.with(passed_on, |share, q| share * poisson(q, years, steps));
                add(cell, part);
                left = left.with(part, |left, part| (left - part).max(0.0));
            }
            add(&mut column[last], left);
        }
    }
}

/// P(so many steps in so many years), where one step in ten years or more has chance `q`.
fn poisson(q: f64, years: i64, steps: usize) -> f64 {
    // Passed on for certain: at once, but not in no time.
    let mean = if years == 0 {
        0.0
    } else {
        -(1.0 - q).ln() * years as f64 / 10.0
    };
    if mean.is_infinite() {
        return 0.0;
    }
    (1..=steps).fold((-mean).exp(), |p, k| p * mean / k as f64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::belief::{Belief, Beliefs};

    fn column(ages: &[((usize, i64), f64)], q: f64, n: usize) -> Vec<f64> {
        let mut beliefs = Beliefs::default();
        let mut belief = |say: Vec<f64>| beliefs.add(Belief::of_chances(say));
        let rule = PlateState {
            engraving: 0,
            at_hand: vec![AgesOfSet {
                set: vec![0],
                ages: ages.iter().enumerate().map(|(i, (_, w))| (i, *w)).collect(),
            }],
            ages: ages.iter().map(|(age, _)| *age).collect(),
            shares: Shares {
                belief: belief(vec![0.5, 0.5]),
                cell_of: vec![Some(0), Some(1)].into(),
            },
            wear: belief(vec![q, 1.0 - q]),
        };
        let mut column = vec![f64::NAN; n];
        rule.write(&beliefs.stated(), &mut column);
        column
    }

    #[track_caller]
    fn check(found: &[f64], expected: &[f64]) {
        for (f, e) in found.iter().zip(expected) {
            assert!((f - e).abs() < 1e-14, "{found:?} {expected:?}");
        }
    }

    /// Source: the rule written out: 1 − 0.8^(t/10) of two states; of three, the Poisson chances of none and one.
    #[test]
    fn wear_by_hand() {
        check(&column(&[((0, 0), 1.0)], 0.2, 2), &[1.0, 0.0]);
        check(&column(&[((0, 10), 1.0)], 0.2, 2), &[0.8, 0.2]);
        check(&column(&[((0, 20), 0.3)], 0.2, 2), &[0.64, 0.36]);
        let mean = -(0.8_f64).ln() * 2.5;
        let none = 0.8_f64.powf(2.5);
        check(
            &column(&[((0, 25), 1.0)], 0.2, 3),
            &[none, none * mean, 1.0 - none - none * mean],
        );
        // Bought worn: it does not mend.
        check(&column(&[((1, 3), 1.0)], 0.2, 2), &[0.0, 1.0]);
        check(
            &column(&[((0, 10), 0.25), ((1, 0), 0.75)], 0.2, 2),
            &[0.2, 0.8],
        );
        check(
            &column(&[((0, 0), 0.5), ((0, 1), 0.5)], 1.0, 3),
            &[0.5, 0.0, 0.5],
        );
    }
}
