//! `looks.toml`: what a look costs.

use super::read_all;
use crate::diagnostic::Diagnostic;
use crate::pack::reader::Item;
use crate::pack::text::looks::{Look, Looks, Tool};

/// The file.
pub(super) fn looks_file(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> Looks {
    let (mut bits_per_minute, mut otherwise) = (None, None);
    if let Some(worth) = item.item("worth", "when a look is worth it", out) {
        bits_per_minute = worth.number("bits_per_minute", out);
        otherwise = worth.number("minutes_otherwise", out);
        worth.finish(out);
    }
    let tools = item.items("tool", "a tool", out);
    let tools = read_all(tools, out, |tool, out| {
        let id = tool.word("id", out);
        let name = tool.optional_word("name", out);
        let minutes = tool.number("minutes", out);
        if !tool.has("minutes") {
            tool.missing("minutes", "until it is at hand", out);
        }
        Some(Tool {
            id: id?,
            name,
            minutes,
        })
    });
    let looks = item.items("look", "a look", out);
    let looks = read_all(looks, out, |look, out| {
        let clues = look.words("clues", out);
        if clues.is_empty() {
            look.missing("clues", "the clues that are looked at", out);
        }
        let minutes = look.number("minutes", out);
        if !look.has("minutes") {
            look.missing("minutes", "what the look takes", out);
        }
        let tools = look.words("tools", out);
        let when = look.item("when", "the circumstances of a look", out);
        Some(Look {
            clues,
            minutes,
            tools,
            when: when.map_or_else(Vec::new, |when| when.remaining_words(out)),
            span: look.span,
        })
    });
    item.finish(out);
    Looks {
        bits_per_minute,
        otherwise,
        tools,
        looks,
    }
}
