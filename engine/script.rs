//! Scripts: pieces described, questions asked, what-if played, in Rhai.
//!
//! A script can read, import and write only below the folders granted, and not run for ever (see `limits`). What it shows
//! goes to the caller, one result at a time. Nothing is computed here: every function of the language hands over to the
//! library.

mod asking;
mod chances;
mod comparisons;
mod complete;
mod dating;
mod entry;
mod error;
mod fault;
mod figures;
mod files;
mod findings;
mod fragments;
mod granted;
mod handles;
mod host;
mod imports;
mod limits;
mod lists;
mod looks;
mod measures;
mod next_looks;
mod numbers;
mod one_line;
mod packs;
mod pieces;
mod plots;
mod questions;
pub mod reference;
mod reports;
mod results;
mod sensitivity;
mod session;
mod stress;
mod suggest;
mod supposing;
mod syntax;
mod tuning;
mod unkept;
mod values;
mod valuing;
mod what_if;
mod whole_numbers;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use rhai::{Dynamic, NativeCallContext};

use crate::diagnostic::Diagnostic;
use crate::report::Shown;
use crate::source::{LineColumn, Place, SourceError, SourceId, Sources};
use crate::stop::{Asked, Stop};

pub use entry::is_whole;
pub use fault::{Cause, Fault};
pub use limits::{MOST_OPERATIONS, MOST_SCRIPT_DRAWS};
pub use session::{Entered, Session, Standing, quoted, with_session};

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
    /// Ends the script, or the entry of a session that runs, as soon as somebody asks.
    pub asked_to_end: Asked,
    /// What the script finds in `args`.
    pub arguments: Vec<String>,
    /// Folders whose scripts it may import, the first that has one before the others.
    pub imports: Vec<PathBuf>,
    /// Folders whose files it may read.
    pub read: Vec<PathBuf>,
    /// Folders it may write to: the first is where its files go.
    pub write: Vec<PathBuf>,
}

impl Settings {
    /// A minute for a script that opens packs below this folder; seed 1; nothing to import, to read or to write.
    #[must_use]
    pub fn new(priors: PathBuf) -> Self {
        Self {
            priors,
            seed: 1,
            doubt: 1.0,
            progress: None,
            time_limit: Duration::from_secs(60),
            asked_to_end: Asked::default(),
            arguments: Vec::new(),
            imports: Vec::new(),
            read: Vec::new(),
            write: Vec::new(),
        }
    }
}

impl Default for Settings {
    /// Packs in `priors`.
    fn default() -> Self {
        Self::new(PathBuf::from("priors"))
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
    started: Instant,
    /// When the script must end, in nanoseconds since the start: every entry of a session has its own time.
    ends: AtomicU64,
    sources: Mutex<Sources>,
    packs: Mutex<packs::Opened>,
    show: Box<dyn Fn(Shown) + Send + Sync>,
    /// Steps taken so far, in functions that were handed on too.
    steps: AtomicU64,
    /// Characters shown so far, about.
    shown: AtomicU64,
    /// Bytes written to files.
    written: AtomicU64,
    /// Tables read, by file.
    tables: Mutex<BTreeMap<PathBuf, files::TableRead>>,
    /// Bytes the process held at the start, where the system tells.
    resident_at_start: Option<u64>,
    warnings: Mutex<Vec<Diagnostic>>,
    /// In a session, the entry that each function was written in.
    functions: Mutex<BTreeMap<String, SourceId>>,
    /// The script, or in a session its entries so far.
    entries: Mutex<Vec<SourceId>>,
}

/// How deep Rhai counts a call that stands in no function of the script.
const OUTSIDE_FUNCTIONS: usize = 1;

impl Run {
    fn new(
        settings: Settings,
        sources: Sources,
        show: impl Fn(Shown) + Send + Sync + 'static,
    ) -> Arc<Self> {
        let run = Self {
            settings,
            started: Instant::now(),
            ends: AtomicU64::new(0),
            sources: Mutex::new(sources),
            packs: Mutex::default(),
            show: Box::new(show),
            steps: AtomicU64::new(0),
            shown: AtomicU64::new(0),
            written: AtomicU64::new(0),
            tables: Mutex::default(),
            resident_at_start: limits::resident_bytes(),
            warnings: Mutex::default(),
            functions: Mutex::default(),
            entries: Mutex::default(),
        };
        run.begin();
        Arc::new(run)
    }

    /// Gives whatever runs next its full time, and lets it show as much as any other.
    fn begin(&self) {
        self.steps.store(0, Ordering::Relaxed);
        let ends = self.started.elapsed() + self.settings.time_limit;
        let ends = u64::try_from(ends.as_nanos()).unwrap_or(u64::MAX);
        self.ends.store(ends, Ordering::Relaxed);
        self.shown.store(0, Ordering::Relaxed);
    }

    /// When the script must have ended.
    fn deadline(&self) -> Instant {
        self.started + Duration::from_nanos(self.ends.load(Ordering::Relaxed))
    }

    /// When long work of the library must have ended.
    fn stop(&self) -> Stop {
        Stop {
            at: Some(self.deadline()),
            asked: Some(self.settings.asked_to_end.clone()),
        }
    }

    /// Whether the process has grown beyond what a script may take.
    fn has_grown_too_large(&self) -> bool {
        let grown = limits::resident_bytes()
            .zip(self.resident_at_start)
            .map(|(now, then)| now.saturating_sub(then));
        grown.is_some_and(|bytes| bytes > limits::MOST_MEMORY)
    }

    /// Whether the script must end now.
    fn is_to_end(&self) -> bool {
        self.settings.asked_to_end.is_asked() || Instant::now() >= self.deadline()
    }

    /// Where in the script a function is called; nothing where that cannot be told: a function of a session may stand in any
    /// of its entries.
    fn place_of(&self, call: &NativeCallContext<'_>) -> Option<Place> {
        let position = call.call_position();
        let source = match call.call_source() {
            Some(name) => lock(&self.sources).find(name)?,
            None if call.call_level() > OUTSIDE_FUNCTIONS && !lock(&self.functions).is_empty() => {
                return None;
            }
            None => *lock(&self.entries).last()?,
        };
        let at = LineColumn {
            line: position.line()?,
            column: position.position()?,
        };
        Some(Place { source, at })
    }

    /// Hands a result to whoever reads it, and counts it: a script can show only so much.
    fn show(&self, shown: Shown) {
        let size = match &shown {
            Shown::Text { text } => text.len() as u64,
            Shown::Plain { value, .. } => value.to_string().len() as u64,
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
    let run = Run::new(settings, sources, show);
    lock(&run.entries).push(script);
    let failure = on_a_large_stack(|| evaluate(&text, script, &run))
        .unwrap_or_else(|cause| Some(error::no_thread(&cause, script)));
    let warnings = lock(&run.warnings).clone();
    let sources = lock(&run.sources).clone();
    Ok(Finished {
        failure,
        warnings,
        sources,
    })
}

/// Runs what works on the values of a script on a thread of its own, whose stack is large enough for the deepest of them.
fn on_a_large_stack<R: Send>(work: impl FnOnce() -> R + Send) -> std::io::Result<R> {
    std::thread::scope(|scope| {
        let thread = std::thread::Builder::new().stack_size(limits::STACK);
        let running = thread.spawn_scoped(scope, work)?;
        Ok(running
            .join()
            .unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
    })
}

/// What a mutex holds. A thread that panicked while it held it left whole values behind: they are only replaced or added to.
fn lock<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Compiles and runs the script. Its values live and die in here, on the thread with the large stack.
fn evaluate(text: &str, script: SourceId, run: &Arc<Run>) -> Option<ScriptFailure> {
    let engine = host::engine(run);
    let mut scope = host::scope(run);
    if let Some(failure) = error::unclosed(text, script) {
        return Some(failure);
    }
    let outcome = engine
        .compile_with_scope(&scope, text)
        .map_err(Into::into)
        .and_then(|ast| {
            error::warn_of_unkept(ast.statements(), script, run);
            error::warn_of_dates(text, script, run);
            engine.eval_ast_with_scope::<Dynamic>(&mut scope, &ast)
        });
    match outcome {
        Ok(value) => {
            results::everything(&value)
                .into_iter()
                .for_each(|shown| run.show(shown));
            None
        }
        Err(error) => Some(error::failure(&error, script, run, &engine)),
    }
}
