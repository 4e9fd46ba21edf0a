//! One draw of all beliefs around what was said.

use rand::{Rng, RngExt};
use rand_distr::{ChiSquared, Distribution, Gamma, StandardNormal};

use crate::model::{BeliefId, Beliefs, Spread, Values};

/// Draws some beliefs, in the order given.
///
/// Chances come from a Dirichlet with parameters `seen × say`; states said to be impossible stay impossible. A normal's
/// variance comes from a scaled inverse χ² with `seen` degrees of freedom and its mean from a normal with that variance
/// over `seen`. Sources: see [`Spread`].
pub fn draw(beliefs: &Beliefs, drawn: &[BeliefId], values: &mut Values, rng: &mut impl Rng) {
    for &id in drawn {
        let belief = beliefs.get(id);
        let cells = values.of_mut(id);
        match &belief.spread {
            Spread::Categorical { say } => dirichlet(say, belief.seen, cells, rng),
            Spread::Normal { mean, sd } => {
                let (mean, sd) = normal(*mean, *sd, belief.seen, rng);
                cells.copy_from_slice(&[mean, sd]);
            }
        }
    }
}

/// Dirichlet with parameters `seen × say`, by normalised gammas, in logarithms: with small parameters the gammas
/// themselves would all underflow to 0.
///
/// For a parameter below 1, a Gamma(a) is a Gamma(a + 1) times U^(1/a).
/// Source: Devroye 1986, *Non-Uniform Random Variate Generation*, ch. IX.3 and ch. XI.4.
fn dirichlet(say: &[f64], seen: f64, cells: &mut [f64], rng: &mut impl Rng) {
    let mut largest = f64::NEG_INFINITY;
    for (cell, &p) in cells.iter_mut().zip(say) {
        *cell = if p > 0.0 {
            ln_gamma_variate(seen * p, rng)
        } else {
            f64::NEG_INFINITY
        };
        largest = largest.max(*cell);
    }
    let mut sum = 0.0;
    for cell in cells.iter_mut() {
        *cell = (*cell - largest).exp();
        sum += *cell;
    }
    for cell in cells {
        *cell /= sum;
    }
}

fn ln_gamma_variate(shape: f64, rng: &mut impl Rng) -> f64 {
    let (shape, boost) = if shape < 1.0 {
        // Uniform on (0, 1]: the logarithm stays finite.
        let u = 1.0 - rng.random::<f64>();
        (shape + 1.0, u.ln() / shape)
    } else {
        (shape, 0.0)
    };
    // A shape above zero and finite is all that Gamma asks; beliefs hold no other.
    let variate = Gamma::new(shape, 1.0).map_or(shape, |gamma| gamma.sample(rng));
    variate.ln() + boost
}

fn normal(mean: f64, sd: f64, seen: f64, rng: &mut impl Rng) -> (f64, f64) {
    let chi_squared = ChiSquared::new(seen).map_or(seen, |d| d.sample(rng));
    let z: f64 = StandardNormal.sample(rng);
    // Few pieces can draw a χ² so near 0 that the spread would no longer be a number.
    let drawn_sd = sd * (seen / chi_squared.max(f64::MIN_POSITIVE)).sqrt();
    let drawn_sd = drawn_sd.clamp(f64::MIN_POSITIVE, f64::MAX / 4.0);
    (mean + z * drawn_sd / seen.sqrt(), drawn_sd)
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    use super::*;

    /// Source: mean α/Σα and variance α(A − α)/(A²(A + 1)) of a Dirichlet's cells (Kotz, Balakrishnan & Johnson 2000,
    /// *Continuous Multivariate Distributions* vol. 1, ch. 49).
    #[test]
    fn moments_of_the_dirichlet() {
        for (say, seen) in [
            (vec![0.5, 0.3, 0.2], 20.0),
            (vec![0.9, 0.1], 1.5),
            (vec![0.98, 0.01, 0.01], 5.0),
        ] {
            let mut rng = ChaCha8Rng::seed_from_u64(1);
            let n = 40_000;
            let draws: Vec<Vec<f64>> = (0..n)
                .map(|_| {
                    let mut cells = vec![0.0; say.len()];
                    dirichlet(&say, seen, &mut cells, &mut rng);
                    cells
                })
                .collect();
            for k in 0..say.len() {
                let mean = draws.iter().map(|d| d[k]).sum::<f64>() / f64::from(n);
                let variance =
                    draws.iter().map(|d| (d[k] - mean).powi(2)).sum::<f64>() / f64::from(n);
                let alpha = seen * say[k];
                let expected = alpha * (seen - alpha) / (seen * seen * (seen + 1.0));
                // Five standard errors of the mean; the variance of a variance is bounded by that of a 0/1 variable.
                assert!(
                    (mean - say[k]).abs() < 5.0 * (expected / f64::from(n)).sqrt(),
                    "{say:?} {mean}"
                );
                assert!(
                    (variance / expected - 1.0).abs() < 0.1,
                    "{say:?} {variance} {expected}"
                );
            }
        }
    }

    #[test]
    fn tiny_parameters_still_sum_to_one() {
        let mut rng = ChaCha8Rng::seed_from_u64(2);
        for _ in 0..1000 {
            let mut cells = [0.0; 3];
            dirichlet(&[0.5, 0.5, 0.0], 1e-5, &mut cells, &mut rng);
            assert!((cells.iter().sum::<f64>() - 1.0).abs() < 1e-12, "{cells:?}");
            assert_eq!(cells[2], 0.0);
        }
    }

    /// Source: Gelman et al. 2013, *Bayesian Data Analysis* (3rd ed.), sec. 3.3: the marginal of the mean is a Student t
    /// with `seen` degrees of freedom, scale sd/√seen, so its variance is sd²/seen × seen/(seen − 2).
    #[test]
    fn moments_of_a_doubted_normal() {
        let mut rng = ChaCha8Rng::seed_from_u64(3);
        let n = 40_000;
        let means: Vec<f64> = (0..n)
            .map(|_| normal(1.1, 0.06, 30.0, &mut rng).0)
            .collect();
        let mean = means.iter().sum::<f64>() / f64::from(n);
        let variance = means.iter().map(|m| (m - mean).powi(2)).sum::<f64>() / f64::from(n);
        let expected = 0.06_f64.powi(2) / 28.0;
        assert!((mean - 1.1).abs() < 5.0 * (expected / f64::from(n)).sqrt());
        assert!(
            (variance / expected - 1.0).abs() < 0.05,
            "{variance} {expected}"
        );
    }
}
