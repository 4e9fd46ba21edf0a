//! Numbers as scripts give them: 3 and 3.0 are the same.

use rhai::Dynamic;

use super::error::Fault;
use super::limits::MOST_SCRIPT_DRAWS;

/// A number, whole or not; else a word for what was given.
pub(super) fn number(value: &Dynamic) -> Result<f64, &'static str> {
    let number = value.as_float();
    number
        .or_else(|_| value.as_int().map(|i| i as f64))
        .map_err(kind_in_words)
}

/// A whole number.
pub(super) fn whole_number(value: &Dynamic, what: &str) -> Result<i64, Fault> {
    let float = value
        .as_float()
        .ok()
        .filter(|f| f.fract() == 0.0 && f.abs() < 9e15)
        .map(|f| f as i64);
    value
        .as_int()
        .ok()
        .or(float)
        .ok_or_else(|| Fault::new(format!("{what} is a whole number, not {value}")))
}

/// How many draws a script asks for, within what one run may make.
pub(super) fn draws(asked: &Dynamic) -> Result<usize, Fault> {
    let number = whole_number(asked, "the number of draws")?;
    usize::try_from(number)
        .ok()
        .filter(|n| (2..=MOST_SCRIPT_DRAWS).contains(n))
        .ok_or_else(|| {
            Fault::new(format!(
                "a stress run takes from 2 to {MOST_SCRIPT_DRAWS} draws, not {number}"
            ))
        })
}

/// A type by a word for it.
fn kind_in_words(kind: &'static str) -> &'static str {
    match kind {
        "string" => "a text",
        "bool" => "true or false",
        "char" => "a letter",
        "()" => "nothing",
        "array" => "a list",
        "map" => "a map",
        other => other,
    }
}
