//! Thresholds of the verdict's words.

use super::names;
use crate::diagnostic::Diagnostic;
use crate::model::Wording;
use crate::pack::text::PackText;

const RUNGS: [&str; 8] = [
    "marked",
    "attributed",
    "works",
    "probably",
    "either",
    "region",
    "engraving",
    "copy",
];

/// Reads the ladder; `None` if a rung is missing.
pub fn read(pack: &PackText, out: &mut Vec<Diagnostic>) -> Option<Wording> {
    for (word, _) in &pack.wording.rungs {
        names::find("rung of the wording", word, RUNGS, out);
    }
    let mut rung = |name: &str| {
        let found = pack
            .wording
            .rungs
            .iter()
            .find(|(word, _)| word.value == name);
        if found.is_none() {
            let place = pack
                .wording
                .rungs
                .first()
                .map_or(pack.name.span, |(word, _)| word.span);
            out.push(
                Diagnostic::error(
                    "pack::missing",
                    format!("the wording has no threshold `{name}`"),
                    place,
                )
                .hint(format!("add `{name} = \"…%\"` to [wording]")),
            );
        }
        found.map(|(_, chance)| chance.value.value)
    };
    let values = RUNGS.map(&mut rung);
    let mut values = values.into_iter();
    let mut next = || values.next().flatten();
    Some(Wording {
        marked: next()?,
        attributed: next()?,
        works: next()?,
        probably: next()?,
        either: next()?,
        region: next()?,
        engraving: next()?,
        copy: next()?,
    })
}
