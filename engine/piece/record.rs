//! The record of a piece in words.

use serde::Serialize;

use super::{Finding, Look, Piece};
use crate::model::{ClueKind, Model, Weighing, column::weight};

/// A finding as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FindingShown {
    /// The clue's name in scripts.
    pub clue: String,
    /// The clue's name for people.
    pub name: String,
    /// The finding in words.
    pub said: String,
    /// Looks that it replaced.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub replaced: Vec<String>,
}

/// A finding in words; a weight with what it is judged as.
fn said(piece: &Piece, finding: &Finding, model: &Model) -> String {
    let clue = &model.catalogue.clues[finding.clue];
    let Look::Weighed { grams, per } = finding.look else {
        return finding.said.clone();
    };
    match (piece.judged_weight(model, clue, grams, per), &clue.kind) {
        (Ok(value), ClueKind::Weight { weighing, edges }) => {
            let unit = match weighing {
                Weighing::UsualWeight => " of the usual",
                Weighing::PerLitre => " g per litre",
                Weighing::PerSquareCentimetre => " g per square centimetre",
                Weighing::AsItIs => " g",
            };
            let band = clue
                .states
                .get(weight::band(edges, value))
                .filter(|_| !edges.is_empty());
            let band = band.map_or_else(String::new, |band| format!(", band {band}"));
            format!("{} ({value:.3}{unit}{band})", finding.said)
        }
        _ => finding.said.clone(),
    }
}

/// The record of a piece in words: what was found, and which clues were not looked at.
#[must_use]
pub fn record(piece: &Piece, model: &Model) -> (Vec<FindingShown>, Vec<String>) {
    let clues = &model.catalogue.clues;
    let found = piece
        .findings
        .iter()
        .map(|finding| FindingShown {
            clue: clues[finding.clue].id.clone(),
            name: clues[finding.clue].name.clone(),
            said: said(piece, finding, model),
            replaced: finding.replaced.clone(),
        })
        .collect();
    let not_looked = (0..clues.len())
        .filter(|&clue| piece.findings.iter().all(|f| f.clue != clue))
        .map(|clue| clues[clue].name.clone())
        .collect();
    (found, not_looked)
}
