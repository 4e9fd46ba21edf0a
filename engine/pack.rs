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
pub mod text;
pub mod years;

use std::path::{Path, PathBuf};

use toml::de::{DeTable, DeValue};

use crate::diagnostic::{Diagnostic, has_errors, shorten};
use crate::source::{LARGEST_FILE, SourceError, SourceId, Sources, Span};
use reader::Item;
use text::{PackText, Placed, Word};

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

/// Takes out what follows from a syntax error: a key that stands in the part that could not be read looks missing, and
/// the value where reading broke off looks wrong.
fn drop_what_follows(n_before: usize, not_whole: &[SourceId], out: &mut Vec<Diagnostic>) {
    let found = out.split_off(n_before);
    let syntax: Vec<Span> = out
        .iter()
        .filter(|d| d.code == "pack::syntax")
        .map(|d| d.place.span)
        .collect();
    out.extend(found.into_iter().filter(|report| {
        let span = report.place.span;
        let touches = |error: &Span| {
            error.source == span.source && error.start <= span.end && span.start <= error.end
        };
        let is_missing = report.code == "pack::missing" && not_whole.contains(&span.source);
        !is_missing && !syntax.iter().any(touches)
    }));
}

/// Syntax errors are all reported; what could be read around them is kept, so that one slip does not hide the rest. Also
/// says whether nothing is missing from the document.
fn parse<'s>(id: SourceId, sources: &'s Sources, out: &mut Vec<Diagnostic>) -> (DeTable<'s>, bool) {
    let (document, errors) = DeTable::parse_recoverable(&sources.file(id).text);
    let document = document.into_inner();
    let mut whole = true;
    let mut places = Vec::new();
    let last = sources.file(id).text.trim_end().len();
    for error in errors {
        let range = error.span().unwrap_or(0..0);
        // Where one bracket is missing, those around it are often reported at the same place.
        if places.contains(&range.start) {
            continue;
        }
        places.push(range.start);
        let span = Span {
            source: id,
            start: range.start,
            end: range.end,
        };
        if error.message().contains("duplicate key") {
            out.push(duplicate_key(&document, span, sources));
            continue;
        }
        whole = false;
        let message = shorten(&error.message().replace('\n', "; "));
        out.push(if range.start >= last {
            Diagnostic::error(
                "pack::syntax",
                format!("the file ends in the middle of something: {message}"),
                span,
            )
            .hint("see whether the file was cut short; if not, a bracket or a quotation mark is missing further up")
        } else {
            Diagnostic::error("pack::syntax", format!("this is not valid TOML: {message}"), span)
                .hint("texts need quotes, and quotes and brackets come in pairs")
        });
    }
    (document, whole)
}

fn duplicate_key(document: &DeTable<'_>, span: Span, sources: &Sources) -> Diagnostic {
    let text = &sources.file(span.source).text;
    let key = text.get(span.start..span.end).unwrap_or_default();
    let report = Diagnostic::error(
        "pack::duplicate-key",
        format!("`{key}` stands twice in the same table"),
        span,
    )
    .label("second time");
    let mut first = None;
    nearest_key_before(
        document,
        key.trim_matches(['"', '\'']),
        span.start,
        &mut first,
    );
    match first {
        Some(range) => report.also(
            Span {
                source: span.source,
                start: range.start,
                end: range.end,
            },
            "first time",
        ),
        None => report,
    }
    .hint("take one of them out")
}

/// The last place before `end` where a key of this name stands: for a key that was met a second time, the first.
fn nearest_key_before(
    table: &DeTable<'_>,
    name: &str,
    end: usize,
    nearest: &mut Option<std::ops::Range<usize>>,
) {
    for (key, value) in table {
        let range = key.span();
        if key.get_ref() == name
            && range.end <= end
            && nearest.as_ref().is_none_or(|n| n.start < range.start)
        {
            *nearest = Some(range);
        }
        let mut inside = |value: &DeValue<'_>| {
            if let Some(table) = value.as_table() {
                nearest_key_before(table, name, end, nearest);
            }
        };
        match value.get_ref() {
            DeValue::Array(list) => list.iter().for_each(|entry| inside(entry.get_ref())),
            value => inside(value),
        }
    }
}

/// A file that cannot be read, as a diagnostic at the place where reading failed.
fn unreadable(error: &SourceError, name: &str, path: &Path, sources: &mut Sources) -> Diagnostic {
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
    if folder.join(COMPARABLES_TABLE).exists() && !folder.join(MARKET_FILE).exists() {
        let path = folder.join(COMPARABLES_TABLE).display().to_string();
        let source = sources.add(path, "");
        let (start, end) = (0, 0);
        let message = format!("{COMPARABLES_TABLE} is not read without a {MARKET_FILE} beside it");
        let report = Diagnostic::warning("pack::stray-file", message, Span { source, start, end });
        out.push(report.hint(
            "write market.toml: currency, the usual piece, how prices differ, definitions of value",
        ));
    }
    for name in names {
        if known().any(|k| k == name) {
            continue;
        }
        let source = sources.add(folder.join(&name).display().to_string(), "");
        out.push(
            Diagnostic::warning(
                "pack::stray-file",
                format!("{name} is not a file of a pack and is not read"),
                Span {
                    source,
                    start: 0,
                    end: 0,
                },
            )
            .did_you_mean(crate::nearest_name::nearest(&name, known()))
            .hint("rename it, or keep it in another folder"),
        );
    }
}
