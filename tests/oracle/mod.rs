//! Brute force: P(evidence) and every posterior by walking through all joint states.
//!
//! It reads tables and parents of a [`Network`] and shares nothing with the circuit: no elimination order,
//! no products of tables, no scaling.

pub mod exact;

use saggar::network::{
    Evidence, EvidenceItem, Finding, ItemContent, MeasureId, Network, Role, VariableId,
};

/// Sums of joint probabilities; divide by `evidence` for posteriors.
pub struct Enumeration {
    /// P(evidence), or the sum of likelihood × probability.
    pub evidence: f64,
    marginals: Vec<Vec<Sum>>,
    families: Vec<Vec<Sum>>,
    measures: Vec<Vec<Sum>>,
}

impl Enumeration {
    /// Walks through all joint states. An input that is not given is spread evenly.
    pub fn new(network: &Network, evidence: &Evidence) -> Self {
        let variables: Vec<VariableId> = network.variable_ids().collect();
        let measures: Vec<MeasureId> = network.measure_ids().collect();
        let zeros = |n: usize| vec![Sum::default(); n];
        let mut result = Self {
            evidence: 0.0,
            marginals: variables
                .iter()
                .map(|&v| zeros(network.variable(v).states.len()))
                .collect(),
            families: variables
                .iter()
                .map(|&v| zeros(network.cpt(v).table.len()))
                .collect(),
            measures: measures
                .iter()
                .map(|&m| {
                    let parents = &network.measure(m).parents;
                    zeros(
                        parents
                            .iter()
                            .map(|&p| network.variable(p).states.len())
                            .product(),
                    )
                })
                .collect(),
        };
        let mut total = Sum::default();
        let mut states = vec![0_usize; variables.len()];
        loop {
            let p = weight(network, evidence, &states);
            total.add(p);
            for &v in &variables {
                let state_idx = states[v.index()];
                result.marginals[v.index()][state_idx].add(p);
                let column = configuration(network, &network.cpt(v).parents, &states);
                let n_states = network.variable(v).states.len();
                result.families[v.index()][column * n_states + state_idx].add(p);
            }
            for &m in &measures {
                let column = configuration(network, &network.measure(m).parents, &states);
                result.measures[m.index()][column].add(p);
            }
            if !next(&mut states, network) {
                break;
            }
        }
        result.evidence = total.value();
        result
    }

    /// P(states | evidence).
    pub fn marginal(&self, v: VariableId) -> Vec<f64> {
        self.shares(&self.marginals[v.index()])
    }

    /// P(state, parent configuration | evidence), column by column.
    pub fn family(&self, v: VariableId) -> Vec<f64> {
        self.shares(&self.families[v.index()])
    }

    /// P(parent configuration | evidence) of a measure.
    pub fn measure(&self, m: MeasureId) -> Vec<f64> {
        self.shares(&self.measures[m.index()])
    }

    fn shares(&self, sums: &[Sum]) -> Vec<f64> {
        sums.iter().map(|sum| sum.value() / self.evidence).collect()
    }
}

/// The inputs above a variable or measure, itself included.
pub fn inputs_above(network: &Network, item: EvidenceItem) -> Vec<VariableId> {
    let mut open = match item {
        EvidenceItem::Variable(v) => vec![v],
        EvidenceItem::Measure(m) => network.measure(m).parents.clone(),
    };
    let mut inputs = Vec::new();
    while let Some(v) = open.pop() {
        if network.variable(v).role == Role::Input {
            inputs.push(v);
        }
        open.extend(&network.cpt(v).parents);
    }
    inputs
}

/// The part of `evidence` that is about `items`.
pub fn only(evidence: &Evidence, items: &[EvidenceItem]) -> Evidence {
    let mut part = evidence.clone();
    for (item, _) in evidence.items() {
        if !items.contains(&item) {
            part.remove(item);
        }
    }
    part
}

fn weight(network: &Network, evidence: &Evidence, states: &[usize]) -> f64 {
    let mut p = 1.0;
    for v in network.variable_ids() {
        let state_idx = states[v.index()];
        let finding = evidence.finding(v);
        p *= match (network.variable(v).role, finding) {
            (Role::Chance, _) => {
                let cpt = network.cpt(v);
                cpt.table[(state_idx, configuration(network, &cpt.parents, states))]
            }
            (Role::Input, Some(_)) => 1.0,
            (Role::Input, None) => 1.0 / network.variable(v).states.len() as f64,
        };
        p *= match finding {
            None => 1.0,
            Some(&Finding::State(observed)) => f64::from(u8::from(observed == state_idx)),
            Some(Finding::Likelihood(values)) => values[state_idx],
        };
    }
    for (item, content) in evidence.items() {
        if let (EvidenceItem::Measure(m), ItemContent::Densities(values)) = (item, content) {
            p *= values[configuration(network, &network.measure(m).parents, states)];
        }
    }
    p
}

fn configuration(network: &Network, parents: &[VariableId], states: &[usize]) -> usize {
    let mut index = 0;
    for p in parents {
        index = index * network.variable(*p).states.len() + states[p.index()];
    }
    index
}

/// Steps to the next joint state, like an odometer; `false` after the last.
fn next(states: &mut [usize], network: &Network) -> bool {
    for (state, variable) in states.iter_mut().zip(network.variables()) {
        *state += 1;
        if *state < variable.states.len() {
            return true;
        }
        *state = 0;
    }
    false
}

/// A sum that keeps the digits lost by each addition (Neumaier 1974), so that the oracle's own rounding
/// stays well below the tolerance.
#[derive(Clone, Copy, Default)]
struct Sum {
    sum: f64,
    lost: f64,
}

impl Sum {
    fn add(&mut self, term: f64) {
        let next = self.sum + term;
        self.lost += if self.sum >= term {
            (self.sum - next) + term
        } else {
            (term - next) + self.sum
        };
        self.sum = next;
    }

    fn value(self) -> f64 {
        self.sum + self.lost
    }
}
