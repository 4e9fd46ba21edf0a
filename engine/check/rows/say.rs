//! The chances that a row says: for every state, adding to 1, zeros only where they are meant.

use crate::check::names;
use crate::diagnostic::{Diagnostic, has_errors};
use crate::pack::belief::{Chance, Firmness};
use crate::pack::text::{Placed, Remainder, Say, Word};
use crate::source::Span;

/// How far a row may miss 1 before it is reported. The rounding of a few dozen decimal fractions stays well below it.
pub const SUM_TOLERANCE: f64 = 1e-9;

/// One chance for the first of two states.
pub fn single(
    chance: &Placed<Chance>,
    n_states: usize,
    out: &mut Vec<Diagnostic>,
) -> Option<Vec<f64>> {
    if n_states != 2 {
        out.push(
            Diagnostic::error(
                "pack::row-form",
                format!("one chance does not do for {n_states} states"),
                chance.span,
            )
            .hint("write `say = { state = chance, … }`"),
        );
        return None;
    }
    report_zero(chance, out);
    Some(vec![chance.value.value, 1.0 - chance.value.value])
}

/// A chance for each state, from a map that may leave some to `otherwise`.
///
/// Reports unknown and repeated states, states left out, sums that miss 1, and zeros that were not meant.
pub fn say_chances(say: &Say, states: &[Word], out: &mut Vec<Diagnostic>) -> Option<Vec<f64>> {
    let n_reports = out.len();
    let mut chances: Vec<Option<f64>> = vec![None; states.len()];
    for (state, chance) in &say.entries {
        let Some(place) = names::find("state", state, states.iter().map(|s| s.value.as_str()), out)
        else {
            continue;
        };
        if let Some(chance) = chance {
            chances[place] = Some(chance.value.value);
            report_zero(chance, out);
        }
    }
    // A chance that could not be read, or a state that is not known, would make the sum look wrong as well.
    let readable = say.readable && say.entries.iter().all(|(_, chance)| chance.is_some());
    if !readable || has_errors(&out[n_reports..]) {
        return None;
    }
    let left_out: Vec<usize> = (0..states.len())
        .filter(|&s| chances[s].is_none())
        .collect();
    let sum: f64 = chances.iter().flatten().sum();
    let rest = match &say.otherwise {
        Some(remainder) if left_out.is_empty() => {
            out.push(
                Diagnostic::error(
                    "pack::otherwise",
                    "every state is named; nothing is left for `otherwise`",
                    remainder.span,
                )
                .hint("take `otherwise` out"),
            );
            return None;
        }
        Some(Placed {
            value: Remainder::Evenly,
            ..
        }) if sum < 1.0 + SUM_TOLERANCE => (1.0 - sum).max(0.0) / left_out.len() as f64,
        Some(_) => 0.0,
        // A single state for certain needs no word about the others.
        None if say
            .entries
            .iter()
            .filter_map(|(_, chance)| chance.as_ref())
            .any(|c| c.value.firmness == Firmness::Certain) =>
        {
            0.0
        }
        None if left_out.is_empty() => 0.0,
        None => {
            let names: Vec<String> = left_out
                .iter()
                .map(|&s| format!("`{}`", states[s].value))
                .collect();
            let names = names::list(names.iter().map(String::as_str));
            out.push(Diagnostic::error("pack::state-left-out", format!("nothing is said of {names}"), say.span).hint(
                "give each a chance, or end the row with `otherwise = \"impossible\"` or `otherwise = \"evenly\"`",
            ));
            return None;
        }
    };
    let evenly = matches!(&say.otherwise, Some(o) if o.value == Remainder::Evenly);
    let total = if evenly { sum.max(1.0) } else { sum };
    if (total - 1.0).abs() > SUM_TOLERANCE {
        out.push(row_sum(total, states.len(), say.span));
        return None;
    }
    Some(
        chances
            .into_iter()
            .map(|chance| chance.unwrap_or(rest))
            .collect(),
    )
}

fn row_sum(sum: f64, n_states: usize, span: Span) -> Diagnostic {
    sum_off("pack::row-sum", "the chances", sum, span)
        .label(format!("{n_states} states, {}", off(sum)))
}

/// The report of chances that miss 1; `whose` are they?
pub fn sum_off(code: &'static str, whose: &str, sum: f64, span: Span) -> Diagnostic {
    Diagnostic::error(
        code,
        format!("{whose} sum to {}, not to 1", digits(sum)),
        span,
    )
    .label(off(sum))
    .hint("mend them by hand; they are never rescaled in silence")
}

fn off(sum: f64) -> String {
    if sum < 1.0 {
        format!("{} missing", digits(1.0 - sum))
    } else {
        format!("{} too much", digits(sum - 1.0))
    }
}

/// Twelve digits show a slip in the tenth; trailing rounding beyond that would only confuse.
fn digits(x: f64) -> String {
    format!("{x:.12}")
        .trim_end_matches('0')
        .trim_end_matches('.')
        .to_owned()
}

/// A zero that was not meant as impossible.
pub fn report_zero(chance: &Placed<Chance>, out: &mut Vec<Diagnostic>) {
    if chance.value.value == 0.0 && chance.value.firmness != Firmness::Impossible {
        out.push(
            Diagnostic::warning(
                "pack::zero",
                "a chance of exactly 0 can never be overturned by any clue",
                chance.span,
            )
            .hint("give it a small chance, or write \"impossible\" if that is meant"),
        );
    }
}

/// The states that a row with some defect can produce, as far as it goes.
pub fn possible_states(say: &Say, states: &[Word]) -> Vec<bool> {
    let is_known = |word: &Word| states.iter().any(|state| state.value == word.value);
    // A misspelt name may mean any of the states that are not named.
    let others = !say.readable
        || say
            .otherwise
            .as_ref()
            .is_none_or(|o| o.value == Remainder::Evenly)
        || !say.entries.iter().all(|(word, _)| is_known(word));
    let possible = |state: &Word| match say
        .entries
        .iter()
        .find(|(word, _)| word.value == state.value)
    {
        Some((_, chance)) => chance.as_ref().is_none_or(|c| c.value.value > 0.0),
        None => others,
    };
    states.iter().map(possible).collect()
}
