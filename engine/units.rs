//! Masses, capacities and areas as people write them: `1345 g`, `1.84 kg`, `1.2 l`, `380 cm2`.
//!
//! A number without a unit, or with an unknown one, is refused: nothing is guessed.

/// Why a text is not a quantity.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum UnitError {
    /// No number in front.
    #[error("`{text}` does not begin with a number; write {example}")]
    NoNumber {
        /// What was written.
        text: String,
        /// How it could be written.
        example: &'static str,
    },
    /// The unit is missing or unknown.
    #[error("`{text}` has {found}; write {example}")]
    Unit {
        /// What was written.
        text: String,
        /// The unit found, in words.
        found: String,
        /// How it could be written.
        example: &'static str,
    },
    /// Zero, negative or not finite.
    #[error("`{text}` is not a quantity above zero")]
    NotPositive {
        /// What was written.
        text: String,
    },
}

/// A mass in grams: `g`, `kg`.
///
/// ```
/// assert_eq!(saggar::units::grams("1.84 kg").unwrap(), 1840.0);
/// assert!(saggar::units::grams("1345").is_err());
/// ```
///
/// # Errors
/// [`UnitError`] for no number, no or another unit, or a quantity that is not above zero.
pub fn grams(text: &str) -> Result<f64, UnitError> {
    quantity(
        text,
        &[("g", Scale::Times(1.0)), ("kg", Scale::Times(1000.0))],
        "a mass such as `1345 g` or `1.345 kg`",
    )
}

/// A capacity in litres: `ml`, `cl`, `l`.
///
/// # Errors
/// As for [`grams`].
pub fn litres(text: &str) -> Result<f64, UnitError> {
    quantity(
        text,
        &[
            ("ml", Scale::Over(1000.0)),
            ("cl", Scale::Over(100.0)),
            ("l", Scale::Times(1.0)),
        ],
        "a capacity such as `1.2 l` or `350 ml`",
    )
}

/// An area in square centimetres: `cm2`, `cm²`.
///
/// # Errors
/// As for [`grams`].
pub fn square_centimetres(text: &str) -> Result<f64, UnitError> {
    quantity(
        text,
        &[("cm2", Scale::Times(1.0)), ("cm²", Scale::Times(1.0))],
        "an area such as `380 cm2`",
    )
}

/// How a unit relates to the base unit. A division by 100 rounds once; a product with 0.01 would round twice.
enum Scale {
    Times(f64),
    Over(f64),
}

fn quantity(text: &str, units: &[(&str, Scale)], example: &'static str) -> Result<f64, UnitError> {
    let shown: String = text.chars().take(60).collect();
    let trimmed = text.trim();
    let split = trimmed
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '-' | '+')))
        .unwrap_or(trimmed.len());
    let (number, unit) = trimmed.split_at(split);
    let number: f64 = number.parse().map_err(|_| UnitError::NoNumber {
        text: shown.clone(),
        example,
    })?;
    let unit = unit.trim();
    let scale = units
        .iter()
        .find(|(name, _)| *name == unit)
        .map(|(_, scale)| scale);
    let Some(scale) = scale else {
        let found = if unit.is_empty() {
            "no unit".to_owned()
        } else {
            format!(
                "the unknown unit `{}`",
                unit.chars().take(30).collect::<String>()
            )
        };
        return Err(UnitError::Unit {
            text: shown,
            found,
            example,
        });
    };
    let value = match scale {
        Scale::Times(factor) => number * factor,
        Scale::Over(divisor) => number / divisor,
    };
    if value > 0.0 && value.is_finite() {
        Ok(value)
    } else {
        Err(UnitError::NotPositive { text: shown })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantities() {
        assert_eq!(grams("190 g"), Ok(190.0));
        assert_eq!(grams("1.5kg"), Ok(1500.0));
        assert_eq!(litres("35 cl"), Ok(0.35));
        assert_eq!(square_centimetres("380 cm²"), Ok(380.0));
    }

    #[test]
    fn refused() {
        assert!(matches!(grams("heavy"), Err(UnitError::NoNumber { .. })));
        assert!(matches!(grams("3 lb"), Err(UnitError::Unit { .. })));
        assert!(matches!(grams("-3 g"), Err(UnitError::NotPositive { .. })));
        assert!(matches!(grams("0 g"), Err(UnitError::NotPositive { .. })));
        assert!(matches!(
            grams("9".repeat(400).as_str()),
            Err(UnitError::Unit { .. })
        ));
        assert!(matches!(
            grams(&("9".repeat(400) + " g")),
            Err(UnitError::NotPositive { .. })
        ));
    }
}
