//! Thresholds of the verdict's words, and words of the house's own.

use std::collections::BTreeMap;

use super::names;
use crate::diagnostic::Diagnostic;
use crate::model::wording::{NAMES, OWN_WORDS, RUNGS};
use crate::model::{Scale, Wording};
use crate::pack::text::{self, PackText};

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
    let words = own_words(wording, out);
    let scale = scale(wording, out);
    Some(Wording {
        words,
        scale,
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

/// The house's own words. A text names what its rung can name, in braces.
fn own_words(wording: &text::Wording, out: &mut Vec<Diagnostic>) -> BTreeMap<String, String> {
    let mut words = BTreeMap::new();
    let rungs = OWN_WORDS.iter().map(|(rung, _)| *rung);
    for (rung, text) in &wording.words {
        let known = names::find("rung with words of its own", rung, rungs.clone(), out);
        let (Some(known), Some(text)) = (known, text) else {
            continue;
        };
        let (_, ours) = OWN_WORDS[known];
        let can_name = NAMES.into_iter().filter(|name| ours.contains(name));
        let can_name: Vec<&str> = can_name.collect();
        let braced = text.value.split_inclusive('}');
        let braced = braced.filter_map(|part| part.find('{').map(|start| &part[start..]));
        for name in braced.filter(|name| !can_name.contains(name)) {
            let what = format!("the words for `{}` cannot name `{name}`", rung.value);
            let report = Diagnostic::error("pack::words", what, text.span);
            let hint = match can_name[..] {
                [] => "they name nothing: write them without braces".to_owned(),
                _ => format!("they can name {}", can_name.join(" and ")),
            };
            out.push(report.hint(hint));
        }
        if let Some(missing) = can_name.iter().find(|name| !text.value.contains(**name)) {
            let what = format!("the words for `{}` do not name {missing}", rung.value);
            let report = Diagnostic::error("pack::words", what, text.span);
            out.push(report.hint(format!(
                "an opinion says of whom it speaks: such as \"{ours}\""
            )));
        }
        words.insert(rung.value.clone(), text.value.clone());
    }
    words
}

fn scale(wording: &text::Wording, out: &mut Vec<Diagnostic>) -> Scale {
    let Some(word) = &wording.scale else {
        return Scale::default();
    };
    let names = Scale::ALL.map(Scale::name);
    let found = names::find("scale for the strength of evidence", word, names, out);
    found.map_or_else(Scale::default, |place| Scale::ALL[place])
}
