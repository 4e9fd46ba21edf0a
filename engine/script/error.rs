//! What a script is told when something goes wrong, and where.

mod of_rhai;
mod place;

use rhai::{Engine, EvalAltResult};

use super::fault::{Cause, Fault};
use super::{Run, ScriptFailure, lock};
use crate::diagnostic::Diagnostic;
use crate::source::{SourceId, Span};
use of_rhai::of_rhai;
use place::{span, word_at};

/// Characters of a message that are shown.
const LONGEST_MESSAGE: usize = 400;

/// The system gives no thread to run the script on.
pub(super) fn no_thread(cause: &std::io::Error, script: SourceId) -> ScriptFailure {
    let whole = Span {
        source: script,
        start: 0,
        end: 0,
    };
    let message = format!("the script cannot be started: {cause}");
    ScriptFailure {
        cause: Cause::Script,
        diagnostics: vec![Diagnostic::error("script::limit", message, whole)],
    }
}

/// A comment that is never closed.
pub(super) fn unclosed(text: &str, script: SourceId) -> Option<ScriptFailure> {
    let start = super::entry::unclosed_comment(text)?;
    let opening = Span {
        source: script,
        start,
        end: start + 2,
    };
    let what = "the note that begins with `/*` is never closed, and takes in all that follows";
    let report = Diagnostic::error("script::syntax", what, opening)
        .hint("close it with `*/`, or begin each line of it with `//`");
    Some(ScriptFailure {
        cause: Cause::Script,
        diagnostics: vec![report],
    })
}

/// Notes that nothing keeps of which a script is told one by one.
const MOST_WARNINGS: usize = 3;

/// Warns of notes that nothing keeps.
pub(super) fn warn_of_unkept(statements: &[rhai::Stmt], script: SourceId, run: &Run) {
    let mut notes = super::unkept::notes(statements);
    let more = notes.len().saturating_sub(MOST_WARNINGS);
    notes.truncate(MOST_WARNINGS);
    for (n, (position, name)) in notes.into_iter().enumerate() {
        let place = span(position, script, &lock(&run.sources));
        let what = format!("what `{name}` gives is not kept, so it counts for nothing");
        let report = Diagnostic::warning("script::not-kept", what, place)
            .hint("a piece stays as it is; keep the new one: `jug = jug.saw(…);`");
        let report = match n + 1 == MOST_WARNINGS && more > 0 {
            true => report.hint(format!("and so on {more} lines more")),
            false => report,
        };
        lock(&run.warnings).push(report);
    }
}

/// Warns of dates that are subtractions, for want of quotes.
pub(super) fn warn_of_dates(text: &str, script: SourceId, run: &Run) {
    let found = super::entry::dates_without_quotes(text);
    for place in found.into_iter().take(MOST_WARNINGS) {
        let span = Span {
            source: script,
            start: place.start,
            end: place.end,
        };
        let what = format!("`{}` without quotes is a subtraction", &text[place.clone()]);
        let report = Diagnostic::warning("script::date", what, span)
            .hint(format!("a date is a text: \"{}\"", &text[place]));
        lock(&run.warnings).push(report);
    }
}

/// A Rhai error as a diagnostic with its place in the script.
pub(super) fn failure(
    error: &EvalAltResult,
    script: SourceId,
    run: &Run,
    engine: &Engine,
) -> ScriptFailure {
    let mut position = error.position();
    let mut inner = error;
    let mut source = script;
    // The innermost place is where the script went wrong; the calls around it are how it got there.
    loop {
        inner = match inner {
            EvalAltResult::ErrorInFunctionCall(function, from, nested, _) => {
                source = written_in(run, from, function).unwrap_or(script);
                nested
            }
            EvalAltResult::ErrorInModule(path, nested, _) => {
                source = lock(&run.sources).find(path).unwrap_or(source);
                nested
            }
            _ => break,
        };
        if !inner.position().is_none() {
            position = inner.position();
        }
    }
    let span = span(position, source, &lock(&run.sources));
    if run.settings.asked_to_end.is_asked() {
        let ended = Diagnostic::error("script::ended", "ended here, as you asked", span);
        return ScriptFailure {
            cause: Cause::Script,
            diagnostics: vec![ended],
        };
    }
    let mut diagnostics = Vec::new();
    let mut cause = Cause::Script;
    let mut last = if let EvalAltResult::ErrorRuntime(value, _) = inner
        && let Some(fault) = value.read_lock::<Fault>()
    {
        cause = fault.cause;
        diagnostics.clone_from(&fault.diagnostics);
        let code = match cause {
            Cause::Script if fault.is_limit => "script::limit",
            Cause::Script => "script::call",
            Cause::Contradiction => "script::contradiction",
            Cause::Pack => "script::pack",
        };
        let mut report = Diagnostic::error(code, fault.message.clone(), span);
        let sources = lock(&run.sources);
        for (place, text) in &fault.others {
            let other = word_at(place.at, place.source, &sources);
            // The line that failed is underlined as it is.
            if other != span {
                report = report.also(other, text.clone());
            }
        }
        let hints = fault.hints.iter().cloned();
        hints.fold(report, Diagnostic::hint)
    } else {
        let report = of_rhai(inner, span, run, engine);
        if position.is_none() && ended_between_steps(inner) {
            report.hint("it was at work on an entry of a list or map")
        } else {
            report
        }
    };
    // Names and thrown texts may be as long as a script likes.
    if let Some((end, _)) = last.message.char_indices().nth(LONGEST_MESSAGE) {
        last.message.truncate(end);
        last.message.push('…');
    }
    diagnostics.push(last);
    ScriptFailure { cause, diagnostics }
}

/// The text that a function stands in: of an imported file, or of an earlier entry of a session.
fn written_in(run: &Run, file: &str, function: &str) -> Option<SourceId> {
    if file.is_empty() {
        return lock(&run.functions).get(function).copied();
    }
    lock(&run.sources).find(file)
}

/// Whether the script was ended between two steps. Rhai gives such an end no place if the next step was to look into a list
/// or map, and only then.
fn ended_between_steps(error: &EvalAltResult) -> bool {
    matches!(error, EvalAltResult::ErrorTerminated(..))
}
