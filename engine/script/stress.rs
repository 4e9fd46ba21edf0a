//! Stress runs from scripts.

use rhai::plugin::{Dynamic, export_module};
use rhai::{Array, Engine, Map};

use super::fault::{Fault, raise};
use super::handles::{ExplainedHandle, PieceHandle, Raw, StressHandle};
use super::numbers::number;
use super::questions::question;
use super::values::{StressOptions, WholeNumber};
use super::whole_numbers::{draws, whole_number};
use crate::model::{BeliefId, Beliefs};
use crate::nearest_name::nearest;
use crate::question::Question;
use crate::stress::{StressError, StressPlan};

/// Registers the functions.
pub(super) fn register(engine: &mut Engine) {
    engine.register_type_with_name::<StressHandle>("stress run");
    engine.register_type_with_name::<ExplainedHandle>("explained stress run");
    let module = rhai::exported_module!(stress_functions);
    engine.register_global_module(module.into());
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod stress_functions {
    /// Would the verdict hold if the priors were wrong by as much as `seen` allows: `jug.stress(1000)`.
    #[rhai_fn(return_raw, pure)]
    pub fn stress(piece: &mut PieceHandle, n_draws: WholeNumber) -> Raw<StressHandle> {
        run(piece, &n_draws, &Map::new())
    }

    /// The same with a seed of its own, or with any of these options. `seed` is a whole number; `doubt` divides the pieces behind
    /// every belief; `over` is how the descriptions of the beliefs begin that are drawn, or a list of such; `error_below`
    /// stops at a standard error; `about` is a claim or a question instead of the leading maker:
    /// `jug.stress(1000, 7)`, `jug.stress(1000, #{ doubt: 2, over: "share of each maker" })`,
    /// `jug.stress(1000, #{ about: region("Saltharrow"), error_below: 0.02 })`.
    #[rhai_fn(return_raw, pure, name = "stress")]
    pub fn stress_with(
        piece: &mut PieceHandle,
        n_draws: WholeNumber,
        options: StressOptions,
    ) -> Raw<StressHandle> {
        match options.read_lock::<Map>() {
            Some(options) => run(piece, &n_draws, &options),
            None => {
                let seed = Map::from([("seed".into(), options.clone())]);
                run(piece, &n_draws, &seed)
            }
        }
    }

    /// Which beliefs explain how far the leading maker's probability spreads, by variance-based indices; takes the options of
    /// `stress`: `show(jug.stress_explained(1000))`.
    #[rhai_fn(return_raw, pure)]
    pub fn stress_explained(piece: &mut PieceHandle, n_draws: WholeNumber) -> Raw<ExplainedHandle> {
        explain(piece, &n_draws, &Map::new())
    }

    /// The same with options: `jug.stress_explained(500, #{ about: region("Saltharrow"), seed: 7 })`.
    #[rhai_fn(return_raw, pure, name = "stress_explained")]
    pub fn stress_explained_with(
        piece: &mut PieceHandle,
        n_draws: WholeNumber,
        options: Map,
    ) -> Raw<ExplainedHandle> {
        explain(piece, &n_draws, &options)
    }

    /// Only the beliefs whose description begins with these words drawn, the others kept as stated:
    /// `jug.stress_over("share of each maker", 1000)`.
    #[rhai_fn(return_raw, pure)]
    pub fn stress_over(
        piece: &mut PieceHandle,
        about: &str,
        n_draws: WholeNumber,
    ) -> Raw<StressHandle> {
        let over = Map::from([("over".into(), about.into())]);
        run(piece, &n_draws, &over)
    }
}

const OPTIONS: [&str; 5] = ["seed", "doubt", "over", "error_below", "about"];

fn run(piece: &PieceHandle, n_draws: &Dynamic, options: &Map) -> Raw<StressHandle> {
    let stress = planned(piece, n_draws, options, |question, plan| {
        let compiled = &piece.pack.compiled;
        match question {
            Some(question) => compiled.stress_on(&piece.piece, question, plan),
            None => compiled.stress(&piece.piece, plan),
        }
    });
    Ok(StressHandle(stress?.into()))
}

fn explain(piece: &PieceHandle, n_draws: &Dynamic, options: &Map) -> Raw<ExplainedHandle> {
    let explained = planned(piece, n_draws, options, |question, plan| {
        let compiled = &piece.pack.compiled;
        compiled.stress_explained(&piece.piece, question, plan)
    });
    Ok(ExplainedHandle(explained?.into()))
}

/// Reads the options and hands them to a run.
fn planned<T>(
    piece: &PieceHandle,
    n_draws: &Dynamic,
    options: &Map,
    run: impl Fn(Option<&Question>, &StressPlan<'_>) -> Result<T, StressError>,
) -> Raw<T> {
    if let Some(unknown) = options.keys().find(|key| !OPTIONS.contains(&key.as_str())) {
        let fault = Fault::new(format!("a stress run knows no `{unknown}`"));
        return Err(fault.nearest_or_known(unknown, OPTIONS.into_iter()).raise());
    }
    let settings = &piece.pack.run.settings;
    let figure = |name: &str| {
        let given = options.get(name).map(|value| {
            number(value).map_err(|kind| Fault::new(format!("`{name}` is a number, not {kind}")))
        });
        given.transpose().map_err(Fault::raise)
    };
    let beliefs = &piece.pack.compiled.model.beliefs;
    let over = options.get("over").map(|over| named(beliefs, over));
    let over = over.transpose().map_err(Fault::raise)?;
    if over.as_ref().is_some_and(Vec::is_empty) {
        let fault = Fault::new("no belief is to be drawn, so nothing could change");
        return Err(fault.hint("name some, or leave out `over`").raise());
    }
    let question = options.get("about").map(question).transpose();
    let question = question.map_err(Fault::raise)?;
    let progress = settings.progress.as_ref();
    let report = progress.map(|p| move |done: usize, all: usize| (p.0)(done, all));
    let seed = seed(options.get("seed"), settings.seed).map_err(Fault::raise)?;
    let stop = piece.pack.run.stop();
    let plan = StressPlan {
        beliefs: over.as_deref(),
        doubt: figure("doubt")?.unwrap_or(settings.doubt),
        until: figure("error_below")?,
        stop: Some(&stop),
        progress: report.as_ref().map(|r| r as &(dyn Fn(usize, usize) + Sync)),
        ..StressPlan::new(draws(n_draws).map_err(Fault::raise)?, seed)
    };
    run(question.as_ref(), &plan).map_err(raise)
}

fn seed(given: Option<&Dynamic>, otherwise: u64) -> Result<u64, Fault> {
    let Some(seed) = given else {
        return Ok(otherwise);
    };
    let seed = whole_number(seed, "the seed")?;
    u64::try_from(seed).map_err(|_| Fault::new("a seed is not negative"))
}

/// The beliefs whose description begins with a text, or with one of several.
fn named(all: &Beliefs, over: &Dynamic) -> Result<Vec<BeliefId>, Fault> {
    let texts: Vec<String> = match over.read_lock::<Array>() {
        Some(list) => list.iter().map(ToString::to_string).collect(),
        None => vec![over.to_string()],
    };
    let mut found = Vec::new();
    for about in texts {
        let named: Vec<BeliefId> = all
            .iter()
            .filter(|(_, belief)| belief.about.starts_with(&about))
            .map(|(id, _)| id)
            .collect();
        if named.is_empty() {
            let known = nearest(&about, all.iter().map(|(_, b)| b.about.as_str()));
            let fault = Fault::new(format!("no belief of this pack begins with `{about}`"));
            return Err(match known {
                Some(name) => fault.hint(format!("did you mean `{name}`?")),
                None => fault.hint("`pack.beliefs()` lists them"),
            });
        }
        found.extend(named);
    }
    found.sort_unstable();
    found.dedup();
    Ok(found)
}
