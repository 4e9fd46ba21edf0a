//! Weight for size: a normal or lognormal quantity, cut into bands or taken as measured.

use std::f64::consts::{FRAC_1_SQRT_2, TAU};

use super::chance::Chance;
use crate::model::belief::{BeliefId, Values};

/// Bands of a normal or lognormal quantity. The lower edge belongs to the band.
#[derive(Clone, Debug)]
pub struct Bands {
    /// Location and scale.
    pub belief: BeliefId,
    /// Edges, rising; one fewer than the bands.
    pub edges: Vec<f64>,
    /// Whether the belief is about the logarithm.
    pub logarithmic: bool,
}

impl Bands {
    /// The chance of each band.
    pub fn write<T: Chance>(&self, values: &Values<T>, column: &mut [T]) {
        for (band, cell) in column.iter_mut().enumerate() {
            *cell = self.chance(values, band);
        }
    }

    /// The chance of one band.
    #[must_use]
    pub fn chance<T: Chance>(&self, values: &Values<T>, band: usize) -> T {
        let edge = |edge: f64| if self.logarithmic { edge.ln() } else { edge };
        let low = match band {
            0 => f64::NEG_INFINITY,
            _ => edge(self.edges[band - 1]),
        };
        let high = self.edges.get(band).map_or(f64::INFINITY, |&e| edge(e));
        let belief = values.of(self.belief);
        belief[0].with(belief[1], |location, scale| {
            between((low - location) / scale, (high - location) / scale)
        })
    }
}

/// The band of a value among rising edges.
#[must_use]
pub fn band(edges: &[f64], value: f64) -> usize {
    edges.partition_point(|&edge| edge <= value)
}

/// Chance that a standard normal lies between two values, without the cancellation of `Φ(b) − Φ(a)` far above zero.
///
/// Source: Φ(x) = ½ erfc(−x/√2); Abramowitz & Stegun 1964, eqs. 7.1.2 and 26.2.29.
fn between(low: f64, high: f64) -> f64 {
    let tail = |x: f64| 0.5 * libm::erfc(x * FRAC_1_SQRT_2);
    if low > 0.0 {
        tail(low) - tail(high)
    } else {
        tail(-high) - tail(-low)
    }
}

/// Density of a normal (or, of a value whose logarithm is normal, the lognormal) at `value`, per unit of `value`.
///
/// Source: Johnson, Kotz & Balakrishnan 1994, *Continuous Univariate Distributions* vol. 1, eqs. 13.1 and 14.2.
#[must_use]
pub fn density(value: f64, location: f64, scale: f64, logarithmic: bool) -> f64 {
    let normal = |x: f64| {
        let z = (x - location) / scale;
        (-0.5 * z * z).exp() / (scale * TAU.sqrt())
    };
    if logarithmic {
        normal(value.ln()) / value
    } else {
        normal(value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::belief::{Belief, Beliefs, Spread};

    fn bands(mean: f64, sd: f64) -> Vec<f64> {
        let mut beliefs = Beliefs::default();
        let belief = beliefs.add(Belief {
            about: String::new(),
            citation: String::new(),
            spread: Spread::Normal { mean, sd },
            seen: 30.0,
        });
        let mut column = vec![0.0; 5];
        Bands {
            belief,
            edges: vec![0.9, 1.0, 1.1, 1.2],
            logarithmic: false,
        }
        .write(&beliefs.stated(), &mut column);
        column
    }

    /// Source: Abramowitz & Stegun 1964, *Handbook of Mathematical Functions*, table 26.1 (from memory):
    /// Φ(1) = 0.841344746068543, Φ(2) = 0.977249868051821; 1 − Φ(5) = 2.866515719e-7.
    #[test]
    fn standard_normal_table() {
        assert!((between(f64::NEG_INFINITY, 1.0) - 0.841_344_746_068_543).abs() < 1e-15);
        assert!((between(f64::NEG_INFINITY, 2.0) - 0.977_249_868_051_821).abs() < 1e-15);
        assert!((between(5.0, f64::INFINITY) / 2.866_515_719e-7 - 1.0).abs() < 1e-9);
        assert!((between(-1.0, 1.0) - 2.0 * between(0.0, 1.0)).abs() < 1e-15);
    }

    #[test]
    fn bands_sum_to_one_and_none_is_zero() {
        for (mean, sd) in [(1.0, 0.06), (1.22, 0.06), (0.88, 0.05)] {
            let column = bands(mean, sd);
            assert!((column.iter().sum::<f64>() - 1.0).abs() < 1e-14);
            assert!(column.iter().all(|&p| p > 0.0), "{column:?}");
        }
    }

    #[test]
    fn the_lower_edge_belongs_to_the_band() {
        let edges = [0.9, 1.0, 1.1, 1.2];
        assert_eq!(band(&edges, 0.8999), 0);
        assert_eq!(band(&edges, 0.9), 1);
        assert_eq!(band(&edges, 1.2), 4);
    }

    /// Source: the lognormal's median is exp(μ) and its density there 1/(σ exp(μ) √(2π)); the normal's at the mean is
    /// 1/(σ √(2π)) (Johnson, Kotz & Balakrishnan 1994, chs. 13 and 14).
    #[test]
    fn densities_at_the_centre() {
        let peak = 1.0 / (0.25 * (2.0 * std::f64::consts::PI).sqrt());
        assert!((density(3.0, 3.0, 0.25, false) - peak).abs() < 1e-14);
        assert!((density(3.0, 3.0_f64.ln(), 0.25, true) - peak / 3.0).abs() < 1e-14);
    }
}
