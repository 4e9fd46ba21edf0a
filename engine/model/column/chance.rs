//! What the formulas of a column are written in: one chance, or those of several draws side by side.

use crate::circuit::Lanes;

/// A number of a belief or an entry of a column.
pub trait Chance: Copy {
    /// The same number in every draw.
    fn all(value: f64) -> Self;

    /// What comes of two numbers, draw by draw.
    fn with(self, other: Self, f: impl Fn(f64, f64) -> f64) -> Self;

    /// What comes of three.
    fn with_two(self, second: Self, third: Self, f: impl Fn(f64, f64, f64) -> f64) -> Self;
}

impl Chance for f64 {
    fn all(value: f64) -> Self {
        value
    }

    #[inline(always)]
    fn with(self, other: Self, f: impl Fn(f64, f64) -> f64) -> Self {
        f(self, other)
    }

    #[inline(always)]
    fn with_two(self, second: Self, third: Self, f: impl Fn(f64, f64, f64) -> f64) -> Self {
        f(self, second, third)
    }
}

impl Chance for Lanes {
    #[inline(always)]
    fn all(value: f64) -> Self {
        Self::all(value)
    }

    #[inline(always)]
    fn with(mut self, other: Self, f: impl Fn(f64, f64) -> f64) -> Self {
        for (a, b) in self.0.iter_mut().zip(other.0) {
            *a = f(*a, b);
        }
        self
    }

    #[inline(always)]
    fn with_two(mut self, second: Self, third: Self, f: impl Fn(f64, f64, f64) -> f64) -> Self {
        for ((a, b), c) in self.0.iter_mut().zip(second.0).zip(third.0) {
            *a = f(*a, b, c);
        }
        self
    }
}
