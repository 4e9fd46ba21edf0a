//! What a mark says, the characters it is read in, and which of them look alike.

use super::fragment::{Fragment, FragmentError, Token, upper};
use super::strike::StrikeChances;

/// The characters every mark may be read in, besides those of the registry itself.
pub const BASE_ALPHABET: &str = "&'(),-./0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ";

/// The longest lettering, in characters.
pub const LONGEST_LETTERING: usize = 60;

/// What a mark says, in terms of the [`Reading`] it was made by.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Lettering(Says);

#[derive(Clone, Debug, PartialEq, Eq)]
enum Says {
    /// These positions of the alphabet.
    Text(Vec<usize>),
    Unknown {
        shortest: usize,
        longest: usize,
    },
}

impl Lettering {
    /// Somebody's text, nobody knows whose: any length from `shortest` to `longest` equally likely, each character as
    /// common as in the registry as a whole.
    ///
    /// # Errors
    /// [`ReadingError::Lengths`] unless `shortest` ≤ `longest` ≤ [`LONGEST_LETTERING`].
    pub fn unknown(shortest: usize, longest: usize) -> Result<Self, ReadingError> {
        if shortest > longest || longest > LONGEST_LETTERING {
            return Err(ReadingError::Lengths { shortest, longest });
        }
        Ok(Self(Says::Unknown { shortest, longest }))
    }
}

/// The characters of a text as they are compared: in upper case, without spaces.
pub fn characters(text: &str) -> impl Iterator<Item = char> + '_ {
    text.chars().filter(|c| !c.is_whitespace()).map(upper)
}

/// Why a text is no lettering of a mark.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ReadingError {
    /// A character the alphabet has not.
    #[error("`{0}` is not among the characters that marks are read in")]
    UnknownCharacter(char),
    /// More characters than a mark has.
    #[error(
        "a lettering of {n} characters is longer than any mark; at most {LONGEST_LETTERING} are scored"
    )]
    TooLong {
        /// How many.
        n: usize,
    },
    /// Lengths out of order, or too long.
    #[error(
        "lengths from {shortest} to {longest}: the first must not be above the second, nor the second above {LONGEST_LETTERING}"
    )]
    Lengths {
        /// Fewest characters.
        shortest: usize,
        /// Most characters.
        longest: usize,
    },
}

/// How characters are read: the alphabet, how common each is, and what each is taken for when it is misread.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Sorted.
    alphabet: Vec<char>,
    /// How common each character is; sums to 1.
    common: Vec<f64>,
    /// `taken_for[a][b]`: P(read as b | a misread). Zero on the diagonal; rows sum to 1.
    taken_for: Vec<Vec<f64>>,
}

impl Reading {
    /// A reading in which any character is equally likely to be taken for any other.
    ///
    /// The alphabet is [`BASE_ALPHABET`] and whatever else the texts hold. A character is as common as it is in the texts
    /// with one more of each counted in, so that none has frequency 0 (Laplace's rule of succession).
    #[must_use]
    pub fn of_texts<'a>(texts: impl IntoIterator<Item = &'a str>) -> Self {
        let base = BASE_ALPHABET.chars();
        let seen: Vec<char> = texts.into_iter().flat_map(characters).collect();
        let mut alphabet: Vec<char> = base.chain(seen.iter().copied()).collect();
        alphabet.sort_unstable();
        alphabet.dedup();
        let n = alphabet.len();
        let total = (seen.len() + n) as f64;
        let common = alphabet
            .iter()
            .map(|c| (1 + seen.iter().filter(|s| *s == c).count()) as f64 / total)
            .collect();
        Self::evenly(alphabet, common)
    }

    fn evenly(alphabet: Vec<char>, common: Vec<f64>) -> Self {
        let n = alphabet.len();
        let taken_for = (0..n)
            .map(|a| {
                let share = 1.0 / (n - 1) as f64;
                (0..n).map(|b| if a == b { 0.0 } else { share }).collect()
            })
            .collect();
        Self {
            alphabet,
            common,
            taken_for,
        }
    }

    /// The same for a small alphabet, every character equally common.
    #[cfg(test)]
    pub fn of_alphabet(characters: &str) -> Self {
        let mut alphabet: Vec<char> = characters.chars().collect();
        alphabet.sort_unstable();
        let n = alphabet.len();
        Self::evenly(alphabet, vec![1.0 / n as f64; n])
    }

    /// The characters of a mark's text, for display; an unknown text has none.
    #[must_use]
    pub fn spell(&self, lettering: &Lettering) -> Vec<char> {
        match &lettering.0 {
            Says::Text(text) => text.iter().map(|&a| self.alphabet[a]).collect(),
            Says::Unknown { .. } => Vec::new(),
        }
    }

    /// The characters, in order.
    #[must_use]
    pub fn alphabet(&self) -> &[char] {
        &self.alphabet
    }

    /// Position of a character in the alphabet.
    #[must_use]
    pub fn position(&self, character: char) -> Option<usize> {
        self.alphabet.binary_search(&character).ok()
    }

    /// Replaces what one letter is taken for when it is misread: one chance for each other character of the alphabet, in
    /// order, summing to 1. A letter that the alphabet has not changes nothing.
    pub fn set_look_alikes(&mut self, letter: char, others: &[f64]) {
        if let Some(position) = self.position(letter) {
            let row = &mut self.taken_for[position];
            let places = (0..row.len()).filter(|&b| b != position);
            for (place, &chance) in places.collect::<Vec<_>>().into_iter().zip(others) {
                row[place] = chance;
            }
        }
    }

    /// How common a character is.
    pub(super) fn common(&self, position: usize) -> f64 {
        self.common[position]
    }

    /// P(read as `b` | `a` is read, whether rightly or wrongly).
    pub(super) fn read_as(&self, a: usize, b: usize, misread: f64) -> f64 {
        if a == b {
            1.0 - misread
        } else {
            misread * self.taken_for[a][b]
        }
    }

    /// A text in terms of the alphabet; an empty one for a mark that is a device alone.
    ///
    /// # Errors
    /// [`ReadingError::UnknownCharacter`], [`ReadingError::TooLong`].
    pub fn lettering(&self, text: &str) -> Result<Lettering, ReadingError> {
        let text = characters(text)
            .map(|c| self.position(c).ok_or(ReadingError::UnknownCharacter(c)))
            .collect::<Result<Vec<usize>, _>>()?;
        if text.len() > LONGEST_LETTERING {
            return Err(ReadingError::TooLong { n: text.len() });
        }
        Ok(Lettering(Says::Text(text)))
    }

    /// A fragment in terms of the alphabet.
    ///
    /// # Errors
    /// [`FragmentError::NotInAlphabet`], with its column, for a character that the alphabet has not.
    pub fn encode(&self, fragment: &Fragment) -> Result<Encoded, FragmentError> {
        let encode = |(token, column): &(Token, usize)| match token {
            Token::Gap => Ok(None),
            Token::Unreadable => Ok(Some((0..self.alphabet.len()).collect())),
            Token::Letter(letters) => letters
                .iter()
                .map(|&character| {
                    self.position(character)
                        .ok_or(FragmentError::NotInAlphabet {
                            character,
                            column: *column,
                        })
                })
                .collect::<Result<Vec<usize>, _>>()
                .map(Some),
        };
        Ok(Encoded {
            tokens: fragment
                .placed()
                .iter()
                .map(encode)
                .collect::<Result<_, _>>()?,
        })
    }

    /// Whether a character is easily passed over in writing down what is read.
    pub(super) fn is_stop(&self, position: usize) -> bool {
        !self.alphabet[position].is_alphanumeric() && self.alphabet[position] != '&'
    }
}

/// A fragment in terms of an alphabet: for each token the positions of its alternatives, `None` for a gap.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Encoded {
    pub(super) tokens: Vec<Option<Vec<usize>>>,
}

/// One letter of a mark against every token of a fragment.
#[derive(Clone)]
pub(super) struct Letter {
    /// Chance of being passed over without a trace, whether lost or not.
    pub passed_over: f64,
    /// Chance of not being passed over.
    pub kept: f64,
    /// For each token: chance of not being passed over and, unless lost, of being read as this token.
    pub read_as: Vec<f64>,
}

impl Reading {
    /// The letters of a mark, and the chance of each number of them.
    pub(super) fn letters(
        &self,
        lettering: &Lettering,
        fragment: &Encoded,
        chances: &StrikeChances,
    ) -> (Vec<Letter>, Vec<f64>) {
        match lettering.0 {
            Says::Text(ref text) => {
                let letter = |&a: &usize| self.letter(&[(a, 1.0)], fragment, chances);
                let mut lengths = vec![0.0; text.len() + 1];
                lengths[text.len()] = 1.0;
                (text.iter().map(letter).collect(), lengths)
            }
            Says::Unknown { shortest, longest } => {
                let any: Vec<(usize, f64)> = self.common.iter().copied().enumerate().collect();
                let letter = self.letter(&any, fragment, chances);
                let share = 1.0 / (longest - shortest + 1) as f64;
                let chance = |n| if n < shortest { 0.0 } else { share };
                (vec![letter; longest], (0..=longest).map(chance).collect())
            }
        }
    }

    /// A letter that is each of these characters with a chance.
    fn letter(
        &self,
        mixture: &[(usize, f64)],
        fragment: &Encoded,
        chances: &StrikeChances,
    ) -> Letter {
        let passed = |a: usize| {
            if self.is_stop(a) {
                chances.stop_passed_over
            } else {
                0.0
            }
        };
        let read_as = |alternatives: &Option<Vec<usize>>| match alternatives {
            None => 0.0,
            Some(alternatives) => mixture
                .iter()
                .map(|&(a, p)| {
                    let read = alternatives
                        .iter()
                        .map(|&b| self.read_as(a, b, chances.misread));
                    p * (1.0 - passed(a)) * read.sum::<f64>()
                })
                .sum(),
        };
        let passed_over: f64 = mixture.iter().map(|&(a, p)| p * passed(a)).sum();
        Letter {
            passed_over,
            kept: mixture.iter().map(|&(a, p)| p * (1.0 - passed(a))).sum(),
            read_as: fragment.tokens.iter().map(read_as).collect(),
        }
    }

    /// For each token the chance that a letter read into the clay is this one.
    pub(super) fn inserted_as(&self, fragment: &Encoded) -> Vec<f64> {
        let chance = |alternatives: &Option<Vec<usize>>| match alternatives {
            None => 0.0,
            Some(alternatives) => alternatives.iter().map(|&b| self.common(b)).sum(),
        };
        fragment.tokens.iter().map(chance).collect()
    }
}
