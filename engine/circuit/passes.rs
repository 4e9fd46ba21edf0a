//! The upward and the downward pass, for either kind of number.

use crate::network::{Evidence, Finding, Parameters, Role, Structure, VariableId};

use super::number::{Extended, Number};
use super::plan::{Node, NodeId, Plan};

/// The cells of all tables of a plan, kept from one evaluation to the next.
#[derive(Clone, Debug)]
pub(super) struct Tables<N> {
    values: Vec<N>,
    derivatives: Vec<N>,
    /// For each table a lower bound of its entries other than 0, to tell which products are safe.
    smallest: Vec<N>,
    smallest_derivative: Vec<N>,
}

/// A product left the range of its number; the evaluation is to be repeated with a wider kind.
#[derive(Clone, Copy, Debug)]
pub(super) struct LeftRange;

impl<N: Number> Tables<N> {
    pub(super) fn new() -> Self {
        Self {
            values: Vec::new(),
            derivatives: Vec::new(),
            smallest: Vec::new(),
            smallest_derivative: Vec::new(),
        }
    }

    pub(super) fn values(&self, node: Node) -> &[N] {
        &self.values[node.offset..node.offset + node.len]
    }

    pub(super) fn derivatives(&self, node: Node) -> &[N] {
        &self.derivatives[node.offset..node.offset + node.len]
    }

    /// Loads parameters and evidence and computes P(evidence), less the power of two that
    /// [`evidence_exponent`] keeps aside. Parameters and evidence have been checked.
    pub(super) fn upward_pass(
        &mut self,
        plan: &Plan,
        structure: &Structure,
        parameters: &Parameters,
        evidence: &Evidence,
    ) -> Result<N, LeftRange> {
        self.values.resize(plan.n_cells, N::ZERO);
        self.smallest.resize(plan.nodes.len(), N::ONE);
        self.load_parameters(plan, structure, parameters, evidence)?;
        self.load_evidence(plan, structure, evidence)?;
        for step in &plan.contractions {
            let (out, x, y) = (step.out.index(), step.x.index(), step.y.index());
            let (before, after) = self.values.split_at_mut(plan.nodes[out].offset);
            let table = |index: usize| {
                let Node { offset, len } = plan.nodes[index];
                &before[offset..offset + len]
            };
            let result = &mut after[..plan.nodes[out].len];
            let watch = self.smallest[x].times(self.smallest[y]).left_range();
            if step.upward.contract(table(x), table(y), result, watch) {
                return Err(LeftRange);
            }
            self.smallest[out] = N::smallest(result);
        }
        let root = self.values[plan.nodes[plan.root.index()].offset];
        if !root.is_zero() && root.left_range() {
            return Err(LeftRange);
        }
        Ok(root)
    }

    /// The derivative of P(evidence) with respect to every entry of every table, after an upward pass.
    ///
    /// # Source
    /// Darwiche, "A differential approach to inference in Bayesian networks", J. ACM 50(3), 2003: the
    /// downward pass is the chain rule on the tree of products, so it never divides and entries of 0
    /// need no care.
    pub(super) fn downward_pass(&mut self, plan: &Plan) -> Result<(), LeftRange> {
        self.derivatives.resize(plan.n_cells, N::ZERO);
        self.smallest_derivative.resize(plan.nodes.len(), N::ONE);
        self.derivatives[plan.nodes[plan.root.index()].offset] = N::ONE;
        self.smallest_derivative[plan.root.index()] = N::ONE;
        for step in plan.contractions.iter().rev() {
            let out = plan.nodes[step.out.index()];
            let (before, after) = self.derivatives.split_at_mut(out.offset);
            let above = &after[..out.len];
            let above_smallest = self.smallest_derivative[step.out.index()];
            for (to, with, loops) in [(step.x, step.y, &step.to_x), (step.y, step.x, &step.to_y)] {
                let (target, other) = (plan.nodes[to.index()], plan.nodes[with.index()]);
                let other_values = &self.values[other.offset..other.offset + other.len];
                let result = &mut before[target.offset..target.offset + target.len];
                let watch = above_smallest
                    .times(self.smallest[with.index()])
                    .left_range();
                if loops.contract(above, other_values, result, watch) {
                    return Err(LeftRange);
                }
                self.smallest_derivative[to.index()] = N::smallest(result);
            }
        }
        Ok(())
    }

    fn load_parameters(
        &mut self,
        plan: &Plan,
        structure: &Structure,
        parameters: &Parameters,
        evidence: &Evidence,
    ) -> Result<(), LeftRange> {
        self.load(plan, plan.unit, std::iter::once(1.0), 0)?;
        for &(id, ref leaf) in &plan.parameter_leaves {
            if structure.variable(id).role == Role::Input {
                // An input that is given has no factor; one that is not has no evidence below it, so
                // that any distribution leaves P(evidence) as it is.
                let share = match evidence.finding(id) {
                    Some(_) => 1.0,
                    None => 1.0 / structure.n_states(id) as f64,
                };
                self.load(plan, leaf.node, std::iter::repeat(share), 0)?;
            } else {
                let table = parameters.table(id);
                let values = leaf.outside.iter().map(|&place| table[place as usize]);
                self.load(plan, leaf.node, values, 0)?;
            }
        }
        Ok(())
    }

    fn load_evidence(
        &mut self,
        plan: &Plan,
        structure: &Structure,
        evidence: &Evidence,
    ) -> Result<(), LeftRange> {
        for &(id, leaf) in &plan.likelihood_leaves {
            match evidence.finding(id) {
                None => self.load(plan, leaf, std::iter::repeat(1.0), 0)?,
                Some(&Finding::State(observed)) => {
                    let states = 0..structure.n_states(id);
                    let indicator = states.map(|s| if s == observed { 1.0 } else { 0.0 });
                    self.load(plan, leaf, indicator, 0)?;
                }
                Some(Finding::Likelihood(values)) => {
                    self.load(plan, leaf, values.iter().copied(), -exponent_aside(values))?;
                }
            }
        }
        for &(id, ref leaf) in &plan.measure_leaves {
            match evidence.densities(id) {
                None => self.load(plan, leaf.node, std::iter::repeat(1.0), 0)?,
                Some(densities) => {
                    let values = leaf.outside.iter().map(|&place| densities[place as usize]);
                    self.load(plan, leaf.node, values, -exponent_aside(densities))?;
                }
            }
        }
        Ok(())
    }

    fn load(
        &mut self,
        plan: &Plan,
        node: NodeId,
        values: impl Iterator<Item = f64>,
        exponent: i64,
    ) -> Result<(), LeftRange> {
        let Node { offset, len } = plan.nodes[node.index()];
        let table = &mut self.values[offset..offset + len];
        let mut lost = false;
        for (cell, value) in table.iter_mut().zip(values) {
            *cell = N::scaled(value, exponent);
            lost |= value != 0.0 && cell.left_range();
        }
        self.smallest[node.index()] = N::smallest(table);
        if lost { Err(LeftRange) } else { Ok(()) }
    }
}

/// The power of two by which a vector is divided as it is loaded, so that its largest entry lies above 1/2
/// and not above 1. A power of two leaves every digit as it is.
pub(super) fn exponent_aside(values: &[f64]) -> i64 {
    let largest = values.iter().copied().fold(0.0, f64::max);
    let (mantissa, exponent) = Extended::scaled(largest, 0).parts();
    if mantissa > 1.0 {
        exponent + 1
    } else {
        exponent
    }
}

/// The sum of all exponents kept aside: P(evidence) is the upward pass's result times 2 to this power.
pub(super) fn evidence_exponent(structure: &Structure, evidence: &Evidence) -> i64 {
    let of_variable = |id: VariableId| match evidence.finding(id) {
        Some(Finding::Likelihood(values)) => exponent_aside(values),
        _ => 0,
    };
    let variables: i64 = structure.variable_ids().map(of_variable).sum();
    let measures: i64 = structure
        .measure_ids()
        .filter_map(|id| evidence.densities(id))
        .map(exponent_aside)
        .sum();
    variables + measures
}
