//! Blocks and statements of BIF.
//!
//! After a defect the parser goes on behind the next `;` or at the next block, so that one run tells all of them.

use super::cursor::{Cursor, Ends};
use super::statements::{BLOCKS, Next, Parser, Said, begins_block};
use crate::diagnostic::{Diagnostic, shorten};
use crate::interchange::draft::{Defects, Draft, DraftVariable, Word};
use crate::nearest_name::nearest;

/// Reads a text as far as it can be understood.
pub(in crate::interchange) fn parse<'a>(text: &'a str, defects: &mut Defects) -> Draft<'a> {
    let mut parser = Parser {
        cursor: Cursor::new(text),
        defects,
        draft: Draft::default(),
        named: None,
    };
    parser.run();
    parser.draft
}

impl<'a> Parser<'a, '_> {
    fn run(&mut self) {
        loop {
            self.skip();
            if self.cursor.rest().is_empty() || self.defects.is_full() {
                return;
            }
            let start = self.cursor.at;
            let word = self.cursor.word(Ends::Block, self.defects);
            let done = match word.as_ref().map(|w| w.text.as_ref()) {
                Some("network") => self.network(start),
                Some("variable") => self.variable(),
                Some("probability") => self.probability(),
                _ => {
                    self.stray(start);
                    Ok(())
                }
            };
            if done.is_err() {
                self.recover_block();
            }
        }
    }

    /// The format allows any text between blocks. It is passed over, with a warning, up to a line that begins a block.
    fn stray(&mut self, start: usize) {
        let line_end = |at: usize| {
            self.cursor.text[at..]
                .find('\n')
                .map_or(self.cursor.text.len(), |n| at + n)
        };
        let first_line = self.cursor.text[start..line_end(start)].trim_end();
        let first_word = first_line
            .split(|c: char| c.is_whitespace() || matches!(c, '{' | '('))
            .next()
            .unwrap_or_default();
        let mut end = line_end(start);
        while end < self.cursor.text.len() {
            let next = end + 1;
            let line = self.cursor.text[next..].trim_start_matches([' ', '\t', '\r']);
            if begins_block(line) {
                break;
            }
            end = line_end(next);
        }
        self.cursor.at = end;
        let span = self.defects.span(start..start + first_line.len());
        let meant = nearest(first_word, BLOCKS).filter(|_| first_line.contains('{'));
        self.draft.lacks_variables |= meant == Some("variable");
        self.draft.lacks_tables |= meant == Some("probability");
        let diagnostic = match meant {
            Some(block) => Diagnostic::error(
                "network::block",
                format!("there is no block `{}`", shorten(first_word)),
                span,
            )
            .did_you_mean(Some(block)),
            None => Diagnostic::warning(
                "network::stray-text",
                "text outside of the blocks is skipped",
                span,
            ),
        };
        self.defects.push(diagnostic);
    }

    fn network(&mut self, start: usize) -> Result<(), Said> {
        self.skip();
        let name = self.word(Ends::Name)?;
        self.open("network")?;
        match self.named.clone() {
            Some(first) => {
                let twice = Diagnostic::error(
                    "network::duplicate-network",
                    "the file has a second network",
                    self.defects.span(start..start + "network".len()),
                )
                .also(self.defects.span(first), "first network here");
                self.defects.push(twice);
            }
            None => {
                self.named = Some(start..start + "network".len());
                self.draft.name = name.map(|n| n.text.into_owned()).unwrap_or_default();
            }
        }
        loop {
            let word = match self.statement("network")? {
                Next::Statement(word) => word,
                Next::End => return Ok(()),
                Next::Nothing => continue,
            };
            let done = match word.text.as_ref() {
                "property" => self.property().map(|text| self.draft.properties.push(text)),
                _ => self.unknown_statement(&word, &["property"]),
            };
            if done.is_err() {
                self.recover();
            }
        }
    }

    fn variable(&mut self) -> Result<(), Said> {
        let lacked = self.draft.lacks_variables;
        // Until the block has begun: what fails before leaves a gap.
        self.draft.lacks_variables = true;
        let name = self.name("variable", Ends::Name)?;
        self.open("variable")?;
        self.draft.lacks_variables = lacked;
        let mut variable = DraftVariable {
            name,
            states: Vec::new(),
            properties: Vec::new(),
            broken: false,
        };
        let mut typed: Option<Word<'a>> = None;
        let ended = loop {
            let word = match self.statement("variable") {
                Ok(Next::Statement(word)) => word,
                Ok(Next::End) => break Ok(()),
                Ok(Next::Nothing) => continue,
                Err(said) => break Err(said),
            };
            let done = match word.text.as_ref() {
                "property" => self.property().map(|text| variable.properties.push(text)),
                "type" if typed.is_some() => self.error(
                    "network::type",
                    "the variable has a second type",
                    word.place(),
                ),
                "type" => {
                    typed = Some(word);
                    let states = self.states(&variable.name);
                    variable.broken = states.is_err();
                    states.map(|states| variable.states = states)
                }
                _ => self.unknown_statement(&word, &["type", "property"]),
            };
            if done.is_err() {
                self.recover();
            }
        };
        if typed.is_none() {
            let message = format!(
                "`{}` has no `type discrete [ n ] {{ … }};`",
                shorten(&variable.name.text)
            );
            self.defects
                .error("network::type", message, variable.name.place());
            variable.broken = true;
        }
        self.draft.variables.push(variable);
        ended
    }

    /// `discrete [ 2 ] { yes, no };`
    fn states(&mut self, name: &Word<'a>) -> Result<Vec<Word<'a>>, Said> {
        self.skip();
        let start = self.cursor.here();
        match self.cursor.word(Ends::Number, self.defects) {
            Some(word) if word.text == "discrete" => {}
            word => {
                let place = word.map_or(start, |w| w.place());
                return self.error(
                    "network::type",
                    "the type of a variable must be `discrete`",
                    place,
                );
            }
        }
        self.skip();
        let mut promised = None;
        if self.cursor.take('[') {
            self.skip();
            let here = self.cursor.here();
            let word = self.cursor.word(Ends::Number, self.defects);
            let Some(word) = word.filter(|w| w.text.bytes().all(|b| b.is_ascii_digit())) else {
                return self.error("network::type", "the number of states is missing", here);
            };
            promised = Some(word);
            self.expect(']')?;
        }
        self.expect('{')?;
        let mut states = Vec::new();
        loop {
            self.cursor.skip_also(&[','], self.defects);
            let here = self.cursor.here();
            match self.word(Ends::Braces)? {
                Some(state) => states.push(state),
                None if self.cursor.take('}') => break,
                None => {
                    return self.error(
                        "network::bracket",
                        "the `}` that ends the states is missing",
                        here,
                    );
                }
            }
        }
        if let Some(promised) = promised
            // A count of more digits than fit is no count of states that are there.
            && promised.text.parse() != Ok(states.len())
        {
            let message = format!(
                "`{}` should have {} states but names {}",
                shorten(&name.text),
                shorten(&promised.text),
                states.len()
            );
            let wrong = Diagnostic::error(
                "network::state-count",
                message,
                self.defects.span(promised.place()),
            )
            .hint("a name with a comma or a space in it must stand in double quotes");
            self.defects.push(wrong);
        }
        // The states are known even if nothing ends them.
        if self.expect(';').is_err() {
            self.recover();
        }
        Ok(states)
    }
}
