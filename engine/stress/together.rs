//! Beliefs that were set together, drawn together: each with the distribution it has on its own, their errors going the same
//! way.
//!
//! The first number of one belief goes with the first of the others, and so on: normals with the stated correlation are taken
//! through their distribution function to the quantiles of each number's own gamma (whose shares make a Dirichlet), χ² or
//! normal. Source: Cario & Nelson 1997, "Modeling and generating random vectors with arbitrary marginal distributions and
//! correlation matrix" (normal to anything).

use std::f64::consts::SQRT_2;

use statrs::distribution::{ContinuousCDF, Gamma};

use super::source::Source;
use crate::circuit::{LANES, Lanes};
use crate::model::{Belief, BeliefId, Spread, Values};

/// Several beliefs made ready.
pub(super) struct Together {
    members: Vec<(BeliefId, Marginal)>,
    /// Weight of what the members have in common, and of what each has of its own: squares sum to 1.
    common: f64,
    own: f64,
    /// Normals that each member takes.
    n_normals: usize,
}

enum Marginal {
    /// Gammas of the states that are possible, by their place.
    Dirichlet(Vec<(usize, Gamma)>),
    /// Mean and standard deviation, with half a χ² of as many degrees of freedom as pieces behind them.
    Normal {
        mean: f64,
        sd: f64,
        seen: f64,
        half_chi_squared: Gamma,
    },
}

impl Together {
    /// `None` if there is nothing to draw, or beliefs of a kind that cannot be drawn so, which the checker does not let in.
    pub fn new(ids: &[BeliefId], beliefs: &[Belief], correlation: f64) -> Option<Self> {
        let gamma = |shape: f64| Gamma::new(shape.clamp(1e-300, 1e100), 1.0).ok();
        let mut members = Vec::new();
        let mut n_normals = 0;
        for (&id, belief) in ids.iter().zip(beliefs) {
            let marginal = match &belief.spread {
                Spread::Categorical { say } => {
                    let possible = (0..say.len()).filter(|&cell| say[cell] > 0.0);
                    let cell = |cell: usize| Some((cell, gamma(belief.seen * say[cell])?));
                    n_normals = n_normals.max(say.len());
                    let cells: Vec<(usize, Gamma)> = possible.map(cell).collect::<Option<_>>()?;
                    if cells.len() < 2 {
                        continue;
                    }
                    Marginal::Dirichlet(cells)
                }
                Spread::Normal { mean, sd } => {
                    n_normals = n_normals.max(2);
                    Marginal::Normal {
                        mean: *mean,
                        sd: *sd,
                        seen: belief.seen,
                        half_chi_squared: gamma(belief.seen / 2.0)?,
                    }
                }
                Spread::Trivariate { .. } => return None,
            };
            members.push((id, marginal));
        }
        (!members.is_empty()).then(|| Self {
            members,
            common: correlation.clamp(0.0, 1.0).sqrt(),
            own: (1.0 - correlation.clamp(0.0, 1.0)).sqrt(),
            n_normals,
        })
    }

    /// Draws every member into its place in every lane.
    pub fn draw(&self, source: &mut Source, values: &mut Values<Lanes>) {
        let mut normals = || -> Vec<[f64; LANES]> {
            let normals = (0..self.n_normals).map(|_| source.candidates().0);
            normals.collect()
        };
        let common = normals();
        for (id, marginal) in &self.members {
            let own = normals();
            let normal = |place: usize, lane: usize| {
                self.common * common[place][lane] + self.own * own[place][lane]
            };
            let cells = values.of_mut(*id);
            for lane in 0..LANES {
                match marginal {
                    Marginal::Dirichlet(possible) => {
                        let mut sum = 0.0;
                        for (cell, gamma) in possible {
                            let variate = quantile(gamma, normal(*cell, lane));
                            cells[*cell].0[lane] = variate;
                            sum += variate;
                        }
                        for (cell, _) in possible {
                            cells[*cell].0[lane] /= sum;
                        }
                    }
                    Marginal::Normal {
                        mean,
                        sd,
                        seen,
                        half_chi_squared,
                    } => {
                        let chi_squared = 2.0 * quantile(half_chi_squared, normal(1, lane));
                        let drawn = sd * (seen / chi_squared).sqrt();
                        let drawn = drawn.clamp(f64::MIN_POSITIVE, f64::MAX / 4.0);
                        cells[0].0[lane] = mean + normal(0, lane) * drawn / seen.sqrt();
                        cells[1].0[lane] = drawn;
                    }
                }
            }
        }
    }
}

/// The quantile of a gamma at the place of a standard normal. Never 0, so that shares of gammas stay numbers.
fn quantile(gamma: &Gamma, normal: f64) -> f64 {
    let p = 0.5 * libm::erfc(-normal / SQRT_2);
    let quantile = gamma.inverse_cdf(p.clamp(f64::MIN_POSITIVE, 1.0 - f64::EPSILON / 2.0));
    quantile.max(f64::MIN_POSITIVE)
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_distr::Distribution;

    use super::*;
    use crate::model::Beliefs;
    use crate::stress::kolmogorov_smirnov::assert_same_distribution;

    const N: usize = 8_000;

    /// Draws of two beliefs: for each, the numbers of every draw.
    fn draws(spreads: [Spread; 2], seen: [f64; 2], correlation: f64) -> [Vec<Vec<f64>>; 2] {
        let mut beliefs = Beliefs::default();
        let ids = [0, 1].map(|i: usize| {
            beliefs.add(Belief {
                about: String::new(),
                citation: String::new(),
                spread: spreads[i].clone(),
                seen: seen[i],
            })
        });
        let both = ids.map(|id| beliefs.get(id).clone());
        let together = Together::new(&ids, &both, correlation).unwrap();
        let mut values = Values::in_lanes(&beliefs.stated());
        let mut one = beliefs.stated();
        let mut drawn = [Vec::new(), Vec::new()];
        for block in 0..(N / LANES) as u64 {
            together.draw(&mut Source::new(7, block), &mut values);
            for lane in 0..LANES {
                values.copy_lane(lane, &mut one);
                for (drawn, &id) in drawn.iter_mut().zip(&ids) {
                    drawn.push(one.of(id).to_vec());
                }
            }
        }
        drawn
    }

    fn correlation(a: &[Vec<f64>], b: &[Vec<f64>], cell: usize) -> f64 {
        let n = a.len() as f64;
        let mean = |x: &[Vec<f64>]| x.iter().map(|d| d[cell]).sum::<f64>() / n;
        let (ma, mb) = (mean(a), mean(b));
        let product = |x: &[Vec<f64>], mx: f64, y: &[Vec<f64>], my: f64| -> f64 {
            let pairs = x.iter().zip(y);
            pairs.map(|(x, y)| (x[cell] - mx) * (y[cell] - my)).sum()
        };
        product(a, ma, b, mb) / (product(a, ma, a, ma) * product(b, mb, b, mb)).sqrt()
    }

    fn row(say: &[f64]) -> Spread {
        Spread::Categorical { say: say.to_vec() }
    }

    #[test]
    fn each_keeps_its_own_distribution() {
        for (k, correlation) in [0.0, 0.6, 1.0].into_iter().enumerate() {
            let rows = [row(&[0.5, 0.3, 0.2]), row(&[0.2, 0.0, 0.8])];
            let drawn = draws(rows, [8.0, 1.2], correlation);
            for (member, cell, alpha, rest) in
                [(0, 0, 4.0, 4.0), (0, 2, 1.6, 6.4), (1, 0, 0.24, 0.96)]
            {
                let beta = rand_distr::Beta::new(alpha, rest).unwrap();
                let mut generator = chacha20::ChaCha8Rng::seed_from_u64(70 + k as u64);
                let theirs: Vec<f64> = (0..N).map(|_| beta.sample(&mut generator)).collect();
                let ours: Vec<f64> = drawn[member].iter().map(|d| d[cell]).collect();
                assert_same_distribution(ours, theirs, &format!("{member} {cell} {correlation}"));
            }
            assert!(drawn[1].iter().all(|d| d[1] == 0.0));
        }
    }

    #[test]
    fn their_errors_go_together_as_far_as_is_said() {
        let alike = || [row(&[0.5, 0.3, 0.2]), row(&[0.5, 0.3, 0.2])];
        let [a, b] = draws(alike(), [8.0, 8.0], 1.0);
        assert_eq!(a, b);
        // Five standard errors of a correlation of nothing.
        let [a, b] = draws(alike(), [8.0, 8.0], 0.0);
        assert!(correlation(&a, &b, 0).abs() < 5.0 / (N as f64).sqrt());
        let [a, b] = draws(alike(), [8.0, 8.0], 0.5);
        assert!((0.4..0.55).contains(&correlation(&a, &b, 0)));
        let normal = |mean| Spread::Normal { mean, sd: 0.06 };
        let [a, b] = draws([normal(1.0), normal(1.2)], [20.0, 60.0], 0.7);
        for cell in [0, 1] {
            assert!((0.6..0.8).contains(&correlation(&a, &b, cell)));
        }
    }
}
