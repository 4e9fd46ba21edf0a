//! Asking about a piece: the verdict, what carried it, and whether it would hold.

use rhai::Engine;
use rhai::plugin::export_module;

use super::error::Fault;
use super::handles::{PieceHandle, Raw, StressHandle};
use super::numbers::{draws, whole_number};
use super::pieces::raise;
use super::values::WholeNumber;

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
    use crate::script::handles::{AuditHandle, ContrastsHandle, VerdictHandle};
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

    /// Would the verdict hold if the priors were wrong by as much as `seen` allows: `jug.stress(1000)`.
    #[rhai_fn(return_raw, pure)]
    pub fn stress(piece: &mut PieceHandle, n_draws: WholeNumber) -> Raw<StressHandle> {
        let seed = piece.pack.run.settings.seed;
        piece.stress(draws(&n_draws).map_err(Fault::raise)?, seed)
    }

    /// The same with a seed of its own: `jug.stress(1000, 7)`.
    #[rhai_fn(return_raw, pure, name = "stress")]
    pub fn stress_seeded(
        piece: &mut PieceHandle,
        n_draws: WholeNumber,
        seed: WholeNumber,
    ) -> Raw<StressHandle> {
        let seed = whole_number(&seed, "the seed").map_err(Fault::raise)?;
        let seed = u64::try_from(seed).map_err(|_| Fault::new("a seed is not negative").raise())?;
        piece.stress(draws(&n_draws).map_err(Fault::raise)?, seed)
    }

    /// The same with only the beliefs whose description begins with these words drawn, the others kept as stated:
    /// `jug.stress_over("share of each maker", 1000)`.
    #[rhai_fn(return_raw, pure)]
    pub fn stress_over(
        piece: &mut PieceHandle,
        about: &str,
        n_draws: WholeNumber,
    ) -> Raw<StressHandle> {
        let beliefs = &piece.pack.compiled.model.beliefs;
        let named: Vec<_> = beliefs
            .iter()
            .filter(|(_, b)| b.about.starts_with(about))
            .map(|(id, _)| id)
            .collect();
        if named.is_empty() {
            let known =
                crate::nearest_name::nearest(about, beliefs.iter().map(|(_, b)| b.about.as_str()));
            let fault = Fault::new(format!("no belief of this pack begins with `{about}`"));
            return Err(match known {
                Some(name) => fault.hint(format!("did you mean `{name}`?")),
                None => fault.hint("`pack.beliefs()` lists them"),
            }
            .raise());
        }
        let run = &piece.pack.run;
        let draws = draws(&n_draws).map_err(Fault::raise)?;
        let stress = piece.pack.compiled.stress_over(
            &piece.piece,
            &named,
            draws,
            run.settings.seed,
            Some(run.deadline()),
        );
        Ok(StressHandle(stress.map_err(raise)?.into()))
    }

    /// The verdict beside what it would be with the list closed, with codings taken as independent, and with groups of
    /// findings left out: `jug.contrasts()`.
    #[rhai_fn(return_raw, pure)]
    pub fn contrasts(piece: &mut PieceHandle) -> Raw<ContrastsHandle> {
        Ok(ContrastsHandle(
            piece
                .pack
                .compiled
                .contrasts(&piece.piece)
                .map_err(raise)?
                .into(),
        ))
    }
}

impl PieceHandle {
    fn stress(&self, draws: usize, seed: u64) -> Raw<StressHandle> {
        let run = &self.pack.run;
        let stress = self
            .pack
            .compiled
            .stress(&self.piece, draws, seed, Some(run.deadline()));
        Ok(StressHandle(stress.map_err(raise)?.into()))
    }
}
