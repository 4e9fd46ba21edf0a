//! The demonstration pack and its pieces, as the scripts describe them and as `answers.json` does.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, OnceLock};
use std::time::Duration;

use saggar::model::CompiledModel;
use saggar::piece::{Look, Piece, find_clue, find_state, uncertain};
use saggar::report::Shown;
use saggar::script::{self, Finished, Settings};
use saggar::source::Sources;
use saggar::{check, pack};
use serde::Deserialize;

/// Each piece, the script that describes it, and the variable that holds it there.
pub const SCRIPTS: [(&str, &str, &str); 10] = [
    ("D1", "d1_full_mark", "jug"),
    ("D2", "d2_partial_mark", "jug"),
    ("D3", "d3_misleading_initials", "jug"),
    ("D4", "d4_no_mark", "jug"),
    ("D5", "d5_conflict", "jug"),
    ("D5b", "d5b_second_look", "again"),
    ("D6", "d6_unlisted_maker", "jug"),
    ("D7", "d7_from_photographs", "jug"),
    ("D8", "d8_size_trap", "jug"),
    ("D9", "d9_same_copper_two_hands", "jug"),
];

pub fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

pub fn compile(folder: &Path) -> CompiledModel {
    let (mut sources, mut found) = (Sources::default(), Vec::new());
    let text = pack::read(folder, &mut sources, &mut found).unwrap();
    let model = check::check(&text.unwrap(), &sources, &mut found).unwrap();
    model.compile().unwrap()
}

/// The demonstration pack, compiled once.
pub fn compiled() -> &'static CompiledModel {
    static COMPILED: OnceLock<CompiledModel> = OnceLock::new();
    COMPILED.get_or_init(|| compile(&here("priors/tidewheel")))
}

/// The description of a piece in its script: all that comes before the first result.
pub fn described(piece: &str) -> (String, &'static str) {
    let (_, script, variable) = SCRIPTS.iter().find(|(name, ..)| *name == piece).unwrap();
    let text = std::fs::read_to_string(here(&format!("scripts/{script}.rhai"))).unwrap();
    let (description, _) = text.split_once("\nshow(").unwrap();
    (format!("{description}\n"), variable)
}

/// Runs a script on the packs below a folder.
pub fn finish(script: &str, priors: PathBuf) -> (Finished, Vec<Shown>) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("script.rhai");
    std::fs::write(&path, script).unwrap();
    run_file(&path, priors)
}

pub fn run_file(path: &Path, priors: PathBuf) -> (Finished, Vec<Shown>) {
    let shown: Arc<Mutex<Vec<Shown>>> = Arc::default();
    let sink = Arc::clone(&shown);
    let settings = Settings {
        time_limit: Duration::from_secs(120),
        ..Settings::new(priors)
    };
    let finished = script::run(path, settings, move |s| sink.lock().unwrap().push(s)).unwrap();
    let shown = std::mem::take(&mut *shown.lock().unwrap());
    (finished, shown)
}

/// What a script shows that comes to its end.
pub fn shown(script: &str) -> Vec<Shown> {
    let (finished, shown) = finish(script, here("priors"));
    if let Some(failure) = finished.failure {
        panic!("{:?}", failure.diagnostics);
    }
    shown
}

/// The texts a script prints.
pub fn printed(script: &str) -> Vec<String> {
    shown(script)
        .into_iter()
        .map(|shown| match shown {
            Shown::Text { text } => text,
            other => panic!("{}", other.to_text()),
        })
        .collect()
}

/// One distribution: chances by name, the ones not listed 0.
pub type Chances = BTreeMap<String, f64>;

/// Answers under one set of assumptions.
#[derive(Clone, Debug, Deserialize)]
pub struct Answers {
    pub maker: Chances,
    pub period: Chances,
    pub engraving: Chances,
    pub p_evidence: f64,
}

/// One piece of `answers.json`.
#[derive(Clone, Debug, Deserialize)]
pub struct Recomputed {
    circumstances: BTreeMap<String, String>,
    findings: BTreeMap<String, Chances>,
    pub full: Answers,
    pub independent: Answers,
    pub closed: Answers,
    pub no_mark: Option<Answers>,
    pub no_motifs: Answers,
}

/// The pieces of `answers.json`, whose note says where the numbers come from.
pub fn recomputed() -> &'static BTreeMap<String, Recomputed> {
    #[derive(Deserialize)]
    struct File {
        pieces: BTreeMap<String, Recomputed>,
    }
    static FILE: OnceLock<File> = OnceLock::new();
    let read = || {
        let text = std::fs::read_to_string(here("tests/demonstration/answers.json")).unwrap();
        serde_json::from_str(&text).unwrap()
    };
    &FILE.get_or_init(read).pieces
}

/// A piece built by the library from `answers.json`, its weight noted as a band. No script takes part.
pub fn piece(name: &str) -> Piece {
    let compiled = compiled();
    let model = &compiled.model;
    let recomputed = &recomputed()[name];
    let mut piece = Piece::new(name);
    for (clue, state) in &recomputed.circumstances {
        piece = noted(compiled, &piece, clue, state);
    }
    for (clue, chances) in &recomputed.findings {
        if chances.len() == 1 {
            piece = noted(compiled, &piece, clue, chances.keys().next().unwrap());
            continue;
        }
        let index = find_clue(model, clue).unwrap();
        let weights = chances.iter().map(|(state, w)| (state.as_str(), *w));
        let look = uncertain(&model.catalogue.clues[index], weights).unwrap();
        piece = piece.note(index, look, "unsure".to_owned(), model).unwrap();
    }
    piece
}

/// The piece with one more state seen for sure.
pub fn noted(compiled: &CompiledModel, piece: &Piece, clue: &str, state: &str) -> Piece {
    let model = &compiled.model;
    let index = find_clue(model, clue).unwrap();
    let seen = find_state(&model.catalogue.clues[index], state).unwrap();
    piece
        .note(index, Look::Seen(seen), state.to_owned(), model)
        .unwrap()
}
