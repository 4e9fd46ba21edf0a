//! Names: used once, known, near to a known one.

use std::collections::{BTreeMap, BTreeSet};

use crate::diagnostic::{Diagnostic, shorten};
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
                    format!("the {what} `{}` is there twice", shorten(&word.value)),
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
    with_names_near(
        format!("there is no {what} `{}`", shorten(&word.value)),
        word,
        known,
    )
}

/// The report of a value that a variable does not have: `there is no maker …`, `there is no state … of …`.
pub fn unknown_state<'a>(
    variable: &str,
    word: &Word,
    known: impl IntoIterator<Item = &'a str> + Clone,
) -> Diagnostic {
    let message = match OWN
        .iter()
        .find(|(name, _, counted)| *name == variable && *counted)
    {
        Some((_, what, _)) => format!("there is no {what} `{}`", shorten(&word.value)),
        None => format!(
            "there is no state `{}` of `{variable}`",
            shorten(&word.value)
        ),
    };
    with_names_near(message, word, known)
}

/// The report of a condition on something that its table does not depend on.
pub fn not_depended_on<'a>(
    word: &Word,
    known: impl IntoIterator<Item = &'a str> + Clone,
) -> Diagnostic {
    let near = near(&word.value, known.clone());
    let report = Diagnostic::error(
        "pack::unknown-name",
        format!("this table does not depend on `{}`", shorten(&word.value)),
        word.span,
    );
    match near.as_slice() {
        [] => report
            .label(format!("it depends on: {}", list(known)))
            .hint(format!(
                "take it out, or add \"{}\" to the table's `depends_on`",
                shorten(&word.value)
            )),
        near => report.did_you_mean(near.first().copied()),
    }
}

fn with_names_near<'a>(
    message: String,
    word: &Word,
    known: impl IntoIterator<Item = &'a str> + Clone,
) -> Diagnostic {
    let report = Diagnostic::error("pack::unknown-name", message, word.span);
    let near = near(&word.value, known.clone());
    if near.is_empty() {
        let known = list(known);
        let hint = if known.is_empty() {
            "there is none at all".to_owned()
        } else {
            format!("known: {known}")
        };
        return report.hint(hint);
    }
    let near: Vec<String> = near.iter().map(|name| format!("`{name}`")).collect();
    report.hint(format!("did you mean {}?", near.join(" or ")))
}

/// Names like this one, the nearest first; none if so many are that a suggestion would be a guess.
fn near<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Vec<&'a str> {
    const MOST: usize = 3;
    // Any two names of one letter are one letter apart.
    if word.chars().count() < 2 {
        return Vec::new();
    }
    let mut rest: BTreeSet<&str> = known.into_iter().collect();
    let mut near = Vec::new();
    while let Some(name) = nearest(word, rest.iter().copied()) {
        rest.remove(name);
        near.push(name);
        if near.len() > MOST {
            return Vec::new();
        }
    }
    near
}

/// The measure a fragment of a mark is entered on.
pub const FRAGMENT: &str = "mark_fragment";

/// Names that the model itself gives to variables: name, what it is called in messages, and whether its values are
/// names of things (`there is no maker …`) rather than states.
const OWN: [(&str, &str, bool); 12] = [
    ("maker", "maker", true),
    ("works", "works", true),
    ("region", "region", true),
    ("period", "period", true),
    ("size", "size", true),
    ("size_class", "size class", true),
    ("engraving", "engraving", true),
    ("plate", "wear of a plate", false),
    ("mark_kind", "mark", true),
    ("strike", "strike of a mark", false),
    ("stray", "stray initials", false),
    (FRAGMENT, "fragment of a mark", false),
];

/// Reports clues and circumstances that take a name of the model's own, or one another's.
pub fn report_taken<'a>(words: impl IntoIterator<Item = &'a Word>, out: &mut Vec<Diagnostic>) {
    let words: Vec<&Word> = words.into_iter().collect();
    for word in &words {
        if let Some((name, what, _)) = OWN.iter().find(|(name, ..)| *name == word.value) {
            out.push(
                Diagnostic::error(
                    "pack::own-name",
                    format!("a clue cannot be called `{name}`: every pack has that name for the {what} itself"),
                    word.span,
                )
                .hint("give the clue another name"),
            );
        }
    }
    report_duplicates("clue or circumstance", words, out);
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
