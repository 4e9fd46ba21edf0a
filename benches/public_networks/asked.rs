//! What is asked of which network: `evidence.json`, made by `choose.py` and read by the peer too.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use saggar::interchange;
use saggar::network::{Evidence, Network, VariableId};
use saggar::source::Sources;
use serde::Deserialize;

/// Relative error of P(evidence), absolute error of a probability.
pub const TOLERANCE: f64 = 1e-10;

/// Names the folder with the networks that are too large for the repository.
const FOLDER: &str = "SAGGAR_NETWORKS";

#[derive(Deserialize)]
struct Asked {
    networks: BTreeMap<String, OfNetwork>,
}

/// What is asked of one network.
#[derive(Deserialize)]
pub struct OfNetwork {
    #[serde(default)]
    pub questions: Vec<Question>,
    #[serde(default)]
    pub observed: Vec<Observed>,
    #[serde(default)]
    pub priors: BTreeMap<String, Vec<f64>>,
}

/// One variable asked for, 12 others observed.
#[derive(Deserialize)]
pub struct Question {
    pub asked: String,
    variables: Vec<String>,
    states: Vec<usize>,
    pub posterior: Vec<f64>,
}

/// Some variables observed, in one or several sets of states.
#[derive(Deserialize)]
pub struct Observed {
    variables: Vec<String>,
    states: Vec<Vec<usize>>,
    log_evidence: Vec<f64>,
}

impl Question {
    pub fn evidence(&self, network: &Network) -> Evidence {
        entered(&self.variables, &self.states, network)
    }
}

impl Observed {
    /// Each set of states, with its ln P(evidence).
    pub fn evidence(&self, network: &Network) -> Vec<(Evidence, f64)> {
        self.states
            .iter()
            .map(|states| entered(&self.variables, states, network))
            .zip(self.log_evidence.iter().copied())
            .collect()
    }
}

fn entered(variables: &[String], states: &[usize], network: &Network) -> Evidence {
    let mut evidence = Evidence::new();
    for (name, &state_idx) in variables.iter().zip(states) {
        evidence.observe(find(network, name), state_idx);
    }
    evidence
}

pub fn find(network: &Network, name: &str) -> VariableId {
    network.find(name).expect("chosen from this network")
}

/// A network with what is asked of it; `None`, with a message, if its file is not there.
pub fn open(name: &str) -> Option<(Network, OfNetwork)> {
    let Some(file) = file(name) else {
        eprintln!(
            "{name} skipped: {name}.bif is too large for the repository; \
             benches/README.md says how to fetch it into the folder that {FOLDER} names"
        );
        return None;
    };
    let text = std::fs::read_to_string(here("benches/public_networks/evidence.json"))
        .expect("the file is in the repository");
    let mut asked: Asked = serde_json::from_str(&text).expect("made by choose.py");
    let network = interchange::read(&file, &mut Sources::default())
        .expect("the file is a network")
        .network;
    let of_network = asked.networks.remove(name).expect("chosen by choose.py");
    Some((network, of_network))
}

fn file(name: &str) -> Option<PathBuf> {
    let large = std::env::var_os(FOLDER).map(PathBuf::from);
    [Some(here("shared/networks/public")), large]
        .into_iter()
        .flatten()
        .map(|folder| folder.join(format!("{name}.bif")))
        .find(|file| file.is_file())
}

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

pub fn assert_close(found: &[f64], expected: &[f64]) {
    assert_eq!(found.len(), expected.len());
    for (found, expected) in found.iter().zip(expected) {
        assert!((found - expected).abs() <= TOLERANCE, "{found}, {expected}");
    }
}
