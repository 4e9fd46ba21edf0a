//! A colour measured in CIELAB: normal in three dimensions, instrument and all.
//!
//! Lightness and the two axes of colour hang together within one class of tint (a deeper pool of blue glaze is darker,
//! too), so that the density is that of one trivariate normal and not of three numbers apart.

use nalgebra::{Cholesky, Matrix3, Vector3};
use std::f64::consts::TAU;

use crate::cielab::Lab;

/// Cells of a belief about a colour: three means, then the covariance as L*L*, L*a*, L*b*, a*a*, a*b*, b*b*.
pub const CELLS: usize = 9;

/// A covariance from standard deviations of L*, a* and b* and their correlations L*–a*, L*–b*, a*–b*; `None` if no three
/// quantities can be correlated like that.
#[must_use]
pub fn covariance(sd: [f64; 3], correlation: [f64; 3]) -> Option<[f64; 6]> {
    let [la, lb, ab] = correlation;
    let covariance = [
        sd[0] * sd[0],
        la * sd[0] * sd[1],
        lb * sd[0] * sd[2],
        sd[1] * sd[1],
        ab * sd[1] * sd[2],
        sd[2] * sd[2],
    ];
    Cholesky::new(matrix(&covariance)).map(|_| covariance)
}

/// The symmetric matrix of six cells.
#[must_use]
pub fn matrix(cells: &[f64]) -> Matrix3<f64> {
    Matrix3::new(
        cells[0], cells[1], cells[2], cells[1], cells[3], cells[4], cells[2], cells[4], cells[5],
    )
}

/// Density of a measured colour given a belief's cells, per unit of L*, a* and b* each; the instrument's standard
/// deviations add to the covariance, since its error has nothing to do with the piece.
///
/// 0 for a covariance that is none, which a belief that was checked never has.
///
/// Source: Mardia, Kent & Bibby 1979, *Multivariate Analysis*, eq. 2.5.1; sums of independent normals: corollary 3.2.1.1.
#[must_use]
pub fn density(lab: Lab, cells: &[f64], instrument: [f64; 3]) -> f64 {
    let mut covariance = matrix(&cells[3..]);
    for (axis, sd) in instrument.into_iter().enumerate() {
        covariance[(axis, axis)] += sd * sd;
    }
    let Some(root) = Cholesky::new(covariance) else {
        return 0.0;
    };
    let off = Vector3::new(lab.l, lab.a, lab.b) - Vector3::from_row_slice(&cells[..3]);
    let root = root.l();
    let Some(z) = root.solve_lower_triangular(&off) else {
        return 0.0;
    };
    let scale = root[(0, 0)] * root[(1, 1)] * root[(2, 2)] * TAU.powf(1.5);
    (-0.5 * z.norm_squared()).exp() / scale
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::column::weight;

    const COLOUR: Lab = Lab {
        l: 86.0,
        a: -3.1,
        b: -1.0,
    };

    fn cells(mean: [f64; 3], sd: [f64; 3], correlation: [f64; 3]) -> Vec<f64> {
        let mut cells = mean.to_vec();
        cells.extend(covariance(sd, correlation).unwrap());
        cells
    }

    /// Source: without correlation the density is the product of three normals (Mardia, Kent & Bibby 1979, sec. 3.1).
    #[test]
    fn without_correlation_it_is_a_product() {
        let (mean, sd, instrument) = ([88.0, -2.0, 1.0], [3.0, 0.8, 1.5], [0.5, 0.2, 0.3]);
        let found = density(COLOUR, &cells(mean, sd, [0.0; 3]), instrument);
        let axis =
            |x: f64, i: usize| weight::density(x, mean[i], sd[i].hypot(instrument[i]), false);
        let product = axis(COLOUR.l, 0) * axis(COLOUR.a, 1) * axis(COLOUR.b, 2);
        assert!((found / product - 1.0).abs() < 1e-13);
    }

    /// Source: the chain rule, p(L) p(a | L) p(b | L, a), each conditional normal by regression (Mardia, Kent & Bibby 1979,
    /// theorem 3.2.4), the instrument added to the variances first.
    #[test]
    fn with_correlation_it_is_a_chain_of_regressions() {
        let (mean, sd, r) = ([88.0, -2.0, 1.0], [3.0_f64, 0.8, 1.5], [0.4, 0.6, -0.2]);
        let instrument = [0.5, 0.2, 0.3];
        let s: Vec<f64> = (0..3).map(|i| sd[i].hypot(instrument[i])).collect();
        // Correlations shrink by what the instrument adds.
        let shrink = |i: usize, j: usize, r: f64| r * sd[i] * sd[j] / (s[i] * s[j]);
        let (la, lb, ab) = (shrink(0, 1, r[0]), shrink(0, 2, r[1]), shrink(1, 2, r[2]));
        let z: Vec<f64> = [COLOUR.l, COLOUR.a, COLOUR.b]
            .iter()
            .zip(mean)
            .zip(&s)
            .map(|((x, mean), s)| (x - mean) / s)
            .collect();
        let n = |z: f64, mean: f64, variance: f64| weight::density(z, mean, variance.sqrt(), false);
        let of_l = n(z[0], 0.0, 1.0);
        let of_a = n(z[1], la * z[0], 1.0 - la * la);
        let slope_l = (lb - la * ab) / (1.0 - la * la);
        let slope_a = (ab - la * lb) / (1.0 - la * la);
        let left = 1.0 - (lb * slope_l + ab * slope_a);
        let of_b = n(z[2], slope_l * z[0] + slope_a * z[1], left);
        let chain = of_l * of_a * of_b / (s[0] * s[1] * s[2]);
        let found = density(COLOUR, &cells(mean, sd, r), instrument);
        assert!((found / chain - 1.0).abs() < 1e-12, "{found} {chain}");
    }

    #[test]
    fn correlations_that_cannot_be() {
        assert!(covariance([1.0; 3], [0.9, 0.9, -0.9]).is_none());
        assert!(covariance([1.0; 3], [1.0, 0.0, 0.0]).is_none());
        assert!(covariance([1.0; 3], [0.9, 0.9, 0.9]).is_some());
    }
}
