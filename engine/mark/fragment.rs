//! The notation for what is read of a mark.
//!
//! | written | means |
//! | --- | --- |
//! | `R`, `&`, `7` | this character was read (upper and lower case are the same) |
//! | `[OC]` | one letter, in doubt: an O or a C |
//! | `_` | one letter, certainly there and not to be made out |
//! | `?` | lost: any number of letters, perhaps none; `??` says no more than `?` |
//! | `.`, `-`, `/` … | as they stand in the mark |
//! | a space | nothing: words are set apart by eye, so `T&U` and `T & U` are the same reading |
//!
//! So `?ROW? & [SB]` is: something or nothing lost, R, O, W, something or nothing lost, an ampersand, an S or a B.

/// The longest fragment that is scored, in tokens: more than any mark says.
pub const MOST_TOKENS: usize = 60;

/// One thing read, from left to right.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Token {
    /// Letters lost, their number not known. Two never stand side by side.
    Gap,
    /// One letter: which ones it may be. One alternative is a letter known.
    Letter(Vec<char>),
    /// One letter that could be any.
    Unreadable,
}

/// What is read of a mark.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fragment {
    tokens: Vec<(Token, usize)>,
    written: String,
}

/// Why a text is no fragment of a mark. Columns count characters from 1.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum FragmentError {
    /// Nothing in it can be read.
    #[error(
        "no letter of `{written}` can be read, from column {column} on; write at least one letter or figure, sure or in \
         doubt, such as `?ROW?` or `[OC]?`; a mark of which nothing can be read is noted with the pack's own word for it"
    )]
    NothingReadable {
        /// What was written.
        written: String,
        /// Where the first thing stands that is not a letter.
        column: usize,
    },
    /// `[` without `]`.
    #[error(
        "the `[` at column {column} is never closed; a letter in doubt is written with its alternatives in brackets: `[OC]`"
    )]
    Unclosed {
        /// Where the bracket opens.
        column: usize,
    },
    /// `]` without `[`.
    #[error(
        "the `]` at column {column} closes nothing; a letter in doubt is written with its alternatives in brackets: `[OC]`"
    )]
    NeverOpened {
        /// Where it stands.
        column: usize,
    },
    /// `[]`.
    #[error(
        "the brackets at column {column} are empty; put the letters it may be between them, such as `[OC]`, or write `_` for a letter that could be any"
    )]
    NoAlternative {
        /// Where the bracket opens.
        column: usize,
    },
    /// A sign of the notation, or a space, among alternatives of a letter.
    #[error(
        "`{character}` at column {column} cannot be an alternative of a letter in doubt; `?` and `_` stand outside brackets"
    )]
    NotALetter {
        /// What was written.
        character: char,
        /// Where.
        column: usize,
    },
    /// A control character.
    #[error("the character at column {column} cannot be printed; take it out")]
    NotPrintable {
        /// Where.
        column: usize,
    },
    /// A character that no mark of the pack can show.
    #[error(
        "`{character}` at column {column} is not among the characters that this pack's marks are read in; write a \
         device as a device, and `_` for a letter that cannot be made out"
    )]
    NotInAlphabet {
        /// What was written.
        character: char,
        /// Where.
        column: usize,
    },
    /// Longer than any mark.
    #[error("a fragment of {n} letters is longer than any mark; at most {MOST_TOKENS} are scored")]
    TooLong {
        /// How many.
        n: usize,
    },
}

/// One character as it is compared: in upper case, where that is one character.
pub(super) fn upper(character: char) -> char {
    let mut upper = character.to_uppercase();
    match (upper.next(), upper.next()) {
        (Some(one), None) => one,
        _ => character,
    }
}

impl Fragment {
    /// Reads the notation.
    ///
    /// ```
    /// use saggar::mark::{Fragment, Token};
    /// let read = Fragment::parse("?r[OC]").unwrap();
    /// let tokens: Vec<&Token> = read.tokens().collect();
    /// assert_eq!(tokens, [&Token::Gap, &Token::Letter(vec!['R']), &Token::Letter(vec!['C', 'O'])]);
    /// assert!(Fragment::parse("??").unwrap_err().to_string().contains("column 1"));
    /// ```
    ///
    /// # Errors
    /// [`FragmentError`], with the column, if a bracket has no partner or nothing of use in it, if no letter can be read,
    /// or if there are more than [`MOST_TOKENS`] tokens.
    pub fn parse(text: &str) -> Result<Self, FragmentError> {
        let mut tokens: Vec<(Token, usize)> = Vec::new();
        let mut characters = (1..).zip(text.chars());
        while let Some((column, character)) = characters.next() {
            let token = match character {
                '?' => Token::Gap,
                '_' => Token::Unreadable,
                '[' => Token::Letter(alternatives(column, &mut characters)?),
                ']' => return Err(FragmentError::NeverOpened { column }),
                c if c.is_whitespace() => continue,
                c if c.is_control() => return Err(FragmentError::NotPrintable { column }),
                c => Token::Letter(vec![upper(c)]),
            };
            let gap_again =
                token == Token::Gap && tokens.last().is_some_and(|(last, _)| *last == Token::Gap);
            if !gap_again {
                tokens.push((token, column));
            }
        }
        let readable =
            |t: &Token| matches!(t, Token::Letter(l) if l.iter().any(|c| c.is_alphanumeric()));
        if !tokens.iter().any(|(token, _)| readable(token)) {
            return Err(FragmentError::NothingReadable {
                written: text.chars().take(MOST_TOKENS).collect(),
                column: tokens.first().map_or(1, |(_, column)| *column),
            });
        }
        if tokens.len() > MOST_TOKENS {
            return Err(FragmentError::TooLong { n: tokens.len() });
        }
        let words: Vec<&str> = text.split_whitespace().collect();
        let mut written = words.join(" ");
        if written.chars().count() > 4 * MOST_TOKENS {
            written = tokens.iter().map(|(token, _)| token.to_string()).collect();
        }
        Ok(Self { tokens, written })
    }

    /// What was read, from left to right.
    pub fn tokens(&self) -> impl Iterator<Item = &Token> {
        self.tokens.iter().map(|(token, _)| token)
    }

    /// The same, with the column at which each was written.
    pub(super) fn placed(&self) -> &[(Token, usize)] {
        &self.tokens
    }

    /// The fragment as it was written.
    #[must_use]
    pub fn written(&self) -> &str {
        &self.written
    }
}

/// The letters up to the closing bracket, sorted, each once.
fn alternatives(
    opened: usize,
    characters: &mut impl Iterator<Item = (usize, char)>,
) -> Result<Vec<char>, FragmentError> {
    let mut letters = Vec::new();
    for (column, character) in characters {
        match character {
            ']' if letters.is_empty() => {
                return Err(FragmentError::NoAlternative { column: opened });
            }
            ']' => {
                letters.sort_unstable();
                letters.dedup();
                return Ok(letters);
            }
            c if c.is_control() => return Err(FragmentError::NotPrintable { column }),
            '?' | '_' | '[' => return Err(FragmentError::NotALetter { character, column }),
            c if c.is_whitespace() => return Err(FragmentError::NotALetter { character, column }),
            c => letters.push(upper(c)),
        }
    }
    Err(FragmentError::Unclosed { column: opened })
}

impl std::fmt::Display for Token {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Gap => f.write_str("?"),
            Self::Unreadable => f.write_str("_"),
            Self::Letter(letters) => match letters.as_slice() {
                [one] => write!(f, "{one}"),
                several => write!(f, "[{}]", several.iter().collect::<String>()),
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn shown(text: &str) -> String {
        Fragment::parse(text)
            .unwrap()
            .tokens()
            .map(Token::to_string)
            .collect()
    }

    #[test]
    fn notation() {
        assert_eq!(shown("?ROW? & S"), "?ROW?&S");
        assert_eq!(shown("  t  &  [qo] ? ?"), "T&[OQ]?");
        assert_eq!(shown("[O]ld_"), "OLD_");
        assert_eq!(shown("[oO]"), "O");
    }

    #[test]
    fn errors_name_the_column() {
        let error = |text: &str| Fragment::parse(text).unwrap_err();
        let nothing = |written: &str, column| FragmentError::NothingReadable {
            written: written.to_owned(),
            column,
        };
        assert_eq!(error(""), nothing("", 1));
        assert_eq!(error("  ?"), nothing("  ?", 3));
        assert_eq!(error("? & _."), nothing("? & _.", 1));
        assert_eq!(error("R[OC"), FragmentError::Unclosed { column: 2 });
        assert_eq!(error("R]"), FragmentError::NeverOpened { column: 2 });
        assert_eq!(error("é[]"), FragmentError::NoAlternative { column: 2 });
        let not_a_letter = |character, column| FragmentError::NotALetter { character, column };
        assert_eq!(error("A[O?]"), not_a_letter('?', 4));
        assert_eq!(error("A[[O]"), not_a_letter('[', 3));
        assert_eq!(error("A[O C]"), not_a_letter(' ', 4));
        assert_eq!(error("A\u{7}"), FragmentError::NotPrintable { column: 2 });
        assert_eq!(error(&"A".repeat(61)), FragmentError::TooLong { n: 61 });
    }

    proptest! {
        #[test]
        fn any_text_is_read_or_refused(text in ".{0,80}") {
            if let Ok(read) = Fragment::parse(&text) {
                let tokens: Vec<&Token> = read.tokens().collect();
                prop_assert!(tokens.windows(2).all(|w| w[0] != &Token::Gap || w[1] != &Token::Gap));
            }
        }

        #[test]
        fn printed_and_read_again_it_is_the_same(text in "[?_A-C &]{0,6}[A-C][?_A-C &]{0,6}") {
            let read = Fragment::parse(&text).unwrap();
            let printed: String = read.tokens().map(Token::to_string).collect();
            let again = Fragment::parse(&printed).unwrap();
            prop_assert!(read.tokens().eq(again.tokens()));
        }
    }
}
