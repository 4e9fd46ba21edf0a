//! Numbers, plain and with units.

use toml::de::DeValue;

use super::{Item, Value};
use crate::diagnostic::Diagnostic;
use crate::pack::text::Placed;
use crate::units;

impl Item<'_> {
    /// A finite number that may be left out.
    pub fn number(&self, key: &'static str, out: &mut Vec<Diagnostic>) -> Option<Placed<f64>> {
        let value = self.get(key)?;
        self.as_number(value, key, out)
    }

    pub(super) fn as_number(
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
}

/// The value of a TOML number: decimal, or an integer written `0x…`, `0o…`, `0b…`.
pub(super) fn number(value: &DeValue<'_>) -> Option<f64> {
    match value {
        DeValue::Integer(i) if i.radix() == 10 => i.as_str().replace('_', "").parse().ok(),
        DeValue::Integer(i) => i64::from_str_radix(&i.as_str().replace('_', ""), i.radix())
            .ok()
            .map(|number| number as f64),
        DeValue::Float(f) => f.as_str().replace('_', "").parse().ok(),
        _ => None,
    }
}
