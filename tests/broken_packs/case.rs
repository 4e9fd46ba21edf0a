//! A case file, and what is said of the pack it breaks.

use std::path::{Path, PathBuf};

use saggar::diagnostic::{Diagnostic, render::render};
use saggar::source::Sources;
use serde::Deserialize;

/// One broken pack.
pub struct Case {
    /// The file's name without its ending.
    pub name: String,
    /// The comment at its head.
    pub what: String,
    /// Whether a model may still come out.
    pub outcome: Outcome,
    pack: PathBuf,
    edits: Vec<Edit>,
}

/// What the check must come to.
#[derive(Clone, Copy, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Outcome {
    /// At least one error, and no model.
    Error,
    /// Warnings only, and a model.
    Warning,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Text {
    outcome: Outcome,
    /// The folder of the pack that is broken; the demo pack if left out.
    pack: Option<String>,
    edit: Vec<Edit>,
}

/// One change to one file.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Edit {
    file: String,
    /// Text that occurs exactly once; replaced by `before`, `replace` written `times` times, and `then`.
    find: Option<String>,
    #[serde(default)]
    before: String,
    #[serde(default)]
    replace: String,
    times: Option<usize>,
    #[serde(default)]
    then: String,
    /// Text that occurs exactly once; the file ends with it.
    cut_at: Option<String>,
    /// A new file with this text.
    create: Option<String>,
    /// The file is taken out.
    #[serde(default)]
    delete: bool,
    /// `latin-1` or `utf-16`; UTF-8 if left out.
    encoding: Option<String>,
}

/// What was said of a pack.
pub struct Said {
    /// In the order they were reported.
    pub diagnostics: Vec<Diagnostic>,
    /// All of them rendered, the pack's folder shown by its own name.
    pub text: String,
    /// Whether a model came out.
    pub has_model: bool,
}

/// A path beside the cases.
pub fn here(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/broken_packs")
        .join(name)
}

/// The demo pack.
pub fn demo_pack() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("priors/tidewheel")
}

/// The files of a pack, by name.
pub fn files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_str().unwrap().to_owned();
            (name, std::fs::read(path).unwrap())
        })
        .collect();
    files.sort();
    files
}

/// Reads, checks and renders the pack in a folder.
pub fn check_folder(folder: &Path) -> Said {
    let mut sources = Sources::default();
    let mut out = Vec::new();
    let pack = saggar::pack::read(folder, &mut sources, &mut out).unwrap();
    let model = pack.and_then(|pack| saggar::check::check(&pack, &sources, &mut out));
    let rendered: Vec<String> = out.iter().map(|d| render(d, &sources, false)).collect();
    let parent = format!(
        "{}{}",
        folder.parent().unwrap().display(),
        std::path::MAIN_SEPARATOR
    );
    Said {
        text: rendered.join("\n\n").replace(&parent, ""),
        diagnostics: out,
        has_model: model.is_some(),
    }
}

impl Case {
    /// Every case, by name.
    pub fn all() -> Vec<Self> {
        let mut cases: Vec<Self> = std::fs::read_dir(here("cases"))
            .unwrap()
            .map(|entry| Self::read(&entry.unwrap().path()))
            .collect();
        cases.sort_by(|a, b| a.name.cmp(&b.name));
        cases
    }

    fn read(path: &Path) -> Self {
        let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
        let text = std::fs::read_to_string(path).unwrap();
        let parsed: Text = toml::from_str(&text).unwrap_or_else(|e| panic!("{name}: {e}"));
        let comment: Vec<&str> = text.lines().map_while(|l| l.strip_prefix("# ")).collect();
        assert!(!comment.is_empty(), "{name} does not say what is broken");
        Self {
            name,
            what: comment.join(" "),
            outcome: parsed.outcome,
            pack: parsed.pack.map_or_else(demo_pack, |pack| {
                Path::new(env!("CARGO_MANIFEST_DIR")).join(pack)
            }),
            edits: parsed.edit,
        }
    }

    /// Copies the pack, breaks it, and checks it.
    pub fn run(&self) -> Said {
        let temporary = tempfile::tempdir().unwrap();
        let folder = temporary.path().join(self.pack.file_name().unwrap());
        std::fs::create_dir(&folder).unwrap();
        for (name, bytes) in files(&self.pack) {
            std::fs::write(folder.join(name), bytes).unwrap();
        }
        for edit in &self.edits {
            edit.apply(&folder, &self.name);
        }
        check_folder(&folder)
    }
}

impl Edit {
    fn apply(&self, folder: &Path, case: &str) {
        let path = folder.join(&self.file);
        if self.delete {
            return std::fs::remove_file(path).unwrap();
        }
        if let Some(text) = &self.create {
            assert!(!path.exists(), "{case}: {} is there already", self.file);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            return std::fs::write(path, text).unwrap();
        }
        let mut text = std::fs::read_to_string(&path).unwrap();
        for wanted in self.find.iter().chain(&self.cut_at) {
            let n_found = text.matches(wanted.as_str()).count();
            assert_eq!(n_found, 1, "{case}: `{wanted}` in {}", self.file);
        }
        if let Some(find) = &self.find {
            let new = self.replace.repeat(self.times.unwrap_or(1));
            text = text.replace(find, &format!("{}{new}{}", self.before, self.then));
        }
        if let Some(end) = &self.cut_at {
            let at = text.find(end.as_str()).unwrap() + end.len();
            text.truncate(at);
        }
        std::fs::write(path, encode(&text, self.encoding.as_deref())).unwrap();
    }
}

fn encode(text: &str, encoding: Option<&str>) -> Vec<u8> {
    match encoding {
        None => text.as_bytes().to_vec(),
        Some("latin-1") => text.chars().map(|c| u8::try_from(c).unwrap()).collect(),
        Some("utf-16") => std::iter::once(0xFEFF)
            .chain(text.encode_utf16())
            .flat_map(u16::to_le_bytes)
            .collect(),
        Some(other) => panic!("no encoding {other}"),
    }
}
