//! What a query returns.

use std::sync::Arc;

use nalgebra::DMatrixView;

use crate::network::{MeasureId, Role, Structure, VariableId};

use super::number::Number;
use super::passes::{LeftRange, Tables};
use super::plan::{Leaf, Plan};

/// Posterior distributions of all variables and families given one set of evidence.
///
/// A variable below an input that was not given has no distribution: everything here about it is `None`,
/// as it is for an id that the network does not have. A posterior too small for an `f64` (below about
/// 1e-308) is reported as 0; it is never 0 on the way.
#[derive(Clone, Debug)]
pub struct Posterior {
    structure: Arc<Structure>,
    log_evidence: f64,
    available: Vec<bool>,
    measure_available: Vec<bool>,
    /// Where each variable's states begin; one more entry for the end.
    state_offsets: Vec<usize>,
    measure_offsets: Vec<usize>,
    marginals: Vec<f64>,
    retracted: Vec<f64>,
    families: Vec<f64>,
    parameter_derivatives: Vec<f64>,
    measure_configurations: Vec<f64>,
}

impl Posterior {
    pub(super) fn empty(structure: &Arc<Structure>) -> Self {
        let n_states = structure.variable_ids().map(|v| structure.n_states(v));
        let n_configurations = structure
            .measure_ids()
            .map(|m| structure.n_measure_configurations(m));
        let state_offsets = running_total(n_states);
        let measure_offsets = running_total(n_configurations);
        let last = |offsets: &[usize]| offsets.last().copied().unwrap_or(0);
        Self {
            log_evidence: 0.0,
            available: vec![true; structure.variables().len()],
            measure_available: vec![true; structure.measures().len()],
            marginals: vec![0.0; last(&state_offsets)],
            retracted: vec![0.0; last(&state_offsets)],
            families: vec![0.0; structure.n_parameters()],
            parameter_derivatives: vec![0.0; structure.n_parameters()],
            measure_configurations: vec![0.0; last(&measure_offsets)],
            state_offsets,
            measure_offsets,
            structure: Arc::clone(structure),
        }
    }

    /// ln P(evidence), in nats.
    ///
    /// With likelihoods or densities it contains their scale: ln of the sum over all joint states of
    /// P(joint state) × product of likelihoods and densities.
    pub fn log_evidence(&self) -> f64 {
        self.log_evidence
    }

    /// P(states | evidence) of one variable, one entry for each state; they sum to 1.
    pub fn marginal(&self, id: VariableId) -> Option<&[f64]> {
        self.available_range(id).map(|range| &self.marginals[range])
    }

    /// P(states | all evidence but that about this variable itself), one entry for each state; they sum
    /// to 1. For a variable without evidence this is its marginal. `None` for an input, which has no
    /// probability apart from its setting.
    ///
    /// # Source
    /// Darwiche 2003, theorem 2 (evidence retraction); Dawid, "Applications of a general propagation
    /// algorithm for probabilistic expert systems", Statistics and Computing 2, 1992 (fast retraction).
    pub fn marginal_without_own_evidence(&self, id: VariableId) -> Option<&[f64]> {
        let range = self.available_range(id)?;
        self.is_chance(id).then(|| &self.retracted[range])
    }

    /// P(state, parent configuration | evidence), in the layout of the variable's table: states down,
    /// configurations across. All entries together sum to 1. `None` for an input.
    pub fn family(&self, id: VariableId) -> Option<DMatrixView<'_, f64>> {
        self.table_view(id, &self.families)
    }

    /// ∂ ln P(evidence) / ∂ entry for each entry of a variable's table, in its layout, the other entries
    /// held fixed; infinite where it exceeds the range of `f64`. `None` for an input.
    ///
    /// # Source
    /// Darwiche 2003, equation 5.
    pub fn parameter_derivative(&self, id: VariableId) -> Option<DMatrixView<'_, f64>> {
        self.table_view(id, &self.parameter_derivatives)
    }

    /// P(parent configuration | evidence) of one measure, the last parent fastest; they sum to 1.
    pub fn measure_configurations(&self, id: MeasureId) -> Option<&[f64]> {
        let index = id.index();
        if !*self.measure_available.get(index)? {
            return None;
        }
        let range = self.measure_offsets[index]..self.measure_offsets[index + 1];
        Some(&self.measure_configurations[range])
    }

    fn available_range(&self, id: VariableId) -> Option<std::ops::Range<usize>> {
        let index = id.index();
        self.available
            .get(index)?
            .then(|| self.state_offsets[index]..self.state_offsets[index + 1])
    }

    fn table_view<'a>(&self, id: VariableId, values: &'a [f64]) -> Option<DMatrixView<'a, f64>> {
        self.available_range(id)?;
        self.is_chance(id).then(|| {
            DMatrixView::from_slice(
                &values[self.structure.table_range(id)],
                self.structure.n_states(id),
                self.structure.n_configurations(id),
            )
        })
    }

    fn is_chance(&self, id: VariableId) -> bool {
        self.structure.variable(id).role == Role::Chance
    }

    pub(super) fn belongs_to(&self, structure: &Arc<Structure>) -> bool {
        Arc::ptr_eq(&self.structure, structure)
    }

    pub(super) fn set_log_evidence(&mut self, log_evidence: f64) {
        self.log_evidence = log_evidence;
    }

    pub(super) fn set_available(
        &mut self,
        variable: impl Fn(VariableId) -> bool,
        measure: impl Fn(MeasureId) -> bool,
    ) {
        for (id, available) in self.structure.variable_ids().zip(&mut self.available) {
            *available = variable(id);
        }
        for (id, available) in self
            .structure
            .measure_ids()
            .zip(&mut self.measure_available)
        {
            *available = measure(id);
        }
    }

    /// Takes all distributions from tables whose values and derivatives are complete; `root` is the result
    /// of the upward pass, not 0.
    pub(super) fn read<N: Number>(
        &mut self,
        plan: &Plan,
        tables: &Tables<N>,
        root: N,
    ) -> Result<(), LeftRange> {
        let mut lost = false;
        let mut share = |value: N, derivative: N| {
            let product = value.times(derivative);
            // A 0 is right if one factor is; infinity and what is no number never are.
            let exact_zero = product.is_zero() && (value.is_zero() || derivative.is_zero());
            lost |= product.left_range() && !exact_zero;
            product.ratio(root)
        };
        for &(id, node) in &plan.likelihood_leaves {
            let index = id.index();
            let node = plan.nodes[node.index()];
            let derivatives = tables.derivatives(node);
            let total = derivatives.iter().fold(N::ZERO, |sum, &d| sum.plus(d));
            let first = self.state_offsets[index];
            for (s, (&value, &d)) in tables.values(node).iter().zip(derivatives).enumerate() {
                self.marginals[first + s] = share(value, d);
                self.retracted[first + s] = d.ratio(total);
            }
        }
        for &(id, ref leaf) in &plan.measure_leaves {
            let index = id.index();
            let out = &mut self.measure_configurations[self.measure_offsets[index]..];
            for (place, value, d) in cells(plan, tables, leaf) {
                out[place] = share(value, d);
            }
        }
        for &(id, ref leaf) in &plan.parameter_leaves {
            let range = self.structure.table_range(id);
            let families = &mut self.families[range.clone()];
            let parameter_derivatives = &mut self.parameter_derivatives[range];
            // The leaf of an input is no longer than its table, which is not read.
            for (place, value, d) in cells(plan, tables, leaf) {
                families[place] = share(value, d);
                parameter_derivatives[place] = d.ratio(root);
            }
        }
        if lost { Err(LeftRange) } else { Ok(()) }
    }
}

/// Place in the outside layout, value and derivative of each cell of a leaf.
fn cells<'a, N: Number>(
    plan: &Plan,
    tables: &'a Tables<N>,
    leaf: &'a Leaf,
) -> impl Iterator<Item = (usize, N, N)> + 'a {
    let node = plan.nodes[leaf.node.index()];
    leaf.outside
        .iter()
        .zip(tables.values(node))
        .zip(tables.derivatives(node))
        .map(|((&place, &value), &d)| (place as usize, value, d))
}

fn running_total(lengths: impl Iterator<Item = usize>) -> Vec<usize> {
    let mut offsets = vec![0];
    let mut end = 0;
    for length in lengths {
        end += length;
        offsets.push(end);
    }
    offsets
}
