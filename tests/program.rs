//! The program from outside: what it prints, where, and with which exit code.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "demonstration/edited_pack.rs"]
mod edited_pack;
#[path = "program/judge.rs"]
mod judge;
mod outside;
#[path = "program/refused.rs"]
mod refused;
#[path = "program/shown.rs"]
mod shown;

use std::path::{Path, PathBuf};
use std::process::Stdio;

use outside::{ran, saggar, succeeds};
use serde_json::Value;
use tempfile::TempDir;

const ESCAPE: char = '\u{1b}';

/// A script of a test, in a folder of its own.
fn script(text: &str) -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("script.rhai");
    std::fs::write(&path, text).unwrap();
    (folder, path)
}

fn scripts() -> Vec<String> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("scripts");
    let entries = std::fs::read_dir(folder).unwrap();
    let names = entries.map(|e| format!("scripts/{}", e.unwrap().file_name().to_str().unwrap()));
    let mut names: Vec<String> = names.filter(|n| n.ends_with(".rhai")).collect();
    names.sort();
    assert!(names.len() >= 12, "{names:?}");
    names
}

fn json(arguments: &[&str]) -> Value {
    serde_json::from_str(&succeeds(arguments)).unwrap()
}

#[test]
fn every_script_runs() {
    for script in scripts() {
        let out = succeeds(&["run", &script]);
        let n_lines = out.lines().filter(|line| !line.is_empty()).count();
        assert!(n_lines > 5, "{script}");
        assert!(!out.contains(ESCAPE), "{script}");
        let out = json(&["run", &script, "--json"]);
        assert!(!out["results"].as_array().unwrap().is_empty(), "{script}");
    }
}

#[test]
fn colour_only_where_it_is_wanted() {
    let (_folder, path) = script("show(jug);");
    let path = path.to_str().unwrap();
    let coloured = |arguments: &[&str], no_color: bool| {
        let mut command = saggar(arguments);
        if no_color {
            command.env("NO_COLOR", "1");
        }
        let ran = ran(command.output().unwrap());
        assert_eq!(ran.code, 4);
        ran.err.contains(ESCAPE)
    };
    // A pipe gets no colour unless it is asked for.
    assert!(!coloured(&["run", path], false));
    assert!(!coloured(&["run", path], true));
    assert!(!coloured(&["run", path, "--color", "never"], false));
    assert!(!coloured(&["run", path, "--color", "auto"], false));
    assert!(coloured(&["run", path, "--color", "always"], false));
    assert!(coloured(&["--color", "always", "run", path], true));
}

#[test]
fn the_same_bytes_whatever_the_number_of_threads() {
    for format in [&["--json"][..], &[]] {
        let on = |threads: &str| {
            let mut arguments = vec!["run", "scripts/d4_no_mark.rhai", "--threads", threads];
            arguments.extend(format);
            succeeds(&arguments)
        };
        let one = on("1");
        assert_eq!(one, on("2"));
        assert_eq!(one, on("5"));
    }
}

#[test]
fn the_seed_is_told() {
    let stress = |arguments: &[&str]| {
        let mut all = vec!["run", "scripts/d2_partial_mark.rhai", "--json"];
        all.extend(arguments);
        json(&all)["results"][2].clone()
    };
    let (first, same, other) = (
        stress(&[]),
        stress(&["--seed", "1"]),
        stress(&["--seed", "20261125"]),
    );
    assert_eq!(first, same);
    assert_eq!(
        (&first["seed"], &other["seed"]),
        (&Value::from(1), &Value::from(20_261_125))
    );
    assert_ne!(first["mean"], other["mean"]);
    let largest = u64::MAX.to_string();
    assert_eq!(stress(&["--seed", &largest])["seed"], Value::from(u64::MAX));
    let text = succeeds(&["run", "scripts/d2_partial_mark.rhai", "--seed", "77"]);
    assert!(text.contains("seed 77"), "{text}");
    // A seed in the script goes before the one on the command line.
    let (_folder, path) = script("show(open_pack(\"tidewheel\").piece(\"x\").stress(10, 5));");
    let own = json(&["run", path.to_str().unwrap(), "--json", "--seed", "9"]);
    assert_eq!(own["results"][0]["seed"], Value::from(5));
}

/// A reader that has seen enough closes the pipe; that is no failure and no panic.
#[test]
fn a_broken_pipe() {
    let (_folder, path) = script(
        "for i in 0..20000 { print(`${i}: a line long enough to fill the pipe before long`); }",
    );
    for arguments in [
        &["run", path.to_str().unwrap()][..],
        &["run", path.to_str().unwrap(), "--json"],
    ] {
        let mut child = saggar(arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        let err = String::from_utf8(output.stderr).unwrap();
        assert_eq!((output.status.code(), err.as_str()), (Some(0), ""));
    }
}

/// The example scripts find their packs beside them, from whatever folder they are run.
#[test]
fn scripts_run_from_elsewhere() {
    let elsewhere = tempfile::tempdir().unwrap();
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("scripts/what_if_partial_mark.rhai");
    let mut command = saggar(&["run", script.to_str().unwrap()]);
    let ran = ran(command.current_dir(elsewhere.path()).output().unwrap());
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    assert_eq!(
        ran.out,
        succeeds(&["run", "scripts/what_if_partial_mark.rhai"])
    );
    assert_eq!(std::fs::read_dir(elsewhere.path()).unwrap().count(), 0);
}
