//! Chances, in all the forms that a prior file may give them.

use toml::de::DeValue;

use super::numbers::number;
use super::{Item, Value, describe};
use crate::diagnostic::Diagnostic;
use crate::pack::belief::{self, Chance, ChanceError};
use crate::pack::text::{Placed, Word};

impl Item<'_> {
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

    pub(super) fn as_chance(
        &self,
        value: &Value<'_>,
        out: &mut Vec<Diagnostic>,
    ) -> Option<Placed<Chance>> {
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
}
