//! The variables of engravings: which one, how far its plate has worn, what is read of the print.

use crate::check::draft::{ClueDraft, Draft, DraftId};
use crate::check::{names, states};
use crate::diagnostic::Diagnostic;
use crate::pack::text::{Engravings as EngravingsText, Placed, Word};
use crate::source::Span;

/// The variable of the state of the plate.
pub const PLATE: &str = "plate";

/// The variables declared here.
pub struct Engravings {
    /// Which engraving.
    pub engraving: DraftId,
    /// How far its plate has worn, if the pack says how plates wear.
    pub plate: Option<DraftId>,
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
                text.engravings.last().map_or(place(text), |e| e.id.span),
            )
            .label("the last of the list")
            .hint(
                "add an engraving with `unseen = true`: an engraving never seen is always possible",
            ),
        );
    }
    for coding in &text.codings {
        names::find("kind of coding", &coding.clue.kind, states::KINDS, out);
    }
    let name = Placed {
        value: "engraving".to_owned(),
        span: place(text),
    };
    let engraving = draft.declare(name, "engraving", states, false);
    let plate = text.from_histories.plate.as_ref().map(|plate| {
        let name = Placed {
            value: PLATE.to_owned(),
            span: plate.span,
        };
        states::report(&name, &plate.states, out);
        draft.declare(name, "wear of the plate", plate.states.clone(), true)
    });
    Engravings {
        engraving,
        plate,
        codings: text
            .codings
            .iter()
            .map(|coding| states::declare(&coding.clue, draft))
            .collect(),
    }
}

/// Where it is said who used which engraving.
fn place(text: &EngravingsText) -> Span {
    text.used.as_ref().map_or(text.span, |used| used.span)
}
