//! Pack as written → checked model.
//!
//! The only way from one to the other. Every defect is reported in one pass; a model comes out only if there is none.
//! Warnings do not stop it.
//!
//! Each file here handles one part of a pack and declares its variables in a [`draft::Draft`]; [`whole`] then looks at the
//! pack as a whole: circles, cases without a row, states that nothing can produce.

mod clues;
mod draft;
mod engravings;
mod makers;
mod marks;
mod names;
mod rows;
mod sizes;
mod support;
mod whole;
mod wording;

use crate::diagnostic::{Diagnostic, has_errors};
use crate::model::Model;
use crate::pack::text::PackText;
use crate::source::Sources;
use draft::Draft;

/// Fewer pieces than this behind a row earn a warning. Common practice, no source.
pub const FEWEST_PIECES: f64 = 5.0;

/// Checks a pack and builds its model.
///
/// Defects and warnings are pushed to `out`, in the order of the files. The model is `None` if there is an error in
/// `out`, whether found here or before.
pub fn check(pack: &PackText, sources: &Sources, out: &mut Vec<Diagnostic>) -> Option<Model> {
    let mut draft = Draft::new(sources);
    let circumstances = clues::circumstances(pack, &mut draft, out);
    let makers = makers::declare(pack, &mut draft, out);
    let sizes = pack
        .sizes
        .as_ref()
        .map(|sizes| sizes::declare(sizes, &mut draft, out));
    let marks = pack
        .marks
        .as_ref()
        .map(|marks| marks::declare(marks, &mut draft));
    let engravings = pack
        .engravings
        .as_ref()
        .map(|engravings| engravings::declare(engravings, &mut draft, out));
    let clues = clues::declare(pack, &mut draft, out);
    names::report_duplicates("variable or clue", draft.names(), out);

    makers::tables(pack, &makers, &mut draft, out);
    if let (Some(text), Some(sizes)) = (&pack.sizes, &sizes) {
        sizes::tables(text, sizes, &mut draft, out);
    }
    if let (Some(text), Some(marks)) = (&pack.marks, &marks) {
        marks::tables(text, marks, pack, &makers, &mut draft, out);
    }
    if let (Some(text), Some(engravings)) = (&pack.engravings, &engravings) {
        engravings::tables(text, engravings, &mut draft, out);
    }
    clues::tables(pack, &clues, &mut draft, out);
    clues::report_shared_measurements(pack, out);
    let wording = wording::read(pack, out);

    let order = whole::order(&draft, out)?;
    whole::report_gaps(&draft, &order, out);
    out.sort_by_key(|diagnostic| diagnostic.place.span);
    if has_errors(out) {
        return None;
    }
    let parts = whole::Parts {
        circumstances,
        makers,
        sizes,
        marks,
        engravings,
        clues,
        wording: wording?,
    };
    whole::model(pack, draft, parts, out)
}
