//! Engravings and the codings they fix.

pub mod declared;
mod readings;
mod shows;

use std::collections::BTreeMap;

use super::draft::{
    ClueDraft, Draft, DraftId, DraftRule, DraftTable, Gaps, report_few_pieces, seen,
};
use super::histories::{self, table::Told};
use super::names;
use super::rows::singles::Singles;
use super::rows::{self, stated_table};
use super::{gaps, support};
use crate::diagnostic::Diagnostic;
use crate::model::belief::BeliefId;
use crate::pack::text::{Coding, Engravings as EngravingsText, PackText};
use declared::Engravings;
use readings::Reading;
use shows::Shown;

/// What the tables of engravings and codings rest on.
pub struct Read<'t> {
    shown: Shown<'t>,
    right: Singles,
    readings: Vec<Reading>,
    /// What histories say, if they say who used which engraving.
    pub told: Option<Told>,
}

/// Which engraving, and what each shows.
pub fn tables<'t>(
    text: &'t EngravingsText,
    engravings: &Engravings,
    pack: &'t PackText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Read<'t> {
    if let Some(used) = text.used.as_ref().filter(|_| !histories::are_told(text)) {
        let parents = draft.parents(&used.depends_on, out);
        let states = draft.variables[engravings.engraving].states.clone();
        if let Some(mut table) = stated_table(draft, used, &parents, &states, "engraving", out) {
            table.gaps = Gaps::ReportAs("used").if_sound(table.gaps != Gaps::Leave);
            draft.set_table(engravings.engraving, parents, table);
        }
    }
    let told = histories::table::tables(text, engravings, pack, draft, out);
    let shown = shows::shown(text, draft, out);
    let right = readings::shared(&text.right, draft, out);
    let mut all = Vec::new();
    for (index, (coding, id)) in text.codings.iter().zip(&engravings.codings).enumerate() {
        let unseen = unseen_rule(coding, draft, out);
        let reading = Reading::of(coding, &right, draft, out);
        let mut parents = vec![engravings.engraving];
        parents.extend(shown.classes);
        parents.extend(&reading.parents);
        if draft.n_configurations(&parents).is_none() {
            out.push(rows::too_many_cases(
                "right",
                coding.right.as_ref().unwrap_or(&text.right),
            ));
            break;
        }
        coding_table(
            text,
            (index, coding),
            id,
            unseen,
            &shown,
            &reading,
            &parents,
            draft,
        );
        all.push(reading);
    }
    Read {
        shown,
        right,
        readings: all,
        told,
    }
}

/// Reports what an engraving shows and is not said, and prints on which nothing says how often a coding is read right.
pub fn report_gaps(
    text: &EngravingsText,
    engravings: &Engravings,
    read: &Read<'_>,
    draft: &Draft<'_>,
    order: &[DraftId],
    out: &mut Vec<Diagnostic>,
) {
    let Read { shown, right, .. } = read;
    if right.sound && text.codings.iter().any(|coding| coding.right.is_none()) {
        let missing = |case: usize| right.belief_of_configuration[case].is_none();
        let place = text.right.span;
        gaps::report_missing_rows(draft, order, "right", &right.parents, missing, place, out);
    }
    for (coding, reading) in text.codings.iter().zip(&read.readings) {
        reading.report_gaps(coding, draft, order, out);
    }
    if let Some(told) = &read.told {
        told.report_gaps(draft, order, out);
    }
    // With a defect in the histories any engraving could be anywhere, and every row would look missing.
    let defect = |told: &Told| told.histories.is_none();
    if read.told.as_ref().is_some_and(defect) {
        return;
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

#[allow(
    clippy::too_many_arguments,
    reason = "one coding with everything its table is made of"
)]
fn coding_table(
    text: &EngravingsText,
    (index, coding): (usize, &Coding),
    id: &ClueDraft,
    unseen: Option<DraftRule>,
    shown: &Shown<'_>,
    reading: &Reading,
    parents: &[DraftId],
    draft: &mut Draft<'_>,
) {
    let ClueDraft::Variable(variable) = *id else {
        return;
    };
    let n_states = coding.clue.states.len();
    let n_classes = shown.n_classes(text);
    let n_readings = draft.n_configurations(&reading.parents).unwrap_or(0);
    let mut rules: Vec<DraftRule> = unseen.into_iter().collect();
    let unseen = (!rules.is_empty()).then_some(0);
    // A belief about readings may serve many cases; with what is shown it makes one rule, which cites both.
    let mut rule_of: BTreeMap<(usize, (BeliefId, Option<BeliefId>)), usize> = BTreeMap::new();
    let stated = draft.beliefs.stated();
    let mut rule_of_configuration = Vec::with_capacity(shown.usual.len() * n_readings);
    for (place, usual) in shown.usual.iter().enumerate() {
        let usual = usual[index];
        let row = shown.entries[place].map(|entry| draft.citation(entry.span));
        for configuration in 0..n_readings {
            if text.engravings[place / n_classes].unseen {
                rule_of_configuration.push(unseen);
                continue;
            }
            let rule = usual.and_then(|usual| {
                let key = (place, reading.key(usual, configuration, draft)?);
                if let Some(&rule) = rule_of.get(&key) {
                    return Some(rule);
                }
                let mut rule = reading.column(usual, configuration, n_states, draft, &stated)?;
                rule.citations.splice(0..0, row.iter().cloned());
                rules.push(rule);
                rule_of.insert(key, rules.len() - 1);
                Some(rules.len() - 1)
            });
            rule_of_configuration.push(rule);
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
