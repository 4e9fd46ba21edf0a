//! A place in a BIF text that moves from word to word.

use std::borrow::Cow;
use std::ops::Range;

use crate::interchange::draft::{Defects, Word};

/// What ends a name, apart from white space, commas, quotes and comments.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ends {
    /// `{`, `(` or `;`: the first word of a block.
    Block,
    /// `{` or `;`: the name of a network or variable.
    Name,
    /// `}` or `;`: the states of a variable.
    Braces,
    /// `)` that the name did not open, `|`, `{`, `}` or `;`: a list in round brackets.
    Round,
    /// Any bracket or `;`: a number.
    Number,
}

impl Ends {
    fn ends(self, c: char, depth: usize) -> bool {
        match self {
            Self::Block => matches!(c, '{' | ';' | '('),
            Self::Name => matches!(c, '{' | ';'),
            Self::Braces => matches!(c, '}' | ';'),
            Self::Round => matches!(c, '|' | ';' | '{' | '}') || (c == ')' && depth == 0),
            Self::Number => matches!(c, '{' | '}' | '(' | ')' | '[' | ']' | ';' | '|'),
        }
    }
}

/// A place in a text.
#[derive(Debug)]
pub(super) struct Cursor<'a> {
    pub text: &'a str,
    pub at: usize,
}

impl<'a> Cursor<'a> {
    pub fn new(text: &'a str) -> Self {
        Self { text, at: 0 }
    }

    pub fn rest(&self) -> &'a str {
        &self.text[self.at..]
    }

    pub fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    /// Passes over the next character.
    pub fn step(&mut self) -> Option<char> {
        let c = self.peek()?;
        self.at += c.len_utf8();
        Some(c)
    }

    /// Passes over `c` if it comes next.
    pub fn take(&mut self, c: char) -> bool {
        let there = self.peek() == Some(c);
        if there {
            self.at += c.len_utf8();
        }
        there
    }

    /// Where the next character stands; the end of the text has an empty place.
    pub fn here(&self) -> Range<usize> {
        self.at..self.at + self.peek().map_or(0, char::len_utf8)
    }

    /// Passes over white space and comments.
    pub fn skip(&mut self, defects: &mut Defects) {
        self.skip_also(&[], defects);
    }

    /// Passes over white space, comments and separators.
    pub fn skip_also(&mut self, separators: &[char], defects: &mut Defects) {
        loop {
            let rest = self.rest();
            let trimmed =
                rest.trim_start_matches(|c: char| c.is_whitespace() || separators.contains(&c));
            self.at += rest.len() - trimmed.len();
            if trimmed.starts_with("//") {
                self.at += trimmed.find('\n').unwrap_or(trimmed.len());
            } else if let Some(inside) = trimmed.strip_prefix("/*") {
                match inside.find("*/") {
                    Some(end) => self.at += end + 4,
                    None => {
                        let opening = self.at..self.at + 2;
                        defects.error("network::comment", "this comment does not end", opening);
                        self.at = self.text.len();
                    }
                }
            } else {
                return;
            }
        }
    }

    /// The next name, quoted or not; `None` if something else comes next. Stands behind white space.
    pub fn word(&mut self, ends: Ends, defects: &mut Defects) -> Option<Word<'a>> {
        if self.peek()? == '"' {
            return self.quoted(false, defects);
        }
        let start = self.at;
        let mut depth = 0_usize;
        let mut previous = None;
        for (offset, c) in self.rest().char_indices() {
            let in_comment = previous == Some('/') && matches!(c, '/' | '*');
            if in_comment {
                // The slash before it has been taken as a part of the name.
                self.at -= 1;
                break;
            }
            if c.is_whitespace() || matches!(c, ',' | '"') || ends.ends(c, depth) {
                break;
            }
            match c {
                '(' | '[' => depth += 1,
                // An interval such as (5-10] closes with the other bracket.
                ')' | ']' => depth = depth.saturating_sub(1),
                _ => {}
            }
            previous = Some(c);
            self.at = start + offset + c.len_utf8();
        }
        let word = &self.text[start..self.at];
        (!word.is_empty()).then(|| Word::new(word, start..self.at))
    }

    /// A text in double quotes, which come next.
    pub fn quoted(&mut self, over_lines: bool, defects: &mut Defects) -> Option<Word<'a>> {
        let start = self.at;
        let inside = &self.text[start + 1..];
        let mut escaped = false;
        let mut end = None;
        for (offset, c) in inside.char_indices() {
            match c {
                '"' if !escaped => {
                    end = Some(offset);
                    break;
                }
                '\n' if !over_lines => break,
                _ => escaped = c == '\\' && !escaped,
            }
        }
        let Some(end) = end else {
            defects.error(
                "network::quote",
                "this quote does not end",
                start..start + 1,
            );
            self.at += 1 + inside.find('\n').unwrap_or(inside.len());
            return None;
        };
        self.at = start + end + 2;
        Some(Word::new(unescape(&inside[..end]), start..self.at))
    }
}

/// `\"` and `\\` stand for what follows the backslash; any other backslash for itself.
fn unescape(inside: &str) -> Cow<'_, str> {
    if !inside.contains('\\') {
        return Cow::Borrowed(inside);
    }
    let mut text = String::with_capacity(inside.len());
    let mut characters = inside.chars().peekable();
    while let Some(c) = characters.next() {
        match characters.peek() {
            Some(&next) if c == '\\' && matches!(next, '"' | '\\') => {
                text.push(next);
                characters.next();
            }
            _ => text.push(c),
        }
    }
    Cow::Owned(text)
}
