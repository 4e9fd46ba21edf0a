//! How a finding was come by, how sure it is, whose it is, and what it may be compared with.

use rhai::plugin::{NativeCallContext, export_module};
use rhai::{Engine, Map};

use super::chances::{chance_of, chances_by_state, largest_first};
use super::fault::raise;
use super::handles::{PieceHandle, Raw};
use super::looks::{found_look, seen, state_name};
use super::numbers::in_words;
use super::values::{self, ChanceGiven, Found, StateGiven};
use crate::model::Clue;
use crate::piece::{
    Compared, HowSeen, Look, PieceError, believed as believed_look, find_class, find_clue,
    require_coding, sure as sure_look,
};

/// Registers the functions.
pub(super) fn register(engine: &mut Engine) {
    let module = rhai::exported_module!(finding_functions);
    engine.register_global_module(module.into());
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod finding_functions {
    /// Says how the findings that follow are come by, as far as known: who looks, when, in what light, with what tool, before
    /// or after cleaning. What is not named stays as it was; `""` takes a part out:
    /// `jug.looking(#{ who: "E. Rowan", when: "2024-03-02", light: "north window", tool: "x10 loupe", cleaning: "before" })`.
    #[rhai_fn(return_raw, pure)]
    pub fn looking(piece: &mut PieceHandle, how: Map) -> Raw<PieceHandle> {
        let mut all = piece.piece.how().clone();
        for (part, text) in &how {
            let text = values::text(text).ok_or_else(|| {
                let kind = in_words(text);
                raise(PieceError::HowSeen {
                    what: format!("`{part}` is noted as a text, not as {kind}; write it in quotes"),
                })
            })?;
            all = HowSeen::noted(&all, part, &text).map_err(raise)?;
        }
        let mut looked = piece.clone();
        looked.piece = piece.piece.looked_at(all);
        Ok(looked)
    }

    /// Notes a reading with how sure it is: the chance that the piece looks as it did, if it is what it looks like. Likelihood
    /// evidence, weighed with all the rest: `jug.sure("tint", "blue", "80%")`.
    #[rhai_fn(return_raw, pure)]
    pub fn sure(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        clue: &str,
        state: StateGiven,
        chance: ChanceGiven,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        let right = chance_of(&chance)?;
        let state = state_name(&state);
        let said = format!("{state}, sure {}", percent(right));
        piece.note(
            clue,
            |clue| Ok((sure_look(clue, &state, right)?, said.clone())),
            false,
        )
    }

    /// Notes a stated belief (Jeffrey's rule): the probabilities that the states shall have, everything else considered. It
    /// is not weighed but put in the place of what the model would believe: `jug.believed("tint", #{ "blue": 0.7, "white": 0.3 })`.
    #[rhai_fn(return_raw, pure)]
    pub fn believed(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        clue: &str,
        probabilities: Map,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        piece.note(clue, |clue| belief(clue, &probabilities), false)
    }

    /// Notes what another observer made of a clue without knowing the first coding: a second reading of the same state, as
    /// reliable as the pack says of that observer. Takes a state or a map of likelihoods:
    /// `plate.saw("rim", "plain").looking(#{ who: "rowan" }).blind("rim", "beaded")`.
    #[rhai_fn(return_raw, pure)]
    pub fn blind(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        clue: &str,
        found: Found,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        let model = piece.model();
        let noted = find_clue(model, clue).and_then(|index| {
            let (look, said) = found_look(model, &model.catalogue.clues[index], &found)?;
            piece.piece.note_blind(index, look, said, model)
        });
        Ok(piece.with(noted.map_err(raise)?))
    }

    /// Notes a coding made for the pieces of one size class, and is refused if the piece is of another:
    /// `jug.coded_for("wheel", 10, "middle")`.
    #[rhai_fn(return_raw, pure)]
    pub fn coded_for(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        clue: &str,
        state: StateGiven,
        size_class: &str,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        compared(piece, clue, size_class, false, |clue| {
            let (look, said) = seen(clue, &state)?;
            Ok((look, format!("{said} (coded for {size_class} pieces)")))
        })
    }

    /// Notes a coding made for another size class as a loose comparison, with the chance that the motif is the same on a piece
    /// of this size: `jug.coded_loosely("wheel", 8, "large", "40%")`.
    #[rhai_fn(return_raw, pure)]
    pub fn coded_loosely(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        clue: &str,
        state: StateGiven,
        size_class: &str,
        chance: ChanceGiven,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        let right = chance_of(&chance)?;
        let state = state_name(&state);
        compared(piece, clue, size_class, true, |clue| {
            let look = sure_look(clue, &state, right)?;
            Ok((
                look,
                format!(
                    "{state}, loosely compared with {size_class} pieces, sure {}",
                    percent(right)
                ),
            ))
        })
    }
}

fn compared(
    piece: &PieceHandle,
    clue: &str,
    size_class: &str,
    loosely: bool,
    look: impl Fn(&Clue) -> Result<(Look, String), PieceError>,
) -> Raw<PieceHandle> {
    let model = piece.model();
    let noted = find_clue(model, clue).and_then(|index| {
        require_coding(model, index)?;
        let compared = Compared {
            size_class: find_class(model, size_class)?,
            loosely,
        };
        let (look, said) = look(&model.catalogue.clues[index])?;
        piece
            .piece
            .note_for_class(index, look, said, compared, model)
    });
    Ok(piece.with(noted.map_err(raise)?))
}

fn belief(clue: &Clue, probabilities: &Map) -> Result<(Look, String), PieceError> {
    let entries = chances_by_state(probabilities, |what, state| PieceError::Beliefs {
        clue: clue.id.clone(),
        what: format!(
            "holds {what} for {state}; a probability is a number, or a text such as \"70%\""
        ),
    })?;
    let look = believed_look(clue, entries.iter().copied())?;
    Ok((look, format!("believed: {}", largest_first(entries))))
}

/// `80%`, without digits that say nothing.
fn percent(chance: f64) -> String {
    let text = format!("{:.4}", 100.0 * chance);
    format!("{}%", text.trim_end_matches('0').trim_end_matches('.'))
}
