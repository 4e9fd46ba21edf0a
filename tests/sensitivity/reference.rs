//! Published networks.
//!
//! Source: `tests/reference/03-sensitivity`, whose README names authors, years and what was checked how.

use std::path::Path;

use saggar::circuit::Circuit;
use saggar::network::{Evidence, Network, Parameters, VariableId};
use saggar::sensitivity::{Cell, covary::covary, distance, of_cell};
use serde_json::Value;

use super::published::networks;

const TOLERANCE: f64 = 1e-12;

fn json(file: &str) -> Value {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/03-sensitivity");
    serde_json::from_str(&std::fs::read_to_string(folder.join(file)).unwrap()).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn state(network: &Network, variable: &str, state: &str) -> (VariableId, usize) {
    let id = network.find(variable).unwrap();
    let states = &network.variable(id).states;
    (id, states.iter().position(|s| s == state).unwrap())
}

/// `a=x` and what stands behind the bar of `P(a=x|b=y,c=z)`, as variables with states.
fn read(network: &Network, text: &str) -> ((VariableId, usize), Vec<(VariableId, usize)>) {
    let inside = text.strip_prefix("P(").unwrap().strip_suffix(')').unwrap();
    let (left, right) = inside.split_once('|').unwrap_or((inside, ""));
    let pair = |text: &str| {
        let (variable, named) = text.split_once('=').unwrap();
        state(network, variable.trim(), named.trim())
    };
    let given = right.split(',').filter(|part| !part.is_empty());
    (pair(left), given.map(pair).collect())
}

fn cell(network: &Network, parameter: &str) -> Cell {
    let ((variable, state_idx), given) = read(network, parameter);
    let state_of = |id| given.iter().find(|(v, _)| *v == id).unwrap().1;
    Cell {
        variable,
        configuration: network.configuration(variable, state_of),
        state_idx,
    }
}

fn observed(given: &[(VariableId, usize)]) -> Evidence {
    let mut evidence = Evidence::new();
    for &(id, state_idx) in given {
        evidence.observe(id, state_idx);
    }
    evidence
}

#[track_caller]
fn near(found: f64, expected: f64, what: &str) {
    let off = (found - expected).abs();
    assert!(
        off <= TOLERANCE * expected.abs().max(1.0),
        "{what}: {found}, not {expected}"
    );
}

#[test]
fn published_sensitivity_functions() {
    let networks = networks();
    let file = json("sensitivity_functions.json");
    let cases = file["cases"].as_array().unwrap();
    for case in cases {
        let network = &networks[case["network"].as_str().unwrap()];
        let parameter = case["parameter"].as_str().unwrap();
        let what = format!("{} of {}", case["query"], parameter);
        let ((target, state_idx), given) = read(network, case["query"].as_str().unwrap());
        let circuit = Circuit::compile(network).unwrap();
        let parameters = network.parameters();
        let derivatives = circuit
            .joint_derivatives(&parameters, &observed(&given), target)
            .unwrap();
        let cell = cell(network, parameter);
        let x0 = number(&case["x0"]);
        assert_eq!(
            parameters.column(cell.variable, cell.configuration)[cell.state_idx],
            x0
        );
        let f = of_cell(&derivatives, &parameters, &[state_idx], cell).unwrap();

        // Ours stand over P(evidence) as stated.
        let scale = derivatives.log_evidence().exp();
        let all = ["alpha", "beta", "gamma", "delta"];
        for (name, found) in all.iter().zip([f.alpha, f.beta, f.gamma, f.delta]) {
            let expected = number(&case[name]);
            assert!(
                (found * scale - expected).abs() < TOLERANCE,
                "{what}, {name}: {found}"
            );
        }
        near(f.value(x0), number(&case["value_at_x0"]), &what);
        near(f.derivative(x0), number(&case["derivative_at_x0"]), &what);
        let p = f.value(x0);
        let bound = p * (1.0 - p) / (x0 * (1.0 - x0));
        near(
            bound,
            number(&case["chan_darwiche_derivative_bound"]),
            &what,
        );
        assert!(f.derivative(x0).abs() <= bound, "{what}");
        for point in case["curve"].as_array().unwrap() {
            near(f.value(number(&point[0])), number(&point[1]), &what);
        }
    }
    assert_eq!(cases.len(), 5);
}

/// Which change of one chance brings P(tampering | report, no smoke) to 0.65: the prior of tampering to at least 0.036 (Chan
/// & Darwiche 2002, from memory), the report without leaving to 0.0047, and no value of leaving without an alarm.
#[test]
fn which_change_brings_about_a_target() {
    let network = &networks()["fire_alarm"];
    let file = json("sensitivity_functions.json");
    let change = &file["parameter_change"];
    let ((target, state_idx), given) = read(network, "P(tampering=yes|report=yes,smoke=no)");
    let circuit = Circuit::compile(network).unwrap();
    let parameters = network.parameters();
    let derivatives = circuit
        .joint_derivatives(&parameters, &observed(&given), target)
        .unwrap();
    let solutions = change["solutions"].as_array().unwrap();
    for solution in solutions {
        let parameter = solution["parameter"].as_str().unwrap();
        let f = of_cell(
            &derivatives,
            &parameters,
            &[state_idx],
            cell(network, parameter),
        )
        .unwrap();
        let x = f.solve(number(&change["target"])).unwrap();
        near(x, number(&solution["needed"]), parameter);
        if let Some(shift) = solution.get("log_odds_change") {
            let before = number(&solution["x0"]);
            let d = distance::between_columns(&[before, 1.0 - before], &[x, 1.0 - x]);
            near(d, number(shift), parameter);
        }
        if let Some(possible) = solution.get("possible") {
            assert_eq!(
                (0.0..=1.0).contains(&x),
                possible.as_bool().unwrap(),
                "{parameter}"
            );
        }
    }
    assert_eq!(solutions.len(), 3);
}

fn query(network: &Network, parameters: &Parameters, text: &str) -> f64 {
    // P(lung=yes|{'xray': 'yes'})
    let plain: String = text.chars().filter(|c| !"{}' ".contains(*c)).collect();
    let ((target, state_idx), given) = read(network, &plain.replace(':', "="));
    let circuit = Circuit::compile(network).unwrap();
    let posterior = circuit.evaluate(parameters, &observed(&given)).unwrap();
    posterior.marginal(target).unwrap()[state_idx]
}

#[test]
fn published_distances_and_bounds() {
    let networks = networks();
    let file = json("distance.json");
    let cases = file["cases"].as_array().unwrap();
    for case in cases {
        let network = &networks[case["network"].as_str().unwrap()];
        // smoke|(): yes -> 0.3
        let changed = case["changed"].as_str().unwrap();
        let (variable, rest) = changed.split_once("|(").unwrap();
        let (given, rest) = rest.split_once("):").unwrap();
        let (entry, x) = rest.split_once("->").unwrap();
        let (id, state_idx) = state(network, variable, entry.trim());
        let given: Vec<&str> = given
            .split(',')
            .map(|s| s.trim_matches([' ', '\'']))
            .collect();
        let parents = network.parents(id);
        let configuration = network.configuration(id, |parent| {
            let place = parents.iter().position(|p| *p == parent).unwrap();
            state(network, &network.variable(parent).name, given[place]).1
        });
        let before = network.parameters();
        let column = before.column(id, configuration);
        let moved = covary(column, state_idx, x.trim().parse().unwrap()).unwrap();
        let d = distance::between_columns(column, &moved);
        near(d, number(&case["distance_from_the_changed_row"]), changed);
        near(d, number(&case["distance_over_worlds"]), changed);
        let mut after = before.clone();
        after.column_mut(id, configuration).copy_from_slice(&moved);
        for asked in case["queries"].as_array().unwrap() {
            let text = asked["query"].as_str().unwrap();
            let p = query(network, &before, text);
            near(p, number(&asked["before"]), text);
            let q = query(network, &after, text);
            near(q, number(&asked["after"]), text);
            let (low, high) = distance::bounds(p, d);
            near(low, number(&asked["lower_bound"]), text);
            near(high, number(&asked["upper_bound"]), text);
            assert!(low <= q && q <= high, "{text}");
        }
    }
    assert_eq!(cases.len(), 2);
}
