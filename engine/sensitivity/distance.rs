//! How far a change of chances can move any answer at all.
//!
//! Between two distributions P and Q lies D = ln max Q(w)/P(w) − ln min Q(w)/P(w) over the joint states w that either
//! holds possible. The odds of anything given anything change by a factor between e^−D and e^D. If one column of one table
//! changes, D is that of the column.
//!
//! Source: Chan & Darwiche 2005, "A distance measure for bounding probabilistic belief change", Int. J. Approximate
//! Reasoning 38:149–174, definition 1, theorems 1 and 4.

/// The ratios met so far between chances after a change and before.
#[derive(Clone, Copy, Debug)]
pub struct Ratios {
    least: f64,
    largest: f64,
}

impl Ratios {
    /// Nothing has changed: the ratio 1 alone.
    ///
    /// Rows that sum to 1 before and after have ratios on both sides of 1, so that counting in what has not changed makes
    /// no distance larger.
    #[must_use]
    pub fn unchanged() -> Self {
        Self {
            least: 1.0,
            largest: 1.0,
        }
    }

    /// None yet: of densities, which do not sum to 1, only those that are there count.
    #[must_use]
    pub fn none() -> Self {
        Self {
            least: f64::INFINITY,
            largest: 0.0,
        }
    }

    /// Takes in one chance or density before and after. What is impossible before and after says nothing.
    pub fn add(&mut self, before: f64, after: f64) {
        if before == 0.0 && after == 0.0 {
            return;
        }
        let ratio = after / before;
        self.least = self.least.min(ratio);
        self.largest = self.largest.max(ratio);
    }

    /// D, in nats; infinite if something impossible becomes possible or the other way about.
    #[must_use]
    pub fn distance(self) -> f64 {
        if self.largest <= self.least {
            return 0.0;
        }
        self.largest.ln() - self.least.ln()
    }
}

/// D between two columns of a table, in nats.
#[must_use]
pub fn between_columns(before: &[f64], after: &[f64]) -> f64 {
    let mut ratios = Ratios::unchanged();
    for (&before, &after) in before.iter().zip(after) {
        ratios.add(before, after);
    }
    ratios.distance()
}

/// Between which bounds a probability stays if it is `p` now and the distance of the change is `distance`: its odds times
/// e^−D and e^D. An infinite distance bounds nothing, not even what is impossible now.
#[must_use]
pub fn bounds(p: f64, distance: f64) -> (f64, f64) {
    if distance == f64::INFINITY {
        return (0.0, 1.0);
    }
    // p / (p + q e^D), and its counterpart from above; 0 and 1 stay as they are.
    let q = 1.0 - p;
    let growth = distance.exp();
    (p / (p + q * growth), p / (p + q / growth))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_two_chances_it_is_the_change_of_the_log_odds() {
        let d = between_columns(&[0.5, 0.5], &[0.3, 0.7]);
        assert!((d - (7.0_f64 / 3.0).ln()).abs() < 1e-15);
        assert_eq!(between_columns(&[0.2, 0.8], &[0.2, 0.8]), 0.0);
        assert_eq!(between_columns(&[0.0, 1.0], &[0.0, 1.0]), 0.0);
        assert_eq!(between_columns(&[0.0, 1.0], &[0.1, 0.9]), f64::INFINITY);
        assert_eq!(between_columns(&[0.1, 0.9], &[0.0, 1.0]), f64::INFINITY);
    }

    #[test]
    fn bounds_move_the_odds_by_the_distance() {
        let (low, high) = bounds(0.5, 3.0_f64.ln());
        assert!((low - 0.25).abs() < 1e-15 && (high - 0.75).abs() < 1e-15);
        assert_eq!(bounds(0.3, 0.0), (0.3, 0.3));
        assert_eq!(bounds(0.3, f64::INFINITY), (0.0, 1.0));
        assert_eq!(bounds(0.0, f64::INFINITY), (0.0, 1.0));
        assert_eq!(bounds(0.0, 2.0), (0.0, 0.0));
        assert_eq!(bounds(1.0, 2.0), (1.0, 1.0));
    }
}
