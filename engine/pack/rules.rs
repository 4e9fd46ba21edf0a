//! How a rules file is read.
//!
//! Rules files stand in the folder `rules` beside the packs; a pack names those it includes.

use std::path::Path;

use super::reader::Item;
use super::text::rules::{
    ExceptionsText, LetterText, LimitText, NumberText, RegistersText, RuleText, RulesText,
    SeriesText, SlipText,
};
use super::{parse, unreadable};
use crate::diagnostic::Diagnostic;
use crate::source::Sources;

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
