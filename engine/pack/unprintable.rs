//! Texts of a pack that would steer the terminal of whoever reads a result: refused, with their place.

use toml::de::{DeTable, DeValue};

use crate::diagnostic::{Diagnostic, shorten};
use crate::printable::{in_a_line, steering, steers};
use crate::source::{SourceId, Span};

/// What may be written over several lines: it is prose, and folded anew where it is shown.
const PROSE: [&str; 4] = ["note", "source", "words", "about"];

/// Reports every key and text of a document that holds a character which steers a terminal. `toml` allows them by `\u001b`.
pub(super) fn report(document: &DeTable<'_>, id: SourceId, out: &mut Vec<Diagnostic>) {
    for (key, value) in document {
        text(key.get_ref(), key.span(), false, id, out);
        let may_break = PROSE.contains(&&**key.get_ref());
        within(value, may_break, id, out);
    }
}

fn within(
    value: &toml::Spanned<DeValue<'_>>,
    may_break: bool,
    id: SourceId,
    out: &mut Vec<Diagnostic>,
) {
    match value.get_ref() {
        DeValue::String(written) => text(written, value.span(), may_break, id, out),
        DeValue::Array(list) => {
            for entry in list.iter() {
                within(entry, may_break, id, out);
            }
        }
        DeValue::Table(table) => report(table, id, out),
        _ => {}
    }
}

fn text(
    written: &str,
    place: std::ops::Range<usize>,
    may_break: bool,
    id: SourceId,
    out: &mut Vec<Diagnostic>,
) {
    let breaks = |c: char| matches!(c, '\n' | '\r' | '\t');
    if !written.contains(|c: char| steers(c) && !(may_break && breaks(c))) {
        return;
    }
    let kept: String = match may_break {
        true => written.chars().filter(|c| !breaks(*c)).collect(),
        false => written.to_owned(),
    };
    let Some(what) = steering(&kept) else {
        return;
    };
    let span = Span {
        source: id,
        start: place.start,
        end: place.end,
    };
    let shown = shorten(&in_a_line(written));
    out.push(
        Diagnostic::error(
            "pack::unprintable",
            format!("the text “{shown}” holds {what}"),
            span,
        )
        .label("expected plain text in one line")
        .hint("take it out: where the text is shown it would move the cursor or forge a line"),
    );
}
