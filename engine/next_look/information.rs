//! Entropy and mutual information, in bits.

use serde::Serialize;

use crate::circuit::{Circuit, QueryError};
use crate::network::{Evidence, Parameters, VariableId};

/// What finding out about one variable is expected to tell of another.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Information {
    /// Entropy of the question before, in bits.
    pub entropy: f64,
    /// Mean entropy after, over what may be found, in bits.
    pub expected_entropy: f64,
    /// Their difference, the mutual information, in bits; never below 0.
    pub bits: f64,
}

/// Entropy in bits of a distribution. Entries that do not sum to 1 count as parts of their sum, and the entropy is taken
/// times that sum: so that entropies of parts add up to a mean.
///
/// # Source
/// Shannon 1948, "A mathematical theory of communication", Bell System Technical Journal 27, sec. 6.
#[must_use]
pub fn entropy(parts: &[f64]) -> f64 {
    let (mut sum, mut terms) = (0.0, 0.0);
    for &part in parts {
        if part > 0.0 {
            sum += part;
            terms += part * part.log2();
        }
    }
    if sum > 0.0 {
        (sum * sum.log2() - terms).max(0.0)
    } else {
        0.0
    }
}

/// The information of a joint distribution: for each reading the probabilities of the classes together with it.
#[must_use]
pub fn of_joint(classes: &[f64], readings: &[Vec<f64>]) -> Information {
    let before = entropy(classes);
    let after: f64 = readings.iter().map(|reading| entropy(reading)).sum();
    // Of two equal figures rounding can leave the second larger.
    let after = after.min(before);
    Information {
        entropy: before,
        expected_entropy: after,
        bits: before - after,
    }
}

/// What observing `finding` is expected to tell of `question`, given evidence: their mutual information.
///
/// Exact: one evaluation for each state of the question. Likelihood evidence about `finding` itself stays in: it says which
/// readings to expect, and once the state is known it changes nothing.
///
/// # Errors
/// As for [`Circuit::evaluate`]; [`QueryError::InputNotGiven`] also if an input is missing above `question` or `finding`.
/// # Source
/// Lindley 1956, "On a measure of the information provided by an experiment", Annals of Mathematical Statistics 27,
/// definition 2 (the expected reduction of entropy); equal to the mutual information: Cover & Thomas 2006, *Elements of
/// Information Theory*, eq. 2.40 (from memory).
pub fn information(
    circuit: &Circuit,
    parameters: &Parameters,
    evidence: &Evidence,
    question: VariableId,
    finding: VariableId,
) -> Result<Information, QueryError> {
    let structure = circuit.structure();
    let mut asked = evidence.clone();
    for id in [question, finding] {
        if asked.finding(id).is_none() {
            asked.likelihood(id, vec![1.0; structure.n_states(id)]);
        }
    }
    let posterior = circuit.evaluate(parameters, &asked)?;
    let marginal = |id| posterior.marginal(id).unwrap_or(&[]).to_vec();
    let (classes, mut workspace) = (marginal(question), circuit.workspace());
    let mut readings = vec![vec![0.0; classes.len()]; structure.n_states(finding)];
    for (state_idx, &p) in classes.iter().enumerate() {
        if p == 0.0 {
            continue;
        }
        let mut so = asked.clone();
        so.observe(question, state_idx);
        let posterior = circuit.evaluate_in(&mut workspace, parameters, &so)?;
        for (reading, q) in readings
            .iter_mut()
            .zip(posterior.marginal(finding).unwrap_or(&[]))
        {
            reading[state_idx] = p * q;
        }
    }
    Ok(of_joint(&classes, &readings))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn entropies() {
        assert_eq!(entropy(&[0.5, 0.5]), 1.0);
        assert_eq!(entropy(&[1.0, 0.0]), 0.0);
        assert_eq!(entropy(&[]), 0.0);
        // A quarter of the chance, evenly split: a quarter of a bit.
        assert_eq!(entropy(&[0.125, 0.125]), 0.25);
    }

    #[test]
    fn a_reading_that_decides_and_one_that_does_not() {
        let decides = of_joint(&[0.5, 0.5], &[vec![0.5, 0.0], vec![0.0, 0.5]]);
        assert_eq!((decides.bits, decides.expected_entropy), (1.0, 0.0));
        let does_not = of_joint(&[0.5, 0.5], &[vec![0.25, 0.25], vec![0.25, 0.25]]);
        assert_eq!(does_not.bits, 0.0);
    }
}
