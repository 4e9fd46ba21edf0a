//! Stated beliefs: probabilities that the states of a variable are to have in the end, whatever the model thinks.
//!
//! One belief is Jeffrey's rule: P′(x) = Σ_c q(c) P(x | c, evidence). It is the posterior under the likelihood
//! q(c) / P(c | evidence), which is found in closed form. Several beliefs at once are fitted by iterative proportional
//! fitting: each in turn is given the likelihood that makes it true, until all are true together. What comes out is the
//! distribution nearest to the one without beliefs, in the sense of relative entropy; the order of the beliefs does not
//! matter. (Jeffrey's rule applied to one belief after the other would depend on the order: the last would hold, the others
//! not.)
//!
//! Likelihood evidence is another thing: it is weighed with the other evidence instead of standing in its place.
//!
//! Sources: Jeffrey 1965, *The Logic of Decision*, ch. 11; Chan & Darwiche 2005, "On the revision of probabilistic beliefs
//! using uncertain evidence", Artificial Intelligence 163:67–90, sec. 4; Deming & Stephan 1940, Ann. Math. Stat. 11:427–444
//! (iterative proportional fitting); Csiszár 1975, Ann. Probab. 3:146–158, theorem 3.2 (what it converges to).

use crate::circuit::{Circuit, Posterior, QueryError};
use crate::network::{Evidence, Parameters, VariableId};

/// Fitting ends when every stated probability is met within this.
pub const TOLERANCE: f64 = 1e-12;
/// Fitting is given up after so many rounds. Beliefs that go together are met in a few dozen rounds.
pub const MOST_ROUNDS: usize = 1000;

/// Probabilities that the states of one variable are to have.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StatedBelief<'a> {
    /// The variable.
    pub variable: VariableId,
    /// One probability for each state; they sum to 1.
    pub probabilities: &'a [f64],
}

/// The evidence that makes the beliefs true.
#[derive(Clone, Debug)]
pub struct Fitted {
    /// The evidence given, with one likelihood for each belief; the largest entry of each is 1.
    pub evidence: Evidence,
    /// The posterior under it.
    pub posterior: Posterior,
    /// Rounds of fitting; 1 for a single belief, which needs no fitting.
    pub rounds: usize,
    /// How far the worst stated probability is missed.
    pub gap: f64,
}

/// Why beliefs cannot be made true.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum BeliefError {
    /// The evidence itself cannot be judged.
    #[error(transparent)]
    Query(#[from] QueryError),
    /// Not a distribution over the variable's states, or a variable without one.
    #[error("belief {belief} is no distribution over the states of its variable")]
    NotADistribution {
        /// Which belief.
        belief: usize,
    },
    /// The variable has evidence of its own, or another belief.
    #[error("belief {belief} is about a variable that has evidence of its own")]
    AlreadyFound {
        /// Which belief.
        belief: usize,
    },
    /// A state is believed possible that everything else rules out: no evidence could make it so.
    #[error(
        "belief {belief} gives {probability} to state {state_idx}, which everything else rules out"
    )]
    ContradictsCertainty {
        /// Which belief.
        belief: usize,
        /// The state.
        state_idx: usize,
        /// What it was given.
        probability: f64,
    },
    /// The beliefs do not go together under this model.
    #[error(
        "the beliefs do not go together: after {rounds} rounds they are still missed by {gap:.1e}"
    )]
    NotReached {
        /// Rounds made.
        rounds: usize,
        /// How far the worst stated probability is missed.
        gap: f64,
    },
}

/// Finds the likelihoods under which every belief is true, given `evidence`.
///
/// # Errors
/// [`BeliefError`].
pub fn fit(
    circuit: &Circuit,
    parameters: &Parameters,
    evidence: &Evidence,
    beliefs: &[StatedBelief<'_>],
) -> Result<Fitted, BeliefError> {
    let mut fitted = evidence.clone();
    for (index, belief) in beliefs.iter().enumerate() {
        if fitted.finding(belief.variable).is_some() {
            return Err(BeliefError::AlreadyFound { belief: index });
        }
        let p = belief.probabilities;
        let sum: f64 = p.iter().sum();
        let is_distribution = p.iter().all(|&p| p >= 0.0) && (sum - 1.0).abs() <= 1e-9;
        if !is_distribution {
            return Err(BeliefError::NotADistribution { belief: index });
        }
        fitted.likelihood(belief.variable, vec![1.0; p.len()]);
    }
    let mut posterior = circuit.evaluate(parameters, &fitted)?;
    let mut gap = f64::INFINITY;
    for rounds in 1..=MOST_ROUNDS {
        // Likelihoods of beliefs that do not go together grow apart round by round until nothing is left of some of them.
        let in_vain = |error: BeliefError| match rounds {
            1 => error,
            _ => BeliefError::NotReached { rounds, gap },
        };
        for (index, belief) in beliefs.iter().enumerate() {
            let counts = likelihood(index, belief, &posterior).map_err(in_vain)?;
            fitted.likelihood(belief.variable, counts);
            posterior = circuit
                .evaluate(parameters, &fitted)
                .map_err(|error| in_vain(error.into()))?;
        }
        let missed = beliefs.iter().map(|belief| missed_by(belief, &posterior));
        gap = missed.fold(0.0, f64::max);
        if gap <= TOLERANCE {
            return Ok(Fitted {
                evidence: fitted,
                posterior,
                rounds,
                gap,
            });
        }
    }
    Err(BeliefError::NotReached {
        rounds: MOST_ROUNDS,
        gap,
    })
}

/// q(c) / P(c | everything but this belief), the largest scaled to 1.
fn likelihood(
    index: usize,
    belief: &StatedBelief<'_>,
    posterior: &Posterior,
) -> Result<Vec<f64>, BeliefError> {
    let expected = posterior
        .marginal_without_own_evidence(belief.variable)
        .ok_or(BeliefError::NotADistribution { belief: index })?;
    let mut ratios = Vec::with_capacity(expected.len());
    for (state_idx, (&wanted, &expected)) in belief.probabilities.iter().zip(expected).enumerate() {
        if wanted > 0.0 && expected == 0.0 {
            return Err(BeliefError::ContradictsCertainty {
                belief: index,
                state_idx,
                probability: wanted,
            });
        }
        ratios.push(if wanted == 0.0 {
            0.0
        } else {
            // A quotient beyond the range of f64 is as good as the largest within it.
            (wanted / expected).min(f64::MAX)
        });
    }
    let largest = ratios.iter().copied().fold(0.0, f64::max);
    ratios.iter_mut().for_each(|ratio| *ratio /= largest);
    Ok(ratios)
}

fn missed_by(belief: &StatedBelief<'_>, posterior: &Posterior) -> f64 {
    let found = posterior.marginal(belief.variable).unwrap_or(&[]);
    let differences = belief
        .probabilities
        .iter()
        .zip(found)
        .map(|(q, p)| (q - p).abs());
    differences.fold(0.0, f64::max)
}
