//! Draws of beliefs around what was said, sixteen side by side.
//!
//! Chances come from a Dirichlet with parameters `seen × say`; states said to be impossible stay impossible. A normal's
//! variance comes from a scaled inverse χ² with `seen` degrees of freedom and its mean from a normal with that variance
//! over `seen`. Sources: see [`Spread`].

use super::dirichlet::DirichletRow;
use super::gamma::Gamma;
use super::needed::{Needed, Use};
use super::source::Source;
use super::together::Together;
use super::trivariate::TrivariateSampler;
use crate::circuit::{LANES, Lanes};
use crate::model::{Belief, BeliefId, Model, SetTogether, Spread, Values};

/// A belief made ready to be drawn many times.
pub(super) struct Sampler {
    /// The belief; several if they are drawn together.
    beliefs: Vec<BeliefId>,
    kind: Kind,
}

/// Samplers of the beliefs that are needed and drawn, in the order of the pack; each belief rests on its pieces divided by
/// `doubt`. Beliefs that the pack says were set together are drawn together, where the first of them stands.
pub(super) fn samplers(
    model: &Model,
    needed: &Needed,
    is_drawn: impl Fn(BeliefId) -> bool,
    doubt: f64,
) -> Vec<Sampler> {
    let doubted = |id: BeliefId| {
        let belief = model.beliefs.get(id);
        Belief {
            seen: belief.seen / doubt,
            ..belief.clone()
        }
    };
    let wanted = |id: BeliefId| is_drawn(id) && needed.use_of(id).is_some();
    let mut samplers = Vec::new();
    for (id, _) in model.beliefs.iter().filter(|(id, _)| wanted(*id)) {
        let of_it = |together: &&SetTogether| together.beliefs.contains(&id);
        let sampler = match model.set_together.iter().find(of_it) {
            None => needed
                .use_of(id)
                .and_then(|needed| Sampler::new(id, &doubted(id), needed)),
            Some(together) => {
                let members = together.beliefs.iter().copied().filter(|&id| wanted(id));
                let members: Vec<BeliefId> = members.collect();
                if members.first() != Some(&id) {
                    continue;
                }
                let drawn: Vec<Belief> = members.iter().map(|&id| doubted(id)).collect();
                Together::new(&members, &drawn, together.correlation).map(|kind| Sampler {
                    beliefs: members,
                    kind: Kind::Together(kind),
                })
            }
        };
        samplers.extend(sampler);
    }
    samplers
}

enum Kind {
    Dirichlet(DirichletRow),
    /// Mean and standard deviation, with the experience behind them.
    Normal {
        mean: f64,
        sd: f64,
        seen: f64,
        /// Half a χ² with `seen` degrees of freedom.
        half_chi_squared: Gamma,
    },
    Trivariate(Box<TrivariateSampler>),
    Together(Together),
}

impl Sampler {
    /// Makes a belief ready; `None` if there is nothing to draw.
    pub fn new(id: BeliefId, belief: &Belief, needed: Use) -> Option<Self> {
        let kind = match &belief.spread {
            Spread::Categorical { say } => {
                let needed = |cell| needed == Use::Whole || needed == Use::Cell(cell);
                Kind::Dirichlet(DirichletRow::new(say, belief.seen, needed)?)
            }
            Spread::Normal { mean, sd } => Kind::Normal {
                mean: *mean,
                sd: *sd,
                seen: belief.seen,
                half_chi_squared: Gamma::new(belief.seen / 2.0),
            },
            Spread::Trivariate { mean, covariance } => Kind::Trivariate(Box::new(
                TrivariateSampler::new(*mean, covariance, belief.seen)?,
            )),
        };
        Some(Self {
            beliefs: vec![id],
            kind,
        })
    }

    /// The beliefs drawn.
    pub fn beliefs(&self) -> &[BeliefId] {
        &self.beliefs
    }

    /// Draws the belief into its place in every lane. Of a belief of which one cell is needed, the others are left as they
    /// were.
    #[inline(always)]
    pub fn draw(&self, source: &mut Source, values: &mut Values<Lanes>) {
        if let Kind::Together(together) = &self.kind {
            together.draw(source, values);
            return;
        }
        let cells = values.of_mut(self.beliefs[0]);
        match &self.kind {
            Kind::Together(_) => {}
            Kind::Dirichlet(row) => row.draw(source, cells),
            Kind::Trivariate(sampler) => sampler.draw(source, cells),
            Kind::Normal {
                mean,
                sd,
                seen,
                half_chi_squared,
            } => {
                let (Lanes(halves), (normals, _)) =
                    (half_chi_squared.draw(source), source.candidates());
                for lane in 0..LANES {
                    // Few pieces can draw a χ² so near 0 that the spread would no longer be a number.
                    let chi_squared = (2.0 * halves[lane]).max(f64::MIN_POSITIVE);
                    let drawn =
                        (sd * (seen / chi_squared).sqrt()).clamp(f64::MIN_POSITIVE, f64::MAX / 4.0);
                    cells[0].0[lane] = mean + normals[lane] * drawn / seen.sqrt();
                    cells[1].0[lane] = drawn;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_distr::Distribution;

    use super::*;
    use crate::model::Beliefs;
    use crate::stress::kolmogorov_smirnov::assert_same_distribution;

    fn draws(spread: Spread, seen: f64, needed: Use, seed: u64, n: usize) -> Vec<Vec<f64>> {
        let mut beliefs = Beliefs::default();
        let id = beliefs.add(Belief {
            about: String::new(),
            citation: String::new(),
            spread,
            seen,
        });
        let sampler = Sampler::new(id, beliefs.get(id), needed);
        let mut values = Values::in_lanes(&beliefs.stated());
        let mut one = beliefs.stated();
        let mut drawn = Vec::with_capacity(n);
        for block in 0..n.div_ceil(LANES) as u64 {
            if let Some(sampler) = &sampler {
                sampler.draw(&mut Source::new(seed, block), &mut values);
            }
            for lane in 0..LANES {
                values.copy_lane(lane, &mut one);
                drawn.push(one.of(id).to_vec());
            }
        }
        drawn.truncate(n);
        drawn
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

    /// A doubted normal's two numbers against another library's χ² and normal.
    #[test]
    fn a_doubted_normal_is_distributed_as_stated() {
        for (seed, seen) in [(5, 1.5), (6, 30.0)] {
            let spread = Spread::Normal {
                mean: 1.1,
                sd: 0.06,
            };
            let ours = draws(spread, seen, Use::Whole, seed, N);
            let chi_squared = rand_distr::ChiSquared::new(seen).unwrap();
            let mut generator = chacha20::ChaCha8Rng::seed_from_u64(seed);
            let mut theirs = Vec::new();
            for _ in 0..N {
                let sd = 0.06 * (seen / chi_squared.sample(&mut generator)).sqrt();
                let z: f64 = rand_distr::StandardNormal.sample(&mut generator);
                theirs.push([1.1 + z * sd / seen.sqrt(), sd]);
            }
            for cell in 0..2 {
                let ours = ours.iter().map(|d| d[cell]).collect();
                let theirs = theirs.iter().map(|d| d[cell]).collect();
                assert_same_distribution(ours, theirs, &format!("{seen} pieces, cell {cell}"));
            }
        }
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
