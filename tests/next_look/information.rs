//! Mutual information over plain networks.

use std::collections::BTreeMap;
use std::path::Path;

use proptest::prelude::*;
use saggar::circuit::Circuit;
use saggar::network::{Evidence, Network, Role, VariableId};
use saggar::next_look::information;
use serde::Deserialize;

use crate::oracle::Enumeration;
use crate::published::networks;
use crate::random::network_and_evidence;

#[derive(Deserialize)]
struct File {
    cases: Vec<Case>,
}

#[derive(Deserialize)]
struct Case {
    network: String,
    ranked: Vec<Ranked>,
}

#[derive(Deserialize)]
struct Ranked {
    target: String,
    finding: String,
    evidence: BTreeMap<String, String>,
    entropy_bits: f64,
    expected_entropy_bits: f64,
    information_bits: f64,
}

/// Source: `tests/reference/07-value-of-information`: the chest clinic and the sprinkler, by brute force.
#[test]
fn published_networks() {
    let path = "tests/reference/07-value-of-information/mutual_information.json";
    let text = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap();
    let file: File = serde_json::from_str(&text).unwrap();
    let networks = networks();
    let mut n_compared = 0;
    for case in &file.cases {
        let network = &networks[&case.network];
        let circuit = Circuit::compile(network).unwrap();
        let mut before = f64::INFINITY;
        for ranked in &case.ranked {
            let id = |name: &str| network.find(name).unwrap();
            let mut evidence = Evidence::new();
            for (variable, state) in &ranked.evidence {
                let states = &network.variable(id(variable)).states;
                let state_idx = states.iter().position(|s| s == state).unwrap();
                evidence.observe(id(variable), state_idx);
            }
            let parameters = network.parameters();
            let (target, finding) = (id(&ranked.target), id(&ranked.finding));
            let found = information(&circuit, &parameters, &evidence, target, finding).unwrap();
            let what = format!("{}, {} of {}", case.network, ranked.finding, ranked.target);
            for (found, expected) in [
                (found.entropy, ranked.entropy_bits),
                (found.expected_entropy, ranked.expected_entropy_bits),
                (found.bits, ranked.information_bits),
            ] {
                assert!(
                    (found - expected).abs() < 1e-12,
                    "{what}: {found} {expected}"
                );
            }
            assert!(found.bits <= before + 1e-12, "{what} out of rank");
            before = found.bits;
            n_compared += 1;
        }
    }
    assert_eq!(n_compared, 15);
}

/// Evidence with every input given, so that every variable has a distribution; none if it cannot be.
pub fn whole(network: &Network, evidence: &Evidence) -> Option<Evidence> {
    let mut evidence = evidence.clone();
    for id in network.variable_ids() {
        if network.variable(id).role == Role::Input && evidence.finding(id).is_none() {
            evidence.observe(id, 0);
        }
    }
    (Enumeration::new(network, &evidence).evidence > 0.0).then_some(evidence)
}

/// P(question, finding | evidence) by brute force: for each state of the finding one chance for each of the question.
pub fn joint(
    network: &Network,
    evidence: &Evidence,
    question: VariableId,
    finding: VariableId,
) -> Vec<Vec<f64>> {
    let all = Enumeration::new(network, evidence);
    let p = all.marginal(finding);
    let of_state = |state: usize| {
        if p[state] == 0.0 {
            return vec![0.0; network.n_states(question)];
        }
        let mut so = evidence.clone();
        so.observe(finding, state);
        let given = Enumeration::new(network, &so).marginal(question);
        given.iter().map(|q| q * p[state]).collect()
    };
    (0..network.n_states(finding)).map(of_state).collect()
}

/// Σ p log₂ (p / (row × column)): the definition, and not the difference of entropies.
pub fn by_definition(joint: &[Vec<f64>]) -> f64 {
    let rows: Vec<f64> = joint.iter().map(|row| row.iter().sum()).collect();
    let column = |c: usize| joint.iter().map(|row| row[c]).sum::<f64>();
    let mut sum = 0.0;
    for (row, p_row) in joint.iter().zip(&rows) {
        for (c, &p) in row.iter().enumerate() {
            if p > 0.0 {
                sum += p * (p / (p_row * column(c))).log2();
            }
        }
    }
    sum
}

/// Whether two variables have an ancestor in common, themselves included.
fn are_related(network: &Network, one: VariableId, other: VariableId) -> bool {
    let above = |id: VariableId| {
        let (mut open, mut found) = (vec![id], Vec::new());
        while let Some(id) = open.pop() {
            if !found.contains(&id) {
                found.push(id);
                open.extend(network.parents(id));
            }
        }
        found
    };
    let others = above(other);
    above(one).iter().any(|id| others.contains(id))
}

proptest! {
    #[test]
    fn as_by_definition_and_the_same_both_ways((network, evidence) in network_and_evidence()) {
        let Some(evidence) = whole(&network, &evidence) else { return Ok(()) };
        let circuit = Circuit::compile(&network).unwrap();
        let parameters = network.parameters();
        let is_chance = |id: &VariableId| network.variable(*id).role == Role::Chance;
        let ids: Vec<VariableId> = network.variable_ids().filter(is_chance).take(4).collect();
        for &question in &ids {
            for &finding in ids.iter().filter(|&&id| id != question) {
                let bits = |a, b| information(&circuit, &parameters, &evidence, a, b).unwrap().bits;
                let found = bits(question, finding);
                let expected = by_definition(&joint(&network, &evidence, question, finding));
                prop_assert!(found >= 0.0);
                prop_assert!((found - expected).abs() < 1e-9, "{} {}", found, expected);
                prop_assert!((found - bits(finding, question)).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn what_is_separated_tells_nothing((network, _) in network_and_evidence()) {
        let evidence = whole(&network, &Evidence::new()).unwrap();
        let circuit = Circuit::compile(&network).unwrap();
        let parameters = network.parameters();
        let is_chance = |id: &VariableId| network.variable(*id).role == Role::Chance;
        let ids: Vec<VariableId> = network.variable_ids().filter(is_chance).collect();
        for &question in &ids {
            for &finding in ids.iter().filter(|&&id| !are_related(&network, question, id)) {
                let found = information(&circuit, &parameters, &evidence, question, finding).unwrap();
                prop_assert!(found.bits < 1e-12, "{:?}", found);
            }
        }
    }
}
