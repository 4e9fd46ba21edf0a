//! Which combinations of states are possible at all, from the zeros of the tables alone.

use std::collections::BTreeSet;

use super::draft::{Draft, DraftId};

/// Beyond this many partial assignments the question is given up, and everything counts as possible.
const MOST_ASSIGNMENTS: usize = 500_000;

/// The possible combinations of some variables' states, in the order the variables are given; `None` if working them out
/// would take too long.
///
/// Walks the ancestors from the roots down and keeps, of every possible partial assignment, only the states that later
/// variables or the question itself still need. A case without a row counts as able to produce every state.
pub fn possible(
    draft: &Draft<'_>,
    order: &[DraftId],
    wanted: &[DraftId],
) -> Option<BTreeSet<Vec<usize>>> {
    let needed = ancestors(draft, wanted);
    let order: Vec<DraftId> = order
        .iter()
        .copied()
        .filter(|id| needed.contains(id))
        .collect();
    let mut kept: Vec<DraftId> = Vec::new();
    let mut assignments: BTreeSet<Vec<usize>> = [Vec::new()].into();
    for (step, &id) in order.iter().enumerate() {
        let variable = &draft.variables[id];
        let parent_places: Vec<usize> = variable
            .parents
            .iter()
            .filter_map(|p| kept.iter().position(|k| k == p))
            .collect();
        let later: BTreeSet<DraftId> = order[step + 1..]
            .iter()
            .flat_map(|&l| draft.variables[l].parents.iter().copied())
            .collect();
        let still_wanted = |k: &DraftId| wanted.contains(k) || later.contains(k);
        let keep: Vec<usize> = (0..kept.len())
            .filter(|&place| still_wanted(&kept[place]))
            .collect();
        let keep_new = still_wanted(&id);

        let mut extended = BTreeSet::new();
        for assignment in &assignments {
            let configuration =
                variable
                    .parents
                    .iter()
                    .zip(&parent_places)
                    .fold(0, |index, (&parent, &place)| {
                        index * draft.variables[parent].states.len() + assignment[place]
                    });
            let shared: Vec<usize> = keep.iter().map(|&place| assignment[place]).collect();
            for state in 0..variable.states.len() {
                if !can_produce(draft, id, configuration, state) {
                    continue;
                }
                let mut next = shared.clone();
                if keep_new {
                    next.push(state);
                }
                extended.insert(next);
            }
            if extended.len() > MOST_ASSIGNMENTS {
                return None;
            }
        }
        kept = keep.iter().map(|&place| kept[place]).collect();
        if keep_new {
            kept.push(id);
        }
        assignments = extended;
    }
    let places: Vec<usize> = wanted
        .iter()
        .filter_map(|w| kept.iter().position(|k| k == w))
        .collect();
    Some(
        assignments
            .iter()
            .map(|a| places.iter().map(|&place| a[place]).collect())
            .collect(),
    )
}

fn can_produce(draft: &Draft<'_>, id: DraftId, configuration: usize, state: usize) -> bool {
    let Some(table) = &draft.variables[id].table else {
        return true;
    };
    match table
        .rule_of_configuration
        .get(configuration)
        .copied()
        .flatten()
    {
        Some(rule) => table.rules[rule].possible[state],
        None => true,
    }
}

fn ancestors(draft: &Draft<'_>, wanted: &[DraftId]) -> BTreeSet<DraftId> {
    let mut needed = BTreeSet::new();
    let mut open: Vec<DraftId> = wanted.to_vec();
    while let Some(id) = open.pop() {
        if needed.insert(id) {
            open.extend(&draft.variables[id].parents);
        }
    }
    needed
}
