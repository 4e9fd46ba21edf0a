//! Texts that people wrote (prior files, scripts) and places in them.
//!
//! A [`Span`] is a byte range of one text. Lines and columns are computed only when a message is printed.

use std::io::Read;
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};

/// The largest prior file or script that is read, in bytes. A pack's file is a few hundred lines; a file beyond
/// this is a mistake, and refusing it keeps a stray 10 GB file out of memory.
pub const LARGEST_FILE: u64 = 4 * 1024 * 1024;

/// Which text of [`Sources`] is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SourceId(u32);

/// A byte range of one text, end excluded.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// The text.
    pub source: SourceId,
    /// First byte.
    pub start: usize,
    /// One past the last byte.
    pub end: usize,
}

/// A place as a person counts it: line and column from 1, the column in characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct LineColumn {
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
}

/// A line and column of one text: where something that is noted often, and rarely pointed at, was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Place {
    /// The text.
    pub source: SourceId,
    /// Where in it.
    pub at: LineColumn,
}

/// One text with the name it is shown under.
#[derive(Clone, Debug)]
pub struct SourceFile {
    /// The path as the user would write it.
    pub name: String,
    /// The whole text.
    pub text: String,
}

/// Every text read so far.
#[derive(Clone, Debug, Default)]
pub struct Sources {
    files: Vec<SourceFile>,
}

/// Why a file could not be taken in.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SourceError {
    /// The file is missing or cannot be read.
    #[error("cannot read `{}`: {cause}", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        cause: std::io::Error,
    },
    /// The file is larger than what is read of its kind.
    #[error("`{}` has {bytes} bytes; at most {limit} are read", path.display())]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// Its size in bytes.
        bytes: u64,
        /// Bytes allowed.
        limit: u64,
    },
    /// The file is not UTF-8 text.
    #[error(
        "`{}` is not UTF-8 text: {what} at line {line}, byte {column} of the line; save the file with the encoding UTF-8",
        path.display()
    )]
    Encoding {
        /// The file.
        path: PathBuf,
        /// What was met.
        what: String,
        /// Line of the first byte that does not fit, from 1.
        line: usize,
        /// Byte within that line, from 1.
        column: usize,
    },
}

impl Sources {
    /// Takes in a text under a name.
    pub fn add(&mut self, name: impl Into<String>, text: impl Into<String>) -> SourceId {
        let id = SourceId(u32::try_from(self.files.len()).unwrap_or(u32::MAX));
        self.files.push(SourceFile {
            name: name.into(),
            text: text.into(),
        });
        id
    }

    /// Reads a file as UTF-8 text (a leading byte order mark is taken off).
    ///
    /// # Errors
    /// [`SourceError`] if the file is missing, larger than [`LARGEST_FILE`] or not UTF-8.
    pub fn read(&mut self, path: &Path) -> Result<SourceId, SourceError> {
        self.read_within(path, LARGEST_FILE)
    }

    /// As [`read`](Self::read), for a kind of file with a limit of its own, in bytes.
    ///
    /// # Errors
    /// [`SourceError`] if the file is missing, larger than `limit` or not UTF-8.
    pub fn read_within(&mut self, path: &Path, limit: u64) -> Result<SourceId, SourceError> {
        let unreadable = |cause| SourceError::Unreadable {
            path: path.to_owned(),
            cause,
        };
        let metadata = std::fs::metadata(path).map_err(unreadable)?;
        if metadata.is_dir() {
            return Err(unreadable(std::io::Error::new(
                std::io::ErrorKind::IsADirectory,
                "it is a folder, not a file",
            )));
        }
        // Opening a named pipe waits for a writer that may never come, and a device may never end.
        if !metadata.is_file() {
            return Err(unreadable(std::io::Error::new(
                std::io::ErrorKind::InvalidInput,
                "it is a pipe or a device, not a file",
            )));
        }
        let too_large = |bytes| SourceError::TooLarge {
            path: path.to_owned(),
            bytes,
            limit,
        };
        if metadata.len() > limit {
            return Err(too_large(metadata.len()));
        }
        // The file may have grown since its size was asked for.
        let mut bytes = Vec::new();
        std::fs::File::open(path)
            .and_then(|file| file.take(limit + 1).read_to_end(&mut bytes))
            .map_err(unreadable)?;
        if bytes.len() as u64 > limit {
            return Err(too_large(bytes.len() as u64));
        }
        let text = decode(bytes).map_err(|(what, offset, bytes)| {
            let before = &bytes[..offset];
            let line = before.iter().filter(|&&b| b == b'\n').count() + 1;
            let column = offset
                - before
                    .iter()
                    .rposition(|&b| b == b'\n')
                    .map_or(0, |p| p + 1)
                + 1;
            SourceError::Encoding {
                path: path.to_owned(),
                what,
                line,
                column,
            }
        })?;
        Ok(self.add(path.display().to_string(), text))
    }

    /// The text that was last taken in under a name.
    #[must_use]
    pub fn find(&self, name: &str) -> Option<SourceId> {
        let place = self.files.iter().rposition(|file| file.name == name)?;
        u32::try_from(place).ok().map(SourceId)
    }

    /// The text behind an id.
    #[must_use]
    pub fn file(&self, id: SourceId) -> &SourceFile {
        &self.files[id.0 as usize]
    }

    /// Line and column of a span's first byte.
    #[must_use]
    pub fn line_column(&self, span: Span) -> LineColumn {
        let text = &self.file(span.source).text;
        let start = floor_char_boundary(text, span.start);
        let before = &text[..start];
        let line_start = before.rfind('\n').map_or(0, |p| p + 1);
        LineColumn {
            // Bytes are counted many at a time; the text may have tens of megabytes.
            line: before.bytes().filter(|&b| b == b'\n').count() + 1,
            column: before[line_start..].chars().count() + 1,
        }
    }

    /// `file:line` of a span, as audits and messages cite it.
    #[must_use]
    pub fn citation(&self, span: Span) -> String {
        format!(
            "{}:{}",
            self.file(span.source).name,
            self.line_column(span).line
        )
    }

    /// SHA-256 over the names (without folders) and texts of some files, in the order given, as hexadecimal text.
    #[must_use]
    pub fn content_hash(&self, ids: &[SourceId]) -> String {
        let mut hash = Sha256::new();
        for &id in ids {
            let file = self.file(id);
            let name = Path::new(&file.name)
                .file_name()
                .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
            // Lengths keep `ab` + `c` apart from `a` + `bc`.
            for part in [name.as_bytes(), file.text.as_bytes()] {
                hash.update((part.len() as u64).to_le_bytes());
                hash.update(part);
            }
        }
        hash.finalize().iter().map(|b| format!("{b:02x}")).collect()
    }
}

/// The largest character boundary at or before `at`.
#[must_use]
pub fn floor_char_boundary(text: &str, at: usize) -> usize {
    let mut at = at.min(text.len());
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    at
}

fn decode(bytes: Vec<u8>) -> Result<String, (String, usize, Vec<u8>)> {
    if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) {
        return Err(("a UTF-16 byte order mark".to_owned(), 0, bytes));
    }
    match String::from_utf8(bytes) {
        Ok(text) => Ok(text
            .strip_prefix('\u{feff}')
            .map_or_else(|| text.clone(), str::to_owned)),
        Err(error) => {
            let at = error.utf8_error().valid_up_to();
            let bytes = error.into_bytes();
            Err((format!("byte 0x{:02X}", bytes[at]), at, bytes))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_count_characters() {
        let mut sources = Sources::default();
        let source = sources.add("a.toml", "é\nçé = 1");
        let start = "é\nçé".len();
        let place = sources.line_column(Span {
            source,
            start,
            end: start + 1,
        });
        assert_eq!(place, LineColumn { line: 2, column: 3 });
    }

    #[test]
    fn latin_1_is_refused_with_its_place() {
        let (what, at, _) = decode(b"a = 1\nb = \"caf\xe9\"".to_vec()).unwrap_err();
        assert_eq!((what.as_str(), at), ("byte 0xE9", 14));
    }

    #[cfg(unix)]
    #[test]
    fn a_device_is_refused_before_it_is_read() {
        let read = Sources::default().read(Path::new("/dev/zero"));
        assert!(
            matches!(read, Err(SourceError::Unreadable { .. })),
            "{read:?}"
        );
    }

    #[test]
    fn the_hash_sees_where_one_file_ends() {
        let mut sources = Sources::default();
        let ids = [sources.add("x", "ab"), sources.add("x", "c")];
        let others = [sources.add("x", "a"), sources.add("x", "bc")];
        assert_ne!(sources.content_hash(&ids), sources.content_hash(&others));
    }
}
