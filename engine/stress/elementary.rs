//! Logarithm, exponential, sine and cosine without branches, so that loops over lanes become vector instructions.
//!
//! The standard library's are calls, one number at a time. Nothing here depends on the machine: no fused multiplication
//! and no library of the system, so a seed gives the same bytes everywhere.

use std::f64::consts::{FRAC_PI_2, LOG2_E};

/// ln 2 in two parts; a whole number below 2^11 times the first is exact.
const LN_2_HIGH: f64 = 6.931_471_803_691_238e-1;
const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;

const MANTISSA: u64 = (1 << 52) - 1;
const ONE: u64 = 0x3ff0_0000_0000_0000;
/// 2^52, whose last bits count in ones.
const COUNTER: u64 = 0x4330_0000_0000_0000;

/// Natural logarithm of a normal number above 0.
///
/// Error below 1 unit in the last place. Source: FreeBSD msun `e_log.c` (Sun Microsystems 1993): with f = m − 1 and
/// s = f/(2 + f), ln m = f − f²/2 + s(f²/2 + R(s²)).
#[inline(always)]
pub(super) fn ln(x: f64) -> f64 {
    const ROOT_HALF: u64 = 0x3fe6_a09e_667f_3bcd;
    const R: [f64; 7] = [
        6.666_666_666_666_735e-1,
        3.999_999_999_940_942e-1,
        2.857_142_874_366_239e-1,
        2.222_219_843_214_978_4e-1,
        1.818_357_216_161_805e-1,
        1.531_383_769_920_937_3e-1,
        1.479_819_860_511_658_6e-1,
    ];
    // x = m 2^k with m from √½ to √2.
    let shifted = x.to_bits().wrapping_add(ONE - ROOT_HALF);
    let k = f64::from_bits(COUNTER | (shifted >> 52)) - (4_503_599_627_370_496.0 + 1023.0);
    let f = f64::from_bits((shifted & MANTISSA) + ROOT_HALF) - 1.0;
    let s = f / (2.0 + f);
    let z = s * s;
    let r = z * (R[0] + z * (R[1] + z * (R[2] + z * (R[3] + z * (R[4] + z * (R[5] + z * R[6]))))));
    let half_square = 0.5 * f * f;
    k * LN_2_HIGH - ((half_square - (s * (half_square + r) + k * LN_2_LOW)) - f)
}

/// Exponential of a number that is not above 700; 0 where the result would be below the normal numbers.
///
/// Error below 1 unit in the last place: the Taylor series to the 13th power on |r| ≤ ½ ln 2, where the first term left
/// out is below 5e-18.
#[inline(always)]
pub(super) fn exp(x: f64) -> f64 {
    /// Added to a number below 2^51, rounds it to a whole one, which stands in the last bits.
    const ROUND: f64 = 6_755_399_441_055_744.0;
    const SMALLEST: f64 = -708.0;
    const INVERSE_FACTORIALS: [f64; 12] = [
        1.0 / 6_227_020_800.0,
        1.0 / 479_001_600.0,
        1.0 / 39_916_800.0,
        1.0 / 3_628_800.0,
        1.0 / 362_880.0,
        1.0 / 40_320.0,
        1.0 / 5_040.0,
        1.0 / 720.0,
        1.0 / 120.0,
        1.0 / 24.0,
        1.0 / 6.0,
        0.5,
    ];
    let within = if x > SMALLEST { x } else { SMALLEST };
    let rounded = within * LOG2_E + ROUND;
    let k = rounded - ROUND;
    let r = (within - k * LN_2_HIGH) - k * LN_2_LOW;
    let mut series = INVERSE_FACTORIALS[0];
    for coefficient in &INVERSE_FACTORIALS[1..] {
        series = series * r + coefficient;
    }
    let series = 1.0 + (r + r * r * series);
    let scaled = f64::from_bits(series.to_bits().wrapping_add(rounded.to_bits() << 52));
    if x > SMALLEST { scaled } else { 0.0 }
}

/// Sine and cosine of a number of quarter turns from −½ to ½.
///
/// Error below 1 unit in the last place. Source: FreeBSD msun `k_sin.c` and `k_cos.c` (Sun Microsystems 1993).
#[inline(always)]
pub(super) fn sin_cos(quarters: f64) -> (f64, f64) {
    const S: [f64; 6] = [
        -1.666_666_666_666_663_2e-1,
        8.333_333_333_322_49e-3,
        -1.984_126_982_985_795e-4,
        2.755_731_370_707_006_8e-6,
        -2.505_076_025_340_686_3e-8,
        1.589_690_995_211_55e-10,
    ];
    const C: [f64; 6] = [
        4.166_666_666_666_66e-2,
        -1.388_888_888_887_411e-3,
        2.480_158_728_947_673e-5,
        -2.755_731_435_139_066_3e-7,
        2.087_572_321_298_175e-9,
        -1.135_964_755_778_819_5e-11,
    ];
    let x = FRAC_PI_2 * quarters;
    let z = x * x;
    let s = S[0] + z * (S[1] + z * (S[2] + z * (S[3] + z * (S[4] + z * S[5]))));
    let c = C[0] + z * (C[1] + z * (C[2] + z * (C[3] + z * (C[4] + z * C[5]))));
    (x + x * z * s, 1.0 - (0.5 * z - z * z * c))
}

/// A number above 0 and at most 1 from the first 52 bits of a random word: its logarithm is finite.
#[inline(always)]
pub(super) fn above_zero(word: u64) -> f64 {
    2.0 - f64::from_bits(ONE | (word >> 12))
}

/// A number from 0 to below 1 from the last `bits` bits of a word.
#[inline(always)]
pub(super) fn below_one(word: u64, bits: u32) -> f64 {
    f64::from_bits(ONE | ((word << (64 - bits)) >> 12)) - 1.0
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Distance in units in the last place of the expected number.
    fn ulps(found: f64, expected: f64) -> f64 {
        let unit = f64::from_bits(expected.abs().to_bits() + 1) - expected.abs();
        (found - expected).abs() / unit
    }

    #[test]
    fn logarithm() {
        let mut worst = 0.0_f64;
        for exponent in -1022..1023 {
            for step in 0..200 {
                let x = 2_f64.powi(exponent) * (1.0 + f64::from(step) / 200.0);
                worst = worst.max(ulps(ln(x), x.ln()));
            }
        }
        // Close to 1, where the logarithm loses its digits first.
        for step in 1..100_000 {
            let x = 1.0 - f64::from(step) * 3e-6;
            worst = worst.max(ulps(ln(x), x.ln()));
        }
        for x in [
            1.0 - f64::EPSILON / 2.0,
            1.0 + f64::EPSILON,
            f64::MIN_POSITIVE,
        ] {
            worst = worst.max(ulps(ln(x), x.ln()));
        }
        assert!(worst <= 1.0, "{worst}");
        assert_eq!(ln(1.0), 0.0);
    }

    #[test]
    fn exponential() {
        let mut worst = 0.0_f64;
        for step in 0..2_000_000 {
            let x = 700.0 - f64::from(step) * 7.039e-4;
            worst = worst.max(ulps(exp(x), x.exp()));
        }
        for step in 0..100_000 {
            let x = -f64::from(step) * 1e-5;
            worst = worst.max(ulps(exp(x), x.exp()));
        }
        assert!(worst <= 1.5, "{worst}");
        assert_eq!(exp(0.0), 1.0);
        for far in [-708.1, -1e10, -1e300, f64::NEG_INFINITY] {
            assert_eq!(exp(far), 0.0);
        }
    }

    #[test]
    fn sine_and_cosine() {
        let (mut worst_sine, mut worst_cosine) = (0.0_f64, 0.0_f64);
        for step in -100_000..=100_000 {
            let quarters = f64::from(step) / 200_000.0;
            let (s, c) = sin_cos(quarters);
            worst_sine = worst_sine.max(ulps(s, (FRAC_PI_2 * quarters).sin()));
            worst_cosine = worst_cosine.max(ulps(c, (FRAC_PI_2 * quarters).cos()));
        }
        assert!(
            worst_sine <= 1.0 && worst_cosine <= 1.0,
            "{worst_sine} {worst_cosine}"
        );
    }

    #[test]
    fn uniform_numbers_keep_their_bounds() {
        assert_eq!(above_zero(0), 1.0);
        assert_eq!(above_zero(u64::MAX), 2_f64.powi(-52));
        assert_eq!(below_one(0, 10), 0.0);
        assert_eq!(below_one(u64::MAX, 10), 1023.0 / 1024.0);
        assert_eq!(below_one(u64::MAX, 52), 1.0 - 2_f64.powi(-52));
        assert_eq!(below_one(1 << 10, 10), 0.0);
    }
}
