//! Why a text is no date, where, and how to mend it.

use std::fmt;

use crate::diagnostic::shorten;

/// Why a text is no date.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct EdtfError {
    /// What was written, cut to a length fit for a message.
    pub text: String,
    /// Where it goes wrong, in characters from 1.
    pub column: usize,
    /// What is wrong.
    pub kind: EdtfErrorKind,
}

/// What is wrong with a date.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum EdtfErrorKind {
    /// Nothing is written.
    Nothing,
    /// The year has not four digits.
    Year,
    /// A digit after an unspecified one.
    UnspecifiedDigits,
    /// The year 0000 before the common era.
    NegativeZero,
    /// `Y` before a year of four digits or fewer, or of more than fifteen.
    LongYear,
    /// Month or day without two digits.
    TwoDigits,
    /// Neither a month nor a season.
    Month(u8),
    /// The month has not so many days.
    Day {
        /// The day written.
        day: u8,
        /// Days of that month.
        of: u8,
    },
    /// More than one qualifier.
    Qualifiers,
    /// Something after the date.
    Rest,
    /// A form of EDTF level 2.
    LevelTwo,
    /// A time of day.
    TimeOfDay,
    /// An interval of more than two ends.
    ThreeEnds,
    /// An interval without a known end.
    NoEnd,
    /// The interval ends before it begins.
    Reversed,
}

impl EdtfError {
    pub(super) fn new(text: &str, column: usize, kind: EdtfErrorKind) -> Self {
        Self {
            text: shorten(text),
            column,
            kind,
        }
    }

    /// Whether two years are joined by a hyphen or a dash, as in print.
    fn is_two_years(&self) -> bool {
        let is_year = |year: &str| year.len() == 4 && year.bytes().all(|b| b.is_ascii_digit());
        let years = self.text.split_once(['-', '–', '—']);
        years.is_some_and(|(first, last)| is_year(first.trim()) && is_year(last.trim()))
    }

    /// How to mend it.
    #[must_use]
    pub fn remedy(&self) -> &'static str {
        use EdtfErrorKind as Kind;
        if self.is_two_years() {
            return "from one year to another is written with `/`: 1850/1869";
        }
        match self.kind {
            Kind::Nothing | Kind::Year | Kind::Rest => {
                "write dates as ISO 8601-2 (EDTF): 1836, 1836~ for about, 1836? for uncertain, 183X for the 1830s, 1836~/1871 for an interval"
            }
            Kind::UnspecifiedDigits => "only the last digits of a year may be X: 183X, 18XX",
            Kind::NegativeZero => "write 0000 for the year before the year 1",
            Kind::LongYear => "write Y only before a year of more than four digits",
            Kind::TwoDigits => "write month and day with two digits each: 1885-04-09",
            Kind::Month(_) => "months run from 01 to 12, seasons from 21 (spring) to 24 (winter)",
            Kind::Day { .. } => "look at the date again; for some day of that month write XX",
            Kind::Qualifiers => {
                "one sign may follow a date: ? uncertain, ~ about, % uncertain and about"
            }
            Kind::LevelTwo => {
                "use level 1: one qualifier at the end, X for the last digits, an interval with /"
            }
            Kind::TimeOfDay => "leave the time of day out",
            Kind::ThreeEnds => "an interval has two ends: 1836/1871",
            Kind::NoEnd => "give at least one end a date: 1836/.. or ../1871",
            Kind::Reversed => "write the earlier date first: 1836/1871",
        }
    }
}

impl fmt::Display for EdtfError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        use EdtfErrorKind as Kind;
        let text = &self.text;
        if self.is_two_years() {
            return write!(f, "`{text}` is not one date");
        }
        match self.kind {
            Kind::Nothing => f.write_str("there is no date"),
            Kind::Year => write!(f, "`{text}` is not a date: a year has four digits"),
            Kind::UnspecifiedDigits => write!(f, "`{text}` has a digit after an unspecified one"),
            Kind::NegativeZero => write!(f, "`{text}`: there is no year -0000"),
            Kind::LongYear => write!(f, "`{text}` has not between 5 and 15 digits after Y"),
            Kind::TwoDigits => write!(f, "`{text}`: a month or day has two digits"),
            Kind::Month(month) => write!(f, "`{text}` has no month or season {month:02}"),
            Kind::Day { day: 0, .. } => write!(f, "`{text}`: there is no day 00"),
            Kind::Day { day, of } => {
                write!(f, "`{text}` has no day {day}: that month has {of} days")
            }
            Kind::Qualifiers => write!(f, "`{text}` has more than one qualifier"),
            Kind::Rest => write!(f, "`{text}` goes on after the date"),
            Kind::LevelTwo => write!(f, "`{text}` is EDTF of level 2, which is not read"),
            Kind::TimeOfDay => write!(f, "`{text}` holds a time of day"),
            Kind::ThreeEnds => write!(f, "`{text}` has more than two ends"),
            Kind::NoEnd => write!(f, "`{text}` has no end that is known"),
            Kind::Reversed => write!(
                f,
                "the interval `{text}` is empty: it ends before it begins"
            ),
        }
    }
}

impl std::error::Error for EdtfError {}
