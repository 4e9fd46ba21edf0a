//! Two beliefs moved together.
//!
//! If each chance feeds one table in proportion, P(state, evidence) is linear in either with the other held: so is what
//! stands above and below the line, and a ratio of linear functions is monotone. The extremes over a box of both intervals
//! then lie at its corners (move along the first until its end, then along the second). Otherwise a grid is looked at.

use crate::model::Model;
use crate::query::AskError;

use super::assess::Assessment;
use super::probe::Probe;
use super::{Contest, Corner, Pair};

/// Values of each number where extremes need not lie at corners.
const GRID: usize = 7;

/// Every two of the `n` beliefs that move the answer most, each by the number of it that does. `assessed` is sorted so.
pub(super) fn of(
    model: &Model,
    probe: &mut Probe<'_>,
    contest: &Contest,
    assessed: &[Assessment],
    n: usize,
) -> Result<Vec<Pair>, AskError> {
    let mut chosen: Vec<&Assessment> = Vec::new();
    for assessment in assessed.iter().filter(|a| a.span() > 0.0) {
        let is_new = |other: &&Assessment| other.entry.belief != assessment.entry.belief;
        if chosen.len() < n && chosen.iter().all(is_new) {
            chosen.push(assessment);
        }
    }
    let mut pairs = Vec::new();
    for (i, first) in chosen.iter().enumerate() {
        for second in &chosen[i + 1..] {
            pairs.extend(pair(model, probe, contest, first, second)?);
        }
    }
    let width = |pair: &Pair| pair.high.probability - pair.low.probability;
    pairs.sort_by(|a, b| width(b).total_cmp(&width(a)));
    Ok(pairs)
}

fn pair(
    model: &Model,
    probe: &mut Probe<'_>,
    contest: &Contest,
    first: &Assessment,
    second: &Assessment,
) -> Result<Option<Pair>, AskError> {
    let exact = first.is_linear() && second.is_linear();
    let n = if exact { 2 } else { GRID };
    let values = |assessment: &Assessment| {
        let [low, high] = assessment.entry.interval;
        let at = |i: usize| low + (high - low) * i as f64 / (n - 1) as f64;
        (0..n).map(at).collect::<Vec<f64>>()
    };
    let spread = |a: &Assessment| &model.beliefs.get(a.entry.belief).spread;
    let mut corners = Vec::with_capacity(n * n);
    let mut lead_holds = true;
    for x in values(first) {
        let first_cells = first.entry.cells(spread(first), x);
        for y in values(second) {
            let second_cells = second.entry.cells(spread(second), y);
            let masses = probe.with_all(&[
                (first.entry.belief, &first_cells),
                (second.entry.belief, &second_cells),
            ])?;
            lead_holds &= contest.overtaken_by(&masses).is_none();
            corners.push(Corner {
                probability: contest.probability(&masses),
                first: x,
                second: y,
            });
        }
    }
    let by_probability = |a: &&Corner, b: &&Corner| a.probability.total_cmp(&b.probability);
    // Where the evidence is impossible there is no answer.
    let answered = || corners.iter().filter(|corner| !corner.probability.is_nan());
    let low = answered().min_by(by_probability).copied();
    let high = answered().max_by(by_probability).copied();
    let (Some(low), Some(high)) = (low, high) else {
        return Ok(None);
    };
    let name = |a: &Assessment| {
        let about = &model.beliefs.get(a.entry.belief).about;
        format!("{about}: {}", a.entry.label)
    };
    Ok(Some(Pair {
        first: name(first),
        second: name(second),
        low,
        high,
        first_alone: first.range,
        second_alone: second.range,
        lead_holds,
        exact,
    }))
}
