//! Noting what is read of a mark, letter by letter.

use rhai::{Dynamic, EvalAltResult, Map};

use super::fault::{Fault, raise};
use super::handles::{PackHandle, PieceHandle, RankingHandle, Raw};
use crate::piece;

/// What the details of a fragment may say.
const DETAILS: [&str; 3] = ["strike", "devices", "companions"];

/// Notes a fragment with its details: the quality of the strike, and devices and companions as a list of those seen or a map
/// from each to what was seen of it. A second look replaces the first.
pub(super) fn note(
    piece: &PieceHandle,
    letters: &str,
    details: &Map,
    again: bool,
) -> Raw<PieceHandle> {
    let (strike, seen) = read(details)?;
    let model = &piece.pack.compiled.model;
    let noted = piece::fragment(model, letters, strike.as_deref(), pairs(&seen)).and_then(
        |(clue, look, said)| {
            if again {
                piece.piece.note_again(clue, look, said, model)
            } else {
                piece.piece.note(clue, look, said, model)
            }
        },
    );
    Ok(piece.with(noted.map_err(raise)?))
}

/// The marks of a pack against a fragment with its details.
pub(super) fn rank(pack: &PackHandle, letters: &str, details: &Map) -> Raw<RankingHandle> {
    let (strike, seen) = read(details)?;
    let model = &pack.compiled.model;
    let ranking = model.rank_marks(letters, strike.as_deref(), pairs(&seen));
    Ok(RankingHandle(
        ranking.map_err(|error| Fault::from(error).raise())?.into(),
    ))
}

fn pairs(seen: &[(String, String)]) -> impl Iterator<Item = (&str, &str)> {
    seen.iter().map(|(a, b)| (a.as_str(), b.as_str()))
}

/// Quality of the strike, if stated, and what was seen of each thing looked for.
type Details = (Option<String>, Vec<(String, String)>);

fn read(details: &Map) -> Raw<Details> {
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
    Ok((strike, seen))
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
