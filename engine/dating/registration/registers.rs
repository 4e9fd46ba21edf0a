//! The tables by which registrations are decoded. What they hold stands in a rules file, with its sources.

use super::diamond::Corner;

/// One series of diamonds.
#[derive(Clone, Debug)]
pub struct Series {
    /// Name: `first series, 1842–1867`.
    pub name: String,
    /// Where the year letter stands.
    pub year_at: Corner,
    /// Where the month letter stands.
    pub month_at: Corner,
    /// Where the day stands.
    pub day_at: Corner,
    /// Where the number of the parcel stands.
    pub parcel_at: Corner,
    /// Years by letter.
    pub years: Vec<(char, i64)>,
    /// Slips of the register.
    pub slips: Vec<Slip>,
    /// Where the table comes from.
    pub source: String,
}

/// Days on which the register used another letter than its table says.
#[derive(Clone, Debug)]
pub struct Slip {
    /// Year letter used.
    pub year_letter: char,
    /// Month letter used.
    pub month_letter: char,
    /// The year it was.
    pub year: i64,
    /// The month it was.
    pub month: u8,
    /// First and last day.
    pub days: (u8, u8),
    /// Where this comes from.
    pub source: String,
}

/// A row of the table of numbers.
#[derive(Clone, Debug)]
pub struct FirstNumber {
    /// The year.
    pub year: i64,
    /// First number registered in its January.
    pub first: u32,
    /// Years by which published lists differ here.
    pub either_way: i64,
    /// How far it was checked.
    pub checked: String,
}

/// The registers of a rules file.
#[derive(Clone, Debug)]
pub struct Registers {
    /// Classes: numeral and material.
    pub classes: Vec<(String, String)>,
    /// Months by letter, with what is said of the row.
    pub months: Vec<(char, u8, Option<String>)>,
    /// Series of diamonds.
    pub series: Vec<Series>,
    /// Numbers, rising.
    pub numbers: Vec<FirstNumber>,
    /// Years after registration within which the mark is usually found.
    pub follow: i64,
    /// How many times as likely the mark is in a year after these as in one within.
    pub exceptions: f64,
    /// What the date means, and where that is said.
    pub meaning: String,
}
