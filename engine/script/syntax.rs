//! What the parser says, in our words, with the remedy for what people who have never programmed write.

use rhai::{LexError, ParseErrorType};

use super::entry::open_brackets;
use crate::diagnostic::Diagnostic;
use crate::source::{Span, floor_char_boundary};

/// Where the parser stopped.
struct Stop<'t> {
    text: &'t str,
    at: usize,
    span: Span,
}

/// Units that are written behind a number.
const UNITS: [&str; 12] = [
    "g", "kg", "mg", "oz", "lb", "mm", "cm", "m", "ml", "l", "cm2", "inch",
];
/// Functions that are called without brackets in other languages.
const CALLED: [&str; 4] = ["print", "debug", "call", "type_of"];
const BRACKETS: &str = "every `(`, `[`, `{` and \" needs its partner";
const QUOTED_NAMES: &str =
    "a name with `+`, `-` or a blank in it stands in quotes: `#{ \"line+stipple\": 0.3 }`";

/// A syntax error; the word at `span` is where the parser stopped.
pub(super) fn error(kind: &ParseErrorType, span: Span, text: &str) -> Diagnostic {
    let stop = Stop {
        text,
        at: floor_char_boundary(text, span.start),
        span,
    };
    let (what, hint) = stop
        .as_often_met(kind)
        .unwrap_or_else(|| (in_our_words(kind), stop.hint(kind)));
    let span = stop.place(kind);
    let report = Diagnostic::error("script::syntax", what, span);
    let report = match stop.opening(kind) {
        Some(opening) => report.also(opening, "opened here"),
        None => report,
    };
    match hint {
        Some(hint) => report.hint(hint),
        None => report,
    }
}

/// The parser's own sentence as ours begin.
fn in_our_words(kind: &ParseErrorType) -> String {
    if matches!(kind, ParseErrorType::UnexpectedEOF) {
        return "the script ends in the middle of something".to_owned();
    }
    lower_case(&kind.to_string())
}

/// The text with a small first letter: Rhai's messages are sentences, ours are not.
pub(super) fn lower_case(text: &str) -> String {
    let mut rest = text.chars();
    rest.next().map_or_else(String::new, |first| {
        first.to_lowercase().chain(rest).collect()
    })
}

type Told = (String, Option<String>);

fn told(what: impl Into<String>, hint: impl Into<String>) -> Option<Told> {
    Some((what.into(), Some(hint.into())))
}

impl Stop<'_> {
    /// The word or sign at which the parser stopped.
    fn word(&self) -> &str {
        let end = floor_char_boundary(self.text, self.span.end.max(self.at));
        &self.text[self.at..end]
    }

    /// What stands before it, without the blanks in between.
    fn before(&self) -> &str {
        self.text[..self.at].trim_end()
    }

    /// Its line up to it.
    fn line_before(&self) -> &str {
        let start = self.text[..self.at].rfind('\n').map_or(0, |at| at + 1);
        &self.text[start..self.at]
    }

    /// Whether nothing but blanks stands before it on its line, and a line before that.
    fn begins_a_line(&self) -> bool {
        self.line_before().trim().is_empty()
            && self.before().len() < self.at
            && self.text[self.before().len()..self.at].contains('\n')
    }

    /// Mistakes with a remedy of their own.
    fn as_often_met(&self, kind: &ParseErrorType) -> Option<Told> {
        use ParseErrorType as P;
        match kind {
            P::BadInput(LexError::MalformedChar(text)) => told(
                format!("`'{}'` stands in single quotes", text.trim_matches('\'')),
                format!(
                    "texts stand in double quotes: \"{}\"",
                    text.trim_matches('\'')
                ),
            ),
            P::BadInput(LexError::UnexpectedInput(sign)) if "“”„‘’«»".contains(sign.as_str()) => {
                told(
                    format!("`{sign}` is no quote of a script"),
                    "texts stand in straight quotes: \"blue\"",
                )
            }
            P::BadInput(LexError::UnterminatedString) => told(
                "a text is not closed on its line",
                "a text stands between two \": \"blue\"",
            ),
            P::MismatchedType(wanted, given) if wanted.contains("iterable") => told(
                format!("`for` cannot go through {given}"),
                "it goes through a list, a table, or whole numbers: from 1 to 3 is `for i in 1..=3 { … }`",
            ),
            P::MismatchedType(wanted, given) if wanted.contains("boolean") => told(
                format!("a condition is true or false, not {given}"),
                "such as `if jug.probability(maker(\"K07\")) > 0.5 { … }`",
            ),
            P::Reserved(word) => self.reserved(word),
            P::BadInput(LexError::ImproperSymbol(word, _)) => self.reserved(word),
            P::DuplicatedProperty(_) if self.line_before().contains('#') => {
                told("a `,` or `:` is missing in the map", QUOTED_NAMES)
            }
            P::MissingToken(token, _) if token == ":" => {
                told("a name of the map is not followed by `:`", QUOTED_NAMES)
            }
            P::AssignmentToConstant(name) => told(
                format!("`{name}` is a constant and cannot change"),
                "a variable that changes is made with `let`",
            ),
            P::VariableExpected => told(
                format!("`{}` cannot be the name of a variable", self.word()),
                "a name begins with a letter, has no blanks, and is no word of the language",
            ),
            P::MissingToken(token, _) if token == "{" && self.percentage().is_some() => told(
                "`%` is what is left over from a division",
                "a percentage is a text, a condition compares numbers: `if jug.probability(\"K07\") > 0.5 { … }`",
            ),
            _ if self.before().ends_with('%') && self.word() != "%" => told(
                "`%` is what is left over from a division",
                "a percentage is a text: \"80%\"",
            ),
            P::MissingToken(token, _) if matches!(token.as_str(), "," | ")" | ";") => {
                self.between_words(token)
            }
            _ => None,
        }
    }

    /// Something stands where a `,`, a `)` or a `;` was expected.
    fn between_words(&self, token: &str) -> Option<Told> {
        let (word, before) = (self.word(), self.before());
        if UNITS.contains(&word) && before.ends_with(|c: char| c.is_ascii_digit()) {
            let start = before
                .rfind(|c: char| !(c.is_ascii_digit() || c == '.'))
                .map_or(0, |at| {
                    at + before[at..].chars().next().map_or(1, char::len_utf8)
                });
            let number = &before[start..];
            return told(
                "a number and its unit are put together",
                format!("write {number}.{word} or \"{number} {word}\""),
            );
        }
        match word {
            "and" => return told("`and` joins claims only", "of two conditions write `&&`"),
            "or" => return told("`or` joins claims only", "of two conditions write `||`"),
            "to" => return told("`to` is no word of the language", "from 1 to 3 is `1..=3`"),
            "then" => {
                return told(
                    "`then` is no word of the language",
                    "what is done stands in `{ … }`",
                );
            }
            "}" if token == ";" && open_brackets(&self.text[..self.at]).is_empty() => {
                return told(
                    "there is a `}` too many",
                    "take it out, or open it before with `{`",
                );
            }
            _ => {}
        }
        if token == "," && self.word().starts_with(['"', '#']) {
            return told(
                "two things stand side by side",
                "what a function is given is divided by commas",
            );
        }
        if let Some(brace) = self.line_before().rfind('{')
            && self.line_before()[..brace]
                .trim_end()
                .ends_with(['(', ',', '='])
        {
            return told(
                "a map begins with `#{`",
                "such as `#{ line: 0.7, stipple: 0.3 }`",
            );
        }
        let line = self.line_before().trim_start();
        if token == ";" && line.starts_with("let ") && !line.contains('=') {
            let name = format!("{}_{word}", line["let ".len()..].trim());
            return if word.starts_with('=') {
                told("two `=` compare", "one `=` gives a value: `let x = 3;`")
            } else {
                told(
                    "the name of a variable is one word",
                    format!("such as `{name}`"),
                )
            };
        }
        if token == ";" && self.begins_a_line() {
            let number = self.text[..self.before().len()].matches('\n').count() + 1;
            return told(
                format!("line {number} has no `;` at its end"),
                "every statement ends with `;`",
            );
        }
        None
    }

    fn reserved(&self, word: &str) -> Option<Told> {
        let cannot = format!("`{word}` cannot be used in scripts");
        if word.starts_with('#') {
            return told("`#` begins no note", "notes begin with `//`");
        }
        if CALLED.contains(&word) {
            return told(
                format!("`{word}` needs brackets"),
                format!("write {word}(…)"),
            );
        }
        if matches!(word, "var" | "static") {
            return told(cannot, "a variable is made with `let`");
        }
        if matches!(word, "--" | "++") {
            return told(
                cannot,
                "write `x -= 1` or `x += 1`, and put a space between two signs",
            );
        }
        if matches!(
            word,
            "match"
                | "case"
                | "default"
                | "with"
                | "is"
                | "new"
                | "use"
                | "module"
                | "package"
                | "super"
                | "void"
                | "null"
                | "nil"
                | "public"
                | "protected"
                | "each"
                | "then"
                | "goto"
                | "exit"
                | "unless"
                | "spawn"
                | "thread"
                | "go"
                | "sync"
                | "async"
                | "await"
                | "yield"
                | "until"
        ) {
            return told(
                format!("`{word}` is kept for the language itself"),
                "take another name",
            );
        }
        None
    }

    /// Where a number with `%` stands before a block, which the parser takes for what it is divided by.
    fn percentage(&self) -> Option<usize> {
        let before = self.before();
        let mut signs = before.match_indices('%').rev();
        signs.find_map(|(at, _)| {
            let is_number = before[..at]
                .trim_end()
                .ends_with(|c: char| c.is_ascii_digit());
            (is_number && before[at + 1..].trim_start().starts_with('{')).then_some(at)
        })
    }

    /// Where to look: a missing `;` belongs to the line before.
    fn place(&self, kind: &ParseErrorType) -> Span {
        if let Some(start) = self.percentage()
            && matches!(kind, ParseErrorType::MissingToken(token, _) if token == "{")
        {
            return Span {
                start,
                end: start + 1,
                ..self.span
            };
        }
        let is_semicolon = matches!(kind, ParseErrorType::MissingToken(token, _) if token == ";");
        if is_semicolon && self.begins_a_line() && self.word() != "}" {
            let end = self.before().len();
            let start = floor_char_boundary(self.text, end.saturating_sub(1));
            return Span {
                start,
                end,
                ..self.span
            };
        }
        self.span
    }

    /// The bracket that was never closed.
    fn opening(&self, kind: &ParseErrorType) -> Option<Span> {
        let is_missing = match kind {
            ParseErrorType::UnexpectedEOF => true,
            ParseErrorType::MissingToken(token, _) => matches!(token.as_str(), "}" | "]" | ")"),
            _ => false,
        };
        let start = open_brackets(&self.text[..self.at])
            .pop()
            .filter(|_| is_missing)?;
        Some(Span {
            start,
            end: start + 1,
            ..self.span
        })
    }

    fn hint(&self, kind: &ParseErrorType) -> Option<String> {
        let brackets = matches!(
            kind,
            ParseErrorType::UnexpectedEOF | ParseErrorType::BadInput(LexError::UnterminatedString)
        ) || matches!(kind, ParseErrorType::MissingToken(token, _) if token != ";");
        if brackets {
            return Some(BRACKETS.to_owned());
        }
        matches!(kind, ParseErrorType::MissingToken(..))
            .then(|| "every statement ends with `;`".to_owned())
    }
}
