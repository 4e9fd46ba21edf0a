//! Draws of a doubted mean and covariance of three normal quantities, sixteen side by side.

use nalgebra::{Cholesky, Matrix3};

use super::gamma::Gamma;
use super::source::Source;
use crate::circuit::{LANES, Lanes};
use crate::model::column::colour::matrix;

/// An inverse Wishart covariance with `seen` degrees of freedom ν and scale ν Σ₀, and a normal mean with that covariance
/// over ν.
///
/// The precision is drawn as L A Aᵀ Lᵀ with L Lᵀ = (ν Σ₀)⁻¹ and A lower triangular, its diagonal entries the roots of χ²
/// with ν, ν − 1 and ν − 2 degrees of freedom and standard normals below; so the covariance is B Bᵀ with B = √ν C A⁻ᵀ for
/// Σ₀ = C Cᵀ, and the mean is μ + B z/√ν for standard normals z.
///
/// Sources: Gelman et al. 2013, *Bayesian Data Analysis* (3rd ed.), sec. 3.6; the triangle: Bartlett 1933, "On the theory
/// of statistical regression", Proceedings of the Royal Society of Edinburgh 53:260–283, as in Anderson 2003, *An
/// Introduction to Multivariate Statistical Analysis* (3rd ed.), corollary 7.2.1.
pub(super) struct TrivariateSampler {
    mean: [f64; 3],
    /// √ν C.
    root: Matrix3<f64>,
    seen: f64,
    half_chi_squared: [Gamma; 3],
}

/// Below this a χ² is taken as this, so that its inverse and what is made of it stay numbers.
const LEAST_CHI_SQUARED: f64 = 1e-60;

impl TrivariateSampler {
    /// A sampler of a belief resting on more than two pieces; `None` for a covariance that is none.
    pub fn new(mean: [f64; 3], covariance: &[f64], seen: f64) -> Option<Self> {
        let root = Cholesky::new(matrix(covariance))?.l() * seen.sqrt();
        let half = |lost: f64| Gamma::new(((seen - lost) / 2.0).max(f64::MIN_POSITIVE));
        Some(Self {
            mean,
            root,
            seen,
            half_chi_squared: [half(0.0), half(1.0), half(2.0)],
        })
    }

    /// Three means and six cells of the covariance, in every lane.
    #[inline(always)]
    pub fn draw(&self, source: &mut Source, cells: &mut [Lanes]) {
        let diagonal = self
            .half_chi_squared
            .each_ref()
            .map(|half| half.draw(source).0);
        let below = [(); 3].map(|()| source.candidates().0);
        let off = [(); 3].map(|()| source.candidates().0);
        for lane in 0..LANES {
            let [d1, d2, d3] =
                diagonal.map(|halves| (2.0 * halves[lane]).max(LEAST_CHI_SQUARED).sqrt());
            let [a21, a31, a32] = below.map(|normals| normals[lane]);
            // A⁻ᵀ, the transpose of a lower triangle's inverse.
            let inverse = Matrix3::new(
                d1.recip(),
                -a21 / (d1 * d2),
                (a21 * a32 - a31 * d2) / (d1 * d2 * d3),
                0.0,
                d2.recip(),
                -a32 / (d2 * d3),
                0.0,
                0.0,
                d3.recip(),
            );
            let b = self.root * inverse;
            let covariance = b * b.transpose();
            for (axis, cell) in cells[..3].iter_mut().enumerate() {
                let shift: f64 = (0..3).map(|k| b[(axis, k)] * off[k][lane]).sum();
                cell.0[lane] = self.mean[axis] + shift / self.seen.sqrt();
            }
            let triangle = [(0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2)];
            for (cell, place) in cells[3..].iter_mut().zip(triangle) {
                cell.0[lane] = covariance[place];
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_distr::Distribution;

    use super::*;
    use crate::model::column::colour::covariance;
    use crate::stress::kolmogorov_smirnov::assert_same_distribution;

    const SEEN: f64 = 12.0;
    const N: usize = 40_000;
    const MEAN: [f64; 3] = [88.0, -2.0, 1.0];

    fn draws(seen: f64) -> (Vec<[f64; 9]>, [f64; 6]) {
        let stated = covariance([3.0, 0.8, 1.5], [0.4, 0.6, -0.2]).unwrap();
        let sampler = TrivariateSampler::new(MEAN, &stated, seen).unwrap();
        let mut cells = vec![Lanes::all(0.0); 9];
        let mut drawn = Vec::new();
        for block in 0..(N / LANES) as u64 {
            sampler.draw(&mut Source::new(11, block), &mut cells);
            for lane in 0..LANES {
                drawn.push(std::array::from_fn(|cell| cells[cell].0[lane]));
            }
        }
        (drawn, stated)
    }

    /// Source: the mean of an inverse Wishart is its scale over ν − p − 1, here ν Σ₀/(ν − 4), and that of the Wishart
    /// precision is Σ₀⁻¹ (Mardia, Kent & Bibby 1979, *Multivariate Analysis*, sec. 3.8 and eq. 3.4.1).
    #[test]
    fn covariance_and_precision_have_their_means() {
        let (drawn, stated) = draws(SEEN);
        for (cell, expected) in stated.iter().map(|s| s * SEEN / (SEEN - 4.0)).enumerate() {
            let values = || drawn.iter().map(|d| d[3 + cell]);
            let mean = values().sum::<f64>() / N as f64;
            let variance = values().map(|v| (v - mean).powi(2)).sum::<f64>() / N as f64;
            let error = (variance / N as f64).sqrt();
            assert!(
                (mean - expected).abs() < 5.0 * error,
                "{cell}: {mean} {expected}"
            );
        }
        let inverse = matrix(&stated).try_inverse().unwrap();
        let precisions: Vec<_> = drawn
            .iter()
            .map(|d| matrix(&d[3..]).try_inverse().unwrap())
            .collect();
        for place in [(0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2)] {
            let mean = precisions.iter().map(|p| p[place]).sum::<f64>() / N as f64;
            let variance = precisions
                .iter()
                .map(|p| (p[place] - mean).powi(2))
                .sum::<f64>()
                / N as f64;
            let error = (variance / N as f64).sqrt();
            assert!((mean - inverse[place]).abs() < 5.0 * error, "{place:?}");
        }
    }

    /// Source: a diagonal entry of an inverse Wishart in p dimensions is scaled inverse χ² with ν − p + 1 degrees of freedom
    /// (Gelman et al. 2013, sec. 3.6), drawn here with another library's χ²; given it, the mean is normal.
    #[test]
    fn one_axis_is_distributed_as_in_one_dimension() {
        for seen in [4.0, SEEN] {
            let (drawn, stated) = draws(seen);
            let chi_squared = rand_distr::ChiSquared::new(seen - 2.0).unwrap();
            let mut generator = chacha20::ChaCha8Rng::seed_from_u64(5);
            for (axis, cell) in [(0, 3), (1, 6), (2, 8)] {
                let (mut variances, mut means) = (Vec::new(), Vec::new());
                for _ in 0..N {
                    let variance = seen * stated[cell - 3] / chi_squared.sample(&mut generator);
                    let z: f64 = rand_distr::StandardNormal.sample(&mut generator);
                    variances.push(variance);
                    means.push(MEAN[axis] + z * (variance / seen).sqrt());
                }
                let what = format!("{seen} pieces, axis {axis}");
                assert_same_distribution(drawn.iter().map(|d| d[cell]).collect(), variances, &what);
                assert_same_distribution(drawn.iter().map(|d| d[axis]).collect(), means, &what);
            }
        }
    }
}
