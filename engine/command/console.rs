//! `saggar console`: a script typed entry by entry, at a terminal or from a pipe.

use std::cell::RefCell;
use std::io::{BufRead, IsTerminal};
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::time::Duration;

use clap::Args;
use rustyline::completion::Completer;
use rustyline::error::ReadlineError;
use rustyline::highlight::Highlighter;
use rustyline::hint::Hinter;
use rustyline::history::DefaultHistory;
use rustyline::validate::{ValidationContext, ValidationResult, Validator};
use rustyline::{CompletionType, Config, Context, Editor, Helper};
use saggar::report::text;
use saggar::script::{self, Entered, Session, Settings, Standing, reference};
use saggar::stop::Asked;

use super::script_options::default_lib;
use super::{BAD_FILE, FAILED, complain, print_diagnostics, say, start_threads, told};

/// Before an entry, and before a line that goes on with it.
const PROMPT: &str = "> ";

#[derive(Args)]
pub(super) struct Arguments {
    /// Folder of the pack, such as priors/tidewheel; it is there as `pack`.
    pack: PathBuf,
    /// File that keeps what was typed for the next time [default: nothing is kept].
    #[arg(long, value_name = "FILE")]
    history: Option<PathBuf>,
    /// Seed of stress runs that name none.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Threads of stress runs; the results do not depend on it.
    #[arg(long, value_parser = clap::value_parser!(u16).range(1..=1024))]
    threads: Option<u16>,
    /// Seconds each entry may take.
    #[arg(long, default_value_t = 60, value_name = "SECONDS", value_parser = clap::value_parser!(u32).range(1..=86_400))]
    time_limit: u32,
    /// Folder whose files may be read; may be repeated [default: the one you are in].
    #[arg(long, value_name = "FOLDER")]
    read: Vec<PathBuf>,
    /// Folder that may be written to.
    #[arg(long, value_name = "FOLDER")]
    write: Option<PathBuf>,
}

/// Runs the command.
pub(super) fn run(arguments: &Arguments) -> u8 {
    if !start_threads(arguments.threads) {
        return FAILED;
    }
    // The name is taken from the whole path, so that `.` and `priors/tidewheel/` have one too.
    let folder = match arguments.pack.canonicalize() {
        Ok(folder) => folder,
        Err(error) => {
            complain(&format!(
                "cannot open the pack `{}`: {error}",
                arguments.pack.display()
            ));
            return BAD_FILE;
        }
    };
    let name = folder.file_name().unwrap_or_default().to_string_lossy();
    let asked_to_end = Asked::default();
    let is_terminal = std::io::stdin().is_terminal();
    if is_terminal {
        let asked = asked_to_end.clone();
        if let Err(error) = ctrlc::set_handler(move || asked.ask()) {
            complain(&format!("Ctrl-C will end the console: {error}"));
        }
    }
    let settings = Settings {
        priors: folder.parent().unwrap_or(Path::new("/")).to_owned(),
        seed: arguments.seed,
        time_limit: Duration::from_secs(arguments.time_limit.into()),
        imports: vec![PathBuf::new(), default_lib(Path::new(""))],
        read: match arguments.read.is_empty() {
            true => vec![PathBuf::new()],
            false => arguments.read.clone(),
        },
        write: arguments.write.iter().cloned().collect(),
        asked_to_end,
        ..Settings::default()
    };
    let show = |shown: saggar::report::Shown| say(&format!("{}\n\n", shown.to_text().trim_end()));
    let session = script::with_session(settings, show, |session| {
        match session.open(&name) {
            Ok(warnings) => print_diagnostics(&warnings, &session.sources()),
            Err(failure) => {
                print_diagnostics(&failure.diagnostics, &session.sources());
                return BAD_FILE;
            }
        }
        if is_terminal {
            at_a_terminal(session, arguments.history.as_deref())
        } else {
            from_a_pipe(session)
        }
    });
    session.unwrap_or_else(|error| {
        complain(&format!("the console cannot be started: {error}"));
        FAILED
    })
}

/// Entries from standard input; the exit code is that of the last entry that failed.
fn from_a_pipe(session: &mut Session) -> u8 {
    let mut code = 0;
    let mut entry = String::new();
    for line in std::io::stdin().lock().lines() {
        if entry.is_empty() && line.as_ref().is_ok_and(|line| is_farewell(line)) {
            return code;
        }
        let line = match line {
            Ok(line) => line,
            Err(error) => {
                complain(&format!("cannot read standard input: {error}"));
                return BAD_FILE;
            }
        };
        entry.push_str(&line);
        entry.push('\n');
        if script::is_whole(entry.strip_suffix('\n').unwrap_or(&entry)) {
            code = enter(session, &std::mem::take(&mut entry)).unwrap_or(code);
        }
    }
    if !entry.trim().is_empty() {
        code = enter(session, &entry).unwrap_or(code);
    }
    code
}

fn at_a_terminal(session: &mut Session, history: Option<&Path>) -> u8 {
    say(
        "The pack is in `pack`. `help` lists what can be said, the tab key completes it, an empty line ends an entry that goes on.\nCtrl-C ends what runs, Ctrl-D or `exit` the session.\n",
    );
    let session = Rc::new(RefCell::new(session));
    let config = Config::builder()
        .completion_type(CompletionType::List)
        .build();
    let editor: Result<Editor<AtTheLine<'_>, DefaultHistory>, _> = Editor::with_config(config);
    let mut editor = match editor {
        Ok(editor) => editor,
        Err(error) => {
            complain(&format!("the terminal cannot be used: {error}"));
            return FAILED;
        }
    };
    editor.set_helper(Some(AtTheLine {
        session: Rc::clone(&session),
    }));
    if let Some(path) = history.filter(|path| path.exists())
        && let Err(error) = editor.load_history(path)
    {
        complain(&format!(
            "cannot read the history `{}`: {error}",
            path.display()
        ));
        return BAD_FILE;
    }
    loop {
        match editor.readline(PROMPT) {
            Ok(entry) if is_farewell(&entry) => break,
            Ok(entry) => {
                // It fails only for entries that are not kept anyway.
                let _ = editor.add_history_entry(entry.trim_end());
                enter(&mut session.borrow_mut(), &entry);
            }
            Err(ReadlineError::Interrupted) => {}
            Err(ReadlineError::Eof) => break,
            Err(error) => {
                complain(&format!("the terminal cannot be used: {error}"));
                return FAILED;
            }
        }
    }
    if let Some(path) = history
        && let Err(error) = editor.save_history(path)
    {
        complain(&format!(
            "cannot write the history `{}`: {error}",
            path.display()
        ));
        return BAD_FILE;
    }
    0
}

/// Whether it asks to end the session.
fn is_farewell(entry: &str) -> bool {
    let said = entry.trim().trim_end_matches(';').trim_end_matches("()");
    matches!(said, "exit" | "quit")
}

/// Runs an entry and prints what came of it; the exit code that its failure stands for, if it failed.
fn enter(session: &mut Session, entry: &str) -> Option<u8> {
    let asked = entry.trim().trim_end_matches(';').trim_end();
    if asked.is_empty() {
        return None;
    }
    if asked == "help" || asked == "?" || asked.starts_with("help ") {
        // `help jug.saw` asks for `saw`.
        let name = asked
            .strip_prefix("help ")
            .map(|name| name.trim().trim_end_matches("()"));
        let name = name.map(|name| name.rsplit('.').next().unwrap_or(name));
        match reference::help(name) {
            Some(help) => say(&help),
            None => complain(&format!(
                "there is no function or topic `{}`; `help` lists them",
                name.unwrap_or_default()
            )),
        }
        return None;
    }
    let Entered {
        failure,
        value,
        standing,
        warnings,
    } = session.enter(entry.trim_end());
    print_diagnostics(&warnings, &session.sources());
    for value in value {
        say(&format!("{}\n", value.to_text().trim_end()));
    }
    if let Some(standing) = standing {
        say(&format!("{}\n", in_a_line(&standing)));
    }
    let failure = failure?;
    Some(told(&failure, &session.sources()))
}

fn in_a_line(standing: &Standing) -> String {
    let figures = match &standing.figures {
        Ok(figures) => text::standing(figures),
        Err(why) => why.clone(),
    };
    match &standing.variable {
        Some(variable) => format!("{variable}: {figures}"),
        None => format!("{figures}  (not kept: a variable keeps it, `jug = jug.saw(…)`)"),
    }
}

/// What the line editor asks while a line is typed.
struct AtTheLine<'s> {
    session: Rc<RefCell<&'s mut Session>>,
}

impl Completer for AtTheLine<'_> {
    type Candidate = String;

    fn complete(
        &self,
        line: &str,
        position: usize,
        _: &Context<'_>,
    ) -> rustyline::Result<(usize, Vec<String>)> {
        Ok(self.session.borrow().complete(&line[..position]))
    }
}

impl Validator for AtTheLine<'_> {
    fn validate(&self, context: &mut ValidationContext<'_>) -> rustyline::Result<ValidationResult> {
        Ok(if script::is_whole(context.input()) {
            ValidationResult::Valid(None)
        } else {
            ValidationResult::Incomplete
        })
    }
}

impl Hinter for AtTheLine<'_> {
    type Hint = String;
}

impl Highlighter for AtTheLine<'_> {}

impl Helper for AtTheLine<'_> {}
