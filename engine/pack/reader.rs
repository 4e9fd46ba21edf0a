//! Typed access to one TOML table: each getter takes a key, reports what is wrong with its value, and remembers that
//! the key is known, so that [`Item::finish`] can report the keys nobody asked for.

use std::cell::{Cell, RefCell};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::belief::{self, Chance};
use super::text::{
    Clue, Condition, Placed, Remainder, Row, RowBody, Say, SeenSay, Table, Weighing, Word,
};
use super::years::Years;
use crate::diagnostic::Diagnostic;
use crate::nearest_name::nearest;
use crate::source::{SourceId, Span};

type Value<'t> = Spanned<DeValue<'t>>;

/// One TOML table being read.
pub(super) struct Item<'t> {
    table: &'t DeTable<'t>,
    source: SourceId,
    /// The place that is named when something is missing.
    pub span: Span,
    /// What the table describes, for messages: `a maker`.
    what: &'static str,
    known: RefCell<Vec<&'static str>>,
    /// Set when the table's remaining keys are its content, so that none is unknown.
    open: Cell<bool>,
}

/// Keys of a row that are not conditions.
const ROW_KEYS: [&str; 8] = [
    "say",
    "seen",
    "note",
    "otherwise",
    "mean",
    "sd",
    "median",
    "factor",
];

impl<'t> Item<'t> {
    pub fn new(
        table: &'t DeTable<'t>,
        source: SourceId,
        span: std::ops::Range<usize>,
        what: &'static str,
    ) -> Self {
        Self {
            table,
            source,
            span: Span {
                source,
                start: span.start,
                end: span.end,
            },
            what,
            known: RefCell::new(vec!["note"]),
            open: Cell::new(false),
        }
    }

    fn place(&self, range: std::ops::Range<usize>) -> Span {
        Span {
            source: self.source,
            start: range.start,
            end: range.end,
        }
    }

    fn get(&self, key: &'static str) -> Option<&'t Value<'t>> {
        self.known.borrow_mut().push(key);
        self.table.get(key)
    }

    fn wrong(&self, value: &Value<'_>, key: &str, expected: &str, out: &mut Vec<Diagnostic>) {
        out.push(
            Diagnostic::error(
                "pack::wrong-type",
                format!("`{key}` of {} is {}", self.what, describe(value.get_ref())),
                self.place(value.span()),
            )
            .label(format!("expected {expected}")),
        );
    }

    fn missing(&self, key: &str, expected: &str, out: &mut Vec<Diagnostic>) {
        out.push(
            Diagnostic::error(
                "pack::missing",
                format!("{} has no `{key}`", self.what),
                self.span,
            )
            .hint(format!("add `{key} = …` ({expected})")),
        );
    }

    /// A text that may be left out.
    pub fn optional_word(&self, key: &'static str, out: &mut Vec<Diagnostic>) -> Option<Word> {
        let value = self.get(key)?;
        let word = self.as_word(value);
        if word.is_none() {
            self.wrong(value, key, "a text that is not empty", out);
        }
        word
    }

    /// A text that must be there.
    pub fn word(&self, key: &'static str, out: &mut Vec<Diagnostic>) -> Option<Word> {
        if self.get(key).is_none() {
            self.missing(key, "a text", out);
            return None;
        }
        self.optional_word(key, out)
    }

    fn as_word(&self, value: &Value<'_>) -> Option<Word> {
        let text = value.get_ref().as_str()?;
        (!text.trim().is_empty()).then(|| Placed {
            value: text.to_owned(),
            span: self.place(value.span()),
        })
    }

    /// A list of texts; empty if left out.
    pub fn words(&self, key: &'static str, out: &mut Vec<Diagnostic>) -> Vec<Word> {
        let Some(value) = self.get(key) else {
            return Vec::new();
        };
        let Some(list) = value.get_ref().as_array() else {
            self.wrong(value, key, "a list of texts", out);
            return Vec::new();
        };
        let mut words = Vec::new();
        for entry in list.iter() {
            match self.as_word(entry) {
                Some(word) => words.push(word),
                None => self.wrong(entry, key, "a text", out),
            }
        }
        words
    }

    /// `true` or `false`; `false` if left out.
    pub fn flag(&self, key: &'static str, out: &mut Vec<Diagnostic>) -> bool {
        let Some(value) = self.get(key) else {
            return false;
        };
        value.get_ref().as_bool().unwrap_or_else(|| {
            self.wrong(value, key, "true or false", out);
            false
        })
    }

    /// A finite number that may be left out.
    pub fn number(&self, key: &'static str, out: &mut Vec<Diagnostic>) -> Option<Placed<f64>> {
        let value = self.get(key)?;
        self.as_number(value, key, out)
    }

    fn as_number(
        &self,
        value: &Value<'_>,
        key: &str,
        out: &mut Vec<Diagnostic>,
    ) -> Option<Placed<f64>> {
        let number = match value.get_ref() {
            DeValue::Integer(i) => i.as_str().replace('_', "").parse::<f64>().ok(),
            DeValue::Float(f) => f.as_str().replace('_', "").parse::<f64>().ok(),
            _ => {
                self.wrong(value, key, "a number", out);
                return None;
            }
        };
        match number {
            Some(number) if number.is_finite() => Some(Placed {
                value: number,
                span: self.place(value.span()),
            }),
            _ => {
                out.push(Diagnostic::error(
                    "pack::not-finite",
                    format!("`{key}` of {} is not a finite number", self.what),
                    self.place(value.span()),
                ));
                None
            }
        }
    }

    /// A list of numbers, if given.
    pub fn numbers(
        &self,
        key: &'static str,
        out: &mut Vec<Diagnostic>,
    ) -> Option<Vec<Placed<f64>>> {
        let value = self.get(key)?;
        let Some(list) = value.get_ref().as_array() else {
            self.wrong(value, key, "a list of numbers", out);
            return None;
        };
        Some(
            list.iter()
                .filter_map(|entry| self.as_number(entry, key, out))
                .collect(),
        )
    }

    /// Pieces of experience: a finite number above zero.
    pub fn seen(&self, out: &mut Vec<Diagnostic>) -> Option<Placed<f64>> {
        let seen = self.number("seen", out)?;
        if seen.value <= 0.0 {
            out.push(
                Diagnostic::error(
                    "pack::seen",
                    format!(
                        "`seen` is {}; no belief rests on fewer pieces than none",
                        seen.value
                    ),
                    seen.span,
                )
                .label("expected a number above 0")
                .hint("`seen` is how many pieces' worth of experience stands behind the belief"),
            );
            return None;
        }
        Some(seen)
    }

    /// An interval of years, if given.
    pub fn optional_years(
        &self,
        key: &'static str,
        out: &mut Vec<Diagnostic>,
    ) -> Option<Placed<Years>> {
        let word = self.optional_word(key, out)?;
        match Years::parse(&word.value) {
            Ok(years) => Some(Placed {
                value: years,
                span: word.span,
            }),
            Err(error) => {
                let code = match error {
                    super::years::YearsError::Empty { .. } => "pack::empty-interval",
                    _ => "pack::years",
                };
                out.push(
                    Diagnostic::error(code, error.to_string(), word.span)
                        .hint("write years as ISO 8601-2 (EDTF): 1836/1871, with ~ for about and ? for uncertain"),
                );
                None
            }
        }
    }

    /// An interval of years that must be there.
    pub fn years(&self, key: &'static str, out: &mut Vec<Diagnostic>) -> Option<Placed<Years>> {
        if self.get(key).is_none() {
            self.missing(key, "years such as \"1836/1871\"", out);
            return None;
        }
        self.optional_years(key, out)
    }

    /// A chance that must be there.
    pub fn chance(&self, key: &'static str, out: &mut Vec<Diagnostic>) -> Option<Placed<Chance>> {
        match self.get(key) {
            Some(value) => self.as_chance(value, out),
            None => {
                self.missing(key, belief::FORMS, out);
                None
            }
        }
    }

    fn as_chance(&self, value: &Value<'_>, out: &mut Vec<Diagnostic>) -> Option<Placed<Chance>> {
        let span = self.place(value.span());
        let parsed = match value.get_ref() {
            DeValue::String(text) => belief::chance_from_text(text),
            DeValue::Integer(_) | DeValue::Float(_) => {
                let text = match value.get_ref() {
                    DeValue::Integer(i) => i.as_str().to_owned(),
                    DeValue::Float(f) => f.as_str().to_owned(),
                    _ => String::new(),
                };
                match text.replace('_', "").parse::<f64>() {
                    Ok(number) => belief::chance_from_number(number),
                    Err(_) => Err(belief::ChanceError::Form),
                }
            }
            _ => Err(belief::ChanceError::Form),
        };
        match parsed {
            Ok(value) => Some(Placed { value, span }),
            Err(error) => {
                let code = match error {
                    belief::ChanceError::Negative => "pack::negative",
                    belief::ChanceError::NotFinite => "pack::not-finite",
                    _ => "pack::chance",
                };
                out.push(Diagnostic::error(code, error.to_string(), span).hint(belief::FORMS));
                None
            }
        }
    }

    /// The inline map `say = { … }`.
    fn as_say(&self, value: &'t Value<'t>, out: &mut Vec<Diagnostic>) -> Option<Say> {
        let Some(table) = value.get_ref().as_table() else {
            self.wrong(value, "say", "a map from states to beliefs", out);
            return None;
        };
        let mut say = Say {
            entries: Vec::new(),
            otherwise: None,
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
                        continue;
                    }
                };
                say.otherwise = Some(Placed {
                    value: remainder,
                    span,
                });
            } else if let Some(chance) = self.as_chance(belief, out) {
                let state = Placed {
                    value: key.get_ref().to_string(),
                    span,
                };
                say.entries.push((state, chance));
            }
        }
        // The parser keeps keys by name; people read them in the order of the line.
        say.entries.sort_by_key(|(state, _)| state.span.start);
        Some(say)
    }

    /// A map with `say` and `seen` of its own.
    pub fn seen_say(&self, key: &'static str, out: &mut Vec<Diagnostic>) -> Option<SeenSay> {
        let item = self.item(key, "this belief", out)?;
        let say = match item.get("say") {
            Some(value) => item.as_say(value, out),
            None => {
                item.missing("say", "a map from states to beliefs", out);
                None
            }
        };
        let seen = item.seen(out);
        item.finish(out);
        say.map(|say| SeenSay { say, seen })
    }

    /// A table under a key, if given.
    pub fn item(
        &self,
        key: &'static str,
        what: &'static str,
        out: &mut Vec<Diagnostic>,
    ) -> Option<Item<'t>> {
        let value = self.get(key)?;
        let Some(table) = value.get_ref().as_table() else {
            self.wrong(value, key, "a table", out);
            return None;
        };
        Some(Item::new(table, self.source, value.span(), what))
    }

    /// A table under a key that must be there.
    pub fn required_item(
        &self,
        key: &'static str,
        what: &'static str,
        out: &mut Vec<Diagnostic>,
    ) -> Option<Item<'t>> {
        if self.get(key).is_none() {
            out.push(
                Diagnostic::error("pack::missing", format!("there is no `[{key}]`"), self.span)
                    .hint(format!("add a table `[{key}]`: {what}")),
            );
            return None;
        }
        self.item(key, what, out)
    }

    /// The tables of a list `[[key]]`; empty if left out.
    pub fn items(
        &self,
        key: &'static str,
        what: &'static str,
        out: &mut Vec<Diagnostic>,
    ) -> Vec<Item<'t>> {
        let Some(value) = self.get(key) else {
            return Vec::new();
        };
        let Some(list) = value.get_ref().as_array() else {
            self.wrong(
                value,
                key,
                "a list of tables (write [[…]] with two brackets)",
                out,
            );
            return Vec::new();
        };
        let mut items = Vec::new();
        for entry in list.iter() {
            match entry.get_ref().as_table() {
                Some(table) => items.push(Item::new(table, self.source, entry.span(), what)),
                None => self.wrong(entry, key, "a table", out),
            }
        }
        items
    }

    /// `depends_on`, `seen` and rows of a table.
    pub fn table(&self, out: &mut Vec<Diagnostic>) -> Table {
        Table {
            depends_on: self.words("depends_on", out),
            seen: self.seen(out),
            rows: self
                .items("row", "a row", out)
                .iter()
                .map(|row| row.row(out))
                .collect(),
            span: self.span,
        }
    }

    fn row(&self, out: &mut Vec<Diagnostic>) -> Row {
        let body = self.row_body(out);
        let mut row = Row {
            conditions: Vec::new(),
            otherwise: self.flag("otherwise", out),
            body,
            seen: self.seen(out),
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
                None => self.wrong(
                    value,
                    key.get_ref(),
                    "the name of a state, or a list of names",
                    out,
                ),
            }
        }
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
        let mut moments = |a, b| match (self.number(a, out), self.number(b, out)) {
            (Some(a), Some(b)) => Some((a, b)),
            _ => None,
        };
        if let Some((mean, sd)) = moments("mean", "sd") {
            return Some(RowBody::Normal { mean, sd });
        }
        if let Some((median, factor)) = moments("median", "factor") {
            return Some(RowBody::Lognormal { median, factor });
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
        });
        Some(Clue {
            id: id?,
            name: self.optional_word("name", out),
            kind,
            states: self.words("states", out),
            absent: self.optional_word("absent", out),
            look: self.optional_word("look", out),
            taken_from: self.optional_word("taken_from", out),
            weighing,
            table: self.table(out),
        })
    }

    /// Pairs of coding and usual state: every key that no getter has asked for.
    pub fn remaining_words(&self, out: &mut Vec<Diagnostic>) -> Vec<(Word, Word)> {
        self.open.set(true);
        let mut pairs = Vec::new();
        for (key, value) in self.table {
            if self
                .known
                .borrow()
                .iter()
                .any(|known| *known == &**key.get_ref())
            {
                continue;
            }
            match self.as_word(value) {
                Some(state) => pairs.push((
                    Placed {
                        value: key.get_ref().to_string(),
                        span: self.place(key.span()),
                    },
                    state,
                )),
                None => self.wrong(value, key.get_ref(), "the name of a state, in quotes", out),
            }
        }
        pairs.sort_by_key(|(key, _)| key.span.start);
        pairs
    }

    /// All keys with their values as chances: for a table whose keys are its content.
    pub fn all_chances(&self, out: &mut Vec<Diagnostic>) -> Vec<(Word, Placed<Chance>)> {
        self.open.set(true);
        let mut pairs: Vec<_> = self
            .table
            .iter()
            .filter(|(key, _)| key.get_ref() != "note")
            .filter_map(|(key, value)| {
                let key = Placed {
                    value: key.get_ref().to_string(),
                    span: self.place(key.span()),
                };
                Some((key, self.as_chance(value, out)?))
            })
            .collect();
        pairs.sort_by_key(|(key, _)| key.span.start);
        pairs
    }

    /// Reports the keys that no getter has asked for.
    pub fn finish(&self, out: &mut Vec<Diagnostic>) {
        if self.open.get() {
            return;
        }
        let known = self.known.borrow();
        for key in self.table.keys() {
            let name: &str = key.get_ref();
            if known.contains(&name) {
                continue;
            }
            out.push(
                Diagnostic::error(
                    "pack::unknown-key",
                    format!(
                        "`{}` is not something {} can have",
                        shorten(name),
                        self.what
                    ),
                    self.place(key.span()),
                )
                .did_you_mean(nearest(name, known.iter().copied())),
            );
        }
    }
}

/// A text cut to a length fit for a message.
fn shorten(text: &str) -> String {
    if text.chars().count() <= 60 {
        return text.to_owned();
    }
    text.chars().take(60).chain(['…']).collect()
}

fn describe(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(text) if text.trim().is_empty() => "an empty text".to_owned(),
        DeValue::String(text) => format!("the text \"{}\"", shorten(text)),
        DeValue::Integer(_) | DeValue::Float(_) => "a number".to_owned(),
        DeValue::Boolean(_) => "true or false".to_owned(),
        DeValue::Datetime(_) => "a date".to_owned(),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a table".to_owned(),
    }
}
