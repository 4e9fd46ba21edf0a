//! Engravings and the codings they fix.

use super::clues::{ClueDraft, declare_states};
use super::draft::{Draft, DraftId, DraftRule, DraftTable, seen};
use super::names;
use super::rows::{self, stated_table};
use crate::diagnostic::Diagnostic;
use crate::model::belief::{BeliefId, Spread};
use crate::model::column::ColumnRule;
use crate::model::column::misreading::Misreading;
use crate::pack::text::{Coding, Engravings as EngravingsText, Placed, RowBody, Word};

/// The variables declared here.
pub struct Engravings {
    /// Which engraving.
    pub engraving: DraftId,
    /// The codings.
    pub codings: Vec<ClueDraft>,
}

/// Declares the engraving and its codings.
pub fn declare(
    text: &EngravingsText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Engravings {
    let states: Vec<Word> = text.engravings.iter().map(|e| e.id.clone()).collect();
    names::report_duplicates("engraving", &states, out);
    if !text.engravings.iter().any(|e| e.unseen) {
        out.push(
            Diagnostic::error(
                "pack::closed-list",
                "no engraving stands for one never seen",
                text.used.span,
            )
            .hint(
                "add an engraving with `unseen = true`: an engraving never seen is always possible",
            ),
        );
    }
    let name = Placed {
        value: "engraving".to_owned(),
        span: text.used.span,
    };
    Engravings {
        engraving: draft.declare(name, "engraving", states, false),
        codings: text
            .codings
            .iter()
            .map(|coding| declare_states(&coding.clue, draft))
            .collect(),
    }
}

/// Which engraving, and what each shows.
pub fn tables(
    text: &EngravingsText,
    engravings: &Engravings,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) {
    let parents = draft.parents(&text.used.depends_on, out);
    let states = draft.variables[engravings.engraving].states.clone();
    if let Some(table) = stated_table(draft, &text.used, &parents, &states, "engraving", out) {
        draft.set_table(engravings.engraving, parents, table);
    }
    let classes = draft.find("size_class");
    let shown = shown(text, draft, classes, out);
    let right = right_readings(text, draft, out);
    for (index, (coding, id)) in text.codings.iter().zip(&engravings.codings).enumerate() {
        let usual: Vec<Option<usize>> = shown.iter().map(|states| states[index]).collect();
        coding_table(
            text,
            coding,
            id,
            &usual,
            &right,
            engravings.engraving,
            classes,
            draft,
            out,
        );
    }
}

/// The belief about right readings for each configuration of its own parents.
struct RightReadings {
    parents: Vec<DraftId>,
    belief_of_configuration: Vec<Option<(BeliefId, String)>>,
}

fn right_readings(
    text: &EngravingsText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> RightReadings {
    let parents = draft.parents(&text.right.depends_on, out);
    let row_of_configuration = match draft.n_configurations(&parents) {
        Some(_) => {
            rows::row_of_configuration(&text.right, &rows::parent_views(draft, &parents), out)
        }
        None => {
            out.push(rows::too_many_cases(&text.right));
            Vec::new()
        }
    };
    rows::report_few_pieces(&text.right, out);
    let mut beliefs = Vec::new();
    for row in &text.right.rows {
        let say = match &row.body {
            Some(RowBody::Single(chance)) => rows::single(chance, 2, out),
            Some(_) => {
                out.push(
                    Diagnostic::error(
                        "pack::row-form",
                        "the chance of a right reading is one chance",
                        row.span,
                    )
                    .hint("write `say = \"92%\"`"),
                );
                None
            }
            None => None,
        };
        beliefs.push(say.map(|say| {
            let experience = seen(row.seen.as_ref(), text.right.seen.as_ref(), row.span, out);
            let about = rows::describe("right reading of a coding", row);
            let belief = draft.belief(about, Spread::Categorical { say }, experience, row.span);
            (belief, draft.citation(row.span))
        }));
    }
    RightReadings {
        parents,
        belief_of_configuration: row_of_configuration
            .into_iter()
            .map(|row| row.and_then(|row| beliefs[row].clone()))
            .collect(),
    }
}

/// For each engraving and size class (class fastest), the usual state of each coding.
fn shown(
    text: &EngravingsText,
    draft: &Draft<'_>,
    classes: Option<DraftId>,
    out: &mut Vec<Diagnostic>,
) -> Vec<Vec<Option<usize>>> {
    let class_names: Vec<&str> = classes.map_or_else(Vec::new, |id| {
        draft.variables[id]
            .states
            .iter()
            .map(|s| s.value.as_str())
            .collect()
    });
    let n_classes = class_names.len().max(1);
    let engraving_names: Vec<&str> = text
        .engravings
        .iter()
        .map(|e| e.id.value.as_str())
        .collect();
    let mut shown = vec![vec![None; text.codings.len()]; engraving_names.len() * n_classes];
    let mut first: Vec<Option<&Word>> = vec![None; shown.len()];
    for entry in &text.shows {
        let engraving = names::find(
            "engraving",
            &entry.engraving,
            engraving_names.iter().copied(),
            out,
        );
        let class = names::find(
            "size class",
            &entry.size_class,
            class_names.iter().copied(),
            out,
        );
        let mut states = vec![None; text.codings.len()];
        for (coding, state) in &entry.states {
            let codings = text.codings.iter().map(|c| c.clue.id.value.as_str());
            let Some(index) = names::find("coding", coding, codings, out) else {
                continue;
            };
            let known = text.codings[index]
                .clue
                .states
                .iter()
                .map(|s| s.value.as_str());
            states[index] = names::find(&format!("state of {}", coding.value), state, known, out);
        }
        let (Some(engraving), Some(class)) = (engraving, class) else {
            continue;
        };
        if text.engravings[engraving].unseen {
            out.push(
                Diagnostic::error(
                    "pack::unseen-shows",
                    "nobody knows what an engraving never seen shows",
                    entry.span,
                )
                .hint("say what is read under it in `unseen` of each coding"),
            );
            continue;
        }
        let place = engraving * n_classes + class;
        if let Some(first) = first[place] {
            out.push(
                Diagnostic::error(
                    "pack::duplicate",
                    format!(
                        "what `{}` shows on {} pieces is said twice",
                        entry.engraving.value, entry.size_class.value
                    ),
                    entry.span,
                )
                .also(first.span, "first time"),
            );
            continue;
        }
        first[place] = Some(&entry.engraving);
        shown[place] = states;
    }
    shown
}

#[allow(clippy::too_many_arguments)] // One caller; the parts belong to different sections of the pack.
fn coding_table(
    text: &EngravingsText,
    coding: &Coding,
    id: &ClueDraft,
    usual: &[Option<usize>],
    right: &RightReadings,
    engraving: DraftId,
    classes: Option<DraftId>,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) {
    let ClueDraft::Variable(variable) = *id else {
        return;
    };
    let states = &coding.clue.states;
    let unseen = unseen_rule(coding, draft, out);
    let mut parents = vec![engraving];
    parents.extend(classes);
    parents.extend(&right.parents);
    let n_right = right.belief_of_configuration.len();
    let n_classes = usual.len() / text.engravings.len().max(1);
    let mut rules: Vec<DraftRule> = unseen.into_iter().collect();
    let unseen = (!rules.is_empty()).then_some(0);
    let mut rule_of_configuration = Vec::with_capacity(usual.len() * n_right);
    for (place, usual) in usual.iter().enumerate() {
        for right in &right.belief_of_configuration {
            if text.engravings[place / n_classes].unseen {
                rule_of_configuration.push(unseen);
                continue;
            }
            let (Some(usual), Some((right, citation))) = (usual, right) else {
                rule_of_configuration.push(None);
                continue;
            };
            let chances = draft.beliefs.stated();
            let chances = chances.of(*right);
            rules.push(DraftRule {
                possible: (0..states.len())
                    .map(|s| chances[usize::from(s != *usual)] > 0.0)
                    .collect(),
                rule: ColumnRule::Misreading(Misreading {
                    usual: *usual,
                    right: *right,
                }),
                citation: Some(citation.clone()),
            });
            rule_of_configuration.push(Some(rules.len() - 1));
        }
    }
    let table = DraftTable {
        rules,
        rule_of_configuration,
        place: coding.clue.id.span,
    };
    draft.set_table(variable, parents, table);
}

/// What is read under the engraving never seen.
fn unseen_rule(
    coding: &Coding,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<DraftRule> {
    let Some(unseen) = &coding.unseen else {
        out.push(
            Diagnostic::error(
                "pack::missing",
                format!(
                    "coding `{}` says nothing of an engraving never seen",
                    coding.clue.id.value
                ),
                coding.clue.id.span,
            )
            .hint("add `unseen = { say = { otherwise = \"evenly\" }, seen = … }`"),
        );
        return None;
    };
    let say = rows::say_chances(&unseen.say, &coding.clue.states, out)?;
    if let Some(few) = unseen
        .seen
        .as_ref()
        .filter(|s| s.value < super::FEWEST_PIECES)
    {
        out.push(super::draft::few_pieces(few));
    }
    let experience = seen(None, unseen.seen.as_ref(), unseen.say.span, out);
    let about = format!("{} under an engraving never seen", coding.clue.id.value);
    Some(draft.categorical(about, say, experience, unseen.say.span))
}
