//! Brute force for networks too large to walk through: depth first, and no further where the product is already 0.
//!
//! Only what stands above the findings and the questions is summed over; the rest sums to 1. It reads tables and parents of
//! a [`Network`] and shares nothing with the circuit.

use std::collections::BTreeMap;

use saggar::network::{Evidence, EvidenceItem, Finding, Network, Role, VariableId};

/// P(evidence) and, for each question, P(state, evidence).
pub struct Sums {
    pub evidence: f64,
    joint: BTreeMap<VariableId, Vec<f64>>,
}

impl Sums {
    /// P(states | evidence).
    pub fn posterior(&self, question: VariableId) -> Vec<f64> {
        let joint = &self.joint[&question];
        joint.iter().map(|p| p / self.evidence).collect()
    }
}

pub fn sums(network: &Network, evidence: &Evidence, questions: &[VariableId]) -> Sums {
    let findings = evidence.items().map(|(item, _)| match item {
        EvidenceItem::Variable(v) => v,
        EvidenceItem::Measure(_) => panic!("no measures here"),
    });
    let above = above(network, findings.chain(questions.iter().copied()));
    let mut walk = Walk {
        network,
        evidence,
        order: order(network, evidence, above),
        states: vec![0; network.variables().len()],
        total: 0.0,
        joint: questions
            .iter()
            .map(|&q| (q, vec![0.0; network.n_states(q)]))
            .collect(),
    };
    walk.step(0, 1.0);
    Sums {
        evidence: walk.total,
        joint: walk.joint,
    }
}

/// The variables named and all that stand above them.
fn above(network: &Network, named: impl Iterator<Item = VariableId>) -> Vec<VariableId> {
    let mut open: Vec<VariableId> = named.collect();
    let mut found = Vec::new();
    while let Some(v) = open.pop() {
        if !found.contains(&v) {
            found.push(v);
            open.extend(network.parents(v));
        }
    }
    found
}

/// Parents first; of those whose parents are set, one that was found comes first, since it cuts the walk short.
fn order(network: &Network, evidence: &Evidence, mut left: Vec<VariableId>) -> Vec<VariableId> {
    let mut order: Vec<VariableId> = Vec::new();
    left.sort();
    while !left.is_empty() {
        let ready = |v: &VariableId| network.parents(*v).iter().all(|p| order.contains(p));
        let found = |v: &VariableId| evidence.finding(*v).is_some();
        let next = left.iter().position(|v| ready(v) && found(v));
        let next = next.or_else(|| left.iter().position(ready)).unwrap();
        let v = left.remove(next);
        order.push(v);
    }
    order
}

struct Walk<'a> {
    network: &'a Network,
    evidence: &'a Evidence,
    order: Vec<VariableId>,
    states: Vec<usize>,
    total: f64,
    joint: BTreeMap<VariableId, Vec<f64>>,
}

impl Walk<'_> {
    fn step(&mut self, depth: usize, p: f64) {
        let Some(&v) = self.order.get(depth) else {
            self.total += p;
            for (question, joint) in &mut self.joint {
                joint[self.states[question.index()]] += p;
            }
            return;
        };
        let network = self.network;
        let mut column = 0;
        for parent in network.parents(v) {
            column = column * network.n_states(*parent) + self.states[parent.index()];
        }
        for state in 0..network.n_states(v) {
            let chance = match network.variable(v).role {
                Role::Chance => network.cpt(v).table[(state, column)],
                Role::Input => 1.0,
            };
            let seen = match self.evidence.finding(v) {
                None => 1.0,
                Some(Finding::State(observed)) => f64::from(u8::from(*observed == state)),
                Some(Finding::Likelihood(weights)) => weights[state],
            };
            let p = p * chance * seen;
            if p > 0.0 {
                self.states[v.index()] = state;
                self.step(depth + 1, p);
            }
        }
    }
}
