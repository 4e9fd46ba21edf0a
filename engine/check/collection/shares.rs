//! How common each maker or period is, counted in the collection.

use super::columns::{classes, districts, maker_names, period_names};
use crate::check::draft::{Draft, DraftRule};
use crate::diagnostic::Diagnostic;
use crate::learn;
use crate::pack::text::PackText;

/// How common each maker is, learned where no maker has a `share`.
pub fn of_makers(
    pack: &PackText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<DraftRule> {
    let collection = pack.collection.as_ref()?;
    let column = collection.maker.as_ref()?;
    let class_of = classes(collection, column, "maker", &maker_names(pack), out)?;
    let say = learn::shares::shares(&districts(pack), &class_of);
    let seen = (class_of.len() + say.len()) as f64;
    Some(draft.categorical("share of each maker".to_owned(), say, seen, column.span))
}

/// How common each period is, for a pack that leaves out the makers.
pub fn of_periods(
    pack: &PackText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<DraftRule> {
    let Some((collection, column)) = pack
        .collection
        .as_ref()
        .and_then(|c| Some((c, c.period.as_ref()?)))
    else {
        out.push(
            Diagnostic::error(
                "pack::collection",
                "nothing says how common each period is",
                pack.name.span,
            )
            .hint("name in [collection] the column that says the `period`, or give the makers with their output"),
        );
        return None;
    };
    let names = period_names(pack);
    let class_of = classes(collection, column, "period", &names, out)?;
    let each_its_own: Vec<usize> = (0..names.len()).collect();
    let say = learn::shares::shares(&each_its_own, &class_of);
    let seen = (class_of.len() + say.len()) as f64;
    Some(draft.categorical("share of each period".to_owned(), say, seen, column.span))
}
