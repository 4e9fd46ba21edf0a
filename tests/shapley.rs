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
