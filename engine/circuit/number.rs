//! The two kinds of number that a circuit computes with.

/// A non-negative number. The passes are written once over this trait, so that further kinds (several
/// parameter draws side by side, say) need no second set of passes.
pub(super) trait Number: Copy + PartialEq {
    /// 0.
    const ZERO: Self;
    /// 1.
    const ONE: Self;

    /// `value` × 2^`exponent`, for a finite `value` >= 0.
    fn scaled(value: f64, exponent: i64) -> Self;

    /// The product.
    fn times(self, other: Self) -> Self;

    /// The sum.
    fn plus(self, other: Self) -> Self;

    /// The quotient, rounded into the range of `f64`.
    fn ratio(self, other: Self) -> f64;

    /// The natural logarithm; minus infinity for 0.
    fn ln(self) -> f64;

    /// Whether this is exactly 0.
    fn is_zero(self) -> bool;

    /// Whether this number, made from numbers other than 0 or put in for `wanted`, has lost digits because
    /// it left the range of its kind.
    fn left_range(self) -> bool;

    /// Σ x · y over two tables of one length.
    #[inline(always)]
    fn dot(x: &[Self], y: &[Self]) -> Self {
        x.iter()
            .zip(y)
            .fold(Self::ZERO, |sum, (&a, &b)| sum.plus(a.times(b)))
    }

    /// The smallest entry other than 0, or a lower bound for it that never makes
    /// [`left_range`](Self::left_range) true.
    fn smallest(table: &[Self]) -> Self;
}

impl Number for f64 {
    const ZERO: Self = 0.0;
    const ONE: Self = 1.0;

    fn scaled(value: f64, exponent: i64) -> Self {
        times_power_of_two(value, exponent)
    }

    #[inline]
    fn times(self, other: Self) -> Self {
        self * other
    }

    #[inline]
    fn plus(self, other: Self) -> Self {
        self + other
    }

    #[inline]
    fn ratio(self, other: Self) -> f64 {
        self / other
    }

    fn ln(self) -> f64 {
        self.ln()
    }

    #[inline]
    fn is_zero(self) -> bool {
        self == 0.0
    }

    /// Below the smallest normal number digits are lost; infinity and what comes of it has none.
    #[inline]
    fn left_range(self) -> bool {
        !(f64::MIN_POSITIVE..=f64::MAX).contains(&self)
    }

    /// Eight sums side by side: one alone would wait for each addition before the next.
    #[inline(always)]
    fn dot(x: &[Self], y: &[Self]) -> Self {
        let (x_eights, x_rest) = x.as_chunks::<8>();
        let (y_eights, y_rest) = y.as_chunks::<8>();
        let mut sums = [0.0; 8];
        for (a, b) in x_eights.iter().zip(y_eights) {
            for ((sum, a), b) in sums.iter_mut().zip(a).zip(b) {
                *sum += a * b;
            }
        }
        let [a, b, c, d, e, f, g, h] = sums;
        let sum = ((a + e) + (c + g)) + ((b + f) + (d + h));
        let rest = x_rest.iter().zip(y_rest);
        rest.fold(sum, |sum, (a, b)| sum + a * b)
    }

    #[inline(always)]
    fn smallest(table: &[Self]) -> Self {
        // Written so that the compiler can compare several entries at once.
        table.iter().fold(1.0, |least, &v| {
            let candidate = if v == 0.0 { 1.0 } else { v };
            if candidate < least { candidate } else { least }
        })
    }
}

/// A non-negative number with the digits of an `f64` and an exponent that cannot run out: a mantissa of 0
/// or in [1, 2), times a power of two.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Extended {
    mantissa: f64,
    exponent: i64,
}

impl Extended {
    /// Mantissa (0 or in [1, 2)) and exponent.
    pub(super) fn parts(self) -> (f64, i64) {
        (self.mantissa, self.exponent)
    }

    /// This number × 2^`exponent`.
    pub(super) fn shifted(self, exponent: i64) -> Self {
        if self.is_zero() {
            return self;
        }
        Self {
            exponent: self.exponent + exponent,
            ..self
        }
    }
}

impl Number for Extended {
    const ZERO: Self = Self {
        mantissa: 0.0,
        exponent: 0,
    };
    const ONE: Self = Self {
        mantissa: 1.0,
        exponent: 0,
    };

    fn scaled(value: f64, exponent: i64) -> Self {
        if value == 0.0 {
            return Self::ZERO;
        }
        let (value, exponent) = if value < f64::MIN_POSITIVE {
            (times_power_of_two(value, 64), exponent - 64)
        } else {
            (value, exponent)
        };
        let own = exponent_of(value);
        Self {
            mantissa: times_power_of_two(value, -own),
            exponent: exponent + own,
        }
    }

    #[inline]
    fn times(self, other: Self) -> Self {
        let mantissa = self.mantissa * other.mantissa;
        let exponent = self.exponent + other.exponent;
        if mantissa >= 2.0 {
            Self {
                mantissa: mantissa * 0.5,
                exponent: exponent + 1,
            }
        } else if mantissa == 0.0 {
            Self::ZERO
        } else {
            Self { mantissa, exponent }
        }
    }

    #[inline]
    fn plus(self, other: Self) -> Self {
        if other.is_zero() {
            return self;
        }
        if self.is_zero() {
            return other;
        }
        let (large, small) = if self.exponent >= other.exponent {
            (self, other)
        } else {
            (other, self)
        };
        let apart = large.exponent - small.exponent;
        // Beyond 54 binary places the smaller one is less than half of the last digit.
        if apart > 54 {
            return large;
        }
        let mantissa = large.mantissa + small.mantissa * power_of_two(-apart);
        if mantissa >= 2.0 {
            Self {
                mantissa: mantissa * 0.5,
                exponent: large.exponent + 1,
            }
        } else {
            Self {
                mantissa,
                exponent: large.exponent,
            }
        }
    }

    fn ratio(self, other: Self) -> f64 {
        times_power_of_two(
            self.mantissa / other.mantissa,
            self.exponent - other.exponent,
        )
    }

    fn ln(self) -> f64 {
        if self.is_zero() {
            f64::NEG_INFINITY
        } else if (-1022..=1023).contains(&self.exponent) {
            // One rounding only: near 1 the two terms below would cancel.
            times_power_of_two(self.mantissa, self.exponent).ln()
        } else {
            self.mantissa.ln() + self.exponent as f64 * std::f64::consts::LN_2
        }
    }

    #[inline]
    fn is_zero(self) -> bool {
        self.mantissa == 0.0
    }

    #[inline]
    fn left_range(self) -> bool {
        false
    }

    fn smallest(_: &[Self]) -> Self {
        Self::ONE
    }
}

/// The exponent e of a normal number, with 2^e <= `value` < 2^(e+1).
pub(super) fn exponent_of(value: f64) -> i64 {
    ((value.to_bits() >> 52) & 0x7ff) as i64 - 1023
}

/// 2^`exponent` for an exponent in -1022..=1023.
#[inline]
fn power_of_two(exponent: i64) -> f64 {
    f64::from_bits(((exponent + 1023) as u64) << 52)
}

/// `value` × 2^`exponent`, rounded once; 0 or infinity when out of range.
pub(super) fn times_power_of_two(value: f64, exponent: i64) -> f64 {
    if (-1022..=1023).contains(&exponent) {
        return value * power_of_two(exponent);
    }
    // Three factors cover subnormal to largest; the first two are exact unless the result is out of range.
    let exponent = exponent.clamp(-2200, 2200);
    let third = exponent / 3;
    value * power_of_two(third) * power_of_two(third) * power_of_two(exponent - 2 * third)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Non-negative doubles of every size, subnormal ones and 0 among them.
    fn any_size() -> impl Strategy<Value = f64> {
        (0..=0x7fe_u64, any::<u64>())
            .prop_map(|(exponent, digits)| f64::from_bits(exponent << 52 | digits >> 12))
    }

    fn back(number: Extended) -> f64 {
        number.ratio(Extended::ONE)
    }

    proptest! {
        #[test]
        fn extended_numbers_hold_every_double(value in any_size()) {
            prop_assert_eq!(back(Extended::scaled(value, 0)).to_bits(), value.to_bits());
            prop_assert_eq!(back(Extended::scaled(value, 5000).shifted(-5000)).to_bits(), value.to_bits());
        }

        #[test]
        fn extended_arithmetic_rounds_like_doubles(a in any_size(), b in any_size()) {
            let (x, y) = (Extended::scaled(a, 0), Extended::scaled(b, 0));
            let sum = a + b;
            if sum.is_finite() && sum >= f64::MIN_POSITIVE {
                prop_assert_eq!(back(x.plus(y)), sum);
            }
            let product = a * b;
            if product.is_finite() && product >= f64::MIN_POSITIVE {
                prop_assert_eq!(back(x.times(y)), product);
            }
            // Far below and above the range the same digits come out.
            let low = Extended::scaled(a, -9000).plus(Extended::scaled(b, -9000));
            prop_assert_eq!(low.shifted(9000), x.plus(y));
        }
    }

    #[test]
    fn zero_is_kept_apart_from_the_smallest() {
        let smallest = Extended::scaled(1.0, -1_000_000);
        assert!(!smallest.times(smallest).is_zero());
        assert!(smallest.times(Extended::ZERO).is_zero());
        assert_eq!(smallest.plus(Extended::ZERO), smallest);
        assert_eq!(Extended::ZERO.ln(), f64::NEG_INFINITY);
    }

    #[test]
    fn powers_of_two_round_once() {
        // 1 + 2^-52 at the bottom of the range: the last digit is half a unit and goes to even.
        let value = 1.0 + f64::EPSILON;
        assert_eq!(times_power_of_two(value, -1023), f64::from_bits(1 << 51));
        assert_eq!(times_power_of_two(1.5, -1074), f64::from_bits(2));
        assert_eq!(times_power_of_two(1.0, -1075), 0.0);
        assert_eq!(times_power_of_two(1.5, -1075), f64::from_bits(1));
        assert_eq!(
            times_power_of_two(f64::from_bits(1), 2097),
            2_f64.powi(1023)
        );
        assert_eq!(times_power_of_two(1.0, 1024), f64::INFINITY);
        assert_eq!(times_power_of_two(1.0, i64::MIN), 0.0);
    }

    #[test]
    fn a_small_addend_still_rounds_the_last_digit() {
        let sum = |b: f64| back(Extended::ONE.plus(Extended::scaled(b, 0)));
        for exponent in 50..60 {
            let b = 1.5 * 2_f64.powi(-exponent);
            assert_eq!(sum(b), 1.0 + b);
        }
    }

    #[test]
    fn logarithms() {
        let near_one = 1.0 - f64::EPSILON;
        assert_eq!(Extended::scaled(near_one, 0).ln(), near_one.ln());
        let ln = Extended::scaled(1.5, -100_000).ln();
        assert!((ln - (1.5_f64.ln() - 100_000.0 * std::f64::consts::LN_2)).abs() < 1e-10);
    }

    #[test]
    fn the_smallest_entry_skips_zeros() {
        assert_eq!(<f64 as Number>::smallest(&[0.5, 0.0, 1e-200, 3.0]), 1e-200);
        assert_eq!(<f64 as Number>::smallest(&[0.0, 4.0]), 1.0);
        assert!(1e-310.left_range() && f64::INFINITY.left_range() && f64::NAN.left_range());
        assert!(!f64::MIN_POSITIVE.left_range());
    }
}
