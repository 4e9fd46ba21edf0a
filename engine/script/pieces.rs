//! Describing a piece.

use rhai::plugin::{NativeCallContext, export_module};
use rhai::{Engine, Map};

use super::fault::raise;
use super::handles::{PieceHandle, Raw};
use super::looks::{found_look, measured_look, seen, unsure_look};
use super::values::{Found, StateGiven};
use crate::model::{Clue, Model};
use crate::piece::{Look, Piece, PieceError, absent_state, find_clue};

/// Registers the functions of a piece.
pub(super) fn register(engine: &mut Engine) {
    engine.register_type_with_name::<PieceHandle>("piece");
    let module = rhai::exported_module!(piece_functions);
    engine.register_global_module(module.into());
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod piece_functions {
    use crate::script::{fragments, one_line};

    /// Notes a state that was seen for sure: `jug.saw("tint", "faint blue")`.
    #[rhai_fn(return_raw, pure)]
    pub fn saw(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        clue: &str,
        state: StateGiven,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        piece.note(clue, |clue| seen(clue, &state), false)
    }

    /// Notes that one looked, and there was nothing: `jug.absent("mark")`.
    #[rhai_fn(return_raw, pure)]
    pub fn absent(ctx: NativeCallContext, piece: &mut PieceHandle, clue: &str) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        piece.note(
            clue,
            |clue| {
                Ok((
                    Look::Seen(absent_state(clue)?),
                    format!("looked: {}", clue.states[absent_state(clue)?]),
                ))
            },
            false,
        )
    }

    /// Says that a clue was not looked at, which is how every clue begins: `jug.not_looked("mark")`.
    #[rhai_fn(return_raw, pure)]
    pub fn not_looked(piece: &mut PieceHandle, clue: &str) -> Raw<PieceHandle> {
        let index = find_clue(piece.model(), clue).map_err(raise)?;
        match piece.piece.findings().iter().find(|f| f.clue == index) {
            None => Ok(piece.clone()),
            Some(finding) => Err(raise(PieceError::AlreadyNoted {
                clue: clue.to_owned(),
                said: finding.said.clone(),
                entered_at: finding.entered_at,
            })),
        }
    }

    /// Notes that one looked and cannot tell; no claim is made: `jug.cannot_tell("border")`.
    #[rhai_fn(return_raw, pure)]
    pub fn cannot_tell(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        clue: &str,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        piece.note(
            clue,
            |_| Ok((Look::CannotTell(String::new()), "cannot tell".to_owned())),
            false,
        )
    }

    /// The same with the reason: `jug.cannot_tell("weight", "half the jug is missing")`.
    #[rhai_fn(return_raw, pure, name = "cannot_tell")]
    pub fn cannot_tell_because(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        clue: &str,
        why: &str,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        let why = &one_line::one_line("a reason", why).map_err(raise)?;
        let said = format!("cannot tell: {why}");
        piece.note(
            clue,
            |_| Ok((Look::CannotTell(why.to_owned()), said.clone())),
            false,
        )
    }

    /// Notes a reading that is not certain, as likelihoods: how well each state would explain what was seen; states not
    /// named, not at all: `jug.unsure("technique", #{ "stipple": 0.5, "line+stipple": 0.5 })`.
    #[rhai_fn(return_raw, pure)]
    pub fn unsure(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        clue: &str,
        weights: Map,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        piece.note(clue, |clue| unsure_look(clue, &weights), false)
    }

    /// Notes what is read of a mark, letter by letter: letters, `[OC]` for a letter in doubt, `_` for one that cannot be made
    /// out, `?` for letters lost: `jug.mark_fragment("?ROW? & S")`.
    #[rhai_fn(return_raw, pure)]
    pub fn mark_fragment(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        letters: &str,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        fragments::note(piece, letters, &Map::new(), false)
    }

    /// The same with the quality of the strike (clear, faint, part-struck, smeared) and the devices and companions looked for:
    /// `jug.mark_fragment("W? & [CO]?", #{ strike: "part-struck", devices: #{ ribbon: "partly seen", bell: "not seen" } })`, or
    /// `devices: ["ribbon"]` for those seen.
    #[rhai_fn(return_raw, pure, name = "mark_fragment")]
    pub fn mark_fragment_with(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        letters: &str,
        details: Map,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        fragments::note(piece, letters, &details, false)
    }

    /// Reads a mark a second time, which replaces the first look; the record keeps both:
    /// `jug.mark_fragment("T? & U").mark_fragment_again("TQ & U")`.
    #[rhai_fn(return_raw, pure)]
    pub fn mark_fragment_again(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        letters: &str,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        fragments::note(piece, letters, &Map::new(), true)
    }

    /// The same with strike and devices: `jug.mark_fragment("T?").mark_fragment_again("TQ & U", #{ strike: "faint" })`.
    #[rhai_fn(return_raw, pure, name = "mark_fragment_again")]
    pub fn mark_fragment_again_with(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        letters: &str,
        details: Map,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        fragments::note(piece, letters, &details, true)
    }

    /// Notes numbers measured together, by name; what is not named was not measured:
    /// `pot.measured("oxides", #{ "Al2O3": 14.4, "MgO": 4.3 })`. A colour in CIELAB by L, a and b; or L, C and h; or X, Y and Z
    /// with `white: "D50"` or `"D65"`; with `sd: [0.5, 0.2, 0.3]` where the instrument is not the pack's:
    /// `mug.measured("colour", #{ L: 88.1, a: -2.0, b: 1.3 })`.
    #[rhai_fn(return_raw, pure)]
    pub fn measured(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        clue: &str,
        values: Map,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        piece.note(clue, |clue| measured_look(clue, &values), false)
    }

    /// Notes a second look, which replaces the first; the record keeps both. Takes a state, or a map of likelihoods:
    /// `jug.saw("technique", "stipple").look_again("technique", "screen")`.
    #[rhai_fn(return_raw, pure)]
    pub fn look_again(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        clue: &str,
        found: Found,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        piece.note(clue, |clue| found_look(piece.model(), clue, &found), true)
    }

    /// A what-if variant: the piece as if this had been found, whatever was; the piece itself stays as it is, and every result of
    /// the variant says what is supposed:
    /// `jug.suppose("border", "bell")`.
    #[rhai_fn(return_raw, pure)]
    pub fn suppose(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        clue: &str,
        found: Found,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        let index = find_clue(piece.model(), clue).map_err(raise)?;
        let model = piece.model();
        let (look, said) =
            found_look(model, &model.catalogue.clues[index], &found).map_err(raise)?;
        let supposed = piece.piece.supposing(index, look, said, model);
        Ok(piece.with(supposed.map_err(raise)?))
    }

    /// A what-if variant: the piece as if this clue had not been looked at; every result of it says what is left out:
    /// `jug.without("mark")`.
    #[rhai_fn(return_raw, pure)]
    pub fn without(piece: &mut PieceHandle, clue: &str) -> Raw<PieceHandle> {
        let index = find_clue(piece.model(), clue).map_err(raise)?;
        let mut variant = piece.clone();
        variant.piece = variant.piece.leaving_out(index);
        Ok(variant)
    }

    /// What the piece is called: `print(jug.title)`.
    #[rhai_fn(get = "title", pure)]
    pub fn title(piece: &mut PieceHandle) -> String {
        piece.piece.title.clone()
    }

    /// The same piece under another title, for variants: `jug.titled("as if unmarked")`.
    #[rhai_fn(return_raw, pure)]
    pub fn titled(piece: &mut PieceHandle, title: &str) -> Raw<PieceHandle> {
        let mut variant = piece.clone();
        variant.piece.title = one_line::title(title).map_err(raise)?;
        Ok(variant)
    }
}

impl PieceHandle {
    pub(super) fn model(&self) -> &Model {
        &self.pack.compiled.model
    }

    /// The piece, its next finding written down where the script calls.
    pub(super) fn entering(&self, call: &NativeCallContext<'_>) -> Self {
        let place = self.pack.run.place_of(call);
        self.with(self.piece.entering_at(place))
    }

    /// Another piece judged by the same pack.
    pub(super) fn with(&self, piece: Piece) -> Self {
        Self {
            pack: self.pack.clone(),
            piece,
        }
    }

    /// Notes a finding, as a first or as a second look.
    pub(super) fn note(
        &self,
        clue: &str,
        look: impl Fn(&Clue) -> Result<(Look, String), PieceError>,
        again: bool,
    ) -> Raw<Self> {
        let model = self.model();
        let noted = find_clue(model, clue).and_then(|index| {
            let (look, said) = look(&model.catalogue.clues[index])?;
            if again {
                self.piece.note_again(index, look, said, model)
            } else {
                self.piece.note(index, look, said, model)
            }
        });
        Ok(self.with(noted.map_err(raise)?))
    }
}
