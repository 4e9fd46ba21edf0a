//! Derivatives of the joint probability of one variable's states and the evidence.

use std::sync::Arc;

use nalgebra::DMatrixView;

use crate::network::{Evidence, Finding, MeasureId, Parameters, Role, Structure, VariableId};

use super::evaluate::NEVER_LEFT;
use super::number::{Extended, Number};
use super::passes::{LeftRange, Tables, evidence_exponent, exponent_aside};
use super::{Circuit, QueryError, Workspace};

/// ∂ P(state, evidence) / ∂ entry, for every state of one variable, over P(evidence) as the tables stand.
///
/// Every joint state of a network uses exactly one entry of one variable's table, so P(state, evidence) is linear in the
/// entries of any one table: the sum of entry × derivative over them, *whatever* the entries, as long as the other tables
/// stay as they are. That holds where an entry is 0, too, and where the state is impossible as the tables stand.
///
/// # Source
/// Darwiche 2003, "A differential approach to inference in Bayesian networks", J. ACM 50(3), sec. 3.
#[derive(Clone, Debug)]
pub struct JointDerivatives {
    structure: Arc<Structure>,
    log_evidence: f64,
    probabilities: Vec<f64>,
    /// For each state, one number for each entry of all tables.
    entries: Vec<Vec<f64>>,
    /// For each state and measure, one number for each configuration of the measure's parents.
    densities: Vec<Vec<Vec<f64>>>,
    /// For each measure, the largest of its densities; 1 without a value.
    units: Vec<f64>,
}

impl JointDerivatives {
    /// ln P(evidence) as the tables stand, in nats.
    #[must_use]
    pub fn log_evidence(&self) -> f64 {
        self.log_evidence
    }

    /// P(state | evidence) as the tables stand.
    #[must_use]
    pub fn probabilities(&self) -> &[f64] {
        &self.probabilities
    }

    /// For one state, the derivative with respect to each entry of a variable's table, in its layout: states down,
    /// configurations across. `None` for an input, or for a state or variable that is not there.
    #[must_use]
    pub fn table(&self, state_idx: usize, id: VariableId) -> Option<DMatrixView<'_, f64>> {
        let chance = self.structure.variables().get(id.index())?.role == Role::Chance;
        let entries = self.entries.get(state_idx).filter(|_| chance)?;
        Some(DMatrixView::from_slice(
            &entries[self.structure.table_range(id)],
            self.structure.n_states(id),
            self.structure.n_configurations(id),
        ))
    }

    /// For one state, the derivative with respect to each density of a measured value, in units of
    /// [`unit`](Self::unit): P(state, evidence) is the sum of density / unit × derivative.
    #[must_use]
    pub fn densities(&self, state_idx: usize, id: MeasureId) -> Option<&[f64]> {
        let of_state = self.densities.get(state_idx)?;
        of_state.get(id.index()).map(Vec::as_slice)
    }

    /// The largest of a measure's densities as they stand; 1 if nothing was measured.
    #[must_use]
    pub fn unit(&self, id: MeasureId) -> Option<f64> {
        self.units.get(id.index()).copied()
    }
}

impl Circuit {
    /// The derivatives of P(state, evidence) for every state of `variable`: one upward pass, and one upward and downward
    /// pass for each state.
    ///
    /// # Errors
    /// As for [`evaluate`](Self::evaluate); also [`QueryError::InputNotGiven`] for a variable below an input that is not
    /// given, and [`QueryError::InputNotHard`] for an input.
    pub fn joint_derivatives(
        &self,
        parameters: &Parameters,
        evidence: &Evidence,
        variable: VariableId,
    ) -> Result<JointDerivatives, QueryError> {
        let structure = &self.structure;
        if structure.variable(variable).role == Role::Input {
            return Err(QueryError::InputNotHard { input: variable });
        }
        let mut asked = evidence.clone();
        if evidence.finding(variable).is_none() {
            asked.likelihood(variable, vec![1.0; structure.n_states(variable)]);
        }
        let mut workspace = self.workspace();
        let log_evidence = self.log_evidence_in(&mut workspace, parameters, evidence)?;
        self.inputs.check(structure, &asked)?;
        let units = structure.measure_ids().map(|id| {
            let densities = evidence.densities(id).unwrap_or(&[1.0]);
            densities.iter().copied().fold(0.0, f64::max)
        });
        let mut joint = JointDerivatives {
            structure: Arc::clone(structure),
            log_evidence,
            probabilities: Vec::new(),
            entries: Vec::new(),
            densities: Vec::new(),
            units: units.collect(),
        };
        // P(evidence) is the sum over the states, in the numbers the derivatives come in.
        let mut total = Extended::ZERO;
        let mut passes = Vec::new();
        for state_idx in 0..structure.n_states(variable) {
            let pass = match restricted(evidence, variable, state_idx) {
                Some(evidence) => self.derivatives(&mut workspace, parameters, &evidence, &joint),
                None => Derived::none(&joint),
            };
            total = total.plus(pass.probability);
            passes.push(pass);
        }
        for pass in passes {
            let ratios = |derivatives: &[Extended]| {
                let ratio = |d: &Extended| d.ratio(total);
                derivatives.iter().map(ratio).collect::<Vec<f64>>()
            };
            joint.probabilities.push(pass.probability.ratio(total));
            joint.entries.push(ratios(&pass.entries));
            let densities = pass.densities.iter().map(|of| ratios(of)).collect();
            joint.densities.push(densities);
        }
        Ok(joint)
    }

    fn derivatives(
        &self,
        workspace: &mut Workspace,
        parameters: &Parameters,
        evidence: &Evidence,
        joint: &JointDerivatives,
    ) -> Derived {
        let (fast, wide) = workspace.tables();
        if let Ok(derived) = self.derived_by(fast, parameters, evidence, joint, |value| {
            Extended::scaled(value, 0)
        }) {
            return derived;
        }
        let derived = self.derived_by(wide, parameters, evidence, joint, |value| value);
        derived.expect(NEVER_LEFT)
    }

    fn derived_by<N: Number>(
        &self,
        tables: &mut Tables<N>,
        parameters: &Parameters,
        evidence: &Evidence,
        joint: &JointDerivatives,
        extended: impl Fn(N) -> Extended,
    ) -> Result<Derived, LeftRange> {
        let root = tables.upward_pass(&self.plan, &self.structure, parameters, evidence)?;
        tables.downward_pass(&self.plan)?;
        let exponent = evidence_exponent(evidence);
        let mut derived = Derived::none(joint);
        derived.probability = extended(root).shifted(exponent);
        for &(id, ref leaf) in &self.plan.parameter_leaves {
            if self.structure.variable(id).role == Role::Input {
                continue;
            }
            let entries = &mut derived.entries[self.structure.table_range(id)];
            let derivatives = tables.derivatives(self.plan.nodes[leaf.node.index()]);
            for (&place, &d) in leaf.outside.iter().zip(derivatives) {
                entries[place as usize] = extended(d).shifted(exponent);
            }
        }
        for &(id, ref leaf) in &self.plan.measure_leaves {
            let aside = evidence.densities(id).map_or(0, exponent_aside);
            // From the density as loaded to the density in units of the largest.
            let unit = Extended::scaled(joint.units[id.index()], -aside);
            let densities = &mut derived.densities[id.index()];
            let derivatives = tables.derivatives(self.plan.nodes[leaf.node.index()]);
            for (&place, &d) in leaf.outside.iter().zip(derivatives) {
                densities[place as usize] = extended(d).shifted(exponent).times(unit);
            }
        }
        Ok(derived)
    }
}

/// What one upward and downward pass gives, not yet divided by P(evidence).
struct Derived {
    probability: Extended,
    entries: Vec<Extended>,
    densities: Vec<Vec<Extended>>,
}

impl Derived {
    fn none(joint: &JointDerivatives) -> Self {
        let structure = &joint.structure;
        let n = |m| structure.n_measure_configurations(m);
        let densities = structure.measure_ids().map(|m| vec![Extended::ZERO; n(m)]);
        Self {
            probability: Extended::ZERO,
            entries: vec![Extended::ZERO; structure.n_parameters()],
            densities: densities.collect(),
        }
    }
}

/// The evidence with one state of the variable alone; `None` if the evidence itself rules the state out.
fn restricted(evidence: &Evidence, variable: VariableId, state_idx: usize) -> Option<Evidence> {
    let mut restricted = evidence.clone();
    match evidence.finding(variable) {
        None => {
            restricted.observe(variable, state_idx);
        }
        Some(&Finding::State(observed)) => {
            if observed != state_idx {
                return None;
            }
        }
        Some(Finding::Likelihood(values)) => {
            let of_state = *values.get(state_idx).filter(|&&value| value > 0.0)?;
            let mut alone = vec![0.0; values.len()];
            alone[state_idx] = of_state;
            restricted.likelihood(variable, alone);
        }
    }
    Some(restricted)
}
