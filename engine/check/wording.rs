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
    let wording = pack.wording.as_ref()?;
    for (word, _) in &wording.rungs {
        names::find("rung of the wording", word, RUNGS, out);
    }
    let rung = |name: &str| wording.rungs.iter().find(|(word, _)| word.value == name);
    let missing: Vec<String> = RUNGS
        .iter()
        .filter(|name| rung(name).is_none())
        .map(|name| format!("`{name}`"))
        .collect();
    if !missing.is_empty() {
        out.push(
            Diagnostic::error(
                "pack::missing",
                format!("the wording has no threshold for {}", missing.join(", ")),
                wording.span,
            )
            .hint("add to [wording] how probable the verdict must be for the word, such as `either = \"90%\"`"),
        );
    }
    let threshold = |name: &str| Some(rung(name)?.1.as_ref()?.value.value);
    Some(Wording {
        marked: threshold("marked")?,
        attributed: threshold("attributed")?,
        works: threshold("works")?,
        probably: threshold("probably")?,
        either: threshold("either")?,
        region: threshold("region")?,
        engraving: threshold("engraving")?,
        copy: threshold("copy")?,
    })
}
