//! Bayesian linear regression with normal beliefs about the coefficients and a scatter that is not known.
//!
//! Given the scatter σ the answer is exact: least squares, with every belief as one more row, by a QR decomposition (the normal
//! equations would lose half of the digits). σ itself is integrated out on a fine grid of ln σ. The integrand is smooth and dies
//! away at both ends, so the trapezoidal rule converges faster than any power of the step; what it is off by is bounded by leaving
//! out every second point.
//!
//! Source: Gelman et al. 2013, *Bayesian Data Analysis*, 3rd ed., sec. 3.2 (scaled inverse chi-squared), 14.2 and 14.8 (beliefs as
//! additional rows); O'Hagan & Forster 2004, *Bayesian Inference*, ch. 11. Trapezoidal rule: Trefethen & Weideman 2014, SIAM Review 56.

use nalgebra::{DMatrix, DVector};

/// A belief about one coefficient.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Coefficient {
    /// Mean.
    pub mean: f64,
    /// Standard deviation; none for a flat prior.
    pub sd: Option<f64>,
}

/// A belief about the scatter: σ² is scaled inverse chi-squared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScatterBelief {
    /// Scale: the σ that is expected.
    pub scale: f64,
    /// Degrees of freedom; 0 stands for p(σ²) ∝ 1/σ².
    pub seen: f64,
}

/// Why there is no answer.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RegressionError {
    /// Data and beliefs leave a coefficient open.
    #[error("the data and the beliefs leave coefficient {0} open; give a belief about it")]
    Open(usize),
    /// Data and beliefs leave the scatter open.
    #[error(
        "the data and the beliefs leave the scatter open; say how many sales' worth of experience stand behind it"
    )]
    ScatterOpen,
    /// A number that is not finite, or rows of unequal length.
    #[error("a number of the regression is not finite, or a row is too short")]
    NotFinite,
}

/// The coefficients at one scatter.
#[derive(Clone, Debug)]
struct Point {
    weight: f64,
    sigma: f64,
    mean: DVector<f64>,
    /// Upper triangle R with covariance σ² (RᵀR)⁻¹.
    r: DMatrix<f64>,
}

/// Coefficients and scatter, given the data.
#[derive(Clone, Debug)]
pub struct Fit {
    points: Vec<Point>,
}

/// One price to come: a mixture of normal distributions, one for each point of the grid.
#[derive(Clone, Debug, PartialEq)]
pub struct Predicted {
    /// Weight, mean and standard deviation of each.
    parts: Vec<[f64; 3]>,
}

/// The step of ln σ, at most.
const STEP: f64 = 0.05;
/// Points further below the mode than this, in nats, are left out: e⁻⁴⁰ is beyond double precision.
const DEPTH: f64 = 40.0;
/// The most points on either side.
const MOST_POINTS: usize = 4000;

/// The data with what does not depend on the scatter done once: R, Qᵀy and the sum of squares beside them.
struct Reduced {
    rows: DMatrix<f64>,
    rhs: DVector<f64>,
    beside: f64,
    n: usize,
}

impl Fit {
    /// Coefficients and scatter, from rows (one for each price) and beliefs.
    ///
    /// # Errors
    /// [`RegressionError`] if something is left open or a number is not finite.
    pub fn new(
        rows: &[Vec<f64>],
        prices: &[f64],
        beliefs: &[Coefficient],
        scatter: ScatterBelief,
    ) -> Result<Self, RegressionError> {
        let k = beliefs.len();
        let is_whole = rows.len() == prices.len() && rows.iter().all(|row| row.len() == k);
        let sds = beliefs.iter().filter_map(|belief| belief.sd);
        let is_finite = |numbers: &[f64]| numbers.iter().all(|number| number.is_finite());
        let sound = rows.iter().all(|row| is_finite(row))
            && is_finite(prices)
            && beliefs.iter().all(|belief| belief.mean.is_finite())
            && sds.clone().all(|sd| sd.is_finite() && sd > 0.0)
            && scatter.seen >= 0.0
            && is_finite(&[scatter.seen, scatter.scale])
            && (scatter.seen == 0.0 || scatter.scale > 0.0);
        if !is_whole || !sound || k == 0 {
            return Err(RegressionError::NotFinite);
        }
        let data = Reduced::new(rows, prices, k);
        let degrees = scatter.seen + rows.len() as f64 - (k - sds.count()) as f64;
        if degrees <= 0.0 {
            return Err(RegressionError::ScatterOpen);
        }
        let start = if scatter.seen > 0.0 {
            scatter.scale
        } else {
            let (_, _, rest) = data.solve(1.0, beliefs)?;
            (rest / degrees).sqrt()
        };
        if !(start > 0.0 && start.is_finite()) {
            return Err(RegressionError::ScatterOpen);
        }
        let step = STEP.min(0.2 / (scatter.seen + rows.len() as f64).sqrt());
        let at = |offset: i64| -> Result<(f64, Point), RegressionError> {
            let ln_sigma = start.ln() + step * offset as f64;
            let sigma = ln_sigma.exp();
            let (r, mean, rest) = data.solve(sigma, beliefs)?;
            let ln_det: f64 = r.diagonal().iter().map(|d| d.abs().ln()).sum();
            let squares = rest + scatter.seen * scatter.scale * scatter.scale;
            let ln_density = -(data.n as f64 - k as f64 + scatter.seen) * ln_sigma
                - ln_det
                - squares / (2.0 * sigma * sigma);
            let point = Point {
                weight: 0.0,
                sigma,
                mean,
                r,
            };
            Ok((ln_density, point))
        };
        let mut found = std::collections::VecDeque::from([at(0)?]);
        let mut top = found[0].0;
        for direction in [-1_i64, 1] {
            for count in 1.. {
                if count > MOST_POINTS as i64 {
                    return Err(RegressionError::ScatterOpen);
                }
                let (density, point) = at(direction * count)?;
                top = top.max(density);
                if density.is_nan() {
                    return Err(RegressionError::NotFinite);
                }
                if density <= top - DEPTH {
                    break;
                }
                if direction < 0 {
                    found.push_front((density, point));
                } else {
                    found.push_back((density, point));
                }
            }
        }
        let total: f64 = found.iter().map(|(density, _)| (density - top).exp()).sum();
        let weighed = |(density, point): (f64, Point)| Point {
            weight: (density - top).exp() / total,
            ..point
        };
        Ok(Self {
            points: found.into_iter().map(weighed).collect(),
        })
    }

    /// Mean of each coefficient.
    #[must_use]
    pub fn means(&self) -> Vec<f64> {
        let k = self.points.first().map_or(0, |point| point.mean.len());
        let mut means = vec![0.0; k];
        for point in &self.points {
            for (mean, part) in means.iter_mut().zip(point.mean.iter()) {
                *mean += point.weight * part;
            }
        }
        means
    }

    /// The scatter σ, as the mean of 1/σ²: for flat priors it is the residual standard deviation of least squares.
    #[must_use]
    pub fn scatter(&self) -> f64 {
        let precision = |point: &Point| point.weight / (point.sigma * point.sigma);
        self.points
            .iter()
            .map(precision)
            .sum::<f64>()
            .sqrt()
            .recip()
    }

    /// Standard deviation of each coefficient given a scatter, for a scatter on the grid nearest to it, times the ratio of the two.
    /// For flat priors this is the standard error of least squares.
    #[must_use]
    pub fn standard_errors(&self, sigma: f64) -> Vec<f64> {
        let off = |point: &&Point| (point.sigma / sigma).ln().abs();
        let nearest = self.points.iter().min_by(|a, b| off(a).total_cmp(&off(b)));
        let Some(point) = nearest else {
            return Vec::new();
        };
        let k = point.mean.len();
        let unit = |place: usize| {
            let mut row = vec![0.0; k];
            row[place] = 1.0;
            row
        };
        (0..k)
            .map(|place| sigma * point.solved(&unit(place)).norm())
            .collect()
    }

    /// The next price of a row.
    #[must_use]
    pub fn predict(&self, row: &[f64]) -> Predicted {
        let part = |point: &Point| {
            let mean = row.iter().zip(point.mean.iter()).map(|(x, b)| x * b).sum();
            let spread = point.solved(row).norm_squared();
            [point.weight, mean, point.sigma * (1.0 + spread).sqrt()]
        };
        Predicted {
            parts: self.points.iter().map(part).collect(),
        }
    }

    /// By how much the mean of a row's price would rise for each unit that the price of another row, among the data, rose.
    #[must_use]
    pub fn leverage(&self, row: &[f64], other: &[f64]) -> f64 {
        let part = |point: &Point| point.weight * point.solved(row).dot(&point.solved(other));
        self.points.iter().map(part).sum()
    }
}

impl Point {
    /// R⁻ᵀ x.
    fn solved(&self, row: &[f64]) -> DVector<f64> {
        let mut x = DVector::from_column_slice(row);
        // The diagonal holds no zero: `solve` has seen to that.
        self.r.tr_solve_upper_triangular_mut(&mut x);
        x
    }
}

impl Reduced {
    fn new(rows: &[Vec<f64>], prices: &[f64], k: usize) -> Self {
        let n = rows.len();
        let x = DMatrix::from_fn(n, k, |i, j| rows[i][j]);
        let mut y = DVector::from_column_slice(prices);
        if n <= k {
            return Self {
                rows: x,
                rhs: y,
                beside: 0.0,
                n,
            };
        }
        let qr = x.qr();
        qr.q_tr_mul(&mut y);
        Self {
            rows: qr.unpack_r(),
            beside: y.rows(k, n - k).norm_squared(),
            rhs: y.rows(0, k).into_owned(),
            n,
        }
    }

    /// R, the coefficients and the sum of squares, at a scatter.
    fn solve(
        &self,
        sigma: f64,
        beliefs: &[Coefficient],
    ) -> Result<(DMatrix<f64>, DVector<f64>, f64), RegressionError> {
        let k = beliefs.len();
        let n_data = self.rows.nrows();
        let believed: Vec<(usize, f64, f64)> = beliefs
            .iter()
            .enumerate()
            .filter_map(|(place, belief)| Some((place, sigma / belief.sd?, belief.mean)))
            .collect();
        // A triangle needs at least as many rows as columns.
        let n = (n_data + believed.len()).max(k);
        let mut x = DMatrix::zeros(n, k);
        let mut y = DVector::zeros(n);
        x.rows_mut(0, n_data).copy_from(&self.rows);
        y.rows_mut(0, n_data).copy_from(&self.rhs);
        for (row, (place, weight, mean)) in (n_data..).zip(believed) {
            x[(row, place)] = weight;
            y[row] = weight * mean;
        }
        let qr = x.qr();
        qr.q_tr_mul(&mut y);
        let r = qr.unpack_r();
        // What a column adds to those before it, beside its own length: nothing left but rounding.
        let is_open = |&place: &usize| {
            r[(place, place)].abs() <= 10.0 * f64::EPSILON * r.column(place).norm()
        };
        if let Some(open) = (0..k).find(is_open) {
            return Err(RegressionError::Open(open));
        }
        let rest = self.beside + y.rows(k, n - k).norm_squared();
        let mut mean = y.rows(0, k).into_owned();
        if !r.solve_upper_triangular_mut(&mut mean) {
            return Err(RegressionError::NotFinite);
        }
        Ok((r, mean, rest))
    }
}

impl Predicted {
    /// The chance of at most so much.
    #[must_use]
    pub fn at_most(&self, value: f64) -> f64 {
        let part = |[weight, mean, sd]: &[f64; 3]| {
            weight * 0.5 * libm::erfc((mean - value) / (sd * std::f64::consts::SQRT_2))
        };
        self.parts.iter().map(part).sum()
    }

    /// The value that is not exceeded with a chance, by halving an interval that holds it.
    #[must_use]
    pub fn quantile(&self, chance: f64) -> f64 {
        let end = |side: f64| {
            let ends = self
                .parts
                .iter()
                .map(|[_, mean, sd]| mean + side * 40.0 * sd);
            ends.fold(f64::NAN, |far: f64, end| {
                if side < 0.0 {
                    far.min(end)
                } else {
                    far.max(end)
                }
            })
        };
        let (mut low, mut high) = (end(-1.0), end(1.0));
        for _ in 0..200 {
            let middle = f64::midpoint(low, high);
            if middle <= low || middle >= high {
                break;
            }
            if self.at_most(middle) < chance {
                low = middle;
            } else {
                high = middle;
            }
        }
        f64::midpoint(low, high)
    }

    /// The same with every second point of the grid left out: how far the two lie apart bounds what the grid is off by.
    #[must_use]
    pub fn coarser(&self) -> Self {
        let half: Vec<[f64; 3]> = self.parts.iter().step_by(2).copied().collect();
        let total: f64 = half.iter().map(|[weight, ..]| weight).sum();
        let parts = half
            .into_iter()
            .map(|[weight, mean, sd]| [weight / total, mean, sd]);
        Self {
            parts: parts.collect(),
        }
    }
}
