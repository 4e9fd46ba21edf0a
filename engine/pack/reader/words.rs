//! Texts and lists of texts.

use super::{Item, Value};
use crate::diagnostic::Diagnostic;
use crate::pack::text::{Placed, Word};

impl Item<'_> {
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

    pub(super) fn as_word(&self, value: &Value<'_>) -> Option<Word> {
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
}
