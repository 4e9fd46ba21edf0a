//! The TOML of a file: every defect of it told, and what could be read around them kept.

use toml::de::{DeTable, DeValue};

use super::unprintable;
use crate::diagnostic::{Diagnostic, shorten};
use crate::source::{SourceId, Sources, Span};

/// Takes out what follows from a syntax error: a key that stands in the part that could not be read looks missing, and
/// the value where reading broke off looks wrong.
pub(super) fn drop_what_follows(
    n_before: usize,
    not_whole: &[SourceId],
    out: &mut Vec<Diagnostic>,
) {
    let found = out.split_off(n_before);
    let syntax: Vec<Span> = out
        .iter()
        .filter(|d| d.code == "pack::syntax")
        .map(|d| d.place.span)
        .collect();
    out.extend(found.into_iter().filter(|report| {
        let span = report.place.span;
        let touches = |error: &Span| {
            error.source == span.source && error.start <= span.end && span.start <= error.end
        };
        let is_missing = report.code == "pack::missing" && not_whole.contains(&span.source);
        !is_missing && !syntax.iter().any(touches)
    }));
}

/// Syntax errors are all reported; what could be read around them is kept, so that one slip does not hide the rest. Also
/// says whether nothing is missing from the document.
pub(super) fn parse<'s>(
    id: SourceId,
    sources: &'s Sources,
    out: &mut Vec<Diagnostic>,
) -> (DeTable<'s>, bool) {
    let (document, errors) = DeTable::parse_recoverable(&sources.file(id).text);
    let document = document.into_inner();
    let mut whole = true;
    let mut places = Vec::new();
    let last = sources.file(id).text.trim_end().len();
    for error in errors {
        let range = error.span().unwrap_or(0..0);
        // Where one bracket is missing, those around it are often reported at the same place.
        if places.contains(&range.start) {
            continue;
        }
        places.push(range.start);
        let span = Span {
            source: id,
            start: range.start,
            end: range.end,
        };
        if error.message().contains("duplicate key") {
            out.push(duplicate_key(&document, span, sources));
            continue;
        }
        whole = false;
        let message = shorten(&error.message().replace('\n', "; "));
        out.push(if range.start >= last {
            Diagnostic::error(
                "pack::syntax",
                format!("the file ends in the middle of something: {message}"),
                span,
            )
            .hint("see whether the file was cut short; if not, a bracket or a quotation mark is missing further up")
        } else {
            Diagnostic::error("pack::syntax", format!("this is not valid TOML: {message}"), span)
                .hint("texts need quotes, and quotes and brackets come in pairs")
        });
    }
    unprintable::report(&document, id, out);
    (document, whole)
}

fn duplicate_key(document: &DeTable<'_>, span: Span, sources: &Sources) -> Diagnostic {
    let text = &sources.file(span.source).text;
    let key = text.get(span.start..span.end).unwrap_or_default();
    let report = Diagnostic::error(
        "pack::duplicate-key",
        format!("`{key}` stands twice in the same table"),
        span,
    )
    .label("second time");
    let mut first = None;
    nearest_key_before(
        document,
        key.trim_matches(['"', '\'']),
        span.start,
        &mut first,
    );
    match first {
        Some(range) => report.also(
            Span {
                source: span.source,
                start: range.start,
                end: range.end,
            },
            "first time",
        ),
        None => report,
    }
    .hint("take one of them out")
}

/// The last place before `end` where a key of this name stands: for a key that was met a second time, the first.
fn nearest_key_before(
    table: &DeTable<'_>,
    name: &str,
    end: usize,
    nearest: &mut Option<std::ops::Range<usize>>,
) {
    for (key, value) in table {
        let range = key.span();
        if key.get_ref() == name
            && range.end <= end
            && nearest.as_ref().is_none_or(|n| n.start < range.start)
        {
            *nearest = Some(range);
        }
        let mut inside = |value: &DeValue<'_>| {
            if let Some(table) = value.as_table() {
                nearest_key_before(table, name, end, nearest);
            }
        };
        match value.get_ref() {
            DeValue::Array(list) => list.iter().for_each(|entry| inside(entry.get_ref())),
            value => inside(value),
        }
    }
}
