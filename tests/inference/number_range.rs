//! Evidence far outside the range of `f64`, where the answer follows by hand.

use nalgebra::DMatrix;
use saggar::circuit::{Circuit, Propagator, QueryError};
use saggar::network::{Cpt, Evidence, EvidenceItem, Network, Role, Variable, VariableId};

use super::oracle::Enumeration;
use super::{TOLERANCE, assert_close};

/// A root with the given prior and leaves with two states; each leaf is observed in its first state, whose
/// probabilities given the root's states are listed.
pub fn clues(prior: &[f64], clues: &[[f64; 2]]) -> (Network, Evidence) {
    let variable = |name: String, n: usize| Variable {
        name,
        states: (0..n).map(|s| s.to_string()).collect(),
        role: Role::Chance,
    };
    let mut variables = vec![variable("root".to_owned(), prior.len())];
    let mut cpts = vec![Cpt {
        parents: Vec::new(),
        table: DMatrix::from_column_slice(prior.len(), 1, prior),
    }];
    let mut evidence = Evidence::new();
    for (i, clue) in clues.iter().enumerate() {
        variables.push(variable(format!("clue {i}"), 2));
        let table = DMatrix::from_fn(2, clue.len(), |row, column| {
            if row == 0 {
                clue[column]
            } else {
                1.0 - clue[column]
            }
        });
        cpts.push(Cpt {
            parents: vec![VariableId::new(0)],
            table,
        });
        evidence.observe(VariableId::new(i as u32 + 1), 0);
    }
    (Network::new(variables, cpts, Vec::new()).unwrap(), evidence)
}

/// Compares ln P(evidence) and the root's posterior; the relative error of P is what 1e-12 is about, which
/// is the absolute error of its logarithm as long as that one can be held.
fn check_clues(prior: &[f64], list: &[[f64; 2]], ln_p: f64, root: &[f64]) {
    let (network, evidence) = clues(prior, list);
    let circuit = Circuit::compile(&network).unwrap();
    let posterior = circuit.evaluate(&network.parameters(), &evidence).unwrap();
    let rounding = 4.0 * f64::EPSILON * ln_p.abs();
    assert!(
        (posterior.log_evidence() - ln_p).abs() <= TOLERANCE.max(rounding),
        "{} instead of {ln_p}",
        posterior.log_evidence()
    );
    let marginal = posterior.marginal(VariableId::new(0)).unwrap();
    for (m, r) in marginal.iter().zip(root) {
        assert!(
            (m - r).abs() <= TOLERANCE * r,
            "{marginal:?} instead of {root:?}"
        );
    }
    let propagator = Propagator::new(network.structure());
    let mut workspace = propagator.workspace();
    let marginals = propagator
        .marginals_in(&mut workspace, &network.parameters(), &evidence)
        .unwrap();
    assert!((marginals.log_evidence() - ln_p).abs() <= TOLERANCE.max(rounding));
    for (m, r) in marginals
        .marginal(VariableId::new(0))
        .unwrap()
        .iter()
        .zip(root)
    {
        assert!((m - r).abs() <= TOLERANCE * r, "{m} instead of {r}");
    }
    for v in network.variable_ids() {
        assert!((posterior.family(v).unwrap().sum() - 1.0).abs() < TOLERANCE);
        assert!(
            posterior
                .parameter_derivative(v)
                .unwrap()
                .iter()
                .all(|d| d.is_finite())
        );
    }
}

const LN_10: f64 = std::f64::consts::LN_10;

#[test]
fn two_hundred_rare_clues() {
    check_clues(
        &[0.3, 0.7],
        &[[1e-6, 1e-6]; 200],
        -1200.0 * LN_10,
        &[0.3, 0.7],
    );
}

#[test]
fn two_thousand_rare_clues() {
    check_clues(
        &[0.3, 0.7],
        &[[1e-6, 1e-6]; 2000],
        -12_000.0 * LN_10,
        &[0.3, 0.7],
    );
}

/// After the first thousand clues the second state stands at 1e-6000 of the first, and must come back.
#[test]
fn two_thousand_clues_that_cancel() {
    let mut list = vec![[1.0, 1e-6]; 1000];
    list.extend([[1e-6, 1.0]; 1000]);
    check_clues(&[0.3, 0.7], &list, -6000.0 * LN_10, &[0.3, 0.7]);
    let mixed: Vec<_> = (0..2000).map(|i| list[(i * 787) % 2000]).collect();
    check_clues(&[0.25, 0.75], &mixed, -6000.0 * LN_10, &[0.25, 0.75]);
}

/// A clue more for the first state moves the odds by its ratio, however many others cancel.
#[test]
fn one_clue_decides_among_many() {
    let mut list = vec![[1e-5, 1e-6]; 1000];
    list.extend([[1e-6, 1e-5]; 1000]);
    list.push([0.5, 0.125]);
    let ln_p = -11_000.0 * LN_10 + 0.3125_f64.ln();
    check_clues(&[0.5, 0.5], &list, ln_p, &[0.8, 0.2]);
}

#[test]
fn evidence_below_the_smallest_double() {
    check_clues(
        &[0.5, 0.5],
        &[[1e-3, 1e-3]; 133],
        -399.0 * LN_10,
        &[0.5, 0.5],
    );
    // A posterior of 1e-300 next to P(evidence) of 1e-300 needs products of 1e-600.
    check_clues(
        &[0.5, 0.5],
        &[[1e-300, 1.0], [1e-300, 1e-300]],
        0.5_f64.ln() - 300.0 * LN_10,
        &[1e-300, 1.0],
    );
}

#[test]
fn likelihoods_of_any_size() {
    let (network, _) = clues(&[0.5, 0.5], &[[0.9, 0.2]; 3]);
    let circuit = Circuit::compile(&network).unwrap();
    for scale in [1.0, 1e-320, 1e-300, 1e300] {
        let mut evidence = Evidence::new();
        for leaf in 1..=3 {
            evidence.likelihood(VariableId::new(leaf), vec![4.0 * scale, scale]);
        }
        let posterior = circuit.evaluate(&network.parameters(), &evidence).unwrap();
        // Each leaf: 4·0.9 + 0.1 = 3.7 against 4·0.2 + 0.8 = 1.6.
        let (a, b) = (3.7_f64.powi(3), 1.6_f64.powi(3));
        let ln_p = ((a + b) / 2.0).ln() + 3.0 * scale.ln();
        // 1e-320 is held to 11 binary digits, and so is four times as much.
        let tolerance = if scale == 1e-320 { 1e-2 } else { TOLERANCE };
        assert!((posterior.log_evidence() - ln_p).abs() <= tolerance);
        let root = posterior.marginal(VariableId::new(0)).unwrap();
        assert_close(root, &[a / (a + b), b / (a + b)], "root");
        let propagator = Propagator::new(network.structure());
        let mut workspace = propagator.workspace();
        let marginals = propagator
            .marginals_in(&mut workspace, &network.parameters(), &evidence)
            .unwrap();
        assert!((marginals.log_evidence() - posterior.log_evidence()).abs() <= TOLERANCE);
        let root = marginals.marginal(VariableId::new(0)).unwrap();
        assert_close(root, &[a / (a + b), b / (a + b)], "root");
    }
    // Entries further apart than the range of f64: neither vanishes.
    let mut evidence = Evidence::new();
    evidence.likelihood(VariableId::new(1), vec![1e300, 1e-300]);
    evidence.likelihood(VariableId::new(2), vec![1e-300, 1e300]);
    evidence.likelihood(VariableId::new(3), vec![1.0, 1.0]);
    let expected = Enumeration::new(&network, &{
        let mut same = Evidence::new();
        same.observe(VariableId::new(1), 0)
            .observe(VariableId::new(2), 1);
        same
    });
    let posterior = circuit.evaluate(&network.parameters(), &evidence).unwrap();
    assert_close(
        posterior.marginal(VariableId::new(0)).unwrap(),
        &expected.marginal(VariableId::new(0)),
        "root",
    );

    // The likelihood that decides is 1e-600 of its neighbour, and is still not impossible.
    let (network, _) = clues(&[0.5, 0.5], &[[0.0, 0.0]]);
    let circuit = Circuit::compile(&network).unwrap();
    let mut evidence = Evidence::new();
    evidence.likelihood(VariableId::new(1), vec![1e300, 1e-300]);
    let ln_p = circuit
        .log_evidence(&network.parameters(), &evidence)
        .unwrap();
    assert!((ln_p + 300.0 * LN_10).abs() <= TOLERANCE);
}

#[test]
fn a_conflict_among_thousands_of_clues() {
    let mut list = vec![[1e-6, 1e-6]; 2000];
    list[700] = [1e-6, 0.0];
    list[1500] = [0.0, 1e-6];
    let (network, evidence) = clues(&[0.5, 0.5], &list);
    let circuit = Circuit::compile(&network).unwrap();
    let error = circuit
        .evaluate(&network.parameters(), &evidence)
        .unwrap_err();
    let named = |i: u32| EvidenceItem::Variable(VariableId::new(i));
    let conflicting = vec![named(701), named(1501)];
    let propagator = Propagator::new(network.structure());
    let mut workspace = propagator.workspace();
    assert_eq!(
        propagator
            .marginals_in(&mut workspace, &network.parameters(), &evidence)
            .unwrap_err(),
        error
    );
    assert_eq!(error, QueryError::ImpossibleEvidence { conflicting });
    assert_eq!(
        error.to_string(),
        "the evidence is impossible: variable 701, variable 1501 cannot stand together"
    );
}

/// Columns that sum to 2 are taken as they stand, and 2^1100 is more than `f64` holds.
#[test]
fn a_sum_above_the_largest_double() {
    let (network, _) = clues(&[0.5, 0.5], &[[0.5, 0.5]; 1100]);
    let circuit = Circuit::compile(&network).unwrap();
    let mut parameters = network.parameters();
    for leaf in (1..=1100).map(VariableId::new) {
        for column in 0..2 {
            parameters.column_mut(leaf, column).fill(1.0);
        }
    }
    let posterior = circuit.evaluate(&parameters, &Evidence::new()).unwrap();
    let ln_p = 1100.0 * std::f64::consts::LN_2;
    assert!((posterior.log_evidence() - ln_p).abs() <= TOLERANCE);
    let propagator = Propagator::new(network.structure());
    let mut workspace = propagator.workspace();
    let marginals = propagator
        .marginals_in(&mut workspace, &parameters, &Evidence::new())
        .unwrap();
    assert!((marginals.log_evidence() - ln_p).abs() <= TOLERANCE);
    for v in network.variable_ids() {
        assert_close(posterior.marginal(v).unwrap(), &[0.5, 0.5], "marginal");
        assert_close(marginals.marginal(v).unwrap(), &[0.5, 0.5], "marginal");
    }
}

/// An entry of 0 keeps P(evidence) in range and yet has a derivative made of products that are not: with
/// clues of 1e-200 twice, against P(evidence) = 1e-200.
#[test]
fn derivatives_of_entries_that_are_zero() {
    let (network, evidence) = clues(&[0.0, 1.0], &[[1e-200, 1e-100]; 2]);
    let circuit = Circuit::compile(&network).unwrap();
    let posterior = circuit.evaluate(&network.parameters(), &evidence).unwrap();
    let root = VariableId::new(0);
    assert_eq!(posterior.marginal(root), Some(&[0.0, 1.0][..]));
    let derivative = posterior.parameter_derivative(root).unwrap();
    assert!((derivative[0] - 1e-200).abs() <= 1e-212, "{derivative}");

    // Too large for f64: the derivative is infinite, the distributions are not touched by it.
    let (network, _) = clues(&[0.0, 1.0], &[[0.5, 0.5]; 1100]);
    let circuit = Circuit::compile(&network).unwrap();
    let mut parameters = network.parameters();
    for leaf in (1..=1100).map(VariableId::new) {
        parameters.column_mut(leaf, 0).fill(1.0);
    }
    let posterior = circuit.evaluate(&parameters, &Evidence::new()).unwrap();
    assert_eq!(posterior.marginal(root), Some(&[0.0, 1.0][..]));
    let family = posterior.family(root).unwrap();
    assert_eq!((family[0], family[1]), (0.0, 1.0));
    assert_eq!(
        posterior.parameter_derivative(root).unwrap()[0],
        f64::INFINITY
    );
}
