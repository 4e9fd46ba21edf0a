//! The engine a script runs in, and how much it may use.

use std::sync::Arc;
use std::time::Instant;

use rhai::module_resolvers::DummyModuleResolver;
use rhai::{Dynamic, Engine};

use super::Run;

/// Steps a script may take.
pub const MOST_OPERATIONS: u64 = 20_000_000;
/// Draws one stress run of a script may make.
pub const MOST_SCRIPT_DRAWS: usize = 1_000_000;

/// Functions may call each other this deep. Kept low: Rhai recurses on the machine's own stack.
const DEEPEST_CALLS: usize = 24;
/// Nesting of expressions, outside and inside functions.
const DEEPEST_EXPRESSIONS: (usize, usize) = (64, 32);
/// Characters a text may have, and entries a list or map. Together with the number of variables and calls they bound the
/// memory a script can take to a few hundred megabytes.
const LONGEST_TEXT: usize = 100_000;
const LONGEST_LIST: usize = 10_000;
const LARGEST_MAP: usize = 10_000;
const MOST_VARIABLES: usize = 100;
const MOST_FUNCTIONS: usize = 200;

/// A fresh engine with the language of pieces and every limit set.
pub(super) fn engine(run: &Arc<Run>) -> Engine {
    let mut engine = Engine::new();
    engine.set_module_resolver(DummyModuleResolver::new());
    engine.disable_symbol("eval");
    engine.set_strict_variables(true);
    engine.set_fail_on_invalid_map_property(true);
    engine.set_max_operations(MOST_OPERATIONS);
    engine.set_max_call_levels(DEEPEST_CALLS);
    engine.set_max_expr_depths(DEEPEST_EXPRESSIONS.0, DEEPEST_EXPRESSIONS.1);
    engine.set_max_string_size(LONGEST_TEXT);
    engine.set_max_array_size(LONGEST_LIST);
    engine.set_max_map_size(LARGEST_MAP);
    engine.set_max_variables(MOST_VARIABLES);
    engine.set_max_functions(MOST_FUNCTIONS);
    engine.set_max_modules(0);
    let deadline = run.deadline;
    engine.on_progress(move |_| (Instant::now() >= deadline).then(|| Dynamic::from(OutOfTime)));
    // A script's own `print` is a result like any other, so that it stands in its place among them.
    let shown = Arc::clone(run);
    engine.on_print(move |text| {
        (shown.show)(crate::report::Shown::Text {
            text: text.to_owned(),
        })
    });
    engine.on_debug(|text, _, position| eprintln!("{position:?}: {text}"));
    super::packs::register(&mut engine, run);
    super::pieces::register(&mut engine);
    super::results::register(&mut engine, run);
    super::tuning::register(&mut engine);
    engine
}

/// What a script is ended with when its time is up.
#[derive(Clone, Debug)]
pub(super) struct OutOfTime;
