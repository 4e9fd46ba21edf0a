//! Posteriors of published networks.
//!
//! Source of every network, evidence and value: `shared/networks`, `tests/reference/01-networks` and
//! `tests/reference/04-soft-evidence`, each network and printed value with its author and year beside it.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use std::collections::BTreeMap;
use std::path::PathBuf;

use saggar::circuit::Circuit;
use saggar::network::{Evidence, Network, VariableId};
use serde::Deserialize;

#[path = "../shared/networks/published.rs"]
mod published;

use published::networks;

const TOLERANCE: f64 = 1e-12;

fn file(path: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference")
        .join(path)
}

fn json<T: serde::de::DeserializeOwned>(path: &str) -> T {
    let text = std::fs::read_to_string(file(path)).unwrap();
    serde_json::from_str(&text).unwrap()
}

fn variable_and_state(network: &Network, variable: &str, state: &str) -> (VariableId, usize) {
    let id = network.find(variable).unwrap();
    let states = &network.variable(id).states;
    (id, states.iter().position(|s| s == state).unwrap())
}

fn observed<'a>(
    network: &Network,
    pairs: impl IntoIterator<Item = (&'a str, &'a str)>,
) -> Evidence {
    let mut evidence = Evidence::new();
    for (variable, state) in pairs {
        let (id, state_idx) = variable_and_state(network, variable, state);
        evidence.observe(id, state_idx);
    }
    evidence
}

fn posterior(network: &Network, evidence: &Evidence, variable: &str, state: &str) -> f64 {
    let circuit = Circuit::compile(network).unwrap();
    let posterior = circuit.evaluate(&network.parameters(), evidence).unwrap();
    let (id, state_idx) = variable_and_state(network, variable, state);
    posterior.marginal(id).unwrap()[state_idx]
}

fn p_evidence(network: &Network, evidence: &Evidence) -> f64 {
    let circuit = Circuit::compile(network).unwrap();
    circuit
        .log_evidence(&network.parameters(), evidence)
        .unwrap()
        .exp()
}

fn assert_relative(found: f64, expected: f64, what: &str) {
    assert!(
        (found - expected).abs() <= TOLERANCE * expected.abs(),
        "{what}: {found} instead of {expected}"
    );
}

/// Half a unit of the last printed digit.
fn printed_rounding(printed: &str) -> f64 {
    let digits = printed
        .split_once('.')
        .map_or(0, |(_, fraction)| fraction.len());
    0.5 * 10_f64.powi(-(digits as i32))
}

/// Source: tests/reference/01-networks/posteriors.csv, exact by enumeration in rational arithmetic; printed
/// values with their source in the column `printed_source`.
#[test]
fn published_posteriors() {
    let networks = networks();
    let mut reader = csv::Reader::from_path(file("01-networks/posteriors.csv")).unwrap();
    let mut n_cases = 0;
    let mut n_printed = 0;
    for record in reader.deserialize() {
        let row: BTreeMap<String, String> = record.unwrap();
        let number = |column: &str| row[column].parse::<f64>().unwrap();
        let network = &networks[&row["network"]];
        let what = format!("{} {} | {}", row["network"], row["target"], row["evidence"]);
        let pairs = row["evidence"].split(';').filter(|p| !p.is_empty());
        let evidence = observed(network, pairs.map(|p| p.split_once('=').unwrap()));

        let found = posterior(network, &evidence, &row["target"], &row["state"]);
        assert!(
            (found - number("posterior")).abs() <= TOLERANCE,
            "{what}: {found}"
        );
        if let Some((above, below)) = row["exact_fraction"].split_once('/') {
            let exact = above.parse::<f64>().unwrap() / below.parse::<f64>().unwrap();
            assert!((found - exact).abs() <= TOLERANCE, "{what}: {found}");
        }
        if !row["printed"].is_empty() {
            let within = printed_rounding(&row["printed"]) * (1.0 + 1e-9);
            assert!(
                (found - number("printed")).abs() <= within,
                "{what}: {found}"
            );
            n_printed += 1;
        }
        assert_relative(
            p_evidence(network, &evidence),
            number("prob_evidence"),
            &what,
        );
        let circuit = Circuit::compile(network).unwrap();
        let ln_p = circuit
            .log_evidence(&network.parameters(), &evidence)
            .unwrap();
        let ln_expected = number("ln_prob_evidence");
        // Where P(evidence) is 1 its logarithm is 0 and only an absolute error has meaning.
        let within = TOLERANCE * ln_expected.abs().max(1e-3);
        assert!((ln_p - ln_expected).abs() <= within, "{what}: {ln_p}");
        n_cases += 1;
    }
    assert_eq!((n_cases, n_printed), (54, 48));
}

#[derive(Deserialize)]
struct VirtualEvidence {
    cases: Vec<VirtualCase>,
}

#[derive(Deserialize)]
struct VirtualCase {
    network: String,
    likelihoods: BTreeMap<String, BTreeMap<String, f64>>,
    hard_evidence: BTreeMap<String, String>,
    prob_evidence_with_likelihoods: f64,
    posteriors: BTreeMap<String, f64>,
}

/// Source: tests/reference/04-soft-evidence/network_virtual.json, exact by enumeration.
#[test]
fn likelihood_evidence() {
    let networks = networks();
    let file: VirtualEvidence = json("04-soft-evidence/network_virtual.json");
    assert_eq!(file.cases.len(), 4);
    for case in file.cases {
        let network = &networks[&case.network];
        let pairs = case.hard_evidence.iter();
        let mut evidence = observed(network, pairs.map(|(v, s)| (v.as_str(), s.as_str())));
        for (variable, likelihoods) in &case.likelihoods {
            let id = network.find(variable).unwrap();
            let states = network.variable(id).states.iter();
            evidence.likelihood(id, states.map(|s| likelihoods[s]).collect());
        }
        let expected = case.prob_evidence_with_likelihoods;
        assert_relative(p_evidence(network, &evidence), expected, &case.network);
        for (target, expected) in &case.posteriors {
            let (variable, state) = target.split_once('=').unwrap();
            let found = posterior(network, &evidence, variable, state);
            assert!((found - expected).abs() <= TOLERANCE, "{target}: {found}");
        }
    }
}

#[derive(Deserialize)]
struct Explanations {
    cases: Vec<Explanation>,
}

#[derive(Deserialize)]
struct Explanation {
    network: String,
    evidence: BTreeMap<String, String>,
    prob_evidence: f64,
    mpe_assignment: BTreeMap<String, String>,
    mpe_joint: f64,
    conflict_bits: f64,
}

/// P(evidence), the probability of one full assignment, and the conflict measure, which needs P of each
/// item alone.
///
/// Source: tests/reference/01-networks/mpe_conflict.json; conflict measure of Jensen, Chamberlain, Nordahl
/// and Jensen 1990.
#[test]
fn evidence_and_its_conflict() {
    let networks = networks();
    let file: Explanations = json("01-networks/mpe_conflict.json");
    assert_eq!(file.cases.len(), 5);
    for case in file.cases {
        let network = &networks[&case.network];
        let p = |assignment: &BTreeMap<String, String>| {
            let pairs = assignment.iter().map(|(v, s)| (v.as_str(), s.as_str()));
            p_evidence(network, &observed(network, pairs))
        };
        let joint = p(&case.evidence);
        assert_relative(joint, case.prob_evidence, &case.network);
        assert_relative(p(&case.mpe_assignment), case.mpe_joint, &case.network);
        let apart: f64 = case
            .evidence
            .iter()
            .map(|(v, s)| p_evidence(network, &observed(network, [(v.as_str(), s.as_str())])))
            .product();
        let conflict_bits = (apart / joint).log2();
        assert!(
            (conflict_bits - case.conflict_bits).abs() <= TOLERANCE,
            "{conflict_bits}"
        );
    }
}
