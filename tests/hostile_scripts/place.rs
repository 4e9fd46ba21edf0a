//! A place where scripts from strangers run, and what is wrong with how they ended.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use tempfile::TempDir;

/// For scripts that may end by it.
pub const TIME_LIMIT: Duration = Duration::from_secs(5);
/// For scripts that another limit must end, however slow the machine.
pub const PATIENCE: Duration = Duration::from_secs(120);
/// Starting, compiling and ending, with the machine busy.
pub const GRACE: Duration = Duration::from_secs(10);
/// Messages are for people.
pub const LONGEST_MESSAGE: usize = 4_000;
/// Kilobytes of address space a case may ask for: what scripts may take, and the stack, and the program itself.
pub const MOST_MEMORY: &str = "3000000";

pub fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// A place with the demonstration pack, a script beside it, and an empty folder to run in.
pub struct Place {
    pub folder: TempDir,
}

/// What came of a run.
pub struct Ran {
    pub code: Option<i32>,
    pub err: String,
    pub took: Duration,
    pub allowed: Duration,
}

impl Place {
    pub fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let place = Self { folder };
        std::fs::create_dir_all(place.path("priors/tidewheel")).unwrap();
        std::fs::create_dir(place.path("empty")).unwrap();
        for entry in std::fs::read_dir(here("priors/tidewheel")).unwrap() {
            let entry = entry.unwrap();
            let to = place.path("priors/tidewheel").join(entry.file_name());
            std::fs::copy(entry.path(), to).unwrap();
        }
        std::fs::write(place.path("neighbour.rhai"), "fn secret() { 1 }").unwrap();
        place
    }

    pub fn path(&self, path: &str) -> PathBuf {
        self.folder.path().join(path)
    }

    pub fn write(&self, name: &str, content: &[u8]) {
        std::fs::write(self.path(name), content).unwrap();
    }

    /// Runs a script, within the memory of [`MOST_MEMORY`] where the system can see to that; nothing may have changed
    /// afterwards.
    pub fn run(&self, script: &str) -> Ran {
        self.run_within(TIME_LIMIT, script)
    }

    pub fn run_within(&self, time_limit: Duration, script: &str) -> Ran {
        self.run_with(time_limit, script, &[])
    }

    pub fn run_with(&self, time_limit: Duration, script: &str, arguments: &[&str]) -> Ran {
        let before = contents(self.folder.path());
        let program = env!("CARGO_BIN_EXE_saggar");
        let mut command = if cfg!(target_os = "linux") {
            let mut shell = Command::new("sh");
            shell.args([
                "-c",
                &format!("ulimit -v {MOST_MEMORY}; exec \"$@\""),
                "sh",
                program,
            ]);
            shell
        } else {
            Command::new(program)
        };
        command
            .arg("run")
            .arg(self.path(script))
            .arg("--priors")
            .arg(self.path("priors"))
            .args(["--time-limit", &time_limit.as_secs().to_string()])
            .args(["--threads", "2"])
            .args(arguments)
            .current_dir(self.path("empty"));
        let start = Instant::now();
        // One that does not end is killed, and then has no exit code.
        let output = assert_cmd::Command::from_std(command)
            .timeout(time_limit + GRACE)
            .output()
            .unwrap();
        let took = start.elapsed();
        assert_eq!(
            contents(self.folder.path()),
            before,
            "something was written"
        );
        Ran {
            code: output.status.code(),
            err: String::from_utf8(output.stderr).unwrap(),
            took,
            allowed: time_limit + GRACE,
        }
    }
}

/// Every file below a folder with its content, and every folder.
pub fn contents(folder: &Path) -> BTreeMap<PathBuf, Option<Vec<u8>>> {
    let mut found = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(path) = open.pop() {
        let kind = std::fs::symlink_metadata(&path).unwrap();
        if kind.is_dir() {
            open.extend(std::fs::read_dir(&path).unwrap().map(|e| e.unwrap().path()));
            found.insert(path, None);
        } else if kind.is_file() {
            let content = std::fs::read(&path).unwrap();
            found.insert(path, Some(content));
        }
    }
    found
}

/// What is wrong with how a run ended; nothing if all is as it should be.
pub fn complaints(ran: &Ran, code: i32, words: &str) -> Vec<String> {
    let mut wrong = Vec::new();
    if ran.code != Some(code) {
        wrong.push(format!("exit {:?} instead of {code}", ran.code));
    }
    if !words.split(" or ").any(|w| ran.err.contains(w)) {
        wrong.push(format!("nothing of: {words}"));
    }
    if !ran.err.starts_with("error") {
        wrong.push("no error is told first".to_owned());
    }
    for word in [
        "panicked",
        "overflowed its stack",
        "memory allocation",
        "RUST_BACKTRACE",
    ] {
        if ran.err.contains(word) {
            wrong.push(format!("says {word}"));
        }
    }
    if ran.err.len() > LONGEST_MESSAGE {
        wrong.push(format!("a message of {} bytes", ran.err.len()));
    }
    if ran.took >= ran.allowed {
        wrong.push(format!("took {:?}", ran.took));
    }
    wrong
}

#[track_caller]
pub fn check(ran: &Ran, code: i32, words: &str) {
    let wrong = complaints(ran, code, words);
    assert!(wrong.is_empty(), "{}\n{}", wrong.join(", "), ran.err);
}
