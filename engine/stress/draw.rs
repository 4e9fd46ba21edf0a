//! Draws of beliefs around what was said.
//!
//! Chances come from a Dirichlet with parameters `seen × say`; states said to be impossible stay impossible. A normal's
//! variance comes from a scaled inverse χ² with `seen` degrees of freedom and its mean from a normal with that variance
//! over `seen`. Sources: see [`Spread`].

use rand::{Rng, RngExt};
use rand_distr::{ChiSquared, Distribution, Gamma, StandardNormal};

use super::needed::Use;
use crate::model::{Belief, BeliefId, Spread, Values};

/// A belief made ready to be drawn many times.
pub(super) struct Sampler {
    belief: BeliefId,
    kind: Kind,
}

enum Kind {
    /// Nothing to draw: one state is certain.
    Fixed,
    /// Gammas of the possible cells, to be normalised.
    Dirichlet(Vec<(usize, GammaVariate)>),
    /// One chance against all others together.
    Beta {
        cell: usize,
        of_cell: GammaVariate,
        of_rest: GammaVariate,
    },
    /// Mean and standard deviation, with the experience behind them.
    Normal {
        mean: f64,
        sd: f64,
        seen: f64,
        chi_squared: Option<ChiSquared<f64>>,
    },
}

impl Sampler {
    /// Makes a belief ready.
    pub fn new(id: BeliefId, belief: &Belief, needed: Use) -> Self {
        let kind = match &belief.spread {
            Spread::Categorical { say } => {
                let possible: Vec<usize> = (0..say.len()).filter(|&k| say[k] > 0.0).collect();
                let gamma = |p: f64| GammaVariate::new(belief.seen * p);
                match needed {
                    _ if possible.len() < 2 => Kind::Fixed,
                    // What is said to be impossible, or certain, needs no draw.
                    Use::Cell(cell) if say[cell] == 0.0 || say[cell] >= 1.0 => Kind::Fixed,
                    Use::Cell(cell) => Kind::Beta {
                        cell,
                        of_cell: gamma(say[cell]),
                        of_rest: gamma(1.0 - say[cell]),
                    },
                    Use::Whole => {
                        Kind::Dirichlet(possible.into_iter().map(|k| (k, gamma(say[k]))).collect())
                    }
                }
            }
            Spread::Normal { mean, sd } => Kind::Normal {
                mean: *mean,
                sd: *sd,
                seen: belief.seen,
                chi_squared: ChiSquared::new(belief.seen).ok(),
            },
        };
        Self { belief: id, kind }
    }

    /// Draws the belief into its place among the values. Of a belief of which one cell is needed, the others are left as
    /// they were.
    pub fn draw(&self, values: &mut Values, rng: &mut impl Rng) {
        let cells = values.of_mut(self.belief);
        match &self.kind {
            Kind::Fixed => {}
            Kind::Dirichlet(gammas) => dirichlet(gammas, cells, rng),
            Kind::Beta {
                cell,
                of_cell,
                of_rest,
            } => {
                let (a, b) = (of_cell.ln(rng), of_rest.ln(rng));
                // a/(a + b) from logarithms, in the form that cannot overflow.
                cells[*cell] = if a >= b {
                    1.0 / (1.0 + (b - a).exp())
                } else {
                    let ratio = (a - b).exp();
                    ratio / (1.0 + ratio)
                };
            }
            Kind::Normal {
                mean,
                sd,
                seen,
                chi_squared,
            } => {
                let (mean, sd) = normal(*mean, *sd, *seen, chi_squared.as_ref(), rng);
                cells.copy_from_slice(&[mean, sd]);
            }
        }
    }
}

/// A gamma variate in logarithms: with small shapes the variates themselves would underflow to 0.
///
/// For a shape a below 1, a Gamma(a) is a Gamma(a + 1) times U^(1/a).
/// Source: Devroye 1986, *Non-Uniform Random Variate Generation*, ch. IX.3 and ch. XI.4.
struct GammaVariate {
    gamma: Option<Gamma<f64>>,
    boost: Option<f64>,
}

impl GammaVariate {
    fn new(shape: f64) -> Self {
        let (shape, boost) = if shape < 1.0 {
            (shape + 1.0, Some(1.0 / shape))
        } else {
            (shape, None)
        };
        Self {
            // A shape above zero and finite is all that Gamma asks; beliefs hold no other.
            gamma: Gamma::new(shape, 1.0).ok(),
            boost,
        }
    }

    fn ln(&self, rng: &mut impl Rng) -> f64 {
        let (variate, boost) = self.parts(rng);
        variate.ln() + boost
    }

    /// A variate and the logarithm of a factor it still lacks.
    fn parts(&self, rng: &mut impl Rng) -> (f64, f64) {
        let variate = self.gamma.as_ref().map_or(1.0, |gamma| gamma.sample(rng));
        // Uniform on (0, 1]: the logarithm stays finite.
        let boost = self
            .boost
            .map_or(0.0, |power| (1.0 - rng.random::<f64>()).ln() * power);
        (variate, boost)
    }
}

/// Normalised gammas.
fn dirichlet(gammas: &[(usize, GammaVariate)], cells: &mut [f64], rng: &mut impl Rng) {
    // A factor below e^-600 could underflow; then all are taken in logarithms, relative to the largest.
    const SMALL: f64 = -600.0;
    let mut smallest = 0.0_f64;
    let mut sum = 0.0;
    let mut logarithms = [0.0; 64];
    for (place, (cell, gamma)) in gammas.iter().enumerate() {
        let (variate, boost) = gamma.parts(rng);
        let value = if boost == 0.0 {
            variate
        } else {
            variate * boost.exp()
        };
        smallest = smallest.min(boost);
        cells[*cell] = value;
        sum += value;
        if let Some(logarithm) = logarithms.get_mut(place) {
            *logarithm = variate.ln() + boost;
        }
    }
    if smallest > SMALL || gammas.len() > logarithms.len() {
        for (cell, _) in gammas {
            cells[*cell] /= sum;
        }
        return;
    }
    let largest = logarithms[..gammas.len()]
        .iter()
        .copied()
        .fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = logarithms[..gammas.len()]
        .iter()
        .map(|l| (l - largest).exp())
        .sum();
    for ((cell, _), logarithm) in gammas.iter().zip(logarithms) {
        cells[*cell] = (logarithm - largest).exp() / sum;
    }
}

fn normal(
    mean: f64,
    sd: f64,
    seen: f64,
    chi_squared: Option<&ChiSquared<f64>>,
    rng: &mut impl Rng,
) -> (f64, f64) {
    let chi_squared = chi_squared.map_or(seen, |d| d.sample(rng));
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
    use crate::model::Beliefs;

    fn draws(spread: Spread, seen: f64, needed: Use, seed: u64, n: usize) -> Vec<Vec<f64>> {
        let mut beliefs = Beliefs::default();
        let id = beliefs.add(Belief {
            about: String::new(),
            citation: String::new(),
            spread,
            seen,
        });
        let sampler = Sampler::new(id, beliefs.get(id), needed);
        let mut values = beliefs.stated();
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let draw = |_| {
            sampler.draw(&mut values, &mut rng);
            values.of(id).to_vec()
        };
        (0..n).map(draw).collect()
    }

    fn moments(draws: &[Vec<f64>], cell: usize) -> (f64, f64) {
        let n = draws.len() as f64;
        let mean = draws.iter().map(|d| d[cell]).sum::<f64>() / n;
        (
            mean,
            draws.iter().map(|d| (d[cell] - mean).powi(2)).sum::<f64>() / n,
        )
    }

    const N: usize = 40_000;

    /// Source: mean α/Σα and variance α(A − α)/(A²(A + 1)) of a Dirichlet's cells, whether drawn whole or one cell as a
    /// beta (Kotz, Balakrishnan & Johnson 2000, *Continuous Multivariate Distributions* vol. 1, ch. 49).
    #[test]
    fn moments_of_the_dirichlet() {
        for (say, seen) in [
            (vec![0.5, 0.3, 0.2], 20.0),
            (vec![0.9, 0.1], 1.5),
            (vec![0.98, 0.01, 0.01], 5.0),
        ] {
            let spread = || Spread::Categorical { say: say.clone() };
            for cell in 0..say.len() {
                for needed in [Use::Whole, Use::Cell(cell)] {
                    let (mean, variance) = moments(&draws(spread(), seen, needed, 1, N), cell);
                    let alpha = seen * say[cell];
                    let expected = alpha * (seen - alpha) / (seen * seen * (seen + 1.0));
                    // Five standard errors of the mean.
                    assert!(
                        (mean - say[cell]).abs() < 5.0 * (expected / N as f64).sqrt(),
                        "{say:?} {needed:?} {mean}"
                    );
                    assert!(
                        (variance / expected - 1.0).abs() < 0.1,
                        "{say:?} {needed:?} {variance} {expected}"
                    );
                }
            }
        }
    }

    /// Two-sample Kolmogorov–Smirnov: one cell drawn as a beta against rand_distr's own Beta.
    /// Source: critical value 1.95 √(2/n) at 0.1 % (Smirnov 1948, *Annals of Mathematical Statistics* 19:279–281).
    #[test]
    fn one_cell_is_distributed_as_a_beta() {
        let say = vec![0.2, 0.5, 0.3];
        let drawn = draws(Spread::Categorical { say }, 4.0, Use::Cell(0), 5, N);
        let mut ours: Vec<f64> = drawn.iter().map(|d| d[0]).collect();
        let beta = rand_distr::Beta::new(0.8, 3.2).unwrap();
        let mut rng = ChaCha8Rng::seed_from_u64(6);
        let mut theirs: Vec<f64> = (0..N).map(|_| beta.sample(&mut rng)).collect();
        ours.sort_by(f64::total_cmp);
        theirs.sort_by(f64::total_cmp);
        let below = |x: f64| theirs.partition_point(|&t| t <= x) as f64 / N as f64;
        let distance = ours
            .iter()
            .enumerate()
            .map(|(i, &x)| ((i + 1) as f64 / N as f64 - below(x)).abs());
        let distance = distance.fold(0.0, f64::max);
        assert!(distance < 1.95 * (2.0 / N as f64).sqrt(), "{distance}");
    }

    #[test]
    fn tiny_parameters_still_sum_to_one() {
        let say = vec![0.5, 0.5, 0.0];
        for cells in draws(Spread::Categorical { say }, 1e-5, Use::Whole, 2, 1000) {
            assert!((cells.iter().sum::<f64>() - 1.0).abs() < 1e-12, "{cells:?}");
            assert_eq!(cells[2], 0.0);
        }
    }

    #[test]
    fn what_is_certain_is_not_drawn() {
        let say = vec![0.0, 1.0];
        assert_eq!(
            draws(Spread::Categorical { say }, 5.0, Use::Whole, 4, 3),
            vec![vec![0.0, 1.0]; 3]
        );
    }

    /// Source: Gelman et al. 2013, *Bayesian Data Analysis* (3rd ed.), sec. 3.3: the marginal of the mean is a Student t
    /// with `seen` degrees of freedom, scale sd/√seen, so its variance is sd²/seen × seen/(seen − 2).
    #[test]
    fn moments_of_a_doubted_normal() {
        let drawn = draws(
            Spread::Normal {
                mean: 1.1,
                sd: 0.06,
            },
            30.0,
            Use::Whole,
            3,
            N,
        );
        let (mean, variance) = moments(&drawn, 0);
        let expected = 0.06_f64.powi(2) / 28.0;
        assert!((mean - 1.1).abs() < 5.0 * (expected / N as f64).sqrt());
        assert!(
            (variance / expected - 1.0).abs() < 0.05,
            "{variance} {expected}"
        );
    }
}
