//! Rows of chances drawn from Dirichlet distributions, sixteen draws side by side.

use super::elementary::exp;
use super::gamma::Gamma;
use super::source::Source;
use crate::circuit::{LANES, Lanes};

/// One row of chances, of which some cells are drawn.
///
/// Normalised gammas. Source: Devroye 1986, *Non-Uniform Random Variate Generation*, ch. XI.4.
#[derive(Clone, Debug)]
pub(super) struct DirichletRow {
    cells: Vec<(usize, Gamma)>,
    /// All cells that are not drawn apart.
    rest: Option<Gamma>,
    /// Whether the gammas are taken in logarithms.
    in_logarithms: bool,
}

impl DirichletRow {
    /// A row with parameters `seen × say`; only the cells for which `needed` holds are drawn.
    ///
    /// `None` if there is nothing to draw: no needed cell can be anything but 0 or 1.
    pub fn new(say: &[f64], seen: f64, needed: impl Fn(usize) -> bool) -> Option<Self> {
        // Beyond this a draw is the statement itself, to the last digit, and the gammas' sum stays in range.
        const MOST_SEEN: f64 = 1e100;
        // With parameters of sum 1 the gammas' sum falls below 1e-10 in one draw of 1e10, and a gamma that is lost to
        // underflow is then below 1e-297 of it. With a smaller sum all gammas together may underflow.
        const LEAST_SEEN: f64 = 1.0;
        let seen = seen.min(MOST_SEEN);
        let possible = || (0..say.len()).filter(|&cell| say[cell] > 0.0);
        if possible().count() < 2 {
            return None;
        }
        let cells: Vec<(usize, Gamma)> = possible()
            .filter(|&cell| needed(cell))
            .map(|cell| (cell, Gamma::new(seen * say[cell])))
            .collect();
        if cells.is_empty() {
            return None;
        }
        let rest: f64 = possible()
            .filter(|&cell| !needed(cell))
            .map(|cell| say[cell])
            .sum();
        Some(Self {
            cells,
            rest: (rest > 0.0).then(|| Gamma::new(seen * rest)),
            in_logarithms: seen < LEAST_SEEN,
        })
    }

    /// How many gamma variates one draw takes.
    pub fn n_gammas(&self) -> usize {
        self.cells.len() + usize::from(self.rest.is_some())
    }

    /// Draws the row's cells in every lane; the other cells stay as they are.
    #[inline(always)]
    pub fn draw(&self, source: &mut Source, row: &mut [Lanes]) {
        if self.in_logarithms {
            self.draw_in_logarithms(source, row);
            return;
        }
        let mut sum = [0.0; LANES];
        if let Some(rest) = &self.rest {
            sum = rest.draw(source).0;
        }
        for (cell, gamma) in &self.cells {
            let variates = gamma.draw(source);
            for (sum, variate) in sum.iter_mut().zip(variates.0) {
                *sum += variate;
            }
            row[*cell] = variates;
        }
        self.divide(row, &sum);
    }

    /// The same, with each gamma relative to the largest of its lane.
    #[inline(always)]
    fn draw_in_logarithms(&self, source: &mut Source, row: &mut [Lanes]) {
        let rest = match &self.rest {
            Some(rest) => rest.draw_ln(source).0,
            None => [f64::NEG_INFINITY; LANES],
        };
        let mut largest = rest;
        for (cell, gamma) in &self.cells {
            let logarithms = gamma.draw_ln(source);
            for (largest, logarithm) in largest.iter_mut().zip(logarithms.0) {
                *largest = if logarithm > *largest {
                    logarithm
                } else {
                    *largest
                };
            }
            row[*cell] = logarithms;
        }
        let mut sum = [0.0; LANES];
        for lane in 0..LANES {
            sum[lane] = exp(rest[lane] - largest[lane]);
        }
        for (cell, _) in &self.cells {
            for lane in 0..LANES {
                let share = exp(row[*cell].0[lane] - largest[lane]);
                row[*cell].0[lane] = share;
                sum[lane] += share;
            }
        }
        self.divide(row, &sum);
    }

    #[inline(always)]
    fn divide(&self, row: &mut [Lanes], sum: &[f64; LANES]) {
        let inverse = sum.map(|sum| 1.0 / sum);
        for (cell, _) in &self.cells {
            for (share, inverse) in row[*cell].0.iter_mut().zip(inverse) {
                *share *= inverse;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use rand::SeedableRng;
    use rand_distr::Distribution;

    use super::*;
    use crate::stress::kolmogorov_smirnov::assert_same_distribution;

    const N: usize = 64_000;

    fn draws(say: &[f64], seen: f64, seed: u64, needed: impl Fn(usize) -> bool) -> Vec<Vec<f64>> {
        let row = DirichletRow::new(say, seen, needed).unwrap();
        let mut lanes = vec![Lanes::all(-1.0); say.len()];
        for (cell, say) in lanes.iter_mut().zip(say) {
            if *say == 0.0 {
                *cell = Lanes::all(0.0);
            }
        }
        let mut drawn = Vec::with_capacity(N);
        for block in 0..(N / LANES) as u64 {
            row.draw(&mut Source::new(seed, block), &mut lanes);
            drawn.extend(
                (0..LANES).map(|lane| lanes.iter().map(|l| l.0[lane]).collect::<Vec<f64>>()),
            );
        }
        drawn
    }

    fn cell(draws: &[Vec<f64>], cell: usize) -> Vec<f64> {
        draws.iter().map(|d| d[cell]).collect()
    }

    const ROWS: [(&[f64], f64); 8] = [
        (&[0.5, 0.3, 0.2], 20.0),
        (&[0.9, 0.1], 1.5),
        (&[0.98, 0.01, 0.01], 5.0),
        (&[0.25, 0.25, 0.5], 0.8),
        (&[0.7, 0.2, 0.1], 1e-3),
        (&[0.999, 0.0, 0.001], 20.0),
        (&[0.6, 0.4], 1e4),
        (&[0.05, 0.95], 20.0),
    ];

    /// Each cell's marginal is a beta, drawn with the whole row or alone.
    #[test]
    fn marginals_are_the_betas_of_another_library() {
        for (k, (say, seen)) in ROWS.into_iter().enumerate() {
            let whole = draws(say, seen, k as u64, |_| true);
            for one in (0..say.len()).filter(|&one| say[one] > 0.0) {
                let what = format!("{say:?} × {seen}, cell {one}");
                let beta = rand_distr::Beta::new(seen * say[one], seen * (1.0 - say[one])).unwrap();
                let mut generator = chacha20::ChaCha8Rng::seed_from_u64(70 + k as u64);
                let theirs: Vec<f64> = (0..N).map(|_| beta.sample(&mut generator)).collect();
                let alone = draws(say, seen, 100 + k as u64, |cell| cell == one);
                assert_same_distribution(cell(&whole, one), theirs.clone(), &what);
                assert_same_distribution(cell(&alone, one), theirs, &what);
            }
        }
    }

    /// Source: mean α/A, variance α(A − α)/(A²(A + 1)) and covariance −αᵢαⱼ/(A²(A + 1)) of a Dirichlet's cells (Kotz,
    /// Balakrishnan & Johnson 2000, *Continuous Multivariate Distributions* vol. 1, ch. 49).
    #[test]
    fn moments() {
        for (k, (say, seen)) in ROWS.into_iter().enumerate() {
            let drawn = draws(say, seen, 200 + k as u64, |_| true);
            let mean =
                |f: &dyn Fn(&[f64]) -> f64| drawn.iter().map(|d| f(d)).sum::<f64>() / N as f64;
            let spread = |a: usize| say[a] * (1.0 - say[a]) / (seen + 1.0);
            for a in 0..say.len() {
                let error = (spread(a) / N as f64).sqrt();
                let found = mean(&|d| d[a]);
                assert!(
                    (found - say[a]).abs() <= 5.0 * error,
                    "{say:?} × {seen}: {found}"
                );
                for b in 0..a {
                    let found = mean(&|d| (d[a] - say[a]) * (d[b] - say[b]));
                    let expected = -say[a] * say[b] / (seen + 1.0);
                    let error = mean(&|d| ((d[a] - say[a]) * (d[b] - say[b])).powi(2));
                    let error = (error / N as f64).sqrt();
                    assert!(
                        (found - expected).abs() <= 5.0 * error,
                        "{say:?} × {seen}: {found}, not {expected} ± {error}"
                    );
                }
            }
        }
    }

    /// Five standard errors of a correlation of nothing.
    #[test]
    fn lanes_are_unrelated() {
        let (say, seen) = ([0.5, 0.3, 0.2], 2.0);
        let drawn = draws(&say, seen, 9, |_| true);
        let variance = say[0] * (1.0 - say[0]) / (seen + 1.0);
        for apart in 1..=2 * LANES {
            let pairs = drawn.iter().zip(&drawn[apart..]);
            let products = pairs.map(|(x, y)| (x[0] - say[0]) * (y[0] - say[0]) / variance);
            let n = (N - apart) as f64;
            let correlation = products.sum::<f64>() / n;
            assert!(
                correlation.abs() < 5.0 / n.sqrt(),
                "{apart} apart: {correlation}"
            );
        }
    }

    #[test]
    fn rows_sum_to_one_and_zeros_stay() {
        for (say, seen) in [
            (&[0.5, 0.5, 0.0][..], 1e-5),
            (&[0.5, 0.0, 0.5], 1e-300),
            (&[0.5, 0.0, 0.5], f64::MAX),
            (&[1e-12, 0.0, 1.0 - 1e-12], 1.0),
            (&[0.3, 0.3, 0.4], 20.0),
        ] {
            for row in draws(say, seen, 2, |_| true) {
                assert!((row.iter().sum::<f64>() - 1.0).abs() < 1e-14, "{row:?}");
                for (cell, say) in row.iter().zip(say) {
                    assert!((0.0..=1.0).contains(cell), "{row:?}");
                    assert!(*say > 0.0 || *cell == 0.0, "{row:?}");
                }
            }
        }
    }

    #[test]
    fn what_is_certain_is_not_drawn() {
        assert!(DirichletRow::new(&[0.0, 1.0], 20.0, |_| true).is_none());
        assert!(DirichletRow::new(&[0.0, 0.5, 0.5], 20.0, |cell| cell == 0).is_none());
        // Of a row of which one cell is needed the others are not touched.
        let drawn = draws(&[0.2, 0.5, 0.3], 4.0, 5, |cell| cell == 0);
        assert!(drawn.iter().all(|d| d[0] != -1.0 && d[1..] == [-1.0, -1.0]));
    }
}
