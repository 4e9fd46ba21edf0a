//! How much a script may use, and the watch over it.

use std::sync::Arc;
use std::sync::atomic::Ordering;

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
/// Characters a text may have, and entries a list or map, whatever they hold counted in. Keys of maps are not counted, so
/// these alone do not bound the memory: see [`MOST_MEMORY`].
pub(super) const LONGEST_TEXT: usize = 100_000;
const LONGEST_LIST: usize = 10_000;
const LARGEST_MAP: usize = 10_000;
const MOST_VARIABLES: usize = 100;
const MOST_FUNCTIONS: usize = 200;
/// Files that one script may import, those they import counted in.
pub(super) const MOST_IMPORTS: usize = 64;
/// Bytes by which the program may grow while a script runs. Watched only where the system tells (Linux).
pub(super) const MOST_MEMORY: u64 = 1 << 30;
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

/// Sets every limit on an engine.
pub(super) fn set(engine: &mut Engine, run: &Arc<Run>) {
    engine.set_max_call_levels(DEEPEST_CALLS);
    engine.set_max_expr_depths(DEEPEST_EXPRESSIONS.0, DEEPEST_EXPRESSIONS.1);
    engine.set_max_string_size(LONGEST_TEXT);
    engine.set_max_array_size(LONGEST_LIST);
    engine.set_max_map_size(LARGEST_MAP);
    engine.set_max_variables(MOST_VARIABLES);
    engine.set_max_functions(MOST_FUNCTIONS);
    engine.set_max_modules(MOST_IMPORTS);
    watch(engine, run);
}

/// Why a script was ended from outside.
#[derive(Clone, Copy, Debug)]
pub(super) enum Stopped {
    /// It has taken more than [`MOST_OPERATIONS`].
    TooManySteps,
    /// Its time is up, or somebody asked it to end.
    OutOfTime,
    /// It has grown beyond [`MOST_MEMORY`].
    TooMuchMemory,
    /// It has shown more than [`MOST_SHOWN`].
    TooMuchShown,
}

// What is said of a script that is stopped, by its own functions and by Rhai alike.
pub(super) const TOO_MUCH_MEMORY: &str = "the script takes too much memory";
pub(super) const GROWS: &str = "it may take a gigabyte; does a list or map grow without end?";
pub(super) const OUT_OF_TIME: &str = "the time limit is up";
pub(super) const LONGER: &str = "--time-limit SECONDS gives it longer";

fn watch(engine: &mut Engine, run: &Arc<Run>) {
    let run = Arc::clone(run);
    // Rhai counts the steps of a function that is handed on, as to `map`, from where it was called, and forgets them after.
    engine.on_progress(move |_| {
        let steps = run.steps.fetch_add(1, Ordering::Relaxed);
        let stopped = if steps >= MOST_OPERATIONS {
            Stopped::TooManySteps
        } else if run.is_to_end() {
            Stopped::OutOfTime
        } else if steps.is_multiple_of(STEPS_BETWEEN_LOOKS) && run.has_grown_too_large() {
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
pub(super) fn resident_bytes() -> Option<u64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|l| l.strip_prefix("VmRSS:"))?;
    let kibibytes: u64 = line.trim().strip_suffix(" kB")?.parse().ok()?;
    Some(kibibytes * 1024)
}
