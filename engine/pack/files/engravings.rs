//! `engravings.toml`: engravings, their histories or who used them when, what each shows, how that is read.

use super::observers::table_or_say;
use super::{read_all, table};
use crate::dating::edtf::{Bound, Edtf};
use crate::diagnostic::Diagnostic;
use crate::pack::reader::Item;
use crate::pack::text::histories::{Event, FromHistories, History, Plate, What, WornLook};
use crate::pack::text::{Coding, Engraving, Engravings, Placed, Shows, Table};
use crate::source::Span;

/// The file. Who used an engraving is said by the rows of `[used]`, or follows from histories.
pub(super) fn engravings_file(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> Engravings {
    let engravings = read_all(
        item.items("engraving", "an engraving", out),
        out,
        |engraving, out| {
            let id = engraving.word("id", out);
            let (name, unseen) = (
                engraving.optional_word("name", out),
                engraving.flag("unseen", out),
            );
            let history = History {
                cut: dated(engraving, "cut", out),
                by: engraving.optional_word("by", out),
                size_classes: engraving.one_or_more("size_classes", out),
                events: read_all(
                    engraving.items("events", "an event", out),
                    out,
                    |event, out| self::event(event, out),
                ),
            };
            Some(Engraving {
                id: id?,
                name,
                unseen,
                history,
            })
        },
    );
    let has_histories = engravings.iter().any(|e| !e.history.is_empty());
    let used = (item.has("used") || !has_histories)
        .then(|| table(item, "used", "which engraving, by maker and period", out));
    let from_histories = FromHistories {
        never_seen: optional_table(item, "never_seen", "an engraving never seen", out),
        shares: optional_table(item, "use", "how the engravings at hand are used", out),
        plate: plate(item, out),
    };
    let right = table(item, "right", "the chance that a coding is read right", out);
    let codings = read_all(item.items("coding", "a coding", out), out, |coding, out| {
        let clue = coding.clue(None, "choice", out);
        let unseen = coding.seen_say("unseen", out);
        let right = optional_table(coding, "right", "how well a coding is read", out);
        let worn_looks = read_all(
            coding.items("worn_looks", "what wear makes of a state", out),
            out,
            |look, out| worn_look(look, out),
        );
        Some(Coding {
            clue: clue?,
            unseen,
            right,
            worn_looks,
        })
    });
    let shows = read_all(
        item.items("shows", "what an engraving shows", out),
        out,
        |shows, out| {
            let engraving = shows.word("engraving", out);
            let size_class = shows.word("size_class", out);
            let states = shows.remaining_words(out);
            Some(Shows {
                span: engraving.as_ref()?.span,
                engraving: engraving?,
                size_class: size_class?,
                states,
            })
        },
    );
    item.finish(out);
    Engravings {
        engravings,
        used,
        from_histories,
        right,
        codings,
        shows,
        span: item.span,
    }
}

/// A table that may be left out; `say = "5%"` is short for one row with `otherwise = true`.
fn optional_table(
    item: &Item<'_>,
    key: &'static str,
    what: &'static str,
    out: &mut Vec<Diagnostic>,
) -> Option<Table> {
    let table = item.item(key, what, out)?;
    let read = table_or_say(&table, out);
    table.finish(out);
    Some(read)
}

/// The date of an event, within the years that any ware is of: histories are gone through year by year.
fn dated(item: &Item<'_>, key: &'static str, out: &mut Vec<Diagnostic>) -> Option<Placed<Edtf>> {
    let date = item.optional_date(key, out)?;
    let is_far = |bound: Bound| matches!(bound, Bound::Year(year) if !(0..=9999).contains(&year));
    if is_far(date.value.earliest()) || is_far(date.value.latest()) {
        out.push(
            Diagnostic::error(
                "pack::years",
                format!("`{}` is not within the years 0 to 9999", date.value),
                date.span,
            )
            .hint("write the year in which it happened, such as \"1863~\""),
        );
        return None;
    }
    Some(date)
}

fn plate(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> Option<Plate> {
    let plate = item.item("plate", "the wear of plates", out)?;
    let read = Plate {
        states: plate.words("states", out),
        unseen: plate.seen_say("unseen", out),
        table: table_or_say(&plate, out),
        span: plate.span,
    };
    plate.finish(out);
    Some(read)
}

/// `{ sold = "1863~", to = "NB" }`: one key says what happened and when.
fn event(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> Option<Event> {
    let dated: Vec<(What, Option<Placed<_>>)> = What::KEYS
        .into_iter()
        .filter(|(_, key)| item.has(key))
        .map(|(what, key)| (what, dated(item, key, out)))
        .collect();
    // Every key is asked for, so that one that is misspelt is compared with them all.
    for (_, key) in What::KEYS {
        item.know(key);
    }
    let to = item.one_or_more("to", out);
    let with = item.one_or_more("with", out);
    let by = item.optional_word("by", out);
    let becomes = item.optional_word("as", out);
    let plate = item.optional_word("plate", out);
    let kinds = || {
        let keys: Vec<String> = What::KEYS
            .iter()
            .map(|(_, key)| format!("`{key}`"))
            .collect();
        keys.join(", ")
    };
    let (what, date) = match <[_; 1]>::try_from(dated) {
        Ok([(what, date)]) => (what, date?),
        Err(dated) if dated.is_empty() && !item.knows_all() => return None,
        Err(dated) => {
            let message = if dated.is_empty() {
                "this event does not say what happened and when"
            } else {
                "this says two events at once"
            };
            out.push(
                Diagnostic::error("pack::event", message, item.span).hint(format!(
                    "give it one of {} with a date, such as {{ sold = \"1863~\", to = \"…\" }}",
                    kinds()
                )),
            );
            return None;
        }
    };
    Some(Event {
        what,
        span: Span { ..date.span },
        date,
        to: if to.is_empty() { with } else { to },
        by,
        becomes,
        plate,
    })
}

fn worn_look(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> Option<WornLook> {
    let plate = item.word("plate", out);
    let state = item.word("state", out);
    let like = item.word("like", out);
    let say = item.chance("say", out);
    let seen = item.seen(out);
    Some(WornLook {
        plate: plate?,
        span: state.as_ref()?.span,
        state: state?,
        like: like?,
        say,
        seen,
    })
}
