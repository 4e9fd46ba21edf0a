//! Files that are not there, not text or too large, and how to mend that.

use std::path::Path;

use super::COMPARABLES_TABLE;
use crate::diagnostic::Diagnostic;
use crate::source::{LARGEST_FILE, SourceError, Sources, Span};

/// A file that cannot be read, as a diagnostic at the place where reading failed.
pub(super) fn unreadable(
    error: &SourceError,
    name: &str,
    path: &Path,
    sources: &mut Sources,
) -> Diagnostic {
    let megabytes = |bytes: u64| bytes as f64 / 1e6;
    let (code, message, hint) = match error {
        SourceError::Encoding { what, .. } => (
            "pack::encoding",
            format!("{name} is not UTF-8 text: found {what}"),
            "save the file again with the encoding UTF-8",
        ),
        SourceError::TooLarge { bytes, .. } => (
            "pack::too-large",
            format!(
                "{name} has {:.1} MB; at most {:.1} MB are read",
                megabytes(*bytes),
                megabytes(LARGEST_FILE)
            ),
            "a file of a pack has a few hundred lines; look for something pasted in by mistake",
        ),
        SourceError::Unreadable { cause, .. } if cause.kind() == std::io::ErrorKind::NotFound => (
            "pack::missing-file",
            format!("the pack has no {name}"),
            match name {
                COMPARABLES_TABLE => {
                    "market.toml stands on what was sold: write one line of column names and one for each sale (id, sold, sale, \
                     price_is, catalogued_as, names, wording, size, condition, hammer, with_premium, currency, same_as, source)"
                }
                _ => {
                    "a pack is a folder with pack.toml, makers.toml and clues.toml in it, and with sizes.toml, marks.toml, \
                     lettering.toml and engravings.toml where the ware has them"
                }
            },
        ),
        SourceError::Unreadable { cause, .. } => (
            "pack::unreadable",
            format!("{name} cannot be read: {cause}"),
            "see whether it is a file, and whether you may open it",
        ),
    };
    let (text, start) = match error {
        SourceError::Encoding { line, column, .. } => {
            readable_part(&std::fs::read(path).unwrap_or_default(), *line, *column)
        }
        _ => (String::new(), 0),
    };
    let end = text[start..]
        .chars()
        .next()
        .map_or(start, |c| start + c.len_utf8());
    let source = sources.add(path.display().to_string(), text);
    Diagnostic::error(code, message, Span { source, start, end }).hint(hint)
}

/// A text that is not UTF-8 with its bad bytes replaced, and the offset of the first of them.
fn readable_part(bytes: &[u8], line: usize, column: usize) -> (String, usize) {
    // Two bytes a letter: shown as text it would be full of noise.
    if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) {
        return (String::new(), 0);
    }
    let start_of_line: usize = bytes
        .split_inclusive(|&b| b == b'\n')
        .take(line - 1)
        .map(<[u8]>::len)
        .sum();
    let (before, rest) = bytes.split_at(bytes.len().min(start_of_line + column - 1));
    let before = String::from_utf8_lossy(before).into_owned();
    let start = before.len();
    (before + String::from_utf8_lossy(rest).as_ref(), start)
}
