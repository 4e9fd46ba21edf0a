//! States put on to deceive, tied to later reproductions.

use super::draft::{ClueDraft, Draft, DraftRule, DraftTable, seen};
use super::rows;
use super::rows::say::report_zero;
use crate::diagnostic::Diagnostic;
use crate::model::Spread;
use crate::model::column::ColumnRule;
use crate::model::column::simulated::Simulated;
use crate::pack::text::{Clue, PackText, Simulated as SimulatedText};

/// Which of two chances a maker takes.
const OF_REPRODUCTIONS: usize = 0;
const OF_OTHERS: usize = 1;

/// Adds the simulated state, if there is one, to the table of a clue or hidden quality. Its rows speak of genuine states.
pub fn tie(
    clue: &Clue,
    id: &ClueDraft,
    pack: &PackText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) {
    let (Some(text), ClueDraft::Variable(id)) = (&clue.simulated, *id) else {
        return;
    };
    report_chances(text, out);
    let Some(maker) = draft.find("maker") else {
        return;
    };
    let experience = seen(text.seen.as_ref(), None, text.state.span, out);
    let name = clue.name.as_ref().unwrap_or(&clue.id).value.clone();
    // One that could not be read is reported; the check goes on as if all were well with it.
    let chances = [&text.of_reproductions, &text.of_others]
        .map(|chance| chance.as_ref().map_or(0.5, |chance| chance.value.value));
    let whose = ["of a later reproduction", "of any other piece"];
    let beliefs = [OF_REPRODUCTIONS, OF_OTHERS].map(|which| {
        let about = format!("{} {name} {}", text.state.value, whose[which]);
        let say = vec![chances[which], 1.0 - chances[which]];
        draft.belief(
            about,
            Spread::Categorical { say },
            experience,
            text.state.span,
        )
    });
    let citation = draft.citation(text.state.span);

    let Some(genuine) = draft.variables[id].table.take() else {
        return;
    };
    let mut parents = draft.variables[id].parents.clone();
    let mut rows_of: Vec<Option<usize>> = genuine.rule_of_configuration;
    let n_makers = draft.variables[maker].states.len();
    let place = parents.iter().position(|&p| p == maker).unwrap_or_else(|| {
        parents.insert(0, maker);
        rows_of = rows_of.repeat(n_makers);
        0
    });
    if draft.n_configurations(&parents).is_none() {
        out.push(rows::too_many_cases(&clue.id.value, &clue.table));
        return;
    }
    let faster: usize = parents[place + 1..]
        .iter()
        .map(|&p| draft.variables[p].states.len())
        .product();
    let which = |configuration: usize| {
        let maker = configuration / faster % n_makers;
        let role = pack.makers.get(maker).and_then(|m| m.role.as_ref());
        match role.is_some_and(|role| role.value == "reproduction") {
            true => OF_REPRODUCTIONS,
            false => OF_OTHERS,
        }
    };
    let rules = genuine.rules.iter().flat_map(|rule| {
        let citation = &citation;
        [OF_REPRODUCTIONS, OF_OTHERS].map(move |which| {
            let genuine_at_all = chances[which] < 1.0;
            let mut possible: Vec<bool> =
                rule.possible.iter().map(|&p| p && genuine_at_all).collect();
            possible.push(chances[which] > 0.0);
            DraftRule {
                rule: ColumnRule::Simulated(Simulated {
                    genuine: Box::new(rule.rule.clone()),
                    simulated: beliefs[which],
                }),
                possible,
                citations: rule.citations.iter().chain([citation]).cloned().collect(),
            }
        })
    });
    let table = DraftTable {
        rules: rules.collect(),
        rule_of_configuration: rows_of
            .iter()
            .enumerate()
            .map(|(configuration, row)| row.map(|row| 2 * row + which(configuration)))
            .collect(),
        place: genuine.place,
        gaps: genuine.gaps,
    };
    draft.set_table(id, parents, table);
}

fn report_chances(text: &SimulatedText, out: &mut Vec<Diagnostic>) {
    let (Some(of_reproductions), Some(of_others)) = (&text.of_reproductions, &text.of_others)
    else {
        return;
    };
    report_zero(of_reproductions, out);
    report_zero(of_others, out);
    if of_reproductions.value.value <= of_others.value.value {
        out.push(
            Diagnostic::error(
                "pack::simulated",
                format!(
                    "`{}` is no likelier on a later reproduction than on any other piece",
                    text.state.value
                ),
                of_reproductions.span,
            )
            .also(of_others.span, "on any other piece")
            .hint("what is put on to deceive speaks for a reproduction; if it does not, it is a state like the others"),
        );
    }
}
