//! Rhai's own errors, of reading a script and of running it, in our words.

use rhai::{Engine, EvalAltResult, LexError, ParseErrorType};

use crate::diagnostic::Diagnostic;
use crate::script::limits::{
    GROWS, LONGER, MOST_IMPORTS, MOST_OPERATIONS, OUT_OF_TIME, Stopped, TOO_MUCH_MEMORY,
};
use crate::script::{Run, lock, suggest, syntax};
use crate::source::Span;

/// Rhai's own errors in our words.
pub(super) fn of_rhai(error: &EvalAltResult, span: Span, run: &Run, engine: &Engine) -> Diagnostic {
    use EvalAltResult as E;
    let limit = |message: &str| Diagnostic::error("script::limit", message.to_owned(), span);
    match error {
        E::ErrorTerminated(reason, _) => match reason.clone().try_cast::<Stopped>() {
            Some(Stopped::TooManySteps) => {
                let taken = format!("the script has taken {MOST_OPERATIONS} steps and is stopped");
                limit(&taken).hint("does a loop never end?")
            }
            Some(Stopped::TooMuchMemory) => limit(TOO_MUCH_MEMORY).hint(GROWS),
            Some(Stopped::TooMuchShown) => limit("the script shows more than anybody can read")
                .hint("does a loop that shows or prints never end?"),
            Some(Stopped::OutOfTime) | None => limit(OUT_OF_TIME).hint(LONGER),
        },
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
        E::ErrorMismatchDataType(wanted, given, _)
            if wanted == "bool" && suggest::a(given) == "a claim" =>
        {
            let what = "a claim is neither true nor false by itself";
            Diagnostic::error("script::call", what, span)
                .hint("two claims are joined by `and` or `or`: region(\"Saltharrow\").and(years(\"1850/1869\"))")
                .hint("a condition compares its chance: `if jug.probability(maker(\"K07\")) > 0.5 { … }`")
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
