//! A copy of the demonstration pack with one place of one file changed.

use std::path::Path;

use tempfile::TempDir;

/// A folder of packs that holds the changed copy as `tidewheel`. The text to be changed must be there exactly once.
pub fn edited_pack(file: &str, old: &str, new: &str) -> TempDir {
    let priors = tempfile::tempdir().unwrap();
    let to = priors.path().join("tidewheel");
    std::fs::create_dir(&to).unwrap();
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("priors/tidewheel");
    for entry in std::fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let mut text = std::fs::read_to_string(&path).unwrap();
        let name = path.file_name().unwrap();
        if name == file {
            assert_eq!(text.matches(old).count(), 1, "{old} in {file}");
            text = text.replace(old, new);
        }
        std::fs::write(to.join(name), text).unwrap();
    }
    priors
}
