//! Asking what to look at next.

use rhai::plugin::export_module;
use rhai::{Array, Dynamic, Engine, Map};

use super::fault::{Fault, raise};
use super::handles::{NextLookHandle, OverturnHandle, PieceHandle, PlansHandle, Raw};
use super::questions::{ClaimHandle, QuestionHandle};
use super::values::WholeNumber;
use super::whole_numbers::whole_number;
use crate::next_look::{About, NextLookError, Options};
use crate::piece::find_clue;
use crate::query::AskError;
use crate::question::Question;

/// Registers the functions about the next look.
pub(super) fn register(engine: &mut Engine) {
    engine.register_type_with_name::<NextLookHandle>("next look");
    engine.register_type_with_name::<PlansHandle>("plan");
    engine.register_type_with_name::<OverturnHandle>("overturning readings");
    let module = rhai::exported_module!(next_look_functions);
    engine.register_global_module(module.into());
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod next_look_functions {

    /// What each look that is left is expected to tell about the maker, for its minutes: `jug.next_look()`.
    #[rhai_fn(return_raw, pure)]
    pub fn next_look(piece: &mut PieceHandle) -> Raw<NextLookHandle> {
        next(piece, &Options::default())
    }

    /// The same about the works, region or period, a claim, or one claim against another; and with clues named of which it was
    /// noted that one cannot tell, to be looked at again: `jug.next_look(#{ about: "works", again: ["border"] })`,
    /// `jug.next_look(#{ about: maker("K07").against(maker("K11")) })`.
    #[rhai_fn(return_raw, pure, name = "next_look")]
    pub fn next_look_about(piece: &mut PieceHandle, options: Map) -> Raw<NextLookHandle> {
        let options = read(piece, &options)?;
        next(piece, &options)
    }

    /// Plans of up to so many looks, 1 to 4: a fixed list, step by step, and the best there is: `jug.plan(3)`.
    #[rhai_fn(return_raw, pure)]
    pub fn plan(piece: &mut PieceHandle, n_looks: WholeNumber) -> Raw<PlansHandle> {
        planned(piece, &n_looks, &Options::default())
    }

    /// The same with options, as for `next_look`: `jug.plan(3, #{ about: "period" })`.
    #[rhai_fn(return_raw, pure, name = "plan")]
    pub fn plan_about(
        piece: &mut PieceHandle,
        n_looks: WholeNumber,
        options: Map,
    ) -> Raw<PlansHandle> {
        let options = read(piece, &options)?;
        planned(piece, &n_looks, &options)
    }

    /// The readings that would overturn the verdict; if no single one would, pairs of them: `jug.overturn()`.
    #[rhai_fn(return_raw, pure)]
    pub fn overturn(piece: &mut PieceHandle) -> Raw<OverturnHandle> {
        overturning(piece, &Options::default())
    }

    /// The same with options, as for `next_look`: `jug.overturn(#{ about: "region" })`.
    #[rhai_fn(return_raw, pure, name = "overturn")]
    pub fn overturn_about(piece: &mut PieceHandle, options: Map) -> Raw<OverturnHandle> {
        let options = read(piece, &options)?;
        overturning(piece, &options)
    }

    /// The name of the clue to look at next; empty if nothing is worth its minutes: `jug.next_look().clue`.
    #[rhai_fn(get = "clue", pure)]
    pub fn clue(next: &mut NextLookHandle) -> String {
        let best = next.0.looks.iter().find(|look| look.is_worth_it);
        best.map_or_else(String::new, |look| look.clue.clone())
    }

    /// How much is left open, in bits: `jug.next_look().entropy`.
    #[rhai_fn(get = "entropy", pure)]
    pub fn entropy(next: &mut NextLookHandle) -> f64 {
        next.0.entropy
    }

    /// What a look is expected to tell, in bits; where circumstances are open, under the best of them:
    /// `jug.next_look().bits("technique")`.
    #[rhai_fn(return_raw, pure)]
    pub fn bits(next: &mut NextLookHandle, clue: &str) -> Raw<f64> {
        let looks = next.0.looks.iter().filter(|look| look.clue == clue);
        let best = looks.map(|look| look.bits).reduce(f64::max);
        best.ok_or_else(|| {
            let fault = Fault::new(format!("there is nothing left to look at in `{clue}`"));
            fault
                .nearest_or_known(clue, next.0.looks.iter().map(|look| look.clue.as_str()))
                .raise()
        })
    }
}

fn next(piece: &PieceHandle, options: &Options) -> Raw<NextLookHandle> {
    let next = piece.pack.compiled.next_look(&piece.piece, options);
    Ok(NextLookHandle(next.map_err(raise)?.into()))
}

fn planned(piece: &PieceHandle, n_looks: &Dynamic, options: &Options) -> Raw<PlansHandle> {
    let n_looks = whole_number(n_looks, "the number of looks").map_err(Fault::raise)?;
    // A negative number of looks is as wrong as none.
    let n_looks = usize::try_from(n_looks).unwrap_or(0);
    let options = Options {
        stop: piece.pack.run.stop(),
        ..options.clone()
    };
    let plans = piece.pack.compiled.plan(&piece.piece, n_looks, &options);
    Ok(PlansHandle(plans.map_err(raise)?.into()))
}

fn overturning(piece: &PieceHandle, options: &Options) -> Raw<OverturnHandle> {
    let overturn = piece.pack.compiled.overturn(&piece.piece, options);
    Ok(OverturnHandle(overturn.map_err(raise)?.into()))
}

const KEYS: [&str; 2] = ["about", "again"];
const ABOUT: [(&str, About); 4] = [
    ("maker", About::Maker),
    ("works", About::Works),
    ("region", About::Region),
    ("period", About::Period),
];

/// What to ask about: a word, a claim, or one claim against another.
fn about(value: &Dynamic) -> Raw<About> {
    if let Some(claim) = value.read_lock::<ClaimHandle>() {
        return Ok(About::Question(Question::of(claim.0.clone())));
    }
    if let Some(question) = value.read_lock::<QuestionHandle>() {
        return Ok(About::Question(question.0.clone()));
    }
    let word = value.to_string();
    let found = ABOUT.iter().find(|(name, _)| *name == word);
    found.map(|(_, about)| about.clone()).ok_or_else(|| {
        Fault::new(format!("nothing can be looked at to tell of `{word}`"))
            .nearest_or_known(&word, ABOUT.iter().map(|(name, _)| *name))
            .raise()
    })
}

/// Clues to be looked at again, from a list of their names.
pub(super) fn again(piece: &PieceHandle, value: &Dynamic) -> Raw<Vec<usize>> {
    let clues = value.read_lock::<Array>().ok_or_else(|| {
        Fault::new("`again` takes a list of clues")
            .hint("write again: [\"border\"]")
            .raise()
    })?;
    let place = |clue: &Dynamic| find_clue(piece.model(), &clue.to_string()).map_err(raise);
    clues.iter().map(place).collect()
}

/// Options from a map: `about`, see [`about`]; `again`, a list of clues.
fn read(piece: &PieceHandle, map: &Map) -> Raw<Options> {
    let mut options = Options::default();
    for (key, value) in map {
        match key.as_str() {
            "about" => options.about = about(value)?,
            "again" => options.again = again(piece, value)?,
            other => {
                return Err(Fault::new(format!("a next look has no `{other}`"))
                    .nearest_or_known(other, KEYS.into_iter())
                    .raise());
            }
        }
    }
    Ok(options)
}

impl From<NextLookError> for Fault {
    fn from(error: NextLookError) -> Self {
        match error {
            NextLookError::Ask(error) => error.into(),
            NextLookError::Worlds(crate::next_look::worlds::WorldsError::Query(error)) => {
                AskError::Query(error).into()
            }
            NextLookError::Stopped => Self::out_of_time(),
            other => Self::with_remedy(&other.to_string()),
        }
    }
}
