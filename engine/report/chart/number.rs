//! Figures of a chart as they are printed beside what is drawn.

use super::{Bar, Unit};

/// A figure in its unit. What is possible is never printed as 0, what may fail never as 1.
pub(super) fn figure(unit: &Unit, value: f64) -> String {
    match unit {
        Unit::Probability => probability(value),
        Unit::ShareOfVariance | Unit::ShareOfDraws => without_minus_zero(format!("{value:.3}")),
        Unit::Decibans => {
            let text = format!("{value:+.2}");
            if text == "-0.00" {
                "+0.00".to_owned()
            } else {
                text
            }
        }
        Unit::Bits if value > 0.0 && value < 0.001 => "< 0.001".to_owned(),
        Unit::Bits => without_minus_zero(format!("{value:.3}")),
        Unit::Draws => format!("{value:.0}"),
        Unit::Minutes | Unit::Other(_) => plain(value),
    }
}

fn probability(p: f64) -> String {
    if p == 0.0 {
        "0".to_owned()
    } else if p == 1.0 {
        "1".to_owned()
    } else if p > 0.0 && p < 0.01 {
        "< 0.01".to_owned()
    } else if p > 0.99 && p < 1.0 {
        "> 0.99".to_owned()
    } else {
        format!("{p:.2}")
    }
}

/// Four digits that count, fewer if the number needs no more.
pub(super) fn plain(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let size = value.abs();
    if !(1e-4..1e7).contains(&size) {
        return format!("{value:.3e}");
    }
    let digits = 3 - size.log10().floor() as i32;
    let text = format!("{value:.*}", usize::try_from(digits).unwrap_or(0));
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

fn without_minus_zero(text: String) -> String {
    let is_zero = text.chars().all(|c| matches!(c, '-' | '0' | '.'));
    match text.strip_prefix('-') {
        Some(zero) if is_zero => zero.to_owned(),
        _ => text,
    }
}

/// All that is printed beside a bar: the figure, its ends, and what else is said.
pub(super) fn beside(unit: &Unit, bar: &Bar) -> String {
    let ends = match (bar.low, bar.high) {
        (Some(low), Some(high)) => Some(format!("{} to {}", figure(unit, low), figure(unit, high))),
        (Some(low), None) => Some(format!("from {}", figure(unit, low))),
        (None, Some(high)) => Some(format!("to {}", figure(unit, high))),
        (None, None) => None,
    };
    let value = bar.value.map(|value| figure(unit, value));
    let mut text = match (value, ends) {
        (Some(value), Some(ends)) => format!("{value} ({ends})"),
        (Some(text), None) | (None, Some(text)) => text,
        (None, None) => String::new(),
    };
    if let Some(words) = &bar.beside {
        if !text.is_empty() {
            text += ", ";
        }
        text += words;
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_possible_is_never_nothing() {
        let p = |p| figure(&Unit::Probability, p);
        assert_eq!(
            [p(0.0), p(1e-9), p(0.0099), p(0.01), p(0.994), p(1.0)],
            ["0", "< 0.01", "< 0.01", "0.01", "> 0.99", "1"]
        );
    }

    #[test]
    fn numbers_keep_four_digits() {
        let shown = [0.0, 1.0, 1234.5, 0.012_345_6, -2.5, 1e9].map(plain);
        assert_eq!(shown, ["0", "1", "1234", "0.01235", "-2.5", "1.000e9"]);
        assert_eq!(figure(&Unit::Decibans, -0.001), "+0.00");
    }
}
