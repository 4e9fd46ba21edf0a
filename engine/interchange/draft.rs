//! A network as written: words and numbers with their places, nothing checked.

use std::borrow::Cow;
use std::ops::Range;

use super::MAX_DEFECTS;
use crate::diagnostic::{Diagnostic, Severity};
use crate::source::{SourceId, Span};

/// A network as written.
#[derive(Debug, Default)]
pub(super) struct Draft<'a> {
    pub name: String,
    pub properties: Vec<String>,
    pub variables: Vec<DraftVariable<'a>>,
    pub tables: Vec<DraftTable<'a>>,
    /// A variable is missing here since its name could not be read, and that has been said.
    pub lacks_variables: bool,
    /// The same of a table.
    pub lacks_tables: bool,
}

/// A name with its place.
#[derive(Clone, Debug)]
pub(super) struct Word<'a> {
    pub text: Cow<'a, str>,
    start: u32,
    end: u32,
}

impl<'a> Word<'a> {
    /// Texts are far shorter than 4 GiB, see [`super::LARGEST_NETWORK_FILE`].
    pub fn new(text: impl Into<Cow<'a, str>>, place: Range<usize>) -> Self {
        Self {
            text: text.into(),
            start: place.start as u32,
            end: place.end as u32,
        }
    }

    pub fn place(&self) -> Range<usize> {
        self.start as usize..self.end as usize
    }
}

/// What XML 1.0, production 2, allows in no document, not even as a reference. BIF could hold it, but what is read from
/// one format must fit the other.
fn is_unprintable(c: char) -> bool {
    c < ' ' && !matches!(c, '\n' | '\t' | '\r') || matches!(c, '\u{fffe}' | '\u{ffff}')
}

/// Whether a text can be a property.
pub(super) fn fits_property(text: &str) -> bool {
    !text.contains(is_unprintable)
}

/// Whether a text can be a name: it has no control character at all.
pub(super) fn fits_name(text: &str) -> bool {
    !text.contains(|c: char| c.is_control() || is_unprintable(c))
}

/// A number with its place.
#[derive(Clone, Copy, Debug)]
pub(super) struct Number {
    pub value: f64,
    start: u32,
    end: u32,
}

impl Number {
    pub fn new(value: f64, place: Range<usize>) -> Self {
        Self {
            value,
            start: place.start as u32,
            end: place.end as u32,
        }
    }

    pub fn place(&self) -> Range<usize> {
        self.start as usize..self.end as usize
    }

    /// A decimal number; the words that Rust also takes for numbers (`inf`, `nan`) are none here.
    pub fn parse(text: &str, place: Range<usize>) -> Option<Self> {
        let first = text.bytes().next()?;
        if !(first.is_ascii_digit() || matches!(first, b'.' | b'+' | b'-'))
            || text.bytes().any(|b| matches!(b, b'i' | b'I' | b'n' | b'N'))
        {
            return None;
        }
        Some(Self::new(text.parse().ok()?, place))
    }
}

#[derive(Debug)]
pub(super) struct DraftVariable<'a> {
    pub name: Word<'a>,
    pub states: Vec<Word<'a>>,
    pub properties: Vec<String>,
    /// Its states could not be read, and that has been said.
    pub broken: bool,
}

#[derive(Debug)]
pub(super) struct DraftTable<'a> {
    pub child: Word<'a>,
    pub parents: Vec<Word<'a>>,
    pub entries: Vec<Entry<'a>>,
    pub properties: Vec<String>,
    /// Its entries could not be read, and that has been said.
    pub broken: bool,
}

/// A part of a table.
#[derive(Debug)]
pub(super) struct Entry<'a> {
    pub kind: EntryKind<'a>,
    pub numbers: Vec<Number>,
    pub place: Range<usize>,
}

#[derive(Debug)]
pub(super) enum EntryKind<'a> {
    /// All cells. The last parent turns fastest among the parents; the child turns slower than all of them (BIF) or
    /// faster (XMLBIF).
    Whole { child_fastest: bool },
    /// The distribution under one configuration of the parents, in their order.
    Row(Vec<Word<'a>>),
    /// The distribution under every configuration not named.
    Default,
}

/// Warnings kept; those beyond are counted.
const MAX_WARNINGS: usize = 200;

/// Collects what is wrong with one text.
#[derive(Debug)]
pub(super) struct Defects {
    source: SourceId,
    errors: Vec<Diagnostic>,
    warnings: Vec<Diagnostic>,
    n_more_warnings: usize,
}

impl Defects {
    pub fn new(source: SourceId) -> Self {
        Self {
            source,
            errors: Vec::new(),
            warnings: Vec::new(),
            n_more_warnings: 0,
        }
    }

    pub fn span(&self, place: Range<usize>) -> Span {
        Span {
            source: self.source,
            start: place.start,
            end: place.end,
        }
    }

    pub fn push(&mut self, diagnostic: Diagnostic) {
        match diagnostic.severity {
            Severity::Error if self.errors.len() < MAX_DEFECTS => self.errors.push(diagnostic),
            Severity::Error => {}
            Severity::Warning if self.warnings.len() < MAX_WARNINGS => {
                self.warnings.push(diagnostic);
            }
            Severity::Warning => self.n_more_warnings += 1,
        }
    }

    pub fn error(&mut self, code: &'static str, message: impl Into<String>, place: Range<usize>) {
        self.push(Diagnostic::error(code, message, self.span(place)));
    }

    /// Whether so much is wrong that reading on helps nobody.
    pub fn is_full(&self) -> bool {
        self.errors.len() >= MAX_DEFECTS
    }

    pub fn has_errors(&self) -> bool {
        !self.errors.is_empty()
    }

    /// Everything found, in the order of the text.
    pub fn into_sorted(mut self) -> Vec<Diagnostic> {
        let full = self.is_full();
        let end = self.span(0..0);
        let mut found = self.errors;
        found.append(&mut self.warnings);
        found.sort_by_key(|d| d.place.span);
        if self.n_more_warnings > 0 {
            let message = format!("{} further warnings are not shown", self.n_more_warnings);
            found.push(Diagnostic::warning("network::more", message, end));
        }
        if full {
            let message = format!("{MAX_DEFECTS} defects found; the rest was not looked at");
            found.push(Diagnostic::error("network::more", message, end));
        }
        found
    }
}
