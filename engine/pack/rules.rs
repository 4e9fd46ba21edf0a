//! A rules file as written: limits of law and record, and registers of designs.
//!
//! Rules files stand in the folder `rules` beside the packs; a pack names those it includes.

use std::path::Path;

use super::reader::Item;
use super::text::{Placed, Word};
use super::{belief::Chance, parse, unreadable};
use crate::dating::edtf::Edtf;
use crate::diagnostic::Diagnostic;
use crate::source::{Sources, Span};

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

/// Reads a rules file on its own. Every defect of form is pushed to `out`; `None` if the file cannot be read.
pub fn read(path: &Path, sources: &mut Sources, out: &mut Vec<Diagnostic>) -> Option<RulesText> {
    let name = path.file_stem().unwrap_or_default().to_string_lossy();
    let id = match sources.read(path) {
        Ok(id) => id,
        Err(error) => {
            let report = unreadable(&error, &format!("{name}.toml"), path, sources);
            out.push(report);
            return None;
        }
    };
    let (document, _) = parse(id, sources, out);
    let item = Item::new(&document, id, 0..0, "a rules file");
    Some(rules_file(&name, &item, out))
}

/// A rules file.
pub(super) fn rules_file(name: &str, item: &Item<'_>, out: &mut Vec<Diagnostic>) -> RulesText {
    let usual = item.item("usual", "[usual]", out).map(|usual| {
        let exceptions = exceptions(&usual, out);
        usual.finish(out);
        exceptions
    });
    let mut rules = Vec::new();
    for entry in item.items("rule", "a rule", out) {
        rules.extend(rule(&entry, out));
        entry.finish(out);
    }
    let registers = item
        .item("registration", "[registration]", out)
        .map(|entry| registers(&entry, out));
    item.finish(out);
    RulesText {
        name: name.to_owned(),
        usual,
        rules,
        registers,
    }
}

fn rule(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> Option<RuleText> {
    let id = item.word("id", out);
    let limit = |key, out: &mut Vec<Diagnostic>| {
        item.item(key, "a limit", out).map(|limit| {
            let (year, strength) = (limit.date("year", out), limit.word("strength", out));
            limit.finish(out);
            LimitText {
                year,
                strength,
                span: limit.span,
            }
        })
    };
    let rule = RuleText {
        name: item.word("name", out),
        feature: item.word("feature", out),
        reads: item.words("reads", out),
        unless: item.words("unless", out),
        not_before: limit("not_before", out),
        not_after: limit("not_after", out),
        exceptions: exceptions(item, out),
        source: item.word("source", out),
        checked: item.optional_word("checked", out),
        note: item.optional_word("note", out),
        span: id.as_ref().map_or(item.span, |id| id.span),
        id: id?,
    };
    Some(rule)
}

fn exceptions(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> ExceptionsText {
    ExceptionsText {
        say: item.optional_chance("exceptions", out),
        seen: item.seen(out),
        span: item.span,
    }
}

fn registers(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> RegistersText {
    let classes = each(item, "class", "a class", out, |class, out| {
        (class.word("id", out), class.word("of", out))
    });
    let months = each(item, "month", "a month letter", out, |row, out| {
        letter(row, "month", out)
    });
    let series = each(item, "series", "a series", out, |series, out| SeriesText {
        name: {
            series.word("id", out);
            series.word("name", out)
        },
        corners: ["year_at", "month_at", "day_at", "parcel_at"].map(|key| series.word(key, out)),
        years: each(series, "year", "a year letter", out, |row, out| {
            letter(row, "year", out)
        }),
        slips: each(
            series,
            "slip",
            "a slip of the register",
            out,
            |slip, out| SlipText {
                letters: ["year_letter", "month_letter"].map(|key| slip.word(key, out)),
                date: ["year", "month"].map(|key| slip.required_number(key, out)),
                days: slip.numbers("days", out).unwrap_or_default(),
                source: slip.word("source", out),
                span: slip.span,
            },
        ),
        source: series.word("source", out),
    });
    let numbers = item
        .item("number", "the table of numbers", out)
        .map(|table| {
            let rows = each(&table, "row", "a row of numbers", out, |row, out| {
                NumberText {
                    year: row.required_number("year", out),
                    first: row.required_number("first", out),
                    either_way: row.number("either_way", out),
                    checked: row.word("checked", out),
                }
            });
            table.finish(out);
            rows
        });
    let registers = RegistersText {
        classes,
        months,
        series,
        numbers: numbers.unwrap_or_default(),
        follow: item.required_number("follow", out),
        exceptions: exceptions(item, out),
        meaning: item.word("meaning", out),
        span: item.span,
    };
    item.finish(out);
    registers
}

fn letter(row: &Item<'_>, key: &'static str, out: &mut Vec<Diagnostic>) -> LetterText {
    LetterText {
        letter: row.word("letter", out),
        number: row.required_number(key, out),
        checked: row.optional_word("checked", out),
    }
}

fn each<'t, T>(
    item: &Item<'t>,
    key: &'static str,
    what: &'static str,
    out: &mut Vec<Diagnostic>,
    read: impl Fn(&Item<'t>, &mut Vec<Diagnostic>) -> T,
) -> Vec<T> {
    let mut all = Vec::new();
    for entry in item.items(key, what, out) {
        all.push(read(&entry, out));
        entry.finish(out);
    }
    all
}
