//! Shapley values of evidence against figures by brute force. Source: `tests/reference/08-shapley`.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use std::collections::BTreeMap;
use std::path::Path;

use saggar::audit::shapley::shapley;
use saggar::circuit::Subsets;
use saggar::network::{Evidence, Network};
use serde::Deserialize;

#[path = "../shared/networks/published.rs"]
mod published;

#[derive(Deserialize)]
struct File {
    naive_bayes_cpts: published::Published,
    cases: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    network: String,
    /// `node=state`.
    target: String,
    evidence: BTreeMap<String, String>,
    shapley_nats: BTreeMap<String, f64>,
    /// Worth of each coalition, its members joined by `+` in alphabetical order.
    coalitions: BTreeMap<String, f64>,
    total_shift_nats: f64,
}

#[track_caller]
fn assert_close(found: f64, expected: f64) {
    assert!(
        (found - expected).abs() < 1e-10,
        "{found} instead of {expected}"
    );
}

fn state(network: &Network, node: &str, state: &str) -> (saggar::network::VariableId, usize) {
    let id = network.find(node).unwrap();
    let states = &network.variable(id).states;
    (id, states.iter().position(|s| s == state).unwrap())
}

#[test]
fn shares_of_evidence_on_published_networks() {
    let path =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/08-shapley/shapley.json");
    let file: File = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let mut networks = published::networks();
    networks.insert(
        "naive_bayes_symmetric".to_owned(),
        published::network(&file.naive_bayes_cpts),
    );
    assert_eq!(file.cases.len(), 3);
    for case in &file.cases {
        let network = &networks[&case.network];
        let (node, wanted) = case.target.split_once('=').unwrap();
        let (target, state_idx) = state(network, node, wanted);
        let groups = case.evidence.iter().map(|(node, seen)| {
            let (id, seen) = state(network, node, seen);
            let mut group = Evidence::new();
            group.observe(id, seen);
            group
        });
        let groups: Vec<Evidence> = groups.collect();
        let subsets =
            Subsets::compile(network.structure(), &Evidence::new(), &groups, target).unwrap();
        let posteriors = subsets.evaluate(&network.parameters()).unwrap();
        let worth: Vec<f64> = (0..posteriors.n_subsets())
            .map(|subset| {
                let p = posteriors.probability(subset, state_idx).unwrap();
                (p / (1.0 - p)).ln()
            })
            .collect();
        let names: Vec<&String> = case.evidence.keys().collect();
        for (subset, &worth) in worth.iter().enumerate() {
            let taken = (0..names.len()).filter(|g| subset >> g & 1 == 1);
            let taken: Vec<&str> = taken.map(|g| names[g].as_str()).collect();
            let key = if taken.is_empty() {
                "(none)".to_owned()
            } else {
                taken.join("+")
            };
            assert_close(worth, case.coalitions[&key]);
        }
        let values = shapley(&worth);
        for (name, &value) in names.iter().zip(&values) {
            assert_close(value, case.shapley_nats[*name]);
        }
        assert_close(values.iter().sum(), case.total_shift_nats);
    }
}

/// A hypothesis of three states, a hidden cause below it, items that depend on both, a copy of the first item and an item that
/// depends on nothing.
fn random_network(cells: &[f64]) -> Network {
    use nalgebra::DMatrix;
    use saggar::network::{Cpt, Role, Variable, VariableId};
    let mut cells = cells.iter().copied().cycle();
    let mut column = |n: usize| -> Vec<f64> {
        let raw: Vec<f64> = (0..n).map(|_| cells.next().unwrap()).collect();
        let sum: f64 = raw.iter().sum();
        raw.iter().map(|x| x / sum).collect()
    };
    let variable = |name: &str, n: usize| Variable {
        name: name.to_owned(),
        states: (0..n).map(|s| s.to_string()).collect(),
        role: Role::Chance,
    };
    let names = ["hypothesis", "cause", "a", "copy of a", "b", "c", "nothing"];
    let states = [3, 2, 2, 2, 2, 2, 2];
    let variables = names.iter().zip(states).map(|(name, n)| variable(name, n));
    let mut table = |n_states: usize, n_columns: usize, parents: &[u32]| {
        let cells: Vec<f64> = (0..n_columns).flat_map(|_| column(n_states)).collect();
        Cpt {
            parents: parents.iter().map(|&p| VariableId::new(p)).collect(),
            table: DMatrix::from_vec(n_states, n_columns, cells),
        }
    };
    let mut cpts = vec![
        table(3, 1, &[]),
        table(2, 3, &[0]),
        table(2, 6, &[0, 1]),
        table(2, 6, &[0, 1]),
        table(2, 6, &[0, 1]),
        table(2, 3, &[0]),
        table(2, 1, &[]),
    ];
    cpts[3] = cpts[2].clone();
    Network::new(variables.collect(), cpts, Vec::new()).unwrap()
}

proptest::proptest! {
    /// Source: Shapley 1953, "A value for n-person games": the four axioms, here for shares of log-odds on random networks.
    /// The games of A against B and of B against C add up to that of A against C.
    #[test]
    fn the_axioms_on_random_networks(cells in proptest::collection::vec(0.05..1.0_f64, 61)) {
        let network = random_network(&cells);
        let hypothesis = network.find("hypothesis").unwrap();
        let groups = ["a", "copy of a", "b", "c", "nothing"].map(|name| {
            let mut group = Evidence::new();
            group.observe(network.find(name).unwrap(), 0);
            group
        });
        let subsets =
            Subsets::compile(network.structure(), &Evidence::new(), &groups, hypothesis).unwrap();
        let posteriors = subsets.evaluate(&network.parameters()).unwrap();
        let shares = |claim: usize, against: usize| {
            let worth = (0..posteriors.n_subsets()).map(|subset| {
                let p = |state| posteriors.probability(subset, state).unwrap();
                (p(claim) / p(against)).ln()
            });
            let worth: Vec<f64> = worth.collect();
            let shift = worth[worth.len() - 1] - worth[0];
            (shapley(&worth), shift)
        };
        let (ab, shift) = shares(0, 1);
        // Efficiency, symmetry, null player.
        assert!((ab.iter().sum::<f64>() - shift).abs() < 1e-10);
        assert!((ab[0] - ab[1]).abs() < 1e-10, "{ab:?}");
        assert!(ab[4].abs() < 1e-10, "{ab:?}");
        // Additivity.
        let ((bc, _), (ac, _)) = (shares(1, 2), shares(0, 2));
        for ((x, y), sum) in ab.iter().zip(&bc).zip(&ac) {
            assert!((x + y - sum).abs() < 1e-10);
        }
    }
}
