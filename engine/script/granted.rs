//! Folders granted to a script, and names of files below them.
//!
//! A name is a plain path: no `..`, not absolute. What it leads to once links are followed lies below the folder too.

use std::path::{Component, Path, PathBuf};

/// A file outside the folder that its name was looked for in, reached by a link.
pub(super) struct Outside;

/// A name as a path below a folder; `None` for any other.
pub(super) fn plain(name: &str) -> Option<&Path> {
    let path = Path::new(name);
    let is_plain = !name.is_empty()
        && !name.contains(char::is_control)
        && path.components().all(|c| matches!(c, Component::Normal(_)));
    is_plain.then_some(path)
}

/// The file of that path in the first folder that has it, without links; `None` if none has it.
pub(super) fn find(path: &Path, folders: &[PathBuf]) -> Result<Option<PathBuf>, Outside> {
    for folder in folders {
        let (Ok(root), Ok(real)) = (real(folder), real(&folder.join(path))) else {
            continue;
        };
        return if real.starts_with(&root) {
            Ok(Some(real))
        } else {
            Err(Outside)
        };
    }
    Ok(None)
}

/// A path without links; the empty path is the folder one is in.
pub(super) fn real(path: &Path) -> std::io::Result<PathBuf> {
    if path.as_os_str().is_empty() {
        return Path::new(".").canonicalize();
    }
    path.canonicalize()
}

/// The folders in a message.
pub(super) fn shown(folders: &[PathBuf]) -> String {
    let shown = folders.iter().map(|folder| {
        if folder.as_os_str().is_empty() {
            "this folder".to_owned()
        } else {
            format!("`{}`", folder.display())
        }
    });
    shown.collect::<Vec<_>>().join(" or ")
}
