//! Tuning a prior from experience: what to write in a row after more pieces have been seen.

use rhai::plugin::{Dynamic, export_module};
use rhai::{Engine, Map};

use super::fault::Fault;
use super::numbers;
use super::values::{self, Number};
use crate::model::belief::Dirichlet;
use crate::pack::belief::{chance_from_number, chance_from_text};

/// Registers the function.
pub(super) fn register(engine: &mut Engine) {
    let module = rhai::exported_module!(tuning_functions);
    engine.register_global_module(module.into());
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod tuning_functions {
    use rhai::plugin::*;

    /// The row to write after seeing more pieces, ready to be pasted into a prior file. Takes what was said, the pieces
    /// behind it, and how many more pieces of each state were seen:
    /// `print(after_seeing(#{ "white": "15%", "blue": "85%" }, 60, #{ "white": 3, "blue": 7 }))`.
    #[rhai_fn(return_raw)]
    pub fn after_seeing(say: Map, seen: Number, counts: Map) -> Result<String, Box<EvalAltResult>> {
        row_after(&say, &seen, &counts).map_err(Fault::raise)
    }
}

fn row_after(say: &Map, seen: &Dynamic, counts: &Map) -> Result<String, Fault> {
    let mut chances = Vec::new();
    for (state, said) in say {
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
    for state in say.keys() {
        seen_counts.push(
            counts
                .get(state)
                .map_or(Ok(0.0), |count| number(count, state))?,
        );
    }
    let fault = |error: crate::model::belief::DirichletError| Fault::new(error.to_string());
    let belief = Dirichlet::new(chances, number(seen, "seen")?).map_err(fault)?;
    let updated = belief.updated(&seen_counts).map_err(fault)?;
    let parts = say
        .keys()
        .zip(belief.parameters())
        .zip(&seen_counts)
        .map(|((state, alpha), n)| {
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
