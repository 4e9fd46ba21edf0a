//! Tuning a prior from experience: what to write in a row after more pieces have been seen.

use std::sync::Arc;

use rhai::plugin::FuncRegistration;
use rhai::{Dynamic, Engine, Map};

use super::fault::Fault;
use super::handles::Raw;
use super::{Run, lock, numbers, values};
use crate::model::belief::Dirichlet;
use crate::pack::belief::{chance_from_number, chance_from_text};

/// Registers the function.
pub(super) fn register(engine: &mut Engine, run: &Arc<Run>) {
    let run = Arc::clone(run);
    FuncRegistration::new("after_seeing")
        .with_params_info(["say: Map", "seen: Number", "counts: Map", "Raw<String>"])
        .with_comments([
            "/// The row to write after seeing more pieces, ready to be pasted into a prior file. Takes what was said, the pieces behind",
            "/// it, and how many more pieces of each state were seen. States stand in the order of the pack opened that has them, or else",
            "/// by name: `print(after_seeing(#{ \"white\": \"15%\", \"blue\": \"85%\" }, 60, #{ \"white\": 3, \"blue\": 7 }))`.",
        ])
        .register_into_engine(
            engine,
            move |say: Map, seen: Dynamic, counts: Map| -> Raw<String> {
                row_after(&say, &seen, &counts, &run).map_err(Fault::raise)
            },
        );
}

/// The states of a row as an opened pack puts them; by name where none has just these.
fn in_order<'m>(say: &'m Map, run: &Run) -> Vec<(&'m str, &'m Dynamic)> {
    let mut states: Vec<(&str, &Dynamic)> = say
        .iter()
        .map(|(state, said)| (state.as_str(), said))
        .collect();
    let opened = lock(&run.packs);
    let clues = opened.values().flat_map(|pack| &pack.model.catalogue.clues);
    let mut orders = clues.map(|clue| &clue.states).filter(|known| {
        known.len() == say.len() && known.iter().all(|state| say.contains_key(state.as_str()))
    });
    if let Some(order) = orders.next() {
        states.sort_by_key(|(state, _)| order.iter().position(|known| known == state));
    }
    states
}

fn row_after(say: &Map, seen: &Dynamic, counts: &Map, run: &Run) -> Result<String, Fault> {
    let states = in_order(say, run);
    let mut chances = Vec::new();
    for &(state, said) in &states {
        let chance = match values::text(said) {
            Some(text) => chance_from_text(&text),
            None => chance_from_number(number(said, state)?),
        };
        let chance = chance.map_err(|error| {
            Fault::new(format!("`{state}`: {error}")).hint(crate::pack::belief::FORMS)
        })?;
        chances.push(chance.value);
    }
    if let Some(unknown) = counts
        .keys()
        .find(|state| !say.contains_key(state.as_str()))
    {
        return Err(Fault::new(format!(
            "`{unknown}` was counted, and nothing was said of it"
        ))
        .hint("name every state in the first map, with the chance it had"));
    }
    let mut seen_counts = Vec::new();
    for &(state, _) in &states {
        seen_counts.push(
            counts
                .get(state)
                .map_or(Ok(0.0), |count| number(count, state))?,
        );
    }
    let fault = |error: crate::model::belief::DirichletError| Fault::new(error.to_string());
    let belief = Dirichlet::new(chances, number(seen, "seen")?).map_err(fault)?;
    let updated = belief.updated(&seen_counts).map_err(fault)?;
    let parts = states
        .iter()
        .zip(belief.parameters())
        .zip(&seen_counts)
        .map(|(((state, _), alpha), n)| {
            // Counts out of the whole sum to 1 exactly, where rounded percentages would not.
            format!("\"{state}\" = \"{} in {}\"", alpha + n, updated.seen())
        });
    Ok(format!(
        "say = {{ {} }}, seen = {}",
        parts.collect::<Vec<_>>().join(", "),
        updated.seen()
    ))
}

fn number(value: &Dynamic, what: &str) -> Result<f64, Fault> {
    numbers::number(value).map_err(|kind| Fault::new(format!("`{what}` is a number, not {kind}")))
}
