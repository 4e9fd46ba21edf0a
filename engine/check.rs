//! Pack as written → checked model.
//!
//! The only way from one to the other. Every defect is reported in one pass; a model comes out only if there is none.
//! Warnings do not stop it.
//!
//! Each file here handles one part of a pack and declares its variables in a `draft::Draft`; `gaps` then looks at the
//! pack as a whole: circles, cases without a row, states that nothing can produce. What follows from a defect that is
//! already reported is not reported again.

mod clues;
mod collection;
mod colour;
pub mod dating;
mod draft;
mod engravings;
mod gaps;
mod groups;
mod hidden;
mod histories;
mod lettering;
mod looks;
mod makers;
mod market;
mod marks;
mod names;
mod observers;
mod rows;
pub mod rules;
mod set_together;
mod simulated;
mod sizes;
mod states;
mod support;
mod whole;
mod wording;

use std::path::Path;

use crate::diagnostic::{Diagnostic, has_errors};
use crate::model::Model;
use crate::pack::text::{PackText, Word};
use crate::pack::{self, PackError};
use crate::source::Sources;
use draft::Draft;
pub use histories::shares::SHARES_OF_USE_SEEN;

/// Fewer pieces than this behind a row earn a warning. Common practice, no source.
pub const FEWEST_PIECES: f64 = 5.0;

/// Checks a pack and builds its model.
///
/// Defects and warnings are pushed to `out`, in the order of the files. The model is `None` if there is an error in
/// `out`, whether found here or before, or if the pack could not be read in full.
pub fn check(pack: &PackText, sources: &Sources, out: &mut Vec<Diagnostic>) -> Option<Model> {
    let n_before = out.len();
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
        .map(|marks| marks::declare(marks, &mut draft, out));
    let engravings = pack
        .engravings
        .as_ref()
        .map(|engravings| engravings::declared::declare(engravings, &mut draft, out));
    let hidden = hidden::declare(pack, &mut draft, out);
    let clues = clues::declare(pack, &mut draft, out);
    let dating = dating::declare(pack, &mut draft, makers.period, out);
    let learned = collection::declare(pack, &makers, &mut draft, out);
    collection::left_out::report(pack, out);
    names::report_taken(names_given(pack), out);

    makers::tables(pack, &makers, &mut draft, out);
    if let (Some(text), Some(sizes)) = (&pack.sizes, &sizes) {
        sizes::tables(text, sizes, &mut draft, out);
    }
    if let (Some(text), Some(marks)) = (&pack.marks, &marks) {
        marks::tables(text, marks, pack, &makers, &mut draft, out);
    }
    let read = match (&pack.engravings, &engravings) {
        (Some(text), Some(engravings)) => {
            Some(engravings::tables(text, engravings, pack, &mut draft, out))
        }
        _ => None,
    };
    hidden::tables(pack, &hidden, &mut draft, out);
    clues::tables(pack, &clues, &mut draft, out);
    clues::report_shared_measurements(pack, out);
    let observers = pack
        .observers
        .as_ref()
        .map(|text| observers::tables(text, pack, &mut draft, out));
    // Last, so that the draws of all other beliefs are the same with and without it.
    let lettering = pack
        .lettering
        .as_ref()
        .and_then(|text| lettering::check(pack, text, &mut draft, out));
    collection::tables(pack, &makers, &learned, &mut draft, out);
    let wording = wording::read(pack, out);
    if let Some(text) = &pack.looks {
        looks::check(text, pack, out);
    }

    let market = pack
        .market
        .as_ref()
        .and_then(|text| market::check(text, pack, sources, out));
    if let Some(text) = &pack.market {
        // What a piece's record may hold, with its states.
        let noted: Vec<&str> = names_given(pack).map(|word| word.value.as_str()).collect();
        let variables = draft.variables.iter();
        let noted =
            variables.filter(|v| v.name.value == "size" || noted.contains(&v.name.value.as_str()));
        market::check_findings(text, pack, &noted.collect::<Vec<_>>(), out);
    }

    if let Some(order) = gaps::order(&draft, out) {
        gaps::report(&draft, &order, out);
        if let (Some(text), Some(engravings), Some(read)) = (&pack.engravings, &engravings, &read) {
            engravings::report_gaps(text, engravings, read, &draft, &order, out);
        }
    }
    if !pack.not_whole.is_empty() {
        let found = out.split_off(n_before);
        out.extend(found.into_iter().filter(stands_alone));
    }
    out.sort_by_key(|diagnostic| diagnostic.place.span);
    if has_errors(out) || !pack.readable {
        return None;
    }
    let parts = whole::Parts {
        circumstances,
        makers,
        sizes,
        marks,
        lettering,
        engravings,
        histories: read
            .and_then(|read| read.told)
            .and_then(|told| told.histories),
        hidden,
        clues,
        observers,
        dating,
        learned,
        wording: wording?,
        market,
    };
    let model = whole::model(pack, draft, parts, out);
    out.sort_by_key(|diagnostic| diagnostic.place.span);
    model.filter(|_| !has_errors(out))
}

/// Reads a pack's folder and checks it: the whole way from prior files to a model.
///
/// # Errors
/// [`PackError::NoFolder`] if `folder` is not a folder.
pub fn load(
    folder: &Path,
    sources: &mut Sources,
    out: &mut Vec<Diagnostic>,
) -> Result<Option<Model>, PackError> {
    let pack = pack::read(folder, sources, out)?;
    Ok(pack.and_then(|pack| check(&pack, sources, out)))
}

/// The names that the pack itself gives to clues and circumstances.
fn names_given(pack: &PackText) -> impl Iterator<Item = &Word> {
    let codings = pack.engravings.iter().flat_map(|e| &e.codings);
    let circumstances = pack.circumstances.iter().map(|c| &c.id);
    circumstances
        .chain(pack.marks.iter().map(|m| &m.reading.id))
        .chain(codings.map(|c| &c.clue.id))
        .chain(pack.hidden.iter().map(|q| &q.id))
        .chain(pack.clues.iter().map(|c| &c.id))
        .chain(learned_names(pack))
}

/// The names given in `[[learned]]`: of each thing learned, and of each coded feature.
fn learned_names(pack: &PackText) -> impl Iterator<Item = &Word> {
    pack.collection
        .iter()
        .flat_map(|collection| &collection.learned)
        .flat_map(|learned| {
            let features = (learned.kind.value == "present or absent").then_some(&learned.columns);
            std::iter::once(&learned.id).chain(features.into_iter().flatten())
        })
}

/// Whether a finding stands whatever is missing from the files that are not whole. A name that is not known may well be
/// declared in the missing part, and a row that is not there may stand in it.
fn stands_alone(diagnostic: &Diagnostic) -> bool {
    matches!(
        diagnostic.code,
        "pack::row-sum"
            | "pack::zero"
            | "pack::few-pieces"
            | "pack::quantity"
            | "pack::bands"
            | "pack::period-order"
            | "pack::own-name"
            | "pack::duplicate"
            | "pack::unprintable"
    )
}
