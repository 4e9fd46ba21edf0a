//! Standard public networks: their files read and written, their posteriors compared.
//!
//! Source of every value: `tests/reference/13-public-networks/posteriors.json`, made by the script beside it with
//! another program and checked a second way; networks: `shared/networks/public`, each with its publication.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use saggar::circuit::{Circuit, Propagator};
use saggar::interchange::{Format, PublicNetwork, parse, print, read};
use saggar::network::{Evidence, Network};
use saggar::source::Sources;
use serde::Deserialize;

const TOLERANCE: f64 = 1e-10;

#[derive(Deserialize)]
struct References {
    networks: BTreeMap<String, Vec<Case>>,
}

#[derive(Deserialize)]
struct Case {
    hard: BTreeMap<String, String>,
    likelihoods: BTreeMap<String, Vec<f64>>,
    log_evidence: f64,
    posteriors: BTreeMap<String, Vec<f64>>,
}

fn references() -> References {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference/13-public-networks/posteriors.json");
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

fn file(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("shared/networks/public/{name}.bif"))
}

fn network(name: &str) -> PublicNetwork {
    read(&file(name), &mut Sources::default()).unwrap()
}

fn evidence(network: &Network, case: &Case) -> Evidence {
    let mut evidence = Evidence::new();
    for (name, state) in &case.hard {
        let id = network.find(name).unwrap();
        let states = &network.variable(id).states;
        evidence.observe(id, states.iter().position(|s| s == state).unwrap());
    }
    for (name, likelihoods) in &case.likelihoods {
        evidence.likelihood(network.find(name).unwrap(), likelihoods.clone());
    }
    evidence
}

#[test]
fn posteriors_agree_with_another_program() {
    let references = references();
    let (mut n_sets, mut n_posteriors) = (0, 0);
    for (name, cases) in &references.networks {
        let network = network(name).network;
        let circuit = Circuit::compile(&network).unwrap();
        let parameters = network.parameters();
        let mut workspace = circuit.workspace();
        let propagator = Propagator::new(network.structure());
        let mut kept = propagator.workspace();
        let (mut off_ln, mut off_p) = (0_f64, 0_f64);
        for case in cases {
            let posterior = circuit
                .evaluate_in(&mut workspace, &parameters, &evidence(&network, case))
                .unwrap();
            let marginals = propagator
                .marginals_in(&mut kept, &parameters, &evidence(&network, case))
                .unwrap();
            for log_evidence in [posterior.log_evidence(), marginals.log_evidence()] {
                off_ln = off_ln.max((log_evidence - case.log_evidence).abs());
            }
            for (node, expected) in &case.posteriors {
                let id = network.find(node).unwrap();
                for marginal in [posterior.marginal(id), marginals.marginal(id)] {
                    let marginal = marginal.unwrap();
                    assert_eq!(marginal.len(), expected.len());
                    for (found, expected) in marginal.iter().zip(expected) {
                        off_p = off_p.max((found - expected).abs());
                    }
                }
                n_posteriors += expected.len();
            }
            n_sets += 1;
        }
        // A difference of logarithms is a relative one of P(evidence).
        println!("{name}: differs by {off_ln:.1e} in ln P(e), {off_p:.1e} in posteriors");
        assert!(off_ln <= TOLERANCE, "{name}: ln P(e) off by {off_ln}");
        assert!(off_p <= TOLERANCE, "{name}: a posterior off by {off_p}");
    }
    assert!(references.networks.len() >= 10);
    assert_eq!(n_sets, 5 * references.networks.len());
    assert_eq!(n_posteriors, 4933);
}

/// Source: the counts of nodes, arcs and table cells of the networks are those of this repository's copies; nodes and
/// arcs as published (see `shared/networks/public/README.md`), from memory.
#[test]
fn sizes() {
    let expected = [
        ("alarm", 37, 46, 752),
        ("andes", 223, 338, 2314),
        ("asia", 8, 8, 36),
        ("cancer", 5, 4, 20),
        ("child", 20, 25, 344),
        ("earthquake", 5, 4, 20),
        ("hailfinder", 56, 66, 3741),
        ("hepar2", 70, 123, 2139),
        ("insurance", 27, 52, 1419),
        ("pigs", 441, 592, 8427),
        ("sachs", 11, 17, 267),
        ("survey", 6, 6, 37),
        ("water", 32, 66, 13484),
        ("win95pts", 76, 112, 1148),
    ];
    for (name, nodes, arcs, cells) in expected {
        let network = network(name).network;
        let ids = network.variable_ids();
        let found = (
            network.variables().len(),
            ids.clone().map(|v| network.parents(v).len()).sum::<usize>(),
            ids.map(|v| network.cpt(v).table.len()).sum::<usize>(),
        );
        assert_eq!(found, (nodes, arcs, cells), "{name}");
    }
}

#[test]
fn bif_to_xmlbif_to_bif_changes_nothing() {
    for name in references().networks.keys() {
        let first = network(name);
        let mut sources = Sources::default();
        let mut again = |text: String, format| {
            let source = sources.add("again", text);
            let read = parse(source, &sources, format).unwrap();
            assert_eq!(read, first, "{name}");
            assert!(read.warnings.is_empty(), "{name}");
            read
        };
        let bif = print(&first, Format::Bif).unwrap();
        let xml = again(bif.clone(), Format::Bif);
        let back = again(print(&xml, Format::XmlBif).unwrap(), Format::XmlBif);
        assert_eq!(print(&back, Format::Bif).unwrap(), bif, "{name}");
    }
}

/// Every number of a file that needed no division comes back to the last bit.
#[test]
fn numbers_keep_every_digit() {
    let alarm = network("alarm").network;
    let history = alarm.find("HISTORY").unwrap();
    // shared/networks/public/alarm.bif: `(TRUE) 0.9, 0.1; (FALSE) 0.01, 0.99;`
    assert_eq!(alarm.cpt(history).table.as_slice(), [0.9, 0.1, 0.01, 0.99]);
    for name in ["asia", "win95pts", "andes", "pigs"] {
        let public = network(name);
        assert!(public.warnings.is_empty(), "{name}");
        let text = std::fs::read_to_string(file(name)).unwrap();
        let body = text.split("probability").skip(1).collect::<String>();
        let written: Vec<f64> = body
            .lines()
            .filter_map(|line| line.trim().strip_suffix(';'))
            .flat_map(|line| {
                let numbers = line.split_once(')').map_or(line, |(_, rest)| rest);
                numbers.trim_start_matches("table").split(',')
            })
            .map(|number| number.trim().parse().unwrap())
            .collect();
        let n_cells: usize = public
            .network
            .variable_ids()
            .map(|v| public.network.cpt(v).table.len())
            .sum();
        assert_eq!(written.len(), n_cells, "{name}");
        let mut kept: Vec<f64> = public
            .network
            .variable_ids()
            .flat_map(|v| public.network.cpt(v).table.as_slice().to_vec())
            .collect();
        let mut written = written;
        kept.sort_by(f64::total_cmp);
        written.sort_by(f64::total_cmp);
        assert_eq!(kept, written, "{name}");
    }
}
