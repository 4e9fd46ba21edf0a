//! All of a network but its numbers.

use std::collections::{BTreeMap, BTreeSet};

use super::dag::topological_order;
use super::{Measure, MeasureId, NetworkError, Role, Variable, VariableId};

/// Variables, measures and the arrows between them. It holds no probabilities, so circuits, parameter
/// sets and networks of one shape share it.
#[derive(Clone, Debug, PartialEq)]
pub struct Structure {
    variables: Vec<Variable>,
    measures: Vec<Measure>,
    parents: Vec<Vec<VariableId>>,
    children: Vec<Vec<VariableId>>,
    n_configurations: Vec<usize>,
    n_measure_configurations: Vec<usize>,
    topological_order: Vec<VariableId>,
    by_name: BTreeMap<String, VariableId>,
    /// Where each variable's table begins in a parameter vector; one more entry for the end.
    offsets: Vec<usize>,
}

impl Structure {
    /// Checks names, arrows and sizes, and derives what follows from them.
    pub(super) fn new(
        variables: Vec<Variable>,
        parents: Vec<Vec<VariableId>>,
        measures: Vec<Measure>,
    ) -> Result<Self, NetworkError> {
        check_names(&variables, &measures)?;
        for (variable, parents) in variables.iter().zip(&parents) {
            check_parents(&variable.name, parents, &variables)?;
            if variable.role == Role::Input && !parents.is_empty() {
                return Err(NetworkError::InputWithParents {
                    input: variable.name.clone(),
                });
            }
        }
        for measure in &measures {
            check_parents(&measure.name, &measure.parents, &variables)?;
        }

        let mut children = vec![Vec::new(); variables.len()];
        for (child, parents) in VariableId::first(variables.len()).zip(&parents) {
            for parent in parents {
                children[parent.index()].push(child);
            }
        }
        let topological_order = topological_order(&parents, &children).map_err(|circle| {
            let cycle = circle
                .iter()
                .chain(circle.first())
                .map(|v| variables[v.index()].name.clone())
                .collect();
            NetworkError::Cycle { cycle }
        })?;

        let configurations = |parents: &[VariableId]| {
            parents.iter().try_fold(1_usize, |n, p| {
                n.checked_mul(variables[p.index()].states.len())
            })
        };
        let mut n_configurations = Vec::with_capacity(variables.len());
        let mut offsets = vec![0];
        let mut end = 0_usize;
        for (variable, parents) in variables.iter().zip(&parents) {
            let n_states = variable.states.len();
            let columns = configurations(parents);
            let grown = columns
                .and_then(|n| n.checked_mul(n_states))
                .and_then(|cells| end.checked_add(cells));
            let (Some(columns), Some(grown)) = (columns, grown) else {
                return Err(NetworkError::TooManyConfigurations {
                    child: variable.name.clone(),
                });
            };
            n_configurations.push(columns);
            end = grown;
            offsets.push(end);
        }
        let n_measure_configurations = measures
            .iter()
            .map(|measure| {
                configurations(&measure.parents).ok_or_else(|| {
                    NetworkError::TooManyConfigurations {
                        child: measure.name.clone(),
                    }
                })
            })
            .collect::<Result<_, _>>()?;
        let by_name = VariableId::first(variables.len())
            .map(|v| (variables[v.index()].name.clone(), v))
            .collect();
        Ok(Self {
            variables,
            measures,
            parents,
            children,
            n_configurations,
            n_measure_configurations,
            topological_order,
            by_name,
            offsets,
        })
    }

    /// The same with more variables, which have no parents and the next ids, and other measures.
    ///
    /// # Errors
    /// As for a new network.
    pub(crate) fn extended(
        &self,
        more: impl IntoIterator<Item = Variable>,
        measures: Vec<Measure>,
    ) -> Result<Self, NetworkError> {
        let mut variables = self.variables.clone();
        variables.extend(more);
        let mut parents = self.parents.clone();
        parents.resize(variables.len(), Vec::new());
        Self::new(variables, parents, measures)
    }

    /// The variables in the order of their ids.
    pub fn variables(&self) -> &[Variable] {
        &self.variables
    }

    /// The ids of all variables, in order.
    pub fn variable_ids(&self) -> impl DoubleEndedIterator<Item = VariableId> + Clone + use<> {
        VariableId::first(self.variables.len())
    }

    /// One variable.
    ///
    /// # Panics
    /// If `id` belongs to a larger network, as for all look-ups by id here.
    pub fn variable(&self, id: VariableId) -> &Variable {
        &self.variables[id.index()]
    }

    /// How many states a variable has.
    pub fn n_states(&self, id: VariableId) -> usize {
        self.variables[id.index()].states.len()
    }

    /// The measures in the order of their ids.
    pub fn measures(&self) -> &[Measure] {
        &self.measures
    }

    /// The ids of all measures, in order.
    pub fn measure_ids(&self) -> impl DoubleEndedIterator<Item = MeasureId> + Clone + use<> {
        MeasureId::first(self.measures.len())
    }

    /// One measure.
    pub fn measure(&self, id: MeasureId) -> &Measure {
        &self.measures[id.index()]
    }

    /// The variable of that name, if there is one.
    pub fn find(&self, name: &str) -> Option<VariableId> {
        self.by_name.get(name).copied()
    }

    /// The measure of that name, if there is one.
    pub fn find_measure(&self, name: &str) -> Option<MeasureId> {
        self.measure_ids().find(|&m| self.measure(m).name == name)
    }

    /// The parents of a variable; the last turns fastest in a configuration index.
    pub fn parents(&self, id: VariableId) -> &[VariableId] {
        &self.parents[id.index()]
    }

    /// The variables that have `id` among their parents, in order.
    pub fn children(&self, id: VariableId) -> &[VariableId] {
        &self.children[id.index()]
    }

    /// All variables, each after its parents.
    pub fn topological_order(&self) -> &[VariableId] {
        &self.topological_order
    }

    /// How many configurations the parents of a variable have; 1 without parents.
    pub fn n_configurations(&self, id: VariableId) -> usize {
        self.n_configurations[id.index()]
    }

    /// How many configurations the parents of a measure have; 1 without parents.
    pub fn n_measure_configurations(&self, id: MeasureId) -> usize {
        self.n_measure_configurations[id.index()]
    }

    /// The column of a variable's table in which each parent has the state given by `state_of`.
    pub fn configuration(&self, id: VariableId, state_of: impl Fn(VariableId) -> usize) -> usize {
        self.parents(id)
            .iter()
            .fold(0, |index, &p| index * self.n_states(p) + state_of(p))
    }

    /// The state of each parent in one column, in the order of the parents.
    pub fn parent_states(&self, id: VariableId, configuration: usize) -> Vec<usize> {
        let mut rest = configuration;
        let mut states: Vec<usize> = self
            .parents(id)
            .iter()
            .rev()
            .map(|&p| {
                let state_idx = rest % self.n_states(p);
                rest /= self.n_states(p);
                state_idx
            })
            .collect();
        states.reverse();
        states
    }

    /// Where the table of a variable lies in a parameter vector.
    pub(crate) fn table_range(&self, id: VariableId) -> std::ops::Range<usize> {
        self.offsets[id.index()]..self.offsets[id.index() + 1]
    }

    /// Length of a parameter vector.
    pub(crate) fn n_parameters(&self) -> usize {
        self.offsets[self.variables.len()]
    }
}

fn check_names(variables: &[Variable], measures: &[Measure]) -> Result<(), NetworkError> {
    let mut names = BTreeSet::new();
    let all = variables.iter().map(|v| &v.name);
    for name in all.chain(measures.iter().map(|m| &m.name)) {
        if !names.insert(name) {
            return Err(NetworkError::DuplicateName { name: name.clone() });
        }
    }
    for variable in variables {
        if variable.states.is_empty() {
            return Err(NetworkError::NoStates {
                variable: variable.name.clone(),
            });
        }
        let mut states = BTreeSet::new();
        if let Some(state) = variable.states.iter().find(|s| !states.insert(*s)) {
            return Err(NetworkError::DuplicateState {
                variable: variable.name.clone(),
                state: state.clone(),
            });
        }
    }
    Ok(())
}

fn check_parents(
    child: &str,
    parents: &[VariableId],
    variables: &[Variable],
) -> Result<(), NetworkError> {
    let mut seen = BTreeSet::new();
    for parent in parents {
        let Some(variable) = variables.get(parent.index()) else {
            return Err(NetworkError::UnknownParent {
                child: child.to_owned(),
                parent: parent.index(),
                n_variables: variables.len(),
            });
        };
        if !seen.insert(parent) {
            return Err(NetworkError::RepeatedParent {
                child: child.to_owned(),
                parent: variable.name.clone(),
            });
        }
    }
    Ok(())
}
