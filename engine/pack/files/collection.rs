//! `collection.toml`.

use super::read_all;
use crate::diagnostic::Diagnostic;
use crate::pack::reader::Item;
use crate::pack::text::{Collection, Learned};
use crate::source::SourceId;

pub(super) fn collection_file(
    item: &Item<'_>,
    table: Option<(SourceId, crate::learn::collection::Collection)>,
    out: &mut Vec<Diagnostic>,
) -> Collection {
    let learned = read_all(
        item.items("learned", "what is learned from the collection", out),
        out,
        |learned, out| {
            let id = learned.word("id", out);
            let (name, look) = (
                learned.optional_word("name", out),
                learned.optional_word("look", out),
            );
            let (kind, given) = (learned.word("kind", out), learned.word("given", out));
            let columns = learned.words("columns", out);
            Some(Learned {
                id: id?,
                name,
                kind: kind?,
                given: given?,
                columns,
                look,
            })
        },
    );
    let what = "which columns of collection.csv say what";
    let head = item.required_item("collection", what, out);
    let mut word = |key: &'static str, needed: bool| {
        let head = head.as_ref()?;
        if needed {
            head.word(key, out)
        } else {
            head.optional_word(key, out)
        }
    };
    let (published, piece) = (word("published", true), word("piece", true));
    let (maker, period) = (word("maker", false), word("period", false));
    if let Some(head) = &head {
        head.finish(out);
    }
    item.finish(out);
    let (source, table) = table.map_or((item.span.source, None), |(id, table)| (id, Some(table)));
    Collection {
        published,
        piece,
        maker,
        period,
        learned,
        table,
        source,
        span: head.map_or(item.span, |head| head.span),
    }
}
