//! Scripts: pieces described, questions asked, what-if played, in Rhai.
//!
//! A script can read the packs below one folder and nothing else; it cannot write, import, or run for ever (see
//! `limits`). What it shows goes to the caller, one result at a time. Nothing is computed here: every function of
//! the language hands over to the library.

mod dating;
mod error;
mod findings;
mod fragments;
mod handles;
mod host;
mod limits;
mod measures;
mod next_looks;
mod numbers;
mod packs;
mod pieces;
mod questions;
mod results;
mod sensitivity;
mod stress;
mod tuning;
mod what_if;

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use rhai::Dynamic;

use crate::diagnostic::Diagnostic;
use crate::report::Shown;
use crate::source::{SourceError, SourceId, Sources};

pub use error::{Cause, Fault};
pub use limits::{MOST_OPERATIONS, MOST_SCRIPT_DRAWS};

/// What a script may use.
#[derive(Clone, Debug)]
pub struct Settings {
    /// The folder whose packs the script may open.
    pub priors: PathBuf,
    /// Seed of stress runs that name none.
    pub seed: u64,
    /// Divides the `seen` of every belief in stress runs that do not say otherwise; 1 leaves it.
    pub doubt: f64,
    /// Told how far a stress run is.
    pub progress: Option<Progress>,
    /// How long the script may run.
    pub time_limit: Duration,
}

impl Settings {
    /// A minute for a script that opens packs below this folder.
    #[must_use]
    pub fn new(priors: PathBuf) -> Self {
        Self {
            priors,
            seed: 1,
            doubt: 1.0,
            progress: None,
            time_limit: Duration::from_secs(60),
        }
    }
}

/// Called with the draws done and the draws to make.
#[derive(Clone)]
pub struct Progress(pub Arc<dyn Fn(usize, usize) + Send + Sync>);

impl std::fmt::Debug for Progress {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Progress")
    }
}

/// Why a script did not come to its end.
#[derive(Debug)]
pub struct ScriptFailure {
    /// What kind of failure, for the exit code.
    pub cause: Cause,
    /// What to tell: the script's error last, the pack's defects, if any, before it.
    pub diagnostics: Vec<Diagnostic>,
}

/// What all functions of one run share.
pub(crate) struct Run {
    settings: Settings,
    deadline: Instant,
    sources: Mutex<Sources>,
    packs: Mutex<packs::Opened>,
    show: Box<dyn Fn(Shown) + Send + Sync>,
    /// Characters shown so far, about.
    shown: AtomicU64,
    warnings: Mutex<Vec<Diagnostic>>,
}

impl Run {
    /// Hands a result to whoever reads it, and counts it: a script can show only so much.
    fn show(&self, shown: Shown) {
        let size = match &shown {
            Shown::Text { text } => text.len() as u64,
            _ => limits::SIZE_OF_A_RESULT,
        };
        self.shown.fetch_add(size, Ordering::Relaxed);
        (self.show)(shown);
    }
}

/// What a finished script leaves behind.
pub struct Finished {
    /// Why it failed, if it did.
    pub failure: Option<ScriptFailure>,
    /// Warnings about the packs it opened.
    pub warnings: Vec<Diagnostic>,
    /// Every text read, for rendering diagnostics.
    pub sources: Sources,
}

/// Runs a script file; `show` gets each result as it is shown, and last the script's final value if it is a result.
///
/// The script runs on a thread of its own, whose stack is large enough for the deepest value it can build.
///
/// # Errors
/// [`SourceError`] if the script cannot be read. A script that fails is no error here: see [`Finished::failure`].
pub fn run(
    path: &Path,
    settings: Settings,
    show: impl Fn(Shown) + Send + Sync + 'static,
) -> Result<Finished, SourceError> {
    let mut sources = Sources::default();
    let script = sources.read(path)?;
    let text = sources.file(script).text.clone();
    let run = Arc::new(Run {
        deadline: Instant::now() + settings.time_limit,
        settings,
        sources: Mutex::new(sources),
        packs: Mutex::default(),
        show: Box::new(show),
        shown: AtomicU64::new(0),
        warnings: Mutex::default(),
    });
    let failure = std::thread::scope(|scope| {
        let thread = std::thread::Builder::new().stack_size(limits::STACK);
        match thread.spawn_scoped(scope, || evaluate(&text, script, &run)) {
            Ok(running) => running
                .join()
                .unwrap_or_else(|panic| std::panic::resume_unwind(panic)),
            Err(cause) => Some(error::no_thread(&cause, script)),
        }
    });
    let warnings = lock(&run.warnings).clone();
    let sources = lock(&run.sources).clone();
    Ok(Finished {
        failure,
        warnings,
        sources,
    })
}

/// What a mutex holds. A thread that panicked while it held it left whole values behind: they are only replaced or added to.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Compiles and runs the script. Its values live and die in here, on the thread with the large stack.
fn evaluate(text: &str, script: SourceId, run: &Arc<Run>) -> Option<ScriptFailure> {
    let engine = host::engine(run);
    let outcome = engine
        .compile(text)
        .map_err(Into::into)
        .and_then(|ast| engine.eval_ast::<Dynamic>(&ast));
    match outcome {
        Ok(value) => {
            if let Some(shown) = results::shown(&value) {
                run.show(shown);
            }
            None
        }
        Err(error) => Some(error::failure(&error, script, run, &engine)),
    }
}
