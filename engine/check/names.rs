//! Names: used once, known, near to a known one.

use std::collections::BTreeMap;

use crate::diagnostic::Diagnostic;
use crate::nearest_name::nearest;
use crate::pack::text::Word;

/// Reports every name that is used a second time, with the place of the first.
pub fn report_duplicates<'a>(
    what: &str,
    words: impl IntoIterator<Item = &'a Word>,
    out: &mut Vec<Diagnostic>,
) {
    let mut first: BTreeMap<&str, &Word> = BTreeMap::new();
    for word in words {
        match first.get(word.value.as_str()) {
            Some(earlier) => out.push(
                Diagnostic::error(
                    "pack::duplicate",
                    format!("the {what} `{}` is there twice", word.value),
                    word.span,
                )
                .label("second time")
                .also(earlier.span, "first time")
                .hint("give one of them another name, or take one out"),
            ),
            None => {
                first.insert(&word.value, word);
            }
        }
    }
}

/// The position of a name among the known ones; reports it if it is not known.
pub fn find<'a>(
    what: &str,
    word: &Word,
    known: impl IntoIterator<Item = &'a str> + Clone,
    out: &mut Vec<Diagnostic>,
) -> Option<usize> {
    let position = known
        .clone()
        .into_iter()
        .position(|name| name == word.value);
    if position.is_none() {
        out.push(unknown(what, word, known));
    }
    position
}

/// The report of a name that is not known.
pub fn unknown<'a>(
    what: &str,
    word: &Word,
    known: impl IntoIterator<Item = &'a str> + Clone,
) -> Diagnostic {
    let report = Diagnostic::error(
        "pack::unknown-name",
        format!("there is no {what} `{}`", word.value),
        word.span,
    );
    match nearest(&word.value, known.clone()) {
        Some(name) => report.did_you_mean(Some(name)),
        None => report.hint(format!("known: {}", list(known))),
    }
}

/// `a, b, c`, cut after a dozen.
pub fn list<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    let names: Vec<&str> = names.into_iter().collect();
    let mut text = names
        .iter()
        .take(12)
        .copied()
        .collect::<Vec<_>>()
        .join(", ");
    if names.len() > 12 {
        text.push_str(", …");
    }
    text
}
