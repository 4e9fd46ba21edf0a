//! Fragments of marks: what they do to a verdict, how they rank a registry, and what is refused.
//!
//! The demonstration pack is invented, so these tests hold the engine to the pack's own arithmetic, done here in another
//! way. The model of reading itself is tested beside `engine/mark`.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "marks/command.rs"]
mod command;
mod outside;
#[path = "marks/verdict.rs"]
mod verdict;

use std::path::Path;
use std::sync::OnceLock;

use saggar::model::CompiledModel;
use saggar::piece::{Look, Piece, PieceError, find_clue, find_state, fragment};
use saggar::source::Sources;

/// A pack, compiled.
pub fn compile(folder: &Path) -> CompiledModel {
    let (mut sources, mut found) = (Sources::default(), Vec::new());
    let model = saggar::check::load(folder, &mut sources, &mut found).unwrap();
    model.unwrap().compile().unwrap()
}

/// The demonstration pack.
pub fn tidewheel() -> &'static CompiledModel {
    static COMPILED: OnceLock<CompiledModel> = OnceLock::new();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("priors/tidewheel");
    COMPILED.get_or_init(|| compile(&folder))
}

/// A piece of which these states are seen.
pub fn seen(compiled: &CompiledModel, states: &[(&str, &str)]) -> Piece {
    states
        .iter()
        .fold(Piece::new("jug"), |piece, (clue, state)| {
            let index = find_clue(&compiled.model, clue).unwrap();
            let seen = find_state(&compiled.model.catalogue.clues[index], state).unwrap();
            piece
                .note(
                    index,
                    Look::Seen(seen),
                    (*state).to_owned(),
                    &compiled.model,
                )
                .unwrap()
        })
}

/// The piece with a fragment read on it.
pub fn read(
    compiled: &CompiledModel,
    piece: &Piece,
    letters: &str,
    quality: Option<&str>,
    looked_for: &[(&str, &str)],
) -> Result<Piece, PieceError> {
    let looked_for = looked_for.iter().copied();
    let (clue, look, said) = fragment(&compiled.model, letters, quality, looked_for)?;
    piece.note(clue, look, said, &compiled.model)
}
