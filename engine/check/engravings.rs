//! Engravings and the codings they fix.

use std::collections::BTreeMap;

use super::clues::{ClueDraft, KINDS_WITH_STATES, declare_states};
use super::draft::{Draft, DraftId, DraftRule, DraftTable, Gaps, report_few_pieces, seen};
use super::names;
use super::rows::{self, stated_table};
use super::{gaps, support};
use crate::diagnostic::Diagnostic;
use crate::model::belief::{BeliefId, Spread};
use crate::model::column::ColumnRule;
use crate::model::column::misreading::Misreading;
use crate::pack::text::{Coding, Engravings as EngravingsText, Placed, RowBody, Shows, Word};

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
                text.engravings.last().map_or(text.used.span, |e| e.id.span),
            )
            .label("the last of the list")
            .hint(
                "add an engraving with `unseen = true`: an engraving never seen is always possible",
            ),
        );
    }
    for coding in &text.codings {
        names::find("kind of coding", &coding.clue.kind, KINDS_WITH_STATES, out);
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

/// What the tables of the codings rest on.
pub struct Shown<'t> {
    /// For each engraving and size class (class fastest) the entry, if there is one.
    entries: Vec<Option<&'t Shows>>,
    /// The usual state of each coding in it.
    usual: Vec<Vec<Option<usize>>>,
    classes: Option<DraftId>,
    right: RightReadings,
}

/// Which engraving, and what each shows.
pub fn tables<'t>(
    text: &'t EngravingsText,
    engravings: &Engravings,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Shown<'t> {
    let parents = draft.parents(&text.used.depends_on, out);
    let states = draft.variables[engravings.engraving].states.clone();
    if let Some(mut table) = stated_table(draft, &text.used, &parents, &states, "engraving", out) {
        table.gaps = Gaps::ReportAs("used").if_sound(table.gaps != Gaps::Leave);
        draft.set_table(engravings.engraving, parents, table);
    }
    let mut shown = shown(text, draft, out);
    shown.right = right_readings(text, draft, out);
    let mut parents = vec![engravings.engraving];
    parents.extend(shown.classes);
    parents.extend(&shown.right.parents);
    if draft.n_configurations(&parents).is_none() {
        out.push(rows::too_many_cases("right", &text.right));
        return shown;
    }
    for (index, (coding, id)) in text.codings.iter().zip(&engravings.codings).enumerate() {
        coding_table(text, (index, coding), id, &shown, &parents, draft, out);
    }
    shown
}

/// Reports what an engraving shows and is not said, and prints on which nothing says how often a coding is read right.
pub fn report_gaps(
    text: &EngravingsText,
    engravings: &Engravings,
    shown: &Shown<'_>,
    draft: &Draft<'_>,
    order: &[DraftId],
    out: &mut Vec<Diagnostic>,
) {
    if shown.right.sound {
        let missing = |case: usize| shown.right.belief_of_configuration[case].is_none();
        let place = text.right.span;
        gaps::report_missing_rows(
            draft,
            order,
            "right",
            &shown.right.parents,
            missing,
            place,
            out,
        );
    }
    // Without an engraving that stands for one never seen (reported), its own case looks like a gap.
    if !text.engravings.iter().any(|e| e.unseen) || text.codings.is_empty() {
        return;
    }
    let mut parents = vec![engravings.engraving];
    parents.extend(shown.classes);
    let possible = support::possible(draft, order, &parents);
    let n_classes = shown.n_classes(text);
    for (index, engraving) in text
        .engravings
        .iter()
        .enumerate()
        .filter(|(_, e)| !e.unseen)
    {
        let can_happen = |class: usize| {
            let case = [index, class];
            possible
                .as_ref()
                .is_none_or(|all| all.contains(&case[..parents.len()]))
        };
        let missing: Vec<usize> = (0..n_classes)
            .filter(|&class| {
                shown.entries[index * n_classes + class].is_none() && can_happen(class)
            })
            .collect();
        if missing.is_empty() {
            continue;
        }
        let class_names = shown.classes.map(|id| {
            let states = &draft.variables[id].states;
            names::list(missing.iter().map(|&class| states[class].value.as_str()))
        });
        let on = class_names
            .as_ref()
            .map_or_else(String::new, |names| format!(" on {names} pieces"));
        out.push(
            Diagnostic::error(
                "pack::missing-row",
                format!(
                    "nothing says what the engraving `{}` shows{on}",
                    engraving.id.value
                ),
                engraving.id.span,
            )
            .hint("add to `shows` an entry with its usual state of every coding"),
        );
    }
}

impl Shown<'_> {
    fn n_classes(&self, text: &EngravingsText) -> usize {
        self.entries.len() / text.engravings.len().max(1)
    }
}

/// The belief about right readings for each configuration of its own parents.
#[derive(Default)]
struct RightReadings {
    sound: bool,
    parents: Vec<DraftId>,
    belief_of_configuration: Vec<Option<(BeliefId, String)>>,
}

fn right_readings(
    text: &EngravingsText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> RightReadings {
    let parents = draft.parents(&text.right.depends_on, out);
    if draft.n_configurations(&parents).is_none() {
        out.push(rows::too_many_cases("right", &text.right));
        return RightReadings::default();
    }
    let fit = rows::first_fit(&text.right, &rows::parent_views(draft, &parents), out);
    report_few_pieces("these rows rest", text.right.seen.as_ref(), out);
    let n_reports = out.len();
    let mut beliefs = Vec::new();
    for row in &text.right.rows {
        let say = match &row.body {
            Some(RowBody::Single(chance)) => rows::say::single(chance, 2, out),
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
            let experience = rows::row_seen(row, &text.right, out);
            let about = rows::describe("right reading of a coding", row);
            let belief = draft.belief(about, Spread::Categorical { say }, experience, row.span);
            (belief, draft.citation(row.span))
        }));
    }
    rows::merge_seen_left_out(n_reports, out);
    RightReadings {
        sound: fit.sound && beliefs.iter().all(Option::is_some),
        parents,
        belief_of_configuration: fit
            .row_of_configuration
            .into_iter()
            .map(|row| row.and_then(|row| beliefs[row].clone()))
            .collect(),
    }
}

/// For each engraving and size class, the usual state of each coding.
fn shown<'t>(text: &'t EngravingsText, draft: &Draft<'_>, out: &mut Vec<Diagnostic>) -> Shown<'t> {
    let classes = draft.find("size_class");
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
    let mut entries: Vec<Option<&Shows>> = vec![None; shown.len()];
    for entry in &text.shows {
        let n_reports = out.len();
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
            let Some(state) = state else { continue };
            states[index] = known.clone().position(|name| name == state.value);
            if states[index].is_none() {
                out.push(names::unknown_state(&coding.value, state, known));
            }
        }
        if out.len() == n_reports {
            report_left_out(text, entry, out);
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
        if let Some(first) = entries[place] {
            out.push(
                Diagnostic::error(
                    "pack::duplicate",
                    format!(
                        "what `{}` shows on {} pieces is said twice",
                        entry.engraving.value, entry.size_class.value
                    ),
                    entry.span,
                )
                .label("second time")
                .also(first.span, "first time")
                .hint("take one of them out"),
            );
            continue;
        }
        entries[place] = Some(entry);
        shown[place] = states;
    }
    Shown {
        entries,
        usual: shown,
        classes,
        right: RightReadings::default(),
    }
}

fn report_left_out(text: &EngravingsText, entry: &Shows, out: &mut Vec<Diagnostic>) {
    let codings = text
        .codings
        .iter()
        .map(|coding| coding.clue.id.value.as_str());
    let left_out: Vec<String> = codings
        .filter(|id| entry.states.iter().all(|(coding, _)| coding.value != *id))
        .map(|id| format!("`{id}`"))
        .collect();
    if !left_out.is_empty() {
        out.push(
            Diagnostic::error(
                "pack::missing",
                format!(
                    "what `{}` shows on {} pieces leaves out {}",
                    entry.engraving.value,
                    entry.size_class.value,
                    names::list(left_out.iter().map(String::as_str))
                ),
                entry.span,
            )
            .hint("give every coding its usual state; a motif that is not there has a state of its own"),
        );
    }
}

fn coding_table(
    text: &EngravingsText,
    (index, coding): (usize, &Coding),
    id: &ClueDraft,
    shown: &Shown<'_>,
    parents: &[DraftId],
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) {
    let ClueDraft::Variable(variable) = *id else {
        return;
    };
    let states = &coding.clue.states;
    let unseen = unseen_rule(coding, draft, out);
    let rights = &shown.right.belief_of_configuration;
    let n_classes = shown.usual.len() / text.engravings.len().max(1);
    let mut rules: Vec<DraftRule> = unseen.into_iter().collect();
    let unseen = (!rules.is_empty()).then_some(0);
    // A belief about right readings may serve many cases; with what is shown it makes one rule, which cites both.
    let mut rule_of: BTreeMap<(usize, BeliefId), usize> = BTreeMap::new();
    let stated = draft.beliefs.stated();
    let mut rule_of_configuration = Vec::with_capacity(shown.usual.len() * rights.len());
    for (place, usual) in shown.usual.iter().enumerate() {
        let usual = usual[index];
        let row = shown.entries[place].map(|entry| draft.citation(entry.span));
        for right in rights {
            if text.engravings[place / n_classes].unseen {
                rule_of_configuration.push(unseen);
                continue;
            }
            let (Some(usual), Some((right, citation))) = (usual, right) else {
                rule_of_configuration.push(None);
                continue;
            };
            let rule = *rule_of.entry((place, *right)).or_insert_with(|| {
                let chances = stated.of(*right);
                rules.push(DraftRule {
                    possible: (0..states.len())
                        .map(|s| chances[usize::from(s != usual)] > 0.0)
                        .collect(),
                    rule: ColumnRule::Misreading(Misreading {
                        usual,
                        right: *right,
                    }),
                    citations: row.iter().chain([citation]).cloned().collect(),
                });
                rules.len() - 1
            });
            rule_of_configuration.push(Some(rule));
        }
    }
    let table = DraftTable {
        rules,
        rule_of_configuration,
        place: coding.clue.id.span,
        gaps: Gaps::Leave,
    };
    draft.set_table(variable, parents.to_vec(), table);
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
    let said = unseen.say.as_ref()?;
    let say = rows::say::say_chances(said, &coding.clue.states, out)?;
    report_few_pieces("this rests", unseen.seen.as_ref(), out);
    let experience = seen(None, unseen.seen.as_ref(), said.span, out);
    let about = format!("{} under an engraving never seen", coding.clue.id.value);
    Some(draft.categorical(about, say, experience, said.span))
}
