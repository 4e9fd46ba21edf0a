//! Features present or absent, and classes in an order, with a hidden phase between.
//!
//! The features of one assemblage hang together: what is early comes with what is early. Taken as so many independent
//! witnesses they make a verdict far too sure. Here a hidden phase stands between class and features, one phase for each
//! class: an assemblage of class t is mostly of phase t, and with a chance that falls with the distance of a phase before
//! or after. Given the phase the features are independent, given the class they are not, and no number of features makes a
//! neighbouring class less probable than the chance that the phase strayed.
//!
//! Chances are means of Dirichlet distributions; phases are not observed, and are learned by expectation and maximisation.
//!
//! Source: Dempster, Laird & Rubin 1977, *JRSS B* 39:1–38 (EM); Lazarsfeld & Henry 1968, *Latent Structure Analysis*
//! (hidden classes); Gelman et al. 2013, sec. 3.4 (Dirichlet).

use nalgebra::DMatrix;

use super::LearnError;
use super::shares::shares;

/// Assemblages coded.
#[derive(Clone, Copy, Debug)]
pub struct Coded<'a> {
    /// One row for each assemblage: whether each feature is there.
    pub rows: &'a [Vec<bool>],
    /// The class of each, classes numbered in their order.
    pub class_of: &'a [usize],
    /// How many classes.
    pub n_classes: usize,
}

/// How strongly the beliefs lean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Strengths {
    /// Assemblages' worth of present, and of absent, before any is seen: Beta(a, a) for each feature.
    pub feature: f64,
    /// By what factor the chance of a phase falls for each step away from the class.
    pub step: f64,
    /// How many assemblages' worth that fall is to each class.
    pub phase: f64,
}

/// What is learned.
#[derive(Clone, Debug)]
pub struct Learned {
    /// P(phase | class): a row for each class.
    pub phase: DMatrix<f64>,
    /// For each class, assemblages behind its row.
    pub phase_seen: Vec<f64>,
    /// P(feature present | phase): a row for each phase.
    pub present: DMatrix<f64>,
    /// For each phase, assemblages behind its row.
    pub present_seen: Vec<f64>,
}

const FEATURE: [f64; 3] = [0.1, 0.25, 0.5];
const STEP: [f64; 3] = [0.05, 0.1, 0.2];
const PHASE: [f64; 2] = [1.0, 10.0];
/// Parts into which the collection falls when strengths are chosen; each is judged by the others.
const PARTS: usize = 5;
/// Rounds of expectation and maximisation: the scores no longer change in the third digit after ten.
const ROUNDS: usize = 25;

/// Learns from assemblages: strengths chosen among themselves, then the chances.
///
/// # Errors
/// [`LearnError::Empty`] without an assemblage, or if a part of the collection would be.
pub fn learn(coded: Coded<'_>) -> Result<Learned, LearnError> {
    fit(coded, choose(coded)?)
}

/// The strengths under which the classes of every fifth assemblage are best told by the rest, each fifth in turn.
///
/// Source: Stone 1974, "Cross-validatory choice and assessment of statistical predictions", *JRSS B* 36:111–147.
///
/// # Errors
/// As for [`learn`].
pub fn choose(coded: Coded<'_>) -> Result<Strengths, LearnError> {
    let mut best: Option<(f64, Strengths)> = None;
    for feature in FEATURE {
        for step in STEP {
            for phase in PHASE {
                let strengths = Strengths {
                    feature,
                    step,
                    phase,
                };
                let mut score = 0.0;
                for part in 0..PARTS {
                    score += score_of_part(coded, part, strengths)?;
                }
                if best.is_none_or(|(highest, _)| score > highest) {
                    best = Some((score, strengths));
                }
            }
        }
    }
    best.map(|(_, strengths)| strengths)
        .ok_or(LearnError::Empty)
}

fn score_of_part(coded: Coded<'_>, part: usize, strengths: Strengths) -> Result<f64, LearnError> {
    let kept: Vec<usize> = (0..coded.rows.len())
        .filter(|i| i % PARTS != part)
        .collect();
    let rows: Vec<Vec<bool>> = kept.iter().map(|&i| coded.rows[i].clone()).collect();
    let class_of: Vec<usize> = kept.iter().map(|&i| coded.class_of[i]).collect();
    let learned = fit(
        Coded {
            rows: &rows,
            class_of: &class_of,
            n_classes: coded.n_classes,
        },
        strengths,
    )?;
    // Every class is a district of its own: one rule of succession.
    let own: Vec<usize> = (0..coded.n_classes).collect();
    let shares = shares(&own, &class_of);
    let mut score = 0.0;
    for i in (part..coded.rows.len()).step_by(PARTS) {
        let ln_p: Vec<f64> = learned
            .ln_chances(&coded.rows[i])
            .iter()
            .zip(&shares)
            .map(|(chance, share)| chance + share.ln())
            .collect();
        score += ln_p[coded.class_of[i]] - ln_sum(&ln_p);
    }
    Ok(score)
}

/// The chances under given strengths.
///
/// # Errors
/// [`LearnError::Empty`] without an assemblage.
pub fn fit(coded: Coded<'_>, strengths: Strengths) -> Result<Learned, LearnError> {
    let n_features = coded.rows.first().ok_or(LearnError::Empty)?.len();
    let n = coded.n_classes;
    let fall: DMatrix<f64> = DMatrix::from_fn(n, n, |class, phase| {
        strengths.step.powf(class.abs_diff(phase) as f64)
    });
    let fall = DMatrix::from_fn(n, n, |class, phase| {
        fall[(class, phase)] / fall.row(class).sum()
    });
    // Each assemblage begins as one of its class's own phase, as far as the fall allows.
    let mut belongs = DMatrix::from_fn(coded.rows.len(), n, |i, phase| {
        fall[(coded.class_of[i], phase)]
    });
    let mut learned = maximise(coded, &belongs, &fall, strengths, n_features);
    for _ in 0..ROUNDS {
        // Most features of an assemblage are absent: the logarithms are taken once, and a present one is a correction.
        let absent = learned.present.map(|p: f64| (-p).ln_1p());
        let correction = learned.present.map(f64::ln) - &absent;
        let all_absent: Vec<f64> = absent.row_iter().map(|row| row.sum()).collect();
        let ln_phase = learned.phase.map(f64::ln);
        for (i, row) in coded.rows.iter().enumerate() {
            let mut ln_p = all_absent.clone();
            for (feature, _) in row.iter().enumerate().filter(|(_, there)| **there) {
                for (phase, p) in ln_p.iter_mut().enumerate() {
                    *p += correction[(phase, feature)];
                }
            }
            for (phase, p) in ln_p.iter_mut().enumerate() {
                *p += ln_phase[(coded.class_of[i], phase)];
            }
            let total = ln_sum(&ln_p);
            for (phase, p) in ln_p.into_iter().enumerate() {
                belongs[(i, phase)] = (p - total).exp();
            }
        }
        learned = maximise(coded, &belongs, &fall, strengths, n_features);
    }
    Ok(learned)
}

/// The means of the Dirichlet distributions, were the phases as they are believed to be.
fn maximise(
    coded: Coded<'_>,
    belongs: &DMatrix<f64>,
    fall: &DMatrix<f64>,
    strengths: Strengths,
    n_features: usize,
) -> Learned {
    let n = coded.n_classes;
    let mut of_class: DMatrix<f64> = DMatrix::zeros(n, n);
    let mut present: DMatrix<f64> = DMatrix::zeros(n, n_features);
    let mut n_phase = vec![0.0; n];
    for (i, row) in coded.rows.iter().enumerate() {
        for phase in 0..n {
            let share = belongs[(i, phase)];
            of_class[(coded.class_of[i], phase)] += share;
            n_phase[phase] += share;
            for (feature, _) in row.iter().enumerate().filter(|(_, there)| **there) {
                present[(phase, feature)] += share;
            }
        }
    }
    let phase_seen: Vec<f64> = (0..n)
        .map(|class| of_class.row(class).sum() + strengths.phase)
        .collect();
    let present_seen: Vec<f64> = n_phase
        .iter()
        .map(|n| n + 2.0 * strengths.feature)
        .collect();
    Learned {
        phase: DMatrix::from_fn(n, n, |class, phase| {
            (of_class[(class, phase)] + strengths.phase * fall[(class, phase)]) / phase_seen[class]
        }),
        present: DMatrix::from_fn(n, n_features, |phase, feature| {
            (present[(phase, feature)] + strengths.feature) / present_seen[phase]
        }),
        phase_seen,
        present_seen,
    }
}

impl Learned {
    /// For each class, ln P(features | class).
    #[must_use]
    pub fn ln_chances(&self, row: &[bool]) -> Vec<f64> {
        let of_phases = self.ln_chances_of_phases(row);
        let of_class = |class: usize| {
            let terms: Vec<f64> = of_phases
                .iter()
                .enumerate()
                .map(|(phase, chance)| chance + self.phase[(class, phase)].ln())
                .collect();
            ln_sum(&terms)
        };
        (0..self.phase.nrows()).map(of_class).collect()
    }

    /// For each phase, ln P(features | phase).
    fn ln_chances_of_phases(&self, row: &[bool]) -> Vec<f64> {
        let of_phase = |phase: usize| {
            row.iter()
                .enumerate()
                .map(|(feature, &there)| {
                    let p: f64 = self.present[(phase, feature)];
                    if there { p.ln() } else { (-p).ln_1p() }
                })
                .sum()
        };
        (0..self.present.nrows()).map(of_phase).collect()
    }
}

fn ln_sum(terms: &[f64]) -> f64 {
    let highest = terms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    highest + terms.iter().map(|t| (t - highest).exp()).sum::<f64>().ln()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    proptest! {
        /// However many features agree, the odds of two classes never move beyond the odds that a phase gives them: what
        /// independent features would break.
        #[test]
        fn features_of_one_assemblage_are_bounded(
            rows in proptest::collection::vec(proptest::collection::vec(any::<bool>(), 30), 12),
            asked in proptest::collection::vec(any::<bool>(), 30),
        ) {
            let class_of: Vec<usize> = (0..12).map(|i| i % 3).collect();
            let coded = Coded { rows: &rows, class_of: &class_of, n_classes: 3 };
            let learned = fit(coded, Strengths { feature: 0.1, step: 0.1, phase: 1.0 }).unwrap();
            let ln = learned.ln_chances(&asked);
            for (a, b) in [(0, 1), (1, 2), (0, 2)] {
                let odds = (0..3).map(|phase| (learned.phase[(a, phase)] / learned.phase[(b, phase)]).ln());
                let (low, high) = odds.fold((f64::INFINITY, f64::NEG_INFINITY), |(l, h), x| (l.min(x), h.max(x)));
                let found = ln[a] - ln[b];
                prop_assert!(found > low - 1e-9 && found < high + 1e-9, "{low} {found} {high}");
            }
            for class in 0..3 {
                prop_assert!((learned.phase.row(class).sum() - 1.0).abs() < 1e-12);
            }
            prop_assert!(learned.present.iter().all(|&p| p > 0.0 && p < 1.0));
        }
    }

    /// Source: counted by hand. Where the chance of straying is as good as nothing, phases are the classes, and the chances
    /// are (n + a)/(N + 2a).
    #[test]
    fn without_straying_it_counts() {
        let rows = [vec![true], vec![false], vec![true], vec![true]];
        let coded = Coded {
            rows: &rows,
            class_of: &[0, 0, 0, 1],
            n_classes: 2,
        };
        let strengths = Strengths {
            feature: 0.5,
            step: 1e-12,
            phase: 1.0,
        };
        let learned = fit(coded, strengths).unwrap();
        assert!((learned.present[(0, 0)] - 2.5 / 4.0).abs() < 1e-9);
        assert!((learned.present[(1, 0)] - 1.5 / 2.0).abs() < 1e-9);
        assert!((learned.phase[(0, 0)] - 1.0).abs() < 1e-9);
    }
}
