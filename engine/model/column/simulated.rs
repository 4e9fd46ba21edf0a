//! A trait put on to deceive, beside the genuine ones: wear made with sandpaper, age made with tea.
//!
//! It has a state of its own, and its chance depends on one thing: whether the piece is a later reproduction. What age and
//! use do to a piece fills the other states.

use super::ColumnRule;
use super::chance::Chance;
use crate::model::belief::{BeliefId, Values};

/// Genuine states first, the simulated one last.
#[derive(Clone, Debug)]
pub struct Simulated {
    /// How the genuine states are written.
    pub genuine: Box<ColumnRule>,
    /// Chance that it is simulated: cells `[simulated, not]`.
    pub simulated: BeliefId,
}

impl Simulated {
    /// The genuine states share what is not simulated.
    pub fn write<T: Chance>(&self, values: &Values<T>, column: &mut [T]) {
        let Some((last, genuine)) = column.split_last_mut() else {
            return;
        };
        self.genuine.write(values, genuine);
        let cells = values.of(self.simulated);
        for cell in genuine {
            *cell = cell.with(cells[1], |p, not| p * not);
        }
        *last = cells[0];
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::belief::{Belief, Beliefs};

    #[test]
    fn what_is_not_simulated_is_shared_as_age_and_use_say() {
        let mut beliefs = Beliefs::default();
        let mut belief = |say: Vec<f64>| beliefs.add(Belief::of_chances(say));
        let (genuine, simulated) = (belief(vec![0.5, 0.3, 0.2]), belief(vec![0.25, 0.75]));
        let mut column = vec![f64::NAN; 4];
        for (rule, expected) in [
            (
                ColumnRule::Stated(genuine),
                [0.375, 0.75 * 0.3, 0.75 * 0.2, 0.25],
            ),
            (ColumnRule::Certain(1), [0.0, 0.75, 0.0, 0.25]),
        ] {
            let rule = Simulated {
                genuine: Box::new(rule),
                simulated,
            };
            rule.write(&beliefs.stated(), &mut column);
            for (found, expected) in column.iter().zip(expected) {
                assert!((found - expected).abs() < 1e-15, "{column:?}");
            }
        }
    }
}
