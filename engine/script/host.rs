//! The engine a script runs in: Rhai with the language of pieces, and without what cannot be bounded.

use std::sync::Arc;

use rhai::module_resolvers::DummyModuleResolver;
use rhai::{Engine, EvalAltResult, ImmutableString, Position};

use super::error::Fault;
use super::limits::{self, LONGEST_TEXT};
use super::{
    Run, findings, measures, next_looks, packs, pieces, questions, results, sensitivity, stress,
    tuning, what_if,
};
use crate::report::Shown;

/// A fresh engine with the language of pieces and every limit set.
pub(super) fn engine(run: &Arc<Run>) -> Engine {
    let mut engine = Engine::new();
    engine.set_module_resolver(DummyModuleResolver::new());
    engine.disable_symbol("eval");
    // A closure shares what it captures, and neither size nor depth of shared values is bounded: a million closures, each
    // capturing the one before, would overflow the stack when dropped. `curry` nests functions in the same way.
    engine.set_allow_anonymous_fn(false);
    engine.disable_symbol("curry");
    engine.set_strict_variables(true);
    engine.set_fail_on_invalid_map_property(true);
    limits::set(&mut engine, run);
    // A script's own `print` is a result like any other, so that it stands in its place among them.
    let shown = Arc::clone(run);
    engine.on_print(move |text| {
        shown.show(Shown::Text {
            text: text.to_owned(),
        });
    });
    let shown = Arc::clone(run);
    engine.on_debug(move |text, _, position| {
        let line = position.line().unwrap_or(0);
        shown.show(Shown::Text {
            text: format!("line {line}: {text}"),
        });
    });
    register_replace(&mut engine);
    register_sleep(&mut engine);
    packs::register(&mut engine, run);
    pieces::register(&mut engine);
    findings::register(&mut engine);
    measures::register(&mut engine);
    next_looks::register(&mut engine);
    questions::register(&mut engine);
    results::register(&mut engine, run);
    stress::register(&mut engine);
    sensitivity::register(&mut engine);
    tuning::register(&mut engine);
    what_if::register(&mut engine);
    engine
}

/// Rhai's `replace` looks at the size only after the work: one call could ask for ten gigabytes.
fn register_replace(engine: &mut Engine) {
    fn replace(text: &mut ImmutableString, old: &str, new: &str) -> Result<(), Box<EvalAltResult>> {
        let n_places = text.matches(old).count();
        let length = text.len() + n_places * new.len();
        if length - n_places * old.len() > LONGEST_TEXT {
            let what = "Length of string".to_owned();
            return Err(EvalAltResult::ErrorDataTooLarge(what, Position::NONE).into());
        }
        *text = text.replace(old, new).into();
        Ok(())
    }
    engine
        .register_fn("replace", replace)
        .register_fn(
            "replace",
            |t: &mut ImmutableString, old: char, new: char| {
                replace(t, &old.to_string(), &new.to_string())
            },
        )
        .register_fn(
            "replace",
            |t: &mut ImmutableString, old: char, new: &str| replace(t, &old.to_string(), new),
        )
        .register_fn(
            "replace",
            |t: &mut ImmutableString, old: &str, new: char| replace(t, old, &new.to_string()),
        );
}

/// Rhai's `sleep` would outlast the time limit.
fn register_sleep(engine: &mut Engine) {
    fn refuse() -> Result<(), Box<EvalAltResult>> {
        Err(Fault::new("scripts cannot sleep").raise())
    }
    engine
        .register_fn("sleep", |_: f64| refuse())
        .register_fn("sleep", |_: i64| refuse());
}
