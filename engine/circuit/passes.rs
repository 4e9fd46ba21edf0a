//! The upward and the downward pass, for either kind of number.

use crate::network::{Evidence, Finding, ItemContent, Parameters, Role, Structure, VariableId};

use super::number::{Extended, Number};
use super::plan::{Node, NodeId, Plan, Reading};

/// The cells of all tables of a plan, kept from one evaluation to the next.
///
/// What has not changed since the last evaluation is not computed again: a table from outside whose cells
/// are what they were, and every product of such tables.
#[derive(Clone, Debug)]
pub(super) struct Tables<N> {
    values: Vec<N>,
    derivatives: Vec<N>,
    /// For each table a lower bound of its entries other than 0, to tell which products are safe.
    smallest: Vec<N>,
    smallest_derivative: Vec<N>,
    /// The stamp of the parameters from which all tables were computed; none if they are not complete.
    computed_from: Option<u64>,
    /// For each conditional probability table, which part of it was loaded.
    loaded_part: Vec<usize>,
    /// For each table, whether its cells differ from those of the last evaluation.
    changed: Vec<bool>,
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
            computed_from: None,
            loaded_part: Vec::new(),
            changed: Vec::new(),
        }
    }

    /// Makes the memory ready for another plan.
    pub(super) fn forget(&mut self) {
        self.computed_from = None;
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
        self.loaded_part.resize(plan.parameter_leaves.len(), 0);
        // Stays empty if a product leaves the range half way.
        let computed_from = self.computed_from.take();
        self.changed.clear();
        self.changed
            .resize(plan.nodes.len(), computed_from.is_none());
        self.load_parameters(plan, structure, parameters, evidence, computed_from)?;
        self.load_evidence(plan, structure, evidence)?;
        pulp::Arch::new().dispatch(Upward { tables: self, plan })?;
        self.computed_from = Some(parameters.stamp());
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
        pulp::Arch::new().dispatch(Downward { tables: self, plan })
    }

    /// Writes the distribution of one variable into `states`, after a downward pass; `root` is the result of
    /// the upward pass, not 0.
    pub(super) fn read(
        &self,
        plan: &Plan,
        reading: &Reading,
        root: N,
        states: &mut [f64],
    ) -> Result<(), LeftRange> {
        let node = plan.nodes[reading.node.index()];
        let (values, derivatives) = (self.values(node), self.derivatives(node));
        let safe = |a: N, b: N| !a.times(b).left_range();
        let index = reading.node.index();
        let is_safe = safe(self.smallest[index], self.smallest_derivative[index])
            || safe(N::smallest(values), N::smallest(derivatives));
        let block = node.len / states.len();
        for (s, state) in states.iter_mut().enumerate() {
            let range = s * block..(s + 1) * block;
            let (values, derivatives) = (&values[range.clone()], &derivatives[range]);
            if !is_safe {
                let lost =
                    |(a, b): (&N, &N)| a.times(*b).left_range() && !a.is_zero() && !b.is_zero();
                if values.iter().zip(derivatives).any(lost) {
                    return Err(LeftRange);
                }
            }
            let sum = N::dot(values, derivatives);
            if sum.left_range() && !sum.is_zero() {
                return Err(LeftRange);
            }
            *state = sum.ratio(root);
        }
        Ok(())
    }

    fn load_parameters(
        &mut self,
        plan: &Plan,
        structure: &Structure,
        parameters: &Parameters,
        evidence: &Evidence,
        computed_from: Option<u64>,
    ) -> Result<(), LeftRange> {
        let is_same = computed_from == Some(parameters.stamp());
        if !is_same {
            self.load(plan, plan.unit, std::iter::once(1.0), 0)?;
        }
        for (k, &(id, ref leaf)) in plan.parameter_leaves.iter().enumerate() {
            if structure.variable(id).role == Role::Input {
                // An input that is given has no factor; one that is not has no evidence below it, so
                // that any distribution leaves P(evidence) as it is.
                let share = match evidence.finding(id) {
                    Some(_) => 1.0,
                    None => 1.0 / structure.n_states(id) as f64,
                };
                self.load(plan, leaf.node, std::iter::repeat(share), 0)?;
            } else {
                let part = leaf.shift(|v| observed_state(evidence, v));
                if is_same && self.loaded_part[k] == part {
                    continue;
                }
                let table = &parameters.table(id)[part..];
                let values = leaf.outside.iter().map(|&place| table[place as usize]);
                self.load(plan, leaf.node, values, 0)?;
                self.loaded_part[k] = part;
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
                    let part = &densities[leaf.shift(|v| observed_state(evidence, v))..];
                    let values = leaf.outside.iter().map(|&place| part[place as usize]);
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
        let (mut lost, mut changed) = (false, false);
        for (cell, value) in table.iter_mut().zip(values) {
            let new = N::scaled(value, exponent);
            lost |= value != 0.0 && new.left_range();
            changed |= new != *cell;
            *cell = new;
        }
        if changed {
            self.changed[node.index()] = true;
        }
        if self.changed[node.index()] {
            self.smallest[node.index()] = N::smallest(table);
        }
        if lost { Err(LeftRange) } else { Ok(()) }
    }
}

/// The state in which a variable is observed; 0 for one that is not.
fn observed_state(evidence: &Evidence, id: VariableId) -> usize {
    match evidence.finding(id) {
        Some(&Finding::State(state_idx)) => state_idx,
        _ => 0,
    }
}

/// All products upward, as a task for the widest vectors there are.
struct Upward<'a, N> {
    tables: &'a mut Tables<N>,
    plan: &'a Plan,
}

impl<N: Number> pulp::WithSimd for Upward<'_, N> {
    type Output = Result<(), LeftRange>;

    #[inline(always)]
    fn with_simd<S: pulp::Simd>(self, _: S) -> Self::Output {
        let Self { tables, plan } = self;
        for step in &plan.contractions {
            let (out, x, y) = (step.out.index(), step.x.index(), step.y.index());
            if !tables.changed[x] && !tables.changed[y] && !tables.changed[out] {
                continue;
            }
            tables.changed[out] = true;
            let (before, after) = tables.values.split_at_mut(plan.nodes[out].offset);
            let table = |index: usize| {
                let Node { offset, len } = plan.nodes[index];
                &before[offset..offset + len]
            };
            let (in_x, in_y) = (table(x), table(y));
            let result = &mut after[..plan.nodes[out].len];
            let mut least = tables.smallest[x].times(tables.smallest[y]);
            if least.left_range() {
                // The bounds are products of bounds; now the true ones are worth looking for.
                tables.smallest[x] = N::smallest(in_x);
                tables.smallest[y] = N::smallest(in_y);
                least = tables.smallest[x].times(tables.smallest[y]);
            }
            let watch = least.left_range();
            if step.upward.contract(in_x, in_y, result, watch) {
                return Err(LeftRange);
            }
            tables.smallest[out] = if watch { N::smallest(result) } else { least };
        }
        Ok(())
    }
}

/// All derivatives downward, as a task for the widest vectors there are.
struct Downward<'a, N> {
    tables: &'a mut Tables<N>,
    plan: &'a Plan,
}

impl<N: Number> pulp::WithSimd for Downward<'_, N> {
    type Output = Result<(), LeftRange>;

    #[inline(always)]
    fn with_simd<S: pulp::Simd>(self, _: S) -> Self::Output {
        let Self { tables, plan } = self;
        for step in plan.contractions.iter().rev() {
            let from = step.out.index();
            let out = plan.nodes[from];
            let (before, after) = tables.derivatives.split_at_mut(out.offset);
            let above = &after[..out.len];
            for (to, with, loops) in [(step.x, step.y, &step.to_x), (step.y, step.x, &step.to_y)] {
                let Some(loops) = loops else { continue };
                let (target, other) = (plan.nodes[to.index()], plan.nodes[with.index()]);
                let other_values = &tables.values[other.offset..other.offset + other.len];
                let result = &mut before[target.offset..target.offset + target.len];
                let bounds = (&mut tables.smallest_derivative, &mut tables.smallest);
                let mut least = bounds.0[from].times(bounds.1[with.index()]);
                if least.left_range() {
                    bounds.0[from] = N::smallest(above);
                    bounds.1[with.index()] = N::smallest(other_values);
                    least = bounds.0[from].times(bounds.1[with.index()]);
                }
                let watch = least.left_range();
                if loops.contract(above, other_values, result, watch) {
                    return Err(LeftRange);
                }
                bounds.0[to.index()] = if watch { N::smallest(result) } else { least };
            }
        }
        Ok(())
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
pub(super) fn evidence_exponent(evidence: &Evidence) -> i64 {
    let of_item = |(_, content): (_, ItemContent<'_>)| match content {
        ItemContent::State(_) => 0,
        ItemContent::Likelihood(values) | ItemContent::Densities(values) => exponent_aside(values),
    };
    evidence.items().map(of_item).sum()
}
