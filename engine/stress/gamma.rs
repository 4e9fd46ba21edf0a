//! Gamma variates, the same shape in every lane.

use super::elementary::{exp, ln};
use super::source::{Candidate, Source, UNIFORM_BITS};
use crate::circuit::{LANES, Lanes};

/// The gamma distribution of one shape, scale 1.
///
/// With d = a − 1/3, y = x/(3√d) for a standard normal x and v = (1 + y)³, the variate is dv if
/// ln u < x²/2 + d(1 − v + ln v) for a uniform u, else another x is tried. For a shape a below 1, a Gamma(a) is a
/// Gamma(a + 1) times U^(1/a).
///
/// Nearly all candidates are decided without logarithms. With the series of ln(1 + y) the bound on ln u is
/// −3d(y⁴/4 − y⁵/5 + …), which is at least −¾dy⁴ for y ≥ 0 and at least −¾dy⁴/(1 + y) below; and ln u < −t wherever
/// u ≤ 1 − t. For large shapes this decides more than the squeeze 1 − 0.0331x⁴ of the source: what is left undecided is
/// hardly more than what is refused.
///
/// Source: Marsaglia & Tsang 2000, "A simple method for generating gamma variables", ACM Transactions on Mathematical
/// Software 26:363–372, sec. 3 and 6.
#[derive(Clone, Debug)]
pub(super) struct Gamma {
    d: f64,
    /// 1/(3√d).
    c: f64,
    /// 1/a of a shape a below 1.
    power: Option<f64>,
}

/// Variates with the logarithm of a factor that each still lacks: with small shapes the products could underflow.
pub(super) struct Parts {
    pub variates: [f64; LANES],
    pub ln_factors: Option<[f64; LANES]>,
}

impl Gamma {
    /// A shape above 0.
    pub fn new(shape: f64) -> Self {
        // So that no product with an exponential overflows; a factor that far below 1 makes nothing of any variate.
        const MOST: f64 = 1e300;
        let (at_least_one, power) = if shape < 1.0 {
            (shape + 1.0, Some(shape.recip().min(MOST)))
        } else {
            (shape, None)
        };
        let d = at_least_one - 1.0 / 3.0;
        Self {
            d,
            c: (3.0 * d.sqrt()).recip(),
            power,
        }
    }

    /// A variate for each lane; one below 1e-307 is 0.
    #[inline(always)]
    pub fn draw(&self, source: &mut Source) -> Lanes {
        let Parts {
            mut variates,
            ln_factors,
        } = self.parts(source);
        if let Some(ln_factors) = ln_factors {
            for (variate, ln_factor) in variates.iter_mut().zip(ln_factors) {
                *variate *= exp(ln_factor);
            }
        }
        Lanes(variates)
    }

    /// The logarithm of a variate for each lane.
    #[inline(always)]
    pub fn draw_ln(&self, source: &mut Source) -> Lanes {
        let Parts {
            mut variates,
            ln_factors,
        } = self.parts(source);
        for variate in &mut variates {
            *variate = ln(*variate);
        }
        if let Some(ln_factors) = ln_factors {
            for (variate, ln_factor) in variates.iter_mut().zip(ln_factors) {
                *variate += ln_factor;
            }
        }
        Lanes(variates)
    }

    /// Whether a candidate is taken for certain if 1 − u is at least `rest`.
    #[inline(always)]
    fn decided(&self, y: f64, rest: f64) -> bool {
        let root = 1.0 + y;
        let within = if root < 1.0 { root } else { 1.0 };
        rest * within >= (0.75 * self.d) * ((y * y) * (y * y))
    }

    #[inline(always)]
    fn parts(&self, source: &mut Source) -> Parts {
        let (normals, uniforms) = source.candidates();
        let mut variates = [0.0; LANES];
        let mut undecided = 0_u32;
        for lane in 0..LANES {
            let y = self.c * normals[lane];
            let root = 1.0 + y;
            variates[lane] = self.d * (root * root * root);
            undecided |= u32::from(!self.decided(y, uniforms[lane])) << lane;
        }
        while undecided != 0 {
            let lane = undecided.trailing_zeros() as usize;
            undecided &= undecided - 1;
            let candidate = Candidate {
                normal: normals[lane],
                uniform: uniforms[lane],
            };
            variates[lane] = self.settle(candidate, source);
        }
        let ln_factors = self
            .power
            .map(|power| source.exponentials().map(|e| -power * e));
        Parts {
            variates,
            ln_factors,
        }
    }

    /// The test in full, and other candidates until one is taken.
    #[cold]
    #[inline(never)]
    fn settle(&self, mut candidate: Candidate, source: &mut Source) -> f64 {
        loop {
            let Candidate { normal, uniform } = candidate;
            let y = self.c * normal;
            let root = 1.0 + y;
            if root > 0.0 {
                let rest = source.uniform() / f64::from(1_u32 << UNIFORM_BITS);
                let v = root * root * root;
                // The bound comes first: with large shapes the logarithms cancel to nothing.
                if self.decided(y, uniform + rest)
                    || ln((1.0 - uniform) - rest)
                        < 0.5 * normal * normal + self.d * (1.0 - v + ln(v))
                {
                    return self.d * v;
                }
            }
            candidate = source.candidate();
        }
    }
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_distr::Distribution;

    use super::*;
    use crate::stress::kolmogorov_smirnov::assert_same_distribution;

    /// Draws from many blocks, as a run makes them.
    fn draws(shape: f64, seed: u64, n: usize, ln: bool) -> Vec<f64> {
        let gamma = Gamma::new(shape);
        let mut drawn = Vec::with_capacity(n);
        for block in 0.. {
            let mut source = Source::new(seed, block);
            for _ in 0..32 {
                let lanes = if ln {
                    gamma.draw_ln(&mut source)
                } else {
                    gamma.draw(&mut source)
                };
                drawn.extend(lanes.0);
            }
            if drawn.len() >= n {
                break;
            }
        }
        drawn.truncate(n);
        drawn
    }

    const SHAPES: [f64; 9] = [1e-3, 0.02, 0.2, 0.9, 1.0, 1.3, 3.0, 20.0, 1e4];

    #[test]
    fn distributed_as_the_gammas_of_another_library() {
        const N: usize = 50_000;
        for (k, shape) in SHAPES.into_iter().enumerate() {
            let theirs = rand_distr::Gamma::new(shape, 1.0).unwrap();
            let mut generator = chacha20::ChaCha8Rng::seed_from_u64(1000 + k as u64);
            let theirs: Vec<f64> = (0..N).map(|_| theirs.sample(&mut generator)).collect();
            let ours = draws(shape, k as u64, N, false);
            assert_same_distribution(ours, theirs.clone(), &format!("shape {shape}"));
            let ours = draws(shape, 100 + k as u64, N, true);
            let ours = ours.into_iter().map(f64::exp).collect();
            assert_same_distribution(ours, theirs, &format!("shape {shape}, logarithms"));
        }
    }

    /// Mean and variance a, third central moment 2a, within five standard errors.
    ///
    /// Source: Johnson, Kotz & Balakrishnan 1994, *Continuous Univariate Distributions* vol. 1, ch. 17: cumulants
    /// κₖ = (k − 1)! a, and central moments of order 4 and 6 from them.
    #[test]
    fn moments() {
        const N: usize = 1_000_000;
        for (k, shape) in SHAPES.into_iter().enumerate() {
            let drawn = draws(shape, 50 + k as u64, N, false);
            let n = N as f64;
            let central =
                |power: i32| drawn.iter().map(|g| (g - shape).powi(power)).sum::<f64>() / n;
            let [k2, k3, k4, k6] = [shape, 2.0 * shape, 6.0 * shape, 120.0 * shape];
            let fourth = k4 + 3.0 * k2 * k2;
            let sixth = k6 + 15.0 * k4 * k2 + 10.0 * k3 * k3 + 15.0 * k2.powi(3);
            for (power, expected, variance) in [
                (1, 0.0, k2),
                (2, k2, fourth - k2 * k2),
                (3, k3, sixth - k3 * k3),
            ] {
                let found = central(power);
                let error = (variance / n).sqrt();
                assert!(
                    (found - expected).abs() < 5.0 * error,
                    "shape {shape}, moment {power}: {found}, not {expected} ± {error}"
                );
            }
        }
    }

    /// The bound that decides most candidates never takes one that the test in full refuses.
    #[test]
    fn what_the_bound_decides_the_test_in_full_takes() {
        for shape in [1.0, 1.1, 1.7, 4.0, 30.0, 1000.0] {
            let gamma = Gamma::new(shape);
            for step in -6000..6000 {
                let normal = f64::from(step) / 1000.0;
                let y = gamma.c * normal;
                if y <= -1.0 {
                    assert!(!gamma.decided(y, 1.0 - f64::EPSILON));
                    continue;
                }
                // The least 1 − u that is decided.
                let least = 0.75 * gamma.d * y.powi(4) / (1.0 + y).min(1.0);
                if least < 1.0 {
                    let v = (1.0 + y).powi(3);
                    let bound = 0.5 * normal * normal + gamma.d * (1.0 - v + 3.0 * y.ln_1p());
                    assert!(
                        (-least).ln_1p() <= bound + 1e-12 * gamma.d,
                        "shape {shape}, normal {normal}"
                    );
                    assert!(!gamma.decided(y, least * (1.0 - 1e-9) - 1e-300));
                }
            }
        }
    }

    #[test]
    fn shapes_beyond_all_use_stay_numbers() {
        let mut source = Source::new(1, 0);
        for shape in [f64::MIN_POSITIVE, 1e-320, 1e-100, 1e16, 1e100] {
            let gamma = Gamma::new(shape);
            for _ in 0..500 {
                assert!(
                    gamma
                        .draw(&mut source)
                        .0
                        .iter()
                        .all(|g| g.is_finite() && *g >= 0.0)
                );
                assert!(gamma.draw_ln(&mut source).0.iter().all(|l| l.is_finite()));
            }
        }
        let mean: f64 = Gamma::new(1e16).draw(&mut source).0.iter().sum::<f64>() / LANES as f64;
        assert!((mean / 1e16 - 1.0).abs() < 1e-6);
    }
}
