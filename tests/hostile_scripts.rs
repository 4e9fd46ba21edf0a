//! Scripts from a stranger: whatever they try, the program ends in time with a message, and nothing is read or written that
//! was not granted.
//!
//! A case is a script in `hostile_scripts/cases`: a first line that says what it tries, then `// exit CODE: WORDS` with the
//! exit code and words of the message (`A or B` where it depends on the machine which of two limits comes first).
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use tempfile::TempDir;

/// For scripts that may end by it.
const TIME_LIMIT: Duration = Duration::from_secs(5);
/// For scripts that another limit must end, however slow the machine.
const PATIENCE: Duration = Duration::from_secs(120);
/// Starting, compiling and ending, with the machine busy.
const GRACE: Duration = Duration::from_secs(10);
/// Messages are for people.
const LONGEST_MESSAGE: usize = 4_000;
/// Kilobytes of address space a case may ask for: what scripts may take, and the stack, and the program itself.
const MOST_MEMORY: &str = "3000000";

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

/// A place with the demonstration pack, a script beside it, and an empty folder to run in.
struct Place {
    folder: TempDir,
}

/// What came of a run.
struct Ran {
    code: Option<i32>,
    err: String,
    took: Duration,
    allowed: Duration,
}

impl Place {
    fn new() -> Self {
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

    fn path(&self, path: &str) -> PathBuf {
        self.folder.path().join(path)
    }

    fn write(&self, name: &str, content: &[u8]) {
        std::fs::write(self.path(name), content).unwrap();
    }

    /// Runs a script, within the memory of [`MOST_MEMORY`] where the system can see to that; nothing may have changed
    /// afterwards.
    fn run(&self, script: &str) -> Ran {
        self.run_within(TIME_LIMIT, script)
    }

    fn run_within(&self, time_limit: Duration, script: &str) -> Ran {
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
fn contents(folder: &Path) -> BTreeMap<PathBuf, Option<Vec<u8>>> {
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
fn complaints(ran: &Ran, code: i32, words: &str) -> Vec<String> {
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
fn check(ran: &Ran, code: i32, words: &str) {
    let wrong = complaints(ran, code, words);
    assert!(wrong.is_empty(), "{}\n{}", wrong.join(", "), ran.err);
}

#[test]
fn each_case_ends_with_its_message() {
    let mut failed = Vec::new();
    let mut n_cases = 0;
    for entry in std::fs::read_dir(here("tests/hostile_scripts/cases")).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        let text = std::fs::read_to_string(&path).unwrap();
        let expected = text.lines().nth(1).and_then(|l| l.strip_prefix("// exit "));
        let (code, words) = expected.and_then(|e| e.split_once(": ")).expect(&name);
        let place = Place::new();
        place.write(&name, text.as_bytes());
        let may_run_out = words.contains("time limit");
        let ran = place.run_within(if may_run_out { TIME_LIMIT } else { PATIENCE }, &name);
        let mut wrong = complaints(&ran, code.parse().unwrap(), words);
        let underlined = format!("{name}:");
        // Which step is the last one depends on the machine's speed, and Rhai knows no place for some of them.
        let shows = ran.err.contains('^') || ran.err.contains("at work on an entry of a list");
        if !ran.err.contains(&underlined) || !shows {
            wrong.push("does not show the place".to_owned());
        }
        if !wrong.is_empty() {
            let shown: String = ran.err.chars().take(600).collect();
            failed.push(format!("{name}: {}\n{shown}", wrong.join(", ")));
        }
        n_cases += 1;
    }
    assert!(failed.is_empty(), "{}", failed.join("\n"));
    assert!(n_cases >= 50, "only {n_cases}");
}

/// Nesting without end, each kind of it: the parser and the evaluation recurse on the machine's stack.
#[test]
fn deep_and_many() {
    let place = Place::new();
    let many = |what: fn(usize) -> String| (0..5000).map(what).collect::<String>();
    let nested = |open: &str, middle: &str, close: &str, n: usize| {
        format!("let a = {}{middle}{};", open.repeat(n), close.repeat(n))
    };
    let deep = "too deep in one another";
    for (name, text, words) in [
        ("brackets", nested("(", "1", ")", 100_000), deep),
        ("lists", nested("[", "1", "]", 100_000), deep),
        ("maps", nested("#{ a: ", "1", "}", 100_000), deep),
        ("texts", nested("`${", "1", "}`", 5_000), deep),
        ("calls", nested("print(", "1", ")", 10_000), deep),
        ("minus", nested("- ", "1", "", 100_000), deep),
        ("not", nested("!", "true", "", 100_000), deep),
        ("sum", nested("1 + ", "1", "", 100_000), deep),
        ("properties", nested("", "#{}", ".b", 100_000), deep),
        ("entries", nested("", "[]", "[0]", 100_000), deep),
        ("blocks", "{".repeat(100_000), deep),
        (
            "else_if",
            format!(
                "let a = 1; if a == 2 {{}} {}",
                "else if a == 2 {} ".repeat(50_000)
            ),
            deep,
        ),
        (
            "variables",
            many(|i| format!("let v{i} = 1;\n")),
            "too many variables",
        ),
        (
            "functions",
            many(|i| format!("fn v{i}() {{}}\n")),
            "too many functions",
        ),
    ] {
        let name = format!("{name}.rhai");
        place.write(&name, text.as_bytes());
        let ran = place.run_within(PATIENCE, &name);
        let wrong = complaints(&ran, 4, words);
        assert!(
            wrong.is_empty(),
            "{name}: {}\n{}",
            wrong.join(", "),
            ran.err
        );
    }
}

#[test]
fn a_script_that_is_a_folder() {
    let place = Place::new();
    std::fs::create_dir(place.path("folder.rhai")).unwrap();
    check(&place.run("folder.rhai"), 3, "it is a folder, not a file");
}

#[test]
fn a_script_that_is_not_text() {
    let place = Place::new();
    place.write("latin.rhai", b"print(1);\nprint(\"caf\xe9\");\n");
    check(
        &place.run("latin.rhai"),
        3,
        "is not UTF-8 text: byte 0xE9 at line 2, byte 11",
    );
    place.write(
        "bytes.rhai",
        &(0..=255).cycle().take(10_000).collect::<Vec<u8>>(),
    );
    check(&place.run("bytes.rhai"), 3, "is not UTF-8 text");
    place.write("wide.rhai", b"\xff\xfep\0r\0i\0n\0t\0");
    check(&place.run("wide.rhai"), 3, "UTF-16");
    place.write("nulls.rhai", &[0; 1000]);
    check(&place.run("nulls.rhai"), 4, "error[script::syntax]");
    place.write("null_inside.rhai", b"let a = 1;\0 let b = 2;");
    check(&place.run("null_inside.rhai"), 4, "null_inside.rhai:1:11");
}

#[test]
fn a_script_of_one_long_line() {
    let place = Place::new();
    let ten_megabytes = format!("let a = \"{}\";", "x".repeat(10_000_000));
    place.write("long.rhai", ten_megabytes.as_bytes());
    check(&place.run("long.rhai"), 3, "at most 4194304 are read");
    // Short enough to be read, and each too much in its own way.
    for (name, text) in [
        (
            "text.rhai",
            format!("let a = \"{}\";", "x".repeat(4_000_000)),
        ),
        (
            "list.rhai",
            format!("let a = [{}];", "1,".repeat(2_000_000)),
        ),
        (
            "statements.rhai",
            format!("{} no_such_thing();", "print(1);".repeat(400_000)),
        ),
        (
            "name.rhai",
            format!("let {} = 1; no_such_thing();", "x".repeat(4_000_000)),
        ),
        ("garbage.rhai", "@".repeat(4_000_000)),
    ] {
        place.write(name, text.as_bytes());
        check(&place.run(name), 4, "error[script::");
    }
}

/// A pack reached by a link is a pack outside, and so is a file of a pack reached by a link: a message about it would show
/// what is in it.
#[cfg(unix)]
#[test]
fn links_out_of_the_folder() {
    use std::os::unix::fs::symlink;

    let place = Place::new();
    let outside = tempfile::tempdir().unwrap();
    std::fs::rename(place.path("priors/tidewheel"), outside.path().join("pack")).unwrap();
    symlink(outside.path().join("pack"), place.path("priors/linked")).unwrap();
    place.write("open.rhai", b"open_pack(\"linked\");");
    check(
        &place.run("open.rhai"),
        4,
        "`linked` leads outside the folder of packs",
    );

    let place = Place::new();
    let secret = outside.path().join("secret.toml");
    std::fs::write(&secret, "password = [hunter2").unwrap();
    let file = place.path("priors/tidewheel/pack.toml");
    std::fs::remove_file(&file).unwrap();
    symlink(&secret, &file).unwrap();
    place.write("open.rhai", b"open_pack(\"tidewheel\");");
    let ran = place.run("open.rhai");
    check(
        &ran,
        4,
        "`tidewheel/pack.toml` leads outside the folder of packs",
    );
    assert!(!ran.err.contains("hunter2"), "{}", ran.err);

    // The rules files beside a pack are read with it.
    let place = Place::new();
    std::fs::create_dir(place.path("priors/rules")).unwrap();
    symlink(&secret, place.path("priors/rules/laws.toml")).unwrap();
    place.write("open.rhai", b"open_pack(\"tidewheel\");");
    let ran = place.run("open.rhai");
    check(
        &ran,
        4,
        "`rules/laws.toml` leads outside the folder of packs",
    );
    assert!(!ran.err.contains("hunter2"), "{}", ran.err);

    // A link that stays inside is none of this.
    let place = Place::new();
    symlink(place.path("priors/tidewheel"), place.path("priors/again")).unwrap();
    place.write("open.rhai", b"open_pack(\"again\");");
    let ran = place.run("open.rhai");
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
}
