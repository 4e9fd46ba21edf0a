//! The diamond of a registered design, as it is read.

use std::fmt;

/// A corner of the diamond.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Corner {
    /// Below the class.
    Top,
    /// On the right.
    Right,
    /// At the foot.
    Bottom,
    /// On the left.
    Left,
}

impl Corner {
    /// All of them, clockwise from the top.
    pub const ALL: [Self; 4] = [Self::Top, Self::Right, Self::Bottom, Self::Left];

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Top => "top",
            Self::Right => "right",
            Self::Bottom => "bottom",
            Self::Left => "left",
        }
    }
}

/// What stands in a corner.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sign {
    /// A letter, upper case.
    Letter(char),
    /// A number.
    Number(u32),
}

/// A diamond as read; what cannot be read is left out.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Diamond {
    /// Class in the ring above, such as `IV`.
    pub class: Option<String>,
    /// What stands in the corners, clockwise from the top.
    pub corners: [Option<Sign>; 4],
    /// A year letter whose corner cannot be told.
    pub year_letter: Option<char>,
}

impl Diamond {
    /// What stands in a corner.
    #[must_use]
    pub fn at(&self, corner: Corner) -> Option<Sign> {
        let place = Corner::ALL.iter().position(|c| *c == corner);
        place.and_then(|place| self.corners[place])
    }
}

impl fmt::Display for Sign {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Letter(letter) => write!(f, "{letter}"),
            Self::Number(number) => write!(f, "{number}"),
        }
    }
}

impl std::str::FromStr for Sign {
    type Err = SignError;

    fn from_str(text: &str) -> Result<Self, SignError> {
        let wrong = || SignError(text.chars().take(20).collect());
        if let Ok(number) = text.parse() {
            return Ok(Self::Number(number));
        }
        let mut letters = text.chars();
        match (letters.next(), letters.next()) {
            (Some(letter), None) if letter.is_ascii_alphabetic() => {
                Ok(Self::Letter(letter.to_ascii_uppercase()))
            }
            _ => Err(wrong()),
        }
    }
}

/// A text that cannot stand in a corner.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("`{0}` cannot stand in a corner of a diamond; give one letter or a whole number")]
pub struct SignError(String);

impl fmt::Display for Diamond {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("diamond")?;
        if let Some(class) = &self.class {
            write!(f, " {class}")?;
        }
        for corner in Corner::ALL {
            if let Some(sign) = self.at(corner) {
                write!(f, ", {} {sign}", corner.name())?;
            }
        }
        if let Some(letter) = self.year_letter {
            write!(f, ", year letter {letter}")?;
        }
        Ok(())
    }
}
