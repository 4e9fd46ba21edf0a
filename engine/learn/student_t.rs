//! The Student t in one and in several dimensions.

use nalgebra::{DMatrix, DVector};
use rand::Rng;
use rand_distr::{ChiSquared, Distribution, StandardNormal};

/// A multivariate Student t.
///
/// Source: Gelman et al. 2013, *Bayesian Data Analysis* (3rd ed.), appendix A, table A.1.
#[derive(Clone, Debug)]
pub struct MultivariateT {
    location: DVector<f64>,
    scale: DMatrix<f64>,
    precision: DMatrix<f64>,
    ln_determinant: f64,
    degrees_of_freedom: f64,
}

/// What a multivariate t says of one point, whole and cell by cell.
#[derive(Clone, Debug)]
pub struct AtPoint {
    /// Logarithm of the density of the whole point.
    pub ln_density: f64,
    /// For each cell the logarithm of the density of all the others, that cell integrated out.
    pub ln_density_without: Vec<f64>,
    /// For each cell what it was expected to be, given all the others.
    pub given_others: Vec<Univariate>,
}

/// A Student t in one dimension.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Univariate {
    /// Location.
    pub location: f64,
    /// Scale.
    pub scale: f64,
    /// Degrees of freedom.
    pub degrees_of_freedom: f64,
}

impl MultivariateT {
    /// The distribution; `None` unless `scale` is positive definite and all numbers are finite.
    #[must_use]
    pub fn new(
        location: DVector<f64>,
        scale: DMatrix<f64>,
        degrees_of_freedom: f64,
    ) -> Option<Self> {
        let cholesky = scale.clone().cholesky()?;
        let ln_determinant = 2.0 * cholesky.l().diagonal().iter().map(|d| d.ln()).sum::<f64>();
        let sound = ln_determinant.is_finite()
            && degrees_of_freedom > 0.0
            && location.iter().all(|x| x.is_finite());
        sound.then(|| Self {
            location,
            precision: cholesky.inverse(),
            scale,
            ln_determinant,
            degrees_of_freedom,
        })
    }

    /// The distribution of some of its cells: again a t, with the same degrees of freedom.
    ///
    /// Source: Kotz & Nadarajah 2004, *Multivariate t Distributions and Their Applications*, sec. 1.10 (from memory).
    #[must_use]
    pub fn only(&self, cells: &[usize]) -> Option<Self> {
        let n = cells.len();
        Self::new(
            DVector::from_fn(n, |i, _| self.location[cells[i]]),
            DMatrix::from_fn(n, n, |i, j| self.scale[(cells[i], cells[j])]),
            self.degrees_of_freedom,
        )
    }

    /// How many cells.
    #[must_use]
    pub fn len(&self) -> usize {
        self.location.len()
    }

    /// Whether it has no cell.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.location.is_empty()
    }

    /// A point drawn from it: a normal over the root of a chi-squared by its degrees of freedom.
    #[must_use]
    pub fn draw<R: Rng>(&self, rng: &mut R) -> Vec<f64> {
        let normal = DVector::from_fn(self.len(), |_, _| StandardNormal.sample(rng));
        let wider = stretch(self.degrees_of_freedom, rng);
        let off = self.scale.clone().cholesky().map(|root| root.l() * normal);
        let off = off.unwrap_or_else(|| DVector::zeros(self.len()));
        let point = &self.location + off * wider;
        point.iter().copied().collect()
    }

    /// Logarithm of the density and all that follows from the same products.
    ///
    /// Leaving out cell j takes `z_j²/Q_jj` from the squared distance and multiplies the determinant by `Q_jj`, where Q is
    /// the inverse of the scale and z = Q(x − location): the formulas of a partitioned inverse (Golub & Van Loan 2013,
    /// *Matrix Computations*, sec. 2.1.4, from memory). The conditional of one cell has ν + p − 1 degrees of freedom
    /// (Kotz & Nadarajah 2004, sec. 1.11, from memory).
    #[must_use]
    pub fn at(&self, point: &[f64]) -> AtPoint {
        let n = self.len();
        let nu = self.degrees_of_freedom;
        let off = DVector::from_fn(n, |i, _| point[i] - self.location[i]);
        let z = &self.precision * &off;
        let squared = off.dot(&z).max(0.0);
        let mut ln_density_without = Vec::with_capacity(n);
        let mut given_others = Vec::with_capacity(n);
        for cell in 0..n {
            let q = self.precision[(cell, cell)];
            let others = (squared - z[cell] * z[cell] / q).max(0.0);
            ln_density_without.push(ln_density(n - 1, nu, self.ln_determinant + q.ln(), others));
            given_others.push(Univariate {
                location: point[cell] - z[cell] / q,
                scale: ((nu + others) / ((nu + (n - 1) as f64) * q)).sqrt(),
                degrees_of_freedom: nu + (n - 1) as f64,
            });
        }
        AtPoint {
            ln_density: ln_density(n, nu, self.ln_determinant, squared),
            ln_density_without,
            given_others,
        }
    }
}

fn ln_density(n: usize, nu: f64, ln_determinant: f64, squared: f64) -> f64 {
    let n = n as f64;
    libm::lgamma((nu + n) / 2.0)
        - libm::lgamma(nu / 2.0)
        - n / 2.0 * (nu * std::f64::consts::PI).ln()
        - ln_determinant / 2.0
        - (nu + n) / 2.0 * (squared / nu).ln_1p()
}

/// The root of the degrees of freedom over a chi-squared with as many: what makes a t of a normal.
fn stretch<R: Rng>(degrees_of_freedom: f64, rng: &mut R) -> f64 {
    let chi_squared = ChiSquared::new(degrees_of_freedom).map(|d| d.sample(rng));
    chi_squared.map_or(1.0, |c| (degrees_of_freedom / c).sqrt())
}

impl Univariate {
    /// A value drawn from it.
    #[must_use]
    pub fn draw<R: Rng>(&self, rng: &mut R) -> f64 {
        let normal: f64 = StandardNormal.sample(rng);
        self.location + self.scale * normal * stretch(self.degrees_of_freedom, rng)
    }

    /// Logarithm of the density.
    #[must_use]
    pub fn ln_density(&self, x: f64) -> f64 {
        let z = (x - self.location) / self.scale;
        ln_density(1, self.degrees_of_freedom, 2.0 * self.scale.ln(), z * z)
    }

    /// Logarithm of the chance of a value at least as far out as `x`, on either side.
    ///
    /// Source: Abramowitz & Stegun 1964, eq. 26.7.1: the tail is the incomplete beta function I_y(ν/2, ½) at
    /// y = ν/(ν + t²).
    #[must_use]
    pub fn ln_tail(&self, x: f64) -> f64 {
        let t = (x - self.location) / self.scale;
        let nu = self.degrees_of_freedom;
        // 1 − y is formed on its own: near the centre y is 1 and its difference from 1 would be lost.
        let (y, rest) = (nu / (nu + t * t), t * t / (nu + t * t));
        ln_incomplete_beta(nu / 2.0, 0.5, y, rest)
    }
}

/// ln I_x(a, b) for x and 1 − x.
///
/// Source: NIST Digital Library of Mathematical Functions, eqs. 8.17.4 and 8.17.22, the fraction evaluated by Lentz's
/// method (Press et al. 2007, *Numerical Recipes* (3rd ed.), sec. 5.2).
fn ln_incomplete_beta(a: f64, b: f64, x: f64, one_minus_x: f64) -> f64 {
    if x <= 0.0 {
        return f64::NEG_INFINITY;
    }
    if one_minus_x <= 0.0 {
        return 0.0;
    }
    if x > (a + 1.0) / (a + b + 2.0) {
        return (-ln_incomplete_beta(b, a, one_minus_x, x).exp()).ln_1p();
    }
    let ln_front = a * x.ln() + b * one_minus_x.ln() - a.ln() + libm::lgamma(a + b)
        - libm::lgamma(a)
        - libm::lgamma(b);
    const TINY: f64 = 1e-300;
    // Converges in a number of steps of the order of √max(a, b); the bound is never met by degrees of freedom below 1e6.
    const MOST_STEPS: u32 = 10_000;
    let mut c = 1.0;
    let mut d = 1.0 / (1.0 - (a + b) * x / (a + 1.0));
    let mut fraction = d;
    for step in 1..MOST_STEPS {
        let m = f64::from(step);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let mut change = 1.0;
        for term in [even, odd] {
            d = 1.0 / not_zero(1.0 + term * d, TINY);
            c = not_zero(1.0 + term / c, TINY);
            change = c * d;
            fraction *= change;
        }
        if (change - 1.0).abs() < 1e-15 {
            break;
        }
    }
    ln_front + fraction.ln()
}

fn not_zero(x: f64, tiny: f64) -> f64 {
    if x.abs() < tiny { tiny } else { x }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: mean and covariance of a t, location and ν/(ν − 2) times scale (Gelman et al. 2013, table A.1), within five
    /// standard errors.
    #[test]
    fn draws_have_the_mean_and_covariance_of_a_t() {
        use chacha20::ChaCha8Rng;
        use rand::SeedableRng;

        let scale = DMatrix::from_row_slice(2, 2, &[4.0, 1.5, 1.5, 1.0]);
        let t = MultivariateT::new(DVector::from_vec(vec![3.0, -1.0]), scale, 12.0).unwrap();
        let (mut rng, n) = (ChaCha8Rng::seed_from_u64(5), 40_000);
        let draws: Vec<Vec<f64>> = (0..n).map(|_| t.draw(&mut rng)).collect();
        let mean = |f: &dyn Fn(&[f64]) -> f64| {
            let values: Vec<f64> = draws.iter().map(|d| f(d)).collect();
            let mean = values.iter().sum::<f64>() / f64::from(n);
            let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
            (mean, squares.sqrt() / f64::from(n))
        };
        let check = |f: &dyn Fn(&[f64]) -> f64, expected: f64| {
            let (found, error) = mean(f);
            assert!(
                (found - expected).abs() < 5.0 * error,
                "{found} {expected} {error}"
            );
        };
        check(&|d| d[0], 3.0);
        check(&|d| d[1], -1.0);
        check(&|d| (d[0] - 3.0).powi(2), 4.0 * 1.2);
        check(&|d| (d[0] - 3.0) * (d[1] + 1.0), 1.5 * 1.2);
        let (mut rng, one) = (
            ChaCha8Rng::seed_from_u64(6),
            Univariate {
                location: 2.0,
                scale: 3.0,
                degrees_of_freedom: 12.0,
            },
        );
        let draws: Vec<f64> = (0..n).map(|_| one.draw(&mut rng)).collect();
        let variance = draws.iter().map(|d| (d - 2.0).powi(2)).sum::<f64>() / f64::from(n);
        // The fourth moment of a t with 12 degrees of freedom is 3 + 6/8 times the squared variance (from memory).
        assert!(
            (variance / 10.8 - 1.0).abs() < 5.0 * (2.75 / f64::from(n)).sqrt(),
            "{variance}"
        );
    }

    fn standard(nu: f64) -> Univariate {
        Univariate {
            location: 0.0,
            scale: 1.0,
            degrees_of_freedom: nu,
        }
    }

    /// Source: closed forms of the tail for one and two degrees of freedom, 1 − (2/π) arctan t and 1 − t/√(2 + t²)
    /// (Johnson, Kotz & Balakrishnan 1995, *Continuous Univariate Distributions* vol. 2, ch. 28, from memory).
    #[test]
    fn tails_of_one_and_two_degrees_of_freedom() {
        for t in [0.01, 0.3, 1.0, 2.5, 12.706, 300.0_f64] {
            let one = std::f64::consts::FRAC_2_PI * (1.0 / t).atan();
            assert!(
                (standard(1.0).ln_tail(t).exp() / one - 1.0).abs() < 1e-12,
                "{t}"
            );
            let root = (2.0 + t * t).sqrt();
            let two = 2.0 / (root * (root + t));
            assert!(
                (standard(2.0).ln_tail(t).exp() / two - 1.0).abs() < 1e-12,
                "{t}"
            );
        }
    }

    /// Source: Abramowitz & Stegun 1964, table 26.10 (from memory): the two-sided 5 % and 1 % points.
    #[test]
    fn percentage_points() {
        for (nu, t, tail) in [
            (10.0, 2.228, 0.05),
            (30.0, 2.750, 0.01),
            (120.0, 1.980, 0.05),
        ] {
            assert!((standard(nu).ln_tail(t).exp() - tail).abs() < 2e-5, "{nu}");
        }
    }

    fn three() -> MultivariateT {
        let scale = DMatrix::from_row_slice(3, 3, &[2.0, 0.6, -0.3, 0.6, 1.0, 0.2, -0.3, 0.2, 0.5]);
        MultivariateT::new(DVector::from_vec(vec![1.0, -1.0, 0.5]), scale, 4.5).unwrap()
    }

    /// The chain rule: joint = marginal of the others × conditional, for every cell; and what is left out by formula is
    /// what the smaller distribution says.
    #[test]
    fn cells_multiply_up_to_the_whole() {
        let (t, point) = (three(), [2.0, 0.3, -1.0]);
        let at = t.at(&point);
        for cell in 0..3 {
            let others: Vec<usize> = (0..3).filter(|&c| c != cell).collect();
            let rest: Vec<f64> = others.iter().map(|&c| point[c]).collect();
            let smaller = t.only(&others).unwrap().at(&rest).ln_density;
            assert!((at.ln_density_without[cell] - smaller).abs() < 1e-12);
            let conditional = at.given_others[cell].ln_density(point[cell]);
            assert!((smaller + conditional - at.ln_density).abs() < 1e-12);
        }
    }

    /// Source: a t in one dimension is a normal divided by a χ (Abramowitz & Stegun 1964, sec. 26.7); its density summed
    /// over a fine grid is 1, and the sum outside t is the tail.
    #[test]
    fn density_and_tail_belong_together() {
        let t = standard(3.0);
        // The rule of midpoints is off by step²/24 times the slope at 1.5 (0.14), on both sides: 3e-9.
        let step = 5e-4;
        let mut beyond = 0.0;
        for i in 0..4_000_000 {
            beyond += 2.0 * step * t.ln_density(1.5 + (f64::from(i) + 0.5) * step).exp();
        }
        assert!((beyond - t.ln_tail(1.5).exp()).abs() < 1e-8);
    }

    #[test]
    fn a_flat_scale_is_refused() {
        let flat = DMatrix::from_element(2, 2, 1.0);
        assert!(MultivariateT::new(DVector::zeros(2), flat, 3.0).is_none());
    }
}
