//! How far plates have worn.

use std::collections::{BTreeMap, BTreeSet};

use super::pulls::Pulls;
use super::shares::SharesOf;
use crate::check::draft::{
    Draft, DraftId, DraftRule, DraftTable, Gaps, certain, report_few_pieces, seen,
};
use crate::check::engravings::declared::Engravings;
use crate::check::rows::say::say_chances;
use crate::check::rows::singles::{Called, Singles};
use crate::diagnostic::Diagnostic;
use crate::model::column::ColumnRule;
use crate::model::column::plate::{AgesOfSet, PlateState};
use crate::pack::text::Engravings as EngravingsText;

/// The chances of wear that `[plate]` gives.
pub fn wear(
    text: &EngravingsText,
    engravings: &Engravings,
    [maker, period]: [DraftId; 2],
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<Singles> {
    let plate = text.from_histories.plate.as_ref()?;
    let called = Called {
        table: "plate",
        what: "the chance of wearing on to the next state in ten years",
        about: "wear of a plate in ten years",
        example: "say = \"20%\"",
    };
    let allowed = [engravings.engraving, maker, period];
    Some(Singles::read(
        &plate.table,
        &called,
        Some(&allowed),
        draft,
        out,
    ))
}

#[allow(
    clippy::too_many_arguments,
    reason = "what histories, use and wear each have to say of a plate"
)]
/// How far plates have worn, for each engraving, maker and period.
pub fn plate_table(
    text: &EngravingsText,
    id: DraftId,
    engraving: DraftId,
    cases: &[Option<Pulls>],
    (wear, shares, causes): (&Singles, &SharesOf, &[DraftId]),
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) {
    let mut parents = vec![engraving];
    parents.extend(causes);
    let unseen = unseen_plate(text, id, draft, out);
    let stated = draft.beliefs.stated();
    let n_states = draft.variables[id].states.len();
    let mut rules: Vec<DraftRule> = vec![unseen];
    let mut rule_of_configuration = Vec::new();
    for (index, is_unseen) in text.engravings.iter().map(|e| e.unseen).enumerate() {
        for (configuration, pulls) in cases.iter().enumerate() {
            if is_unseen {
                rule_of_configuration.push(Some(0));
                continue;
            }
            let place = index * cases.len() + configuration;
            let worn = pulls.as_ref().and_then(|pulls| pulls.wear.get(&index));
            let (Some(worn), Some((wear, line)), Some((shares, _))) = (
                worn,
                wear.of(place, &parents, draft),
                shares.of(configuration, causes, draft),
            ) else {
                rule_of_configuration.push(None);
                continue;
            };
            let ages: BTreeSet<(usize, i64)> = worn
                .values()
                .flat_map(|ages| ages.keys().copied())
                .collect();
            let ages: Vec<(usize, i64)> = ages.into_iter().collect();
            let place_of: BTreeMap<(usize, i64), usize> = ages.iter().copied().zip(0..).collect();
            let at_hand = worn.iter().map(|(set, weights)| AgesOfSet {
                set: set.clone(),
                ages: weights
                    .iter()
                    .map(|(age, weight)| (place_of[age], *weight))
                    .collect(),
            });
            let rule = ColumnRule::PlateState(PlateState {
                engraving: index,
                at_hand: at_hand.collect(),
                ages,
                shares,
                wear: *wear,
            });
            let mut column = vec![0.0; n_states];
            rule.write(&stated, &mut column);
            rules.push(DraftRule {
                rule,
                possible: column.iter().map(|&p| p > 0.0).collect(),
                citations: vec![line.clone()],
            });
            rule_of_configuration.push(Some(rules.len() - 1));
        }
    }
    let table = DraftTable {
        rules,
        rule_of_configuration,
        place: text.span,
        gaps: Gaps::Leave,
    };
    draft.set_table(id, parents, table);
}

/// The state of the plate behind a print from an engraving never seen.
fn unseen_plate(
    text: &EngravingsText,
    id: DraftId,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> DraftRule {
    let states = draft.variables[id].states.clone();
    let defect = || DraftRule {
        possible: vec![true; states.len()],
        ..certain(0, states.len().max(1))
    };
    let Some(plate) = &text.from_histories.plate else {
        return defect();
    };
    let Some(unseen) = &plate.unseen else {
        out.push(
            Diagnostic::error(
                "pack::missing",
                "nothing says how worn the plate of an engraving never seen is",
                plate.span,
            )
            .hint("add `unseen = { say = { otherwise = \"evenly\" }, seen = … }` to [plate]"),
        );
        return defect();
    };
    let Some((said, say)) = unseen
        .say
        .as_ref()
        .and_then(|said| Some((said, say_chances(said, &states, out)?)))
    else {
        return defect();
    };
    report_few_pieces("this rests", unseen.seen.as_ref(), out);
    let experience = seen(None, unseen.seen.as_ref(), said.span, out);
    draft.categorical(
        "plate of an engraving never seen".to_owned(),
        say,
        experience,
        said.span,
    )
}
