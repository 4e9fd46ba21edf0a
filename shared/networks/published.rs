//! The published networks of `networks.json`, ready to be compiled.

use std::collections::BTreeMap;
use std::path::Path;

use nalgebra::DMatrix;
use saggar::network::{Cpt, Network, Role, Variable, VariableId};
use serde::Deserialize;

/// A network as the file holds it.
#[derive(Deserialize)]
pub struct Published {
    nodes: Vec<Node>,
}

/// `table` has one row for each parent configuration, the last parent fastest.
#[derive(Deserialize)]
struct Node {
    name: String,
    states: Vec<String>,
    parents: Vec<String>,
    table: Vec<Vec<f64>>,
}

/// Every network by name.
pub fn networks() -> BTreeMap<String, Network> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("shared/networks/networks.json");
    let text = std::fs::read_to_string(path).expect("the file is part of the repository");
    let published: BTreeMap<String, Published> =
        serde_json::from_str(&text).expect("it is JSON of this form");
    published
        .iter()
        .map(|(name, published)| (name.clone(), network(published)))
        .collect()
}

/// The network of that form.
pub fn network(published: &Published) -> Network {
    let id = |name: &String| {
        let place = published
            .nodes
            .iter()
            .position(|n| n.name == *name)
            .expect("every parent is a node");
        VariableId::new(place as u32)
    };
    let variable = |node: &Node| Variable {
        name: node.name.clone(),
        states: node.states.clone(),
        role: Role::Chance,
    };
    let cpt = |node: &Node| {
        let columns = node.table.concat();
        Cpt {
            parents: node.parents.iter().map(id).collect(),
            table: DMatrix::from_column_slice(node.states.len(), node.table.len(), &columns),
        }
    };
    let variables = published.nodes.iter().map(variable).collect();
    Network::new(
        variables,
        published.nodes.iter().map(cpt).collect(),
        Vec::new(),
    )
    .expect("the published tables are whole")
}
