//! Numbers that must be whole, as a script gives them.

use rhai::Dynamic;

use super::fault::Fault;
use super::limits::MOST_SCRIPT_DRAWS;
use super::numbers::in_words;

/// A whole number.
pub(super) fn whole_number(value: &Dynamic, what: &str) -> Result<i64, Fault> {
    let float = value
        .as_float()
        .ok()
        .filter(|f| f.fract() == 0.0 && f.abs() < 9e15)
        .map(|f| f as i64);
    value.as_int().ok().or(float).ok_or_else(|| {
        let given = match (value.as_float(), super::values::text(value)) {
            (Ok(number), _) => number.to_string(),
            (_, Some(text)) => format!("the text “{}”", crate::diagnostic::shorten(&text)),
            _ => in_words(value).to_owned(),
        };
        Fault::new(format!("{what} is a whole number, not {given}"))
    })
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
