//! What may stand at the cursor: functions, variables, and within quotes the words of the pack.

use rhai::Scope;

use super::entry::open_brackets;
use super::handles::PackHandle;
use super::numbers::in_words;
use super::reference::{Call, Function, Topic};
use crate::model::Model;

/// Words of the language itself that are worth completing.
const WORDS: [&str; 12] = [
    "let", "const", "if", "else", "for", "in", "while", "loop", "fn", "return", "true", "false",
];

/// The begin of the word at the end of `line`, and what it may become, in order.
pub(super) fn candidates(line: &str, scope: &Scope, topics: &[Topic]) -> (usize, Vec<String>) {
    let (start, mut found) = match open_quote(line) {
        Some(quote) => {
            let words = quoted(&line[..quote], scope, topics);
            (quote + 1, words)
        }
        None => {
            let start = line
                .rfind(|c: char| !(c.is_alphanumeric() || c == '_'))
                .map_or(0, |at| {
                    at + line[at..].chars().next().map_or(1, char::len_utf8)
                });
            (start, named(&line[..start], scope, topics))
        }
    };
    let begun = &line[start..];
    found.retain(|word| word.starts_with(begun));
    found.sort();
    found.dedup();
    (start, found)
}

/// Where the text that the cursor is in was opened.
fn open_quote(line: &str) -> Option<usize> {
    let mut open = None;
    let mut escaped = false;
    for (at, c) in line.char_indices() {
        match c {
            _ if escaped => escaped = false,
            '\\' if open.is_some() => escaped = true,
            '"' => open = if open.is_some() { None } else { Some(at) },
            _ => {}
        }
    }
    open
}

/// What stands before a dot, in the word for its type; `None` where that cannot be told.
fn kind_of(value: &str, scope: &Scope, topics: &[Topic]) -> Option<String> {
    let functions = || topics.iter().flat_map(|topic| &topic.functions);
    let name_at_the_end = |text: &str| {
        let start = text
            .rfind(|c: char| !(c.is_alphanumeric() || c == '_'))
            .map_or(0, |at| {
                at + text[at..].chars().next().map_or(1, char::len_utf8)
            });
        (text[start..].to_owned(), text[..start].ends_with('.'))
    };
    let value = value.trim_end();
    if value.ends_with(')') {
        // The bracket that the last one closes is the last still open before it.
        let opened = open_brackets(value.strip_suffix(')')?).pop()?;
        let (name, _) = name_at_the_end(&value[..opened]);
        let mut gives = functions().filter(|f| f.name == name).map(|f| &f.gives);
        let first = gives.next()?;
        return gives.all(|other| other == first).then(|| first.clone());
    }
    let (name, is_property) = name_at_the_end(value);
    if is_property {
        let property = functions().find(|f| f.call == Call::Property && f.name == name);
        return property.map(|f| f.gives.clone());
    }
    if name.starts_with(|c: char| c.is_ascii_digit()) {
        return Some("number".to_owned());
    }
    let kind = in_words(scope.get(&name)?);
    Some(
        kind.trim_start_matches("a ")
            .trim_start_matches("the ")
            .to_owned(),
    )
}

/// Functions and variables; behind a dot, what can stand there.
fn named(before: &str, scope: &Scope, topics: &[Topic]) -> Vec<String> {
    let behind_a_dot = before.ends_with('.');
    let kind = before
        .strip_suffix('.')
        .and_then(|value| kind_of(value, scope, topics));
    let takes = |function: &&Function| match (&kind, function.parameters.first()) {
        (Some(kind), Some((_, receiver))) if behind_a_dot => {
            receiver == kind || receiver == "result"
        }
        _ => true,
    };
    let functions = topics.iter().flat_map(|topic| &topic.functions);
    let fitting =
        functions
            .filter(takes)
            .filter_map(|function| match (function.call, behind_a_dot) {
                (Call::Method, true) => Some(format!("{}(", function.name)),
                (Call::Property, true) => Some(function.name.clone()),
                (Call::Function, false) => Some(format!("{}(", function.name)),
                _ => None,
            });
    let mut found: Vec<String> = fitting.collect();
    if !behind_a_dot {
        found.extend(scope.iter_raw().map(|(name, ..)| name.to_owned()));
        found.extend(WORDS.map(str::to_owned));
        found.push("help".to_owned());
    }
    found
}

/// The pack's words that fit the parameter of the call that the quote stands in.
fn quoted(before: &str, scope: &Scope, topics: &[Topic]) -> Vec<String> {
    let Some(model) = model(scope) else {
        return Vec::new();
    };
    let catalogue = &model.catalogue;
    let clues = || catalogue.clues.iter().map(|clue| clue.id.clone());
    let states_of = |name: &str| {
        let clue = catalogue
            .clues
            .iter()
            .find(|clue| clue.id == name || clue.name == name);
        clue.map_or_else(Vec::new, |clue| clue.states.clone())
    };
    let makers = || catalogue.makers.iter().map(|maker| maker.id.clone());
    let call = open_call(before);
    let parameter = call.as_ref().and_then(|call| {
        let functions = topics.iter().flat_map(|topic| &topic.functions);
        let forms = functions.filter(|function| function.name == call.name);
        forms
            .filter_map(|function| {
                let skipped = usize::from(function.call == Call::Method);
                function.parameters.get(call.n_before + skipped)
            })
            .next_back()
    });
    let parameter = parameter.map_or("", |(name, _)| name.as_str());
    match (parameter, call) {
        ("clue", _) => clues().collect(),
        ("state" | "found" | "weights" | "probabilities", Some(call)) => {
            states_of(&call.first_text)
        }
        ("maker", _) => makers().collect(),
        ("rule", _) => rules(model),
        _ => {
            let mut all: Vec<String> = clues().chain(makers()).collect();
            all.extend(catalogue.clues.iter().flat_map(|clue| clue.states.clone()));
            for variable in [
                Some(catalogue.region),
                Some(catalogue.period),
                catalogue.works,
                catalogue.engraving,
            ] {
                let states = variable.map(|id| model.network.variable(id).states.clone());
                all.extend(states.unwrap_or_default());
            }
            all
        }
    }
}

fn rules(model: &Model) -> Vec<String> {
    let books = model.catalogue.rules.iter();
    books
        .flat_map(|book| book.rules.iter().map(|rule| rule.id.clone()))
        .collect()
}

/// The pack in the variable `pack`, else any that a variable holds.
fn model<'s>(scope: &'s Scope) -> Option<&'s Model> {
    let pack = scope.get_value_ref::<PackHandle>("pack");
    pack.map(|pack| &*pack.compiled.model)
}

/// The call whose brackets are open.
struct OpenCall {
    name: String,
    /// Arguments before the one that is being written.
    n_before: usize,
    /// The first argument, if it is a text.
    first_text: String,
}

fn open_call(before: &str) -> Option<OpenCall> {
    // Opened brackets with where they stand, and what stands before each in commas and texts.
    struct Open {
        at: usize,
        bracket: char,
        n_commas: usize,
        first_text: Option<String>,
    }
    let mut open: Vec<Open> = Vec::new();
    let mut text: Option<(usize, bool)> = None;
    for (at, c) in before.char_indices() {
        if let Some((start, escaped)) = text {
            match c {
                _ if escaped => text = Some((start, false)),
                '\\' => text = Some((start, true)),
                '"' => {
                    text = None;
                    if let Some(open) = open.last_mut().filter(|o| o.n_commas == 0) {
                        open.first_text
                            .get_or_insert_with(|| before[start + 1..at].to_owned());
                    }
                }
                _ => {}
            }
            continue;
        }
        match c {
            '"' => text = Some((at, false)),
            '(' | '[' | '{' => open.push(Open {
                at,
                bracket: c,
                n_commas: 0,
                first_text: None,
            }),
            ')' | ']' | '}' => _ = open.pop(),
            ',' => {
                if let Some(open) = open.last_mut() {
                    open.n_commas += 1;
                }
            }
            _ => {}
        }
    }
    let call = open.iter().rfind(|open| open.bracket == '(')?;
    let head = before[..call.at].trim_end();
    let start = head
        .rfind(|c: char| !(c.is_alphanumeric() || c == '_'))
        .map_or(0, |at| {
            at + head[at..].chars().next().map_or(1, char::len_utf8)
        });
    Some(OpenCall {
        name: head[start..].to_owned(),
        n_before: call.n_commas,
        first_text: call.first_text.clone().unwrap_or_default(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_call_around_the_cursor() {
        let call = open_call("jug.saw(\"size\", \"IV\").unsure(\"technique\", #{ ").unwrap();
        assert_eq!(
            (call.name.as_str(), call.n_before, call.first_text.as_str()),
            ("unsure", 1, "technique")
        );
        let call = open_call("f(g(1, 2), ").unwrap();
        assert_eq!((call.name.as_str(), call.n_before), ("f", 1));
        assert!(open_call("f(1)").is_none());
        assert!(open_call("a\"(\" é").is_none());
    }

    #[test]
    fn the_quote_the_cursor_is_in() {
        assert_eq!(open_quote("saw(\"ti"), Some(4));
        assert_eq!(open_quote("saw(\"tint\", "), None);
        assert_eq!(open_quote("saw(\"a\\\"b"), Some(4));
    }
}
