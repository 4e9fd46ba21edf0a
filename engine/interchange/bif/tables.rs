//! Blocks of BIF that hold a table.

use super::cursor::Ends;
use super::statements::{BLOCKS, Next, Parser, Said};
use crate::diagnostic::{Diagnostic, shorten};
use crate::interchange::draft::{DraftTable, Entry, EntryKind, Number};

impl<'a> Parser<'a, '_> {
    pub(super) fn probability(&mut self) -> Result<(), Said> {
        let lacked = self.draft.lacks_tables;
        self.draft.lacks_tables = true;
        self.expect('(')?;
        let child = self.name("table", Ends::Round)?;
        let mut parents = Vec::new();
        let mut bar = false;
        loop {
            self.cursor.skip_also(&[','], self.defects);
            let here = self.cursor.here();
            if self.cursor.take(')') {
                break;
            }
            if self.cursor.take('|') {
                if bar || !parents.is_empty() {
                    let joint = Diagnostic::error(
                        "network::table",
                        "a table is about one variable: `( child | parent, parent )`",
                        self.defects.span(here),
                    );
                    self.defects.push(joint);
                    return Err(Said);
                }
                bar = true;
                continue;
            }
            match self.word(Ends::Round)? {
                Some(parent) => parents.push(parent),
                None => {
                    return self.error(
                        "network::bracket",
                        "the `)` that ends the variables is missing",
                        here,
                    );
                }
            }
        }
        self.draft.lacks_tables = lacked;
        let mut table = DraftTable {
            child,
            parents,
            entries: Vec::new(),
            properties: Vec::new(),
            broken: false,
        };
        let ended = self
            .open("probability")
            .and_then(|()| self.entries(&mut table));
        table.broken |= ended.is_err();
        self.draft.tables.push(table);
        ended
    }

    fn entries(&mut self, table: &mut DraftTable<'a>) -> Result<(), Said> {
        loop {
            self.skip();
            let start = self.cursor.at;
            let done = if self.cursor.take('(') {
                self.row(start).map(|entry| table.entries.push(entry))
            } else {
                let word = match self.statement("probability")? {
                    Next::Statement(word) => word,
                    Next::End => return Ok(()),
                    Next::Nothing => continue,
                };
                match word.text.as_ref() {
                    "property" => self.property().map(|text| table.properties.push(text)),
                    "table" => {
                        let kind = EntryKind::Whole {
                            child_fastest: false,
                        };
                        self.entry(kind, start)
                            .map(|entry| table.entries.push(entry))
                    }
                    "default" => self
                        .entry(EntryKind::Default, start)
                        .map(|entry| table.entries.push(entry)),
                    _ => self.unknown_statement(&word, &["table", "default", "property"]),
                }
            };
            if done.is_err() {
                table.broken = true;
                self.recover();
            }
        }
    }

    /// `yes, no) 0.1, 0.9;`
    fn row(&mut self, start: usize) -> Result<Entry<'a>, Said> {
        let mut states = Vec::new();
        loop {
            self.cursor.skip_also(&[',', '|'], self.defects);
            let here = self.cursor.here();
            match self.word(Ends::Round)? {
                Some(state) => states.push(state),
                None if self.cursor.take(')') => break,
                None => {
                    return self.error(
                        "network::bracket",
                        "the `)` that ends the states is missing",
                        here,
                    );
                }
            }
        }
        self.entry(EntryKind::Row(states), start)
    }

    /// Numbers up to the `;`.
    fn entry(&mut self, kind: EntryKind<'a>, start: usize) -> Result<Entry<'a>, Said> {
        let mut numbers = Vec::new();
        let mut is_right = true;
        loop {
            self.cursor.skip_also(&[','], self.defects);
            let here = self.cursor.here();
            if self.cursor.take(';') {
                break;
            }
            match self.word(Ends::Number)? {
                Some(word) => match Number::parse(&word.text, word.place()) {
                    Some(number) => numbers.push(number),
                    None if BLOCKS.contains(&word.text.as_ref()) => {
                        // The next block has begun.
                        self.cursor.at = here.start;
                        return self.error(
                            "network::semicolon",
                            "the `;` after the numbers is missing",
                            here,
                        );
                    }
                    None => {
                        let message = format!("`{}` is no number", shorten(&word.text));
                        let _ = self.error::<()>("network::number", message, word.place());
                        is_right = false;
                    }
                },
                None => {
                    return self.error(
                        "network::semicolon",
                        "the `;` after the numbers is missing",
                        here,
                    );
                }
            }
            if self.defects.is_full() {
                return Err(Said);
            }
        }
        if !is_right {
            // Behind the `;` already, so that `recover` must not look for another.
            self.cursor.at -= 1;
            return Err(Said);
        }
        let place = start..self.cursor.at;
        Ok(Entry {
            kind,
            numbers,
            place,
        })
    }
}
