//! What each belief feeds, and with which derivatives.

use std::collections::BTreeMap;

use crate::circuit::JointDerivatives;
use crate::model::{BeliefId, MeasureRules, Model, Values};
use crate::network::{Evidence, EvidenceItem, Finding, MeasureId, VariableId};

/// Where a belief is used so that the answer can depend on it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Place {
    /// In columns of a variable's table, by these rules.
    Table(VariableId, Vec<usize>),
    /// In the densities of a measured value.
    Density(MeasureId),
}

/// The derivatives of P(state, evidence), summed over the columns that one rule writes.
pub(super) struct Terms {
    /// States of the variable asked about.
    pub n_states: usize,
    tables: BTreeMap<VariableId, Table>,
    /// For each measure with a value, the unit of its densities, and one number for each configuration and state asked
    /// about.
    densities: BTreeMap<MeasureId, (f64, Vec<f64>)>,
    /// For each belief that the answer can depend on, where.
    pub places: BTreeMap<BeliefId, Vec<Place>>,
}

struct Table {
    /// For each rule, one number for each entry of a column and each state asked about.
    derivatives: Vec<Vec<f64>>,
    /// For each rule, what its columns as stated contribute to each state asked about.
    stated: Vec<Vec<f64>>,
}

impl Terms {
    /// What the answer about `variable` depends on.
    pub fn new(
        model: &Model,
        joint: &JointDerivatives,
        evidence: &Evidence,
        variable: VariableId,
        values: &Values,
    ) -> Self {
        let n_states = joint.probabilities().len();
        let mut terms = Self {
            n_states,
            tables: BTreeMap::new(),
            densities: BTreeMap::new(),
            places: BTreeMap::new(),
        };
        for id in relevant(model, evidence, variable) {
            terms.take_table(model, joint, evidence, id, values);
        }
        for measure in model.network.measure_ids() {
            if evidence.densities(measure).is_some() {
                terms.take_densities(model, joint, measure);
            }
        }
        terms
    }

    fn take_table(
        &mut self,
        model: &Model,
        joint: &JointDerivatives,
        evidence: &Evidence,
        id: VariableId,
        values: &Values,
    ) {
        let Some(rules) = &model.tables[id.index()] else {
            return;
        };
        let structure = model.network.structure();
        let (n_states, n_entries) = (self.n_states, structure.n_states(id));
        let parents = structure.parents(id);
        let mut derivatives = vec![vec![0.0; n_entries * n_states]; rules.rules.len()];
        let mut used = vec![false; rules.rules.len()];
        let tables: Vec<_> = (0..n_states).filter_map(|q| joint.table(q, id)).collect();
        for (configuration, &rule) in rules.rule_of_configuration.iter().enumerate() {
            // A column under another state of an observed parent is never used, whatever the tables hold.
            let states = structure.parent_states(id, configuration);
            let out = parents.iter().zip(states).any(|(&parent, state)| {
                matches!(evidence.finding(parent), Some(&Finding::State(seen)) if seen != state)
            });
            if out {
                continue;
            }
            used[rule] = true;
            for (q, table) in tables.iter().enumerate() {
                for (entry, d) in table.column(configuration).iter().enumerate() {
                    derivatives[rule][entry * n_states + q] += d;
                }
            }
        }
        let mut column = vec![0.0; n_entries];
        let stated = rules.rules.iter().zip(&derivatives).map(|(rule, terms)| {
            rule.write(values, &mut column);
            weighted(&column, terms, n_states)
        });
        let stated = stated.collect();
        for (rule, written) in rules
            .rules
            .iter()
            .enumerate()
            .filter(|(rule, _)| used[*rule])
        {
            for belief in written.beliefs() {
                let places = self.places.entry(belief).or_default();
                match places.last_mut() {
                    Some(Place::Table(of, rules)) if *of == id => {
                        if rules.last() != Some(&rule) {
                            rules.push(rule);
                        }
                    }
                    _ => places.push(Place::Table(id, vec![rule])),
                }
            }
        }
        self.tables.insert(
            id,
            Table {
                derivatives,
                stated,
            },
        );
    }

    fn take_densities(&mut self, model: &Model, joint: &JointDerivatives, measure: MeasureId) {
        let n_states = self.n_states;
        let n = model.network.n_measure_configurations(measure);
        let mut derivatives = vec![0.0; n * n_states];
        let unit = joint.unit(measure).unwrap_or(1.0);
        for q in 0..n_states {
            let of_state = joint.densities(q, measure).unwrap_or(&[]);
            for (configuration, d) in of_state.iter().enumerate() {
                derivatives[configuration * n_states + q] = *d;
            }
        }
        self.densities.insert(measure, (unit, derivatives));
        let mut beliefs: Vec<BeliefId> = match &model.measures[measure.index()] {
            MeasureRules::Quantity {
                belief_of_configuration,
                ..
            } => belief_of_configuration.clone(),
            MeasureRules::Dating { exceptions } => vec![*exceptions],
            MeasureRules::Fragment { .. } => match &model.lettering {
                Some(lettering) => {
                    let reading = model.tables[lettering.parents.reading.index()].as_ref();
                    let rules = reading.into_iter().flat_map(|table| &table.rules);
                    let of_reading = rules.flat_map(|rule| rule.beliefs());
                    lettering.own_beliefs().chain(of_reading).collect()
                }
                None => Vec::new(),
            },
            MeasureRules::Learned(_) => Vec::new(),
        };
        beliefs.sort_unstable();
        beliefs.dedup();
        for belief in beliefs {
            let places = self.places.entry(belief).or_default();
            places.push(Place::Density(measure));
        }
    }

    /// P(state, evidence) over P(evidence) as stated, for every state, with some columns of one table written anew.
    pub fn with_table(
        &self,
        model: &Model,
        id: VariableId,
        rules: &[usize],
        values: &Values,
    ) -> Vec<f64> {
        let (Some(terms), Some(table)) = (self.tables.get(&id), &model.tables[id.index()]) else {
            return vec![0.0; self.n_states];
        };
        let mut sum = vec![0.0; self.n_states];
        let mut column = vec![0.0; model.network.n_states(id)];
        for rule in 0..table.rules.len() {
            let anew;
            let part = if rules.contains(&rule) {
                table.rules[rule].write(values, &mut column);
                anew = weighted(&column, &terms.derivatives[rule], self.n_states);
                &anew
            } else {
                &terms.stated[rule]
            };
            for (sum, part) in sum.iter_mut().zip(part) {
                *sum += part;
            }
        }
        sum
    }

    /// The same with the densities of a measured value written anew.
    pub fn with_densities(&self, measure: MeasureId, densities: &[f64]) -> Vec<f64> {
        match self.densities.get(&measure) {
            Some((unit, terms)) => {
                let densities: Vec<f64> = densities.iter().map(|d| d / unit).collect();
                weighted(&densities, terms, self.n_states)
            }
            None => vec![0.0; self.n_states],
        }
    }
}

/// Σ entry × derivative, for every state asked about.
fn weighted(entries: &[f64], derivatives: &[f64], n_states: usize) -> Vec<f64> {
    let mut sum = vec![0.0; n_states];
    for (entry, of_entry) in entries.iter().zip(derivatives.chunks(n_states.max(1))) {
        for (sum, d) in sum.iter_mut().zip(of_entry) {
            *sum += entry * d;
        }
    }
    sum
}

/// The variables whose tables the answer can depend on: what is asked about, what has evidence, and all that is above them.
/// The table of any other sums to 1 under every configuration and drops out.
fn relevant(model: &Model, evidence: &Evidence, variable: VariableId) -> Vec<VariableId> {
    let structure = model.network.structure();
    let mut is_relevant = vec![false; structure.variables().len()];
    is_relevant[variable.index()] = true;
    for (item, _) in evidence.items() {
        match item {
            EvidenceItem::Variable(id) => is_relevant[id.index()] = true,
            EvidenceItem::Measure(id) => {
                for parent in &structure.measure(id).parents {
                    is_relevant[parent.index()] = true;
                }
            }
        }
    }
    for &id in structure.topological_order().iter().rev() {
        if is_relevant[id.index()] {
            for parent in structure.parents(id) {
                is_relevant[parent.index()] = true;
            }
        }
    }
    let ids = structure.variable_ids();
    ids.filter(|id| is_relevant[id.index()]).collect()
}
