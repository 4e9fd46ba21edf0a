//! Clues with agreed states, and what else is declared by its states: hidden qualities, codings, marks.

use super::draft::{ClueDraft, Draft};
use super::names;
use super::rows::stated_table;
use crate::diagnostic::Diagnostic;
use crate::pack::text::{Clue, Word};

/// Kinds a clue may have whose states are agreed.
pub const KINDS: [&str; 3] = ["choice", "graded", "count"];

/// Declares a clue with agreed states.
pub fn declare(clue: &Clue, draft: &mut Draft<'_>) -> ClueDraft {
    let about = clue.name.as_ref().unwrap_or(&clue.id).value.clone();
    let ordered = matches!(clue.kind.value.as_str(), "graded" | "count");
    let simulated = clue.simulated.iter().map(|simulated| &simulated.state);
    let states = clue.states.iter().chain(simulated).cloned().collect();
    ClueDraft::Variable(draft.declare(clue.id.clone(), &about, states, ordered))
}

/// The table of a clue with agreed states.
pub fn table(clue: &Clue, id: &ClueDraft, draft: &mut Draft<'_>, out: &mut Vec<Diagnostic>) {
    let ClueDraft::Variable(id) = *id else { return };
    report(&clue.id, &clue.states, out);
    if let Some(simulated) = &clue.simulated {
        let genuine = clue
            .states
            .iter()
            .filter(|s| s.value == simulated.state.value);
        names::report_duplicates("state", genuine.chain([&simulated.state]), out);
    }
    if let Some(absent) = &clue.absent {
        names::find(
            "state",
            absent,
            clue.states.iter().map(|s| s.value.as_str()),
            out,
        );
    }
    let parents = draft.parents(&clue.table.depends_on, out);
    let about = draft.variables[id].about.clone();
    // Rows speak of genuine states; a simulated one, which stands last, is added to them later.
    let states = &clue.states;
    if let Some(mut table) = stated_table(draft, &clue.table, &parents, states, &about, out) {
        table.place = clue.id.span;
        draft.set_table(id, parents, table);
    }
}

/// Reports a list of states that is empty or names one twice.
pub fn report(id: &Word, states: &[Word], out: &mut Vec<Diagnostic>) {
    if states.is_empty() {
        out.push(
            Diagnostic::error(
                "pack::missing",
                format!("`{}` has no states", id.value),
                id.span,
            )
            .hint("add `states = [\"…\", \"…\"]`: the agreed readings"),
        );
    }
    names::report_duplicates("state", states, out);
}
