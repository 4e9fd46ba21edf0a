//! What a script is told when something goes wrong, and where.

use rhai::{Dynamic, Engine, EvalAltResult, LexError, ParseErrorType, Position};

use super::imports::MOST_IMPORTS;
use super::limits::{self, Stopped};
use super::{Run, ScriptFailure, lock, suggest, syntax};
use crate::appraisal::AppraisalError;
use crate::diagnostic::Diagnostic;
use crate::model::pooled::PoolError;
use crate::model::supposed::SupposeError;
use crate::nearest_name::nearest;
use crate::piece::PieceError;
use crate::query::AskError;
use crate::rewrite::RewriteError;
use crate::source::{LineColumn, Place, SourceId, Sources, Span};
use crate::stress::StressError;
use crate::units::UnitError;
use crate::value::ValueError;
use crate::vary::VaryError;

/// What kind of failure ended a script.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// The script itself.
    Script,
    /// Findings that cannot stand together.
    Contradiction,
    /// A pack that is missing or has defects.
    Pack,
}

/// An error raised by one of our functions; it travels through Rhai and gets its place in the script there.
#[derive(Clone, Debug)]
pub struct Fault {
    message: String,
    hints: Vec<String>,
    cause: Cause,
    is_limit: bool,
    /// Other places of the script that bear on it.
    others: Vec<(Place, String)>,
    diagnostics: Vec<Diagnostic>,
}

impl Fault {
    /// What went wrong, for a script that caught it.
    pub(super) fn message(&self) -> &str {
        &self.message
    }

    /// A fault of the script.
    pub fn new(message: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            hints: Vec::new(),
            cause: Cause::Script,
            is_limit: false,
            others: Vec::new(),
            diagnostics: Vec::new(),
        }
    }

    /// A script that would go too far.
    pub(super) fn limit(message: impl Into<String>) -> Self {
        Self {
            is_limit: true,
            ..Self::new(message)
        }
    }

    pub(super) fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hints.push(hint.into());
        self
    }

    /// Another place of the script that bears on it; nothing where it is not known.
    fn also(mut self, place: Option<Place>, text: impl Into<String>) -> Self {
        if let Some(place) = place {
            self.others.push((place, text.into()));
        }
        self
    }

    /// The nearest of the known names as a hint; if none is near, all of them.
    pub(super) fn nearest_or_known<'a>(
        self,
        name: &str,
        known: impl Iterator<Item = &'a str> + Clone,
    ) -> Self {
        match nearest(name, known.clone()) {
            Some(near) => self.hint(format!("did you mean `{near}`?")),
            None => self.hint(format!("known: {}", known.collect::<Vec<_>>().join(", "))),
        }
    }

    /// The script's time is up.
    pub(super) fn out_of_time() -> Self {
        Self {
            is_limit: true,
            ..Self::new(OUT_OF_TIME).hint(LONGER)
        }
    }

    /// The script takes more memory than it may.
    pub(super) fn too_much_memory() -> Self {
        Self {
            is_limit: true,
            ..Self::new(TOO_MUCH_MEMORY).hint(GROWS)
        }
    }

    /// A message with its remedy, which stands after a semicolon; as a hint it gets a line of its own.
    pub(super) fn with_remedy(text: &str) -> Self {
        match text.split_once("; ") {
            Some((message, hint)) => Self::new(message).hint(hint),
            None => Self::new(text),
        }
    }

    pub(super) fn of(mut self, cause: Cause) -> Self {
        self.cause = cause;
        self
    }

    pub(super) fn with_diagnostics(mut self, diagnostics: Vec<Diagnostic>) -> Self {
        self.diagnostics = diagnostics;
        self
    }

    /// The fault as Rhai carries it.
    pub(super) fn raise(self) -> Box<EvalAltResult> {
        Box::new(EvalAltResult::ErrorRuntime(
            Dynamic::from(self),
            Position::NONE,
        ))
    }
}

impl From<PieceError> for Fault {
    fn from(error: PieceError) -> Self {
        let fault = Self::with_remedy(&error.to_string());
        match error {
            PieceError::AlreadyNoted {
                said, entered_at, ..
            }
            | PieceError::Contradicts {
                first: said,
                entered_at,
                ..
            } => fault.also(entered_at, format!("noted here: {said}")),
            _ => fault,
        }
    }
}

impl From<UnitError> for Fault {
    fn from(error: UnitError) -> Self {
        let text = error.to_string();
        let figures = text.as_bytes().windows(3);
        let is_comma = |w: &[u8]| w[0].is_ascii_digit() && w[1] == b',' && w[2].is_ascii_digit();
        if figures.into_iter().any(is_comma) {
            return Self::with_remedy(&text).hint("decimals stand behind a point: 0.76 kg");
        }
        Self::with_remedy(&text)
    }
}

impl From<AskError> for Fault {
    fn from(error: AskError) -> Self {
        let text = error.to_string();
        match error {
            AskError::Piece(error) => error.into(),
            AskError::Contradiction { conflicting } => {
                let mut fault = Self::with_remedy(&text).of(Cause::Contradiction);
                for finding in conflicting {
                    fault = fault.also(finding.entered_at, finding.words);
                }
                fault
            }
            AskError::Belief {
                said, entered_at, ..
            } => Self::with_remedy(&text)
                .of(Cause::Contradiction)
                .also(entered_at, said),
            _ => Self::with_remedy(&text),
        }
    }
}

impl From<ValueError> for Fault {
    fn from(error: ValueError) -> Self {
        match error {
            ValueError::Ask(error) => error.into(),
            other => Self::with_remedy(&other.to_string()),
        }
    }
}

impl From<SupposeError> for Fault {
    fn from(error: SupposeError) -> Self {
        Self::with_remedy(&error.to_string())
    }
}

impl From<RewriteError> for Fault {
    fn from(error: RewriteError) -> Self {
        Self::with_remedy(&error.to_string())
    }
}

impl From<PoolError> for Fault {
    fn from(error: PoolError) -> Self {
        Self::with_remedy(&error.to_string())
    }
}

impl From<VaryError> for Fault {
    fn from(error: VaryError) -> Self {
        match error {
            VaryError::Ask(error) => error.into(),
            other => Self::with_remedy(&other.to_string()),
        }
    }
}

impl From<AppraisalError> for Fault {
    fn from(error: AppraisalError) -> Self {
        match error {
            AppraisalError::Ask(error) => error.into(),
            AppraisalError::Stress(error) => error.into(),
            AppraisalError::Value(error) => error.into(),
        }
    }
}

impl From<StressError> for Fault {
    fn from(error: StressError) -> Self {
        match error {
            StressError::Ask(error) => error.into(),
            StressError::Stopped => Self::out_of_time(),
            other => Self::new(other.to_string()),
        }
    }
}

const TOO_MUCH_MEMORY: &str = "the script takes too much memory";
const GROWS: &str = "it may take a gigabyte; does a list or map grow without end?";
const OUT_OF_TIME: &str = "the time limit is up";
const LONGER: &str = "--time-limit SECONDS gives it longer";
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
    matches!(
        error,
        EvalAltResult::ErrorTerminated(..) | EvalAltResult::ErrorTooManyOperations(_)
    )
}

/// Rhai's own errors in our words.
fn of_rhai(error: &EvalAltResult, span: Span, run: &Run, engine: &Engine) -> Diagnostic {
    use EvalAltResult as E;
    let limit = |message: &str| Diagnostic::error("script::limit", message.to_owned(), span);
    match error {
        E::ErrorTerminated(reason, _) => match reason.clone().try_cast::<Stopped>() {
            Some(Stopped::TooMuchMemory) => limit(TOO_MUCH_MEMORY).hint(GROWS),
            Some(Stopped::TooMuchShown) => limit("the script shows more than anybody can read")
                .hint("does a loop that shows or prints never end?"),
            Some(Stopped::OutOfTime) | None => limit(OUT_OF_TIME).hint(LONGER),
        },
        E::ErrorTooManyOperations(_) => limit(&format!(
            "the script has taken {} steps and is stopped",
            limits::MOST_OPERATIONS
        ))
        .hint("does a loop never end?"),
        E::ErrorStackOverflow(_) => limit("functions call each other too deep")
            .hint("does a function call itself without end?"),
        E::ErrorDataTooLarge(what, _) => limit(too_large(what))
            .hint("scripts may hold lists of 10,000 entries and texts of 100,000 characters"),
        E::ErrorTooManyVariables(_) => limit("the script has too many variables"),
        E::ErrorTooManyModules(_) => limit(&format!("a script may import {MOST_IMPORTS} files")),
        E::ErrorModuleNotFound(name, _) => not_imported(name, span),
        E::ErrorFunctionNotFound(signature, _) => suggest::function(signature, span, run, engine),
        E::ErrorDotExpr(message, _) => suggest::property(message, span),
        E::ErrorPropertyNotFound(name, _) => suggest::entry(name, span),
        E::ErrorVariableNotFound(name, _) => suggest::variable(name, span, run),
        E::ErrorArrayBounds(length, place, _) => {
            let what = format!("there is no entry {place} in a list of {length}");
            Diagnostic::error("script::call", what, span).hint("the first entry is 0")
        }
        E::ErrorMismatchDataType(wanted, given, _) if wanted == "bool" => {
            let what = format!("a condition is true or false, not {}", suggest::a(given));
            Diagnostic::error("script::call", what, span)
                .hint("such as `if jug.probability(maker(\"K07\")) > 0.5 { … }`")
        }
        E::ErrorFor(_) => {
            let what = "`for` goes through a list, a table, or a range of whole numbers";
            Diagnostic::error("script::call", what, span)
                .hint("from 1 to 3 is `1..=3`: `for i in 1..=3 { … }`")
        }
        E::ErrorAssignmentToConstant(name, _) => {
            let what = format!("`{name}` is a constant and cannot change");
            Diagnostic::error("script::call", what, span)
                .hint("a variable that changes is made with `let`")
        }
        E::ErrorParsing(kind, _) => of_parser(kind, span, run),
        E::ErrorRuntime(value, _) if value.to_string().is_empty() => {
            Diagnostic::error("script::thrown", "the script gives up", span)
        }
        E::ErrorRuntime(value, _) => Diagnostic::error("script::thrown", value.to_string(), span),
        other => {
            let mut plain = other.to_string();
            // Rhai adds the position in words; the underlined line says it better.
            if let Some(at) = plain.rfind(" (line ") {
                plain.truncate(at);
            }
            Diagnostic::error("script::error", syntax::lower_case(&plain), span)
        }
    }
}

/// What has grown too large, in our words.
fn too_large(what: &str) -> &'static str {
    if what.contains("string") {
        "a text grows too long"
    } else if what.contains("map") {
        "a map grows too large"
    } else {
        "a list grows too long"
    }
}

/// What Rhai's parser says, in our words where its own are no help.
fn of_parser(kind: &ParseErrorType, span: Span, run: &Run) -> Diagnostic {
    use ParseErrorType as P;
    let limit = |message: &str| Diagnostic::error("script::limit", message.to_owned(), span);
    match kind {
        P::ExprTooDeep => limit("expressions or blocks stand too deep in one another")
            .hint("give parts of it names of their own with `let`"),
        P::TooManyFunctions => limit("the script has too many functions"),
        P::LiteralTooLarge(..) => limit("a text, list or map written in the script is too large")
            .hint("a text may have 100,000 characters, a list or map 10,000 entries"),
        P::VariableUndefined(name) => suggest::variable(name, span, run),
        P::ModuleUndefined(name) => not_imported(name, span),
        P::BadInput(LexError::UnexpectedInput(bars)) if matches!(bars.as_str(), "|" | "||") => {
            limit("functions without a name, `|x| …`, cannot be used in scripts")
                .hint("give it a name, `fn name(x) { … }`, and pass `name` on")
        }
        other => {
            let sources = lock(&run.sources);
            let report = syntax::error(other, span, &sources.file(span.source).text);
            match other {
                // What is switched off, and no mistake of writing.
                P::Reserved(word) | P::BadInput(LexError::ImproperSymbol(word, _))
                    if report.hints.is_empty()
                        && word.chars().all(|c| c.is_alphabetic() || c == '_') =>
                {
                    switched_off(word, span)
                }
                _ => report,
            }
        }
    }
}

fn not_imported(name: &str, span: Span) -> Diagnostic {
    let what = format!("nothing is imported as `{name}`");
    Diagnostic::error("script::import", what, span)
        .hint(format!("such as: import \"file\" as {name};"))
}

fn switched_off(word: &str, span: Span) -> Diagnostic {
    Diagnostic::error(
        "script::limit",
        format!("`{word}` cannot be used in scripts"),
        span,
    )
}

/// The word at a position of Rhai; the whole script where there is none.
fn span(position: Position, script: SourceId, sources: &Sources) -> Span {
    let whole = Span {
        source: script,
        start: 0,
        end: 0,
    };
    position.line().map_or(whole, |line| {
        let column = position.position().unwrap_or(1);
        word_at(LineColumn { line, column }, script, sources)
    })
}

/// The word at a line and column of a script.
fn word_at(at: LineColumn, script: SourceId, sources: &Sources) -> Span {
    let text = &sources.file(script).text;
    let end_of_text = Span {
        source: script,
        start: text.len(),
        end: text.len(),
    };
    let mut start = 0;
    for (number, text) in text.split_inclusive('\n').enumerate() {
        if number + 1 == at.line {
            let column = at.column.saturating_sub(1);
            let offset = text
                .char_indices()
                .nth(column)
                .map_or(text.trim_end().len(), |(offset, _)| offset);
            let word = text[offset..]
                .find(|c: char| !(c.is_alphanumeric() || c == '_'))
                .unwrap_or(text.len() - offset);
            return Span {
                source: script,
                start: start + offset,
                end: start + offset + word.max(1).min(text.len() - offset),
            };
        }
        start += text.len();
    }
    end_of_text
}
