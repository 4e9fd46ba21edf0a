//! What all blocks of BIF are made of, and how reading goes on after a defect.

use super::cursor::{Cursor, Ends};
use crate::diagnostic::{Diagnostic, shorten};
use crate::interchange::draft::{Defects, Draft, Word, fits_name, fits_property};
use crate::nearest_name::nearest;

pub(super) const BLOCKS: [&str; 3] = ["network", "variable", "probability"];

/// A text on the way to a network.
pub(super) struct Parser<'a, 'd> {
    pub cursor: Cursor<'a>,
    pub defects: &'d mut Defects,
    pub draft: Draft<'a>,
    /// Where the network was named.
    pub named: Option<std::ops::Range<usize>>,
}

pub(super) fn begins_block(text: &str) -> bool {
    BLOCKS.iter().any(|block| {
        text.strip_prefix(block).is_some_and(|rest| {
            rest.starts_with(|c: char| c.is_whitespace() || matches!(c, '{' | '(' | '"'))
        })
    })
}

/// A defect that has been said.
pub(super) struct Said;

/// What comes next in a block.
pub(super) enum Next<'a> {
    /// A statement with this first word.
    Statement(Word<'a>),
    /// Nothing more.
    End,
    /// Something that was no statement and has been passed over.
    Nothing,
}

impl<'a> Parser<'a, '_> {
    /// A property's text up to the `;`.
    pub(super) fn property(&mut self) -> Result<String, Said> {
        self.skip();
        let start = self.cursor.at;
        let text = self.property_text()?;
        if !fits_property(&text) {
            let place = start..self.cursor.at;
            // Behind the `;` already, so that `recover` must not look for another.
            self.cursor.at -= 1;
            return self.error(
                "network::property",
                "a property must have no control character",
                place,
            );
        }
        Ok(text)
    }

    /// Quotes around the whole of a property are taken off.
    pub(super) fn property_text(&mut self) -> Result<String, Said> {
        let start = self.cursor.at;
        if self.cursor.peek() == Some('"') {
            let quoted = self.cursor.quoted(true, self.defects).ok_or(Said)?;
            self.skip();
            if self.cursor.take(';') {
                return Ok(quoted.text.into_owned());
            }
            self.cursor.at = start;
        }
        let mut in_quotes = false;
        let end = self.cursor.rest().find(|c: char| {
            in_quotes ^= c == '"';
            (c == ';' && !in_quotes) || c == '\n'
        });
        match end {
            Some(end) if self.cursor.rest()[end..].starts_with(';') => {
                let text = self.cursor.rest()[..end].trim().to_owned();
                self.cursor.at += end + 1;
                Ok(text)
            }
            end => {
                let end = start + end.unwrap_or(self.cursor.rest().len());
                self.cursor.at = end;
                self.error(
                    "network::semicolon",
                    "the `;` after the property is missing on its line",
                    start..end,
                )
            }
        }
    }

    /// The next statement's first word, if the block has not ended.
    pub(super) fn statement(&mut self, block: &str) -> Result<Next<'a>, Said> {
        self.skip();
        let here = self.cursor.here();
        if self.cursor.take('}') {
            return Ok(Next::End);
        }
        if self.defects.is_full() {
            return Err(Said);
        }
        if self.cursor.rest().is_empty() {
            let message = format!("the `}}` that ends this {block} block is missing");
            return self.error("network::bracket", message, here);
        }
        // An empty statement is none.
        if self.cursor.take(';') {
            return Ok(Next::Nothing);
        }
        match self.word(Ends::Number) {
            Ok(Some(word)) if BLOCKS.contains(&word.text.as_ref()) => {
                self.cursor.at = here.start;
                let message =
                    format!("the `}}` that ends the {block} block before this is missing");
                self.error("network::bracket", message, word.place())
            }
            Ok(Some(word)) => Ok(Next::Statement(word)),
            Ok(None) => {
                let found = &self.cursor.rest()[..here.len()];
                let message = format!("`{found}` begins no statement of a {block} block");
                self.defects.error("network::statement", message, here);
                self.cursor.step();
                self.recover();
                Ok(Next::Nothing)
            }
            Err(Said) => {
                self.recover();
                Ok(Next::Nothing)
            }
        }
    }

    /// The next name, if one comes next; a quote that does not end has been said.
    pub(super) fn word(&mut self, ends: Ends) -> Result<Option<Word<'a>>, Said> {
        let is_quoted = self.cursor.peek() == Some('"');
        let word = self.cursor.word(ends, self.defects);
        match &word {
            None if is_quoted => Err(Said),
            Some(name) if !fits_name(&name.text) => {
                let message = "a name must have no control character";
                self.error("network::name", message, name.place())
            }
            _ => Ok(word),
        }
    }

    pub(super) fn unknown_statement<T>(
        &mut self,
        word: &Word<'a>,
        known: &[&str],
    ) -> Result<T, Said> {
        let unknown = Diagnostic::error(
            "network::statement",
            format!("there is no statement `{}` here", shorten(&word.text)),
            self.defects.span(word.place()),
        )
        .hint(format!("one of {} is expected", known.join(", ")))
        .did_you_mean(nearest(&word.text, known.iter().copied()));
        self.defects.push(unknown);
        Err(Said)
    }

    /// The name after a block's first word.
    pub(super) fn name(&mut self, what: &str, ends: Ends) -> Result<Word<'a>, Said> {
        self.skip();
        let here = self.cursor.here();
        match self.word(ends)? {
            Some(name) => Ok(name),
            None => self.error(
                "network::name",
                format!("the name of the {what} is missing"),
                here,
            ),
        }
    }

    pub(super) fn open(&mut self, block: &str) -> Result<(), Said> {
        self.skip();
        let here = self.cursor.here();
        if self.cursor.take('{') {
            return Ok(());
        }
        self.error(
            "network::bracket",
            format!("a `{{` must follow the head of a {block} block"),
            here,
        )
    }

    pub(super) fn expect(&mut self, c: char) -> Result<(), Said> {
        self.skip();
        let here = self.cursor.here();
        if self.cursor.take(c) {
            return Ok(());
        }
        self.error("network::bracket", format!("a `{c}` is missing here"), here)
    }

    pub(super) fn skip(&mut self) {
        self.cursor.skip(self.defects);
    }

    pub(super) fn error<T>(
        &mut self,
        code: &'static str,
        message: impl Into<String>,
        place: std::ops::Range<usize>,
    ) -> Result<T, Said> {
        self.defects.error(code, message, place);
        Err(Said)
    }

    /// Goes behind the next `;`, or before the `}` or the block that comes first.
    pub(super) fn recover(&mut self) {
        while let Some(c) = self.cursor.peek() {
            match c {
                ';' => {
                    self.cursor.step();
                    return;
                }
                '}' => return,
                '\n' => {
                    self.skip();
                    if begins_block(self.cursor.rest()) {
                        return;
                    }
                }
                _ => _ = self.cursor.step(),
            }
        }
    }

    /// Goes behind the next `}` or before the block that comes first.
    pub(super) fn recover_block(&mut self) {
        while !self.cursor.rest().is_empty() && !begins_block(self.cursor.rest()) {
            if self.cursor.take('}') {
                return;
            }
            self.cursor.step();
            self.recover();
            // A state's `}` is followed by its `;`.
            let after = self.cursor.rest().strip_prefix('}');
            if after.is_some_and(|rest| rest.trim_start().starts_with(';')) {
                self.cursor.step();
            }
        }
    }
}
