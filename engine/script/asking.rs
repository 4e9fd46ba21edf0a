//! Asking about a piece: the verdict, and what carried it.

use rhai::Engine;
use rhai::plugin::export_module;

use super::fault::raise;
use super::handles::{PieceHandle, Raw};

/// Registers the functions.
pub(super) fn register(engine: &mut Engine) {
    let module = rhai::exported_module!(asking_functions);
    engine.register_global_module(module.into());
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod asking_functions {
    use crate::question::Question;
    use crate::script::handles::{AuditHandle, VerdictHandle};
    use crate::script::questions::maker_or_works;

    /// Who, when, where, how sure: `jug.verdict()`.
    #[rhai_fn(return_raw, pure)]
    pub fn verdict(piece: &mut PieceHandle) -> Raw<VerdictHandle> {
        let verdict = piece.pack.compiled.verdict(&piece.piece).map_err(raise)?;
        Ok(VerdictHandle(verdict.into()))
    }

    /// How far each finding moved the verdict: `jug.audit()`.
    #[rhai_fn(return_raw, pure)]
    pub fn audit(piece: &mut PieceHandle) -> Raw<AuditHandle> {
        Ok(AuditHandle(
            piece
                .pack
                .compiled
                .audit(&piece.piece)
                .map_err(raise)?
                .into(),
        ))
    }

    /// The audit for a maker of your choice, by its short code, or for a works, all of its partnerships together:
    /// `jug.audit("K11")`, `jug.audit("Lantern Works")`. For other questions see `maker`, `region`, `years`, `against`.
    #[rhai_fn(return_raw, pure, name = "audit")]
    pub fn audit_for(piece: &mut PieceHandle, maker: &str) -> Raw<AuditHandle> {
        let question = Question::of(maker_or_works(piece, maker));
        let compiled = &piece.pack.compiled;
        let audit = compiled.audit_on(&piece.piece, &question).map_err(raise)?;
        Ok(AuditHandle(audit.into()))
    }
}
