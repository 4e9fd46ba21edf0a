//! A rules file as written: limits of law and record, and registers of designs.

use super::{Placed, Word};
use crate::dating::edtf::Edtf;
use crate::pack::belief::Chance;
use crate::source::Span;

/// `not_before` or `not_after`.
#[derive(Clone, Debug)]
pub struct LimitText {
    /// The year.
    pub year: Option<Placed<Edtf>>,
    /// `hard` or `usual`.
    pub strength: Option<Word>,
    /// The whole of it.
    pub span: Span,
}

/// How often a usual limit is broken.
#[derive(Clone, Debug)]
pub struct ExceptionsText {
    /// How likely a year outside is beside one inside.
    pub say: Option<Placed<Chance>>,
    /// Equivalent sample size.
    pub seen: Option<Placed<f64>>,
    /// Where they stand.
    pub span: Span,
}

/// One rule.
#[derive(Clone, Debug)]
pub struct RuleText {
    /// Short name.
    pub id: Word,
    /// The feature in words.
    pub name: Option<Word>,
    /// What kind of feature.
    pub feature: Option<Word>,
    /// Wordings that show it.
    pub reads: Vec<Word>,
    /// Wordings beside which it does not apply.
    pub unless: Vec<Word>,
    /// The limits.
    pub not_before: Option<LimitText>,
    /// The limits.
    pub not_after: Option<LimitText>,
    /// Exceptions of its own.
    pub exceptions: ExceptionsText,
    /// What it rests on.
    pub source: Option<Word>,
    /// How far that was checked.
    pub checked: Option<Word>,
    /// What else should be known.
    pub note: Option<Word>,
    /// The whole rule.
    pub span: Span,
}

/// A letter with a number: a year letter, a month letter.
#[derive(Clone, Debug)]
pub struct LetterText {
    /// The letter.
    pub letter: Option<Word>,
    /// Its year or month.
    pub number: Option<Placed<f64>>,
    /// What is said of the row.
    pub checked: Option<Word>,
}

/// A slip of the register.
#[derive(Clone, Debug)]
pub struct SlipText {
    /// Year and month letter.
    pub letters: [Option<Word>; 2],
    /// Year and month it was.
    pub date: [Option<Placed<f64>>; 2],
    /// First and last day.
    pub days: Vec<Placed<f64>>,
    /// Where it comes from.
    pub source: Option<Word>,
    /// The whole of it.
    pub span: Span,
}

/// A series of diamonds.
#[derive(Clone, Debug)]
pub struct SeriesText {
    /// Name.
    pub name: Option<Word>,
    /// Corners of year, month, day and parcel.
    pub corners: [Option<Word>; 4],
    /// Year letters.
    pub years: Vec<LetterText>,
    /// Slips.
    pub slips: Vec<SlipText>,
    /// Where the table comes from.
    pub source: Option<Word>,
}

/// A row of the table of numbers.
#[derive(Clone, Debug)]
pub struct NumberText {
    /// The year.
    pub year: Option<Placed<f64>>,
    /// Its first number.
    pub first: Option<Placed<f64>>,
    /// Years by which lists differ.
    pub either_way: Option<Placed<f64>>,
    /// How far it was checked.
    pub checked: Option<Word>,
}

/// Registers of designs.
#[derive(Clone, Debug)]
pub struct RegistersText {
    /// Classes: numeral and material.
    pub classes: Vec<(Option<Word>, Option<Word>)>,
    /// Month letters.
    pub months: Vec<LetterText>,
    /// Series of diamonds.
    pub series: Vec<SeriesText>,
    /// Numbers.
    pub numbers: Vec<NumberText>,
    /// Years within which the mark is usually found.
    pub follow: Option<Placed<f64>>,
    /// How often it is found later.
    pub exceptions: ExceptionsText,
    /// What the date means.
    pub meaning: Option<Word>,
    /// Where they stand.
    pub span: Span,
}

/// A rules file.
#[derive(Clone, Debug)]
pub struct RulesText {
    /// Its name without the ending.
    pub name: String,
    /// How often a usual limit is broken, for rules that do not say.
    pub usual: Option<ExceptionsText>,
    /// Rules.
    pub rules: Vec<RuleText>,
    /// Registers.
    pub registers: Option<RegistersText>,
}
