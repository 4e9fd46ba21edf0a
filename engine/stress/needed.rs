//! Which beliefs and which columns of the tables a question can depend on: only these are drawn and rewritten.

use std::collections::BTreeMap;

use crate::circuit::{Lanes, ParameterLanes, Specialised};
use crate::model::{BeliefId, ColumnRule, MeasureRules, Model, Values};
use crate::network::{Evidence, VariableId};

/// Columns to be rewritten for each draw, and the beliefs they are written from.
pub(super) struct Needed {
    columns: Vec<Columns>,
    beliefs: BTreeMap<BeliefId, Use>,
}

/// Columns written by one rule.
struct Columns {
    variable: VariableId,
    rule: usize,
    configurations: Vec<usize>,
    /// The beliefs they are written from.
    beliefs: Vec<BeliefId>,
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
    /// What questions depend on. Measures are taken to need their beliefs whole, a fragment of a mark only if there is one.
    pub fn of(model: &Model, questions: &[&Specialised], evidence: &Evidence) -> Self {
        let mut by_rule: BTreeMap<(VariableId, usize, Option<usize>), Vec<usize>> = BTreeMap::new();
        let columns = questions
            .iter()
            .flat_map(|question| question.needed_columns());
        for (variable, configuration, state) in columns {
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
            }
            columns.push(Columns {
                variable,
                rule,
                configurations,
                beliefs: table.rules[rule].beliefs().into_iter().collect(),
                state,
            });
        }
        for (measure, rules) in model.network.measure_ids().zip(&model.measures) {
            match rules {
                MeasureRules::Quantity {
                    belief_of_configuration,
                    ..
                } => beliefs.extend(belief_of_configuration.iter().map(|&id| (id, Use::Whole))),
                // A pack includes many rules, and a piece shows few of them.
                MeasureRules::Dating { exceptions } if evidence.densities(measure).is_some() => {
                    beliefs.insert(*exceptions, Use::Whole);
                }
                MeasureRules::Dating { .. }
                | MeasureRules::Fragment { .. }
                | MeasureRules::Learned(_) => {}
            }
        }
        if let Some(lettering) = &model.lettering
            && evidence.densities(lettering.measure).is_some()
        {
            let reading = model.tables[lettering.parents.reading.index()].as_ref();
            let rules = reading.into_iter().flat_map(|table| &table.rules);
            let of_reading = rules.flat_map(ColumnRule::beliefs);
            let all = lettering.own_beliefs().chain(of_reading);
            beliefs.extend(all.map(|id| (id, Use::Whole)));
        }
        Self { columns, beliefs }
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

    /// Rewrites the columns.
    #[inline(always)]
    pub fn write(&self, model: &Model, values: &Values<Lanes>, into: &mut ParameterLanes) {
        for columns in &self.columns {
            Self::write_columns(columns, model, values, into);
        }
    }

    /// Rewrites the columns that are written from at least one belief that `of_it` holds true for.
    pub fn write_from(
        &self,
        model: &Model,
        values: &Values<Lanes>,
        into: &mut ParameterLanes,
        of_it: impl Fn(BeliefId) -> bool,
    ) {
        for columns in &self.columns {
            if columns.beliefs.iter().any(|&id| of_it(id)) {
                Self::write_columns(columns, model, values, into);
            }
        }
    }

    #[inline(always)]
    fn write_columns(
        columns: &Columns,
        model: &Model,
        values: &Values<Lanes>,
        into: &mut ParameterLanes,
    ) {
        {
            let Some(table) = &model.tables[columns.variable.index()] else {
                return;
            };
            let Some((&first, others)) = columns.configurations.split_first() else {
                return;
            };
            let rule = &table.rules[columns.rule];
            let column = into.column_mut(columns.variable, first);
            let states = match columns.state {
                Some(state) => {
                    rule.write_entry(values, state, column);
                    state..state + 1
                }
                None => {
                    rule.write(values, column);
                    0..column.len()
                }
            };
            for &configuration in others {
                into.copy_entries(columns.variable, first, configuration, states.clone());
            }
        }
    }
}
