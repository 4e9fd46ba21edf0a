//! The program from outside, as people start it.
#![allow(
    dead_code,
    clippy::unwrap_used,
    reason = "each test takes what it needs, and may panic"
)]

use std::process::{Command, Output};

/// The program, in the folder of the repository, with no wish about colour.
pub fn saggar(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_saggar"));
    command
        .args(arguments)
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .env_remove("NO_COLOR")
        .env_remove("COLUMNS")
        .env_remove("CLICOLOR_FORCE")
        .env_remove("CLICOLOR");
    command
}

/// What a run left behind.
pub struct Ran {
    /// Its exit code.
    pub code: i32,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
}

/// What a run left behind; one that was ended from outside has no exit code, and fails the test.
#[track_caller]
pub fn ran(output: Output) -> Ran {
    Ran {
        code: output.status.code().unwrap(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

/// Runs the program to its end.
#[track_caller]
pub fn run(arguments: &[&str]) -> Ran {
    ran(saggar(arguments).output().unwrap())
}

/// Standard output of a run that must succeed silently.
#[track_caller]
pub fn succeeds(arguments: &[&str]) -> String {
    let ran = run(arguments);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{arguments:?}");
    ran.out
}
