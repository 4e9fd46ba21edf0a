//! Noting what is read of a mark, letter by letter.

use rhai::{Dynamic, EvalAltResult, Map};

use super::error::Fault;
use super::handles::{PieceHandle, Raw};
use crate::piece;

/// What the details of a fragment may say.
const DETAILS: [&str; 3] = ["strike", "devices", "companions"];

/// Notes a fragment with its details: the quality of the strike, and devices and companions as a list of those seen or a map
/// from each to what was seen of it.
pub(super) fn note(piece: &PieceHandle, letters: &str, details: &Map) -> Raw<PieceHandle> {
    let mut strike = None;
    let mut seen: Vec<(String, String)> = Vec::new();
    for (key, value) in details {
        match key.as_str() {
            "strike" => strike = Some(text(value, "the quality of the strike")?),
            "devices" | "companions" => things(key, value, &mut seen)?,
            other => {
                let fault = Fault::new(format!("`{other}` is not something a fragment can have"));
                return Err(fault.nearest_or_known(other, DETAILS.into_iter()).raise());
            }
        }
    }
    let model = &piece.pack.compiled.model;
    let seen = seen.iter().map(|(a, b)| (a.as_str(), b.as_str()));
    let noted = piece::fragment(model, letters, strike.as_deref(), seen)
        .and_then(|(clue, look, said)| piece.piece.note(clue, look, said, model));
    Ok(PieceHandle {
        pack: piece.pack.clone(),
        piece: noted.map_err(|error| Fault::from(error).raise())?,
    })
}

fn things(
    key: &str,
    value: &Dynamic,
    seen: &mut Vec<(String, String)>,
) -> Result<(), Box<EvalAltResult>> {
    if let Some(list) = value.read_lock::<rhai::Array>() {
        for entry in list.iter() {
            seen.push((text(entry, "a device or companion")?, "seen".to_owned()));
        }
        return Ok(());
    }
    if let Some(map) = value.read_lock::<Map>() {
        for (thing, word) in map.iter() {
            seen.push((thing.to_string(), text(word, "what was seen of a device")?));
        }
        return Ok(());
    }
    let fault = Fault::new(format!("`{key}` of a fragment is neither a list nor a map"));
    Err(fault
        .hint(
            "write [\"bell\"] for what was seen, or #{ bell: \"partly seen\", star: \"not seen\" }",
        )
        .raise())
}

fn text(value: &Dynamic, what: &str) -> Result<String, Box<EvalAltResult>> {
    value.clone().into_string().map_err(|kind| {
        Fault::new(format!("{what} is a text, not {kind}"))
            .hint("put it in quotes")
            .raise()
    })
}
