//! The answer as a function of one number, and where another state overtakes.

use nalgebra::{DMatrix, DVector};

use crate::model::{BeliefId, ColumnRule, Model};
use crate::query::AskError;

use super::entry::Entry;
use super::probe::{Masses, Probe};
use super::terms::Place;

/// A chance that feeds more tables than this is not made a polynomial of: the nodes would lie too close.
const MOST_TABLES: usize = 12;
/// Halvings of an interval until its ends are neighbours.
const MOST_HALVINGS: usize = 100;

/// P(state, evidence) of every state as a polynomial of one chance from 0 to 1, by its Bernstein coefficients: one vector
/// of masses for each. Of degree 1 they are the masses at 0 and at 1.
#[derive(Clone, Debug)]
pub(super) struct Polynomial(Vec<Masses>);

impl Polynomial {
    /// The polynomial of an entry, if it is one: a chance that is written in proportion into one table (degree 1: every
    /// joint state uses one entry of it) or into several (one degree for each).
    ///
    /// # Source
    /// Bernstein form: Farouki & Rajan 1987, "On the numerical condition of polynomials in Bernstein form", Computer Aided
    /// Geometric Design 4:191–216.
    pub fn of(
        entry: &Entry,
        probe: &mut Probe<'_>,
        model: &Model,
    ) -> Result<Option<Self>, AskError> {
        let places = probe.places(entry.belief);
        if !entry.is_chance()
            || places.len() > MOST_TABLES
            || !is_proportional(places, entry.belief, model)
        {
            return Ok(None);
        }
        let spread = &model.beliefs.get(entry.belief).spread;
        let degree = places.len();
        let node = |i: usize| i as f64 / degree as f64;
        let mut at_nodes = Vec::with_capacity(degree + 1);
        for i in 0..=degree {
            at_nodes.push(probe.with(entry.belief, &entry.cells(spread, node(i)))?);
        }
        if degree == 1 {
            return Ok(Some(Self(at_nodes)));
        }
        let basis = DMatrix::from_fn(degree + 1, degree + 1, |i, j| bernstein(degree, j, node(i)));
        let lu = basis.lu();
        let n_states = at_nodes[0].len();
        let mut coefficients = vec![vec![0.0; n_states]; degree + 1];
        for q in 0..n_states {
            let values =
                DVector::from_iterator(degree + 1, at_nodes.iter().map(|masses| masses[q]));
            let Some(solved) = lu.solve(&values) else {
                return Ok(None);
            };
            for (coefficients, solved) in coefficients.iter_mut().zip(solved.iter()) {
                coefficients[q] = *solved;
            }
        }
        Ok(Some(Self(coefficients)))
    }

    /// How many tables the chance feeds.
    pub fn degree(&self) -> usize {
        self.0.len() - 1
    }

    /// The masses at a value.
    pub fn at(&self, x: f64) -> Masses {
        let n = self.degree();
        let mut sum = vec![0.0; self.0[0].len()];
        for (i, coefficients) in self.0.iter().enumerate() {
            let weight = bernstein(n, i, x);
            for (sum, c) in sum.iter_mut().zip(coefficients) {
                *sum += weight * c;
            }
        }
        sum
    }

    /// Their derivatives there.
    pub fn derivative(&self, x: f64) -> Masses {
        let n = self.degree();
        let mut sum = vec![0.0; self.0[0].len()];
        for (i, pair) in self.0.windows(2).enumerate() {
            let weight = n as f64 * bernstein(n - 1, i, x);
            for (sum, (c, next)) in sum.iter_mut().zip(pair[0].iter().zip(&pair[1])) {
                *sum += weight * (next - c);
            }
        }
        sum
    }

    /// The first value from `from` towards `to` (0 or 1) at which `lead` falls below 0; `lead` is a linear function of
    /// masses. None is missed: a polynomial whose Bernstein coefficients on an interval are all at least 0 is so itself.
    pub fn first_below(&self, from: f64, to: f64, lead: impl Fn(&Masses) -> f64) -> Option<f64> {
        let all: Vec<f64> = self.0.iter().map(lead).collect();
        if let [at_zero, at_one] = all[..] {
            let root = at_zero / (at_zero - at_one);
            let end = if to > from { at_one } else { at_zero };
            // Rounding may carry the root past the value it is looked for from.
            return (end < 0.0).then(|| {
                if to > from {
                    root.max(from)
                } else {
                    root.min(from)
                }
            });
        }
        let (below, above) = split(&all, from);
        if to > from {
            first_below_from_zero(&above, 0).map(|t| from + t * (1.0 - from))
        } else {
            let reversed: Vec<f64> = below.into_iter().rev().collect();
            first_below_from_zero(&reversed, 0).map(|t| from - t * from)
        }
    }
}

/// Whether every column that a belief is written into is a linear function of its chances.
fn is_proportional(places: &[Place], belief: BeliefId, model: &Model) -> bool {
    !places.is_empty()
        && places.iter().all(|place| match place {
            Place::Density(_) => false,
            Place::Table(id, rules) => model.tables[id.index()].as_ref().is_some_and(|table| {
                rules
                    .iter()
                    .all(|&rule| is_linear(&table.rules[rule], belief))
            }),
        })
}

fn is_linear(rule: &ColumnRule, belief: BeliefId) -> bool {
    match rule {
        ColumnRule::Certain(_)
        | ColumnRule::NeverReached
        | ColumnRule::Stated(_)
        | ColumnRule::Misreading(_)
        | ColumnRule::GradeReading(_) => true,
        ColumnRule::StrayInitials(rule) => rule.rate != rule.stray,
        ColumnRule::Simulated(rule) => {
            let by_genuine = rule.genuine.beliefs().contains(&belief);
            !by_genuine || is_linear(&rule.genuine, belief) && rule.simulated != belief
        }
        // Shares are brought back to one over the marks in use, so that they stand below the line, too.
        ColumnRule::MarkKinds(rule) => rule.shares != belief,
        // Shares of use are brought back to one over the engravings at hand; wear is raised to the power of the years.
        ColumnRule::Pulled(rule) => rule.never_seen == belief && rule.shares.belief != belief,
        ColumnRule::PlateState(_) | ColumnRule::Bands(_) => false,
        ColumnRule::WornReading(rule) => {
            let mut read = [&rule.kept, &rule.lost].into_iter();
            let by_reading = read.clone().any(|read| read.beliefs().contains(&belief));
            !by_reading || rule.loss != belief && read.all(|read| is_linear(read, belief))
        }
    }
}

/// The Bernstein basis C(n, i) xⁱ (1 − x)ⁿ⁻ⁱ.
fn bernstein(n: usize, i: usize, x: f64) -> f64 {
    let binomial = (0..i).fold(1.0, |c, k| c * (n - k) as f64 / (k + 1) as f64);
    binomial * x.powi(i as i32) * (1.0 - x).powi((n - i) as i32)
}

/// The coefficients on 0 to t and on t to 1.
///
/// Source: de Casteljau's algorithm (Farouki 2012, "The Bernstein polynomial basis: a centennial retrospective", Computer
/// Aided Geometric Design 29:379–419, sec. 3).
fn split(coefficients: &[f64], t: f64) -> (Vec<f64>, Vec<f64>) {
    let mut row = coefficients.to_vec();
    let (mut below, mut above) = (Vec::with_capacity(row.len()), Vec::with_capacity(row.len()));
    while let (Some(&first), Some(&last)) = (row.first(), row.last()) {
        below.push(first);
        above.push(last);
        row = row
            .windows(2)
            .map(|c| c[0] * (1.0 - t) + c[1] * t)
            .collect();
    }
    above.reverse();
    (below, above)
}

fn first_below_from_zero(coefficients: &[f64], halvings: usize) -> Option<f64> {
    if coefficients.iter().all(|&c| c >= 0.0) {
        return None;
    }
    if coefficients.first().is_some_and(|&c| c < 0.0) || halvings == MOST_HALVINGS {
        return Some(0.0);
    }
    let (below, above) = split(coefficients, 0.5);
    match first_below_from_zero(&below, halvings + 1) {
        Some(t) => Some(t / 2.0),
        None => first_below_from_zero(&above, halvings + 1).map(|t| 0.5 + t / 2.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// (x − 0.3)(x − 0.6)(x + 1), of degree 3.
    fn cubic() -> Polynomial {
        let f = |x: f64| (x - 0.3) * (x - 0.6) * (x + 1.0);
        let basis = DMatrix::from_fn(4, 4, |i, j| bernstein(3, j, i as f64 / 3.0));
        let values = DVector::from_fn(4, |i, _| f(i as f64 / 3.0));
        let solved = basis.lu().solve(&values).unwrap();
        Polynomial(solved.iter().map(|&c| vec![c]).collect())
    }

    #[test]
    fn values_derivatives_and_first_crossings() {
        let p = cubic();
        let x: f64 = 0.45;
        let value = (x - 0.3) * (x - 0.6) * (x + 1.0);
        assert!((p.at(x)[0] - value).abs() < 1e-15);
        let slope = (x - 0.6) * (x + 1.0) + (x - 0.3) * (x + 1.0) + (x - 0.3) * (x - 0.6);
        assert!((p.derivative(x)[0] - slope).abs() < 1e-14);
        let lead = |masses: &Masses| masses[0];
        let up = p.first_below(0.1, 1.0, lead).unwrap();
        assert!((up - 0.3).abs() < 1e-13, "{up}");
        assert_eq!(p.first_below(0.1, 0.0, lead), None);
        let down = p.first_below(0.8, 0.0, lead).unwrap();
        assert!((down - 0.6).abs() < 1e-13, "{down}");
        assert_eq!(p.first_below(0.8, 1.0, lead), None);
    }

    #[test]
    fn a_line_crosses_once() {
        let line = Polynomial(vec![vec![0.2], vec![-0.1]]);
        let lead = |masses: &Masses| masses[0];
        assert!((line.first_below(0.1, 1.0, lead).unwrap() - 2.0 / 3.0).abs() < 1e-15);
        assert_eq!(line.first_below(0.1, 0.0, lead), None);
    }
}
