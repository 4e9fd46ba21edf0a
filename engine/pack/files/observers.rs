//! `observers.toml`: who codes, and how well.

use super::read_all;
use crate::diagnostic::{Diagnostic, has_errors};
use crate::pack::reader::Item;
use crate::pack::text::{Observer, Observers, Reads, Row, RowBody, Table};

/// The file.
pub(super) fn observers_file(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> Observers {
    let default = item.word("default", out);
    let observers = read_all(
        item.items("observer", "an observer", out),
        out,
        |observer, out| {
            let id = observer.word("id", out);
            let (name, otherwise) = (
                observer.optional_word("name", out),
                observer.word("otherwise", out),
            );
            let reads = read_all(
                observer.items("reads", "what an observer reads", out),
                out,
                |reads, out| {
                    Some(Reads {
                        clues: reads.words("clues", out),
                        table: table_or_say(reads, out),
                        span: reads.span,
                    })
                },
            );
            Some(Observer {
                id: id?,
                name,
                otherwise,
                reads,
            })
        },
    );
    item.finish(out);
    Observers {
        default,
        observers,
        span: item.span,
    }
}

/// A table of rows; `say = "92%"` is short for one row with `otherwise = true`.
pub(super) fn table_or_say(reads: &Item<'_>, out: &mut Vec<Diagnostic>) -> Table {
    let mut table = reads.table(out);
    if !reads.has("say") {
        return table;
    }
    let n_reports = out.len();
    let chance = reads.chance("say", out);
    if !table.rows.is_empty() {
        out.push(
            Diagnostic::error(
                "pack::row-form",
                "`say` stands beside rows",
                chance.as_ref().map_or(reads.span, |chance| chance.span),
            )
            .hint("write it as the last row: { otherwise = true, say = … }"),
        );
    }
    table.readable &= !has_errors(&out[n_reports..]);
    table.rows.push(Row {
        conditions: Vec::new(),
        otherwise: true,
        span: chance.as_ref().map_or(reads.span, |chance| chance.span),
        body: chance.map(RowBody::Single),
        seen: None,
        readable: true,
    });
    table
}
