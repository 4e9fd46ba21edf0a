//! The changed numbers of a belief, put into the row that it was read from.

use toml_edit::{DocumentMut, InlineTable, Item, TableLike, Value};

use super::ROUNDING;
use super::homes::Way;
use crate::model::chance_names::chance_names;
use crate::model::{BeliefId, Model, Spread};

/// Chances by name: as they were, and as they are to be.
struct Chances {
    names: Vec<String>,
    was: Vec<f64>,
    now: Vec<f64>,
}

/// Puts the changed numbers of a belief where it was read; `None` for a form that this does not know.
pub(super) fn put(
    document: &mut DocumentMut,
    way: &Way,
    stated: &Model,
    changed: &Model,
    id: BeliefId,
) -> Option<()> {
    let (was, now) = (stated.beliefs.get(id), changed.beliefs.get(id));
    let seen = (was.seen != now.seen).then_some(now.seen);
    let row = way.end(document)?;
    match (&was.spread, &now.spread) {
        (Spread::Categorical { say: was }, Spread::Categorical { say: now }) => {
            let chances = Chances {
                names: chance_names(stated, id),
                was: was.clone(),
                now: now.clone(),
            };
            if row.contains_key("share") && !row.contains_key("say") {
                return shares(document, &chances, seen);
            }
            if row.contains_key("kinds") {
                kinds(row, &chances)?;
            } else if row.contains_key("of_reproductions") {
                simulated(row, stated, id, *now.first()?)?;
            } else {
                said(row, &chances)?;
            }
        }
        (Spread::Normal { mean, sd }, Spread::Normal { mean: m, sd: s }) => {
            let logarithmic = row.contains_key("median");
            let (location, scale) = match logarithmic {
                true => (("median", m.exp()), ("factor", s.exp())),
                false => (("mean", *m), ("sd", *s)),
            };
            if mean != m {
                set(row, location.0, location.1);
            }
            if sd != s {
                set(row, scale.0, scale.1);
            }
        }
        (was, now) if was == now => {}
        _ => return None,
    }
    if let Some(seen) = seen {
        set(row, "seen", seen);
    }
    Some(())
}

/// A number as a person would write it: 50 pieces, not 50.0.
fn written(number: f64) -> Value {
    const LARGEST: f64 = 1e15;
    if number.fract() == 0.0 && number.abs() < LARGEST {
        #[allow(
            clippy::cast_possible_truncation,
            reason = "a whole number that small is exact"
        )]
        return Value::from(number as i64);
    }
    Value::from(number)
}

/// `say`, a chance alone or chances by name.
fn said(row: &mut dyn TableLike, chances: &Chances) -> Option<()> {
    if chances.was == chances.now {
        return Some(());
    }
    let item = row.get_mut("say")?;
    if let Some(say) = item.as_table_like_mut() {
        let cells = chances.names.iter().zip(&chances.was).zip(&chances.now);
        let changed = cells.filter(|((_, was), now)| was != now);
        let changed: Vec<(&String, f64)> = changed.map(|((name, _), now)| (name, *now)).collect();
        // What was shared out evenly among the states that are not named may not be so any more.
        let is_shared_out = say.get("otherwise").and_then(Item::as_str) == Some("evenly");
        let cells = chances.names.iter().zip(&chances.now);
        let unnamed = cells.filter(|(name, _)| !say.contains_key(name));
        let (least, most) = unnamed.fold((f64::MAX, f64::MIN), |(least, most), (_, &now)| {
            (least.min(now), most.max(now))
        });
        let stays_even = most - least <= ROUNDING;
        if is_shared_out && !stays_even {
            let end = trailing_blank(say);
            say.remove("otherwise");
            for (name, now) in chances.names.iter().zip(&chances.now) {
                set(say, name, *now);
            }
            end_with(say, end);
            return Some(());
        }
        for (name, now) in changed {
            if is_shared_out && !say.contains_key(name) {
                continue;
            }
            set(say, name, now);
        }
        return Some(());
    }
    // A chance alone is that of the first of two.
    if let [now, _] = chances.now[..] {
        set(row, "say", now);
        return Some(());
    }
    let mut say = InlineTable::new();
    for (name, now) in chances.names.iter().zip(&chances.now) {
        say.insert(name, written(*now));
    }
    replace(item.as_value_mut()?, Value::InlineTable(say));
    Some(())
}

/// The shares of the makers stand with the makers, and what is behind them in a table of its own.
fn shares(document: &mut DocumentMut, chances: &Chances, seen: Option<f64>) -> Option<()> {
    let makers = document.get_mut("maker")?;
    for ((name, was), now) in chances.names.iter().zip(&chances.was).zip(&chances.now) {
        if was == now {
            continue;
        }
        let is_it =
            |table: &dyn TableLike| table.get("id").and_then(Item::as_str) == Some(name.as_str());
        let maker: &mut dyn TableLike = match &mut *makers {
            Item::ArrayOfTables(tables) => tables.iter_mut().find(|table| is_it(*table))?,
            Item::Value(Value::Array(rows)) => {
                let mut rows = rows.iter_mut().filter_map(Value::as_inline_table_mut);
                rows.find(|row| is_it(*row))?
            }
            _ => return None,
        };
        set(maker, "share", *now);
    }
    if let Some(seen) = seen {
        set(
            document.get_mut("shares")?.as_table_like_mut()?,
            "seen",
            seen,
        );
    }
    Some(())
}

/// The kinds of a maker's marks, one row each.
fn kinds(table: &mut dyn TableLike, chances: &Chances) -> Option<()> {
    let rows = table.get_mut("kinds")?.as_array_mut()?;
    if rows.len() != chances.now.len() {
        return None;
    }
    let cells = chances.was.iter().zip(&chances.now);
    for (row, (was, now)) in rows.iter_mut().zip(cells) {
        if was != now {
            set(row.as_inline_table_mut()?, "say", *now);
        }
    }
    Some(())
}

/// The two beliefs of a simulated state stand in one row, that about reproductions first.
fn simulated(row: &mut dyn TableLike, stated: &Model, id: BeliefId, now: f64) -> Option<()> {
    let citation = &stated.beliefs.get(id).citation;
    let mut of_row = stated
        .beliefs
        .iter()
        .filter(|(_, b)| b.citation == *citation);
    let is_first = of_row.next()?.0 == id;
    set(
        row,
        if is_first {
            "of_reproductions"
        } else {
            "of_others"
        },
        now,
    );
    Some(())
}

/// Sets a number, with the blanks and comments around the old one; a new one goes to the end of the row.
fn set(row: &mut dyn TableLike, key: &str, number: f64) {
    if let Some(old) = row.get_mut(key).and_then(Item::as_value_mut) {
        replace(old, written(number));
        return;
    }
    let end = trailing_blank(row);
    row.insert(key, Item::Value(written(number)));
    end_with(row, end);
}

fn replace(old: &mut Value, mut new: Value) {
    *new.decor_mut() = old.decor().clone();
    *old = new;
}

/// Takes away the blank before the bracket that closes a row: it belongs behind what will be the last.
fn trailing_blank(row: &mut dyn TableLike) -> Option<String> {
    let last = row.iter().last().map(|(key, _)| key.to_owned())?;
    let decor = row.get_mut(&last)?.as_value_mut()?.decor_mut();
    let blank = decor.suffix()?.as_str()?.to_owned();
    if blank.is_empty() || !blank.trim().is_empty() {
        return None;
    }
    decor.set_suffix("");
    Some(blank)
}

fn end_with(row: &mut dyn TableLike, blank: Option<String>) {
    let last = row.iter().last().map(|(key, _)| key.to_owned());
    if let Some(blank) = blank
        && let Some(last) = last
        && let Some(value) = row.get_mut(&last).and_then(Item::as_value_mut)
    {
        value.decor_mut().set_suffix(blank);
    }
}
