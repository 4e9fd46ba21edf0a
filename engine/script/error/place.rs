//! Where in a script an error is: a place of Rhai as the text that is underlined.

use rhai::Position;

use crate::source::{LineColumn, SourceId, Sources, Span};

/// The word at a position of Rhai; the whole script where there is none.
pub(super) fn span(position: Position, script: SourceId, sources: &Sources) -> Span {
    let whole = Span {
        source: script,
        start: 0,
        end: 0,
    };
    position.line().map_or(whole, |line| {
        let column = position.position().unwrap_or(1);
        word_at(LineColumn { line, column }, script, sources)
    })
}

/// The word at a line and column of a script.
pub(super) fn word_at(at: LineColumn, script: SourceId, sources: &Sources) -> Span {
    let text = &sources.file(script).text;
    let end_of_text = Span {
        source: script,
        start: text.len(),
        end: text.len(),
    };
    let mut start = 0;
    for (number, text) in text.split_inclusive('\n').enumerate() {
        if number + 1 == at.line {
            let column = at.column.saturating_sub(1);
            let offset = text
                .char_indices()
                .nth(column)
                .map_or(text.trim_end().len(), |(offset, _)| offset);
            let word = text[offset..]
                .find(|c: char| !(c.is_alphanumeric() || c == '_'))
                .unwrap_or(text.len() - offset);
            return Span {
                source: script,
                start: start + offset,
                end: start + offset + word.max(1).min(text.len() - offset),
            };
        }
        start += text.len();
    }
    end_of_text
}
