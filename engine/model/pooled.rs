//! Several experts' packs as one: their beliefs pooled by weight, belief by belief.
//!
//! - Linear: p = Σ wᵢ pᵢ. It keeps what is averaged over: pooled marginals are marginals of the pool. Source: Stone 1961,
//!   "The opinion pool", Annals of Mathematical Statistics 32:1339–1342.
//! - Logarithmic: p ∝ Π pᵢ^wᵢ. It is externally Bayesian: pooling and then learning from a likelihood all agree on is the same
//!   as learning and then pooling. Source: Genest & Zidek 1986, "Combining probability distributions", Statistical Science
//!   1:114–135, sec. 3.
//!
//! A normal quantity pooled linearly has the mean and variance of the mixture; pooled logarithmically, precisions are added by
//! weight. The pieces behind a belief are averaged by weight.

use nalgebra::{Cholesky, Matrix3, Vector3};

use super::supposed::Supposed;
use super::{Altered, CompiledModel, Spread};
use crate::model::column::colour::matrix;

/// How opinions are combined.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pooling {
    /// A weighted mean.
    Linear,
    /// A weighted geometric mean.
    Logarithmic,
}

/// Why packs cannot be pooled.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PoolError {
    /// No packs.
    #[error("no packs are named; name at least one with its weight")]
    Nothing,
    /// Weights that are none.
    #[error("weights are 0 or more and sum to 1, and these are {}", weights.iter().map(f64::to_string).collect::<Vec<_>>().join(", "))]
    Weights {
        /// As given.
        weights: Vec<f64>,
    },
    /// Packs of different structure.
    #[error(
        "the packs {first} and {other} do not hold the same beliefs: {difference}; pool packs that differ in numbers alone"
    )]
    Different {
        /// The first pack.
        first: String,
        /// The other.
        other: String,
        /// The first difference.
        difference: String,
    },
    /// Experts who rule out each other's states.
    #[error(
        "“{about}” cannot be pooled logarithmically: every state is ruled out by one of the packs; pool linearly, or give a state a small chance in each"
    )]
    AllRuledOut {
        /// The belief.
        about: String,
    },
}

/// The pool of several packs of one structure, by weights that sum to 1.
///
/// # Errors
/// [`PoolError`] for weights that are none, packs of different structure, or beliefs with nothing in common.
pub fn pool(packs: &[(&CompiledModel, f64)], pooling: Pooling) -> Result<CompiledModel, PoolError> {
    let Some((first, _)) = packs.first() else {
        return Err(PoolError::Nothing);
    };
    let weights: Vec<f64> = packs.iter().map(|(_, weight)| *weight).collect();
    let sum: f64 = weights.iter().sum();
    if weights.iter().any(|w| !(*w >= 0.0 && w.is_finite())) || (sum - 1.0).abs() > 1e-9 {
        return Err(PoolError::Weights { weights });
    }
    for (other, _) in &packs[1..] {
        same_beliefs(first, other)?;
    }
    let mut supposed = Vec::new();
    for (belief, stated) in first.model.beliefs.iter() {
        let spreads = packs
            .iter()
            .map(|(pack, _)| &pack.model.beliefs.get(belief).spread);
        let spreads: Vec<&Spread> = spreads.collect();
        // What all experts say alike stays as it is said, to the last digit.
        let is_agreed = spreads.iter().all(|spread| *spread == spreads[0]);
        let spread = match is_agreed {
            true => Some(stated.spread.clone()),
            false => pooled(&spreads, &weights, pooling),
        };
        let spread = spread.ok_or_else(|| PoolError::AllRuledOut {
            about: stated.about.clone(),
        })?;
        let seen = packs
            .iter()
            .map(|(pack, w)| (pack.model.beliefs.get(belief).seen, w));
        let seen = match seen.clone().all(|(seen, _)| seen == stated.seen) {
            true => stated.seen,
            false => seen.map(|(seen, w)| w * seen).sum(),
        };
        supposed.push(Supposed {
            belief,
            spread,
            seen,
        });
    }
    let how = match pooling {
        Pooling::Linear => "linearly",
        Pooling::Logarithmic => "logarithmically",
    };
    let named = packs.iter().map(|(pack, weight)| {
        let hash = pack.model.hash.get(..8).unwrap_or(&pack.model.hash);
        format!("{} ({hash}) by {weight}", pack.model.name)
    });
    let named: Vec<String> = named.collect();
    let name = format!("pooled {how}: {}", named.join(" and "));
    let mut altered = Altered::default();
    for (pack, _) in packs {
        for change in &pack.model.altered.supposed {
            if !altered.supposed.contains(change) {
                altered.supposed.push(change.clone());
            }
        }
        altered.pooled.extend_from_slice(&pack.model.altered.pooled);
    }
    altered
        .pooled
        .extend(named.into_iter().map(|pack| format!("{how}, {pack}")));
    Ok(first.altered(&supposed, name, altered))
}

fn same_beliefs(first: &CompiledModel, other: &CompiledModel) -> Result<(), PoolError> {
    let different = |difference: String| PoolError::Different {
        first: first.model.name.clone(),
        other: other.model.name.clone(),
        difference,
    };
    if first.model.network.structure() != other.model.network.structure() {
        let names = |pack: &CompiledModel| -> Vec<String> {
            let variables = pack.model.network.variables().iter();
            variables
                .map(|v| format!("{} ({})", v.name, v.states.join(", ")))
                .collect()
        };
        let (ours, theirs) = (names(first), names(other));
        let at = ours.iter().zip(&theirs).find(|(a, b)| a != b);
        return Err(different(at.map_or_else(
            || "one of them has more variables, or other dependences".to_owned(),
            |(a, b)| format!("{a} against {b}"),
        )));
    }
    let (ours, theirs) = (&first.model.beliefs, &other.model.beliefs);
    for ((_, a), (_, b)) in ours.iter().zip(theirs.iter()) {
        if a.about != b.about || a.spread.len() != b.spread.len() {
            return Err(different(format!("“{}” against “{}”", a.about, b.about)));
        }
    }
    if ours.len() != theirs.len() {
        return Err(different(format!(
            "{} beliefs against {}",
            ours.len(),
            theirs.len()
        )));
    }
    Ok(())
}

/// `None` if nothing is left, or the forms differ.
fn pooled(spreads: &[&Spread], weights: &[f64], pooling: Pooling) -> Option<Spread> {
    match spreads.first()? {
        Spread::Categorical { say } => {
            let cell = |k: usize| {
                let chances = spreads
                    .iter()
                    .zip(weights)
                    .map(|(spread, &w)| match spread {
                        Spread::Categorical { say } => Some((say[k], w)),
                        _ => None,
                    });
                chances.collect::<Option<Vec<(f64, f64)>>>()
            };
            let cells = (0..say.len()).map(cell).collect::<Option<Vec<_>>>()?;
            let say = match pooling {
                Pooling::Linear => {
                    let mean = |cell: &Vec<(f64, f64)>| cell.iter().map(|(p, w)| p * w).sum();
                    cells.iter().map(mean).collect()
                }
                Pooling::Logarithmic => {
                    // An opinion without weight rules nothing out: 0⁰ is 1.
                    let product = |cell: &Vec<(f64, f64)>| -> f64 {
                        cell.iter().map(|(p, w)| p.powf(*w)).product()
                    };
                    let products: Vec<f64> = cells.iter().map(product).collect();
                    let sum: f64 = products.iter().sum();
                    if sum == 0.0 {
                        return None;
                    }
                    products.iter().map(|p| p / sum).collect()
                }
            };
            Some(Spread::Categorical { say })
        }
        Spread::Normal { .. } => {
            let normals = spreads
                .iter()
                .zip(weights)
                .map(|(spread, &w)| match spread {
                    Spread::Normal { mean, sd } => Some((*mean, *sd, w)),
                    _ => None,
                });
            let normals = normals.collect::<Option<Vec<(f64, f64, f64)>>>()?;
            let sum = |f: &dyn Fn(f64, f64) -> f64| -> f64 {
                normals.iter().map(|&(mean, sd, w)| w * f(mean, sd)).sum()
            };
            Some(match pooling {
                Pooling::Linear => {
                    let mean = sum(&|mean, _| mean);
                    let variance = sum(&|m, sd| sd * sd + (m - mean) * (m - mean));
                    Spread::Normal {
                        mean,
                        sd: variance.sqrt(),
                    }
                }
                Pooling::Logarithmic => {
                    let precision = sum(&|_, sd| 1.0 / (sd * sd));
                    Spread::Normal {
                        mean: sum(&|mean, sd| mean / (sd * sd)) / precision,
                        sd: precision.sqrt().recip(),
                    }
                }
            })
        }
        Spread::Trivariate { .. } => pooled_colours(spreads, weights, pooling),
    }
}

fn pooled_colours(spreads: &[&Spread], weights: &[f64], pooling: Pooling) -> Option<Spread> {
    let each = spreads
        .iter()
        .zip(weights)
        .map(|(spread, &w)| match spread {
            Spread::Trivariate { mean, covariance } => {
                Some((Vector3::from(*mean), matrix(covariance), w))
            }
            _ => None,
        });
    let each = each.collect::<Option<Vec<(Vector3<f64>, Matrix3<f64>, f64)>>>()?;
    let (mean, covariance) = match pooling {
        Pooling::Linear => {
            let mean: Vector3<f64> = each.iter().map(|(m, _, w)| m * *w).sum();
            let about = |(m, c, w): &(Vector3<f64>, Matrix3<f64>, f64)| {
                let off = m - mean;
                (c + off * off.transpose()) * *w
            };
            (mean, each.iter().map(about).sum())
        }
        Pooling::Logarithmic => {
            let mut precision = Matrix3::zeros();
            let mut pull = Vector3::zeros();
            for (m, c, w) in &each {
                let own = Cholesky::new(*c)?.inverse() * *w;
                precision += own;
                pull += own * m;
            }
            let covariance = Cholesky::new(precision)?.inverse();
            (covariance * pull, covariance)
        }
    };
    let c: Matrix3<f64> = covariance;
    Some(Spread::Trivariate {
        mean: mean.into(),
        covariance: [
            c[(0, 0)],
            c[(0, 1)],
            c[(0, 2)],
            c[(1, 1)],
            c[(1, 2)],
            c[(2, 2)],
        ],
    })
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn row(say: &[f64]) -> Spread {
        Spread::Categorical { say: say.to_vec() }
    }

    fn chances(spread: &Spread) -> Vec<f64> {
        match spread {
            Spread::Categorical { say } => say.clone(),
            _ => panic!("{spread:?}"),
        }
    }

    /// Source: sums by hand. 0.7 × 0.8 + 0.3 × 0.4 = 0.68; √(0.8 × 0.2) = 0.4 and √(0.2 × 0.8) = 0.4, so even.
    #[test]
    fn two_opinions_by_hand() {
        let (a, b) = (row(&[0.8, 0.2]), row(&[0.4, 0.6]));
        let linear = chances(&pooled(&[&a, &b], &[0.7, 0.3], Pooling::Linear).unwrap());
        assert!((linear[0] - 0.68).abs() < 1e-15);
        let (a, b) = (row(&[0.8, 0.2]), row(&[0.2, 0.8]));
        let log = chances(&pooled(&[&a, &b], &[0.5, 0.5], Pooling::Logarithmic).unwrap());
        assert!((log[0] - 0.5).abs() < 1e-15);
        // What one of them rules out is ruled out; if each rules out what is left to the other, nothing is left.
        let (a, b) = (row(&[1.0, 0.0]), row(&[0.5, 0.5]));
        let log = chances(&pooled(&[&a, &b], &[0.5, 0.5], Pooling::Logarithmic).unwrap());
        assert_eq!(log, [1.0, 0.0]);
        let b = row(&[0.0, 1.0]);
        assert_eq!(pooled(&[&a, &b], &[0.5, 0.5], Pooling::Logarithmic), None);
        assert_eq!(
            chances(&pooled(&[&a, &b], &[1.0, 0.0], Pooling::Logarithmic).unwrap()),
            [1.0, 0.0]
        );
        // Two normals, 1 ± 0.1 and 1.2 ± 0.1, evenly: the mixture is 1.1 ± √(0.01 + 0.01); the log pool 1.1 ± 0.1.
        let normal = |mean| Spread::Normal { mean, sd: 0.1 };
        let both = [&normal(1.0), &normal(1.2)];
        for (pooling, expected) in [
            (Pooling::Linear, 0.02_f64.sqrt()),
            (Pooling::Logarithmic, 0.1),
        ] {
            let Some(Spread::Normal { mean, sd }) = pooled(&both, &[0.5, 0.5], pooling) else {
                panic!()
            };
            assert!(
                (mean - 1.1).abs() < 1e-14 && (sd - expected).abs() < 1e-14,
                "{sd}"
            );
        }
    }

    fn distribution() -> impl Strategy<Value = Vec<f64>> {
        prop::collection::vec(0.01..1.0_f64, 4).prop_map(|raw| {
            let sum: f64 = raw.iter().sum();
            raw.iter().map(|x| x / sum).collect()
        })
    }

    fn learned(p: &[f64], likelihood: &[f64]) -> Vec<f64> {
        let sum: f64 = p.iter().zip(likelihood).map(|(p, l)| p * l).sum();
        p.iter().zip(likelihood).map(|(p, l)| p * l / sum).collect()
    }

    proptest! {
        /// Source: Genest & Zidek 1986: the logarithmic pool is externally Bayesian.
        #[test]
        fn the_logarithmic_pool_commutes_with_learning(
            a in distribution(), b in distribution(), likelihood in distribution(), w in 0.0..1.0_f64
        ) {
            let weights = [w, 1.0 - w];
            let pool = |a: &[f64], b: &[f64]| {
                chances(&pooled(&[&row(a), &row(b)], &weights, Pooling::Logarithmic).unwrap())
            };
            let first = learned(&pool(&a, &b), &likelihood);
            let last = pool(&learned(&a, &likelihood), &learned(&b, &likelihood));
            for (x, y) in first.iter().zip(&last) {
                prop_assert!((x - y).abs() < 1e-12);
            }
        }

        /// The linear pool commutes with adding states up.
        #[test]
        fn the_linear_pool_commutes_with_adding_up(a in distribution(), b in distribution(), w in 0.0..1.0_f64) {
            let weights = [w, 1.0 - w];
            let pool = |a: &[f64], b: &[f64]| {
                chances(&pooled(&[&row(a), &row(b)], &weights, Pooling::Linear).unwrap())
            };
            let coarse = |p: &[f64]| vec![p[0] + p[1], p[2] + p[3]];
            let (first, last) = (coarse(&pool(&a, &b)), pool(&coarse(&a), &coarse(&b)));
            for (x, y) in first.iter().zip(&last) {
                prop_assert!((x - y).abs() < 1e-14);
            }
        }
    }
}
