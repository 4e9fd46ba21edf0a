//! Commands of the program. They call the library, print, and choose the exit code; they compute nothing.

mod check;
mod clues;
mod console;
mod engravings;
mod judge;
mod marks;
mod network;
mod progress;
mod reference;
mod rules;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use clap::{ColorChoice, Parser, Subcommand};
use saggar::diagnostic::{Diagnostic, render::render};
use saggar::model::Model;
use saggar::report::{self, Shown};
use saggar::script::{self, Cause, Settings};
use saggar::source::Sources;

/// A contradiction or a failed check.
const FAILED: u8 = 1;
/// Arguments that clap cannot check.
const USAGE: u8 = 2;
/// A file or folder that cannot be used.
const BAD_FILE: u8 = 3;
/// A script error.
const SCRIPT_ERROR: u8 = 4;

/// Who made this piece of antique printed ware, when, how sure is that, and why: a Bayesian network built from prior
/// files that you edit, asked by scripts.
#[derive(Parser)]
#[command(name = "saggar", version, arg_required_else_help = true)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
    /// Colour of messages.
    #[arg(long, global = true, default_value = "auto", value_name = "WHEN")]
    color: ColorChoice,
}

#[derive(Subcommand)]
enum Command {
    /// Check a pack of prior files and report every defect.
    Check {
        /// Folder of the pack, such as priors/tidewheel.
        pack: PathBuf,
        /// Let warnings count as defects.
        #[arg(long)]
        strict: bool,
        /// Show the numbers that the pack did not give and the program uses.
        #[arg(long)]
        defaults: bool,
    },
    /// Run a script: describe pieces, ask for verdicts, play what-if.
    Run {
        /// The script, such as scripts/d2_partial_mark.rhai.
        script: PathBuf,
        /// Print the results as one JSON document.
        #[arg(long)]
        json: bool,
        /// Seed of stress runs that name none.
        #[arg(long, default_value_t = 1)]
        seed: u64,
        /// Divides the pieces behind every belief in stress runs: 2 takes each to rest on half as many.
        #[arg(long, default_value_t = 1.0, value_name = "FACTOR")]
        doubt: f64,
        /// Threads of stress runs; the results do not depend on it.
        #[arg(long, value_parser = clap::value_parser!(u16).range(1..=1024))]
        threads: Option<u16>,
        /// Folder whose packs the script may open [default: priors, here or beside the script's folder].
        #[arg(long, value_name = "FOLDER")]
        priors: Option<PathBuf>,
        /// Seconds the script may take.
        #[arg(long, default_value_t = 60, value_name = "SECONDS", value_parser = clap::value_parser!(u32).range(1..=86_400))]
        time_limit: u32,
        /// Folder whose files the script may read; may be repeated [default: the script's own, and the packs].
        #[arg(long, value_name = "FOLDER")]
        read: Vec<PathBuf>,
        /// Folder the script may write to.
        #[arg(long, value_name = "FOLDER")]
        write: Option<PathBuf>,
        /// Texts that the script finds in `args`, behind `--`.
        #[arg(last = true, value_name = "ARGS")]
        arguments: Vec<String>,
    },
    /// Ask of the piece that a script describes: audit, stress, what to look at next, and so on.
    Judge(judge::Arguments),
    /// Type a script entry by entry, with completion, help and the verdict after every note.
    Console(console::Arguments),
    /// Print the script reference: every function with what it takes, gives and does, and an example.
    Reference(reference::Arguments),
    /// Posteriors of a network in BIF or XMLBIF, its cost, or its conversion.
    Network(network::Arguments),
    /// Rank the marks of a pack by how well each explains what was read of one.
    Marks(marks::Arguments),
    /// Say what law and record tell of a date: decode a registration, read a wording, list the rules.
    Rules(rules::Arguments),
    /// Show the engravings of a pack, their histories, and who could pull from them when.
    Engravings(engravings::Arguments),
    /// List the clues of a pack and the words for what can be seen of each.
    Clues {
        /// Folder of the pack.
        pack: PathBuf,
    },
}

/// Reads the arguments and runs the command.
pub fn main() -> ExitCode {
    let arguments = Arguments::parse();
    let colour = match arguments.color {
        ColorChoice::Always => anstream::ColorChoice::Always,
        ColorChoice::Never => anstream::ColorChoice::Never,
        ColorChoice::Auto => anstream::ColorChoice::Auto,
    };
    colour.write_global();
    let code = match arguments.command {
        Command::Check {
            pack,
            strict,
            defaults,
        } => check::run(&pack, strict, defaults),
        Command::Clues { pack } => clues::run(&pack),
        Command::Judge(arguments) => judge::run(&arguments),
        Command::Console(arguments) => console::run(&arguments),
        Command::Reference(arguments) => reference::run(&arguments),
        Command::Network(arguments) => network::run(&arguments),
        Command::Marks(arguments) => marks::run(&arguments),
        Command::Engravings(arguments) => engravings::run(&arguments),
        Command::Rules(arguments) => rules::run(&arguments),
        Command::Run {
            script,
            json,
            seed,
            doubt,
            threads,
            priors,
            time_limit,
            read,
            write,
            arguments,
        } => {
            if !start_threads(threads) {
                return ExitCode::from(FAILED);
            }
            let priors = priors.unwrap_or_else(|| default_priors(&script));
            let own = script.parent().unwrap_or(Path::new("")).to_owned();
            let read = match read.is_empty() {
                true => vec![own.clone(), priors.clone()],
                false => read,
            };
            let settings = Settings {
                imports: vec![own.clone(), default_lib(&own)],
                priors,
                seed,
                doubt,
                progress: progress::bar(),
                time_limit: Duration::from_secs(time_limit.into()),
                arguments,
                read,
                write: write.into_iter().collect(),
            };
            run_script(&script, settings, json)
        }
    };
    ExitCode::from(code)
}

/// Whether as many threads as asked for could be started.
fn start_threads(threads: Option<u16>) -> bool {
    let Some(threads) = threads else {
        return true;
    };
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads.into());
    if let Err(error) = pool.build_global() {
        complain(&format!("cannot start {threads} threads: {error}"));
        return false;
    }
    true
}

fn run_script(path: &Path, settings: Settings, json: bool) -> u8 {
    let collected: Arc<Mutex<Vec<Shown>>> = Arc::default();
    let sink = Arc::clone(&collected);
    let show = move |shown: Shown| {
        if json {
            sink.lock()
                .unwrap_or_else(PoisonError::into_inner)
                .push(shown);
        } else {
            say(&format!("{}\n", shown.to_text().trim_end()));
            say("\n");
        }
    };
    let finished = match script::run(path, settings, show) {
        Ok(finished) => finished,
        Err(error) => {
            complain(&error.to_string());
            return BAD_FILE;
        }
    };
    print_diagnostics(&finished.warnings, &finished.sources);
    if let Some(failure) = finished.failure {
        print_diagnostics(&failure.diagnostics, &finished.sources);
        return match failure.cause {
            Cause::Contradiction => FAILED,
            Cause::Pack => BAD_FILE,
            Cause::Script => SCRIPT_ERROR,
        };
    }
    if json {
        match report::to_json(&collected.lock().unwrap_or_else(PoisonError::into_inner)) {
            Ok(document) => say(&format!("{document}\n")),
            Err(error) => {
                complain(&format!("the results cannot be written as JSON: {error}"));
                return FAILED;
            }
        }
    }
    0
}

/// Reads and checks a pack; a folder that is none is complained of here.
fn read(
    folder: &Path,
    sources: &mut Sources,
    found: &mut Vec<Diagnostic>,
) -> Result<Option<Model>, u8> {
    saggar::check::load(folder, sources, found).map_err(|error| {
        complain(&error.to_string());
        BAD_FILE
    })
}

/// `priors` here, or beside the script's folder: so that the example scripts run from anywhere.
fn default_priors(script: &Path) -> PathBuf {
    let here = PathBuf::from("priors");
    if here.is_dir() {
        return here;
    }
    let folder = script.parent().unwrap_or(Path::new("."));
    let beside = folder.join("..").join("priors");
    if beside.is_dir() { beside } else { here }
}

/// `scripts/lib` here, or `lib` in the script's folder: what scripts share.
fn default_lib(own: &Path) -> PathBuf {
    let here = PathBuf::from("scripts/lib");
    if here.is_dir() { here } else { own.join("lib") }
}

fn plural(n: usize, what: &str) -> String {
    if n == 1 {
        format!("1 {what}")
    } else {
        format!("{n} {what}s")
    }
}

fn print_diagnostics(diagnostics: &[Diagnostic], sources: &Sources) {
    let mut stderr = anstream::stderr().lock();
    for diagnostic in diagnostics {
        // anstream takes the styles off again where colour is not wanted.
        let _ = writeln!(stderr, "{}\n", render(diagnostic, sources, true));
    }
}

fn complain(message: &str) {
    let _ = writeln!(anstream::stderr().lock(), "error: {message}");
}

/// Standard output may be a pipe whose reader has gone; that is no reason to fail.
fn say(text: &str) {
    let _ = std::io::stdout().lock().write_all(text.as_bytes());
}
