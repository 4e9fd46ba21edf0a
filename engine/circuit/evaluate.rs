//! Queries: check, run the passes, widen the range if need be, read the answer.

use crate::network::{Evidence, Parameters};

use super::checks::check_parameters;
use super::conflict::conflict;
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
    /// The stamp of the parameters that were found to be probabilities.
    checked: Option<u64>,
}

/// [`Number::left_range`] is false for every extended number.
pub(super) const NEVER_LEFT: &str = "numbers of extended range cannot leave it";

/// The result of an upward pass and the tables that hold it.
#[derive(Clone, Copy)]
pub(super) enum Upward {
    Fast(f64),
    Wide(Extended),
}

impl Workspace {
    /// The tables, of either kind of number.
    pub(super) fn tables(&mut self) -> (&mut Tables<f64>, &mut Tables<Extended>) {
        (&mut self.fast, &mut self.wide)
    }
}

impl Upward {
    pub(super) fn is_zero(&self) -> bool {
        match self {
            Self::Fast(root) => root.is_zero(),
            Self::Wide(root) => root.is_zero(),
        }
    }

    pub(super) fn ln(&self, exponent: i64) -> f64 {
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
            checked: None,
        }
    }

    /// Posterior distributions of all variables and families given `evidence`.
    ///
    /// One upward and one downward pass.
    ///
    /// # Errors
    /// - [`QueryError::Evidence`] if the evidence does not fit the network
    /// - [`QueryError::ForeignParameters`], [`QueryError::NotAProbability`] if the parameters do not (an
    ///   entry that is negative, not finite, or above 1 by more than [`crate::network::ROW_SUM_TOLERANCE`])
    /// - [`QueryError::InputNotHard`], [`QueryError::InputNotGiven`] if an input has likelihoods, or none
    ///   is given although something below it has evidence
    /// - [`QueryError::ImpossibleEvidence`] if P(evidence) = 0
    pub fn evaluate(
        &self,
        parameters: &Parameters,
        evidence: &Evidence,
    ) -> Result<Posterior, QueryError> {
        self.with_workspace(|workspace| {
            self.evaluate_in(workspace, parameters, evidence)?;
            let empty = Posterior::empty(&self.structure);
            Ok(std::mem::replace(&mut workspace.posterior, empty))
        })
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
            .set_log_evidence(upward.ln(evidence_exponent(evidence)));
        workspace.posterior.set_available(
            |v| self.inputs.are_given(v, evidence),
            |m| self.inputs.are_given_above(m, evidence),
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
        self.with_workspace(|workspace| self.log_evidence_in(workspace, parameters, evidence))
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
        Ok(upward.ln(evidence_exponent(evidence)))
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
        if workspace.checked != Some(parameters.stamp()) {
            check_parameters(&self.structure, parameters)?;
            workspace.checked = Some(parameters.stamp());
        }
        self.inputs.check(&self.structure, evidence)?;
        let upward = self.upward(workspace, parameters, evidence);
        if upward.is_zero() {
            return Err(QueryError::ImpossibleEvidence {
                conflicting: conflict(evidence, |part| {
                    self.upward(workspace, parameters, part).is_zero()
                }),
            });
        }
        Ok(upward)
    }

    /// The upward pass in `f64`, or in extended range if that is not wide enough. Inputs that are not
    /// given count as evenly distributed.
    fn upward(
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
