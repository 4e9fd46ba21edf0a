//! Answers to evidence sets, as JSON in the order of the network's variables.

use serde::ser::{Serialize, SerializeMap, Serializer};

use crate::circuit::{Marginals, Propagator, PropagatorWorkspace, QueryError};
use crate::network::{Evidence, EvidenceItem, Network, Parameters, Structure, VariableId};

/// The answer to one evidence set.
///
/// As JSON `{"log_evidence": ln P(e) in nats, "posteriors": {"node": {"state": p}}}`, or
/// `{"error": …, "conflict": ["node", …]}`.
#[derive(Clone, Debug)]
pub enum Answer<'w> {
    /// The posteriors of all variables, in the memory of the workspace.
    Posterior(&'w Marginals),
    /// No answer, and why.
    Failed {
        /// What is wrong, in words.
        message: String,
        /// Names of a smallest set of variables whose findings cannot stand together; empty for another failure.
        conflict: Vec<String>,
    },
}

/// The answer to one evidence set, in memory used before.
pub fn answer<'w>(
    propagator: &Propagator,
    workspace: &'w mut PropagatorWorkspace,
    parameters: &Parameters,
    evidence: &Evidence,
) -> Answer<'w> {
    let network = parameters.structure();
    match propagator.marginals_in(workspace, parameters, evidence) {
        Ok(posterior) => Answer::Posterior(posterior),
        Err(QueryError::ImpossibleEvidence { conflicting }) => {
            let conflict: Vec<String> = conflicting
                .iter()
                .map(|item| name_of(network, *item).to_owned())
                .collect();
            let message = match &conflict[..] {
                [] => "the evidence is impossible: the tables leave nothing possible".to_owned(),
                [one] => format!(
                    "the evidence is impossible: what is given of `{one}` has probability 0"
                ),
                several => format!(
                    "the evidence is impossible: {} cannot stand together",
                    several
                        .iter()
                        .map(|name| format!("`{name}`"))
                        .collect::<Vec<_>>()
                        .join(", ")
                ),
            };
            Answer::Failed { message, conflict }
        }
        Err(error) => Answer::Failed {
            message: error.to_string(),
            conflict: Vec::new(),
        },
    }
}

fn name_of(network: &Structure, item: EvidenceItem) -> &str {
    match item {
        EvidenceItem::Variable(id) => &network.variable(id).name,
        EvidenceItem::Measure(id) => &network.measure(id).name,
    }
}

impl Answer<'_> {
    /// The answer as one line of JSON; numbers in the fewest digits that give the same number back.
    ///
    /// # Errors
    /// None that can be met: every number is finite.
    pub fn to_json(&self, network: &Network) -> Result<String, serde_json::Error> {
        serde_json::to_string(&InWords {
            answer: self,
            network,
        })
    }
}

struct InWords<'a> {
    answer: &'a Answer<'a>,
    network: &'a Network,
}

impl Serialize for InWords<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(2))?;
        match self.answer {
            Answer::Posterior(posterior) => {
                map.serialize_entry("log_evidence", &posterior.log_evidence())?;
                let network = self.network;
                map.serialize_entry("posteriors", &Posteriors { posterior, network })?;
            }
            Answer::Failed { message, conflict } => {
                map.serialize_entry("error", message)?;
                map.serialize_entry("conflict", conflict)?;
            }
        }
        map.end()
    }
}

struct Posteriors<'a> {
    posterior: &'a Marginals,
    network: &'a Network,
}

impl Serialize for Posteriors<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let n = self.network.variables().len();
        let mut map = serializer.serialize_map(Some(n))?;
        for id in self.network.variable_ids() {
            let Posteriors { posterior, network } = *self;
            let states = OfStates {
                posterior,
                network,
                id,
            };
            map.serialize_entry(&self.network.variable(id).name, &states)?;
        }
        map.end()
    }
}

struct OfStates<'a> {
    posterior: &'a Marginals,
    network: &'a Network,
    id: VariableId,
}

impl Serialize for OfStates<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let states = &self.network.variable(self.id).states;
        let mut map = serializer.serialize_map(Some(states.len()))?;
        let marginal = self.posterior.marginal(self.id).unwrap_or_default();
        for (state, p) in states.iter().zip(marginal) {
            map.serialize_entry(state, p)?;
        }
        map.end()
    }
}
