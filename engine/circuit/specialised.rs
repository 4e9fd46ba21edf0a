//! A circuit made for one question: one variable, one set of observed variables, many sets of parameters.
//!
//! What is observed shrinks the tables before anything is multiplied, and variables that cannot matter (neither the one
//! asked for, nor observed, nor an ancestor of either) take no part; nor, if P(evidence) is not wanted, does what the
//! evidence separates from the one asked for. What is left is evaluated for [`LANES`] sets of
//! parameters side by side. A stress run asks the same question of the same piece under thousands of draws.

use std::sync::Arc;

use crate::network::{Evidence, Finding, MeasureId, Parameters, Structure, VariableId};

use super::checks::Inputs;
use super::lanes::{LANES, Lanes};
use super::number::Number;
use super::passes::{evidence_exponent, exponent_aside};
use super::plan::{Node, Part, Plan};
use super::{CELL_LIMIT, QueryError};

/// Below this a lane's P(evidence) may have lost digits on the way, and the lane is evaluated again on its own.
///
/// Every factor is at most 1, so what an underflow can lose at any cell is less than 2.3e-308, and fewer than 2^26 cells
/// meet in the result: above this bound the loss is below 1e-49 of it.
const SAFE: f64 = 1e-250;

/// A question compiled for one set of observed variables.
#[derive(Clone, Debug)]
pub struct Specialised {
    structure: Arc<Structure>,
    plan: Plan,
    target: VariableId,
    evidence: Evidence,
    log_scale: f64,
}

/// The parameters of [`LANES`] networks of one structure, side by side.
#[derive(Clone, Debug)]
pub struct ParameterLanes {
    structure: Arc<Structure>,
    values: Vec<Lanes>,
}

/// Memory for evaluations, used again and again.
#[derive(Clone, Debug, Default)]
pub struct LaneWorkspace {
    values: Vec<Lanes>,
    states: Vec<Lanes>,
}

/// The answer of one evaluation in lanes.
#[derive(Clone, Copy, Debug)]
pub struct LaneAnswer<'w> {
    /// P(state | evidence) of the variable asked for: one entry for each state, each with its lanes. In a lane whose
    /// evidence is impossible or out of range, the entries are not numbers.
    pub posterior: &'w [Lanes],
    /// P(evidence) in each lane, less the factor of [`Specialised::log_scale`]; of a question compiled for the posterior
    /// alone, the part of it that the posterior depends on.
    pub evidence: Lanes,
}

impl LaneAnswer<'_> {
    /// Whether a lane's figures hold to the last digits; a lane for which they do not is to be evaluated on its own.
    #[must_use]
    pub fn holds(&self, lane: usize) -> bool {
        self.evidence.0[lane] >= SAFE
    }
}

impl ParameterLanes {
    /// The same parameters in every lane.
    #[must_use]
    pub fn of(parameters: &Parameters) -> Self {
        Self {
            structure: Arc::clone(parameters.structure()),
            values: parameters
                .values()
                .iter()
                .map(|&value| Lanes::all(value))
                .collect(),
        }
    }

    /// P(states | one parent configuration), one entry for each state, to be written.
    ///
    /// # Panics
    /// If the network has no such variable or the variable no such configuration.
    pub fn column_mut(&mut self, id: VariableId, configuration: usize) -> &mut [Lanes] {
        let n_states = self.structure.n_states(id);
        let range = self.structure.table_range(id);
        &mut self.values[range][configuration * n_states..][..n_states]
    }

    /// Copies the entries of some states from the column of one configuration over those of another.
    ///
    /// # Panics
    /// If the network has no such variable or the variable no such configuration or states.
    pub fn copy_entries(
        &mut self,
        id: VariableId,
        from: usize,
        to: usize,
        states: std::ops::Range<usize>,
    ) {
        let n_states = self.structure.n_states(id);
        let range = self.structure.table_range(id);
        let start = from * n_states;
        self.values[range].copy_within(
            start + states.start..start + states.end,
            to * n_states + states.start,
        );
    }

    /// The parameters of one lane.
    pub fn copy_lane(&self, lane: usize, into: &mut Parameters) {
        for (value, lanes) in into.values_mut().iter_mut().zip(&self.values) {
            *value = lanes.0[lane];
        }
    }
}

impl Specialised {
    /// Compiles the question: the posterior of `target` given evidence, and P(evidence). States that are observed for sure
    /// are built in; likelihoods and densities take part as vectors.
    ///
    /// # Errors
    /// As for [`Circuit::evaluate`](super::Circuit::evaluate) if the evidence does not fit the network or an input is not
    /// given; [`QueryError::TooLarge`] if the tables that are left have too many cells.
    pub fn compile(
        structure: &Arc<Structure>,
        evidence: &Evidence,
        target: VariableId,
    ) -> Result<Self, QueryError> {
        Self::compile_part(structure, evidence, target, false)
    }

    /// Compiles the question for the posterior of `target` alone. Tables that evidence separates from `target` take no
    /// part: they are a common factor of all its states. Whether that factor is 0 is not looked at, so evidence that is
    /// impossible in such a part is not noticed.
    ///
    /// # Errors
    /// As for [`compile`](Self::compile).
    /// # Source
    /// Geiger, Verma and Pearl, "Identifying independence in Bayesian networks", Networks 20, 1990 (from memory): the
    /// tables that a posterior can depend on. Here they are what hangs together once observed variables are taken out.
    pub fn compile_posterior(
        structure: &Arc<Structure>,
        evidence: &Evidence,
        target: VariableId,
    ) -> Result<Self, QueryError> {
        Self::compile_part(structure, evidence, target, true)
    }

    fn compile_part(
        structure: &Arc<Structure>,
        evidence: &Evidence,
        target: VariableId,
        posterior_alone: bool,
    ) -> Result<Self, QueryError> {
        evidence.check(structure)?;
        // Asking about a variable needs the same inputs as evidence about it.
        let mut asked = evidence.clone();
        if evidence.finding(target).is_none() {
            asked.likelihood(target, vec![1.0; structure.n_states(target)]);
        }
        Inputs::new(structure).check(structure, &asked)?;
        let mut part = Part::about(structure, evidence, target);
        if posterior_alone {
            let is_known = matches!(evidence.finding(target), Some(Finding::State(_)));
            keep_connected(structure, &mut part, target, is_known);
        }
        Ok(Self {
            plan: Plan::new(structure, &part, CELL_LIMIT.into())?,
            structure: Arc::clone(structure),
            target,
            evidence: evidence.clone(),
            log_scale: evidence_exponent(evidence) as f64 * std::f64::consts::LN_2,
        })
    }

    /// Natural logarithm of the factor that [`LaneAnswer::evidence`] leaves aside.
    #[must_use]
    pub fn log_scale(&self) -> f64 {
        self.log_scale
    }

    /// The columns that can matter: variable, parent configuration, and the one state that matters if its variable is
    /// observed.
    pub fn needed_columns(&self) -> impl Iterator<Item = (VariableId, usize, Option<usize>)> + '_ {
        self.plan
            .parameter_leaves
            .iter()
            .flat_map(move |(id, leaf)| {
                let n_states = self.structure.n_states(*id);
                let shift = leaf.shift(|v| self.state_of(v));
                let state = self.observed_state(*id);
                let mut configurations: Vec<usize> = leaf
                    .outside
                    .iter()
                    .map(|&place| (place as usize + shift) / n_states)
                    .collect();
                configurations.sort_unstable();
                configurations.dedup();
                configurations
                    .into_iter()
                    .map(move |configuration| (*id, configuration, state))
            })
    }

    /// The state of a variable that is built in; `None` of one that keeps its states.
    fn observed_state(&self, id: VariableId) -> Option<usize> {
        match self.evidence.finding(id) {
            Some(&Finding::State(state_idx)) if id != self.target => Some(state_idx),
            _ => None,
        }
    }

    fn state_of(&self, id: VariableId) -> usize {
        self.observed_state(id).unwrap_or(0)
    }

    /// The posterior of the variable asked for, in every lane.
    ///
    /// `parameters` must belong to the structure that was compiled; entries of columns that cannot matter are not read.
    /// `densities` replaces the densities of measures by those of each lane, where they depend on the parameters too.
    pub fn evaluate_in<'w>(
        &self,
        workspace: &'w mut LaneWorkspace,
        parameters: &ParameterLanes,
        densities: &[(MeasureId, Vec<Lanes>)],
    ) -> LaneAnswer<'w> {
        workspace.values.resize(self.plan.n_cells, Lanes::ZERO);
        workspace
            .states
            .resize(self.structure.n_states(self.target), Lanes::ZERO);
        let evidence = pulp::Arch::new().dispatch(Passes {
            of: self,
            workspace,
            parameters,
            densities,
        });
        LaneAnswer {
            posterior: &workspace.states,
            evidence,
        }
    }

    #[inline(always)]
    fn load(
        &self,
        values: &mut [Lanes],
        parameters: &ParameterLanes,
        densities: &[(MeasureId, Vec<Lanes>)],
    ) {
        let table = |node: super::plan::NodeId| {
            let Node { offset, len } = self.plan.nodes[node.index()];
            offset..offset + len
        };
        values[table(self.plan.unit)].fill(Lanes::ONE);
        for (id, leaf) in &self.plan.parameter_leaves {
            let outside = &parameters.values[self.structure.table_range(*id)];
            let shift = leaf.shift(|v| self.state_of(v));
            for (cell, &place) in values[table(leaf.node)].iter_mut().zip(&leaf.outside) {
                *cell = outside[place as usize + shift];
            }
        }
        for &(id, node) in &self.plan.likelihood_leaves {
            let cells = &mut values[table(node)];
            match self.evidence.finding(id) {
                Some(Finding::Likelihood(likelihoods)) => {
                    let aside = exponent_aside(likelihoods);
                    for (cell, &value) in cells.iter_mut().zip(likelihoods) {
                        *cell = Lanes::scaled(value, -aside);
                    }
                }
                Some(&Finding::State(state_idx)) => {
                    cells.fill(Lanes::ZERO);
                    cells[state_idx] = Lanes::ONE;
                }
                None => cells.fill(Lanes::ONE),
            }
        }
        for (id, leaf) in &self.plan.measure_leaves {
            let shift = leaf.shift(|v| self.state_of(v));
            let cells = values[table(leaf.node)].iter_mut().zip(&leaf.outside);
            if let Some((_, lanes)) = densities.iter().find(|(m, _)| m == id) {
                for (cell, &place) in cells {
                    *cell = lanes[place as usize + shift];
                }
            } else if let Some(shared) = self.evidence.densities(*id) {
                let aside = exponent_aside(shared);
                for (cell, &place) in cells {
                    *cell = Lanes::scaled(shared[place as usize + shift], -aside);
                }
            }
        }
    }
}

/// Keeps of a part what hangs together with `target` by variables that are not observed; nothing but its own finding if
/// its state is known.
fn keep_connected(structure: &Structure, part: &mut Part, target: VariableId, is_known: bool) {
    let family = |v: VariableId| structure.parents(v).iter().copied().chain([v]);
    let mut is_reached = vec![false; part.observed.len()];
    is_reached[target.index()] = true;
    let mut open = if is_known { vec![] } else { vec![target] };
    while let Some(v) = open.pop() {
        let mut reach = |w: VariableId| {
            if !part.observed[w.index()] && !is_reached[w.index()] {
                is_reached[w.index()] = true;
                open.push(w);
            }
        };
        let tables = structure.children(v).iter().copied().chain([v]);
        tables
            .filter(|w| part.tables[w.index()])
            .flat_map(family)
            .for_each(&mut reach);
        for m in structure.measure_ids().filter(|m| part.measures[m.index()]) {
            let parents = &structure.measure(m).parents;
            if parents.contains(&v) {
                parents.iter().copied().for_each(&mut reach);
            }
        }
    }
    let connects = |v: VariableId| !is_known && is_reached[v.index()];
    for v in structure.variable_ids() {
        part.tables[v.index()] &= family(v).any(connects);
        part.likelihoods[v.index()] &= is_reached[v.index()];
    }
    for m in structure.measure_ids() {
        let mut parents = structure.measure(m).parents.iter().copied();
        part.measures[m.index()] &= parents.any(connects);
    }
}

/// One evaluation, as a task for the widest vectors there are.
struct Passes<'a> {
    of: &'a Specialised,
    workspace: &'a mut LaneWorkspace,
    parameters: &'a ParameterLanes,
    densities: &'a [(MeasureId, Vec<Lanes>)],
}

impl pulp::WithSimd for Passes<'_> {
    type Output = Lanes;

    #[inline(always)]
    fn with_simd<S: pulp::Simd>(self, _: S) -> Lanes {
        let plan = &self.of.plan;
        let values = &mut self.workspace.values;
        self.of.load(values, self.parameters, self.densities);
        for step in &plan.contractions {
            let (out, x, y) = (
                plan.nodes[step.out.index()],
                plan.nodes[step.x.index()],
                plan.nodes[step.y.index()],
            );
            let (before, after) = values.split_at_mut(out.offset);
            let (x, y) = (
                &before[x.offset..x.offset + x.len],
                &before[y.offset..y.offset + y.len],
            );
            step.upward.contract(x, y, &mut after[..out.len], false);
        }
        let root = plan.nodes[plan.root.index()];
        let root = &values[root.offset..root.offset + root.len];
        let evidence = root.iter().fold(Lanes::ZERO, |sum, &value| sum.plus(value));
        for (state, value) in self.workspace.states.iter_mut().zip(root) {
            for lane in 0..LANES {
                state.0[lane] = value.0[lane] / evidence.0[lane];
            }
        }
        evidence
    }
}
