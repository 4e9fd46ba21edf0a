//! One kernel for both passes: multiply two tables and sum out what the result does not keep.

use smallvec::SmallVec;

use super::number::Number;

/// A loop nest over the union of the scopes of two tables and their product.
///
/// All tables list their variables in elimination order, the last one fastest. Neighbouring variables that
/// occur in the same of the three tables are run through as one dimension, so the innermost dimension has
/// stride 1 in every table in which it occurs.
#[derive(Clone, Debug)]
pub(super) struct Loops {
    outer: SmallVec<[Dimension; 2]>,
    /// The dimension around the innermost one, with a loop of its own: most tables are small, and moving
    /// on in `outer` takes longer than a short innermost loop.
    middle: Dimension,
    inner_len: usize,
    inner: Presence,
}

#[derive(Clone, Copy, Debug)]
struct Dimension {
    size: usize,
    x: usize,
    y: usize,
    out: usize,
}

impl Dimension {
    /// No dimension.
    const ONCE: Self = Self {
        size: 1,
        x: 0,
        y: 0,
        out: 0,
    };
}

/// In which of the three tables a dimension occurs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Presence {
    pub x: bool,
    pub y: bool,
    pub out: bool,
}

/// More dimensions of two or more states cannot be counted in 64 bits.
const MAX_DIMENSIONS: usize = 64;

impl Loops {
    /// The nest over `dimensions` (size and presence), slowest first; `merged` is scratch.
    pub(super) fn new(
        dimensions: impl IntoIterator<Item = (usize, Presence)>,
        merged: &mut Vec<(usize, Presence)>,
    ) -> Self {
        merged.clear();
        for (size, presence) in dimensions {
            match merged.last_mut() {
                _ if size == 1 => {}
                Some((len, same)) if *same == presence => *len *= size,
                _ => merged.push((size, presence)),
            }
        }
        let everywhere = Presence {
            x: true,
            y: true,
            out: true,
        };
        let (inner_len, inner) = merged.pop().unwrap_or((1, everywhere));
        let grown = |there: bool| if there { inner_len } else { 1 };
        let (mut x, mut y, mut out) = (grown(inner.x), grown(inner.y), grown(inner.out));
        let mut dimension = |(size, presence): (usize, Presence)| {
            let stride = |there: bool, cells: &mut usize| {
                if !there {
                    return 0;
                }
                let stride = *cells;
                *cells *= size;
                stride
            };
            Dimension {
                size,
                x: stride(presence.x, &mut x),
                y: stride(presence.y, &mut y),
                out: stride(presence.out, &mut out),
            }
        };
        let middle = merged.pop().map_or(Dimension::ONCE, &mut dimension);
        let mut outer: SmallVec<[Dimension; 2]> = merged.drain(..).rev().map(dimension).collect();
        outer.reverse();
        debug_assert!(outer.len() < MAX_DIMENSIONS);
        Self {
            outer,
            middle,
            inner_len,
            inner,
        }
    }

    /// out = Σ x · y. Returns whether a product left the range of its number; this is looked for only if
    /// `watch` is set.
    #[inline(always)]
    pub(super) fn contract<N: Number>(&self, x: &[N], y: &[N], out: &mut [N], watch: bool) -> bool {
        out.fill(N::ZERO);
        if watch {
            self.dispatch::<N, true>(x, y, out)
        } else {
            self.dispatch::<N, false>(x, y, out)
        }
    }

    #[inline(always)]
    fn dispatch<N: Number, const WATCH: bool>(&self, x: &[N], y: &[N], out: &mut [N]) -> bool {
        match (self.inner.x, self.inner.y, self.inner.out) {
            (true, true, true) => self.run::<N, WATCH, true, true, true>(x, y, out),
            (true, true, false) => self.run::<N, WATCH, true, true, false>(x, y, out),
            (true, false, true) => self.run::<N, WATCH, true, false, true>(x, y, out),
            (true, false, false) => self.run::<N, WATCH, true, false, false>(x, y, out),
            (false, true, true) => self.run::<N, WATCH, false, true, true>(x, y, out),
            (false, true, false) => self.run::<N, WATCH, false, true, false>(x, y, out),
            (false, false, true) => self.run::<N, WATCH, false, false, true>(x, y, out),
            (false, false, false) => self.run::<N, WATCH, false, false, false>(x, y, out),
        }
    }

    #[inline(always)]
    fn run<N: Number, const WATCH: bool, const X: bool, const Y: bool, const OUT: bool>(
        &self,
        x: &[N],
        y: &[N],
        out: &mut [N],
    ) -> bool {
        let n = self.inner_len;
        let (nx, ny, no) = (
            if X { n } else { 1 },
            if Y { n } else { 1 },
            if OUT { n } else { 1 },
        );
        let mut lost = false;
        let mut counters = [0_usize; MAX_DIMENSIONS];
        let (mut ix, mut iy, mut io) = (0, 0, 0);
        loop {
            let (mut jx, mut jy, mut jo) = (ix, iy, io);
            for _ in 0..self.middle.size {
                lost |= inner::<N, WATCH, X, Y, OUT>(
                    &x[jx..jx + nx],
                    &y[jy..jy + ny],
                    &mut out[jo..jo + no],
                    n,
                );
                jx += self.middle.x;
                jy += self.middle.y;
                jo += self.middle.out;
            }
            let mut turned = false;
            for (dimension, counter) in self.outer.iter().zip(&mut counters).rev() {
                *counter += 1;
                ix += dimension.x;
                iy += dimension.y;
                io += dimension.out;
                if *counter < dimension.size {
                    turned = true;
                    break;
                }
                *counter = 0;
                ix -= dimension.x * dimension.size;
                iy -= dimension.y * dimension.size;
                io -= dimension.out * dimension.size;
            }
            if !turned {
                return lost;
            }
        }
    }
}

/// The innermost loop. A table in which the dimension does not occur comes as a slice of one entry.
#[inline(always)]
fn inner<N: Number, const WATCH: bool, const X: bool, const Y: bool, const OUT: bool>(
    x: &[N],
    y: &[N],
    out: &mut [N],
    n: usize,
) -> bool {
    // A constant factor of 0 adds nothing; evidence makes many.
    if (!X && x[0].is_zero()) || (!Y && y[0].is_zero()) {
        return false;
    }
    let mut lost = false;
    let mut product = |a: N, b: N| {
        let product = a.times(b);
        if WATCH {
            lost |= product.left_range() && !a.is_zero() && !b.is_zero();
        }
        product
    };
    match (X, Y, OUT) {
        (true, true, true) => {
            for ((o, &a), &b) in out.iter_mut().zip(x).zip(y) {
                *o = o.plus(product(a, b));
            }
        }
        (true, false, true) => {
            let b = y[0];
            for (o, &a) in out.iter_mut().zip(x) {
                *o = o.plus(product(a, b));
            }
        }
        (false, true, true) => {
            let a = x[0];
            for (o, &b) in out.iter_mut().zip(y) {
                *o = o.plus(product(a, b));
            }
        }
        (false, false, true) => {
            let term = product(x[0], y[0]);
            for o in out.iter_mut() {
                *o = o.plus(term);
            }
        }
        (true, true, false) if !WATCH => {
            out[0] = out[0].plus(N::dot(x, y));
        }
        (true, true, false) => {
            let sum = x
                .iter()
                .zip(y)
                .fold(N::ZERO, |sum, (&a, &b)| sum.plus(product(a, b)));
            out[0] = out[0].plus(sum);
        }
        (true, false, false) => {
            let b = y[0];
            let sum = x.iter().fold(N::ZERO, |sum, &a| sum.plus(product(a, b)));
            out[0] = out[0].plus(sum);
        }
        (false, true, false) => {
            let a = x[0];
            let sum = y.iter().fold(N::ZERO, |sum, &b| sum.plus(product(a, b)));
            out[0] = out[0].plus(sum);
        }
        (false, false, false) => {
            let term = product(x[0], y[0]);
            for _ in 0..n {
                out[0] = out[0].plus(term);
            }
        }
    }
    lost
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every presence of three dimensions in three tables, against a plain triple loop.
    #[test]
    fn every_combination_of_presences() {
        let sizes = [3, 2, 4];
        let presence = |bits: usize| Presence {
            x: bits & 1 == 1,
            y: bits & 2 == 2,
            out: bits & 4 == 4,
        };
        for code in 0..8_usize.pow(3) {
            let there = [
                presence(code % 8),
                presence(code / 8 % 8),
                presence(code / 64),
            ];
            let offset = |states: &[usize; 3], included: fn(&Presence) -> bool| {
                let dimensions = (0..3).filter(|&d| included(&there[d]));
                dimensions.fold(0, |index, d| index * sizes[d] + states[d])
            };
            let x: Vec<f64> = (0..24).map(|i| f64::from(i) + 1.0).collect();
            let y: Vec<f64> = (0..24).map(|i| f64::from(i * i % 7)).collect();
            let cells = |included: fn(&Presence) -> bool| -> usize {
                (0..3)
                    .filter(|&d| included(&there[d]))
                    .map(|d| sizes[d])
                    .product()
            };
            let mut expected = vec![0.0; cells(|p| p.out)];
            for i in 0..24 {
                let states = [i / 8, i / 4 % 2, i % 4];
                expected[offset(&states, |p| p.out)] +=
                    x[offset(&states, |p| p.x)] * y[offset(&states, |p| p.y)];
            }
            let loops = Loops::new((0..3).map(|d| (sizes[d], there[d])), &mut Vec::new());
            let mut out = vec![f64::NAN; expected.len()];
            let (x, y) = (&x[..cells(|p| p.x)], &y[..cells(|p| p.y)]);
            assert!(!loops.contract(x, y, &mut out, code % 2 == 0));
            assert_eq!(out, expected, "{there:?}");
        }
    }

    #[test]
    fn a_lost_product_is_noticed() {
        let there = Presence {
            x: true,
            y: true,
            out: true,
        };
        let loops = Loops::new([(3, there)], &mut Vec::new());
        let mut out = [0.0; 3];
        assert!(loops.contract(&[1.0, 1e-200, 0.5], &[1.0, 1e-200, 0.5], &mut out, true));
        assert!(!loops.contract(&[1.0, 1e-200, 0.5], &[1.0, 0.0, 0.5], &mut out, true));
    }
}
