//! Variance-based sensitivity indices: how much of the spread of a result each input explains.
//!
//! Two independent samples A and B of all inputs, and for each input i the sample A with column i from B. With V the
//! variance of the result,
//!
//! - first-order index (what input i explains on its own): S = mean[f(B) (f(A_Bⁱ) − f(A))] / V;
//! - total index (with all that it does together with others): T = mean[(f(A) − f(A_Bⁱ))²] / 2V.
//!
//! Sources: Sobol' 1993, "Sensitivity estimates for nonlinear mathematical models" (the indices); Saltelli, Annoni, Azzini,
//! Campolongo, Ratto & Tarantola 2010, Computer Physics Communications 181:259–270, table 2, (b) for the first order; Jansen
//! 1999, Computer Physics Communications 117:35–43, for the total. The result is taken about its mean, which leaves both
//! as they are and spares digits.

use super::Estimate;

/// The indices of one input.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Indices {
    /// What it explains on its own, as a share of the variance.
    pub first: Estimate,
    /// What it explains on its own and together with others.
    pub total: Estimate,
}

/// The result in one draw of both samples.
#[derive(Clone, Debug, PartialEq)]
pub struct PairedDraw {
    /// f(A).
    pub a: f64,
    /// f(B).
    pub b: f64,
    /// f(A_Bⁱ), one for each input.
    pub swapped: Vec<f64>,
}

/// The variance of the result, and the indices of every input. None for fewer than two draws, or a result that never moves.
#[must_use]
pub fn indices(draws: &[PairedDraw]) -> Option<(f64, Vec<Indices>)> {
    let n = draws.len() as f64;
    let never_moves = |value: f64| draws.iter().all(|d| d.a == value && d.b == value);
    if draws.len() < 2 || never_moves(draws[0].a) {
        return None;
    }
    let centre = draws.iter().map(|d| d.a + d.b).sum::<f64>() / (2.0 * n);
    let square = |d: &PairedDraw| ((d.a - centre).powi(2) + (d.b - centre).powi(2)) / 2.0;
    let variance = draws.iter().map(square).sum::<f64>() / n;
    let ratio = |term: &dyn Fn(&PairedDraw) -> f64| {
        let value = draws.iter().map(term).sum::<f64>() / n / variance;
        // The error of a ratio of means, to first order: of its numerator's terms less the ratio of the denominator's.
        let off = draws.iter().map(|d| (term(d) - value * square(d)).powi(2));
        let standard_error = (off.sum::<f64>() / (n - 1.0) / n).sqrt() / variance;
        Estimate {
            value,
            standard_error,
        }
    };
    let of_input = |i: usize| Indices {
        first: ratio(&|d| (d.b - centre) * (d.swapped[i] - d.a)),
        total: ratio(&|d| (d.a - d.swapped[i]).powi(2) / 2.0),
    };
    let n_inputs = draws[0].swapped.len();
    Some((variance, (0..n_inputs).map(of_input).collect()))
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use chacha20::ChaCha8Rng;
    use rand::{Rng, SeedableRng};

    use super::*;

    fn sampled(n_inputs: usize, n: usize, seed: u64, f: impl Fn(&[f64]) -> f64) -> Vec<PairedDraw> {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        let mut uniform = || (generator.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
        let draw = |_| {
            let a: Vec<f64> = (0..n_inputs).map(|_| uniform()).collect();
            let b: Vec<f64> = (0..n_inputs).map(|_| uniform()).collect();
            let swapped = |i: usize| {
                let mut x = a.clone();
                x[i] = b[i];
                f(&x)
            };
            PairedDraw {
                a: f(&a),
                b: f(&b),
                swapped: (0..n_inputs).map(swapped).collect(),
            }
        };
        (0..n).map(draw).collect()
    }

    /// Source: Ishigami & Homma 1990, "An importance quantification technique in uncertainty analysis for computer models",
    /// ISUMA '90, with a = 7 and b = 0.1: first-order indices 0.3139, 0.4424 and 0, total ones 0.5576, 0.4424 and 0.2437, as
    /// printed in Saltelli et al. 2008, *Global Sensitivity Analysis: The Primer* (*from memory*), and as they follow from the
    /// closed forms worked out here.
    #[test]
    fn the_indices_of_the_ishigami_function() {
        let (a, b) = (7.0_f64, 0.1_f64);
        let f = |u: &[f64]| {
            let x: Vec<f64> = u.iter().map(|u| PI * (2.0 * u - 1.0)).collect();
            x[0].sin() + a * x[1].sin().powi(2) + b * x[2].powi(4) * x[0].sin()
        };
        let v1 = 0.5 * (1.0 + b * PI.powi(4) / 5.0).powi(2);
        let v2 = a * a / 8.0;
        let v13 = b * b * PI.powi(8) * 8.0 / 225.0;
        let v = v1 + v2 + v13;
        let first = [v1 / v, v2 / v, 0.0];
        let total = [(v1 + v13) / v, v2 / v, v13 / v];
        for (closed, printed) in first
            .iter()
            .chain(&total)
            .zip([0.3139, 0.4424, 0.0, 0.5576, 0.4424, 0.2437])
        {
            assert!((closed - printed).abs() < 5e-5, "{closed} {printed}");
        }
        let mut within_two = 0;
        for seed in 0..20 {
            let (variance, found) = indices(&sampled(3, 4096, seed, f)).unwrap();
            assert!((variance / v - 1.0).abs() < 0.1);
            for i in 0..3 {
                for (found, expected) in [(found[i].first, first[i]), (found[i].total, total[i])] {
                    let off = (found.value - expected).abs() / found.standard_error;
                    assert!(off < 5.0, "input {i}: {found:?}, not {expected}");
                    within_two += usize::from(off < 2.0);
                }
            }
        }
        // The standard errors are neither too small nor too large: 95 % of 120 figures, within three binomial errors.
        assert!((107..=120).contains(&within_two), "{within_two}");
    }

    /// A sum of inputs: first and total indices are the shares of the variances, whatever the scale; an input that does
    /// nothing explains nothing.
    #[test]
    fn a_sum_is_shared_out() {
        let weights = [3.0, 1.0, 2.0, 0.0];
        let f = |x: &[f64]| 1e3 + weights.iter().zip(x).map(|(w, x)| w * x).sum::<f64>();
        let (_, found) = indices(&sampled(4, 8192, 3, f)).unwrap();
        for (found, weight) in found.iter().zip(weights) {
            let share = weight * weight / 14.0;
            for estimate in [found.first, found.total] {
                let off = (estimate.value - share).abs();
                assert!(
                    off <= 5.0 * estimate.standard_error,
                    "{estimate:?}, not {share}"
                );
            }
        }
        assert_eq!(found[3].total.value, 0.0);
        assert_eq!(indices(&sampled(2, 100, 1, |_| 0.7)), None);
        assert_eq!(indices(&sampled(2, 1, 1, |x| x[0])), None);
    }
}
