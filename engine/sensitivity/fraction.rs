//! A probability as a ratio of two linear functions of one parameter.

use serde::Serialize;

/// P(hypothesis | evidence) as (α x + β)/(γ x + δ): above the line P(hypothesis, evidence), below it P(evidence), both up to
/// one common factor.
///
/// # Source
/// Castillo, Gutiérrez & Hadi 1997, "Sensitivity analysis in discrete Bayesian networks", IEEE Trans. SMC-A 27:412–423;
/// Coupé & van der Gaag 2002, "Properties of sensitivity analysis of Bayesian belief networks", Ann. Math. AI 36:323–356.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LinearFraction {
    /// α.
    pub alpha: f64,
    /// β.
    pub beta: f64,
    /// γ.
    pub gamma: f64,
    /// δ.
    pub delta: f64,
}

impl LinearFraction {
    /// From P(hypothesis, evidence) and P(evidence) at x = 0 and at x = 1.
    #[must_use]
    pub fn through(hypothesis: [f64; 2], evidence: [f64; 2]) -> Self {
        Self {
            alpha: hypothesis[1] - hypothesis[0],
            beta: hypothesis[0],
            gamma: evidence[1] - evidence[0],
            delta: evidence[0],
        }
    }

    /// The probability at a value of the parameter; not a number where the evidence is impossible.
    #[must_use]
    pub fn value(&self, x: f64) -> f64 {
        self.alpha.mul_add(x, self.beta) / self.gamma.mul_add(x, self.delta)
    }

    /// Its derivative there: (α δ − β γ)/(γ x + δ)².
    #[must_use]
    pub fn derivative(&self, x: f64) -> f64 {
        (self.alpha * self.delta - self.beta * self.gamma)
            / self.gamma.mul_add(x, self.delta).powi(2)
    }

    /// The value of the parameter at which the probability is `target`: (β − t δ)/(t γ − α). It may lie outside 0 to 1, which
    /// says that no value does; `None` if the parameter does not move the probability.
    #[must_use]
    pub fn solve(&self, target: f64) -> Option<f64> {
        let x = (self.beta - target * self.delta) / (target * self.gamma - self.alpha);
        x.is_finite().then_some(x)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fraction_and_what_is_read_from_it() {
        // P(h, e) = 0.1 + 0.2 x, P(e) = 0.4 + 0.1 x.
        let f = LinearFraction::through([0.1, 0.3], [0.4, 0.5]);
        assert!((f.value(0.0) - 0.25).abs() < 1e-15);
        assert!((f.value(1.0) - 0.6).abs() < 1e-15);
        // 0.1 + 0.2 x = ½ (0.4 + 0.1 x) at x = 2/3.
        assert!((f.solve(0.5).unwrap() - 2.0 / 3.0).abs() < 1e-15);
        let slope = (f.value(0.500_001) - f.value(0.499_999)) / 2e-6;
        assert!((f.derivative(0.5) - slope).abs() < 1e-9);
        let flat = LinearFraction::through([0.1, 0.1], [0.4, 0.4]);
        assert_eq!(flat.solve(0.5), None);
    }
}
