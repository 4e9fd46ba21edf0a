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
//! | `lettering.toml` | how the letters and devices of marks are read (may be left out) |
//! | `engravings.toml` | engravings, who used them when, what each shows (may be left out) |
//! | `clues.toml` | every other clue with its table |
//! | `observers.toml` | who codes, and how reliably (may be left out) |
//! | `looks.toml` | how long a look takes, and when it is no longer worth it (may be left out) |
//! | `../rules/….toml` | rules of law and record that `pack.toml` names in `rules` (may be left out) |
//! | `market.toml`, `comparables.csv` | what value means, how prices differ, sold pieces; no part of the hash (may be left out) |
//! | `collection.toml`, `collection.csv` | pieces of known origin, and what is learned from them (may be left out) |

pub mod belief;
mod calendar;
mod files;
mod reader;
pub mod rules;
mod stray;
mod syntax;
pub mod text;
mod unprintable;
mod unreadable;
pub mod years;

use std::path::{Path, PathBuf};

use toml::de::DeTable;

use crate::diagnostic::{Diagnostic, has_errors};
use crate::source::{SourceError, SourceId, Sources, Span};
use reader::Item;
use stray::report_stray_files;
use syntax::{drop_what_follows, parse};
use text::{PackText, Placed, Word};
use unreadable::unreadable;

/// Files that every pack has.
pub const REQUIRED_FILES: [&str; 3] = ["pack.toml", "makers.toml", "clues.toml"];
/// Files that a pack may have.
pub const OPTIONAL_FILES: [&str; 8] = [
    "sizes.toml",
    "marks.toml",
    "lettering.toml",
    "engravings.toml",
    "observers.toml",
    "looks.toml",
    "collection.toml",
    MARKET_FILE,
];
/// The table of pieces that a pack with a `collection.toml` learns from.
pub const COLLECTION_TABLE: &str = "collection.csv";
/// What value means and how prices differ; no part of what a verdict rests on.
pub const MARKET_FILE: &str = "market.toml";
/// The table of sold pieces of a pack with a `market.toml`.
pub const COMPARABLES_TABLE: &str = "comparables.csv";

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
/// Every defect of form is pushed to `out`. The pack is `None` only if no file of it can be read.
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
    let n_before = out.len();
    let mut whole = Vec::new();
    let mut not_whole = Vec::new();
    let mut ids_by_name = Vec::new();
    let mut not_there = Vec::new();
    for name in REQUIRED_FILES.into_iter().chain(OPTIONAL_FILES) {
        let path = folder.join(name);
        if OPTIONAL_FILES.contains(&name) && !path.exists() {
            continue;
        }
        match sources.read(&path) {
            Ok(id) => ids_by_name.push((name, id)),
            Err(error) => {
                let report = unreadable(&error, name, &path, sources);
                if report.code == "pack::missing-file" {
                    not_there.push((name, report));
                    continue;
                }
                not_whole.push(report.place.span.source);
                out.push(report);
            }
        }
    }
    for Placed { value: name, span } in included(&ids_by_name, sources) {
        let path = rules_path(folder, &name);
        match sources.read(&path) {
            Ok(id) => ids_by_name.push(("rules", id)),
            Err(SourceError::Unreadable { cause, .. })
                if cause.kind() == std::io::ErrorKind::NotFound =>
            {
                out.push(
                    Diagnostic::error(
                        "pack::missing-file",
                        format!("there is no rules file `{name}`"),
                        span,
                    )
                    .hint(format!(
                        "it would stand beside the pack's folder, as rules/{name}.toml; put it there, or take its name out"
                    )),
                );
            }
            Err(error) => {
                let report = unreadable(&error, &format!("{name}.toml"), &path, sources);
                not_whole.push(report.place.span.source);
                out.push(report);
            }
        }
    }
    let mut beside = |file: &str, table: &'static str, sources: &mut Sources| {
        if !ids_by_name.iter().any(|(name, _)| *name == file) {
            return None;
        }
        let path = folder.join(table);
        let read = sources.read(&path).map_err(|error| {
            let report = unreadable(&error, table, &path, sources);
            not_whole.push(report.place.span.source);
            out.push(report);
        });
        read.ok()
    };
    let collection = beside("collection.toml", COLLECTION_TABLE, sources);
    let comparables = beside(MARKET_FILE, COMPARABLES_TABLE, sources);
    report_stray_files(folder, sources, out);

    let sources = &*sources;
    let mut documents = Vec::new();
    let mut market = Vec::new();
    for (name, id) in ids_by_name {
        let (document, is_whole) = parse(id, sources, out);
        documents.push((name, id, document));
        match is_whole {
            // A new sale leaves the verdict as it is, and so its hash.
            true if name == MARKET_FILE => market.push(id),
            true => whole.push(id),
            false => not_whole.push(id),
        }
    }
    for (name, report) in not_there {
        if !may_be_missing(name, &documents) {
            not_whole.push(report.place.span.source);
            out.push(report);
        }
    }
    whole.extend(collection);
    market.extend(comparables);
    let table = collection.and_then(|id| {
        let hint = "a collection is a line of column names, then one line for each piece, cells parted by commas";
        read_table(id, "pack::collection", hint, sources, out)
    });
    let sold = comparables.and_then(|id| {
        let hint = "comparables are a line of column names, then one line for each sale, cells parted by commas; a cell with a comma in it stands in quotes";
        read_table(id, "pack::comparables", hint, sources, out)
    });
    let mut items = files::Items::default();
    for (name, id, document) in &documents {
        let start_of_file = 0..0;
        let item = Item::new(document, *id, start_of_file, files::what(name));
        if *name == "rules" {
            items.include(stem(&sources.file(*id).name), item);
        } else {
            items.set(name, item);
        }
    }
    let hash = sources.content_hash(&whole);
    let n_of_syntax = out.len();
    let mut pack = files::pack_text(
        items,
        whole,
        not_whole,
        hash,
        collection.zip(table),
        (comparables.zip(sold), sources.content_hash(&market)),
        out,
    );
    if let Some(pack) = &mut pack {
        drop_what_follows(n_of_syntax, &pack.not_whole, out);
        pack.readable = !has_errors(&out[n_before..]);
    }
    Ok(pack)
}

/// Where a rules file of a name stands: in the folder `rules` beside the pack.
#[must_use]
pub fn rules_path(folder: &Path, name: &str) -> PathBuf {
    let beside = match folder.file_name() {
        Some(_) => folder.parent().unwrap_or(Path::new("")).to_owned(),
        None => folder.join(".."),
    };
    beside.join("rules").join(format!("{name}.toml"))
}

fn stem(path: &str) -> String {
    let stem = Path::new(path).file_stem().unwrap_or_default();
    stem.to_string_lossy().into_owned()
}

/// The rules files that a pack names, where the names are sound; those that are not are reported with the rest of
/// `pack.toml`.
fn included(ids_by_name: &[(&'static str, SourceId)], sources: &Sources) -> Vec<Word> {
    let Some((_, id)) = ids_by_name.iter().find(|(name, _)| *name == "pack.toml") else {
        return Vec::new();
    };
    let (document, _) = DeTable::parse_recoverable(&sources.file(*id).text);
    let pack = document.get_ref().get("pack");
    let pack = pack.and_then(|pack| pack.get_ref().as_table());
    let rules = pack.and_then(|pack| pack.get("rules")?.get_ref().as_array());
    let mut names: Vec<Word> = Vec::new();
    for name in rules.iter().flat_map(|list| list.iter()) {
        let (text, range) = (name.get_ref().as_str(), name.span());
        let is_new = |text: &&str| names.iter().all(|earlier| earlier.value != *text);
        if let Some(text) = text.filter(|text| is_rules_name(text)).filter(is_new) {
            names.push(Placed {
                value: text.to_owned(),
                span: Span {
                    source: *id,
                    start: range.start,
                    end: range.end,
                },
            });
        }
    }
    names
}

/// A name that cannot lead out of the folder of rules.
pub(crate) fn is_rules_name(name: &str) -> bool {
    !name.is_empty()
        && name
            .chars()
            .all(|c| c.is_alphanumeric() || matches!(c, '_' | '-'))
}

/// A pack that leaves out the makers has no makers.toml, and one that learns its clues may have no clues.toml.
fn may_be_missing(name: &str, documents: &[(&str, SourceId, DeTable<'_>)]) -> bool {
    let document = |wanted: &str| documents.iter().find(|(name, ..)| *name == wanted);
    match name {
        "makers.toml" => document("pack.toml")
            .and_then(|(.., pack)| pack.get("leaves_out")?.get_ref().as_table())
            .is_some_and(|left_out| left_out.contains_key("maker")),
        "clues.toml" => document("collection.toml").is_some(),
        _ => false,
    }
}

/// A table of pieces; its first defect is reported.
fn read_table(
    id: SourceId,
    code: &'static str,
    hint: &str,
    sources: &Sources,
    out: &mut Vec<Diagnostic>,
) -> Option<crate::learn::collection::Collection> {
    match crate::learn::collection::Collection::parse(&sources.file(id).text) {
        Ok(table) => Some(table),
        Err(error) => {
            let span = Span {
                source: id,
                start: error.range.start,
                end: error.range.end,
            };
            out.push(Diagnostic::error(code, error.message, span).hint(hint));
            None
        }
    }
}
