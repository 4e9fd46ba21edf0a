//! Several evaluations side by side: each cell of a table holds one number for each of [`LANES`] parameter draws.
//!
//! The kernels are those of a single evaluation; the loops over lanes inside them are what the compiler turns into vector
//! instructions, the widest the machine has (chosen when the program runs).

use super::number::Number;

/// How many evaluations stand side by side.
pub const LANES: usize = 16;

/// One number for each lane.
#[derive(Clone, Copy, Debug, PartialEq)]
#[repr(align(64))]
pub struct Lanes(pub [f64; LANES]);

impl Lanes {
    /// The same number in every lane.
    #[must_use]
    pub const fn all(value: f64) -> Self {
        Self([value; LANES])
    }
}

/// Lanes keep no watch over their range: whether a result can be trusted is seen from its size at the end (see
/// [`super::specialised`]).
impl Number for Lanes {
    const ZERO: Self = Self::all(0.0);
    const ONE: Self = Self::all(1.0);

    fn scaled(value: f64, exponent: i64) -> Self {
        Self::all(<f64 as Number>::scaled(value, exponent))
    }

    #[inline(always)]
    fn times(self, other: Self) -> Self {
        let mut product = self;
        for (a, b) in product.0.iter_mut().zip(other.0) {
            *a *= b;
        }
        product
    }

    #[inline(always)]
    fn plus(self, other: Self) -> Self {
        let mut sum = self;
        for (a, b) in sum.0.iter_mut().zip(other.0) {
            *a += b;
        }
        sum
    }

    fn ratio(self, other: Self) -> f64 {
        self.0[0] / other.0[0]
    }

    fn ln(self) -> f64 {
        self.0[0].ln()
    }

    #[inline(always)]
    fn is_zero(self) -> bool {
        false
    }

    #[inline(always)]
    fn left_range(self) -> bool {
        false
    }

    #[inline(always)]
    fn smallest(_: &[Self]) -> Self {
        Self::ONE
    }
}
