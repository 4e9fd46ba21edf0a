//! Which beliefs and which columns of the tables a question can depend on: only these are drawn and rewritten.

use std::collections::{BTreeMap, BTreeSet};

use super::value_lanes::ValueLanes;
use crate::circuit::{LANES, ParameterLanes, Specialised};
use crate::model::{BeliefId, ColumnRule, Model, Values};
use crate::network::VariableId;

/// Columns to be rewritten for each draw, and the beliefs they are written from.
pub(super) struct Needed {
    columns: Vec<Columns>,
    beliefs: BTreeMap<BeliefId, Use>,
    /// Those of the beliefs that are worked on lane by lane: whatever is not taken into a column as it stands.
    apart: BTreeSet<BeliefId>,
    longest_column: usize,
}

/// Columns written by one rule.
struct Columns {
    variable: VariableId,
    rule: usize,
    configurations: Vec<usize>,
    /// The one state that matters, if the variable is observed.
    state: Option<usize>,
}

/// How much of a belief is needed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Use {
    /// One chance of several: the others need not be drawn apart.
    Cell(usize),
    /// All of it.
    Whole,
}

impl Needed {
    /// What a question depends on. Measures are taken to need their beliefs whole.
    pub fn of(model: &Model, question: &Specialised) -> Self {
        let mut by_rule: BTreeMap<(VariableId, usize, Option<usize>), Vec<usize>> = BTreeMap::new();
        for (variable, configuration, state) in question.needed_columns() {
            if let Some(table) = &model.tables[variable.index()] {
                let rule = table.rule_of_configuration[configuration];
                by_rule
                    .entry((variable, rule, state))
                    .or_default()
                    .push(configuration);
            }
        }
        let mut beliefs: BTreeMap<BeliefId, Use> = BTreeMap::new();
        let mut columns = Vec::new();
        let mut apart = BTreeSet::new();
        let mut longest_column = 0;
        for ((variable, rule, state), configurations) in by_rule {
            let Some(table) = &model.tables[variable.index()] else {
                continue;
            };
            for belief in table.rules[rule].beliefs() {
                let wanted = match (&table.rules[rule], state) {
                    (ColumnRule::Stated(_), Some(state)) => Use::Cell(state),
                    _ => Use::Whole,
                };
                let so_far = beliefs.entry(belief).or_insert(wanted);
                if *so_far != wanted {
                    *so_far = Use::Whole;
                }
                if !matches!(table.rules[rule], ColumnRule::Stated(_)) {
                    apart.insert(belief);
                }
            }
            longest_column = longest_column.max(model.network.n_states(variable));
            columns.push(Columns {
                variable,
                rule,
                configurations,
                state,
            });
        }
        for belief in model
            .measures
            .iter()
            .flat_map(|m| &m.belief_of_configuration)
        {
            beliefs.insert(*belief, Use::Whole);
            apart.insert(*belief);
        }
        Self {
            columns,
            beliefs,
            apart,
            longest_column,
        }
    }

    /// How much of a belief is needed, if any.
    pub fn use_of(&self, belief: BeliefId) -> Option<Use> {
        self.beliefs.get(&belief).copied()
    }

    /// Keeps only the columns written from at least one belief that `drawn` holds true for: the others stay as they are.
    pub fn keep_drawn(&mut self, model: &Model, drawn: impl Fn(BeliefId) -> bool) {
        self.columns.retain(|columns| {
            let table = model.tables[columns.variable.index()].as_ref();
            table.is_some_and(|table| table.rules[columns.rule].beliefs().into_iter().any(&drawn))
        });
    }

    /// Memory for one column.
    pub fn scratch(&self) -> Vec<f64> {
        vec![0.0; self.longest_column]
    }

    /// Rewrites the columns in all lanes; `apart` takes the values of each lane that are worked on lane by lane.
    pub fn write(
        &self,
        model: &Model,
        values: &ValueLanes,
        apart: &mut [Values; LANES],
        into: &mut ParameterLanes,
        scratch: &mut [f64],
    ) {
        for (lane, apart) in apart.iter_mut().enumerate() {
            for &belief in &self.apart {
                values.copy_lane(belief, lane, apart);
            }
        }
        for columns in &self.columns {
            let Some(table) = &model.tables[columns.variable.index()] else {
                continue;
            };
            let Some((&first, others)) = columns.configurations.split_first() else {
                continue;
            };
            let rule = &table.rules[columns.rule];
            let written = into.column_mut(columns.variable, first);
            let states = match columns.state {
                Some(state) => state..state + 1,
                None => 0..written.len(),
            };
            if let ColumnRule::Stated(belief) = rule {
                let drawn = &values.of_belief(*belief)[states.clone()];
                written[states.clone()].copy_from_slice(drawn);
            } else {
                let column = &mut scratch[..written.len()];
                for (lane, values) in apart.iter().enumerate() {
                    rule.write(values, column);
                    for state in states.clone() {
                        written[state].0[lane] = column[state];
                    }
                }
            }
            for &configuration in others {
                into.copy_cells(columns.variable, first, configuration, states.clone());
            }
        }
    }
}
