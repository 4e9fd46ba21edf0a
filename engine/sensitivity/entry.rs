//! The entries of beliefs that can be moved, as the expert knows them.

use crate::model::chance_names::chance_names;
use crate::model::{BeliefId, ColumnRule, MeasureFamily, MeasureRules, Model, Spread};

use super::covary::covary;
use super::credible;

/// How far a mean is moved in search of a tipping point, in standard deviations of what is believed.
const REACH: f64 = 10.0;
/// By what factor a standard deviation is moved in that search.
const STRETCH: f64 = 16.0;

/// Which number of a belief is moved, and what moves with it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Way {
    /// One chance of several; the others in proportion.
    Chance(usize),
    /// The mean of a normal, or one of three.
    Mean(usize),
    /// The standard deviation of a normal, or one of three; correlations stay.
    Deviation(usize),
}

/// One number of one belief.
#[derive(Clone, Debug)]
pub(super) struct Entry {
    pub belief: BeliefId,
    /// What it is called: a state, "right", "mean", "sd".
    pub label: String,
    /// The number as stated.
    pub stated: f64,
    /// Between which values it lies with nine chances in ten.
    pub interval: [f64; 2],
    /// Between which values a tipping point is looked for.
    pub domain: [f64; 2],
    way: Way,
    /// How many means the belief has.
    n_means: usize,
}

impl Entry {
    /// Whether it is a chance, which moves in proportion with the other chances of its row.
    pub fn is_chance(&self) -> bool {
        matches!(self.way, Way::Chance(_))
    }

    /// Its position among the numbers of the belief: chances, or means and then standard deviations.
    pub fn cell(&self) -> usize {
        match self.way {
            Way::Chance(k) | Way::Mean(k) => k,
            Way::Deviation(axis) => axis + self.n_means,
        }
    }

    /// Whether it is a standard deviation, of which ratios count.
    pub fn is_ratio(&self) -> bool {
        matches!(self.way, Way::Deviation(_))
    }

    /// All numbers of the belief with this one at `x`.
    pub fn cells(&self, spread: &Spread, x: f64) -> Vec<f64> {
        match (spread, self.way) {
            (Spread::Categorical { say }, Way::Chance(k)) => {
                covary(say, k, x).unwrap_or_else(|| say.clone())
            }
            (Spread::Normal { sd, .. }, Way::Mean(_)) => vec![x, *sd],
            (Spread::Normal { mean, .. }, Way::Deviation(_)) => vec![*mean, x],
            (Spread::Trivariate { mean, covariance }, way) => {
                let mut cells = mean.to_vec();
                cells.extend(covariance);
                match way {
                    Way::Mean(axis) => cells[axis] = x,
                    Way::Deviation(axis) => {
                        let factor = x / self.stated;
                        for (cell, (i, j)) in cells[3..].iter_mut().zip(TRIANGLE) {
                            *cell *= factor.powi(i32::from(i == axis) + i32::from(j == axis));
                        }
                    }
                    Way::Chance(_) => {}
                }
                cells
            }
            // An entry is made from the spread of its own belief.
            (Spread::Categorical { say }, _) => say.clone(),
            (Spread::Normal { mean, sd }, Way::Chance(_)) => vec![*mean, *sd],
        }
    }
}

/// Axes of the six cells of a covariance.
const TRIANGLE: [(usize, usize); 6] = [(0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2)];
const DIAGONAL: [usize; 3] = [0, 3, 5];

/// Every number of a belief that can be moved by itself. Of a row of two chances, the first: the other is what is left.
pub(super) fn entries(model: &Model, belief: BeliefId) -> Vec<Entry> {
    let stated = model.beliefs.get(belief);
    let seen = stated.seen;
    match &stated.spread {
        Spread::Categorical { say } => {
            let labels = chance_names(model, belief);
            let label = |k: usize| match labels.get(k) {
                Some(label) => label.clone(),
                None => format!("entry {}", k + 1),
            };
            let n = if say.len() == 2 { 1 } else { say.len() };
            // An entry of 1 among several has nobody to give to by itself; the zeros beside it can be moved.
            let movable = |&k: &usize| covary(say, k, 0.5).is_some();
            let entry = |k: usize| {
                let others = say.iter().enumerate().filter(|&(j, _)| j != k);
                let rest = others.map(|(_, p)| p).sum();
                Entry {
                    belief,
                    label: label(k),
                    stated: say[k],
                    interval: credible::chance(say[k], rest, seen),
                    domain: [0.0, 1.0],
                    way: Way::Chance(k),
                    n_means: 0,
                }
            };
            (0..n).filter(movable).map(entry).collect()
        }
        Spread::Normal { mean, sd } => {
            let [of_mean, of_sd] = if is_of_logarithm(model, belief) {
                ["ln of the median", "ln of the factor"]
            } else {
                ["mean", "sd"]
            };
            vec![
                Entry::mean(belief, of_mean.to_owned(), (0, 1), *mean, *sd, (seen, seen)),
                Entry::deviation(belief, of_sd.to_owned(), (0, 1), *sd, (seen, seen)),
            ]
        }
        Spread::Trivariate { mean, covariance } => {
            let sd = DIAGONAL.map(|cell| covariance[cell].sqrt());
            // Each axis of an inverse Wishart loses two degrees of freedom to the others (Gelman et al. 2013, sec. 3.6).
            let freedom = seen - 2.0;
            let names = ["L*", "a*", "b*"];
            let means = (0..3).map(|axis| {
                let label = format!("mean {}", names[axis]);
                Entry::mean(
                    belief,
                    label,
                    (axis, 3),
                    mean[axis],
                    sd[axis],
                    (seen, freedom),
                )
            });
            let deviations = (0..3).map(|axis| {
                let label = format!("sd {}", names[axis]);
                Entry::deviation(belief, label, (axis, 3), sd[axis], (seen, freedom))
            });
            means.chain(deviations).collect()
        }
    }
}

impl Entry {
    /// A mean: which of how many, with the pieces behind it and the degrees of freedom they leave.
    fn mean(
        belief: BeliefId,
        label: String,
        (axis, n_means): (usize, usize),
        mean: f64,
        sd: f64,
        (seen, freedom): (f64, f64),
    ) -> Self {
        let interval = credible::mean(mean, sd, seen, freedom);
        Self {
            belief,
            label,
            stated: mean,
            domain: [
                (mean - REACH * sd).min(interval[0]),
                (mean + REACH * sd).max(interval[1]),
            ],
            interval,
            way: Way::Mean(axis),
            n_means,
        }
    }

    /// A standard deviation, likewise.
    fn deviation(
        belief: BeliefId,
        label: String,
        (axis, n_means): (usize, usize),
        sd: f64,
        (seen, freedom): (f64, f64),
    ) -> Self {
        let interval = credible::deviation(sd, seen, freedom);
        Self {
            belief,
            label,
            stated: sd,
            domain: [
                (sd / STRETCH).min(interval[0]),
                (sd * STRETCH).max(interval[1]),
            ],
            interval,
            way: Way::Deviation(axis),
            n_means,
        }
    }
}

/// Whether a belief about a normal quantity is about a logarithm.
fn is_of_logarithm(model: &Model, belief: BeliefId) -> bool {
    let of_bands = |rule: &ColumnRule| match rule {
        ColumnRule::Bands(bands) => bands.logarithmic && bands.belief == belief,
        _ => false,
    };
    let of_measure = |rules: &MeasureRules| match rules {
        MeasureRules::Quantity {
            belief_of_configuration,
            family,
        } => *family == MeasureFamily::Lognormal && belief_of_configuration.contains(&belief),
        _ => false,
    };
    let rules = model.tables.iter().flatten().flat_map(|table| &table.rules);
    rules.into_iter().any(of_bands) || model.measures.iter().any(of_measure)
}
