//! The reference of the script language: every example in it runs, and the commands print it.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

mod outside;

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use outside::succeeds;
use saggar::script::reference::{SUPPOSED, help, topics};
use saggar::script::{Settings, with_session};
use tempfile::TempDir;

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        std::fs::copy(&path, to.join(path.file_name().unwrap())).unwrap();
    }
}

/// One folder with the packs that the examples suppose.
fn packs() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    for (from, name) in [
        ("priors/tidewheel", "tidewheel"),
        ("priors/rules", "rules"),
        ("tests/packs/moor_ware", "moor_ware"),
        ("tests/packs/dated_ware", "dated_ware"),
        (
            "shared/pottery/romano_british_kilns",
            "romano_british_kilns",
        ),
    ] {
        copy(&here(from), &folder.path().join(name));
    }
    folder
}

/// Whether a script uses a name.
fn uses(script: &str, name: &str) -> bool {
    let is_part = |c: char| c.is_alphanumeric() || c == '_' || c == '"';
    script.match_indices(name).any(|(at, _)| {
        let before = script[..at].chars().next_back();
        let after = script[at + name.len()..].chars().next();
        !before.is_some_and(is_part) && !after.is_some_and(is_part)
    })
}

#[test]
fn every_example_runs() {
    let folder = packs();
    let files = tempfile::tempdir().unwrap();
    std::fs::write(
        files.path().join("pieces.csv"),
        "title,size,tint\nthe jug from the sale,IV,blue\nanother,V,\n",
    )
    .unwrap();
    let settings = Settings {
        priors: folder.path().to_owned(),
        read: vec![files.path().to_owned()],
        write: vec![files.path().to_owned()],
        // The limit of steps is enough to end an example.
        time_limit: Duration::from_secs(3600),
        ..Settings::default()
    };
    let shown = Arc::new(Mutex::new(0));
    let counter = Arc::clone(&shown);
    let (n_run, failed) = with_session(
        settings,
        move |_| *counter.lock().unwrap() += 1,
        |session| {
            let (mut n_run, mut failed) = (0, Vec::new());
            for function in topics().iter().flat_map(|topic| &topic.functions) {
                for example in &function.examples {
                    let supposed = SUPPOSED.iter().filter(|(name, _)| uses(example, name));
                    let mut script: String =
                        supposed.map(|(_, line)| format!("{line}\n")).collect();
                    script += example;
                    if let Some(failure) = session.enter(&script).failure {
                        let told = failure
                            .diagnostics
                            .last()
                            .map(|d| format!("{} {:?}", d.message, d.hints));
                        failed.push(format!(
                            "{}: {example}\n    {}",
                            function.signature(),
                            told.unwrap_or_default()
                        ));
                    }
                    n_run += 1;
                }
            }
            (n_run, failed)
        },
    )
    .unwrap();
    assert!(failed.is_empty(), "{}", failed.join("\n"));
    assert!(n_run >= 100, "only {n_run} examples");
    assert!(*shown.lock().unwrap() >= 5);
}

#[test]
fn help_on_a_name() {
    let text = help(Some("saw")).unwrap();
    insta::assert_snapshot!("help_saw", text);
    assert_eq!(help(Some("saww")), None);
    let all = help(None).unwrap();
    for name in [
        ".saw",
        "open_pack",
        ".verdict",
        ".kg",
        "Dates, law and record",
    ] {
        assert!(all.contains(name), "{name}");
    }
}

#[test]
fn the_reference_is_printed() {
    let text = succeeds(&["reference"]);
    insta::assert_snapshot!("reference", text);
    for rust in [
        "PieceHandle",
        "Dynamic",
        "i64",
        "f64",
        "&str",
        "&mut",
        "Raw<",
    ] {
        assert!(!text.contains(rust), "the reference says {rust}");
    }
}

#[test]
fn definitions_for_editors_name_every_function() {
    let text = succeeds(&["reference", "--definitions"]);
    for function in topics().iter().flat_map(|topic| &topic.functions) {
        assert!(text.contains(&function.name), "{}", function.name);
    }
    for rust in ["Handle", "Given", "Raw<", "saggar::"] {
        let place = text.find(rust);
        let line = place.map(|at| {
            text[at.saturating_sub(80)..]
                .lines()
                .nth(1)
                .unwrap_or_default()
        });
        assert!(place.is_none(), "the definitions say {rust}: {line:?}");
    }
}
