//! Chances as a script gives them: numbers, texts such as "80%", odds.

use rhai::{Dynamic, Map};

use super::fault::Fault;
use super::handles::Raw;
use super::numbers::number;
use super::values;
use crate::diagnostic::shorten;
use crate::pack::belief::{ChanceError, FORMS, chance_from_number, chance_from_text};
use crate::piece::PieceError;

/// The chances of a map from states; `wrong` words what was given instead of one, and for which state.
pub(super) fn chances_by_state(
    given: &Map,
    wrong: impl Fn(String, &str) -> PieceError,
) -> Result<Vec<(&str, f64)>, PieceError> {
    let chances = given.iter().map(|(state, value)| {
        let chance = chance_given(value).map_err(|what| wrong(what, state))?;
        Ok((state.as_str(), chance))
    });
    chances.collect()
}

/// States with their chances in a line, the same whatever the order of the map.
pub(super) fn largest_first(mut entries: Vec<(&str, f64)>) -> String {
    entries.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(b.0)));
    let said = entries
        .iter()
        .map(|(state, chance)| format!("{state} {chance}"));
    said.collect::<Vec<_>>().join(", ")
}

/// A number as it is, and a text or odds as the chance they say; else a word for what was given.
pub(super) fn chance_given(value: &Dynamic) -> Result<f64, String> {
    match values::text(value) {
        Some(text) => chance_from_text(&text)
            .map(|chance| chance.value)
            .map_err(|_| format!("“{}”", shorten(&text))),
        None => number(value).map_err(str::to_owned),
    }
}

/// A chance as prior files write it, `"80%"`, `"4 in 5"`, 0.8, or as odds.
pub(super) fn chance_of(value: &Dynamic) -> Raw<f64> {
    let chance = match values::text(value) {
        Some(text) => chance_from_text(&text),
        None => number(value)
            .map_err(|_| ChanceError::Form)
            .and_then(chance_from_number),
    };
    chance.map(|chance| chance.value).map_err(|error| {
        let fault = match error {
            ChanceError::Form => {
                let given = shorten(&value.to_string());
                Fault::new(format!("`{given}` does not say a chance"))
            }
            _ => Fault::new(error.to_string()),
        };
        match error {
            ChanceError::AboveOne(percent) if percent <= 100.0 => {
                fault.hint(format!("did you mean \"{percent}%\"?"))
            }
            _ => fault.hint(FORMS),
        }
        .raise()
    })
}
