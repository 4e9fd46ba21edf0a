//! The elements of XMLBIF.

use std::ops::Range;

use super::events::{Element, Events, Leaf, Node};
use crate::diagnostic::{Diagnostic, shorten};
use crate::interchange::draft::{
    Defects, Draft, DraftTable, DraftVariable, Entry, EntryKind, Number, Word, fits_name,
    fits_property,
};
use crate::nearest_name::nearest;

/// Reads a document as far as it can be understood.
pub(in crate::interchange) fn parse<'a>(text: &'a str, defects: &mut Defects) -> Draft<'a> {
    let mut parser = Parser {
        events: Events::new(text, defects),
        draft: Draft::default(),
        network: None,
    };
    parser.document();
    parser.draft
}

struct Parser<'a, 'd> {
    events: Events<'a, 'd>,
    draft: Draft<'a>,
    network: Option<Range<usize>>,
}

impl<'a> Parser<'a, '_> {
    fn document(&mut self) {
        while let Some(element) = self.child("the document", &["BIF"], None) {
            if !element.is_empty {
                self.bif(&element);
            }
        }
        if self.network.is_none() && !self.events.defects.has_errors() {
            self.error("network::element", "there is no `NETWORK`", 0..0);
        }
    }

    fn bif(&mut self, outer: &Element<'_>) {
        while let Some(element) = self.child("BIF", &["NETWORK"], Some(outer)) {
            if let Some(first) = &self.network {
                let span = self.events.defects.span(element.place.clone());
                let twice = Diagnostic::error(
                    "network::duplicate-network",
                    "the file has a second network",
                    span,
                )
                .also(
                    self.events.defects.span(first.clone()),
                    "first network here",
                );
                self.events.defects.push(twice);
                self.events.pass_over(&element);
                continue;
            }
            self.network = Some(element.place.clone());
            if !element.is_empty {
                self.network(&element);
            }
        }
    }

    fn network(&mut self, outer: &Element<'_>) {
        let known = ["NAME", "PROPERTY", "VARIABLE", "DEFINITION"];
        let mut named = None;
        while let Some(element) = self.child("NETWORK", &known, Some(outer)) {
            match element.name().as_str() {
                "NAME" => {
                    let leaf = self.events.leaf(&element);
                    // A network may have an empty name.
                    if self.once("NAME", &mut named, &element)
                        && !leaf.text.is_empty()
                        && let Some(name) = self.word("name", leaf)
                    {
                        self.draft.name = name.text.into_owned();
                    }
                }
                "PROPERTY" => {
                    let leaf = self.events.leaf(&element);
                    let text = self.property(leaf);
                    self.draft.properties.extend(text);
                }
                "VARIABLE" => self.variable(&element),
                _ => self.definition(&element),
            }
        }
    }

    fn variable(&mut self, outer: &Element<'_>) {
        let mut broken = false;
        match outer.tag.try_get_attribute("TYPE") {
            Ok(Some(kind)) if kind.value != "nature" => {
                let message = format!(
                    "a variable of the type `{}` cannot be read",
                    shorten(&kind.value)
                );
                let span = self.events.defects.span(outer.place.clone());
                let wrong = Diagnostic::error("network::type", message, span)
                    .hint("chance variables have TYPE=\"nature\"; decisions and utilities are not part of a Bayesian network");
                self.events.defects.push(wrong);
            }
            Ok(_) => {}
            Err(error) => {
                let message = format!("the attributes are not well formed: {error}");
                self.error("network::xml", message, outer.place.clone());
            }
        }
        let mut named = None;
        let mut name = None;
        let (mut states, mut properties) = (Vec::new(), Vec::new());
        while let Some(element) =
            self.child("VARIABLE", &["NAME", "OUTCOME", "PROPERTY"], Some(outer))
        {
            let leaf = self.events.leaf(&element);
            match element.name().as_str() {
                "NAME" => {
                    if self.once("NAME", &mut named, &element) {
                        name = self.word("name", leaf);
                    }
                }
                "OUTCOME" => match self.word("outcome", leaf) {
                    Some(state) => states.push(state),
                    None => broken = true,
                },
                _ => properties.extend(self.property(leaf)),
            }
        }
        if named.is_none() {
            self.error(
                "network::name",
                "the variable has no `NAME`",
                outer.place.clone(),
            );
        }
        match name {
            Some(name) => self.draft.variables.push(DraftVariable {
                name,
                states,
                properties,
                broken,
            }),
            None => self.draft.lacks_variables = true,
        }
    }

    fn definition(&mut self, outer: &Element<'_>) {
        let known = ["FOR", "GIVEN", "TABLE", "PROPERTY"];
        let mut broken = false;
        let (mut of, mut tabled) = (None, None);
        let mut child = None;
        let (mut parents, mut entries, mut properties) = (Vec::new(), Vec::new(), Vec::new());
        while let Some(element) = self.child("DEFINITION", &known, Some(outer)) {
            let leaf = self.events.leaf(&element);
            match element.name().as_str() {
                "FOR" => {
                    if self.once("FOR", &mut of, &element) {
                        child = self.word("name", leaf);
                    } else {
                        broken = true;
                    }
                }
                "GIVEN" => match self.word("name", leaf) {
                    Some(parent) => parents.push(parent),
                    None => broken = true,
                },
                "TABLE" => {
                    if self.once("TABLE", &mut tabled, &element) {
                        match self.table(&leaf) {
                            Some(entry) => entries.push(entry),
                            None => broken = true,
                        }
                    }
                }
                _ => properties.extend(self.property(leaf)),
            }
        }
        if of.is_none() {
            self.error(
                "network::name",
                "the definition has no `FOR`",
                outer.place.clone(),
            );
        }
        match child {
            Some(child) => self.draft.tables.push(DraftTable {
                child,
                parents,
                entries,
                properties,
                broken,
            }),
            None => self.draft.lacks_tables = true,
        }
    }

    fn table(&mut self, leaf: &Leaf) -> Option<Entry<'a>> {
        if leaf.broken {
            return None;
        }
        if let Some(place) = leaf.exact.first() {
            self.error(
                "network::number",
                "a table holds numbers and white space only",
                place.clone(),
            );
            return None;
        }
        let mut numbers = Vec::new();
        let mut is_right = true;
        for piece in &leaf.pieces {
            let mut at = piece.start;
            for gap_and_word in self.events.text[piece.clone()].split_inclusive(char::is_whitespace)
            {
                let word = gap_and_word.trim_end();
                let place = at..at + word.len();
                at += gap_and_word.len();
                if word.is_empty() {
                    continue;
                }
                match Number::parse(word, place.clone()) {
                    Some(number) => numbers.push(number),
                    None => {
                        is_right = false;
                        self.error(
                            "network::number",
                            format!("`{}` is no number", shorten(word)),
                            place,
                        );
                    }
                }
                if self.events.defects.is_full() {
                    return None;
                }
            }
        }
        is_right.then(|| Entry {
            kind: EntryKind::Whole {
                child_fastest: true,
            },
            numbers,
            place: leaf.place.clone(),
        })
    }

    /// The next element inside `outer` that is known there. Others are passed over with a warning, or an error if one
    /// was probably meant.
    fn child(
        &mut self,
        within: &str,
        known: &[&str],
        outer: Option<&Element<'_>>,
    ) -> Option<Element<'a>> {
        if outer.is_some_and(|o| o.is_empty) {
            return None;
        }
        loop {
            match self.events.next() {
                Node::Open(element) if known.contains(&element.name().as_str()) => {
                    return Some(element);
                }
                Node::Open(element) => {
                    self.unknown(&element, within, known);
                    self.events.pass_over(&element);
                }
                Node::Close if outer.is_none() => {}
                Node::Unknown => {}
                Node::Close => return None,
                Node::Text(place) if self.events.text[place.clone()].trim().is_empty() => {}
                Node::Text(place) | Node::Exact(_, place) => {
                    let span = self.events.defects.span(place);
                    let stray = Diagnostic::warning(
                        "network::stray-text",
                        format!("text in {within} is skipped"),
                        span,
                    );
                    self.events.defects.push(stray);
                }
                Node::End => {
                    if let Some(outer) = outer
                        && !self.events.defects.has_errors()
                    {
                        let message = format!("`{within}` does not end");
                        self.error("network::xml", message, outer.place.clone());
                    }
                    return None;
                }
            }
        }
    }

    fn unknown(&mut self, element: &Element<'_>, within: &str, known: &[&str]) {
        let name = element.name();
        let span = self.events.defects.span(element.place.clone());
        let meant = nearest(&name, known.iter().copied());
        let message = format!("`{}` in {within} is not part of the format", shorten(&name));
        self.draft.lacks_variables |= matches!(meant, Some("VARIABLE" | "NETWORK" | "BIF"));
        self.draft.lacks_tables |= matches!(meant, Some("DEFINITION" | "NETWORK" | "BIF"));
        let diagnostic = match meant {
            Some(_) => Diagnostic::error("network::element", message, span).did_you_mean(meant),
            None => Diagnostic::warning(
                "network::element",
                format!("{message} and is skipped"),
                span,
            ),
        };
        self.events.defects.push(diagnostic);
    }

    /// Whether this is the first element of its kind; a second one is an error.
    fn once(&mut self, what: &str, seen: &mut Option<Range<usize>>, element: &Element<'_>) -> bool {
        let Some(first) = seen else {
            *seen = Some(element.place.clone());
            return true;
        };
        let span = self.events.defects.span(element.place.clone());
        let twice = Diagnostic::error("network::element", format!("a second `{what}`"), span)
            .also(self.events.defects.span(first.clone()), "first here");
        self.events.defects.push(twice);
        false
    }

    fn property(&mut self, leaf: Leaf) -> Option<String> {
        if fits_property(&leaf.text) {
            return Some(leaf.text);
        }
        self.error(
            "network::property",
            "a property must have no control character",
            leaf.place,
        );
        None
    }

    fn word(&mut self, what: &str, leaf: Leaf) -> Option<Word<'a>> {
        if leaf.broken {
            return None;
        }
        if !fits_name(&leaf.text) {
            self.error(
                "network::name",
                format!("the {what} has a control character"),
                leaf.place,
            );
            return None;
        }
        if leaf.text.is_empty() {
            self.error("network::name", format!("the {what} is empty"), leaf.place);
            return None;
        }
        Some(Word::new(leaf.text, leaf.place))
    }

    fn error(&mut self, code: &'static str, message: impl Into<String>, place: Range<usize>) {
        self.events.defects.error(code, message, place);
    }
}
