//! Beliefs, rows, tables and clues: the part of the format that `say`s something.

use toml::de::DeValue;

use super::{Item, Value};
use crate::diagnostic::{Diagnostic, has_errors, shorten};
use crate::nearest_name::nearest;
use crate::pack::text::{
    Clue, Condition, Placed, Remainder, Row, RowBody, Say, SeenSay, Table, Weighing,
};
use crate::units;

/// Keys of a row that are not conditions.
const ROW_KEYS: [&str; 9] = [
    "say",
    "seen",
    "note",
    "otherwise",
    "mean",
    "sd",
    "median",
    "factor",
    "correlation",
];

impl<'t> Item<'t> {
    /// The inline map `say = { … }`.
    fn as_say(&self, value: &'t Value<'t>, out: &mut Vec<Diagnostic>) -> Option<Say> {
        let Some(table) = value.get_ref().as_table() else {
            self.wrong(value, "say", "a map from states to beliefs", out);
            return None;
        };
        let mut say = Say {
            entries: Vec::new(),
            otherwise: None,
            readable: true,
            span: self.place(value.span()),
        };
        for (key, belief) in table {
            let span = self.place(key.span());
            if key.get_ref() == "otherwise" {
                let remainder = match belief.get_ref().as_str() {
                    Some("impossible") => Remainder::Impossible,
                    Some("evenly") => Remainder::Evenly,
                    _ => {
                        self.wrong(belief, "otherwise", "\"impossible\" or \"evenly\"", out);
                        say.readable = false;
                        continue;
                    }
                };
                say.otherwise = Some(Placed {
                    value: remainder,
                    span,
                });
            } else {
                let state = Placed {
                    value: key.get_ref().to_string(),
                    span,
                };
                say.entries.push((state, self.as_chance(belief, out)));
            }
        }
        // The parser keeps keys by name; people read them in the order of the line.
        say.entries.sort_by_key(|(state, _)| state.span.start);
        Some(say)
    }

    /// A map with `say` and `seen` of its own.
    pub fn seen_say(&self, key: &'static str, out: &mut Vec<Diagnostic>) -> Option<SeenSay> {
        self.get(key)?;
        let Some(item) = self.item(key, "this belief", out) else {
            return Some(SeenSay {
                say: None,
                seen: None,
            });
        };
        let say = match item.get("say") {
            Some(value) => item.as_say(value, out),
            None => {
                item.missing("say", "a map from states to beliefs", out);
                None
            }
        };
        let seen = item.seen(out);
        item.finish(out);
        Some(SeenSay { say, seen })
    }

    /// `depends_on`, `seen` and rows of a table.
    pub fn table(&self, out: &mut Vec<Diagnostic>) -> Table {
        let n_reports = out.len();
        let depends_on = self.words("depends_on", out);
        let seen = self.seen(out);
        let rows = self.items("row", "a row", out);
        let readable = !has_errors(&out[n_reports..]);
        let rows: Vec<Row> = rows.iter().map(|row| row.row(out)).collect();
        Table {
            depends_on,
            seen,
            readable: readable && rows.iter().all(|row| row.readable),
            rows,
            span: self.span,
        }
    }

    fn row(&self, out: &mut Vec<Diagnostic>) -> Row {
        let n_reports = out.len();
        let body = self.row_body(out);
        let mut row = Row {
            conditions: Vec::new(),
            otherwise: self.flag("otherwise", out),
            body,
            seen: self.seen(out),
            readable: true,
            span: self.span,
        };
        for (key, value) in self.table {
            if ROW_KEYS.contains(&&**key.get_ref()) {
                continue;
            }
            let values = match value.get_ref() {
                DeValue::Array(list) => list
                    .iter()
                    .map(|v| self.as_word(v))
                    .collect::<Option<Vec<_>>>(),
                _ => self.as_word(value).map(|word| vec![word]),
            };
            match values {
                Some(values) => row.conditions.push(Condition {
                    parent: Placed {
                        value: key.get_ref().to_string(),
                        span: self.place(key.span()),
                    },
                    values,
                }),
                None => match nearest(key.get_ref(), ROW_KEYS) {
                    Some(name) => out.push(
                        Diagnostic::error(
                            "pack::unknown-key",
                            format!(
                                "`{}` is not something a row can have",
                                shorten(key.get_ref())
                            ),
                            self.place(key.span()),
                        )
                        .did_you_mean(Some(name)),
                    ),
                    None => self.wrong(
                        value,
                        key.get_ref(),
                        "the name of a state, or a list of names",
                        out,
                    ),
                },
            }
        }
        row.readable = !has_errors(&out[n_reports..]);
        row.conditions.sort_by_key(|c| c.parent.span.start);
        if let Some(first) = row.conditions.first() {
            // A row's own header is `[[…row]]`, alike for all rows; its first condition says which row is meant.
            row.span = first.parent.span;
            if let Some(last) = row.conditions.last().and_then(|c| c.values.last()) {
                row.span.end = last.span.end;
            }
        }
        row
    }

    fn row_body(&self, out: &mut Vec<Diagnostic>) -> Option<RowBody> {
        if let Some(value) = self.get("say") {
            return if value.get_ref().is_table() {
                self.as_say(value, out).map(RowBody::States)
            } else {
                self.as_chance(value, out).map(RowBody::Single)
            };
        }
        if let Some(colour) = self.colour_body(out) {
            return colour;
        }
        let pairs = [("mean", "sd"), ("median", "factor")];
        if let Some((location, scale)) = pairs
            .into_iter()
            .find(|(a, b)| self.get(a).is_some() || self.get(b).is_some())
        {
            for key in [location, scale] {
                if self.get(key).is_none() {
                    self.missing(key, "a number", out);
                }
            }
            let (a, b) = (self.number(location, out), self.number(scale, out));
            return Some(match (location, a?, b?) {
                ("mean", mean, sd) => RowBody::Normal { mean, sd },
                (_, median, factor) => RowBody::Lognormal { median, factor },
            });
        }
        self.missing(
            "say",
            "or `mean` and `sd`, or `median` and `factor` for a weight",
            out,
        );
        None
    }

    /// A clue: its words and, from the same table, its rows.
    pub fn clue(
        &self,
        default_id: Option<&str>,
        default_kind: &str,
        out: &mut Vec<Diagnostic>,
    ) -> Option<Clue> {
        let here = |text: &str| Placed {
            value: text.to_owned(),
            span: self.span,
        };
        let id = match default_id {
            Some(id) => Some(here(id)),
            None => self.word("id", out),
        };
        let kind = self
            .optional_word("kind", out)
            .unwrap_or_else(|| here(default_kind));
        let weighing = (kind.value == "weight").then(|| Weighing {
            judged: self
                .optional_word("judged", out)
                .unwrap_or_else(|| here("as it is")),
            family: self
                .optional_word("family", out)
                .unwrap_or_else(|| here("lognormal")),
            bands: self.numbers("bands", out),
            tolerance: self.quantity("tolerance", units::MASS, out),
        });
        let wrong = (kind.value == "date")
            .then(|| self.chance("wrong", out))
            .flatten();
        Some(Clue {
            id: id?,
            wrong,
            name: self.optional_word("name", out),
            kind,
            states: self.words("states", out),
            absent: self.optional_word("absent", out),
            look: self.optional_word("look", out),
            taken_from: self.optional_word("taken_from", out),
            weighing,
            reads: None,
            simulated: None,
            instrument: None,
            table: self.table(out),
        })
    }
}
