//! Text → date.

use super::error::{EdtfError, EdtfErrorKind as Kind};
use super::{Date, Edtf, End, Qualifier, WithinYear, Year};

/// The longest year after `Y`: fifteen digits, so that sums of years stay far inside 64 bits.
const LONGEST_YEAR: usize = 15;

/// What is wrong, and the character (from 0) where.
type Wrong = (usize, Kind);

pub(super) fn edtf(text: &str) -> Result<Edtf, EdtfError> {
    let characters: Vec<char> = text.chars().collect();
    read(&characters).map_err(|(at, kind)| EdtfError::new(text, at + 1, kind))
}

fn read(text: &[char]) -> Result<Edtf, Wrong> {
    if text.is_empty() {
        return Err((0, Kind::Nothing));
    }
    // Sets of level 2.
    if matches!(text[0], '[' | '{') {
        return Err((0, Kind::LevelTwo));
    }
    let slashes: Vec<usize> = (0..text.len()).filter(|&at| text[at] == '/').collect();
    match slashes.as_slice() {
        [] => date(text, 0).map(Edtf::Date),
        &[slash] => {
            let start = end(&text[..slash], 0)?;
            let last = end(&text[slash + 1..], slash + 1)?;
            match (&start, &last) {
                (End::Date(a), End::Date(b)) if a.first_day() > b.last_day() => {
                    Err((slash + 1, Kind::Reversed))
                }
                (End::Date(_), _) | (_, End::Date(_)) => Ok(Edtf::Interval(start, last)),
                _ => Err((0, Kind::NoEnd)),
            }
        }
        // 1985/04/12: the first end is a date, and the rest is not its other end.
        &[_, second, ..] => Err((second, Kind::ThreeEnds)),
    }
}

fn end(text: &[char], at: usize) -> Result<End, Wrong> {
    match text {
        [] => Ok(End::Unknown),
        ['.', '.'] => Ok(End::Open),
        _ => date(text, at).map(End::Date),
    }
}

/// A date; `at` is where it stands in the whole text.
fn date(text: &[char], at: usize) -> Result<Date, Wrong> {
    let wrong = |offset: usize, kind| Err((at + offset, kind));
    let (text, qualifier) = match text.split_last() {
        Some(('?', rest)) => (rest, Qualifier::Uncertain),
        Some(('~', rest)) => (rest, Qualifier::Approximate),
        Some(('%', rest)) => (rest, Qualifier::UncertainAndApproximate),
        _ => (text, Qualifier::Exact),
    };
    if let Some(sign) = text.iter().position(|c| matches!(c, '?' | '~' | '%')) {
        // Right before the last sign it is a second one; further left it qualifies a part of the date (level 2).
        let doubled = sign + 1 == text.len() && qualifier != Qualifier::Exact;
        return wrong(
            sign,
            if doubled {
                Kind::Qualifiers
            } else {
                Kind::LevelTwo
            },
        );
    }
    let (year, n_read) = year(text, at)?;
    let within = match &text[n_read..] {
        [] => WithinYear::Nothing,
        ['-', rest @ ..] => within_year(year, rest, at + n_read + 1)?,
        ['S', rest @ ..] if !rest.is_empty() && rest.iter().all(char::is_ascii_digit) => {
            return wrong(n_read, Kind::LevelTwo);
        }
        ['0'..='9' | 'X', ..] => return wrong(n_read, Kind::Year),
        _ => return wrong(n_read, Kind::Rest),
    };
    Ok(Date {
        year,
        within,
        qualifier,
    })
}

/// A year, and how many characters it takes.
fn year(text: &[char], at: usize) -> Result<(Year, usize), Wrong> {
    let is_long = text.first() == Some(&'Y');
    let start = usize::from(is_long);
    let negative = text.get(start) == Some(&'-');
    let first = start + usize::from(negative);
    let digits: Vec<char> = text[first..]
        .iter()
        .copied()
        .take_while(|c| c.is_ascii_digit() || (!is_long && *c == 'X'))
        .take(if is_long { LONGEST_YEAR + 1 } else { 4 })
        .collect();
    let n_read = first + digits.len();
    if is_long {
        // Exponents of level 2.
        if text.get(n_read) == Some(&'E') {
            return Err((at + n_read, Kind::LevelTwo));
        }
        if !(5..=LONGEST_YEAR).contains(&digits.len()) || digits[0] == '0' {
            return Err((at + first, Kind::LongYear));
        }
    } else if digits.len() < 4 {
        return Err((at + n_read, Kind::Year));
    }
    let n_known = digits
        .iter()
        .position(|&c| c == 'X')
        .unwrap_or(digits.len());
    if let Some(after) = digits[n_known..].iter().position(|&c| c != 'X') {
        return Err((at + first + n_known + after, Kind::UnspecifiedDigits));
    }
    let stem = digits[..n_known].iter().fold(0_i64, |value, c| {
        value * 10 + i64::from(c.to_digit(10).unwrap_or(0))
    });
    if negative && stem == 0 {
        return Err((at + start, Kind::NegativeZero));
    }
    let stem = if negative { -stem } else { stem };
    let year = match digits.len() - n_known {
        0 => Year::Known(stem),
        1 => Year::Decade(stem),
        2 => Year::Century(stem),
        // A whole thousand or more.
        _ => return Err((at + first + n_known, Kind::LevelTwo)),
    };
    Ok((year, n_read))
}

/// Month, day or season after the year's hyphen.
fn within_year(year: Year, text: &[char], at: usize) -> Result<WithinYear, Wrong> {
    let Year::Known(known) = year else {
        // 156X-12
        return Err((at, Kind::LevelTwo));
    };
    let month = two_digits(text, at)?;
    let (rest, at_day) = (&text[2..], at + 3);
    if let Some(number) = month.filter(|month| !(1..=12).contains(month)) {
        return match (number, rest) {
            (21..=24, []) => Ok(WithinYear::Season(number)),
            (25..=41, []) => Err((at, Kind::LevelTwo)),
            _ => Err((at, Kind::Month(number))),
        };
    }
    match rest {
        [] => return Ok(WithinYear::Month(month)),
        ['-', ..] => {}
        ['0'..='9' | 'X', ..] => return Err((at, Kind::TwoDigits)),
        _ => return Err((at + 2, Kind::Rest)),
    }
    let day = two_digits(&rest[1..], at_day)?;
    match &rest[3..] {
        [] => {}
        ['T', ..] => return Err((at_day + 2, Kind::TimeOfDay)),
        ['0'..='9' | 'X', ..] => return Err((at_day, Kind::TwoDigits)),
        _ => return Err((at_day + 2, Kind::Rest)),
    }
    match (month, day) {
        (None, Some(_)) => Err((at, Kind::LevelTwo)),
        (Some(month), Some(day)) if day == 0 || day > days_of(known, month) => Err((
            at_day,
            Kind::Day {
                day,
                of: days_of(known, month),
            },
        )),
        _ => Ok(WithinYear::Day(month, day)),
    }
}

/// Two digits, or `XX` as `None`.
fn two_digits(text: &[char], at: usize) -> Result<Option<u8>, Wrong> {
    match text {
        ['X', 'X', ..] => Ok(None),
        [a, b, ..] => match (a.to_digit(10), b.to_digit(10)) {
            (Some(a), Some(b)) => Ok(u8::try_from(a * 10 + b).ok()),
            // 1X, X2
            _ if [a, b].into_iter().all(|c| c.is_ascii_digit() || *c == 'X') => {
                Err((at, Kind::LevelTwo))
            }
            _ => Err((at, Kind::TwoDigits)),
        },
        _ => Err((at, Kind::TwoDigits)),
    }
}

/// Days of a month in the proleptic Gregorian calendar.
pub(in crate::dating) fn days_of(year: i64, month: u8) -> u8 {
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    match month {
        2 => 28 + u8::from(leap),
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn fails(text: &str) -> (usize, Kind) {
        let error = Edtf::parse(text).unwrap_err();
        assert!(!error.remedy().is_empty());
        (error.column, error.kind)
    }

    #[test]
    fn what_is_wrong_and_where() {
        assert_eq!(fails(""), (1, Kind::Nothing));
        assert_eq!(fails("1885-02-30"), (9, Kind::Day { day: 30, of: 28 }));
        assert_eq!(fails("1900-02-29"), (9, Kind::Day { day: 29, of: 28 }));
        assert_eq!(fails("1836/1885-13"), (11, Kind::Month(13)));
        assert_eq!(fails("1871/1836"), (6, Kind::Reversed));
        assert_eq!(fails("1871-05/1871-04"), (9, Kind::Reversed));
        assert_eq!(fails("../.."), (1, Kind::NoEnd));
        assert_eq!(fails("1X40"), (3, Kind::UnspecifiedDigits));
        assert_eq!(fails("183"), (4, Kind::Year));
        assert_eq!(fails("18360"), (5, Kind::Year));
        assert_eq!(fails("é840"), (1, Kind::Year));
        assert_eq!(fails("1840s"), (5, Kind::Rest));
        assert_eq!(fails("1984?~"), (5, Kind::Qualifiers));
        assert_eq!(fails("-0000"), (1, Kind::NegativeZero));
        assert_eq!(fails("Y1985"), (2, Kind::LongYear));
        assert_eq!(fails("1985-4"), (6, Kind::TwoDigits));
        assert_eq!(fails("1985-04-12T23:20:30Z"), (11, Kind::TimeOfDay));
    }

    /// Source: Gregorian rule: 1900 has no 29 February, 2000 and 1860 have.
    #[test]
    fn leap_years() {
        assert!(Edtf::parse("1860-02-29").is_ok());
        assert!(Edtf::parse("2000-02-29").is_ok());
        assert!(Edtf::parse("1900-02-29").is_err());
    }

    fn any_date() -> impl Strategy<Value = Date> {
        let year = prop_oneof![
            (-9999_i64..=9999).prop_map(Year::Known),
            (10_000_i64..=999_999_999_999_999).prop_map(Year::Known),
            (1_i64..=999).prop_map(Year::Decade),
            (1_i64..=99).prop_map(Year::Century),
            (-99_i64..=-1).prop_map(Year::Century),
        ];
        let within = prop_oneof![
            Just(WithinYear::Nothing),
            proptest::option::of(1_u8..=12).prop_map(WithinYear::Month),
            (21_u8..=24).prop_map(WithinYear::Season),
            (1_u8..=12, proptest::option::of(1_u8..=28))
                .prop_map(|(month, day)| WithinYear::Day(Some(month), day)),
        ];
        let qualifier = prop_oneof![
            Just(Qualifier::Exact),
            Just(Qualifier::Uncertain),
            Just(Qualifier::Approximate),
            Just(Qualifier::UncertainAndApproximate),
        ];
        (year, within, qualifier).prop_map(|(year, within, qualifier)| Date {
            year,
            within: match year {
                Year::Known(_) => within,
                _ => WithinYear::Nothing,
            },
            qualifier,
        })
    }

    proptest! {
        #[test]
        fn printed_and_read_again_is_the_same(a in any_date(), b in any_date(), form in 0..5) {
            let value = match form {
                0 => Edtf::Date(a),
                1 => Edtf::Interval(End::Date(a), End::Open),
                2 => Edtf::Interval(End::Unknown, End::Date(a)),
                _ if a.first_day() > b.last_day() => Edtf::Interval(End::Date(b), End::Date(a)),
                _ => Edtf::Interval(End::Date(a), End::Date(b)),
            };
            prop_assert_eq!(Edtf::parse(&value.to_string()), Ok(value));
        }

        #[test]
        fn no_text_panics_and_what_is_read_is_printed_back(text in "[0-9XY~?%/.eES\\[{é T:-]{0,14}") {
            match Edtf::parse(&text) {
                Ok(value) => prop_assert_eq!(value.to_string(), text),
                Err(error) => prop_assert!((1..=text.chars().count() + 1).contains(&error.column)),
            }
        }
    }
}
