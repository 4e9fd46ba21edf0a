//! Clues that a pack wants weighed as one, besides one by one.

use super::names;
use crate::diagnostic::Diagnostic;
use crate::model::{Clue, ClueGroup, ClueKind};
use crate::pack::text::PackText;

/// Finds the clues of each group. A group of one would only repeat its clue, and a circumstance weighs nothing.
pub fn read(pack: &PackText, clues: &[Clue], out: &mut Vec<Diagnostic>) -> Vec<ClueGroup> {
    let known = clues.iter().filter(|c| c.kind != ClueKind::Circumstance);
    let known: Vec<&str> = known.map(|clue| clue.id.as_str()).collect();
    let mut read = Vec::new();
    for group in &pack.groups {
        let mut found: Vec<usize> = Vec::new();
        for word in &group.clues {
            names::find("clue of a group", word, known.iter().copied(), out);
            found.extend(clues.iter().position(|clue| clue.id == word.value));
        }
        found.sort_unstable();
        found.dedup();
        if found.len() < 2 {
            let what = format!(
                "the group `{}` holds fewer than two clues",
                group.name.value
            );
            let report = Diagnostic::error("pack::group", what, group.name.span);
            out.push(report.hint("name at least two: `clues = [\"weight\", \"foot\"]`"));
        }
        read.push(ClueGroup {
            name: group.name.value.clone(),
            clues: found,
        });
    }
    read
}
