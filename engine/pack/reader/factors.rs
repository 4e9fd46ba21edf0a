//! Factors between prices: `"x1.35"`, or a plain number for a price.

use toml::de::DeValue;

use super::numbers::number;
use super::{Item, Value};
use crate::diagnostic::Diagnostic;
use crate::pack::text::Placed;

const FORMS: &str = "a factor such as \"x1.35\", or a price such as 120, above 0";

impl Item<'_> {
    /// A factor or price that must be there.
    pub fn factor(&self, key: &'static str, out: &mut Vec<Diagnostic>) -> Option<Placed<f64>> {
        let Some(value) = self.get(key) else {
            self.missing(key, FORMS, out);
            return None;
        };
        self.as_factor(value, key, out)
    }

    /// Two factors or prices that must be there: the ends of a range.
    pub fn factors(
        &self,
        key: &'static str,
        out: &mut Vec<Diagnostic>,
    ) -> Option<[Placed<f64>; 2]> {
        let Some(value) = self.get(key) else {
            self.missing(
                key,
                "the two ends of a range, such as [\"x1.2\", \"x1.5\"]",
                out,
            );
            return None;
        };
        let ends = value.get_ref().as_array().filter(|list| list.len() == 2);
        let Some(ends) = ends else {
            self.wrong(
                value,
                key,
                "a list of two factors, such as [\"x1.2\", \"x1.5\"]",
                out,
            );
            return None;
        };
        let ends: Vec<_> = ends
            .iter()
            .filter_map(|end| self.as_factor(end, key, out))
            .collect();
        <[Placed<f64>; 2]>::try_from(ends).ok()
    }

    fn as_factor(
        &self,
        value: &Value<'_>,
        key: &str,
        out: &mut Vec<Diagnostic>,
    ) -> Option<Placed<f64>> {
        let read = match value.get_ref() {
            DeValue::String(text) => text
                .strip_prefix(['x', '×'])
                .map(str::trim)
                .filter(|rest| rest.starts_with(|c: char| c.is_ascii_digit()))
                .and_then(|rest| rest.parse::<f64>().ok()),
            value => number(value),
        };
        let read = read.filter(|number| number.is_finite() && *number > 0.0);
        if read.is_none() {
            self.wrong(value, key, FORMS, out);
        }
        Some(Placed {
            value: read?,
            span: self.place(value.span()),
        })
    }
}
