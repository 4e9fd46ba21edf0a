//! A state that a worn plate may show as another: dots that no longer print, so that line and stipple looks like line.

use super::ColumnRule;
use super::chance::Chance;
use crate::model::belief::{BeliefId, Values};

/// The reading of a coding whose state may have been lost.
#[derive(Clone, Debug)]
pub struct WornReading {
    /// What is read if it prints as it was cut.
    pub kept: Box<ColumnRule>,
    /// What is read if it prints as the state that the loss leads to.
    pub lost: Box<ColumnRule>,
    /// Chance of the loss: cells `[lost, kept]`.
    pub loss: BeliefId,
}

impl WornReading {
    /// The mixture of both.
    pub fn write<T: Chance>(&self, values: &Values<T>, column: &mut [T]) {
        let mut lost = vec![T::all(0.0); column.len()];
        self.kept.write(values, column);
        self.lost.write(values, &mut lost);
        let loss = values.of(self.loss);
        for (cell, lost) in column.iter_mut().zip(lost) {
            let kept = cell.with(loss[1], |p, kept| p * kept);
            *cell = kept.with_two(lost, loss[0], |kept, lost, loss| kept + lost * loss);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::belief::{Belief, Beliefs};
    use crate::model::column::misreading::Misreading;

    #[test]
    fn what_is_lost_is_read_as_what_it_looks_like() {
        let mut beliefs = Beliefs::default();
        let mut belief = |say: Vec<f64>| beliefs.add(Belief::of_chances(say));
        let (right, loss) = (belief(vec![0.9, 0.1]), belief(vec![0.4, 0.6]));
        let reading = |usual| Box::new(ColumnRule::Misreading(Misreading { usual, right }));
        let rule = WornReading {
            kept: reading(1),
            lost: reading(0),
            loss,
        };
        let mut column = vec![f64::NAN; 3];
        rule.write(&beliefs.stated(), &mut column);
        let expected = [0.6 * 0.05 + 0.4 * 0.9, 0.6 * 0.9 + 0.4 * 0.05, 0.05];
        for (found, expected) in column.iter().zip(expected) {
            assert!((found - expected).abs() < 1e-15, "{column:?}");
        }
    }
}
