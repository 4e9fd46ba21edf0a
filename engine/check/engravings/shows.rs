//! What each engraving shows, by size class.

use crate::check::draft::{Draft, DraftId};
use crate::check::names;
use crate::diagnostic::Diagnostic;
use crate::pack::text::{Engravings as EngravingsText, Shows};

/// What the engravings show.
pub struct Shown<'t> {
    /// For each engraving and size class (class fastest) the entry, if there is one.
    pub entries: Vec<Option<&'t Shows>>,
    /// The usual state of each coding in it.
    pub usual: Vec<Vec<Option<usize>>>,
    /// The variable of size classes, for wares that have them.
    pub classes: Option<DraftId>,
}

impl Shown<'_> {
    /// How many size classes there are; one, for wares without.
    pub fn n_classes(&self, text: &EngravingsText) -> usize {
        self.entries.len() / text.engravings.len().max(1)
    }
}

/// For each engraving and size class, the usual state of each coding.
pub fn shown<'t>(
    text: &'t EngravingsText,
    draft: &Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Shown<'t> {
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
