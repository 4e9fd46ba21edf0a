//! Typed access to one TOML table: each getter takes a key, reports what is wrong with its value, and remembers that
//! the key is known, so that [`Item::finish`] can report the keys nobody asked for.

mod chances;
mod dates;
mod factors;
mod numbers;
mod qualities;
mod rows;
mod words;

use std::cell::{Cell, RefCell};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::diagnostic::{Diagnostic, shorten};
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

    /// Whether every key is one that has been asked for; if not, [`finish`](Self::finish) reports it.
    pub fn knows_all(&self) -> bool {
        let known = self.known.borrow();
        self.table
            .keys()
            .all(|key| known.contains(&&**key.get_ref()))
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

    /// Takes a key as known that is read in another way.
    pub fn know(&self, key: &'static str) {
        self.known.borrow_mut().push(key);
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
