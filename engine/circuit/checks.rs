//! What every query checks before it computes.

use std::sync::Arc;

use crate::network::{
    Evidence, EvidenceItem, Finding, ItemContent, MeasureId, Parameters, ROW_SUM_TOLERANCE, Role,
    Structure, VariableId,
};

use super::QueryError;

/// The inputs that each variable and measure depends on.
#[derive(Clone, Debug)]
pub(super) struct Inputs {
    /// The inputs above each variable, itself included.
    above: Vec<Vec<VariableId>>,
    above_measure: Vec<Vec<VariableId>>,
}

impl Inputs {
    pub(super) fn new(structure: &Structure) -> Self {
        let mut above: Vec<Vec<VariableId>> = vec![Vec::new(); structure.variables().len()];
        for &v in structure.topological_order() {
            let mut inputs = collect(structure.parents(v), &above);
            if structure.variable(v).role == Role::Input {
                inputs.push(v);
            }
            above[v.index()] = inputs;
        }
        let above_measure = structure
            .measures()
            .iter()
            .map(|m| collect(&m.parents, &above))
            .collect();
        Self {
            above,
            above_measure,
        }
    }

    /// Whether all inputs above a variable are given.
    pub(super) fn are_given(&self, id: VariableId, evidence: &Evidence) -> bool {
        all_given(&self.above[id.index()], evidence)
    }

    /// Whether all inputs above a measure are given.
    pub(super) fn are_given_above(&self, id: MeasureId, evidence: &Evidence) -> bool {
        all_given(&self.above_measure[id.index()], evidence)
    }

    /// Every input above evidence must be given, and by a state.
    pub(super) fn check(
        &self,
        structure: &Structure,
        evidence: &Evidence,
    ) -> Result<(), QueryError> {
        for (item, content) in evidence.items() {
            let above = match item {
                EvidenceItem::Variable(id) => {
                    let is_input = structure.variable(id).role == Role::Input;
                    if is_input && matches!(content, ItemContent::Likelihood(_)) {
                        return Err(QueryError::InputNotHard { input: id });
                    }
                    &self.above[id.index()]
                }
                EvidenceItem::Measure(id) => &self.above_measure[id.index()],
            };
            let given =
                |input: &&VariableId| matches!(evidence.finding(**input), Some(Finding::State(_)));
            if let Some(&input) = above.iter().find(|input| !given(input)) {
                // Likelihoods on the input itself are the clearer complaint.
                if evidence.finding(input).is_some() {
                    return Err(QueryError::InputNotHard { input });
                }
                return Err(QueryError::InputNotGiven {
                    input,
                    needed_by: item,
                });
            }
        }
        Ok(())
    }
}

fn all_given(inputs: &[VariableId], evidence: &Evidence) -> bool {
    inputs
        .iter()
        .all(|&input| evidence.finding(input).is_some())
}

fn collect(parents: &[VariableId], inputs_above: &[Vec<VariableId>]) -> Vec<VariableId> {
    let mut above: Vec<VariableId> = parents
        .iter()
        .flat_map(|p| &inputs_above[p.index()])
        .copied()
        .collect();
    above.sort_unstable();
    above.dedup();
    above
}

/// Parameters must belong to the structure and hold probabilities.
pub(super) fn check_parameters(
    own: &Arc<Structure>,
    parameters: &Parameters,
) -> Result<(), QueryError> {
    if !Arc::ptr_eq(parameters.structure(), own) && parameters.structure() != own {
        return Err(QueryError::ForeignParameters);
    }
    for variable in own.variable_ids() {
        if own.variable(variable).role == Role::Input {
            continue;
        }
        let probability = |value: &f64| (0.0..=1.0 + ROW_SUM_TOLERANCE).contains(value);
        let table = parameters.table(variable);
        // Counting does not branch, unlike looking for the first; this runs for every set of parameters.
        let wrong = table.iter().filter(|&v| !probability(v)).count();
        if wrong > 0 {
            let place = table.iter().position(|v| !probability(v)).unwrap_or(0);
            return Err(QueryError::NotAProbability {
                variable,
                configuration: place / own.n_states(variable),
                state_idx: place % own.n_states(variable),
                value: table[place],
            });
        }
    }
    Ok(())
}
