//! Dates as ISO 8601-2 (EDTF) writes them, levels 0 and 1 without times of day: `1836`, `1836~`, `186X`, `1836~/1871`,
//! `1891/..`, `1985-04-12`, `2001-24`, `Y170000002`.
//!
//! Source: Library of Congress, "Extended Date/Time Format (EDTF) Specification", 4 February 2019 (ISO 8601-2:2019).

mod error;
mod parse;

use std::fmt;

pub use error::{EdtfError, EdtfErrorKind};
pub(in crate::dating) use parse::days_of;

/// How sure a date is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Qualifier {
    /// No sign: as written.
    Exact,
    /// `?`: may be wrong.
    Uncertain,
    /// `~`: about.
    Approximate,
    /// `%`: about, and may be wrong.
    UncertainAndApproximate,
}

impl Qualifier {
    /// Whether the date is "about".
    #[must_use]
    pub fn is_approximate(self) -> bool {
        matches!(self, Self::Approximate | Self::UncertainAndApproximate)
    }

    /// Whether the date may be wrong.
    #[must_use]
    pub fn is_uncertain(self) -> bool {
        matches!(self, Self::Uncertain | Self::UncertainAndApproximate)
    }

    fn sign(self) -> &'static str {
        match self {
            Self::Exact => "",
            Self::Uncertain => "?",
            Self::Approximate => "~",
            Self::UncertainAndApproximate => "%",
        }
    }
}

/// A year, or the first years of which only the leading digits are known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Year {
    /// One year.
    Known(i64),
    /// `186X`: some year of a decade; the year without its last digit.
    Decade(i64),
    /// `18XX`: some year of a century; the year without its last two digits.
    Century(i64),
}

/// What is said below the year.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WithinYear {
    /// Nothing.
    Nothing,
    /// A month; `None` is `XX`, some month.
    Month(Option<u8>),
    /// A day of a month; `None` is `XX`. A known day has a known month.
    Day(Option<u8>, Option<u8>),
    /// 21 spring, 22 summer, 23 autumn, 24 winter. Winter may run past the year, and is counted to the year written.
    Season(u8),
}

/// A date.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Date {
    /// The year.
    pub year: Year,
    /// Month, day or season.
    pub within: WithinYear,
    /// How sure all of it is.
    pub qualifier: Qualifier,
}

/// One end of an interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum End {
    /// A date.
    Date(Date),
    /// `..`: there is no end.
    Open,
    /// Nothing written: there is an end, and it is not known.
    Unknown,
}

/// A date or an interval of dates.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Edtf {
    /// Some time within a date.
    Date(Date),
    /// From the beginning of the one to the end of the other.
    Interval(End, End),
}

/// The first or the last year of a date or interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bound {
    /// This year.
    Year(i64),
    /// None: open.
    Open,
    /// Not known.
    Unknown,
}

impl Date {
    /// A year for sure.
    #[must_use]
    pub fn of_year(year: i64) -> Self {
        Self {
            year: Year::Known(year),
            within: WithinYear::Nothing,
            qualifier: Qualifier::Exact,
        }
    }

    /// The earliest year it can mean, taken as written.
    #[must_use]
    pub fn earliest_year(&self) -> i64 {
        match self.year {
            Year::Known(year) => year,
            Year::Decade(stem) if stem < 0 => stem * 10 - 9,
            Year::Decade(stem) => stem * 10,
            Year::Century(stem) if stem < 0 => stem * 100 - 99,
            Year::Century(stem) => stem * 100,
        }
    }

    /// The latest year it can mean, taken as written.
    #[must_use]
    pub fn latest_year(&self) -> i64 {
        match self.year {
            Year::Known(year) => year,
            Year::Decade(stem) if stem < 0 => stem * 10,
            Year::Decade(stem) => stem * 10 + 9,
            Year::Century(stem) if stem < 0 => stem * 100,
            Year::Century(stem) => stem * 100 + 99,
        }
    }

    /// Year, month and day of its first day; a season counts from the first day of the year.
    fn first_day(&self) -> (i64, u8, u8) {
        let (month, day) = match self.within {
            WithinYear::Nothing | WithinYear::Season(_) | WithinYear::Month(None) => (1, 1),
            WithinYear::Month(Some(month)) => (month, 1),
            WithinYear::Day(month, day) => (month.unwrap_or(1), day.unwrap_or(1)),
        };
        (self.earliest_year(), month, day)
    }

    /// Year, month and day of its last day, or one past it.
    fn last_day(&self) -> (i64, u8, u8) {
        let (month, day) = match self.within {
            WithinYear::Nothing | WithinYear::Season(_) | WithinYear::Month(None) => (12, 31),
            WithinYear::Month(Some(month)) => (month, 31),
            WithinYear::Day(month, day) => (month.unwrap_or(12), day.unwrap_or(31)),
        };
        (self.latest_year(), month, day)
    }
}

impl Edtf {
    /// Reads a date or an interval.
    ///
    /// ```
    /// use saggar::dating::edtf::{Bound, Edtf};
    /// let years = Edtf::parse("1836~/1871").unwrap();
    /// assert_eq!((years.earliest(), years.latest()), (Bound::Year(1836), Bound::Year(1871)));
    /// assert_eq!(years.to_string(), "1836~/1871");
    /// let error = Edtf::parse("1885-02-30").unwrap_err();
    /// assert_eq!(error.column, 9);
    /// assert_eq!(error.to_string(), "`1885-02-30` has no day 30: that month has 28 days");
    /// ```
    ///
    /// # Errors
    /// [`EdtfError`], with the column, if the text is no EDTF of level 0 or 1, is a date that no calendar has, an
    /// interval that ends before it begins or has no known end, or holds a time of day.
    pub fn parse(text: &str) -> Result<Self, EdtfError> {
        parse::edtf(text)
    }

    /// The first year, qualifiers aside.
    #[must_use]
    pub fn earliest(&self) -> Bound {
        match self {
            Self::Date(date) | Self::Interval(End::Date(date), _) => {
                Bound::Year(date.earliest_year())
            }
            Self::Interval(End::Open, _) => Bound::Open,
            Self::Interval(End::Unknown, _) => Bound::Unknown,
        }
    }

    /// The last year, qualifiers aside.
    #[must_use]
    pub fn latest(&self) -> Bound {
        match self {
            Self::Date(date) | Self::Interval(_, End::Date(date)) => {
                Bound::Year(date.latest_year())
            }
            Self::Interval(_, End::Open) => Bound::Open,
            Self::Interval(_, End::Unknown) => Bound::Unknown,
        }
    }
}

impl fmt::Display for Year {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (value, width, unspecified) = match *self {
            Self::Known(year) if year.unsigned_abs() > 9999 => return write!(f, "Y{year}"),
            Self::Known(year) => (year, 4, ""),
            Self::Decade(stem) => (stem, 3, "X"),
            Self::Century(stem) => (stem, 2, "XX"),
        };
        let sign = if value < 0 { "-" } else { "" };
        write!(f, "{sign}{:0width$}{unspecified}", value.unsigned_abs())
    }
}

impl fmt::Display for Date {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let part = |f: &mut fmt::Formatter<'_>, part: Option<u8>| match part {
            Some(number) => write!(f, "-{number:02}"),
            None => f.write_str("-XX"),
        };
        write!(f, "{}", self.year)?;
        match self.within {
            WithinYear::Nothing => {}
            WithinYear::Month(month) => part(f, month)?,
            WithinYear::Season(season) => part(f, Some(season))?,
            WithinYear::Day(month, day) => {
                part(f, month)?;
                part(f, day)?;
            }
        }
        f.write_str(self.qualifier.sign())
    }
}

impl fmt::Display for End {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Date(date) => date.fmt(f),
            Self::Open => f.write_str(".."),
            Self::Unknown => Ok(()),
        }
    }
}

impl fmt::Display for Edtf {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Date(date) => date.fmt(f),
            Self::Interval(start, end) => write!(f, "{start}/{end}"),
        }
    }
}
