//! The columns of a collection: the class of each row, and the cells that are learned from.

use crate::check::names;
use crate::diagnostic::Diagnostic;
use crate::pack::text::{Collection, Learned, PackText, Word};
use crate::source::Span;

/// The column that says the class, for a learned thing that must be given it.
pub(super) fn class_column<'p>(
    collection: &'p Collection,
    learned: &Learned,
    wanted: &'static str,
    column: Option<&'p Word>,
    out: &mut Vec<Diagnostic>,
) -> Option<&'p Word> {
    if learned.given.value != wanted {
        let message = format!(
            "what is {} is learned for each {wanted}, and this says `{}`",
            learned.kind.value, learned.given.value
        );
        out.push(
            Diagnostic::error("pack::collection", message, learned.given.span)
                .hint(format!("write `given = \"{wanted}\"`")),
        );
        return None;
    }
    if column.is_none() {
        let message = format!("[collection] does not name the column that says the {wanted}");
        out.push(
            Diagnostic::error("pack::collection", message, collection.span)
                .hint(format!("add `{wanted} = \"…\"`")),
        );
    }
    column
}

pub(super) type Names = Vec<(String, Option<String>)>;

pub(super) fn maker_names(pack: &PackText) -> Names {
    let name = |maker: &crate::pack::text::Maker| maker.name.as_ref().map(|n| n.value.clone());
    pack.makers
        .iter()
        .map(|maker| (maker.id.value.clone(), name(maker)))
        .collect()
}

pub(super) fn period_names(pack: &PackText) -> Names {
    let periods = pack.periods.iter();
    periods.map(|p| (p.id.value.clone(), None)).collect()
}

/// The region of each maker, numbered; a maker whose region is not readable has one of its own.
pub(super) fn districts(pack: &PackText) -> Vec<usize> {
    let region = |maker: &crate::pack::text::Maker| {
        let word = maker.region.as_ref()?;
        pack.regions.iter().position(|r| r.value == word.value)
    };
    pack.makers
        .iter()
        .enumerate()
        .map(|(i, maker)| region(maker).unwrap_or(pack.regions.len() + i))
        .collect()
}

/// The class of each row: a name or short code of the pack.
pub(super) fn classes(
    collection: &Collection,
    column: &Word,
    what: &str,
    names: &Names,
    out: &mut Vec<Diagnostic>,
) -> Option<Vec<usize>> {
    let table = collection.table.as_ref()?;
    let known = table.columns.iter().map(String::as_str);
    let column = names::find("column", column, known, out)?;
    let mut class_of = Vec::with_capacity(table.rows.len());
    for row in &table.rows {
        let word = Word {
            value: row.cells[column].clone(),
            span: place(collection, &row.range),
        };
        let is = |(id, name): &(String, Option<String>)| {
            *id == word.value || name.as_ref() == Some(&word.value)
        };
        match names.iter().position(is) {
            Some(class) => class_of.push(class),
            None => {
                let known = names.iter().map(|(id, name)| name.as_deref().unwrap_or(id));
                out.push(names::unknown(what, &word, known));
            }
        }
    }
    (class_of.len() == table.rows.len()).then_some(class_of)
}

/// The cells of some columns, each read in one way.
pub(super) fn cells<T>(
    collection: &Collection,
    learned: &Learned,
    out: &mut Vec<Diagnostic>,
    read: impl Fn(&str) -> Option<T>,
) -> Option<Vec<Vec<T>>> {
    let table = collection.table.as_ref()?;
    if learned.columns.is_empty() {
        out.push(
            Diagnostic::error(
                "pack::missing",
                format!("`{}` has no columns", learned.id.value),
                learned.id.span,
            )
            .hint("add `columns = [\"…\", \"…\"]`: columns of collection.csv"),
        );
        return None;
    }
    names::report_duplicates("column", &learned.columns, out);
    let known = || table.columns.iter().map(String::as_str);
    let places: Vec<Option<usize>> = learned
        .columns
        .iter()
        .map(|column| names::find("column", column, known(), out))
        .collect();
    let places: Option<Vec<usize>> = places.into_iter().collect();
    let places = places?;
    let mut rows = Vec::with_capacity(table.rows.len());
    for row in &table.rows {
        let mut cells = Vec::with_capacity(places.len());
        for &column in &places {
            match read(&row.cells[column]) {
                Some(cell) => cells.push(cell),
                None => {
                    let message = format!(
                        "`{}` of this row is not a number: `{}`",
                        table.columns[column],
                        crate::diagnostic::shorten(&row.cells[column])
                    );
                    out.push(
                        Diagnostic::error("pack::collection", message, place(collection, &row.range))
                            .hint("a row takes part only if every cell is filled: measure it, or take the row out"),
                    );
                }
            }
        }
        if cells.len() == places.len() {
            rows.push(cells);
        }
    }
    (rows.len() == table.rows.len()).then_some(rows)
}

pub(super) fn place(collection: &Collection, range: &std::ops::Range<usize>) -> Span {
    Span {
        source: collection.source,
        start: range.start,
        end: range.end,
    }
}
