//! Which pieces of evidence cannot stand together.

use crate::network::{Evidence, EvidenceItem, ItemContent};

/// A smallest impossible part of impossible evidence: no item can be left out of it.
///
/// The result is what the deletion filter finds, which drops each item in turn, in the order of
/// [`Evidence::items`], and leaves it out if the rest is still impossible. Instead of one trial an item,
/// each item that stays is found by bisection: it is the last one that the impossible rest can begin with.
/// More evidence never makes the impossible possible, so bisection finds it.
///
/// `is_impossible` may say `false` where it cannot tell; the result is then impossible but perhaps not
/// smallest.
///
/// # Source
/// Chinneck and Dravnieks, "Locating minimal infeasible constraint sets in linear programs", ORSA Journal
/// on Computing 3(2), 1991 (deletion filter); Junker, "QuickXplain", AAAI 2004 (fewer trials).
pub(super) fn conflict(
    evidence: &Evidence,
    mut is_impossible: impl FnMut(&Evidence) -> bool,
) -> Vec<EvidenceItem> {
    let items: Vec<(EvidenceItem, ItemContent<'_>)> = evidence.items().collect();
    let mut kept = Evidence::new();
    let mut with_rest = |kept: &Evidence, rest: &[(EvidenceItem, ItemContent<'_>)]| {
        let mut trial = kept.clone();
        for &(item, content) in rest {
            trial.enter(item, content);
        }
        is_impossible(&trial)
    };
    let mut start = 0;
    // What is kept and the items from `start` on are impossible together.
    while start < items.len() && !with_rest(&kept, &[]) {
        let mut end = items.len();
        while start + 1 < end {
            let middle = start.midpoint(end);
            if with_rest(&kept, &items[middle..]) {
                start = middle;
            } else {
                end = middle;
            }
        }
        let (item, content) = items[start];
        kept.enter(item, content);
        start += 1;
    }
    kept.items().map(|(item, _)| item).collect()
}
