//! What an expert says: `0.3`, `"30%"`, `"3 in 10"`, `"3/10"`, odds `"3:1"`, `"certain"`, `"impossible"`.

/// How firmly a belief is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Firmness {
    /// A chance that more pieces could change.
    Stated,
    /// True on purpose, by definition: no doubt is drawn around it.
    Certain,
    /// Impossible on purpose: no warning about a zero.
    Impossible,
}

/// A probability as said.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chance {
    /// The probability, from 0 to 1.
    pub value: f64,
    /// How firmly.
    pub firmness: Firmness,
}

/// Why a text is not a chance.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ChanceError {
    /// The text has none of the known forms.
    #[error("this does not say a chance")]
    Form,
    /// Odds of more than two numbers.
    #[error("odds are two numbers, one on and one against")]
    Odds,
    /// Below zero.
    #[error("a chance cannot be negative")]
    Negative,
    /// Above one.
    #[error("a chance cannot be more than 1, and this is {0}")]
    AboveOne(f64),
    /// Not a finite number.
    #[error("a chance must be a finite number")]
    NotFinite,
    /// `0 in 0`, `0:0`.
    #[error("nothing out of nothing is no chance")]
    NothingOfNothing,
}

/// The forms a chance may take, for messages.
pub const FORMS: &str =
    "say it as 0.3, \"30%\", \"3 in 10\", \"3/10\", odds \"3:1\", \"certain\" or \"impossible\"";

/// Reads a number as a chance.
///
/// # Errors
/// [`ChanceError`] unless the number is finite and between 0 and 1.
pub fn chance_from_number(value: f64) -> Result<Chance, ChanceError> {
    if !value.is_finite() {
        return Err(ChanceError::NotFinite);
    }
    if value < 0.0 {
        return Err(ChanceError::Negative);
    }
    if value > 1.0 {
        return Err(ChanceError::AboveOne(value));
    }
    Ok(Chance {
        value,
        firmness: Firmness::Stated,
    })
}

/// Reads a text as a chance. Odds `a:b` (or `a to b`) are a against b, so `3:1` is 0.75.
///
/// ```
/// use saggar::pack::belief::chance_from_text;
/// assert_eq!(chance_from_text("3 in 10").unwrap().value, 0.3);
/// assert_eq!(chance_from_text("3:1").unwrap().value, 0.75);
/// assert!(chance_from_text("often").is_err());
/// ```
///
/// # Errors
/// [`ChanceError`] if the text has another form or the chance is not between 0 and 1.
pub fn chance_from_text(text: &str) -> Result<Chance, ChanceError> {
    let text = text.trim();
    let fixed = |value, firmness| Ok(Chance { value, firmness });
    match text {
        "certain" => return fixed(1.0, Firmness::Certain),
        "impossible" => return fixed(0.0, Firmness::Impossible),
        _ => {}
    }
    if let Some(percent) = text.strip_suffix('%') {
        return ratio(number(percent)?, 100.0);
    }
    for separator in [" in ", " out of ", "/"] {
        if let Some((part, whole)) = text.split_once(separator) {
            return ratio(number(part)?, number(whole)?);
        }
    }
    for separator in [":", " to "] {
        if let Some((on, against)) = text.split_once(separator) {
            if against.contains(separator) {
                return Err(ChanceError::Odds);
            }
            let (on, against) = (number(on)?, number(against)?);
            if on < 0.0 || against < 0.0 {
                return Err(ChanceError::Negative);
            }
            return ratio(on, on + against);
        }
    }
    chance_from_number(number(text)?)
}

fn ratio(part: f64, whole: f64) -> Result<Chance, ChanceError> {
    if part < 0.0 || whole < 0.0 {
        return Err(ChanceError::Negative);
    }
    if whole == 0.0 {
        return Err(ChanceError::NothingOfNothing);
    }
    chance_from_number(part / whole)
}

/// A plain decimal number; `inf` and `nan`, which Rust would parse, are not how anyone says a chance.
fn number(text: &str) -> Result<f64, ChanceError> {
    let text = text.trim();
    if !text.starts_with(|c: char| c.is_ascii_digit() || c == '.' || c == '-') {
        return Err(ChanceError::Form);
    }
    let value: f64 = text.parse().map_err(|_| ChanceError::Form)?;
    if value.is_finite() {
        Ok(value)
    } else {
        Err(ChanceError::NotFinite)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn says(text: &str, expected: f64) {
        assert_eq!(chance_from_text(text).unwrap().value, expected, "{text}");
    }

    #[test]
    fn forms() {
        says("0.3", 0.3);
        says("30%", 0.3);
        says(" 3 in 10 ", 0.3);
        says("3 out of 10", 0.3);
        says("1/4", 0.25);
        says("3:1", 0.75);
        says("1 to 3", 0.25);
        says("55 in 1000", 0.055);
    }

    #[test]
    fn what_is_not_a_chance() {
        assert_eq!(chance_from_text("often"), Err(ChanceError::Form));
        assert_eq!(chance_from_text("nan%"), Err(ChanceError::Form));
        assert_eq!(chance_from_text("3:0:1"), Err(ChanceError::Odds));
        assert_eq!(chance_from_text("-1 in 3"), Err(ChanceError::Negative));
        assert_eq!(chance_from_text("12"), Err(ChanceError::AboveOne(12.0)));
        assert_eq!(chance_from_text("1e999"), Err(ChanceError::NotFinite));
        assert_eq!(
            chance_from_text("0 in 0"),
            Err(ChanceError::NothingOfNothing)
        );
        assert_eq!(chance_from_text("110%"), Err(ChanceError::AboveOne(1.1)));
    }

    #[test]
    fn on_purpose_is_not_the_same_as_zero() {
        assert_eq!(
            chance_from_text("impossible").unwrap().firmness,
            Firmness::Impossible
        );
        assert_eq!(chance_from_text("0%").unwrap().firmness, Firmness::Stated);
    }
}
