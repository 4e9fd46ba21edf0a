//! The elements and texts of an XML document with their places.

use std::ops::Range;

use quick_xml::Reader;
use quick_xml::escape::resolve_xml_entity;
use quick_xml::events::{BytesStart, Event};

use crate::diagnostic::shorten;
use crate::interchange::draft::Defects;

/// What comes next in a document; comments and declarations are passed over.
#[derive(Debug)]
pub(super) enum Node<'a> {
    /// An element begins.
    Open(Element<'a>),
    /// The innermost open element ends.
    Close,
    /// Text as written.
    Text(Range<usize>),
    /// Text that a reference or a CDATA section stands for: no white space in it is layout.
    Exact(String, Range<usize>),
    /// A reference that stands for nothing, which has been said.
    Unknown,
    /// The end of the document.
    End,
}

/// The beginning of an element.
#[derive(Debug)]
pub(super) struct Element<'a> {
    pub tag: BytesStart<'a>,
    /// From `<` to `>`.
    pub place: Range<usize>,
    /// `<NAME/>`: it has ended already.
    pub is_empty: bool,
}

impl Element<'_> {
    pub fn name(&self) -> String {
        self.tag.name().as_ref().to_owned()
    }
}

/// What an element of text holds.
#[derive(Debug, Default)]
pub(super) struct Leaf {
    pub text: String,
    /// The texts as written, in their order.
    pub pieces: Vec<Range<usize>>,
    /// References and CDATA sections, which a table of numbers has no use for.
    pub exact: Vec<Range<usize>>,
    /// From the first text to the last, or the tag if there is none.
    pub place: Range<usize>,
    /// A part of it could not be read, and that has been said.
    pub broken: bool,
}

pub(super) struct Events<'a, 'd> {
    pub text: &'a str,
    pub defects: &'d mut Defects,
    reader: Reader<&'a [u8]>,
    failed: bool,
}

impl<'a, 'd> Events<'a, 'd> {
    pub fn new(text: &'a str, defects: &'d mut Defects) -> Self {
        Self {
            text,
            defects,
            reader: Reader::from_str(text),
            failed: false,
        }
    }

    fn position(&self) -> usize {
        (self.reader.buffer_position() as usize).min(self.text.len())
    }

    /// The next node. What is not well formed ends the document.
    pub fn next(&mut self) -> Node<'a> {
        loop {
            if self.failed || self.defects.is_full() {
                return Node::End;
            }
            let start = self.position();
            let event = self.reader.read_event();
            let place = start..self.position().max(start);
            let element = |tag, is_empty| {
                Node::Open(Element {
                    tag,
                    place: place.clone(),
                    is_empty,
                })
            };
            match event {
                Ok(Event::Start(tag)) => return element(tag, false),
                Ok(Event::Empty(tag)) => return element(tag, true),
                Ok(Event::End(_)) => return Node::Close,
                Ok(Event::Text(_)) => return Node::Text(place),
                Ok(Event::CData(data)) => {
                    return Node::Exact(data.into_inner().into_owned(), place);
                }
                Ok(Event::GeneralRef(reference)) => {
                    let name: &str = &reference;
                    match resolve_xml_entity(name) {
                        Some(text) => return Node::Exact(text.to_owned(), place),
                        None => match reference.resolve_char_ref() {
                            Ok(Some(c)) => return Node::Exact(c.to_string(), place),
                            _ => {
                                let message =
                                    format!("`&{};` stands for no character", shorten(name));
                                self.defects.error("network::xml", message, place);
                                return Node::Unknown;
                            }
                        },
                    }
                }
                Ok(Event::Comment(_) | Event::Decl(_) | Event::PI(_) | Event::DocType(_)) => {}
                Ok(Event::Eof) => return Node::End,
                Err(error) => {
                    self.failed = true;
                    let at = (self.reader.error_position() as usize).min(self.text.len());
                    let at = crate::source::floor_char_boundary(self.text, at);
                    let end = at + self.text[at..].chars().next().map_or(0, char::len_utf8);
                    let message = format!("the XML is not well formed: {error}");
                    self.defects.error("network::xml", message, at..end);
                    return Node::End;
                }
            }
        }
    }

    /// What is left of an element that holds text.
    pub fn leaf(&mut self, element: &Element<'_>) -> Leaf {
        let mut leaf = Leaf {
            place: element.place.clone(),
            ..Leaf::default()
        };
        if element.is_empty {
            return leaf;
        }
        // Layout around the text is left out, but not what a reference stands for.
        let mut pending = String::new();
        let mut first = None;
        let mut last = 0;
        loop {
            match self.next() {
                Node::Text(place) => {
                    let written = &self.text[place.clone()];
                    let body = written.trim();
                    leaf.pieces.push(place.clone());
                    let lead = written.len() - written.trim_start().len();
                    if leaf.text.is_empty() && leaf.exact.is_empty() && body.is_empty() {
                        continue;
                    }
                    if body.is_empty() {
                        pending.push_str(written);
                        continue;
                    }
                    if !(leaf.text.is_empty() && leaf.exact.is_empty()) {
                        leaf.text.push_str(&pending);
                        leaf.text.push_str(&written[..lead]);
                    }
                    pending.clear();
                    leaf.text.push_str(body);
                    pending.push_str(&written[lead + body.len()..]);
                    first.get_or_insert(place.start + lead);
                    last = place.start + lead + body.len();
                }
                Node::Exact(text, place) => {
                    leaf.text.push_str(&pending);
                    pending.clear();
                    leaf.text.push_str(&text);
                    first.get_or_insert(place.start);
                    last = place.end;
                    leaf.exact.push(place);
                }
                Node::Unknown => leaf.broken = true,
                Node::Open(inner) => {
                    leaf.broken = true;
                    let message = format!(
                        "`{}` cannot stand inside `{}`",
                        shorten(&inner.name()),
                        element.name()
                    );
                    self.defects
                        .error("network::element", message, inner.place.clone());
                    self.pass_over(&inner);
                }
                Node::Close | Node::End => {
                    if let Some(first) = first {
                        leaf.place = first..last.max(first);
                    }
                    return leaf;
                }
            }
        }
    }

    /// Goes behind the end of an element.
    pub fn pass_over(&mut self, element: &Element<'_>) {
        let mut depth = usize::from(!element.is_empty);
        while depth > 0 {
            match self.next() {
                Node::Open(inner) if !inner.is_empty => depth += 1,
                Node::Close => depth -= 1,
                Node::End => return,
                _ => {}
            }
        }
    }
}
