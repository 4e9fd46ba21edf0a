//! Networks of tens of thousands of variables: answered if they are narrow, refused at once if they are not.

use nalgebra::DMatrix;
use saggar::circuit::{Circuit, CompileError, Propagator, QueryError, Specialised};
use saggar::network::{Cpt, Evidence, Network, Role, Variable, VariableId};

use super::TOLERANCE;

const MANY: u32 = 50_000;

/// Two-state variables with the parents listed. P(first state) is 1/2 for a root; for others it is `agree` if an even
/// number of parents is in the second state, and 1 - `agree` if an odd one is.
fn parity_network(parents: Vec<Vec<u32>>, agree: f64) -> Network {
    let variables = (0..parents.len()).map(|i| Variable {
        name: format!("v{i}"),
        states: vec!["a".to_owned(), "b".to_owned()],
        role: Role::Chance,
    });
    let cpts = parents.iter().map(|parents| {
        let p = if parents.is_empty() { 0.5 } else { agree };
        let table = DMatrix::from_fn(2, 1 << parents.len(), |row, column| {
            if (column.count_ones() as usize + row).is_multiple_of(2) {
                p
            } else {
                1.0 - p
            }
        });
        let parents = parents.iter().copied().map(VariableId::new).collect();
        Cpt { parents, table }
    });
    Network::new(variables.collect(), cpts.collect(), Vec::new()).unwrap()
}

/// Asks all three engines for one variable and compares with the answer by hand.
fn check(network: &Network, evidence: &Evidence, target: VariableId, ln_p: f64, first: f64) {
    let parameters = network.parameters();
    let circuit = Circuit::compile(network).unwrap();
    let posterior = circuit.evaluate(&parameters, evidence).unwrap();
    let propagator = Propagator::new(network.structure());
    let mut workspace = propagator.workspace();
    let marginals = propagator
        .marginals_in(&mut workspace, &parameters, evidence)
        .unwrap();
    let tolerance = TOLERANCE.max(8.0 * f64::EPSILON * ln_p.abs());
    for (found, of_target) in [
        (
            posterior.log_evidence(),
            posterior.marginal(target).unwrap(),
        ),
        (
            marginals.log_evidence(),
            marginals.marginal(target).unwrap(),
        ),
    ] {
        assert!(
            (found - ln_p).abs() <= tolerance,
            "ln P(evidence): {found} instead of {ln_p}"
        );
        assert!(
            (of_target[0] - first).abs() <= TOLERANCE,
            "{of_target:?} instead of {first}"
        );
    }
    Specialised::compile(network.structure(), evidence, target).unwrap();
}

/// Each link agrees with the one before with 1 - 1e-5; over n links (1 + (1 - 2e-5)^n) / 2 of the ends agree.
#[test]
fn a_long_chain() {
    let parents = (0..MANY)
        .map(|i| i.checked_sub(1).into_iter().collect())
        .collect();
    let network = parity_network(parents, 1.0 - 1e-5);
    let mut evidence = Evidence::new();
    evidence.observe(VariableId::new(0), 0);
    let p = 1.0 - 1e-5_f64;
    let difference = p - (1.0 - p);
    let agree = |n: u32| (1.0 + (f64::from(n) * (difference - 1.0).ln_1p()).exp()) / 2.0;
    check(
        &network,
        &evidence,
        VariableId::new(MANY - 1),
        0.5_f64.ln(),
        agree(MANY - 1),
    );
    evidence.observe(VariableId::new(MANY - 1), 1);
    // What lies in the middle is as likely to be either.
    let ln_p = (0.5 * (1.0 - agree(MANY - 1))).ln();
    let (before, after) = (agree(25_000), agree(MANY - 1 - 25_000));
    let odds = before * (1.0 - after) / ((1.0 - before) * after);
    check(
        &network,
        &evidence,
        VariableId::new(25_000),
        ln_p,
        odds / (1.0 + odds),
    );
}

/// One class and clues of 1e-6 under the first state, 1 - 1e-6 under the other, half of them seen each way, and one more.
#[test]
fn a_class_with_many_clues() {
    let parents = (0..MANY)
        .map(|i| if i == 0 { vec![] } else { vec![0] })
        .collect();
    let network = parity_network(parents, 1.0 - 1e-6);
    let mut evidence = Evidence::new();
    for i in 1..MANY {
        evidence.observe(VariableId::new(i), i as usize % 2);
    }
    // An odd number of clues, the last one counted for the second state.
    let n = f64::from(MANY / 2 - 1);
    let p = 1.0 - 1e-6_f64;
    let ln_p = n * (p.ln() + (1.0 - p).ln()) + 0.5_f64.ln();
    check(&network, &evidence, VariableId::new(0), ln_p, 1.0 - p);
}

/// A class whose clues also hang on the clue before: every cluster has three variables.
#[test]
fn a_class_with_a_chain_of_clues() {
    let parents = (0..MANY).map(|i| match i {
        0 => vec![],
        1 => vec![0],
        _ => vec![0, i - 1],
    });
    let network = parity_network(parents.collect(), 0.75);
    let mut evidence = Evidence::new();
    for i in 1..=3 {
        evidence.observe(VariableId::new(i), 0);
    }
    // First state of the class: clues agree, 3/4 each; second: 1/4, then 1/4 each.
    let (a, b) = (0.75_f64.powi(3), 0.25_f64.powi(3));
    check(
        &network,
        &evidence,
        VariableId::new(0),
        ((a + b) / 2.0).ln(),
        a / (a + b),
    );
}

/// Everything hangs on variables far away: no order is cheap, and none need be followed to the end to know it.
#[test]
fn wide_networks_are_refused_in_time() {
    for (n, n_parents) in [(500_u32, 8_u64), (1_500, 6), (2_500, 4)] {
        let mut state = u64::from(n);
        let mut below = |n: u64| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            ((state >> 33) % n) as u32
        };
        let parents = (0..n).map(|i| {
            let mut parents: Vec<u32> = (0..n_parents.min(i.into()))
                .map(|_| below(i.into()))
                .collect();
            parents.sort_unstable();
            parents.dedup();
            parents
        });
        let network = parity_network(parents.collect(), 0.75);
        let CompileError::TooLarge {
            predicted_cells,
            limit,
        } = Circuit::compile(&network).unwrap_err()
        else {
            panic!("another refusal was expected")
        };
        assert!(predicted_cells > limit as u128);
        let propagator = Propagator::new(network.structure());
        let mut workspace = propagator.workspace();
        let error =
            propagator.marginals_in(&mut workspace, &network.parameters(), &Evidence::new());
        assert!(matches!(error, Err(QueryError::TooLarge(_))));
        // What the evidence leaves of the same network is another matter: all but one in forty are known.
        let mut evidence = Evidence::new();
        for i in (0..n).filter(|i| i % 40 != 0) {
            evidence.observe(VariableId::new(i), 0);
        }
        let marginals = propagator.marginals_in(&mut workspace, &network.parameters(), &evidence);
        assert!(marginals.unwrap().log_evidence() < 0.0);
    }
}
