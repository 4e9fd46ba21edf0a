//! Years as ISO 8601-2 (EDTF) writes them: `1836`, `1836~`, `186X`, `1836~/1871`.
//!
//! The year part of EDTF levels 0 and 1: four-digit years, the qualifiers `?` `~` `%`, unspecified last digits `X`,
//! and intervals of two such years. Months, days, seasons, open and unknown ends are refused with a reason: an
//! interval of use in a pack needs both ends.

/// The qualifier of a year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Qualifier {
    /// None.
    Exact,
    /// `?`
    Uncertain,
    /// `~`
    Approximate,
    /// `%`
    UncertainAndApproximate,
}

/// An interval of calendar years, both ends counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Years {
    /// First year.
    pub first: i32,
    /// Last year.
    pub last: i32,
    /// How sure the first year is.
    pub first_qualifier: Qualifier,
    /// How sure the last year is.
    pub last_qualifier: Qualifier,
}

/// Why a text is not an interval of years.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum YearsError {
    /// Not of the supported form.
    #[error("`{0}` is not a year of four digits, such as 1836, 1836~ or 183X")]
    Form(String),
    /// An open or unknown end.
    #[error("both ends are needed here, and one is open")]
    Open,
    /// The interval ends before it begins.
    #[error("the interval is empty: {first} comes after {last}")]
    Empty {
        /// First year.
        first: i32,
        /// Last year.
        last: i32,
    },
}

impl Years {
    /// Reads an EDTF year or interval of years.
    ///
    /// ```
    /// use saggar::pack::years::Years;
    /// let years = Years::parse("1836~/1871").unwrap();
    /// assert_eq!((years.first, years.last), (1836, 1871));
    /// assert_eq!(Years::parse("186X").unwrap().last, 1869);
    /// ```
    ///
    /// # Errors
    /// [`YearsError`] for another form, an open end, or an interval that ends before it begins.
    pub fn parse(text: &str) -> Result<Self, YearsError> {
        let (first, last) = match text.split_once('/') {
            Some((first, last)) => (year(first)?, year(last)?),
            None => (year(text)?, year(text)?),
        };
        let years = Self {
            first: first.earliest,
            last: last.latest,
            first_qualifier: first.qualifier,
            last_qualifier: last.qualifier,
        };
        if years.first > years.last {
            return Err(YearsError::Empty {
                first: years.first,
                last: years.last,
            });
        }
        Ok(years)
    }

    /// How many calendar years, both ends counted.
    #[must_use]
    pub fn count(&self) -> i32 {
        self.last - self.first + 1
    }

    /// The years in both, if any.
    #[must_use]
    pub fn overlap(&self, other: &Self) -> Option<Self> {
        let (first, first_qualifier) = if self.first >= other.first {
            (self.first, self.first_qualifier)
        } else {
            (other.first, other.first_qualifier)
        };
        let (last, last_qualifier) = if self.last <= other.last {
            (self.last, self.last_qualifier)
        } else {
            (other.last, other.last_qualifier)
        };
        (first <= last).then_some(Self {
            first,
            last,
            first_qualifier,
            last_qualifier,
        })
    }
}

impl std::fmt::Display for Years {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.first == self.last {
            write!(f, "{}", self.first)
        } else {
            write!(f, "{}–{}", self.first, self.last)
        }
    }
}

struct Year {
    earliest: i32,
    latest: i32,
    qualifier: Qualifier,
}

fn year(text: &str) -> Result<Year, YearsError> {
    if text.is_empty() || text == ".." {
        return Err(YearsError::Open);
    }
    let (digits, qualifier) = match text.as_bytes().last() {
        Some(b'?') => (&text[..text.len() - 1], Qualifier::Uncertain),
        Some(b'~') => (&text[..text.len() - 1], Qualifier::Approximate),
        Some(b'%') => (&text[..text.len() - 1], Qualifier::UncertainAndApproximate),
        _ => (text, Qualifier::Exact),
    };
    let known = digits.trim_end_matches('X');
    let form = || YearsError::Form(text.chars().take(40).collect());
    if digits.len() != 4 || known.is_empty() || !known.bytes().all(|b| b.is_ascii_digit()) {
        return Err(form());
    }
    let value = |fill: &str| digits.replace('X', fill).parse::<i32>().map_err(|_| form());
    Ok(Year {
        earliest: value("0")?,
        latest: value("9")?,
        qualifier,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: ISO 8601-2 / EDTF, Library of Congress, 4 February 2019, levels 0 and 1 (meanings from memory).
    #[test]
    fn examples_of_the_specification() {
        let read = |text| Years::parse(text).map(|y| (y.first, y.last));
        assert_eq!(read("1985"), Ok((1985, 1985)));
        assert_eq!(read("1964/2008"), Ok((1964, 2008)));
        assert_eq!(read("1984?"), Ok((1984, 1984)));
        assert_eq!(read("201X"), Ok((2010, 2019)));
        assert_eq!(read("20XX"), Ok((2000, 2099)));
        assert_eq!(read("1984?/2004%"), Ok((1984, 2004)));
    }

    /// Source: the same; these are not EDTF.
    #[test]
    fn what_is_refused() {
        for text in [
            "circa 1840",
            "1840s",
            "1984?~",
            "84",
            "XXXX",
            "1X40",
            "é840",
            "1836/",
        ] {
            assert!(Years::parse(text).is_err(), "{text}");
        }
        assert_eq!(
            Years::parse("1871/1836"),
            Err(YearsError::Empty {
                first: 1871,
                last: 1836
            })
        );
    }
}
