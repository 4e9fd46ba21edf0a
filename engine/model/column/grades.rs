//! A grade read by eye: right, one grade off, or further off.
//!
//! Grades have an order, and the eye slips to a neighbour far more often than past it. The belief about a reading is about
//! steps, not about grades: it has a cell for a right reading, one for one grade off, and, where there are more than two
//! grades, one for further off. What is one grade off is shared by the neighbours there are, what is further off by all
//! the rest, each evenly; where a grade has nothing further off (the middle one of three), that part goes to its neighbours.
//!
//! One belief serves every grade, so that a stress run doubts an observer's eye, not each of its readings by itself.

use super::chance::Chance;
use crate::model::belief::{BeliefId, Values};

/// The reading of a grade that is known.
#[derive(Clone, Debug)]
pub struct GradeReading {
    /// The grade that is there.
    pub there: usize,
    /// Chances of steps: `[right, one off]` or `[right, one off, further off]`.
    pub steps: BeliefId,
}

impl GradeReading {
    /// The chance of each reading; all of it on the only grade there is.
    pub fn write<T: Chance>(&self, values: &Values<T>, column: &mut [T]) {
        let n = column.len();
        if n == 1 {
            column[0] = T::all(1.0);
            return;
        }
        let steps = values.of(self.steps);
        let neighbours = usize::from(self.there > 0) + usize::from(self.there + 1 < n);
        let further = n - 1 - neighbours;
        let one_off = match (steps.get(2), further) {
            (Some(&rest), 0) => steps[1].with(rest, |one, rest| one + rest),
            _ => steps[1],
        };
        for (read, cell) in column.iter_mut().enumerate() {
            *cell = match (read.abs_diff(self.there), steps.get(2)) {
                (0, _) => steps[0],
                (1, _) => one_off.with(T::all(neighbours as f64), |p, n| p / n),
                (_, Some(&rest)) => rest.with(T::all(further as f64), |p, n| p / n),
                (_, None) => T::all(0.0),
            };
        }
    }

    /// Which readings can happen at all, by chances of steps that may be 0.
    #[must_use]
    pub fn possible(there: usize, n: usize, steps: &[f64]) -> Vec<bool> {
        let some = |step: usize| steps.get(step).is_some_and(|&p| p > 0.0);
        let neighbours = usize::from(there > 0) + usize::from(there + 1 < n);
        let none_further = n == 1 + neighbours;
        (0..n)
            .map(|read| match read.abs_diff(there) {
                0 => n == 1 || some(0),
                1 => some(1) || none_further && some(2),
                _ => some(2),
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::model::belief::{Belief, Beliefs, Spread};

    fn column(say: &[f64], there: usize, n: usize) -> Vec<f64> {
        let mut beliefs = Beliefs::default();
        let steps = beliefs.add(Belief {
            about: String::new(),
            citation: String::new(),
            spread: Spread::Categorical { say: say.to_vec() },
            seen: 30.0,
        });
        let mut column = vec![f64::NAN; n];
        GradeReading { there, steps }.write(&beliefs.stated(), &mut column);
        column
    }

    #[test]
    fn neighbours_share_what_is_one_grade_off() {
        let steps = [0.8, 0.16, 0.04];
        assert_eq!(column(&steps, 0, 4), [0.8, 0.16, 0.02, 0.02]);
        assert_eq!(column(&steps, 1, 4), [0.08, 0.8, 0.08, 0.04]);
        assert_eq!(
            column(&steps, 4, 5),
            [0.04 / 3.0, 0.04 / 3.0, 0.04 / 3.0, 0.16, 0.8]
        );
        // Nothing lies further off than the neighbours of the middle one of three.
        assert_eq!(column(&steps, 1, 3), [0.1, 0.8, 0.1]);
        assert_eq!(column(&[0.9, 0.1], 1, 2), [0.1, 0.9]);
    }

    proptest! {
        #[test]
        fn a_reading_is_something(a in 0.0..1.0_f64, b in 0.0..1.0_f64, n in 1..8_usize, place in 0..8_usize) {
            let there = place % n;
            let steps = [a, (1.0 - a) * b, (1.0 - a) * (1.0 - b)];
            let steps = if n < 3 { vec![a, 1.0 - a] } else { steps.to_vec() };
            let column = column(&steps, there, n);
            prop_assert!((column.iter().sum::<f64>() - 1.0).abs() < 1e-12, "{:?}", column);
            let possible = GradeReading::possible(there, n, &steps);
            for (p, possible) in column.iter().zip(possible) {
                prop_assert_eq!(*p > 0.0, possible);
            }
        }
    }
}
