//! Years as ISO 8601-2 (EDTF) writes them: `1836`, `1836~`, `186X`, `1836~/1871`.
//!
//! Whole years of a date ([`crate::dating::edtf`]): months and days are read and count with their year. Open and unknown
//! ends are refused with a reason: an interval of use in a pack needs both ends.

use crate::dating::edtf::{Bound, Edtf, EdtfError, End};

pub use crate::dating::edtf::Qualifier;

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
    /// Not a date.
    #[error("{0}")]
    Form(#[from] EdtfError),
    /// An open or unknown end.
    #[error("both ends are needed here, and one is open")]
    Open,
    /// A year of more than four digits, or before the common era.
    #[error("`{0}` is not within the years 0 to 9999")]
    Far(String),
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
    /// [`YearsError`] for what is no date, an open end, or years that no pack has.
    pub fn parse(text: &str) -> Result<Self, YearsError> {
        let date = Edtf::parse(text)?;
        let (Bound::Year(first), Bound::Year(last)) = (date.earliest(), date.latest()) else {
            return Err(YearsError::Open);
        };
        let year = |year: i64| match i32::try_from(year) {
            Ok(year) if (0..=9999).contains(&year) => Ok(year),
            _ => Err(YearsError::Far(date.to_string())),
        };
        let qualifier = |end: End| match end {
            End::Date(date) => date.qualifier,
            End::Open | End::Unknown => Qualifier::Exact,
        };
        let (start, end) = match date {
            Edtf::Date(date) => (End::Date(date), End::Date(date)),
            Edtf::Interval(start, end) => (start, end),
        };
        Ok(Self {
            first: year(first)?,
            last: year(last)?,
            first_qualifier: qualifier(start),
            last_qualifier: qualifier(end),
        })
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::dating::edtf::EdtfErrorKind;

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
        assert_eq!(Years::parse("1891/.."), Err(YearsError::Open));
        assert!(matches!(Years::parse("-0044"), Err(YearsError::Far(_))));
        let reversed = Years::parse("1871/1836").unwrap_err();
        assert!(matches!(reversed, YearsError::Form(e) if e.kind == EdtfErrorKind::Reversed));
    }
}
