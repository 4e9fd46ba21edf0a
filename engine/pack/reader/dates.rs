//! Dates in EDTF, and what else rules files hold.

use super::Item;
use crate::dating::edtf::{Edtf, EdtfError, EdtfErrorKind};
use crate::diagnostic::Diagnostic;
use crate::pack::belief::Chance;
use crate::pack::text::{Placed, SeenSay};
use crate::pack::years::{Years, YearsError};

/// The code under which a text that is no date is reported.
pub(super) fn code(error: &EdtfError) -> &'static str {
    match error.kind {
        EdtfErrorKind::Reversed => "pack::empty-interval",
        EdtfErrorKind::Month(_) | EdtfErrorKind::Day { .. } => "pack::no-such-date",
        _ => "pack::years",
    }
}

impl Item<'_> {
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
                    YearsError::Form(date) => (code(date), date.remedy()),
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

    /// A date or interval, if given.
    pub fn optional_date(
        &self,
        key: &'static str,
        out: &mut Vec<Diagnostic>,
    ) -> Option<Placed<Edtf>> {
        let word = self.optional_word(key, out)?;
        match Edtf::parse(&word.value) {
            Ok(value) => Some(Placed {
                value,
                span: word.span,
            }),
            Err(error) => {
                out.push(
                    Diagnostic::error(code(&error), error.to_string(), word.span)
                        .label(format!("at character {}", error.column))
                        .hint(error.remedy()),
                );
                None
            }
        }
    }

    /// A date or interval that must be there.
    pub fn date(&self, key: &'static str, out: &mut Vec<Diagnostic>) -> Option<Placed<Edtf>> {
        if self.get(key).is_none() {
            self.missing(key, "a date such as \"1891\" or \"1836~/1871\"", out);
            return None;
        }
        self.optional_date(key, out)
    }

    /// A chance that may be left out.
    pub fn optional_chance(
        &self,
        key: &'static str,
        out: &mut Vec<Diagnostic>,
    ) -> Option<Placed<Chance>> {
        let value = self.get(key)?;
        self.as_chance(value, out)
    }

    /// A finite number that must be there.
    pub fn required_number(
        &self,
        key: &'static str,
        out: &mut Vec<Diagnostic>,
    ) -> Option<Placed<f64>> {
        if self.get(key).is_none() {
            self.missing(key, "a number", out);
            return None;
        }
        self.number(key, out)
    }

    /// When a maker's pieces were made: years, or a chance for each period.
    pub fn output(
        &self,
        key: &'static str,
        out: &mut Vec<Diagnostic>,
    ) -> (Option<SeenSay>, Option<Placed<Edtf>>) {
        let has_years = |item: &Item<'_>| item.get("years").is_some();
        let Some(item) = self
            .get(key)
            .and_then(|value| value.get_ref().as_table())
            .and_then(|_| self.item(key, "this belief", out))
            .filter(has_years)
        else {
            return (self.seen_say(key, out), None);
        };
        let years = item.date("years", out);
        let seen = item.seen(out);
        item.finish(out);
        (Some(SeenSay { say: None, seen }), years)
    }
}
