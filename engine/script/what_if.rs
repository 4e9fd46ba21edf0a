//! What-if tables, comparisons and why-nots from scripts.

use rhai::plugin::{Dynamic, export_module};
use rhai::{Array, Engine, Map};

use super::fault::{Fault, raise};
use super::handles::{
    ComparisonHandle, ContrastsHandle, PackHandle, PieceHandle, Raw, VariedHandle, WhyNotHandle,
};
use super::looks::state_name;
use super::questions::{QuestionHandle, question};
use super::values::{AboutGiven, VariedOver};
use crate::compare::compare as compare_pieces;
use crate::model::Model;
use crate::piece::{PieceError, find_clue, find_state};
use crate::vary::Over;

/// Registers the functions.
pub(super) fn register(engine: &mut Engine) {
    engine.register_type_with_name::<VariedHandle>("variants");
    engine.register_type_with_name::<ComparisonHandle>("comparison");
    engine.register_type_with_name::<WhyNotHandle>("reasons against");
    let module = rhai::exported_module!(what_if_functions);
    engine.register_global_module(module.into());
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod what_if_functions {
    /// The verdict under every state of a clue, all else as found, however the clue itself was found: `show(jug.vary("tint"))`;
    /// of several clues, `jug.vary(["tint", "foot"])`; over some states, `jug.vary(#{ tint: ["blue", "white"] })`.
    #[rhai_fn(return_raw, pure)]
    pub fn vary(piece: &mut PieceHandle, over: VariedOver) -> Raw<VariedHandle> {
        varied(piece, &over, None)
    }

    /// The same for a claim or question of your own: `jug.vary("tint", region("Saltharrow"))`.
    #[rhai_fn(return_raw, pure, name = "vary")]
    pub fn vary_for(
        piece: &mut PieceHandle,
        over: VariedOver,
        about: AboutGiven,
    ) -> Raw<VariedHandle> {
        let about = question(&about).map_err(Fault::raise)?;
        varied(piece, &over, Some(&about))
    }

    /// The verdict beside what it would be with the list closed, with codings taken as independent, and with each group of
    /// findings left out: `show(jug.contrasts())`.
    #[rhai_fn(return_raw, pure)]
    pub fn contrasts(piece: &mut PieceHandle) -> Raw<ContrastsHandle> {
        contrasted(piece, &[])
    }

    /// The same, and what another expert's pack makes of the piece: `jug.contrasts(open_pack("tidewheel"))`.
    #[rhai_fn(return_raw, pure, name = "contrasts")]
    pub fn contrasts_with(piece: &mut PieceHandle, other: PackHandle) -> Raw<ContrastsHandle> {
        contrasted(piece, &[&other.compiled])
    }

    /// Two pieces, or one under two packs, side by side, for the maker that leads in the first:
    /// `show(compare(jug, jug.without("mark")))`.
    #[rhai_fn(return_raw)]
    pub fn compare(first: PieceHandle, second: PieceHandle) -> Raw<ComparisonHandle> {
        compared(&first, &second, None)
    }

    /// The same for a claim or question of your own: `compare(jug, jug.without("mark"), region("Saltharrow"))`.
    #[rhai_fn(return_raw, name = "compare")]
    pub fn compare_for(
        first: PieceHandle,
        second: PieceHandle,
        about: AboutGiven,
    ) -> Raw<ComparisonHandle> {
        let about = question(&about).map_err(Fault::raise)?;
        compared(&first, &second, Some(&QuestionHandle(about)))
    }

    /// The piece as another pack judges it, clues and states found by name: `jug.under(open_pack("tidewheel"))`. Refused if
    /// the other pack has no place for a finding.
    #[rhai_fn(return_raw, pure)]
    pub fn under(piece: &mut PieceHandle, pack: PackHandle) -> Raw<PieceHandle> {
        let (carried, left) = piece.piece.carried(piece.model(), &pack.compiled.model);
        if left.is_empty() {
            return Ok(PieceHandle {
                pack,
                piece: carried,
            });
        }
        let name = &pack.compiled.model.name;
        let mut fault = Fault::new(format!("the pack {name} has no place for every finding"));
        for left in left {
            fault = fault.hint(format!("{}: {} ({})", left.clue, left.said, left.why));
        }
        Err(fault.hint("take them out first, with `without`").raise())
    }

    /// Why the leading maker and not this one: which findings speak against it, and what it would have been expected to
    /// show: `show(jug.why_not("K07"))`.
    #[rhai_fn(return_raw, pure)]
    pub fn why_not(piece: &mut PieceHandle, maker: &str) -> Raw<WhyNotHandle> {
        let why = piece.pack.compiled.why_not(&piece.piece, maker);
        Ok(WhyNotHandle(why.map_err(raise)?.into()))
    }
}

fn varied(
    piece: &PieceHandle,
    over: &Dynamic,
    about: Option<&crate::question::Question>,
) -> Raw<VariedHandle> {
    let over = self::over(piece.model(), over)?;
    let compiled = &piece.pack.compiled;
    let varied = compiled.vary(&piece.piece, &over, about).map_err(raise)?;
    Ok(VariedHandle(varied.into()))
}

fn contrasted(
    piece: &PieceHandle,
    others: &[&crate::model::CompiledModel],
) -> Raw<ContrastsHandle> {
    let contrasts = piece.pack.compiled.contrasts_with(&piece.piece, others);
    Ok(ContrastsHandle(contrasts.map_err(raise)?.into()))
}

fn compared(
    first: &PieceHandle,
    second: &PieceHandle,
    about: Option<&QuestionHandle>,
) -> Raw<ComparisonHandle> {
    let comparison = compare_pieces(
        (&first.pack.compiled, &first.piece),
        (&second.pack.compiled, &second.piece),
        about.map(|about| &about.0),
    );
    Ok(ComparisonHandle(comparison.map_err(raise)?.into()))
}

/// A clue, a list of clues, or a map of clues with the states to be varied over.
fn over(model: &Model, over: &Dynamic) -> Raw<Vec<Over>> {
    let all = |clue: &Dynamic| {
        let clue = find_clue(model, &state_name(clue)).map_err(raise)?;
        Ok(Over { clue, states: None })
    };
    if let Some(clues) = over.read_lock::<Array>() {
        return clues.iter().map(all).collect();
    }
    let Some(map) = over.read_lock::<Map>() else {
        return Ok(vec![all(over)?]);
    };
    let some = |clue: &str, states: &Dynamic| {
        let clue = find_clue(model, clue).map_err(raise)?;
        let about = &model.catalogue.clues[clue];
        let states: Result<Vec<usize>, PieceError> = match states.read_lock::<Array>() {
            Some(states) => states
                .iter()
                .map(|state| find_state(about, &state_name(state)))
                .collect(),
            None => find_state(about, &state_name(states)).map(|state| vec![state]),
        };
        let states = states.map_err(raise)?;
        let mut places = states.iter().enumerate();
        if let Some((_, &twice)) = places.find(|(place, state)| states[..*place].contains(state)) {
            let state = &about.states[twice];
            let fault = Fault::new(format!(
                "the state `{state}` of `{}` is named twice",
                about.id
            ));
            return Err(fault.hint("name each state once").raise());
        }
        Ok(Over {
            clue,
            states: Some(states),
        })
    };
    // In the pack's order, whatever the script's.
    let over = map.iter().map(|(clue, states)| some(clue, states));
    let mut over: Vec<Over> = over.collect::<Raw<_>>()?;
    over.sort_by_key(|over| over.clue);
    Ok(over)
}
