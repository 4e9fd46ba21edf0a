//! Beliefs as Dirichlet distributions against published figures.
//!
//! Source: `tests/reference/05-learning/dirichlet.json`, whose README says how each figure was checked.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use std::collections::BTreeMap;
use std::path::Path;

use saggar::model::belief::Dirichlet;
use serde::Deserialize;

const TOLERANCE: f64 = 1e-12;
/// The figures were made with another log-gamma function.
const LN_TOLERANCE: f64 = 1e-9;

#[derive(Deserialize)]
struct File {
    cases: Vec<Case>,
    k2: K2,
}

#[derive(Deserialize)]
struct Case {
    alpha: Vec<f64>,
    counts: Vec<f64>,
    posterior_mean: Vec<f64>,
    posterior_var: Vec<f64>,
    log_marginal_likelihood_of_the_sequence: f64,
}

#[derive(Deserialize)]
struct K2 {
    data_x1_x2_x3: Vec<[usize; 3]>,
    structures: BTreeMap<String, Structure>,
    posterior_of_first_if_only_two: f64,
    bdeu_ess_1: BTreeMap<String, serde_json::Value>,
}

#[derive(Deserialize)]
struct Structure {
    log_marginal: f64,
    printed: String,
}

fn reference() -> File {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/05-learning/dirichlet.json");
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

/// The belief with these parameters.
fn of_parameters(alpha: &[f64]) -> Dirichlet {
    let seen: f64 = alpha.iter().sum();
    Dirichlet::new(alpha.iter().map(|a| a / seen).collect(), seen).unwrap()
}

fn assert_all(found: &[f64], expected: &[f64], what: &str) {
    assert_eq!(found.len(), expected.len(), "{what}");
    for (f, e) in found.iter().zip(expected) {
        assert!((f - e).abs() <= TOLERANCE, "{what}: {f}, not {e}");
    }
}

#[test]
fn means_variances_and_marginal_likelihoods() {
    let cases = reference().cases;
    assert_eq!(cases.len(), 4);
    for case in cases {
        let what = format!("{:?} {:?}", case.alpha, case.counts);
        let before = of_parameters(&case.alpha);
        let after = before.updated(&case.counts).unwrap();
        assert_all(after.mean(), &case.posterior_mean, &what);
        assert_all(&after.variance(), &case.posterior_var, &what);
        let pieces: f64 = case.alpha.iter().chain(&case.counts).sum();
        assert!((after.seen() - pieces).abs() <= TOLERANCE, "{what}");
        let ln = before.ln_marginal_likelihood(&case.counts).unwrap();
        let expected = case.log_marginal_likelihood_of_the_sequence;
        assert!(
            (ln - expected).abs() <= LN_TOLERANCE,
            "{what}: {ln}, not {expected}"
        );
    }
}

/// One piece after another, each expected with the chance it had just before it was seen.
#[test]
fn a_sequence_is_the_product_of_its_steps() {
    for case in reference().cases {
        let mut belief = of_parameters(&case.alpha);
        let whole = belief.ln_marginal_likelihood(&case.counts).unwrap();
        let mut steps = 0.0;
        for (k, n) in case.counts.iter().enumerate() {
            for _ in 0..(*n as usize) {
                steps += belief.mean()[k].ln();
                let mut one = vec![0.0; case.counts.len()];
                one[k] = 1.0;
                belief = belief.updated(&one).unwrap();
            }
        }
        assert!((whole - steps).abs() <= LN_TOLERANCE, "{whole}, {steps}");
    }
}

/// ln P(data) of a network of three variables: a Dirichlet of its own for each parent configuration.
/// `parents[i]` is the parent of variable i, if it has one; `alpha` the parameter of a cell, by the number of parent states.
fn ln_data(data: &[[usize; 3]], parents: [Option<usize>; 3], alpha: impl Fn(usize) -> f64) -> f64 {
    let mut ln = 0.0;
    for (variable, parent) in parents.into_iter().enumerate() {
        let n_configurations = if parent.is_some() { 2 } else { 1 };
        for configuration in 0..n_configurations {
            let mut counts = [0.0; 2];
            let here = |row: &&[usize; 3]| parent.is_none_or(|p| row[p] == configuration);
            for row in data.iter().filter(here) {
                counts[row[variable]] += 1.0;
            }
            let cell = alpha(n_configurations);
            ln += of_parameters(&[cell, cell])
                .ln_marginal_likelihood(&counts)
                .unwrap();
        }
    }
    ln
}

/// Source: Cooper & Herskovits 1992, table 1 and the two marginal likelihoods printed with it, 2.23e-9 and 2.23e-10.
#[test]
fn ten_cases_under_two_structures() {
    let k2 = reference().k2;
    assert_eq!(k2.data_x1_x2_x3.len(), 10);
    let chain = ln_data(&k2.data_x1_x2_x3, [None, Some(0), Some(1)], |_| 1.0);
    let fork = ln_data(&k2.data_x1_x2_x3, [None, Some(0), Some(0)], |_| 1.0);
    for (name, found) in [("x1->x2->x3", chain), ("x2<-x1->x3", fork)] {
        let expected = &k2.structures[name];
        assert!(
            (found - expected.log_marginal).abs() <= LN_TOLERANCE,
            "{name}: {found}"
        );
        assert_eq!(format!("{:.2e}", found.exp()), expected.printed);
    }
    let first = 1.0 / (1.0 + (fork - chain).exp());
    assert!(
        (first - k2.posterior_of_first_if_only_two).abs() <= TOLERANCE,
        "{first}"
    );
}

/// Structures that claim the same independences score the same when one piece's worth of experience is spread evenly.
///
/// Source: Heckerman, Geiger & Chickering 1995 (BDeu, likelihood equivalence).
#[test]
fn equivalent_structures_score_the_same() {
    let k2 = reference().k2;
    for (name, parents) in [
        ("x1->x2->x3", [None, Some(0), Some(1)]),
        ("x1<-x2->x3", [Some(1), None, Some(1)]),
        ("x3->x2->x1", [Some(1), Some(2), None]),
    ] {
        let found = ln_data(&k2.data_x1_x2_x3, parents, |n| 1.0 / (2 * n) as f64);
        let expected = k2.bdeu_ess_1[name].as_f64().unwrap();
        assert!(
            (found - expected).abs() <= LN_TOLERANCE,
            "{name}: {found}, not {expected}"
        );
    }
}
