//! `marks.toml`.

use super::{read_all, table};
use crate::diagnostic::Diagnostic;
use crate::pack::reader::Item;
use crate::pack::text::{Kind, Mark, MarkedBy, Marks, Stray};

pub(super) fn marks_file(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> Option<Marks> {
    let marks = read_all(item.items("mark", "a mark", out), out, |mark, out| {
        let (id, method) = (mark.word("id", out), mark.word("method", out));
        let text = mark.optional_word("text", out);
        let (devices, companions) = (mark.words("devices", out), mark.words("companions", out));
        Some(Mark {
            id: id?,
            method,
            text,
            devices,
            companions,
        })
    });
    let strike = table(item, "strike", "how well a mark came out, by method", out);
    let rate = table(
        item,
        "rate",
        "the chance of being marked, by maker and period",
        out,
    );
    let marked_by = read_all(
        item.items("marked_by", "the marks of a maker", out),
        out,
        |entry, out| {
            let maker = entry.word("maker", out);
            let kinds = read_all(
                entry.items("kinds", "a mark in use", out),
                out,
                |kind, out| {
                    let (mark, say) = (kind.word("mark", out), kind.chance("say", out));
                    let years = kind.optional_years("years", out);
                    Some(Kind {
                        mark: mark?,
                        say,
                        years,
                    })
                },
            );
            let seen = entry.seen(out);
            Some(MarkedBy {
                span: maker.as_ref()?.span,
                maker: maker?,
                kinds,
                seen,
            })
        },
    );
    let stray = item.item("stray", "stray initials", out).map(|stray| {
        let say = stray.chance("say", out);
        let (seen, except) = (stray.seen(out), stray.words("except", out));
        stray.finish(out);
        Stray {
            span: say.as_ref().map_or(stray.span, |say| say.span),
            say,
            seen,
            except,
        }
    });
    let reading = item
        .required_item("reading", "what is read of a mark", out)
        .and_then(|reading| {
            let clue = reading.clue(Some("mark"), "choice", out);
            reading.finish(out);
            clue
        });
    item.finish(out);
    Some(Marks {
        marks,
        strike,
        rate,
        marked_by,
        stray,
        reading: reading?,
    })
}
