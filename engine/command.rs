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
mod run;
mod script_options;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::atomic::{AtomicBool, Ordering};

use clap::{ColorChoice, Parser, Subcommand};
use saggar::diagnostic::{Diagnostic, render::render};
use saggar::model::Model;
use saggar::printable::printable;
use saggar::report::{self, Shown};
use saggar::script::{Cause, ScriptFailure};
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
    Run(run::Arguments),
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
        Command::Run(arguments) => run::run(&arguments),
    };
    match code {
        0 if UNSAID.load(Ordering::Relaxed) => ExitCode::from(BAD_FILE),
        code => ExitCode::from(code),
    }
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

/// Prints results, as text or as one JSON document.
fn print_results(results: &[Shown], json: bool) -> u8 {
    if !json {
        let texts: Vec<String> = results.iter().map(Shown::to_text).collect();
        let texts: Vec<&str> = texts.iter().map(|text| text.trim_end()).collect();
        say(&format!("{}\n", texts.join("\n\n")));
        return 0;
    }
    match report::to_json(results) {
        Ok(document) => {
            say(&format!("{document}\n"));
            0
        }
        Err(error) => {
            complain(&format!("the results cannot be written as JSON: {error}"));
            FAILED
        }
    }
}

/// Tells why a script failed; the exit code that stands for it.
fn told(failure: &ScriptFailure, sources: &Sources) -> u8 {
    print_diagnostics(&failure.diagnostics, sources);
    match failure.cause {
        Cause::Contradiction => FAILED,
        Cause::Pack => BAD_FILE,
        Cause::Script => SCRIPT_ERROR,
    }
}

/// A pack without errors; the exit code where there is none, after what is wrong was told.
fn open(folder: &Path) -> Result<Model, u8> {
    let (mut sources, mut found) = (Sources::default(), Vec::new());
    read(folder, &mut sources, &mut found)?.ok_or_else(|| {
        print_diagnostics(&found, &sources);
        BAD_FILE
    })
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
    let _ = writeln!(anstream::stderr().lock(), "error: {}", printable(message));
}

/// Whether something could not be written to standard output.
static UNSAID: AtomicBool = AtomicBool::new(false);

/// Standard output may be a pipe whose reader has gone; that is no reason to fail. A full disk is. Names of packs and files may
/// come from anybody, and do not steer the terminal.
fn say(text: &str) {
    let mut out = std::io::stdout().lock();
    let written = out
        .write_all(printable(text).as_bytes())
        .and_then(|()| out.flush());
    if let Err(error) = written
        && error.kind() != std::io::ErrorKind::BrokenPipe
        && !UNSAID.swap(true, Ordering::Relaxed)
    {
        complain(&format!("the results cannot be written: {error}"));
    }
}
