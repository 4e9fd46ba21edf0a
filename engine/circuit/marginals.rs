//! Posterior distributions of single variables.

use std::sync::Arc;

use crate::network::{Structure, VariableId};

/// Posterior distributions of all variables given one set of evidence.
///
/// A variable below an input that was not given has no distribution, nor has an id that the network does
/// not have. A probability too small for an `f64` (below about 1e-308) is reported as 0; it is never 0 on
/// the way.
#[derive(Clone, Debug)]
pub struct Marginals {
    pub(super) structure: Arc<Structure>,
    pub(super) log_evidence: f64,
    pub(super) available: Vec<bool>,
    /// Where each variable's states begin; one more entry for the end.
    pub(super) offsets: Vec<usize>,
    pub(super) values: Vec<f64>,
}

impl Marginals {
    pub(super) fn empty(structure: &Arc<Structure>) -> Self {
        let mut offsets = vec![0];
        let mut end = 0;
        for v in structure.variable_ids() {
            end += structure.n_states(v);
            offsets.push(end);
        }
        Self {
            log_evidence: 0.0,
            available: vec![true; structure.variables().len()],
            offsets,
            values: vec![0.0; end],
            structure: Arc::clone(structure),
        }
    }

    /// ln P(evidence), in nats.
    ///
    /// With likelihoods or densities it contains their scale, as in
    /// [`Posterior::log_evidence`](super::Posterior::log_evidence).
    pub fn log_evidence(&self) -> f64 {
        self.log_evidence
    }

    /// P(states | evidence) of one variable, one entry for each state; they sum to 1.
    pub fn marginal(&self, id: VariableId) -> Option<&[f64]> {
        let is_available = *self.available.get(id.index())?;
        is_available.then(|| &self.values[self.offsets[id.index()]..self.offsets[id.index() + 1]])
    }

    /// The entries of one variable, to be written.
    pub(super) fn states_mut(&mut self, id: VariableId) -> &mut [f64] {
        &mut self.values[self.offsets[id.index()]..self.offsets[id.index() + 1]]
    }
}
