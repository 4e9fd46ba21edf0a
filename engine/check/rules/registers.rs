//! Registers of designs: letters, corners and numbers that can be decoded.

use super::{Exceptions, exceptions};
use crate::check::names;
use crate::dating::registration::{Corner, FirstNumber, Registers, Series, Slip};
use crate::diagnostic::{Diagnostic, has_errors};
use crate::pack::text::rules::{ExceptionsText, LetterText, NumberText, RegistersText, SeriesText};
use crate::pack::text::{Placed, Word};

/// The latest year that a table may name.
const LAST_YEAR: i64 = 9999;

/// Checks registers; `None` if something in them has a defect.
pub(super) fn check(
    text: &RegistersText,
    usual: Option<&ExceptionsText>,
    out: &mut Vec<Diagnostic>,
) -> Option<(Registers, Exceptions)> {
    let n_before = out.len();
    names::report_duplicates(
        "class",
        text.classes.iter().filter_map(|(id, _)| id.as_ref()),
        out,
    );
    let word = |word: &Option<Word>| word.as_ref().map(|w| w.value.clone());
    let classes = text
        .classes
        .iter()
        .filter_map(|(id, of)| Some((word(id)?, word(of)?)));
    let classes = classes.collect();
    let months = letters(&text.months, 12, "month letter", out);
    let months = months
        .into_iter()
        .map(|(letter, month, checked)| (letter, u8::try_from(month).unwrap_or(0), checked))
        .collect();
    let series = text.series.iter().filter_map(|s| series(s, out)).collect();
    let numbers = numbers(&text.numbers, out);
    let follow = text.follow.as_ref().and_then(|n| whole(n, 0, 1000, out));
    let exceptions = exceptions(&text.exceptions, usual, out);
    if has_errors(&out[n_before..]) {
        return None;
    }
    let exceptions = exceptions?;
    let registers = Registers {
        classes,
        months,
        series,
        numbers,
        follow: follow?,
        exceptions: exceptions.say,
        meaning: word(&text.meaning)?,
    };
    let exceptions = Exceptions {
        span: text.span,
        ..exceptions
    };
    Some((registers, exceptions))
}

fn series(text: &SeriesText, out: &mut Vec<Diagnostic>) -> Option<Series> {
    let corners: Vec<Option<Corner>> = text
        .corners
        .iter()
        .map(|word| {
            let known = Corner::ALL.map(Corner::name);
            names::find("corner", word.as_ref()?, known, out).map(|place| Corner::ALL[place])
        })
        .collect();
    names::report_duplicates("corner", text.corners.iter().flatten(), out);
    let years = letters(&text.years, LAST_YEAR, "year letter", out);
    let mut slips = Vec::new();
    for slip in &text.slips {
        let [year_letter, month_letter] = &slip.letters;
        let [year, month] = &slip.date;
        let days: Vec<i64> = slip
            .days
            .iter()
            .filter_map(|day| whole(day, 1, 31, out))
            .collect();
        let &[first, last] = days.as_slice() else {
            out.push(
                Diagnostic::error(
                    "rules::slip",
                    "a slip has a first and a last day",
                    slip.span,
                )
                .hint("write `days = [1, 19]`"),
            );
            continue;
        };
        let day = |day: i64| u8::try_from(day).unwrap_or(0);
        let month = month.as_ref().and_then(|n| whole(n, 1, 12, out));
        slips.extend((|| {
            Some(Slip {
                year_letter: letter(year_letter.as_ref()?, out)?,
                month_letter: letter(month_letter.as_ref()?, out)?,
                year: whole(year.as_ref()?, 1, LAST_YEAR, out)?,
                month: day(month?),
                days: (day(first), day(last)),
                source: slip.source.as_ref()?.value.clone(),
            })
        })());
    }
    Some(Series {
        name: text.name.as_ref()?.value.clone(),
        year_at: (*corners.first()?)?,
        month_at: (*corners.get(1)?)?,
        day_at: (*corners.get(2)?)?,
        parcel_at: (*corners.get(3)?)?,
        years: years
            .into_iter()
            .map(|(letter, year, _)| (letter, year))
            .collect(),
        slips,
        source: text.source.as_ref()?.value.clone(),
    })
}

/// Letters with their numbers. A month may have two letters; a letter stands for one thing.
fn letters(
    rows: &[LetterText],
    most: i64,
    what: &str,
    out: &mut Vec<Diagnostic>,
) -> Vec<(char, i64, Option<String>)> {
    names::report_duplicates(what, rows.iter().filter_map(|row| row.letter.as_ref()), out);
    let mut read = Vec::new();
    for row in rows {
        let letter = row.letter.as_ref().and_then(|word| letter(word, out));
        let number = row.number.as_ref().and_then(|n| whole(n, 1, most, out));
        if let (Some(letter), Some(number)) = (letter, number) {
            read.push((
                letter,
                number,
                row.checked.as_ref().map(|w| w.value.clone()),
            ));
        }
    }
    read
}

fn numbers(rows: &[NumberText], out: &mut Vec<Diagnostic>) -> Vec<FirstNumber> {
    let mut read: Vec<FirstNumber> = Vec::new();
    for row in rows {
        let mut number = |n: &Option<Placed<f64>>, low, most| whole(n.as_ref()?, low, most, out);
        let (Some(year), Some(first)) = (
            number(&row.year, 1, LAST_YEAR),
            number(&row.first, 0, i64::from(u32::MAX)),
        ) else {
            continue;
        };
        let either_way = match &row.either_way {
            None => Some(0),
            given => number(given, 0, 100),
        };
        let first = u32::try_from(first).unwrap_or(u32::MAX);
        if let Some(earlier) = read.last()
            && (earlier.year >= year || earlier.first >= first)
            && let Some(place) = &row.year
        {
            out.push(
                Diagnostic::error(
                    "rules::numbers",
                    format!(
                        "number {first} of {year} does not follow number {} of {}",
                        earlier.first, earlier.year
                    ),
                    place.span,
                )
                .hint("list the years in order; their first numbers rise"),
            );
        }
        if let (Some(either_way), Some(checked)) = (either_way, &row.checked) {
            read.push(FirstNumber {
                year,
                first,
                either_way,
                checked: checked.value.clone(),
            });
        }
    }
    read
}

fn letter(word: &Word, out: &mut Vec<Diagnostic>) -> Option<char> {
    let mut letters = word.value.chars();
    match (letters.next(), letters.next()) {
        (Some(letter), None) if letter.is_ascii_uppercase() => Some(letter),
        _ => {
            out.push(
                Diagnostic::error(
                    "rules::letter",
                    format!("`{}` is not a letter of a register", word.value),
                    word.span,
                )
                .hint("write one capital from A to Z"),
            );
            None
        }
    }
}

fn whole(number: &Placed<f64>, low: i64, most: i64, out: &mut Vec<Diagnostic>) -> Option<i64> {
    let value = number.value;
    if value.fract() == 0.0 && value >= low as f64 && value <= most as f64 {
        return Some(value as i64);
    }
    out.push(
        Diagnostic::error(
            "rules::number",
            format!("{value} does not do here"),
            number.span,
        )
        .label(format!("expected a whole number from {low} to {most}")),
    );
    None
}
