//! Asking what an answer hangs on.

use rhai::Engine;
use rhai::plugin::{Dynamic, export_module};

use super::fault::{Fault, raise};
use super::handles::{PieceHandle, Raw, SensitivityHandle};
use super::questions::{ClaimHandle, QuestionHandle};
use super::values::WholeNumber;
use super::whole_numbers::whole_number;
use crate::question::Question;
use crate::sensitivity::TOP;

/// The most numbers that one result may tell of.
const MOST_TOLD: usize = 200;

/// Registers the functions.
pub(super) fn register(engine: &mut Engine) {
    let module = rhai::exported_module!(sensitivity_functions);
    engine.register_global_module(module.into());
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod sensitivity_functions {

    /// What the leader's lead hangs on, one belief at a time, exactly: where each number would have to be for another maker
    /// to lead: `jug.sensitivity()`.
    #[rhai_fn(return_raw, pure)]
    pub fn sensitivity(piece: &mut PieceHandle) -> Raw<SensitivityHandle> {
        of(piece, None, TOP)
    }

    /// The same for so many numbers, those that move the answer most: `jug.sensitivity(30)`.
    #[rhai_fn(return_raw, pure, name = "sensitivity")]
    pub fn sensitivity_of_most(
        piece: &mut PieceHandle,
        top: WholeNumber,
    ) -> Raw<SensitivityHandle> {
        of(piece, None, numbers_told(&top).map_err(Fault::raise)?)
    }

    /// What a claim's odds against all else hang on: `jug.sensitivity(region("Saltharrow"))`.
    #[rhai_fn(return_raw, pure, name = "sensitivity")]
    pub fn sensitivity_claim(
        piece: &mut PieceHandle,
        claim: ClaimHandle,
    ) -> Raw<SensitivityHandle> {
        of(piece, Some(Question::of(claim.0)), TOP)
    }

    /// The same for so many numbers: `jug.sensitivity(region("Saltharrow"), 30)`.
    #[rhai_fn(return_raw, pure, name = "sensitivity")]
    pub fn sensitivity_claim_of_most(
        piece: &mut PieceHandle,
        claim: ClaimHandle,
        top: WholeNumber,
    ) -> Raw<SensitivityHandle> {
        let top = numbers_told(&top).map_err(Fault::raise)?;
        of(piece, Some(Question::of(claim.0)), top)
    }

    /// What the odds of one claim against another hang on: `jug.sensitivity(maker("K07").against(maker("K11")))`.
    #[rhai_fn(return_raw, pure, name = "sensitivity")]
    pub fn sensitivity_question(
        piece: &mut PieceHandle,
        question: QuestionHandle,
    ) -> Raw<SensitivityHandle> {
        of(piece, Some(question.0), TOP)
    }

    /// The same for so many numbers: `jug.sensitivity(maker("K07").against(maker("K11")), 30)`.
    #[rhai_fn(return_raw, pure, name = "sensitivity")]
    pub fn sensitivity_question_of_most(
        piece: &mut PieceHandle,
        question: QuestionHandle,
        top: WholeNumber,
    ) -> Raw<SensitivityHandle> {
        let top = numbers_told(&top).map_err(Fault::raise)?;
        of(piece, Some(question.0), top)
    }
}

fn of(piece: &PieceHandle, question: Option<Question>, top: usize) -> Raw<SensitivityHandle> {
    let compiled = &piece.pack.compiled;
    let sensitivity = match question {
        None => compiled.sensitivity(&piece.piece, top),
        Some(question) => compiled.sensitivity_on(&piece.piece, &question, top),
    };
    Ok(SensitivityHandle(sensitivity.map_err(raise)?.into()))
}

fn numbers_told(asked: &Dynamic) -> Result<usize, Fault> {
    let number = whole_number(asked, "how many numbers to tell of")?;
    let told = usize::try_from(number).ok();
    told.filter(|n| (1..=MOST_TOLD).contains(n)).ok_or_else(|| {
        Fault::new(format!(
            "a sensitivity tells of 1 to {MOST_TOLD} numbers, not {number}"
        ))
    })
}
