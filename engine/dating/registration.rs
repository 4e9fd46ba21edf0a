//! Registered designs: the diamond of 1842 to 1883 and the numbers that followed, decoded by the tables of a rules file.
//!
//! What is decoded is the date of *registration*: nothing was made with the mark before it, and much was made after.

mod diamond;
mod registers;

use serde::Serialize;

use super::edtf::{Date, Edtf, End, Qualifier, WithinYear, Year, days_of};
use super::terminus::{Limit, Strength, Term};

pub use diamond::{Corner, Diamond, Sign, SignError};
pub use registers::{FirstNumber, Registers, Series, Slip};

/// One date that a registration can mean.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Candidate {
    /// The series or table.
    pub series: String,
    /// The date of registration.
    #[serde(serialize_with = "as_text")]
    pub registered: Edtf,
    /// How it was read, step by step.
    pub why: Vec<String>,
    /// Where the table comes from.
    pub source: String,
}

fn as_text<S: serde::Serializer>(date: &Edtf, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(date)
}

/// What a registration can mean.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Decoded {
    /// What was read: `diamond IV, top D, right 14, left B`.
    pub read: String,
    /// Every date it can mean; more than one if the mark leaves it open.
    pub candidates: Vec<Candidate>,
    /// Why other series do not fit.
    pub refused: Vec<String>,
    /// The material of its class, if the class was read.
    pub class: Option<String>,
}

/// Why a registration cannot be decoded.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum RegistrationError {
    /// The rules file has no such table.
    #[error("these rules have no table of {0}; add one to the rules file, or include another")]
    NoTable(&'static str),
    /// The class is not one of the register's.
    #[error("there is no class {class} of registered designs; the classes are: {}", known.join(", "))]
    Class {
        /// What was read.
        class: String,
        /// Known classes.
        known: Vec<String>,
    },
    /// No year letter.
    #[error(
        "no year letter is read; it stands at the top or on the right: give that corner, or the letter alone if its corner cannot be told"
    )]
    NoYearLetter,
    /// No series fits.
    #[error("this is the mark of no series; {}", refused.join("; "))]
    NoSeries {
        /// Why each does not fit.
        refused: Vec<String>,
    },
    /// Below the first number.
    #[error("there is no registered number {number}; the numbers begin at {first}")]
    Number {
        /// What was read.
        number: u32,
        /// The first of the table.
        first: u32,
    },
}

impl Registers {
    /// The dates a diamond can mean.
    ///
    /// # Errors
    /// [`RegistrationError`] if no series fits what was read: a number where a letter stands, a letter the tables do not
    /// have, a day the month has not.
    pub fn diamond(&self, diamond: &Diamond) -> Result<Decoded, RegistrationError> {
        if self.series.is_empty() {
            return Err(RegistrationError::NoTable("diamonds"));
        }
        let class = match &diamond.class {
            None => None,
            Some(class) => {
                let known = self.classes.iter().find(|(numeral, _)| numeral == class);
                let (_, of) = known.ok_or_else(|| RegistrationError::Class {
                    class: class.clone(),
                    known: self
                        .classes
                        .iter()
                        .map(|(n, of)| format!("{n} {of}"))
                        .collect(),
                })?;
                Some(of.clone())
            }
        };
        let is_letter =
            |series: &Series| matches!(diamond.at(series.year_at), Some(Sign::Letter(_)));
        if diamond.year_letter.is_none() && !self.series.iter().any(is_letter) {
            return Err(RegistrationError::NoYearLetter);
        }
        let (mut candidates, mut refused) = (Vec::new(), Vec::new());
        for series in &self.series {
            match self.in_series(series, diamond) {
                Ok(found) => candidates.extend(found),
                Err(why) => refused.push(format!("{}: {why}", series.name)),
            }
        }
        if candidates.is_empty() {
            return Err(RegistrationError::NoSeries { refused });
        }
        Ok(Decoded {
            read: diamond.to_string(),
            candidates,
            refused,
            class,
        })
    }

    /// The dates a diamond means in one series, or why it is none of that series.
    fn in_series(&self, series: &Series, diamond: &Diamond) -> Result<Vec<Candidate>, String> {
        let letter_at = |corner: Corner, what: &str| match diamond.at(corner) {
            None => Ok(None),
            Some(Sign::Letter(letter)) => Ok(Some(letter)),
            Some(Sign::Number(number)) => Err(format!(
                "the {} holds the number {number}, where this series has the {what}",
                corner.name()
            )),
        };
        let day = match diamond.at(series.day_at) {
            None => None,
            Some(Sign::Number(day)) => Some(day),
            Some(Sign::Letter(letter)) => {
                return Err(format!(
                    "the {} holds the letter {letter}, where this series has the day",
                    series.day_at.name()
                ));
            }
        };
        if let Some(Sign::Letter(letter)) = diamond.at(series.parcel_at) {
            return Err(format!(
                "the {} holds the letter {letter}, where this series has the number of the parcel",
                series.parcel_at.name()
            ));
        }
        let month_letter = letter_at(series.month_at, "month letter")?;
        let year_letter = letter_at(series.year_at, "year letter")?
            .or(diamond.year_letter)
            .ok_or_else(|| {
                format!(
                    "its year letter, at the {}, is not read",
                    series.year_at.name()
                )
            })?;

        let mut candidates = Vec::new();
        let regular = self.regular(series, year_letter, month_letter, day);
        let why_not = match regular {
            Ok(candidate) => {
                candidates.push(candidate);
                None
            }
            Err(why) => Some(why),
        };
        for slip in &series.slips {
            let fits = slip.year_letter == year_letter
                && month_letter == Some(slip.month_letter)
                && day
                    .is_none_or(|d| (u32::from(slip.days.0)..=u32::from(slip.days.1)).contains(&d));
            if !fits {
                continue;
            }
            candidates.push(Candidate {
                series: series.name.clone(),
                registered: date(slip.year, Some(slip.month), day),
                why: vec![format!(
                    "a slip of the register: on days {} to {} of {:04}-{:02} it used year letter {year_letter} and month letter {}",
                    slip.days.0, slip.days.1, slip.year, slip.month, slip.month_letter
                )],
                source: slip.source.clone(),
            });
        }
        match why_not {
            Some(why) if candidates.is_empty() => Err(why),
            _ => Ok(candidates),
        }
    }

    /// The date by the tables.
    fn regular(
        &self,
        series: &Series,
        year_letter: char,
        month_letter: Option<char>,
        day: Option<u32>,
    ) -> Result<Candidate, String> {
        let year = series
            .years
            .iter()
            .find(|(letter, _)| *letter == year_letter);
        let &(_, year) = year.ok_or_else(|| format!("it has no year letter {year_letter}"))?;
        let mut why = vec![format!(
            "year letter {year_letter} at the {} is {year}",
            series.year_at.name()
        )];
        let month = match month_letter {
            None => None,
            Some(letter) => {
                let row = self.months.iter().find(|(l, ..)| *l == letter);
                let (_, month, said) =
                    row.ok_or_else(|| format!("there is no month letter {letter}"))?;
                let said = said
                    .as_ref()
                    .map_or_else(String::new, |said| format!(" ({said})"));
                why.push(format!(
                    "month letter {letter} at the {} is month {month:02}{said}",
                    series.month_at.name()
                ));
                Some(*month)
            }
        };
        if let Some(day) = day {
            let most = month.map_or(31, |month| days_of(year, month));
            if day == 0 || day > u32::from(most) {
                let of = month.map_or_else(|| "any month".to_owned(), |m| format!("{year}-{m:02}"));
                return Err(format!("there is no day {day} in {of}"));
            }
            why.push(format!("day {day} at the {}", series.day_at.name()));
        }
        Ok(Candidate {
            series: series.name.clone(),
            registered: date(year, month, day),
            why,
            source: series.source.clone(),
        })
    }

    /// The year of a registered number.
    ///
    /// # Errors
    /// [`RegistrationError`] for a number below the first of the table.
    pub fn number(&self, number: u32) -> Result<Decoded, RegistrationError> {
        let first = self
            .numbers
            .first()
            .ok_or(RegistrationError::NoTable("registered numbers"))?;
        let after = self.numbers.partition_point(|row| row.first <= number);
        let Some(row) = after.checked_sub(1).map(|place| &self.numbers[place]) else {
            return Err(RegistrationError::Number {
                number,
                first: first.first,
            });
        };
        let mut why = vec![format!(
            "January {} began with number {}",
            row.year, row.first
        )];
        let mut ends = (row.year - row.either_way, Some(row.year + row.either_way));
        match self.numbers.get(after) {
            Some(next) => why.push(format!("January {} with {}", next.year, next.first)),
            None => {
                why.push(format!("the table ends with {}", row.year));
                ends.1 = None;
            }
        }
        if row.either_way > 0 {
            why.push(format!(
                "published lists differ here: {} {} either way",
                row.either_way,
                if row.either_way == 1 { "year" } else { "years" }
            ));
        }
        let end = |year: i64| End::Date(Date::of_year(year));
        let registered = match ends {
            (a, Some(b)) if a == b => Edtf::Date(Date::of_year(a)),
            (a, Some(b)) => Edtf::Interval(end(a), end(b)),
            (a, None) => Edtf::Interval(end(a), End::Open),
        };
        Ok(Decoded {
            read: format!("registered number {number}"),
            candidates: vec![Candidate {
                series: "registered numbers".to_owned(),
                registered,
                why,
                source: row.checked.clone(),
            }],
            refused: Vec::new(),
            class: None,
        })
    }

    /// What a registration of that date says about the year of making: never before it, and usually within
    /// [`follow`](Self::follow) years.
    #[must_use]
    pub fn term(&self, registered: &Edtf) -> Term {
        let limit = |year: i64, strength| {
            Some(Limit {
                date: Date::of_year(year),
                strength,
            })
        };
        let year = |bound| match bound {
            super::edtf::Bound::Year(year) => Some(year),
            _ => None,
        };
        Term {
            not_before: year(registered.earliest()).and_then(|y| limit(y, Strength::Hard)),
            not_after: year(registered.latest())
                .and_then(|y| limit(y + self.follow, Strength::Usual)),
        }
    }
}

fn date(year: i64, month: Option<u8>, day: Option<u32>) -> Edtf {
    let day = day.and_then(|day| u8::try_from(day).ok());
    Edtf::Date(Date {
        year: Year::Known(year),
        within: match (month, day) {
            (None, _) => WithinYear::Nothing,
            (Some(month), None) => WithinYear::Month(Some(month)),
            (Some(month), day) => WithinYear::Day(Some(month), day),
        },
        qualifier: Qualifier::Exact,
    })
}
