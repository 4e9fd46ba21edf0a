//! Likelihood evidence and stated beliefs (Jeffrey's rule) on published examples: the same numbers, entered as one or as
//! the other, give different answers.
//!
//! Source of every number: `tests/reference/04-soft-evidence/soft_evidence.json`, with its authors.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use std::path::Path;

use nalgebra::DMatrix;
use proptest::prelude::*;
use saggar::circuit::Circuit;
use saggar::network::{Cpt, Evidence, Network, Role, Variable, VariableId};
use saggar::query::stated_belief::{BeliefError, Fitted, StatedBelief, TOLERANCE, fit};
use serde_json::Value;

fn reference() -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference/04-soft-evidence/soft_evidence.json");
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

#[track_caller]
fn near(found: f64, expected: f64) {
    assert!((found - expected).abs() < 1e-12, "{found}, not {expected}");
}

/// A first variable and a second that depends on it.
fn two(prior: &[f64], second_given_first: &[&[f64]]) -> (Network, Circuit) {
    let variable = |name: &str, n: usize| Variable {
        name: name.to_owned(),
        states: (0..n).map(|s| s.to_string()).collect(),
        role: Role::Chance,
    };
    let n_second = second_given_first[0].len();
    let cpts = vec![
        Cpt {
            parents: vec![],
            table: DMatrix::from_column_slice(prior.len(), 1, prior),
        },
        Cpt {
            parents: vec![first()],
            table: DMatrix::from_column_slice(n_second, prior.len(), &second_given_first.concat()),
        },
    ];
    let variables = vec![variable("first", prior.len()), variable("second", n_second)];
    let network = Network::new(variables, cpts, vec![]).unwrap();
    let circuit = Circuit::compile(&network).unwrap();
    (network, circuit)
}

fn first() -> VariableId {
    VariableId::new(0)
}

fn second() -> VariableId {
    VariableId::new(1)
}

fn stated(
    (network, circuit): &(Network, Circuit),
    evidence: &Evidence,
    beliefs: &[(VariableId, &[f64])],
) -> Result<Fitted, BeliefError> {
    let beliefs: Vec<StatedBelief> = beliefs
        .iter()
        .map(|&(variable, probabilities)| StatedBelief {
            variable,
            probabilities,
        })
        .collect();
    fit(circuit, &network.parameters(), evidence, &beliefs)
}

/// P(second = 0) under likelihood evidence about the first.
fn virtually((network, circuit): &(Network, Circuit), likelihoods: &[f64]) -> f64 {
    let mut evidence = Evidence::new();
    evidence.likelihood(first(), likelihoods.to_vec());
    let posterior = circuit.evaluate(&network.parameters(), &evidence).unwrap();
    posterior.marginal(second()).unwrap()[0]
}

/// The cloth seen by candlelight: Jeffrey's rule sets the colours, and the chance of a sale follows; the same numbers taken as
/// likelihoods give another one.
///
/// Source: Jeffrey 1965, as in Chan & Darwiche 2005: 0.42 printed.
#[test]
fn the_cloth_by_candlelight() {
    let cloth = &reference()["cloth_by_candlelight"];
    let colours = ["green", "blue", "violet"];
    let of = |key: &str| colours.map(|colour| number(&cloth[key][colour]));
    let sold: Vec<[f64; 2]> = of("p_sold_given_colour")
        .iter()
        .map(|&p| [p, 1.0 - p])
        .collect();
    let columns: Vec<&[f64]> = sold.iter().map(|c| &c[..]).collect();
    let model = two(&of("prior"), &columns);
    near(virtually(&model, &[1.0; 3]), number(&cloth["prior_p_sold"]));

    let belief = of("new_colour_beliefs");
    let fitted = stated(&model, &Evidence::new(), &[(first(), &belief)]).unwrap();
    assert_eq!(fitted.rounds, 1);
    near(
        fitted.posterior.marginal(second()).unwrap()[0],
        number(&cloth["jeffrey_p_sold"]),
    );
    for (found, expected) in fitted
        .posterior
        .marginal(first())
        .unwrap()
        .iter()
        .zip(belief)
    {
        near(*found, expected);
    }
    let equivalent = of("equivalent_likelihoods_scaled_to_max_1");
    let Some(saggar::network::Finding::Likelihood(found)) = fitted.evidence.finding(first()) else {
        panic!("no likelihood");
    };
    for (found, expected) in found.iter().zip(equivalent) {
        near(*found, expected);
    }
    near(
        virtually(&model, &equivalent),
        number(&cloth["virtual_with_equivalent_likelihoods_p_sold"]),
    );
    let wrong = &cloth["virtual_if_the_same_numbers_are_wrongly_taken_as_likelihoods"];
    near(virtually(&model, &belief), number(&wrong["p_sold"]));
    assert!((virtually(&model, &belief) - 0.42).abs() > 0.005);
}

/// Source: Pearl 1988, p. 44: testimony of 4 to 1 for an alarm.
#[test]
fn testimony_for_an_alarm() {
    let alarm = &reference()["alarm_testimony"];
    let (yes, no) = (
        number(&alarm["p_alarm_given_burglary"]),
        number(&alarm["p_alarm_given_none"]),
    );
    let burglary = number(&alarm["prior_burglary"]);
    let (network, circuit) = two(
        &[burglary, 1.0 - burglary],
        &[&[yes, 1.0 - yes], &[no, 1.0 - no]],
    );
    let ratio = number(&alarm["likelihood_ratio_of_testimony_for_alarm"]);
    let mut evidence = Evidence::new();
    evidence.likelihood(second(), vec![ratio, 1.0]);
    let posterior = circuit.evaluate(&network.parameters(), &evidence).unwrap();
    near(
        posterior.marginal(first()).unwrap()[0],
        number(&alarm["posterior_burglary"]),
    );
    near(posterior.marginal(first()).unwrap()[0], 35.0 / 93662.0);
}

fn joint(fitted: &Fitted) -> [f64; 4] {
    // States down, causes across: [first, second] in the order tt, tf, ft, ff.
    let family = fitted.posterior.family(second()).unwrap();
    [
        family[(0, 0)],
        family[(1, 0)],
        family[(0, 1)],
        family[(1, 1)],
    ]
}

/// One belief after the other, the second made true on top of what the first counted for: the last one holds. Both at once:
/// both hold, in either order.
///
/// Source: `order_matters` of the reference.
#[test]
fn beliefs_one_after_the_other_and_at_once() {
    let order = &reference()["order_matters"];
    let model = two(&[0.5, 0.5], &[&[0.8, 0.2], &[0.2, 0.8]]);
    let a = number(&order["jeffrey_targets"]["a"]);
    let b = number(&order["jeffrey_targets"]["b"]);
    let (a, b) = ([a, 1.0 - a], [b, 1.0 - b]);
    for (key, earlier, later) in [
        ("jeffrey_a_then_b", (first(), &a), (second(), &b)),
        ("jeffrey_b_then_a", (second(), &b), (first(), &a)),
    ] {
        let after_first = stated(&model, &Evidence::new(), &[(earlier.0, earlier.1)]).unwrap();
        let after_both = stated(&model, &after_first.evidence, &[(later.0, later.1)]).unwrap();
        let expected = &order[key][0];
        for (found, state) in joint(&after_both).iter().zip(["tt", "tf", "ft", "ff"]) {
            near(*found, number(&expected[state]));
        }
        let marginal = |id| after_both.posterior.marginal(id).unwrap()[0];
        near(marginal(first()), number(&order[key][1]));
        near(marginal(second()), number(&order[key][2]));
    }
    let at_once = stated(&model, &Evidence::new(), &[(first(), &a), (second(), &b)]).unwrap();
    let other_way = stated(&model, &Evidence::new(), &[(second(), &b), (first(), &a)]).unwrap();
    assert!(at_once.rounds > 1 && at_once.gap <= TOLERANCE);
    for (one, other) in joint(&at_once).iter().zip(joint(&other_way)) {
        assert!((one - other).abs() < 1e-11, "{one} {other}");
    }
    let [tt, tf, ft, ff] = joint(&at_once);
    near(tt + tf, a[0]);
    near(tt + ft, b[0]);
    // Fitting keeps the odds ratio of the table it begins with: 16.
    // Source: Bishop, Fienberg & Holland 1975, Discrete Multivariate Analysis, sec. 3.5.
    assert!((tt * ff / (tf * ft) - 16.0).abs() < 1e-8);
}

/// Likelihood evidence does not depend on the order.
///
/// Source: `order_matters` of the reference.
#[test]
fn likelihoods_commute() {
    let order = &reference()["order_matters"];
    let (network, circuit) = two(&[0.5, 0.5], &[&[0.8, 0.2], &[0.2, 0.8]]);
    let ratio = |key: &str| number(&order["virtual_lr"][key]);
    for key in ["virtual_a_then_b", "virtual_b_then_a"] {
        let mut evidence = Evidence::new();
        evidence.likelihood(first(), vec![ratio("a"), 1.0]);
        evidence.likelihood(second(), vec![ratio("b"), 1.0]);
        let posterior = circuit.evaluate(&network.parameters(), &evidence).unwrap();
        let family = posterior.family(second()).unwrap();
        let found = [
            family[(0, 0)],
            family[(1, 0)],
            family[(0, 1)],
            family[(1, 1)],
        ];
        for (found, state) in found.iter().zip(["tt", "tf", "ft", "ff"]) {
            near(*found, number(&order[key][state]));
        }
    }
}

#[test]
fn beliefs_that_cannot_be_made_true_are_refused() {
    let model = two(&[0.5, 0.5], &[&[1.0, 0.0], &[0.2, 0.8]]);
    let mut certain = Evidence::new();
    certain.observe(second(), 1);
    let error = stated(&model, &certain, &[(first(), &[0.3, 0.7])]).unwrap_err();
    assert_eq!(
        error,
        BeliefError::ContradictsCertainty {
            belief: 0,
            state_idx: 0,
            probability: 0.3
        }
    );
    // A state that is ruled out and believed impossible is no contradiction.
    assert!(stated(&model, &certain, &[(first(), &[0.0, 1.0])]).is_ok());
    let error = stated(&model, &certain, &[(second(), &[0.3, 0.7])]).unwrap_err();
    assert_eq!(error, BeliefError::AlreadyFound { belief: 0 });
    let error = stated(&model, &Evidence::new(), &[(first(), &[0.3, 0.6])]).unwrap_err();
    assert_eq!(error, BeliefError::NotADistribution { belief: 0 });
    let error = stated(&model, &Evidence::new(), &[(first(), &[0.3, 0.3, 0.4])]).unwrap_err();
    assert!(!matches!(error, BeliefError::NotReached { .. }), "{error}");
    // Second = 1 happens under the second state alone, so it cannot be the more probable.
    let same = two(&[0.5, 0.5], &[&[1.0, 0.0], &[0.0, 1.0]]);
    let error = stated(
        &same,
        &Evidence::new(),
        &[(first(), &[0.3, 0.7]), (second(), &[0.6, 0.4])],
    );
    assert!(
        matches!(error, Err(BeliefError::NotReached { .. })),
        "{error:?}"
    );
}

proptest! {
    /// Jeffrey's rule written out: P'(second) = Σ q(first) P(second | first).
    #[test]
    fn one_belief_is_jeffreys_rule(
        weights in prop::collection::vec(0.01..1.0f64, 3),
        given in prop::collection::vec(0.01..0.99f64, 3),
        wanted in prop::collection::vec(0.01..1.0f64, 3),
    ) {
        let shares = |w: &[f64]| { let sum: f64 = w.iter().sum(); w.iter().map(|x| x / sum).collect::<Vec<_>>() };
        let (prior, wanted) = (shares(&weights), shares(&wanted));
        let columns: Vec<[f64; 2]> = given.iter().map(|&p| [p, 1.0 - p]).collect();
        let columns: Vec<&[f64]> = columns.iter().map(|c| &c[..]).collect();
        let model = two(&prior, &columns);
        let fitted = stated(&model, &Evidence::new(), &[(first(), &wanted)]).unwrap();
        let expected: f64 = wanted.iter().zip(&given).map(|(q, p)| q * p).sum();
        prop_assert!((fitted.posterior.marginal(second()).unwrap()[0] - expected).abs() < 1e-12);
    }
}
