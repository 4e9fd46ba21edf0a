//! Masses, lengths, capacities and areas as people write them: `1345 g`, `8 lb 13 oz`, `13 3/4 in`, `1.2 l`, `380 cm2`.
//!
//! A number without a unit, or with an unknown one, is refused: nothing is guessed. Pints, quarts and fluid ounces are not
//! known here, since each means two different measures on the two sides of the Atlantic.
//!
//! Source of the factors: International yard and pound agreement, 1959 (1 in = 2.54 cm, 1 lb = 453.59237 g, both exact).

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
    /// Two units that do not go together: `8 oz 3 lb`, `1 kg 3 oz`.
    #[error("`{text}` has parts that do not go together; write {example}")]
    Parts {
        /// What was written.
        text: String,
        /// How it could be written.
        example: &'static str,
    },
    /// Zero, negative or not finite.
    #[error("`{text}` is not a quantity above zero; write {example}")]
    NotPositive {
        /// What was written.
        text: String,
        /// How it could be written.
        example: &'static str,
    },
    /// A tolerance as large as the quantity itself.
    #[error("`{text}` has a tolerance that leaves nothing of it; write {example}")]
    Tolerance {
        /// What was written.
        text: String,
        /// How it could be written.
        example: &'static str,
    },
}

/// A quantity read off an instrument, with the tolerance of the reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// The quantity, in the base unit of its kind.
    pub value: f64,
    /// Half the width of what the instrument cannot tell apart, in the same unit, if it was given.
    pub tolerance: Option<f64>,
}

impl Reading {
    /// A reading whose tolerance was not given.
    #[must_use]
    pub fn exact(value: f64) -> Self {
        Self {
            value,
            tolerance: None,
        }
    }
}

/// A kind of quantity: its units, each larger before the smaller that may follow it, and an example.
#[derive(Clone, Copy)]
pub struct Kind {
    units: &'static [Unit],
    example: &'static str,
}

struct Unit {
    names: &'static [&'static str],
    scale: Scale,
    /// The unit that may follow it: ounces after pounds.
    then: Option<&'static str>,
}

/// How a unit relates to the base unit. A division by 100 rounds once; a product with 0.01 would round twice.
#[derive(Clone, Copy)]
enum Scale {
    Times(f64),
    Over(f64),
}

const fn unit(names: &'static [&'static str], scale: Scale) -> Unit {
    Unit {
        names,
        scale,
        then: None,
    }
}

/// Mass, in grams: `g`, `kg`, `oz`, `lb`.
pub const MASS: Kind = Kind {
    units: &[
        unit(&["g"], Scale::Times(1.0)),
        unit(&["kg"], Scale::Times(1000.0)),
        unit(&["oz"], Scale::Times(28.349_523_125)),
        Unit {
            names: &["lb", "lbs"],
            scale: Scale::Times(453.592_37),
            then: Some("oz"),
        },
    ],
    example: "a mass such as `1345 g`, `1.345 kg` or `2 lb 15 oz`",
};

/// Length, in centimetres: `mm`, `cm`, `m`, `in`, `ft`.
pub const LENGTH: Kind = Kind {
    units: &[
        unit(&["mm"], Scale::Over(10.0)),
        unit(&["cm"], Scale::Times(1.0)),
        unit(&["m"], Scale::Times(100.0)),
        unit(&["in"], Scale::Times(2.54)),
        Unit {
            names: &["ft"],
            scale: Scale::Times(30.48),
            then: Some("in"),
        },
    ],
    example: "a length such as `350 mm`, `35 cm` or `13 3/4 in`",
};

/// Capacity, in litres: `ml`, `cl`, `l`.
pub const CAPACITY: Kind = Kind {
    units: &[
        unit(&["ml"], Scale::Over(1000.0)),
        unit(&["cl"], Scale::Over(100.0)),
        unit(&["l"], Scale::Times(1.0)),
    ],
    example: "a capacity such as `1.2 l` or `350 ml`",
};

/// Area, in square centimetres: `cm2`, `in2`, or with `²`.
pub const AREA: Kind = Kind {
    units: &[
        unit(&["cm2", "cm²"], Scale::Times(1.0)),
        unit(&["in2", "in²"], Scale::Times(6.4516)),
    ],
    example: "an area such as `380 cm2` or `59 in2`",
};

impl Kind {
    /// The names of its units, shortest forms first: `kg`, `lb`, `lbs`.
    pub fn unit_names(self) -> impl Iterator<Item = &'static str> {
        self.units
            .iter()
            .flat_map(|unit| unit.names.iter().copied())
    }

    /// A quantity of this kind, with its tolerance if one is written behind it: `1345 g`, `1345 g ± 1 g`, `350 mm +- 2 mm`.
    ///
    /// # Errors
    /// [`UnitError`] for no number, no or another unit, a quantity that is not above zero, or a tolerance that is not below
    /// the quantity.
    pub fn read(self, text: &str) -> Result<Reading, UnitError> {
        let split = text.split_once('±').or_else(|| text.split_once("+-"));
        let Some((value, tolerance)) = split else {
            return self.quantity(text).map(Reading::exact);
        };
        let (value, tolerance) = (self.quantity(value)?, self.quantity(tolerance)?);
        if tolerance >= value {
            return Err(UnitError::Tolerance {
                text: shorten(text),
                example: self.example,
            });
        }
        Ok(Reading {
            value,
            tolerance: Some(tolerance),
        })
    }

    /// A quantity of this kind without a tolerance, in the base unit.
    ///
    /// # Errors
    /// As for [`Kind::read`].
    pub fn quantity(self, text: &str) -> Result<f64, UnitError> {
        let example = self.example;
        let shown = || shorten(text);
        let mut rest = text.trim();
        let mut sum = 0.0;
        // The unit that may still follow.
        let mut expected: Option<&str> = None;
        loop {
            let (number, after) = leading_number(rest).ok_or_else(|| UnitError::NoNumber {
                text: shown(),
                example,
            })?;
            if number <= 0.0 && (sum == 0.0 || number < 0.0) || !number.is_finite() {
                return Err(UnitError::NotPositive {
                    text: shown(),
                    example,
                });
            }
            let end = after
                .find(|c: char| c.is_whitespace() || c == '-' || c == '+')
                .unwrap_or(after.len());
            let (name, behind) = after.split_at(end);
            let found = || match name {
                "" => "no unit".to_owned(),
                name => format!(
                    "the unknown unit `{}`",
                    name.chars().take(30).collect::<String>()
                ),
            };
            let unit = self
                .units
                .iter()
                .find(|unit| unit.names.contains(&name))
                .ok_or_else(|| UnitError::Unit {
                    text: shown(),
                    found: found(),
                    example,
                })?;
            if expected.is_some_and(|expected| !unit.names.contains(&expected)) {
                return Err(UnitError::Parts {
                    text: shown(),
                    example,
                });
            }
            sum += match unit.scale {
                Scale::Times(factor) => number * factor,
                Scale::Over(divisor) => number / divisor,
            };
            rest = behind.trim();
            if rest.is_empty() {
                break;
            }
            if unit.then.is_none() {
                return Err(UnitError::Parts {
                    text: shown(),
                    example,
                });
            }
            expected = unit.then;
        }
        if sum > 0.0 && sum.is_finite() {
            Ok(sum)
        } else {
            Err(UnitError::NotPositive {
                text: shown(),
                example,
            })
        }
    }
}

/// A mass in grams: `g`, `kg`, `oz`, `lb`.
///
/// ```
/// assert_eq!(saggar::units::grams("1.84 kg").unwrap(), 1840.0);
/// assert!(saggar::units::grams("1345").is_err());
/// ```
///
/// # Errors
/// [`UnitError`] for no number, no or another unit, or a quantity that is not above zero.
pub fn grams(text: &str) -> Result<f64, UnitError> {
    MASS.quantity(text)
}

/// The number at the beginning, and what follows it: `4.0`, `13 3/4`, `3/4`, `13¾`.
fn leading_number(text: &str) -> Option<(f64, &str)> {
    let is_number = |c: char| c.is_ascii_digit() || matches!(c, '.' | '-' | '+');
    let split = |text: &'_ str| text.find(|c: char| !is_number(c)).unwrap_or(text.len());
    let (whole, rest) = text.split_at(split(text));
    if let Some((fraction, rest)) = vulgar_fraction(rest.trim_start()) {
        let whole: f64 = match whole {
            "" => 0.0,
            whole => whole_number(whole)?,
        };
        return Some((whole + fraction, rest.trim_start()));
    }
    let value: f64 = whole.parse().ok()?;
    if let Some(behind) = rest.strip_prefix('/') {
        return fraction(whole, behind);
    }
    let behind = rest.trim_start();
    let (numerator, after) = behind.split_at(split(behind));
    if !numerator.is_empty()
        && let Some(after) = after.strip_prefix('/')
    {
        let whole = whole_number(whole)?;
        let (part, rest) = fraction(numerator, after)?;
        return (part < 1.0).then_some((whole + part, rest));
    }
    Some((value, behind))
}

/// `3` and `4 in` of `3/4 in`.
fn fraction<'t>(numerator: &str, behind: &'t str) -> Option<(f64, &'t str)> {
    let end = behind
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(behind.len());
    let (denominator, rest) = behind.split_at(end);
    let (numerator, denominator) = (whole_number(numerator)?, whole_number(denominator)?);
    (denominator > 0.0).then(|| (numerator / denominator, rest.trim_start()))
}

fn whole_number(text: &str) -> Option<f64> {
    text.bytes()
        .all(|b| b.is_ascii_digit())
        .then(|| text.parse().ok())
        .flatten()
}

fn vulgar_fraction(text: &str) -> Option<(f64, &str)> {
    let first = text.chars().next()?;
    let value = match first {
        '¼' => 0.25,
        '½' => 0.5,
        '¾' => 0.75,
        '⅛' => 0.125,
        '⅜' => 0.375,
        '⅝' => 0.625,
        '⅞' => 0.875,
        _ => return None,
    };
    Some((value, &text[first.len_utf8()..]))
}

fn shorten(text: &str) -> String {
    text.chars().take(60).collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn quantities() {
        assert_eq!(grams("190 g"), Ok(190.0));
        assert_eq!(grams("1.5kg"), Ok(1500.0));
        assert_eq!(grams("4.0 kg"), Ok(4000.0));
        assert_eq!(CAPACITY.quantity("35 cl"), Ok(0.35));
        assert_eq!(AREA.quantity("380 cm²"), Ok(380.0));
        assert_eq!(LENGTH.quantity("350 mm"), Ok(35.0));
        for written in [
            "13 3/4 in",
            "13.75 in",
            "13¾ in",
            "13 ¾in",
            "1 ft 1 3/4 in",
            "55/4 in",
        ] {
            assert_eq!(LENGTH.quantity(written), Ok(13.75 * 2.54), "{written}");
        }
    }

    /// Source: International yard and pound agreement, 1959: 1 lb = 453.59237 g; 16 oz to the pound.
    #[test]
    fn pounds_and_ounces() {
        let close = |text: &str, grams: f64| {
            let found = super::grams(text).unwrap();
            assert!((found - grams).abs() < 1e-9, "{text}: {found}");
        };
        close("1 lb", 453.592_37);
        close("16 oz", 453.592_37);
        close("8 lb 13 oz", 141.0 * 453.592_37 / 16.0);
        close("8lb 13oz", 141.0 * 453.592_37 / 16.0);
        close("8 lb 13 1/2 oz", 141.5 * 453.592_37 / 16.0);
        close("8 lb 0 oz", 8.0 * 453.592_37);
    }

    #[test]
    fn tolerances() {
        let reading = MASS.read("1345 g ± 5 g").unwrap();
        assert_eq!((reading.value, reading.tolerance), (1345.0, Some(5.0)));
        assert_eq!(
            MASS.read("2 lb +- 1/2 oz").unwrap().tolerance,
            Some(28.349_523_125 / 2.0)
        );
        assert_eq!(MASS.read("1345 g").unwrap().tolerance, None);
        assert!(matches!(
            MASS.read("5 g ± 5 g"),
            Err(UnitError::Tolerance { .. })
        ));
        assert!(matches!(
            MASS.read("1345 g ± 5"),
            Err(UnitError::Unit { .. })
        ));
        assert!(matches!(
            MASS.read("1345 g ± -5 g"),
            Err(UnitError::NotPositive { .. })
        ));
    }

    #[test]
    fn refused() {
        let no_number = [
            "heavy",
            "",
            "g",
            "1/0 in",
            "1 5/4 in",
            "1.5 1/2 in",
            "--3 g",
            "13 in 3/",
        ];
        for text in no_number {
            let found = LENGTH.quantity(text);
            assert!(
                matches!(
                    found,
                    Err(UnitError::NoNumber { .. } | UnitError::Parts { .. })
                ),
                "{text}: {found:?}"
            );
        }
        for text in ["3 stone", "1345", "3 G", "4 in"] {
            assert!(matches!(grams(text), Err(UnitError::Unit { .. })), "{text}");
        }
        for text in ["-3 g", "0 g", "0 lb 0 oz", "-8 lb 13 oz", "8 lb -13 oz"] {
            assert!(
                matches!(grams(text), Err(UnitError::NotPositive { .. })),
                "{text}"
            );
        }
        for text in [
            "1 kg 3 oz",
            "8 oz 3 lb",
            "1 lb 3 lb",
            "8 oz 3 oz",
            "1 lb 3 oz 2 oz",
        ] {
            assert!(
                matches!(grams(text), Err(UnitError::Parts { .. })),
                "{text}"
            );
        }
        assert!(matches!(
            grams("9".repeat(400).as_str()),
            Err(UnitError::NotPositive { .. })
        ));
        assert!(matches!(
            grams(&("9".repeat(400) + " g")),
            Err(UnitError::NotPositive { .. })
        ));
    }

    #[test]
    fn a_refusal_says_how_to_write_it() {
        for text in ["-3 g", "3 stone", "heavy", "1 kg 3 oz"] {
            let said = grams(text).unwrap_err().to_string();
            assert!(said.contains("; write a mass such as `1345 g`"), "{said}");
        }
    }

    proptest! {
        #[test]
        fn no_text_panics(text in "[0-9+./ ¾±a-z-]{0,14}", any in ".{0,20}") {
            for kind in [MASS, LENGTH, CAPACITY, AREA] {
                for text in [&text, &any] {
                    if let Ok(reading) = kind.read(text) {
                        prop_assert!(reading.value > 0.0 && reading.value.is_finite());
                    }
                }
            }
        }
    }
}
