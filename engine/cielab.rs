//! Colours in CIELAB, and how far apart two of them look.
//!
//! Knows nothing of glazes: coordinates in, coordinates and differences out. It does not convert pictures; a photograph's
//! pixels are no measurement.

use std::f64::consts::TAU;

/// A colour: lightness 0 to 100, green to red, blue to yellow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lab {
    /// Lightness L*.
    pub l: f64,
    /// Green (below 0) to red (above): a*.
    pub a: f64,
    /// Blue (below 0) to yellow (above): b*.
    pub b: f64,
}

/// X, Y and Z of the white that a colour is judged against, Y being 1.
pub type White = [f64; 3];

/// Daylight at the horizon, the white of printing and of most hand-held instruments.
///
/// Source: CIE 15:2004, table T.3, 2° observer.
pub const D50: White = [0.9642, 1.0, 0.8251];

/// Noon daylight.
///
/// Source: CIE 15:2004, table T.3, 2° observer.
pub const D65: White = [0.9504, 1.0, 1.0888];

/// Why numbers are not a colour.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum LabError {
    /// A lightness outside 0 to 100.
    #[error("L* is {0}; lightness lies between 0 (black) and 100 (white)")]
    Lightness(f64),
    /// An axis of colour outside anything that reflects light.
    #[error(
        "{axis} is {value}; write it as the instrument shows it, between -{LARGEST} and {LARGEST}"
    )]
    Axis {
        /// Which one.
        axis: &'static str,
        /// What was given.
        value: f64,
    },
}

/// Surfaces reach about 130 on either axis; beyond this a number is a slip of the pen.
const LARGEST: f64 = 160.0;

impl Lab {
    /// A colour from its three coordinates.
    ///
    /// # Errors
    /// [`LabError`] for a lightness outside 0 to 100, or an axis that is not finite or beyond what surfaces reach.
    pub fn new(l: f64, a: f64, b: f64) -> Result<Self, LabError> {
        if !(0.0..=100.0).contains(&l) {
            return Err(LabError::Lightness(l));
        }
        for (axis, value) in [("a*", a), ("b*", b)] {
            if !(-LARGEST..=LARGEST).contains(&value) {
                return Err(LabError::Axis { axis, value });
            }
        }
        Ok(Self { l, a, b })
    }

    /// A colour from lightness, chroma and hue (degrees): a* = C cos h, b* = C sin h.
    ///
    /// # Errors
    /// As for [`Lab::new`].
    /// # Source
    /// CIE 15:2004, eqs. 8.9 and 8.10, the other way about.
    pub fn from_lch(l: f64, chroma: f64, hue: f64) -> Result<Self, LabError> {
        let (sin, cos) = hue.to_radians().sin_cos();
        Self::new(l, chroma * cos, chroma * sin)
    }

    /// A colour from X, Y and Z on the scale of the white, whose Y is 1.
    ///
    /// # Errors
    /// As for [`Lab::new`].
    /// # Source
    /// CIE 15:2004, eqs. 8.3 to 8.8: f(t) is the cube root of t above (24/116)³, and 841 t/108 + 16/116 below.
    pub fn from_xyz(xyz: [f64; 3], white: White) -> Result<Self, LabError> {
        let f = |t: f64| {
            if t > (24.0_f64 / 116.0).powi(3) {
                t.cbrt()
            } else {
                841.0 / 108.0 * t + 16.0 / 116.0
            }
        };
        let [x, y, z] = [0, 1, 2].map(|i| f(xyz[i] / white[i]));
        Self::new(116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z))
    }
}

/// The colour difference ΔE₀₀ for reference conditions; about 1 is the least that an eye can tell.
///
/// # Source
/// CIE 142:2001 in the form of Sharma, Wu & Dalal 2005, "The CIEDE2000 color-difference formula: implementation notes,
/// supplementary test data, and mathematical observations", Color Research and Application 30:21–30, eqs. 2 to 22.
#[must_use]
pub fn delta_e_2000(one: Lab, other: Lab) -> f64 {
    const FAR: f64 = 6_103_515_625.0; // 25⁷
    let seventh = |c: f64| (c.powi(7) / (c.powi(7) + FAR)).sqrt();
    let mean_chroma = f64::midpoint(one.a.hypot(one.b), other.a.hypot(other.b));
    let g = 0.5 * (1.0 - seventh(mean_chroma));
    let prime = |lab: Lab| {
        let a = (1.0 + g) * lab.a;
        let hue = if a == 0.0 && lab.b == 0.0 {
            0.0
        } else {
            lab.b.atan2(a).rem_euclid(TAU)
        };
        (a.hypot(lab.b), hue)
    };
    let ((c1, h1), (c2, h2)) = (prime(one), prime(other));
    let grey = c1 * c2 == 0.0;
    let half = TAU / 2.0;
    let turn = match h2 - h1 {
        _ if grey => 0.0,
        turn if turn > half => turn - TAU,
        turn if turn < -half => turn + TAU,
        turn => turn,
    };
    let (d_l, d_c) = (other.l - one.l, c2 - c1);
    let d_h = 2.0 * (c1 * c2).sqrt() * (turn / 2.0).sin();
    let (l, c) = (f64::midpoint(one.l, other.l), f64::midpoint(c1, c2));
    let h = match h1 + h2 {
        sum if grey => sum,
        sum if (h1 - h2).abs() <= half => sum / 2.0,
        sum if sum < TAU => sum / 2.0 + half,
        sum => sum / 2.0 - half,
    };
    let t = 1.0 - 0.17 * (h - 30_f64.to_radians()).cos()
        + 0.24 * (2.0 * h).cos()
        + 0.32 * (3.0 * h + 6_f64.to_radians()).cos()
        - 0.20 * (4.0 * h - 63_f64.to_radians()).cos();
    let bend = ((h.to_degrees() - 275.0) / 25.0).powi(2);
    let rotation = -(2.0 * 30_f64.to_radians() * (-bend).exp()).sin() * 2.0 * seventh(c);
    let from_middle = (l - 50.0).powi(2);
    let s_l = 1.0 + 0.015 * from_middle / (20.0 + from_middle).sqrt();
    let (s_c, s_h) = (1.0 + 0.045 * c, 1.0 + 0.015 * c * t);
    let (l, c, h) = (d_l / s_l, d_c / s_c, d_h / s_h);
    // The last term can make the sum negative by rounding only, for colours that are all but the same.
    (l * l + c * c + h * h + rotation * c * h).max(0.0).sqrt()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        #[test]
        fn a_difference_is_the_same_both_ways(
            one in (0.0..100.0_f64, -100.0..100.0_f64, -100.0..100.0_f64),
            other in (0.0..100.0_f64, -100.0..100.0_f64, -100.0..100.0_f64),
        ) {
            let lab = |(l, a, b): (f64, f64, f64)| Lab::new(l, a, b).unwrap();
            let (one, other) = (lab(one), lab(other));
            prop_assert_eq!(delta_e_2000(one, one), 0.0);
            let (to, fro) = (delta_e_2000(one, other), delta_e_2000(other, one));
            prop_assert!((to - fro).abs() < 1e-9, "{} {}", to, fro);
        }

        #[test]
        fn chroma_and_hue_there_and_back(l in 0.0..100.0_f64, c in 0.01..100.0_f64, h in 0.0..360.0_f64) {
            let lab = Lab::from_lch(l, c, h).unwrap();
            prop_assert!((lab.a.hypot(lab.b) - c).abs() < 1e-9);
            prop_assert!((lab.b.atan2(lab.a).to_degrees().rem_euclid(360.0) - h).abs() < 1e-6);
        }
    }

    #[test]
    fn refused() {
        assert_eq!(Lab::new(100.1, 0.0, 0.0), Err(LabError::Lightness(100.1)));
        assert!(Lab::new(f64::NAN, 0.0, 0.0).is_err());
        assert!(Lab::new(50.0, 0.0, f64::INFINITY).is_err());
        assert!(Lab::from_lch(50.0, f64::NAN, 10.0).is_err());
        assert!(Lab::from_xyz([2.0, 2.0, 2.0], D50).is_err());
    }
}
