//! Looks that give numbers: one quantity by quadrature, several at once by sampling.

use chacha20::ChaCha8Rng;
use nalgebra::{Cholesky, Vector3};
use rand::{RngExt, SeedableRng};
use rand_distr::{Distribution, StandardNormal};

use super::channel::Channel;
use super::information::entropy;
use super::worlds::Outcomes;
use crate::cielab::Lab;
use crate::model::column::colour;
use crate::model::column::weight::density;
use crate::model::{BeliefId, MeasureFamily, MeasureRules, Model};
use crate::network::MeasureId;
use crate::query::most_probable;

/// Points for each standard deviation of the narrowest density. The trapezoidal rule on smooth densities that fall to
/// nothing at both ends is off by about exp(−2π²·16) of a normal's width: nothing that a float can hold.
const POINTS_PER_SD: f64 = 4.0;
/// How many standard deviations the grid reaches beyond the outermost densities: the chance left out is below 1e-17.
const REACH: f64 = 8.6;
/// Most points of a grid; densities narrower than that allows are met by fewer points each.
const MOST_POINTS: usize = 8_192;
/// Bands that a quantity is cut into for plans, each as likely as the others.
const BANDS: usize = 12;
/// Draws of several quantities at once.
pub const DRAWS: usize = 4_096;
/// Seed of those draws.
pub const SEED: u64 = 1;

/// Evenly spaced points over all that a quantity, or its logarithm, may be.
#[derive(Clone, Copy, Debug)]
pub struct Grid {
    first: f64,
    step: f64,
    n: usize,
}

impl Grid {
    /// A grid for normals (location and scale), those that some world allows.
    #[must_use]
    pub fn over(normals: &[(f64, f64)], outcomes: &Outcomes) -> Self {
        let is_possible = |c: usize| {
            outcomes
                .chances
                .iter()
                .skip(c)
                .step_by(outcomes.n.max(1))
                .any(|&p| p > 0.0)
        };
        let possible = (0..normals.len()).filter(|&c| is_possible(c));
        let (mut low, mut high, mut narrowest) = (f64::INFINITY, f64::NEG_INFINITY, f64::INFINITY);
        for (location, scale) in possible.map(|c| normals[c]) {
            low = low.min(location - REACH * scale);
            high = high.max(location + REACH * scale);
            narrowest = narrowest.min(scale);
        }
        if low > high {
            (low, high, narrowest) = (0.0, 0.0, 1.0);
        }
        let wanted = ((high - low) / narrowest * POINTS_PER_SD).ceil();
        let n = (wanted as usize).clamp(1, MOST_POINTS - 1) + 1;
        Self {
            first: low,
            step: (high - low) / (n - 1) as f64,
            n,
        }
    }

    /// Where the points lie, from left to right.
    pub fn places(&self) -> impl Iterator<Item = f64> {
        (0..self.n).map(|point| self.at(point))
    }

    fn at(&self, point: usize) -> f64 {
        self.first + self.step * point as f64
    }

    /// The chance of each point in every world: density times step.
    #[must_use]
    pub fn points(&self, normals: &[(f64, f64)], outcomes: &Outcomes, n_worlds: usize) -> Channel {
        let chances = (0..self.n).map(|point| {
            let x = self.at(point);
            let density = |&(location, scale): &(f64, f64)| density(x, location, scale, false);
            let densities: Vec<f64> = normals.iter().map(density).collect();
            let in_world = |world| {
                let terms = outcomes.in_world(world).iter().zip(&densities);
                self.step * terms.map(|(p, density)| p * density).sum::<f64>()
            };
            (0..n_worlds).map(in_world).collect()
        });
        Channel {
            readings: Vec::new(),
            chances: chances.collect(),
        }
    }
}

/// The points put together in bands that are about equally likely.
#[must_use]
pub fn bands(grid: &Grid, points: &Channel, weights: &[f64], is_logarithm: bool) -> Channel {
    let chance =
        |chances: &Vec<f64>| -> f64 { chances.iter().zip(weights).map(|(p, w)| p * w).sum() };
    let value = |point: usize| {
        // The edge lies half-way to the point before.
        let x = grid.at(point) - grid.step / 2.0;
        if is_logarithm { x.exp() } else { x }
    };
    let mut channel = Channel::default();
    let (mut from, mut so_far) = (0, 0.0);
    let mut band: Vec<f64> = vec![0.0; weights.len()];
    for (point, chances) in points.chances.iter().enumerate() {
        band.iter_mut().zip(chances).for_each(|(sum, p)| *sum += p);
        so_far += chance(chances);
        let is_last = point + 1 == points.chances.len();
        let n_done = channel.readings.len();
        if !is_last && (n_done + 1 >= BANDS || so_far < (n_done + 1) as f64 / BANDS as f64) {
            continue;
        }
        let (low, high) = (value(from), value(point + 1));
        let name = match (from, is_last) {
            (0, true) => "any".to_owned(),
            (0, false) => format!("under {}", edge(high)),
            (_, true) => format!("{} and over", edge(low)),
            (_, false) => format!("{}–{}", edge(low), edge(high)),
        };
        channel.readings.push(name);
        channel
            .chances
            .push(std::mem::replace(&mut band, vec![0.0; weights.len()]));
        from = point + 1;
    }
    channel
}

/// The edge of a band, to about four digits.
fn edge(value: f64) -> String {
    match value.abs() {
        a if a >= 1000.0 => format!("{value:.0}"),
        a if a >= 100.0 => format!("{value:.1}"),
        a if a >= 10.0 => format!("{value:.2}"),
        _ => format!("{value:.3}"),
    }
}

/// A figure from draws.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Drawn {
    /// The mean over the draws.
    pub mean: f64,
    /// Its Monte Carlo standard error.
    pub standard_error: f64,
}

/// Information of a look at several quantities, and the chance that it changes the leader.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DrawnInformation {
    /// Bits.
    pub bits: Drawn,
    /// Chance that another class leads.
    pub changes: Drawn,
}

/// Draws readings as they are to be expected, and weighs each. `joint` holds, for each class, the chances of the
/// configurations of the measure's parents together with it. None if the pack has no density for the measure.
#[must_use]
pub fn drawn(
    model: &Model,
    measure: MeasureId,
    joint: &[Vec<f64>],
    leader: usize,
) -> Option<DrawnInformation> {
    let source = Source::of(model, measure)?;
    let classes: Vec<f64> = joint.iter().map(|row| row.iter().sum()).collect();
    let before = entropy(&classes);
    let cells: Vec<(usize, f64)> = (0..joint.first().map_or(0, Vec::len))
        .map(|c| (c, joint.iter().map(|row| row[c]).sum()))
        .collect();
    let mut rng = ChaCha8Rng::seed_from_u64(SEED);
    let (mut gains, mut changes) = (Sums::default(), Sums::default());
    for _ in 0..DRAWS {
        let configuration = pick(&cells, rng.random::<f64>());
        let densities = source.draw(model, configuration, &mut rng)?;
        let weighed = |row: &Vec<f64>| row.iter().zip(&densities).map(|(p, d)| p * d).sum();
        let after: Vec<f64> = joint.iter().map(weighed).collect();
        let total: f64 = after.iter().sum();
        if total <= 0.0 {
            continue;
        }
        gains.add(before - entropy(&after) / total);
        changes.add(f64::from(u8::from(most_probable(&after) != Some(leader))));
    }
    Some(DrawnInformation {
        bits: gains.drawn(),
        changes: changes.drawn(),
    })
}

fn pick(cells: &[(usize, f64)], at: f64) -> usize {
    let mut left = at * cells.iter().map(|(_, p)| p).sum::<f64>();
    let mut last = 0;
    for &(cell, p) in cells.iter().filter(|(_, p)| *p > 0.0) {
        last = cell;
        left -= p;
        if left < 0.0 {
            break;
        }
    }
    last
}

#[derive(Clone, Copy, Default)]
struct Sums {
    n: f64,
    sum: f64,
    squares: f64,
}

impl Sums {
    fn add(&mut self, x: f64) {
        self.n += 1.0;
        self.sum += x;
        self.squares += x * x;
    }

    fn drawn(self) -> Drawn {
        let mean = self.sum / self.n;
        let variance = (self.squares / self.n - mean * mean).max(0.0);
        Drawn {
            mean,
            standard_error: (variance / (self.n - 1.0)).sqrt(),
        }
    }
}

/// Where readings of several quantities are drawn from.
enum Source<'a> {
    Colours {
        measure: MeasureId,
        beliefs: &'a [BeliefId],
        instrument: [f64; 3],
    },
    Learned(&'a crate::model::together::Together),
}

impl<'a> Source<'a> {
    fn of(model: &'a Model, measure: MeasureId) -> Option<Self> {
        match &model.measures[measure.index()] {
            MeasureRules::Quantity {
                belief_of_configuration,
                family: MeasureFamily::Colour { instrument },
            } => Some(Self::Colours {
                measure,
                beliefs: belief_of_configuration,
                instrument: *instrument,
            }),
            MeasureRules::Learned(together) => Some(Self::Learned(together)),
            _ => None,
        }
    }

    /// A reading under one configuration, and its density under every one.
    fn draw(&self, model: &Model, configuration: usize, rng: &mut ChaCha8Rng) -> Option<Vec<f64>> {
        match self {
            Self::Colours {
                measure,
                beliefs,
                instrument,
            } => {
                let values = model.beliefs.stated();
                let cells = values.of(beliefs[configuration]);
                let mut covariance = colour::matrix(&cells[3..]);
                for (axis, sd) in instrument.iter().enumerate() {
                    covariance[(axis, axis)] += sd * sd;
                }
                let normal = Vector3::from_fn(|_, _| StandardNormal.sample(rng));
                let off = Cholesky::new(covariance)?.l() * normal;
                let lab = Lab {
                    l: cells[0] + off[0],
                    a: cells[1] + off[1],
                    b: cells[2] + off[2],
                };
                Some(model.colour_densities(*measure, lab, None, &values))
            }
            Self::Learned(together) => {
                let row = together.readings.draw(configuration, rng);
                let ln = together.readings.ln_densities_of_all(&row);
                let highest = ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                Some(ln.iter().map(|ln| (ln - highest).exp()).collect())
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::next_look::information::of_joint;
    use crate::next_look::worlds::Worlds;

    /// Two classes, each with a normal of its own.
    fn two(normals: [(f64, f64); 2]) -> (Grid, Channel, Worlds) {
        let outcomes = Outcomes {
            n: 2,
            chances: vec![1.0, 0.0, 0.0, 1.0],
        };
        let worlds = Worlds {
            weights: vec![0.3, 0.7],
            states: vec![0, 1],
            looks: Vec::new(),
        };
        let grid = Grid::over(&normals, &outcomes);
        let points = grid.points(&normals, &outcomes, 2);
        (grid, points, worlds)
    }

    fn bits(channel: &Channel, worlds: &Worlds) -> f64 {
        of_joint(&worlds.weights, &channel.joint(worlds, &[0, 1], 2)).bits
    }

    /// Source: the integral of the definition by Simpson's rule, on a grid of its own.
    #[test]
    fn information_of_a_quantity() {
        for normals in [
            [(0.0, 1.0), (2.0, 1.0)],
            [(1.0, 0.05), (1.22, 0.14)],
            [(5.0, 1.0), (5.0, 3.0)],
        ] {
            let (_, points, worlds) = two(normals);
            let density = |(m, sd): (f64, f64), x: f64| {
                (-0.5 * ((x - m) / sd).powi(2)).exp() / (sd * std::f64::consts::TAU.sqrt())
            };
            let term = |x: f64| {
                let [p, q] = [0.3 * density(normals[0], x), 0.7 * density(normals[1], x)];
                let both = p + q;
                let part = |p: f64, prior: f64| {
                    if p > 1e-290 {
                        p * (p / (prior * both)).log2()
                    } else {
                        0.0
                    }
                };
                part(p, 0.3) + part(q, 0.7)
            };
            let (low, high, n) = (-40.0, 50.0, 400_000);
            let step = (high - low) / f64::from(n);
            let at = |i: i32| {
                f64::from(if i == 0 || i == n { 1 } else { 2 + 2 * (i % 2) })
                    * term(low + step * f64::from(i))
            };
            let expected = step / 3.0 * (0..=n).map(at).sum::<f64>();
            let found = bits(&points, &worlds);
            assert!(
                (found - expected).abs() < 1e-9,
                "{normals:?}: {found} {expected}"
            );
        }
    }

    #[test]
    fn the_same_density_tells_nothing_and_far_ones_tell_all() {
        let (_, points, worlds) = two([(1.0, 0.1), (1.0, 0.1)]);
        assert!(bits(&points, &worlds) < 1e-12);
        let (_, points, worlds) = two([(1.0, 0.1), (9.0, 0.1)]);
        assert!((bits(&points, &worlds) - entropy(&[0.3, 0.7])).abs() < 1e-12);
    }

    /// Bands lose a little and never add.
    #[test]
    fn bands_tell_a_little_less() {
        let (grid, points, worlds) = two([(0.0, 1.0), (2.0, 1.0)]);
        let bands = bands(&grid, &points, &worlds.weights, false);
        assert_eq!(bands.readings.len(), BANDS);
        let (all, banded) = (bits(&points, &worlds), bits(&bands, &worlds));
        assert!(banded < all && banded > 0.95 * all, "{banded} {all}");
        for world in 0..2 {
            let sum: f64 = bands.chances.iter().map(|row| row[world]).sum();
            assert!((sum - 1.0).abs() < 1e-12, "{sum}");
        }
    }
}
