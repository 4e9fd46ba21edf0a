//! Prior files → pack as written.
//!
//! A pack is a folder of TOML files, made for hand editing. This module reads them faithfully, with the place of every
//! word, and reports what is wrong with the *form*; what names and numbers *mean* is for [`crate::check`].
//!
//! | file | holds |
//! | --- | --- |
//! | `pack.toml` | name, bins of years, circumstances of the look, thresholds of the wording |
//! | `makers.toml` | regions, works, makers with years, share and output |
//! | `sizes.toml` | shapes, sizes, size given maker (may be left out) |
//! | `marks.toml` | marks, who used them when, how they are read (may be left out) |
//! | `engravings.toml` | engravings, who used them when, what each shows (may be left out) |
//! | `clues.toml` | every other clue with its table |

pub mod belief;
mod files;
mod reader;
pub mod text;
pub mod years;

use std::path::Path;

use toml::de::DeTable;

use crate::diagnostic::Diagnostic;
use crate::source::{SourceError, SourceId, Sources, Span};
use reader::Item;
use text::PackText;

/// Files that every pack has.
pub const REQUIRED_FILES: [&str; 3] = ["pack.toml", "makers.toml", "clues.toml"];
/// Files that a pack may have.
pub const OPTIONAL_FILES: [&str; 3] = ["sizes.toml", "marks.toml", "engravings.toml"];

/// Why a folder is no pack at all.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PackError {
    /// There is no such folder.
    #[error(
        "there is no pack folder `{0}`; a pack is a folder with pack.toml, makers.toml and clues.toml in it"
    )]
    NoFolder(String),
}

/// Reads a pack's folder.
///
/// Every defect of form is pushed to `out`. The pack is `None` only if so much is unreadable that nothing can be said
/// about the rest.
///
/// # Errors
/// [`PackError::NoFolder`] if `folder` is not a folder.
pub fn read(
    folder: &Path,
    sources: &mut Sources,
    out: &mut Vec<Diagnostic>,
) -> Result<Option<PackText>, PackError> {
    if !folder.is_dir() {
        return Err(PackError::NoFolder(folder.display().to_string()));
    }
    let mut ids = Vec::new();
    let mut ids_by_name = Vec::new();
    for name in REQUIRED_FILES.into_iter().chain(OPTIONAL_FILES) {
        let path = folder.join(name);
        if OPTIONAL_FILES.contains(&name) && !path.exists() {
            continue;
        }
        let id = match sources.read(&path) {
            Ok(id) => Some(id),
            Err(error) => {
                out.push(unreadable(&error, &path, sources));
                None
            }
        };
        ids.extend(id);
        ids_by_name.push((name, id));
    }
    report_stray_files(folder, sources, out);

    let sources = &*sources;
    let documents: Vec<_> = ids_by_name
        .iter()
        .map(|&(name, id)| (name, id.map(|id| (id, parse(id, sources, out)))))
        .collect();
    let mut items = files::Items::default();
    for (name, document) in &documents {
        if let Some((id, table)) = document {
            let start_of_file = 0..0;
            items.set(
                name,
                Item::new(table, *id, start_of_file, files::what(name)),
            );
        }
    }
    let hash = sources.content_hash(&ids);
    Ok(files::pack_text(items, ids, hash, out))
}

/// Syntax errors are all reported; what could be read around them is kept, so that one slip does not hide the rest.
fn parse<'s>(id: SourceId, sources: &'s Sources, out: &mut Vec<Diagnostic>) -> DeTable<'s> {
    let (document, errors) = DeTable::parse_recoverable(&sources.file(id).text);
    for error in errors {
        let range = error.span().unwrap_or(0..0);
        let code = if error.message().contains("duplicate key") {
            "pack::duplicate-key"
        } else {
            "pack::syntax"
        };
        out.push(
            Diagnostic::error(
                code,
                format!(
                    "this is not valid TOML: {}",
                    error.message().replace('\n', "; ")
                ),
                Span {
                    source: id,
                    start: range.start,
                    end: range.end,
                },
            )
            .hint(
                "texts need quotes, every key stands once in its table, and brackets come in pairs",
            ),
        );
    }
    document.into_inner()
}

/// A file that cannot be read, as a diagnostic at the place where reading failed.
fn unreadable(error: &SourceError, path: &Path, sources: &mut Sources) -> Diagnostic {
    let name = path.display().to_string();
    let (code, text, start) = match error {
        SourceError::Encoding { line, column, .. } => {
            let bytes = std::fs::read(path).unwrap_or_default();
            let offset: usize = bytes
                .split_inclusive(|&b| b == b'\n')
                .take(line - 1)
                .map(<[u8]>::len)
                .sum();
            let before = String::from_utf8_lossy(&bytes[..offset + column - 1]).into_owned();
            let start = before.len();
            let rest = String::from_utf8_lossy(&bytes[offset + column - 1..]).into_owned();
            ("pack::encoding", format!("{before}{rest}"), start)
        }
        SourceError::TooLarge { .. } => ("pack::too-large", String::new(), 0),
        SourceError::Unreadable { .. } => ("pack::unreadable", String::new(), 0),
    };
    let end = text[start..]
        .chars()
        .next()
        .map_or(start, |c| start + c.len_utf8());
    let source = sources.add(name, text);
    Diagnostic::error(code, error.to_string(), Span { source, start, end })
}

/// A file such as `mark.toml` beside the known ones is most likely a slip, and would be ignored in silence.
fn report_stray_files(folder: &Path, sources: &mut Sources, out: &mut Vec<Diagnostic>) {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return;
    };
    let mut names: Vec<String> = entries
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .filter(|name| name.ends_with(".toml"))
        .collect();
    names.sort();
    let known = || REQUIRED_FILES.into_iter().chain(OPTIONAL_FILES);
    for name in names {
        if known().any(|k| k == name) {
            continue;
        }
        let source = sources.add(folder.join(&name).display().to_string(), "");
        out.push(
            Diagnostic::warning(
                "pack::stray-file",
                format!("`{name}` is not a file of a pack and is not read"),
                Span {
                    source,
                    start: 0,
                    end: 0,
                },
            )
            .did_you_mean(crate::nearest_name::nearest(&name, known())),
        );
    }
}
