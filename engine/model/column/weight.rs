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

/// Which band or bands a reading belongs to.
#[derive(Clone, Debug, PartialEq)]
pub enum Banded {
    /// One of them.
    In(usize),
    /// Several: for each band the part of the reading's interval that lies in it. The reading is as likely for one true
    /// value in the interval as for another, so the parts are the likelihoods of the bands.
    Across(Vec<f64>),
}

/// The band of a value, or, of one known only to lie between two bounds, the bands it may belong to.
#[must_use]
pub fn bands_of(edges: &[f64], value: f64, within: Option<(f64, f64)>) -> Banded {
    let Some((low, high)) = within.filter(|(low, high)| low < high) else {
        return Banded::In(band(edges, value));
    };
    let (first, last) = (band(edges, low), band(edges, high));
    if first == last {
        return Banded::In(first);
    }
    let part = |band: usize| {
        let from = if band == first { low } else { edges[band - 1] };
        let to = if band == last { high } else { edges[band] };
        (to - from) / (high - low)
    };
    let parts = (0..=edges.len()).map(|band| match (first..=last).contains(&band) {
        true => part(band),
        false => 0.0,
    });
    Banded::Across(parts.collect())
}

/// Chance that a standard normal lies between two values, without the cancellation of `Φ(b) − Φ(a)` far above zero.
///
/// Source: Φ(x) = ½ erfc(−x/√2); Abramowitz & Stegun 1964, eqs. 7.1.2 and 26.2.29.
#[must_use]
pub fn between(low: f64, high: f64) -> f64 {
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

/// Widths of an interval, in standard deviations, below which the density changes too little within it to be told from its
/// middle (by 1 in 10¹¹ one standard deviation off), while the difference of two erfc would lose more.
const NARROW: f64 = 1e-5;

/// Mean of the density over an interval: the likelihood of a reading that is even between two bounds, per unit of the value.
///
/// Exact for an instrument whose error is even (rectangular): the mean over u in [x − t, x + t] of f(u) is
/// (F(x + t) − F(x − t)) / 2t. For the tolerances of a scale this is the usual reading of "± one division".
///
/// Source: JCGM 100:2008 (GUM), 4.3.7, for the rectangular distribution of a reading.
#[must_use]
pub fn mean_density(low: f64, high: f64, location: f64, scale: f64, logarithmic: bool) -> f64 {
    let z = |x: f64| {
        let x = if logarithmic { x.ln() } else { x };
        (x - location) / scale
    };
    if z(high) - z(low) < NARROW {
        return density(f64::midpoint(low, high), location, scale, logarithmic);
    }
    between(z(low), z(high)) / (high - low)
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

    #[test]
    fn a_reading_across_an_edge_speaks_for_both_bands() {
        let edges = [0.9, 1.0, 1.1];
        assert_eq!(bands_of(&edges, 0.95, None), Banded::In(1));
        assert_eq!(bands_of(&edges, 0.95, Some((0.91, 0.99))), Banded::In(1));
        let Banded::Across(parts) = bands_of(&edges, 1.0, Some((0.975, 1.025))) else {
            panic!()
        };
        for (found, expected) in parts.iter().zip([0.0, 0.5, 0.5, 0.0]) {
            assert!((found - expected).abs() < 1e-12, "{parts:?}");
        }
        let Banded::Across(parts) = bands_of(&edges, 1.0, Some((0.8, 1.2))) else {
            panic!()
        };
        for found in parts {
            assert!((found - 0.25).abs() < 1e-12);
        }
    }

    /// Source: the integral of the density, by Simpson's rule with 2000 steps (Abramowitz & Stegun 1964, eq. 25.4.6).
    #[test]
    fn a_tolerance_takes_the_mean_of_the_density() {
        for (low, high, location, scale, logarithmic) in [
            (1.05, 1.15, 1.1_f64.ln(), 0.08, true),
            (1.5, 1.6, 1.1_f64.ln(), 0.08, true),
            (0.7, 0.72, 1.1_f64.ln(), 0.08, true),
            (0.9, 1.3, 1.0, 0.2, false),
        ] {
            let f = |x: f64| density(x, location, scale, logarithmic);
            let n = 2000;
            let step = (high - low) / f64::from(n);
            let sum: f64 = (0..=n)
                .map(|i| {
                    let weight = match i {
                        0 => 1.0,
                        i if i == n => 1.0,
                        i if i % 2 == 1 => 4.0,
                        _ => 2.0,
                    };
                    weight * f(low + step * f64::from(i))
                })
                .sum();
            let simpson = sum * step / 3.0 / (high - low);
            let found = mean_density(low, high, location, scale, logarithmic);
            assert!((found / simpson - 1.0).abs() < 1e-9, "{found} {simpson}");
        }
    }

    #[test]
    fn a_narrow_tolerance_comes_to_the_density_itself() {
        let value: f64 = 1.31;
        let exact = density(value, 0.1, 0.08, true);
        for tolerance in [1e-4, 1e-6, 1.1e-7, 1e-9, 1e-15, 0.0] {
            let found = mean_density(value - tolerance, value + tolerance, 0.1, 0.08, true);
            assert!((found / exact - 1.0).abs() < 1e-5, "{tolerance} {found}");
        }
        assert!(mean_density(0.0, 0.5, 0.1, 0.08, true) < 1e-10);
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
