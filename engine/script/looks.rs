//! Looks from what a script gives of them: a state, chances of states, numbers measured together.

use rhai::{Dynamic, Map};

use super::chances::{chances_by_state, largest_first};
use super::measures::colour_look;
use super::numbers::number;
use super::values;
use crate::model::{Clue, ClueKind, ClueTarget, Model};
use crate::piece::{Look, PieceError, find_state, has_no_states, measured, uncertain};

/// A state for sure, from a text or a whole number (so that counts need no quotes).
pub(super) fn seen(clue: &Clue, state: &Dynamic) -> Result<(Look, String), PieceError> {
    let name = state_name(state);
    if matches!(clue.kind, ClueKind::Weight { .. })
        && (matches!(clue.target, ClueTarget::Measure(_)) || find_state(clue, &name).is_err())
    {
        return Err(has_no_states(clue));
    }
    let place = find_state(clue, &name)?;
    Ok((Look::Seen(place), clue.states[place].clone()))
}

pub(super) fn state_name(state: &Dynamic) -> String {
    if let Some(text) = values::text(state) {
        return text;
    }
    match state.as_float() {
        // 10 and 10.0 are the same observation.
        Ok(number) if number.fract() == 0.0 && number.abs() < 1e15 => format!("{number:.0}"),
        _ => state.to_string(),
    }
}

pub(super) fn unsure_look(clue: &Clue, weights: &Map) -> Result<(Look, String), PieceError> {
    let entries = chances_by_state(weights, |what, state| PieceError::Weights {
        clue: clue.id.clone(),
        what: format!("hold {what} for {state}; a weight is a number, or a text such as \"70%\""),
    })?;
    let look = uncertain(clue, entries.iter().copied())?;
    Ok((look, format!("unsure: {}", largest_first(entries))))
}

pub(super) fn measured_look(clue: &Clue, values: &Map) -> Result<(Look, String), PieceError> {
    if clue.kind == ClueKind::Colour {
        return colour_look(clue, values);
    }
    let mut entries = Vec::new();
    for (name, value) in values {
        let value = number(value).map_err(|kind| PieceError::Weights {
            clue: clue.id.clone(),
            what: format!("hold {kind} for {name}; a reading is a number"),
        })?;
        entries.push((name.as_str(), value));
    }
    let look = measured(clue, entries.iter().copied())?;
    let ClueKind::Together { columns } = &clue.kind else {
        return Ok((look, String::new()));
    };
    // In the pack's order, whatever the script's.
    let said = columns.iter().filter_map(|column| {
        let (_, value) = entries.iter().find(|(name, _)| name == column)?;
        Some(format!("{column} {value}"))
    });
    let said = said.collect::<Vec<_>>().join(", ");
    Ok((look, said))
}

pub(super) fn found_look(
    model: &Model,
    clue: &Clue,
    found: &Dynamic,
) -> Result<(Look, String), PieceError> {
    if clue.kind == ClueKind::Date {
        return crate::piece::dated(model, clue, &state_name(found));
    }
    match found.read_lock::<Map>() {
        Some(values) if matches!(clue.kind, ClueKind::Together { .. } | ClueKind::Colour) => {
            measured_look(clue, &values)
        }
        Some(weights) => unsure_look(clue, &weights),
        None => seen(clue, found),
    }
}
