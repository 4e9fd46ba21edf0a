//! Hidden qualities, and the clues that read their grade.
//!
//! A quality such as the tint of a glaze is never seen itself: a judged grade and a measured colour both depend on it, and
//! through it on what the pack says brings it about. So that two looks at one tint are not two witnesses of the maker.

use super::draft::{
    ClueDraft, Draft, DraftId, DraftRule, DraftTable, Gaps, certain, report_few_pieces,
};
use super::rows::{self, say::say_chances};
use super::{names, simulated, states};
use crate::diagnostic::Diagnostic;
use crate::model::column::ColumnRule;
use crate::model::column::grades::GradeReading;
use crate::model::{BeliefId, Spread};
use crate::pack::text::{Clue, PackText, Placed, RowBody, Word};

/// Kinds a hidden quality may have.
const KINDS: [&str; 2] = ["graded", "choice"];
/// What a row of a reading says chances of; the last only where there are more than two grades.
pub const STEPS: [&str; 3] = ["right", "one off", "further off"];

/// Declares the hidden qualities.
pub fn declare(pack: &PackText, draft: &mut Draft<'_>, out: &mut Vec<Diagnostic>) -> Vec<DraftId> {
    let mut ids = Vec::new();
    for quality in &pack.hidden {
        names::find("kind of hidden quality", &quality.kind, KINDS, out);
        if let ClueDraft::Variable(id) = states::declare(quality, draft) {
            ids.push(id);
        }
    }
    ids
}

/// The tables of the hidden qualities.
pub fn tables(pack: &PackText, ids: &[DraftId], draft: &mut Draft<'_>, out: &mut Vec<Diagnostic>) {
    for (quality, &id) in pack.hidden.iter().zip(ids) {
        let drafted = ClueDraft::Variable(id);
        states::table(quality, &drafted, draft, out);
        simulated::tie(quality, &drafted, pack, draft, out);
    }
}

/// The hidden quality that a clue reads.
fn read_by<'p>(clue: &Clue, pack: &'p PackText) -> Option<&'p Clue> {
    let reads = clue.reads.as_ref()?;
    pack.hidden.iter().find(|q| q.id.value == reads.value)
}

/// Declares a clue that reads a grade: its states are the grades there are.
pub fn declare_reading(
    clue: &Clue,
    reads: &Word,
    pack: &PackText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> ClueDraft {
    let known = pack.hidden.iter().map(|q| q.id.value.as_str());
    names::find("hidden quality", reads, known, out);
    if let Some(state) = clue.states.first() {
        out.push(
            Diagnostic::error(
                "pack::row-form",
                format!(
                    "`{}` reads `{}` and has no states of its own",
                    clue.id.value, reads.value
                ),
                state.span,
            )
            .hint("take `states` out: they are those of the hidden quality"),
        );
    }
    if clue.kind.value != "graded" {
        out.push(
            Diagnostic::error(
                "pack::row-form",
                format!(
                    "`{}` reads a grade, and its kind is `{}`",
                    clue.id.value, clue.kind.value
                ),
                clue.kind.span,
            )
            .hint("write `kind = \"graded\"`, or let its own table depend on the hidden quality"),
        );
    }
    let about = clue.name.as_ref().unwrap_or(&clue.id).value.clone();
    let states = read_by(clue, pack)
        .and_then(|quality| draft.find(&quality.id.value))
        .map_or_else(Vec::new, |id| draft.variables[id].states.clone());
    ClueDraft::Variable(draft.declare(clue.id.clone(), &about, states, true))
}

/// The table of a clue that reads a grade: given the grade there is, and what else the reading depends on.
pub fn reading_table(
    clue: &Clue,
    id: &ClueDraft,
    pack: &PackText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) {
    let (ClueDraft::Variable(id), Some(quality)) = (*id, read_by(clue, pack)) else {
        return;
    };
    let Some(hidden) = draft.find(&quality.id.value) else {
        return;
    };
    let grades = draft.variables[hidden].states.clone();
    if let Some(absent) = &clue.absent {
        names::find(
            "state",
            absent,
            grades.iter().map(|s| s.value.as_str()),
            out,
        );
    }
    if quality.kind.value != "graded" || grades.len() < 2 {
        out.push(
            Diagnostic::error(
                "pack::row-form",
                format!("`{}` has no grades to misread", quality.id.value),
                quality.id.span,
            )
            .hint("a quality that is read by grade is of the kind \"graded\" and has two states or more, in their order"),
        );
        return;
    }
    let others = draft.parents(&clue.table.depends_on, out);
    if others.contains(&hidden) {
        let place = clue
            .table
            .depends_on
            .iter()
            .find(|w| w.value == quality.id.value);
        out.push(
            Diagnostic::error(
                "pack::row-form",
                format!("a reading of `{}` depends on it by itself", quality.id.value),
                place.map_or(clue.id.span, |word| word.span),
            )
            .hint("take it out of `depends_on`; rows say how often a reading is right, one off, further off"),
        );
        return;
    }
    let mut parents = vec![hidden];
    parents.extend(&others);
    if draft.n_configurations(&parents).is_none() {
        out.push(rows::too_many_cases(&clue.id.value, &clue.table));
        return;
    }
    let fit = rows::first_fit(&clue.table, &rows::parent_views(draft, &others), out);
    report_few_pieces("these rows rest", clue.table.seen.as_ref(), out);
    let steps = steps(clue, grades.len(), draft, out);
    let n = grades.len();
    let rules = steps.iter().flat_map(|step| {
        (0..n).map(move |there| match step {
            Some((belief, chances, citation)) => DraftRule {
                rule: ColumnRule::GradeReading(GradeReading {
                    there,
                    steps: *belief,
                }),
                possible: GradeReading::possible(there, n, chances),
                citations: vec![citation.clone()],
            },
            None => DraftRule {
                possible: vec![true; n],
                ..certain(0, n)
            },
        })
    });
    let rules: Vec<DraftRule> = rules.collect();
    let rule_of_configuration = (0..n)
        .flat_map(|there| {
            let rule = move |row: &Option<usize>| row.map(|row| row * n + there);
            fit.row_of_configuration.iter().map(rule)
        })
        .collect();
    let table = DraftTable {
        rules,
        rule_of_configuration,
        place: clue.id.span,
        gaps: Gaps::Report.if_sound(fit.sound && steps.iter().all(Option::is_some)),
    };
    draft.set_table(id, parents, table);
}

/// For each row of a reading, the belief about its steps, with their chances and its place.
fn steps(
    clue: &Clue,
    n_grades: usize,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Vec<Option<(BeliefId, Vec<f64>, String)>> {
    let names: Vec<Word> = STEPS[..n_grades.min(STEPS.len())]
        .iter()
        .map(|step| Placed {
            value: (*step).to_owned(),
            span: clue.id.span,
        })
        .collect();
    let name = clue.name.as_ref().unwrap_or(&clue.id).value.clone();
    let n_reports = out.len();
    let mut steps = Vec::new();
    for row in &clue.table.rows {
        let say = match &row.body {
            Some(RowBody::States(say)) => say_chances(say, &names, out),
            Some(_) => {
                let wanted: Vec<String> = names
                    .iter()
                    .map(|step| format!("\"{}\" = …", step.value))
                    .collect();
                out.push(
                    Diagnostic::error(
                        "pack::row-form",
                        "a row of a reading says how far it is off",
                        row.span,
                    )
                    .hint(format!("write `say = {{ {} }}`", wanted.join(", "))),
                );
                None
            }
            None => None,
        };
        steps.push(say.map(|say| {
            let seen = rows::row_seen(row, &clue.table, out);
            let about = rows::describe(&format!("reading of {name}"), row);
            let spread = Spread::Categorical { say: say.clone() };
            let belief = draft.belief(about, spread, seen, row.span);
            (belief, say, draft.citation(row.span))
        }));
    }
    rows::merge_seen_left_out(n_reports, out);
    steps
}

/// Reports keys of one form of clue on another: a key that would be read and never used.
pub fn report_misplaced(clue: &Clue, out: &mut Vec<Diagnostic>) {
    let is_colour = clue.kind.value == "colour";
    let mut misplaced = |span, key: &str, whose: &str| {
        out.push(
            Diagnostic::error(
                "pack::misplaced",
                format!("`{key}` means nothing for `{}`", clue.id.value),
                span,
            )
            .hint(format!("{key} belongs to {whose}; take it out")),
        );
    };
    if let Some(instrument) = clue.instrument.as_ref().filter(|_| !is_colour) {
        misplaced(
            instrument.span,
            "instrument",
            "a clue of the kind \"colour\"",
        );
    }
    let measured = is_colour || clue.weighing.is_some();
    if let Some(simulated) = clue
        .simulated
        .as_ref()
        .filter(|_| measured || clue.reads.is_some())
    {
        let whose = "a hidden quality, or a clue with states of its own";
        misplaced(simulated.state.span, "simulated", whose);
    }
    if let Some(reads) = clue.reads.as_ref().filter(|_| measured) {
        misplaced(reads.span, "reads", "a clue of the kind \"graded\"");
    }
    if let Some(state) = clue.states.first().filter(|_| is_colour) {
        misplaced(state.span, "states", "a clue that is seen, not measured");
    }
}
