//! Typed access to one TOML table: each getter takes a key, reports what is wrong with its value, and remembers that
//! the key is known, so that [`Item::finish`] can report the keys nobody asked for.

mod dates;
mod factors;
mod qualities;
mod rows;

use std::cell::{Cell, RefCell};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::belief::{self, Chance, ChanceError};
use super::text::{Placed, Word};
use super::years::{Years, YearsError};
use crate::diagnostic::{Diagnostic, shorten};
use crate::nearest_name::nearest;
use crate::source::{SourceId, Span};
use crate::units;

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

    /// Reports a key that must be there.
    pub fn missing(&self, key: &str, expected: &str, out: &mut Vec<Diagnostic>) {
        out.push(
            Diagnostic::error(
                "pack::missing",
                format!("{} has no `{key}`", self.what),
                self.span,
            )
            .hint(format!("add `{key} = …` ({expected})")),
        );
    }

    /// Whether the table has this key.
    pub fn has(&self, key: &str) -> bool {
        self.table.contains_key(key)
    }

    /// A text that may be left out.
    pub fn optional_word(&self, key: &'static str, out: &mut Vec<Diagnostic>) -> Option<Word> {
        let value = self.get(key)?;
        let word = self.as_word(value);
        if word.is_none() {
            self.wrong(value, key, "a text, in quotes and not empty", out);
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
                None => self.wrong(entry, key, "a text, in quotes and not empty", out),
            }
        }
        words
    }

    /// A text or a list of texts; empty if left out.
    pub fn one_or_more(&self, key: &'static str, out: &mut Vec<Diagnostic>) -> Vec<Word> {
        match self.get(key) {
            Some(value) if value.get_ref().is_str() => {
                self.optional_word(key, out).into_iter().collect()
            }
            _ => self.words(key, out),
        }
    }

    /// Whether every key is one that has been asked for; if not, [`finish`](Self::finish) reports it.
    pub fn knows_all(&self) -> bool {
        let known = self.known.borrow();
        self.table
            .keys()
            .all(|key| known.contains(&&**key.get_ref()))
    }

    /// Takes a key as known that is read in another way.
    pub fn know(&self, key: &'static str) {
        self.known.borrow_mut().push(key);
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
        if !matches!(value.get_ref(), DeValue::Integer(_) | DeValue::Float(_)) {
            self.wrong(value, key, "a number, without quotes", out);
            return None;
        }
        let number = number(value.get_ref());
        match number {
            Some(number) if number.is_finite() => Some(Placed {
                value: number,
                span: self.place(value.span()),
            }),
            _ => {
                out.push(
                    Diagnostic::error(
                        "pack::not-finite",
                        format!("`{key}` of {} is not a finite number", self.what),
                        self.place(value.span()),
                    )
                    .hint(format!("write `{key}` as a plain number such as 0.96")),
                );
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

    /// Pieces of experience: a finite number above zero. One that is not is reported and kept, so that `seen` does not
    /// look left out as well.
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
                let (code, hint) = match &error {
                    YearsError::Form(date) => (dates::code(date), date.remedy()),
                    _ => (
                        "pack::years",
                        "write years as ISO 8601-2 (EDTF): 1836/1871, with ~ for about and ? for uncertain",
                    ),
                };
                let report = Diagnostic::error(code, error.to_string(), word.span).hint(hint);
                out.push(match &error {
                    YearsError::Form(date) => report.label(format!("at character {}", date.column)),
                    _ => report,
                });
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

    /// A quantity with its unit, in the base unit of its kind, if given.
    pub fn quantity(
        &self,
        key: &'static str,
        kind: units::Kind,
        out: &mut Vec<Diagnostic>,
    ) -> Option<Placed<f64>> {
        let word = self.optional_word(key, out)?;
        match kind.quantity(&word.value) {
            Ok(value) => Some(Placed {
                value,
                span: word.span,
            }),
            Err(error) => {
                out.push(Diagnostic::error(
                    "pack::unit",
                    error.to_string(),
                    word.span,
                ));
                None
            }
        }
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
            value @ (DeValue::Integer(_) | DeValue::Float(_)) => number(value)
                .ok_or(ChanceError::Form)
                .and_then(belief::chance_from_number),
            _ => Err(ChanceError::Form),
        };
        match parsed {
            Ok(value) => Some(Placed { value, span }),
            Err(error) => {
                let code = match error {
                    ChanceError::Negative => "pack::negative",
                    ChanceError::NotFinite => "pack::not-finite",
                    _ => "pack::chance",
                };
                let message = match error {
                    ChanceError::Form => {
                        format!("{} does not say a chance", describe(value.get_ref()))
                    }
                    _ => error.to_string(),
                };
                let mut report = Diagnostic::error(code, message, span);
                if let ChanceError::AboveOne(percent) = error
                    && percent <= 100.0
                    && !value.get_ref().is_str()
                {
                    report = report.hint(format!("did you mean \"{percent}%\"?"));
                }
                out.push(report.hint(belief::FORMS));
                None
            }
        }
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

    /// Pairs of coding and usual state: every key that no getter has asked for.
    pub fn remaining_words(&self, out: &mut Vec<Diagnostic>) -> Vec<(Word, Option<Word>)> {
        self.open.set(true);
        let mut pairs = Vec::new();
        for (key, value) in self.table {
            let name: &str = key.get_ref();
            if self.known.borrow().contains(&name) {
                continue;
            }
            let state = self.as_word(value);
            if state.is_none() {
                self.wrong(value, name, "the name of a state, in quotes", out);
            }
            let coding = Placed {
                value: name.to_owned(),
                span: self.place(key.span()),
            };
            pairs.push((coding, state));
        }
        pairs.sort_by_key(|(key, _)| key.span.start);
        pairs
    }

    /// All keys with their values as chances, `None` for an unreadable one: for a table whose keys are its content.
    pub fn all_chances(&self, out: &mut Vec<Diagnostic>) -> Vec<(Word, Option<Placed<Chance>>)> {
        self.open.set(true);
        let mut pairs: Vec<_> = self
            .table
            .iter()
            .filter(|(key, _)| key.get_ref() != "note")
            .map(|(key, value)| {
                let key = Placed {
                    value: key.get_ref().to_string(),
                    span: self.place(key.span()),
                };
                (key, self.as_chance(value, out))
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

/// The value of a TOML number: decimal, or an integer written `0x…`, `0o…`, `0b…`.
fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(i) if i.radix() == 10 => i.as_str().replace('_', "").parse().ok(),
        DeValue::Integer(i) => i64::from_str_radix(&i.as_str().replace('_', ""), i.radix())
            .ok()
            .map(|number| number as f64),
        DeValue::Float(f) => f.as_str().replace('_', "").parse().ok(),
        _ => None,
    }
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
