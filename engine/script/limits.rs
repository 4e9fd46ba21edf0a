//! The engine a script runs in, and how much it may use.

use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::time::Instant;

use rhai::module_resolvers::DummyModuleResolver;
use rhai::{Dynamic, Engine, EvalAltResult, ImmutableString, Position};

use super::Run;
use super::error::Fault;

/// Steps a script may take.
pub const MOST_OPERATIONS: u64 = 20_000_000;
/// Draws one stress run of a script may make.
pub const MOST_SCRIPT_DRAWS: usize = 1_000_000;

/// Functions may call each other this deep. Kept low: Rhai recurses on the machine's own stack.
const DEEPEST_CALLS: usize = 24;
/// Nesting of expressions, outside and inside functions.
const DEEPEST_EXPRESSIONS: (usize, usize) = (64, 32);
/// Characters a text may have, and entries a list or map, whatever they hold counted in. Keys of maps are not counted, so
/// these alone do not bound the memory: see [`MOST_MEMORY`].
const LONGEST_TEXT: usize = 100_000;
const LONGEST_LIST: usize = 10_000;
const LARGEST_MAP: usize = 10_000;
const MOST_VARIABLES: usize = 100;
const MOST_FUNCTIONS: usize = 200;
/// Bytes by which the program may grow while a script runs. Watched only where the system tells (Linux).
const MOST_MEMORY: u64 = 1 << 30;
/// Steps between two looks at the memory. One step can take a text's length at most.
const STEPS_BETWEEN_LOOKS: u64 = 2048;
/// Characters a script may show, about, a result counted as [`SIZE_OF_A_RESULT`]: no reader wants more, and results that
/// wait to be written as one document take memory.
const MOST_SHOWN: u64 = 64_000_000;
/// What a verdict, an audit and the like count as, in characters.
pub(super) const SIZE_OF_A_RESULT: u64 = 4_000;
/// Bytes of stack. Lists in lists and maps in maps are cloned, printed and dropped by recursion; the deepest that
/// [`LONGEST_LIST`] and [`LARGEST_MAP`] let a script build take about a tenth of this in a debug build.
pub(super) const STACK: usize = 256 << 20;

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
    engine.set_max_operations(MOST_OPERATIONS);
    engine.set_max_call_levels(DEEPEST_CALLS);
    engine.set_max_expr_depths(DEEPEST_EXPRESSIONS.0, DEEPEST_EXPRESSIONS.1);
    engine.set_max_string_size(LONGEST_TEXT);
    engine.set_max_array_size(LONGEST_LIST);
    engine.set_max_map_size(LARGEST_MAP);
    engine.set_max_variables(MOST_VARIABLES);
    engine.set_max_functions(MOST_FUNCTIONS);
    engine.set_max_modules(0);
    watch(&mut engine, run);
    // A script's own `print` is a result like any other, so that it stands in its place among them.
    let shown = Arc::clone(run);
    engine.on_print(move |text| {
        shown.show(crate::report::Shown::Text {
            text: text.to_owned(),
        });
    });
    let shown = Arc::clone(run);
    engine.on_debug(move |text, _, position| {
        let line = position.line().unwrap_or(0);
        shown.show(crate::report::Shown::Text {
            text: format!("line {line}: {text}"),
        });
    });
    register_replace(&mut engine);
    register_sleep(&mut engine);
    super::packs::register(&mut engine, run);
    super::pieces::register(&mut engine);
    super::results::register(&mut engine, run);
    super::tuning::register(&mut engine);
    engine
}

/// Why a script was ended from outside.
#[derive(Clone, Copy, Debug)]
pub(super) enum Stopped {
    /// Its time is up.
    OutOfTime,
    /// It has grown beyond [`MOST_MEMORY`].
    TooMuchMemory,
    /// It has shown more than [`MOST_SHOWN`].
    TooMuchShown,
}

fn watch(engine: &mut Engine, run: &Arc<Run>) {
    let deadline = run.deadline;
    let at_start = resident_bytes();
    let run = Arc::clone(run);
    engine.on_progress(move |steps| {
        let grown = || resident_bytes()?.checked_sub(at_start?);
        let stopped = if Instant::now() >= deadline {
            Stopped::OutOfTime
        } else if steps % STEPS_BETWEEN_LOOKS == 0 && grown().is_some_and(|b| b > MOST_MEMORY) {
            Stopped::TooMuchMemory
        } else if run.shown.load(Ordering::Relaxed) > MOST_SHOWN {
            Stopped::TooMuchShown
        } else {
            return None;
        };
        Some(Dynamic::from(stopped))
    });
}

/// Memory the process holds, where the system tells.
fn resident_bytes() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|l| l.strip_prefix("VmRSS:"))?;
    let kibibytes: u64 = line.trim().strip_suffix(" kB")?.parse().ok()?;
    Some(kibibytes * 1024)
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
