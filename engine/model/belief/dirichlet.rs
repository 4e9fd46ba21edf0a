//! What is said and how many pieces stand behind it, as a Dirichlet distribution.

/// A belief about the chances of several states: mean `say`, equivalent sample size `seen`, that is the Dirichlet with
/// parameters `seen × say`.
///
/// Source: Heckerman, Geiger & Chickering 1995, "Learning Bayesian networks: the combination of knowledge and statistical
/// data", Machine Learning 20:197–243, sec. 3.
///
/// ```
/// use saggar::model::belief::Dirichlet;
/// // "3 in 10", resting on 20 pieces; then five more pieces, four of them so.
/// let belief = Dirichlet::new(vec![0.3, 0.7], 20.0).unwrap().updated(&[4.0, 1.0]).unwrap();
/// assert_eq!(belief.mean(), [0.4, 0.6]);
/// assert_eq!(belief.seen(), 25.0);
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct Dirichlet {
    say: Vec<f64>,
    seen: f64,
}

/// Why numbers do not make a Dirichlet.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DirichletError {
    /// A chance is negative, above 1 or not finite, or they do not sum to 1 within 1e-9.
    #[error("the chances {0:?} do not sum to 1")]
    Chances(Vec<f64>),
    /// The equivalent sample size is not a finite number above 0.
    #[error("an experience of {0} pieces is none")]
    Seen(f64),
    /// A count is negative or not finite, or there are not as many counts as states.
    #[error("the counts {0:?} are not one count, 0 or more, for each state")]
    Counts(Vec<f64>),
}

impl Dirichlet {
    /// Chances of the states and the equivalent sample size in pieces.
    ///
    /// # Errors
    /// [`DirichletError::Chances`] unless every chance is in 0..=1 and they sum to 1 within 1e-9;
    /// [`DirichletError::Seen`] unless `seen` is finite and above 0.
    pub fn new(say: Vec<f64>, seen: f64) -> Result<Self, DirichletError> {
        let sum: f64 = say.iter().sum();
        if say.iter().any(|p| !(0.0..=1.0).contains(p)) || (sum - 1.0).abs() > 1e-9 {
            return Err(DirichletError::Chances(say));
        }
        if !(seen.is_finite() && seen > 0.0) {
            return Err(DirichletError::Seen(seen));
        }
        Ok(Self { say, seen })
    }

    /// Mean of each chance.
    #[must_use]
    pub fn mean(&self) -> &[f64] {
        &self.say
    }

    /// Equivalent sample size, in pieces.
    #[must_use]
    pub fn seen(&self) -> f64 {
        self.seen
    }

    /// Parameters `seen × say`.
    pub fn parameters(&self) -> impl Iterator<Item = f64> {
        self.say.iter().map(|p| p * self.seen)
    }

    /// Variance of each chance, p(1 − p)/(seen + 1).
    ///
    /// Source: Kotz, Balakrishnan & Johnson 2000, *Continuous Multivariate Distributions* vol. 1, ch. 49.
    #[must_use]
    pub fn variance(&self) -> Vec<f64> {
        self.say
            .iter()
            .map(|p| p * (1.0 - p) / (self.seen + 1.0))
            .collect()
    }

    /// The belief after more pieces: (seen × say + counts)/(seen + Σ counts).
    ///
    /// A state said to be impossible becomes possible once it is counted.
    ///
    /// # Errors
    /// [`DirichletError::Counts`] unless there is one finite count, 0 or more, for each state.
    pub fn updated(&self, counts: &[f64]) -> Result<Self, DirichletError> {
        self.check_counts(counts)?;
        let seen = self.seen + counts.iter().sum::<f64>();
        let say = self
            .parameters()
            .zip(counts)
            .map(|(alpha, n)| (alpha + n) / seen)
            .collect();
        Ok(Self { say, seen })
    }

    /// Natural logarithm of the probability of one sequence of pieces with these counts.
    ///
    /// Source: Heckerman, Geiger & Chickering 1995, eq. 13: Γ(A)/Γ(A + N) × Π Γ(αₖ + nₖ)/Γ(αₖ).
    ///
    /// # Errors
    /// [`DirichletError::Counts`] unless there is one finite count, 0 or more, for each state.
    pub fn ln_marginal_likelihood(&self, counts: &[f64]) -> Result<f64, DirichletError> {
        self.check_counts(counts)?;
        let n: f64 = counts.iter().sum();
        let mut ln = libm::lgamma(self.seen) - libm::lgamma(self.seen + n);
        for (alpha, &n) in self.parameters().zip(counts).filter(|(_, n)| **n > 0.0) {
            // A state said to be impossible has been seen: the sequence has probability 0.
            ln += if alpha > 0.0 {
                libm::lgamma(alpha + n) - libm::lgamma(alpha)
            } else {
                f64::NEG_INFINITY
            };
        }
        Ok(ln)
    }

    fn check_counts(&self, counts: &[f64]) -> Result<(), DirichletError> {
        if counts.len() == self.say.len() && counts.iter().all(|n| n.is_finite() && *n >= 0.0) {
            Ok(())
        } else {
            Err(DirichletError::Counts(counts.to_vec()))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_order_of_experience_does_not_matter() {
        let start = Dirichlet::new(vec![0.5, 0.25, 0.25], 8.0).unwrap();
        let once = start.updated(&[3.0, 1.0, 2.0]).unwrap();
        let twice = start
            .updated(&[1.0, 1.0, 0.0])
            .unwrap()
            .updated(&[2.0, 0.0, 2.0])
            .unwrap();
        for (a, b) in once.mean().iter().zip(twice.mean()) {
            assert!((a - b).abs() < 1e-15);
        }
    }

    #[test]
    fn refused() {
        assert!(Dirichlet::new(vec![0.5, 0.4], 8.0).is_err());
        assert!(Dirichlet::new(vec![1.5, -0.5], 8.0).is_err());
        assert!(Dirichlet::new(vec![0.5, 0.5], 0.0).is_err());
        let belief = Dirichlet::new(vec![0.5, 0.5], 1.0).unwrap();
        assert!(belief.updated(&[1.0]).is_err());
        assert!(belief.updated(&[1.0, f64::NAN]).is_err());
    }
}
