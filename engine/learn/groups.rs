//! Quantities measured together, with pieces in classes and classes in districts.
//!
//! Within a district, row i of the measured values is y_i = m + a_class(i) + e_i, where the district's mean m, the
//! departure a of each class and the scatter e of each piece are normal with covariances Σ/κ_d, Σ/κ_c and Σ, and Σ is
//! inverse Wishart. Their sums are jointly normal with row covariance C = 1/κ_d + [same class]/κ_c + [same row], so that
//! Σ and all means integrate out in closed form: the next piece of each class is a multivariate t. It is the normal with
//! inverse-Wishart prior taken one level up; with one class and no district it is that model.
//!
//! Source: Gelman et al. 2013, *Bayesian Data Analysis* (3rd ed.), sec. 3.6 (one class); Murphy 2007, "Conjugate Bayesian
//! analysis of the Gaussian distribution", eqs. 250–258 (the same, with predictive, from memory); Dawid 1981, "Some
//! matrix-variate distribution theory", *Biometrika* 68:265–274 (rows with a covariance of their own).

use nalgebra::{DMatrix, DVector};

use super::LearnError;
use super::readings::Readings;
use super::shares::shares;
use super::student_t::{MultivariateT, Univariate};

/// How strongly the levels hold together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strengths {
    /// κ_c: how many pieces' worth the district is to a class's mean.
    pub class: f64,
    /// κ_d: how many pieces' worth the collection is to a district's mean.
    pub district: f64,
    /// Degrees of freedom of the inverse Wishart, above the number of columns.
    pub scatter: f64,
}

/// Pieces measured together.
#[derive(Clone, Copy, Debug)]
pub struct Pieces<'a> {
    /// One row for each piece, one cell for each column.
    pub rows: &'a [Vec<f64>],
    /// The class of each piece.
    pub class_of: &'a [usize],
    /// The district of each class.
    pub districts: &'a [usize],
}

/// What is the same for every strength: where all districts lie, and how much pieces of one class differ in each column.
struct Common {
    centre: DVector<f64>,
    variance: DVector<f64>,
}

/// The grid that [`choose`] looks through: weak to strong, half a decade apart where it matters.
const CLASS: [f64; 4] = [1.0, 3.0, 10.0, 30.0];
const DISTRICT: [f64; 3] = [0.01, 0.1, 1.0];
const SCATTER: [f64; 3] = [2.0, 10.0, 30.0];

/// Learns from pieces: strengths chosen among themselves, then the density of readings for each class.
///
/// # Errors
/// [`LearnError`] if nothing shows how much pieces of one class differ, or a column never does.
pub fn learn(pieces: Pieces<'_>) -> Result<Readings, LearnError> {
    fit(pieces, choose(pieces)?)
}

/// The density of readings for each class, in closed form.
///
/// # Errors
/// As for [`learn`].
pub fn fit(pieces: Pieces<'_>, strengths: Strengths) -> Result<Readings, LearnError> {
    let common = common(pieces)?;
    let mut classes: Vec<Option<MultivariateT>> = vec![None; pieces.districts.len()];
    for district in districts_of(pieces) {
        for (class, t) in predictives(pieces, district, None, &common, strengths)? {
            classes[class] = Some(t);
        }
    }
    let classes: Option<Vec<MultivariateT>> = classes.into_iter().collect();
    Ok(Readings::new(
        classes.ok_or(LearnError::Empty)?,
        columns(pieces),
        pieces.rows.len(),
    ))
}

/// The strengths under which each piece's class is best told from its own readings by all the other pieces: the largest
/// sum of log scores, the first of equals.
///
/// Source: Geisser & Eddy 1979, "A predictive approach to model selection", *JASA* 74:153–160.
///
/// # Errors
/// As for [`learn`].
pub fn choose(pieces: Pieces<'_>) -> Result<Strengths, LearnError> {
    let common = common(pieces)?;
    let mut best: Option<(f64, Strengths)> = None;
    for class in CLASS {
        for district in DISTRICT {
            for scatter in SCATTER {
                let strengths = Strengths {
                    class,
                    district,
                    scatter,
                };
                let score = score(pieces, &common, strengths)?;
                if best.is_none_or(|(highest, _)| score > highest) {
                    best = Some((score, strengths));
                }
            }
        }
    }
    best.map(|(_, strengths)| strengths)
        .ok_or(LearnError::Empty)
}

/// Sum over the pieces of ln P(its class | its readings, all other pieces).
fn score(pieces: Pieces<'_>, common: &Common, strengths: Strengths) -> Result<f64, LearnError> {
    let columns = columns(pieces);
    let n_classes = pieces.districts.len();
    // Leaving a piece out changes the densities of its own district's classes alone.
    let mut whole: Vec<Option<MultivariateT>> = vec![None; n_classes];
    for district in districts_of(pieces) {
        for (class, t) in predictives(pieces, district, None, common, strengths)? {
            whole[class] = Some(t);
        }
    }
    let mut sum = 0.0;
    for left_out in 0..pieces.rows.len() {
        let own = pieces.class_of[left_out];
        let mut classes = whole.clone();
        for (class, t) in predictives(
            pieces,
            pieces.districts[own],
            Some(left_out),
            common,
            strengths,
        )? {
            classes[class] = Some(t);
        }
        let classes: Option<Vec<MultivariateT>> = classes.into_iter().collect();
        let readings = Readings::new(
            classes.ok_or(LearnError::Empty)?,
            columns.clone(),
            pieces.rows.len(),
        );
        let others: Vec<usize> = (0..pieces.rows.len())
            .filter(|&i| i != left_out)
            .map(|i| pieces.class_of[i])
            .collect();
        let ln_p: Vec<f64> = readings
            .ln_densities_of_all(&pieces.rows[left_out])
            .iter()
            .zip(shares(pieces.districts, &others))
            .map(|(density, share)| density + share.ln())
            .collect();
        let highest = ln_p.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = ln_p.iter().map(|p| (p - highest).exp()).sum();
        sum += ln_p[own] - highest - total.ln();
    }
    Ok(sum)
}

fn districts_of(pieces: Pieces<'_>) -> Vec<usize> {
    let mut districts = pieces.districts.to_vec();
    districts.sort_unstable();
    districts.dedup();
    districts
}

fn common(pieces: Pieces<'_>) -> Result<Common, LearnError> {
    let n_columns = pieces.rows.first().ok_or(LearnError::Empty)?.len();
    let mean = |among: &[usize]| {
        let sum = among.iter().fold(DVector::zeros(n_columns), |sum, &i| {
            sum + DVector::from_column_slice(&pieces.rows[i])
        });
        sum / among.len() as f64
    };
    let members = |wanted: &dyn Fn(usize) -> bool| -> Vec<usize> {
        (0..pieces.rows.len())
            .filter(|&i| wanted(pieces.class_of[i]))
            .collect()
    };
    let mut squares: DVector<f64> = DVector::zeros(n_columns);
    let mut n_free = 0usize;
    for class in 0..pieces.districts.len() {
        let members = members(&|c| c == class);
        if members.is_empty() {
            continue;
        }
        let mean = mean(&members);
        n_free += members.len() - 1;
        for &i in &members {
            let off = DVector::from_column_slice(&pieces.rows[i]) - &mean;
            squares += off.component_mul(&off);
        }
    }
    if n_free == 0 {
        return Err(LearnError::NoSecondPiece);
    }
    if let Some(column) = squares.iter().position(|&s| s <= 0.0) {
        return Err(LearnError::NeverVaries { column: column + 1 });
    }
    let means: Vec<DVector<f64>> = districts_of(pieces)
        .into_iter()
        .map(|d| members(&|c| pieces.districts[c] == d))
        .filter(|members| !members.is_empty())
        .map(|members| mean(&members))
        .collect();
    let n_means = means.len() as f64;
    let centre: DVector<f64> = means
        .into_iter()
        .fold(DVector::zeros(n_columns), |sum, mean| sum + mean)
        / n_means;
    Ok(Common {
        centre,
        variance: squares / n_free as f64,
    })
}

/// Each class of one district with the distribution of its next piece, `left_out` not counted.
fn predictives(
    pieces: Pieces<'_>,
    district: usize,
    left_out: Option<usize>,
    common: &Common,
    strengths: Strengths,
) -> Result<Vec<(usize, MultivariateT)>, LearnError> {
    let among: Vec<usize> = (0..pieces.rows.len())
        .filter(|&i| pieces.districts[pieces.class_of[i]] == district && Some(i) != left_out)
        .collect();
    let (n, n_columns) = (among.len(), common.centre.len());
    let shared = |a: usize, b: usize| {
        1.0 / strengths.district + if a == b { 1.0 / strengths.class } else { 0.0 }
    };
    let class = |i: usize| pieces.class_of[among[i]];
    let covariance = DMatrix::from_fn(n, n, |i, j| {
        shared(class(i), class(j)) + if i == j { 1.0 } else { 0.0 }
    });
    let inverse = covariance
        .cholesky()
        .ok_or(LearnError::OutOfRange)?
        .inverse();
    let off = DMatrix::from_fn(n, n_columns, |i, j| {
        pieces.rows[among[i]][j] - common.centre[j]
    });
    let weighted = &inverse * &off;
    // The inverse Wishart's mean is the diagonal of the variances within classes.
    let scatter = n_columns as f64 + strengths.scatter;
    let prior = DMatrix::from_diagonal(&common.variance) * (strengths.scatter - 1.0);
    let sum = prior + off.transpose() * &weighted;
    let sum = (&sum + sum.transpose()) * 0.5;
    let degrees_of_freedom = scatter + n as f64 - n_columns as f64 + 1.0;
    let mut found = Vec::new();
    for (next, _) in pieces
        .districts
        .iter()
        .enumerate()
        .filter(|(_, d)| **d == district)
    {
        let with = DVector::from_fn(n, |i, _| shared(class(i), next));
        let location = &common.centre + weighted.transpose() * &with;
        let spread = 1.0 + shared(next, next) - with.dot(&(&inverse * &with));
        let t = MultivariateT::new(
            location,
            &sum * (spread / degrees_of_freedom),
            degrees_of_freedom,
        );
        found.push((next, t.ok_or(LearnError::OutOfRange)?));
    }
    Ok(found)
}

/// Each column over the whole collection, whatever the class.
fn columns(pieces: Pieces<'_>) -> Vec<Univariate> {
    let n = pieces.rows.len() as f64;
    let n_columns = pieces.rows.first().map_or(0, Vec::len);
    (0..n_columns)
        .map(|column| {
            let cells = || pieces.rows.iter().map(|row| row[column]);
            let mean = cells().sum::<f64>() / n;
            let squares: f64 = cells().map(|x| (x - mean) * (x - mean)).sum();
            // The next value of a normal of which nothing is known beforehand: Gelman et al. 2013, sec. 3.2.
            Univariate {
                location: mean,
                scale: (squares / (n - 1.0) * (1.0 + 1.0 / n)).sqrt(),
                degrees_of_freedom: n - 1.0,
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const STRENGTHS: Strengths = Strengths {
        class: 3.0,
        district: 0.5,
        scatter: 4.0,
    };

    fn rows() -> Vec<Vec<f64>> {
        [
            [1.0, 2.0],
            [1.4, 2.9],
            [0.7, 2.2],
            [5.0, 0.3],
            [5.6, 1.1],
            [4.1, 0.2],
        ]
        .iter()
        .map(|row| row.to_vec())
        .collect()
    }

    /// Source: Gelman et al. 2013, *Bayesian Data Analysis* (3rd ed.), sec. 3.6: with one class in a district the model is
    /// the normal with inverse-Wishart prior, κ₀ the two strengths in series, and its next piece is a t with ν_n − p + 1
    /// degrees of freedom at μ_n, scale Λ_n (κ_n + 1)/(κ_n (ν_n − p + 1)).
    #[test]
    fn one_class_is_the_normal_inverse_wishart() {
        let (rows, class_of) = (rows(), [0, 0, 0, 1, 1, 1]);
        let pieces = Pieces {
            rows: &rows,
            class_of: &class_of,
            districts: &[0, 1],
        };
        let common = common(pieces).unwrap();
        let found = predictives(pieces, 0, None, &common, STRENGTHS).unwrap();
        let (n, p) = (3.0, 2.0);
        let k0 = 1.0 / (1.0 / STRENGTHS.class + 1.0 / STRENGTHS.district);
        let mean = DVector::from_vec(vec![(1.0 + 1.4 + 0.7) / n, (2.0 + 2.9 + 2.2) / n]);
        let mut scatter = DMatrix::from_diagonal(&common.variance) * (STRENGTHS.scatter - 1.0);
        for row in &rows[..3] {
            let off = DVector::from_column_slice(row) - &mean;
            scatter += &off * off.transpose();
        }
        let off = &mean - &common.centre;
        scatter += &off * off.transpose() * (k0 * n / (k0 + n));
        let location = (&common.centre * k0 + mean * n) / (k0 + n);
        let freedom = p + STRENGTHS.scatter + n - p + 1.0;
        let scale = scatter * ((k0 + n + 1.0) / ((k0 + n) * freedom));
        let by_hand = MultivariateT::new(location, scale, freedom).unwrap();
        for point in [[1.0, 2.0], [-3.0, 7.0], [5.0, 0.5]] {
            let (ours, theirs) = (found[0].1.at(&point), by_hand.at(&point));
            assert!((ours.ln_density - theirs.ln_density).abs() < 1e-10);
        }
    }

    /// The next two pieces, of two classes of a district, are as probable in one order as in the other.
    #[test]
    fn pieces_come_in_any_order() {
        let (rows, class_of) = (rows(), vec![0, 0, 1, 1, 1, 2]);
        fn pieces<'a>(rows: &'a [Vec<f64>], class_of: &'a [usize]) -> Pieces<'a> {
            Pieces {
                rows,
                class_of,
                districts: &[0, 0, 1],
            }
        }
        let common = common(pieces(&rows, &class_of)).unwrap();
        let next = |rows: &[Vec<f64>], class_of: &[usize], class: usize, point: &[f64]| {
            let found = predictives(pieces(rows, class_of), 0, None, &common, STRENGTHS).unwrap();
            found[class].1.at(point).ln_density
        };
        let points = [(0usize, vec![1.1, 2.0]), (1, vec![4.0, 1.0])];
        let both = |first: usize, second: usize| {
            let ((class, point), (other, then)) = (&points[first], &points[second]);
            let (mut more, mut classes) = (rows.clone(), class_of.clone());
            let one = next(&more, &classes, *class, point);
            more.push(point.clone());
            classes.push(*class);
            one + next(&more, &classes, *other, then)
        };
        assert!((both(0, 1) - both(1, 0)).abs() < 1e-10);
    }

    #[test]
    fn what_cannot_be_learned_says_why() {
        fn pieces<'a>(rows: &'a [Vec<f64>], class_of: &'a [usize]) -> Pieces<'a> {
            Pieces {
                rows,
                class_of,
                districts: &[0, 0],
            }
        }
        let rows = vec![vec![1.0, 2.0], vec![1.5, 2.0]];
        let error = learn(pieces(&rows, &[0, 1])).unwrap_err();
        assert_eq!(error, LearnError::NoSecondPiece);
        let error = learn(pieces(&rows, &[0, 0])).unwrap_err();
        assert_eq!(error, LearnError::NeverVaries { column: 2 });
        assert_eq!(learn(pieces(&[], &[])).unwrap_err(), LearnError::Empty);
    }
}
