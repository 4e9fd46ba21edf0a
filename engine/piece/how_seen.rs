//! Who looked, when, in what light, with what tool, before or after cleaning.

use std::fmt;

use serde::Serialize;

use super::PieceError;
use crate::printable::steering;

/// How a finding was come by. Nothing of it need be known; what is known stays in the record.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct HowSeen {
    /// Who looked: a name or, in a pack that lists its observers, one of them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub who: Option<String>,
    /// A calendar date, `2024-03-02`, with a time of day if wanted, `2024-03-02T14:30`. Source: ISO 8601-1:2019, 5.2.2.1.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub when: Option<String>,
    /// In what light.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub light: Option<String>,
    /// With what: a loupe, a lamp, a photograph.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tool: Option<String>,
    /// `before` or `after`.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cleaning: Option<String>,
}

impl HowSeen {
    /// The words by which each part is noted.
    pub const KEYS: [&'static str; 5] = ["who", "when", "light", "tool", "cleaning"];

    /// The same with one part noted anew; an empty text takes it out.
    ///
    /// # Errors
    /// [`PieceError::HowSeen`] for a part there is not, a date that is none, a text that is no plain line, and a cleaning other than `before` or `after`.
    pub fn noted(&self, key: &str, text: &str) -> Result<Self, PieceError> {
        let text = text.trim();
        let wrong = |what: String| PieceError::HowSeen { what };
        if let Some(what) = steering(text) {
            return Err(wrong(format!(
                "`{key}` stands in one line, and the text given holds {what}; take it out"
            )));
        }
        let mut how = self.clone();
        let part = match key {
            "who" => &mut how.who,
            "when" if !text.is_empty() && !is_date(text) => {
                return Err(wrong(format!(
                    "`{text}` is no date; write it as \"2024-03-02\" or \"2024-03-02T14:30\""
                )));
            }
            "when" => &mut how.when,
            "light" => &mut how.light,
            "tool" => &mut how.tool,
            "cleaning" if !["", "before", "after"].contains(&text) => {
                return Err(wrong(format!(
                    "`{text}` is neither before nor after cleaning; write cleaning: \"before\" or cleaning: \"after\""
                )));
            }
            "cleaning" => &mut how.cleaning,
            _ => {
                let near = crate::nearest_name::nearest(key, Self::KEYS).map_or_else(
                    || format!("known: {}", Self::KEYS.join(", ")),
                    |name| format!("did you mean `{name}`?"),
                );
                return Err(wrong(format!(
                    "`{key}` is no part of how a finding was come by; {near}"
                )));
            }
        };
        *part = (!text.is_empty()).then(|| super::shorten(text));
        Ok(how)
    }

    /// Whether nothing is known.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

impl fmt::Display for HowSeen {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let cleaning = self.cleaning.as_ref().map(|c| format!("{c} cleaning"));
        let parts = [&self.who, &self.when, &self.light, &self.tool, &cleaning];
        let parts: Vec<&str> = parts.into_iter().flatten().map(String::as_str).collect();
        f.write_str(&parts.join(", "))
    }
}

/// Whether a text is a date of the Gregorian calendar, `YYYY-MM-DD`, with or without `Thh:mm`.
fn is_date(text: &str) -> bool {
    let (date, time) = match text.split_once('T') {
        Some((date, time)) => (date, Some(time)),
        None => (text, None),
    };
    let number = |text: &str, n_digits: usize| {
        let is_plain = text.len() == n_digits && text.bytes().all(|b| b.is_ascii_digit());
        is_plain.then(|| text.parse::<u32>().ok()).flatten()
    };
    let mut parts = date.split('-');
    let (Some(year), Some(month), Some(day), None) =
        (parts.next(), parts.next(), parts.next(), parts.next())
    else {
        return false;
    };
    let (Some(year), Some(month), Some(day)) = (number(year, 4), number(month, 2), number(day, 2))
    else {
        return false;
    };
    let is_leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let n_days = match month {
        4 | 6 | 9 | 11 => 30,
        2 => 28 + u32::from(is_leap),
        1..=12 => 31,
        _ => 0,
    };
    let is_time = time.is_none_or(|time| {
        time.split_once(':').is_some_and(|(hour, minute)| {
            number(hour, 2).is_some_and(|h| h < 24) && number(minute, 2).is_some_and(|m| m < 60)
        })
    });
    (1..=n_days).contains(&day) && is_time
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the Gregorian calendar: 1900 was no leap year, 2000 was one.
    #[test]
    fn dates() {
        for good in ["2024-02-29", "2000-02-29", "1999-12-31", "2024-03-02T14:30"] {
            assert!(is_date(good), "{good}");
        }
        for bad in [
            "1900-02-29",
            "2024-13-01",
            "2024-00-10",
            "2024-1-1",
            "2 March",
            "2024-04-31",
            "2024-03-02T24:00",
            "2024-03-02T",
            "2024-03",
            "20240302",
            "٢٠٢٤-03-02",
            "",
        ] {
            assert!(!is_date(bad), "{bad}");
        }
    }

    #[test]
    fn parts_are_noted_one_by_one_and_taken_out() {
        let how = HowSeen::default();
        let how = how
            .noted("who", "E. Rowan")
            .unwrap()
            .noted("cleaning", "before")
            .unwrap();
        let how = how.noted("tool", "x10 loupe").unwrap();
        assert_eq!(how.to_string(), "E. Rowan, x10 loupe, before cleaning");
        assert_eq!(
            how.noted("who", " ").unwrap().to_string(),
            "x10 loupe, before cleaning"
        );
        let said = how.noted("ligth", "day").unwrap_err().to_string();
        assert!(said.ends_with("did you mean `light`?"), "{said}");
        assert!(how.noted("cleaning", "during").is_err());
        assert!(how.noted("when", "yesterday").is_err());
    }
}
