//! Circles, cases that can happen and have no row, and states that nothing can produce.

use super::draft::{Draft, DraftId, Gaps};
use super::support;
use crate::diagnostic::Diagnostic;
use crate::network::Role;
use crate::source::Span;

/// The variables, parents first; a circle is reported.
pub fn order(draft: &Draft<'_>, out: &mut Vec<Diagnostic>) -> Option<Vec<DraftId>> {
    let mut order = Vec::new();
    let mut placed = vec![false; draft.variables.len()];
    while order.len() < placed.len() {
        let next = (0..placed.len())
            .find(|&id| !placed[id] && draft.variables[id].parents.iter().all(|&p| placed[p]));
        let Some(next) = next else {
            out.push(circle(draft, &placed));
            return None;
        };
        placed[next] = true;
        order.push(next);
    }
    Some(order)
}

/// Every variable left over has a parent left over; walking up the parents must come round.
fn circle(draft: &Draft<'_>, placed: &[bool]) -> Diagnostic {
    let mut path: Vec<DraftId> = placed
        .iter()
        .position(|placed| !placed)
        .into_iter()
        .collect();
    let start = loop {
        let last = path[path.len() - 1];
        let parent = draft.variables[last]
            .parents
            .iter()
            .copied()
            .find(|&p| !placed[p])
            .unwrap_or(last);
        if let Some(start) = path.iter().position(|&id| id == parent) {
            break start;
        }
        path.push(parent);
    };
    let round: Vec<DraftId> = path[start..].to_vec();
    let name = |id: DraftId| draft.variables[id].name.value.as_str();
    let names: Vec<&str> = round.iter().map(|&id| name(id)).collect();
    let place = |id: DraftId| draft.variables[id].name.span;
    let mut report = Diagnostic::error(
        "pack::circle",
        format!(
            "`{}` depends on itself: {} → {}",
            names[0],
            names.join(" → "),
            names[0]
        ),
        place(round[0]),
    );
    if round.len() > 1 {
        report = report.label(format!("depends on `{}`", names[1]));
    }
    for (step, &id) in round.iter().enumerate().skip(1) {
        let next = names[(step + 1) % names.len()];
        report = report.also(place(id), format!("depends on `{next}`"));
    }
    report
        .hint("take one of these names out of a `depends_on`: causes first, what they bring about after them")
}

/// Reports cases that can happen and have no row, and states that nothing can produce.
pub fn report(draft: &Draft<'_>, order: &[DraftId], out: &mut Vec<Diagnostic>) {
    for variable in &draft.variables {
        let Some(table) = &variable.table else {
            continue;
        };
        let name = match table.gaps {
            Gaps::Report => &variable.name.value,
            Gaps::ReportAs(name) => name,
            Gaps::Leave | Gaps::FromHistories => continue,
        };
        let missing = |configuration: usize| table.rule_of_configuration[configuration].is_none();
        let place = table.place;
        report_missing_rows(draft, order, name, &variable.parents, missing, place, out);
    }
    for measure in draft
        .measures
        .iter()
        .filter(|m| !matches!(m.gaps, Gaps::Leave | Gaps::FromHistories))
    {
        let name = &measure.name.value;
        let missing =
            |configuration: usize| measure.belief_of_configuration[configuration].is_none();
        let place = measure.place;
        report_missing_rows(draft, order, name, &measure.parents, missing, place, out);
    }
    // What a mark, say, of a maker that cannot be brings about cannot be either: only the maker is reported.
    let mut lacks_a_state = vec![false; draft.variables.len()];
    for &id in order {
        let variable = &draft.variables[id];
        if variable.role == Role::Input || variable.table.is_none() {
            continue;
        }
        if variable.parents.iter().any(|&parent| lacks_a_state[parent]) {
            lacks_a_state[id] = true;
            continue;
        }
        let Some(possible) = support::possible(draft, order, &[id]) else {
            continue;
        };
        let is_told = |table: &super::draft::DraftTable| table.gaps == Gaps::FromHistories;
        let (why, hint) = if variable.table.as_ref().is_some_and(is_told) {
            (
                "nobody who was at work then had it and used it",
                "mend its history or `use`, or take it out; `saggar engravings` shows who could pull from what",
            )
        } else {
            ("", "give it a chance in some row, or take it out")
        };
        for (state, word) in variable.states.iter().enumerate() {
            // A strike of `none` in a pack without unmarked ware, say, is the engine's own state, not the expert's.
            let is_stated = word.span != variable.name.span;
            if is_stated && !possible.contains(&vec![state]) {
                lacks_a_state[id] = true;
                let no_row = format!(
                    "no row gives this {} a chance",
                    variable_in_words(&variable.name.value)
                );
                let why = if why.is_empty() { &no_row } else { why };
                out.push(
                    Diagnostic::error(
                        "pack::state-never-produced",
                        format!("nothing can produce `{}`: {why}", word.value),
                        word.span,
                    )
                    .hint(hint),
                );
            }
        }
    }
}

/// Reports the cases of `parents` that can happen and are `missing` from the table called `name`.
pub fn report_missing_rows(
    draft: &Draft<'_>,
    order: &[DraftId],
    name: &str,
    parents: &[DraftId],
    missing: impl Fn(usize) -> bool,
    place: Span,
    out: &mut Vec<Diagnostic>,
) {
    let n_configurations: usize = parents
        .iter()
        .map(|&p| draft.variables[p].states.len())
        .product();
    if !(0..n_configurations).any(&missing) {
        return;
    }
    let describe = |states: &[usize]| {
        let part = |(&parent, &state): (&DraftId, &usize)| {
            let parent = &draft.variables[parent];
            format!("{} = {}", parent.name.value, parent.states[state].value)
        };
        parents
            .iter()
            .zip(states)
            .map(part)
            .collect::<Vec<_>>()
            .join(", ")
    };
    let index = |states: &[usize]| {
        parents.iter().zip(states).fold(0, |index, (&p, &state)| {
            index * draft.variables[p].states.len() + state
        })
    };
    let cases: Vec<String> = match support::possible(draft, order, parents) {
        Some(possible) => possible
            .iter()
            .filter(|states| missing(index(states)))
            .map(|s| describe(s))
            .collect(),
        // Too many combinations to tell which can happen: every case then needs a row.
        None => vec!["a case that may happen".to_owned()],
    };
    if cases.is_empty() {
        return;
    }
    let shown = cases.iter().take(3).cloned().collect::<Vec<_>>().join("; ");
    let more = if cases.len() > 3 {
        format!("; and {} more", cases.len() - 3)
    } else {
        String::new()
    };
    out.push(
        Diagnostic::error(
            "pack::missing-row",
            format!("no row of `{name}` speaks for {shown}{more}"),
            place,
        )
        .hint("add a row for each, or one row with `otherwise = true`"),
    );
}

fn variable_in_words(name: &str) -> String {
    match name {
        "mark_kind" => "mark".to_owned(),
        "maker" | "works" | "region" | "period" | "size" | "engraving" => name.to_owned(),
        _ => format!("state of `{name}`"),
    }
}
