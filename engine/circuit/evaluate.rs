//! Queries: check, run the passes, widen the range if need be, read the answer.

use std::sync::Arc;

use crate::network::{
    Evidence, EvidenceItem, Finding, ItemContent, Parameters, ROW_SUM_TOLERANCE, Role, VariableId,
};

use super::number::{Extended, Number};
use super::passes::{LeftRange, Tables, evidence_exponent};
use super::posterior::Posterior;
use super::{Circuit, QueryError};

/// Memory for evaluations, reused so that an evaluation after the first allocates nothing.
///
/// One workspace serves one thread at a time. Passed to another circuit, it is made anew.
#[derive(Clone, Debug)]
pub struct Workspace {
    fast: Tables<f64>,
    /// Stays empty until an evaluation leaves the range of `f64`.
    wide: Tables<Extended>,
    posterior: Posterior,
}

/// [`Number::left_range`] is false for every extended number.
const NEVER_LEFT: &str = "numbers of extended range cannot leave it";

/// The result of an upward pass and the tables that hold it.
pub(super) enum Upward {
    Fast(f64),
    Wide(Extended),
}

impl Upward {
    pub(super) fn is_zero(&self) -> bool {
        match self {
            Self::Fast(root) => root.is_zero(),
            Self::Wide(root) => root.is_zero(),
        }
    }

    fn ln(&self, exponent: i64) -> f64 {
        let root = match *self {
            Self::Fast(root) => Extended::scaled(root, 0),
            Self::Wide(root) => root,
        };
        root.shifted(exponent).ln()
    }
}

impl Circuit {
    /// Memory for evaluations of this circuit.
    pub fn workspace(&self) -> Workspace {
        Workspace {
            fast: Tables::new(),
            wide: Tables::new(),
            posterior: Posterior::empty(&self.structure),
        }
    }

    /// Posterior distributions of all variables and families given `evidence`.
    ///
    /// One upward and one downward pass.
    ///
    /// # Errors
    /// - [`QueryError::Evidence`] if the evidence does not fit the network
    /// - [`QueryError::ForeignParameters`], [`QueryError::NotAProbability`] if the parameters do not (an
    ///   entry that is negative, not finite, or above 1 by more than [`ROW_SUM_TOLERANCE`])
    /// - [`QueryError::InputNotHard`], [`QueryError::InputNotGiven`] if an input has likelihoods, or none
    ///   is given although something below it has evidence
    /// - [`QueryError::ImpossibleEvidence`] if P(evidence) = 0
    pub fn evaluate(
        &self,
        parameters: &Parameters,
        evidence: &Evidence,
    ) -> Result<Posterior, QueryError> {
        let mut workspace = self.workspace();
        self.evaluate_in(&mut workspace, parameters, evidence)?;
        Ok(workspace.posterior)
    }

    /// As [`evaluate`](Self::evaluate), in memory used before. The result lies in the workspace until
    /// the next evaluation.
    ///
    /// # Errors
    /// As for [`evaluate`](Self::evaluate).
    pub fn evaluate_in<'w>(
        &self,
        workspace: &'w mut Workspace,
        parameters: &Parameters,
        evidence: &Evidence,
    ) -> Result<&'w Posterior, QueryError> {
        let upward = self.checked_upward(workspace, parameters, evidence)?;
        workspace
            .posterior
            .set_log_evidence(upward.ln(evidence_exponent(&self.structure, evidence)));
        let given = |input: &VariableId| evidence.finding(*input).is_some();
        workspace.posterior.set_available(
            |v| self.inputs_above[v.index()].iter().all(given),
            |m| self.inputs_above_measure[m.index()].iter().all(given),
        );
        if let Upward::Fast(root) = upward
            && self
                .downward(&mut workspace.fast, &mut workspace.posterior, root)
                .is_ok()
        {
            return Ok(&workspace.posterior);
        }
        let root = match upward {
            Upward::Wide(root) => root,
            Upward::Fast(_) => wide_pass(self, &mut workspace.wide, parameters, evidence),
        };
        self.downward(&mut workspace.wide, &mut workspace.posterior, root)
            .expect(NEVER_LEFT);
        Ok(&workspace.posterior)
    }

    /// ln P(evidence) in nats, by an upward pass alone. See [`Posterior::log_evidence`].
    ///
    /// # Errors
    /// As for [`evaluate`](Self::evaluate).
    pub fn log_evidence(
        &self,
        parameters: &Parameters,
        evidence: &Evidence,
    ) -> Result<f64, QueryError> {
        self.log_evidence_in(&mut self.workspace(), parameters, evidence)
    }

    /// As [`log_evidence`](Self::log_evidence), in memory used before.
    ///
    /// # Errors
    /// As for [`evaluate`](Self::evaluate).
    pub fn log_evidence_in(
        &self,
        workspace: &mut Workspace,
        parameters: &Parameters,
        evidence: &Evidence,
    ) -> Result<f64, QueryError> {
        let upward = self.checked_upward(workspace, parameters, evidence)?;
        Ok(upward.ln(evidence_exponent(&self.structure, evidence)))
    }

    fn checked_upward(
        &self,
        workspace: &mut Workspace,
        parameters: &Parameters,
        evidence: &Evidence,
    ) -> Result<Upward, QueryError> {
        if !workspace.posterior.belongs_to(&self.structure) {
            *workspace = self.workspace();
        }
        evidence.check(&self.structure)?;
        self.check_parameters(parameters)?;
        self.check_inputs(evidence)?;
        let upward = self.upward(workspace, parameters, evidence);
        if upward.is_zero() {
            return Err(QueryError::ImpossibleEvidence {
                conflicting: self.conflict(workspace, parameters, evidence),
            });
        }
        Ok(upward)
    }

    /// The upward pass in `f64`, or in extended range if that is not wide enough. Inputs that are not
    /// given count as evenly distributed.
    pub(super) fn upward(
        &self,
        workspace: &mut Workspace,
        parameters: &Parameters,
        evidence: &Evidence,
    ) -> Upward {
        let Workspace { fast, wide, .. } = workspace;
        match fast.upward_pass(&self.plan, &self.structure, parameters, evidence) {
            Ok(root) => Upward::Fast(root),
            Err(LeftRange) => Upward::Wide(wide_pass(self, wide, parameters, evidence)),
        }
    }

    fn downward<N: Number>(
        &self,
        tables: &mut Tables<N>,
        posterior: &mut Posterior,
        root: N,
    ) -> Result<(), LeftRange> {
        tables.downward_pass(&self.plan)?;
        posterior.read(&self.plan, tables, root)
    }

    fn check_parameters(&self, parameters: &Parameters) -> Result<(), QueryError> {
        let own = &self.structure;
        if !Arc::ptr_eq(parameters.structure(), own) && parameters.structure() != own {
            return Err(QueryError::ForeignParameters);
        }
        for variable in own.variable_ids() {
            if own.variable(variable).role == Role::Input {
                continue;
            }
            let probability = |value: &f64| (0.0..=1.0 + ROW_SUM_TOLERANCE).contains(value);
            let table = parameters.table(variable);
            // Counting does not branch, unlike looking for the first; this runs in every evaluation.
            let wrong = table.iter().filter(|&v| !probability(v)).count();
            if wrong > 0 {
                let place = table.iter().position(|v| !probability(v)).unwrap_or(0);
                return Err(QueryError::NotAProbability {
                    variable,
                    configuration: place / own.n_states(variable),
                    state_idx: place % own.n_states(variable),
                    value: table[place],
                });
            }
        }
        Ok(())
    }

    fn check_inputs(&self, evidence: &Evidence) -> Result<(), QueryError> {
        for (item, content) in evidence.items() {
            let above = match item {
                EvidenceItem::Variable(id) => {
                    let is_input = self.structure.variable(id).role == Role::Input;
                    if is_input && matches!(content, ItemContent::Likelihood(_)) {
                        return Err(QueryError::InputNotHard { input: id });
                    }
                    &self.inputs_above[id.index()]
                }
                EvidenceItem::Measure(id) => &self.inputs_above_measure[id.index()],
            };
            let given =
                |input: &&VariableId| matches!(evidence.finding(**input), Some(Finding::State(_)));
            if let Some(&input) = above.iter().find(|input| !given(input)) {
                // Likelihoods on the input itself are the clearer complaint.
                if evidence.finding(input).is_some() {
                    return Err(QueryError::InputNotHard { input });
                }
                return Err(QueryError::InputNotGiven {
                    input,
                    needed_by: item,
                });
            }
        }
        Ok(())
    }
}

fn wide_pass(
    circuit: &Circuit,
    wide: &mut Tables<Extended>,
    parameters: &Parameters,
    evidence: &Evidence,
) -> Extended {
    wide.upward_pass(&circuit.plan, &circuit.structure, parameters, evidence)
        .expect(NEVER_LEFT)
}
