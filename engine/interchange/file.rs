//! Network files: which format, in from the disk, out to it.

use std::io::Write;
use std::path::Path;

use super::{Format, LARGEST_NETWORK_FILE, PublicNetwork, ReadError, WriteError, parse, print};
use crate::source::Sources;

impl Format {
    /// The format that the ending of a name stands for.
    #[must_use]
    pub fn of_name(path: &Path) -> Option<Self> {
        let ending = path.extension()?.to_str()?.to_ascii_lowercase();
        match ending.as_str() {
            "bif" => Some(Self::Bif),
            "xmlbif" | "bifxml" | "xml" => Some(Self::XmlBif),
            _ => None,
        }
    }

    /// The format of a text: XML begins with `<`, which no BIF block does.
    fn of_text(text: &str) -> Option<Self> {
        let text = text.trim_start();
        if text.starts_with('<') {
            Some(Self::XmlBif)
        } else if ["network", "variable", "probability", "//", "/*"]
            .iter()
            .any(|word| text.starts_with(word))
        {
            Some(Self::Bif)
        } else {
            None
        }
    }
}

/// Reads a network file and keeps its text among the sources. The format follows the ending of the name (some programs
/// write XMLBIF to `.bif`, so a text that begins with `<` is XMLBIF whatever its name), or else the text.
///
/// # Errors
/// [`ReadError`] if the file cannot be read, is larger than [`LARGEST_NETWORK_FILE`], is of another format or has defects.
pub fn read(path: &Path, sources: &mut Sources) -> Result<PublicNetwork, ReadError> {
    let source = sources.read_within(path, LARGEST_NETWORK_FILE)?;
    let by_text = Format::of_text(&sources.file(source).text);
    let format = match (Format::of_name(path), by_text) {
        (_, Some(Format::XmlBif)) => Format::XmlBif,
        (Some(named), _) => named,
        (None, Some(found)) => found,
        (None, None) => {
            return Err(ReadError::UnknownFormat {
                path: path.display().to_string(),
            });
        }
    };
    parse(source, sources, format).map_err(ReadError::Defects)
}

/// Writes a network file in the format of its ending. The file appears whole or not at all: it is written beside its
/// place and moved there.
///
/// # Errors
/// [`WriteError`] if the ending is unknown, the network does not fit the format, or the file cannot be written.
pub fn write(network: &PublicNetwork, path: &Path) -> Result<(), WriteError> {
    let Some(format) = Format::of_name(path) else {
        return Err(WriteError::UnknownFormat {
            path: path.display().to_string(),
        });
    };
    let text = print(network, format)?;
    let unwritable = |cause| WriteError::Unwritable {
        path: path.display().to_string(),
        cause,
    };
    let Some(name) = path.file_name() else {
        return Err(unwritable(std::io::ErrorKind::InvalidFilename.into()));
    };
    let mut beside = std::ffi::OsString::from(".");
    beside.push(name);
    beside.push(format!(".{}.part", std::process::id()));
    let beside = path.with_file_name(beside);
    let written = write_whole(&beside, &text).and_then(|()| std::fs::rename(&beside, path));
    if written.is_err() {
        // What went wrong is told below; a part that was never made need not go.
        let _ = std::fs::remove_file(&beside);
    }
    written.map_err(unwritable)
}

fn write_whole(path: &Path, text: &str) -> std::io::Result<()> {
    let mut file = std::fs::File::create_new(path)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_format_follows_the_name_unless_the_text_is_xml() {
        let folder = tempfile::tempdir().unwrap();
        let bif = folder.path().join("a.bif");
        let network = "network a { }\nvariable x { type discrete [ 1 ] { s }; }\nprobability ( x ) { table 1.0; }\n";
        std::fs::write(&bif, network).unwrap();
        let mut sources = Sources::default();
        let first = read(&bif, &mut sources).unwrap();
        let xml = folder.path().join("a.xmlbif");
        write(&first, &xml).unwrap();
        std::fs::rename(&xml, &bif).unwrap();
        assert_eq!(read(&bif, &mut sources).unwrap(), first);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
        let unnamed = folder.path().join("a");
        std::fs::write(&unnamed, "what is this?").unwrap();
        assert!(matches!(
            read(&unnamed, &mut sources),
            Err(ReadError::UnknownFormat { .. })
        ));
        let error = write(&first, &folder.path().join("missing/a.bif")).unwrap_err();
        assert!(error.to_string().contains("missing/a.bif"), "{error}");
    }
}
