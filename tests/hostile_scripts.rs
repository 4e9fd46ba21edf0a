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
        self.run_with(time_limit, script, &[])
    }

    fn run_with(&self, time_limit: Duration, script: &str, arguments: &[&str]) -> Ran {
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

/// Imports in a circle of two, in a long row, and with what an imported file does itself.
#[test]
fn imports_without_end() {
    let place = Place::new();
    place.write("one.rhai", b"import \"two\" as two;");
    place.write("two.rhai", b"\nimport \"one\" as one;");
    let ran = place.run_within(PATIENCE, "one.rhai");
    let circle = "imports go round in a circle: `two` imports `one` imports `two`";
    check(&ran, 4, circle);
    assert!(ran.err.contains("one.rhai:1:8"), "{}", ran.err);

    for i in 0..40 {
        let text = format!("import \"row{}\" as next;", i + 1);
        place.write(&format!("row{i}.rhai"), text.as_bytes());
    }
    place.write("row40.rhai", b"");
    let ran = place.run_within(PATIENCE, "row0.rhai");
    check(&ran, 4, "more than 16 files import one another in a row");

    let many: String = (0..70)
        .map(|i| format!("import \"many{i}\" as m{i};\n"))
        .collect();
    place.write("many.rhai", many.as_bytes());
    for i in 0..70 {
        place.write(&format!("many{i}.rhai"), b"");
    }
    let ran = place.run_within(PATIENCE, "many.rhai");
    check(&ran, 4, "a script may import 64 files");

    // The steps of all files count together, so that no file gives a script more.
    place.write("endless.rhai", b"loop {}");
    place.write(
        "import.rhai",
        b"loop { try { import \"endless\" as e; } catch {} }",
    );
    check(
        &place.run_within(PATIENCE, "import.rhai"),
        4,
        "steps and is stopped",
    );
}

/// An error in an imported file is shown where it is.
#[test]
fn errors_of_an_imported_file() {
    let place = Place::new();
    place.write("lib.rhai", b"fn broken(x) {\n    no_such_thing(x)\n}\n");
    place.write("call.rhai", b"import \"lib\" as lib;\nlib::broken(1);");
    let ran = place.run_within(PATIENCE, "call.rhai");
    check(&ran, 4, "there is no function `no_such_thing`");
    assert!(ran.err.contains("lib.rhai:2:5"), "{}", ran.err);

    place.write("lib.rhai", b"let a = ;\n");
    let ran = place.run_within(PATIENCE, "call.rhai");
    check(&ran, 4, "error[script::syntax]");
    assert!(ran.err.contains("lib.rhai:1:9"), "{}", ran.err);

    place.write("lib.rhai", b"\nthrow \"given up\";\n");
    let ran = place.run_within(PATIENCE, "call.rhai");
    check(&ran, 4, "given up");
    assert!(ran.err.contains("lib.rhai:2:1"), "{}", ran.err);

    // What is granted can be used.
    std::fs::create_dir(place.path("lib")).unwrap();
    place.write("lib/sums.rhai", b"fn twice(x) { x * 2 }");
    place.write(
        "good.rhai",
        b"import \"neighbour\" as n; import \"sums\" as s; print(s::twice(n::secret()));",
    );
    let ran = place.run_within(PATIENCE, "good.rhai");
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
}

/// Files reached by a link that leads out of the folder granted.
#[cfg(unix)]
#[test]
fn links_out_of_a_granted_folder() {
    use std::os::unix::fs::symlink;

    let place = Place::new();
    let outside = tempfile::tempdir().unwrap();
    let secret = outside.path().join("secret");
    std::fs::write(&secret, "password\nhunter2\n").unwrap();
    std::fs::create_dir(place.path("granted")).unwrap();
    let granted = place.path("granted");
    let grants = [
        "--read",
        granted.to_str().unwrap(),
        "--write",
        granted.to_str().unwrap(),
    ];

    symlink(&secret, place.path("granted/secret.csv")).unwrap();
    symlink(&secret, place.path("linked.rhai")).unwrap();
    symlink(outside.path(), place.path("granted/away")).unwrap();
    for (script, words) in [
        (
            "read_csv(\"secret.csv\");",
            "`secret.csv` leads outside the folder granted",
        ),
        (
            "read_csv(\"away/secret\");",
            "`away/secret` leads outside the folder granted",
        ),
        (
            "import \"linked\" as l;",
            "`linked` leads outside the folder of scripts",
        ),
        (
            "write_text(\"away/new\", \"x\");",
            "`away/new` leads outside the folder granted",
        ),
        (
            "write_text(\"../new\", \"x\");",
            "a file is named without `..`",
        ),
        (
            "write_text(\"/tmp/new\", \"x\");",
            "a file is named without `..`",
        ),
        ("write_text(\"away\", \"x\");", "`away` is a folder"),
        (
            "write_text(\"deeper/new\", \"x\");",
            "the folder it is to stand in must be there",
        ),
    ] {
        place.write("script.rhai", script.as_bytes());
        let ran = place.run_with(PATIENCE, "script.rhai", &grants);
        check(&ran, 4, words);
        assert!(!ran.err.contains("hunter2"), "{}", ran.err);
    }
    assert_eq!(std::fs::read_dir(outside.path()).unwrap().count(), 1);
}

/// Tables that are none, and a script that would fill the disk.
#[test]
fn tables_and_texts_beyond_all_measure() {
    let place = Place::new();
    let tables: [(&str, Vec<u8>, &str); 6] = [
        (
            "uneven",
            b"a,b\n1,2\n1,2,3\n".to_vec(),
            "line 3: 3 cells where the headings are 2",
        ),
        (
            "twice",
            b"a,a\n1,2\n".to_vec(),
            "two columns are called `a`",
        ),
        ("unnamed", b"a,\n1,2\n".to_vec(), "column 2 has no heading"),
        ("latin", b"a\ncaf\xe9\n".to_vec(), "is not UTF-8 text"),
        ("large", b"a\n".repeat(9 << 20), "at most 16777216 are read"),
        ("wide", b"a,".repeat(20_000), "columns; 1000 are read"),
    ];
    for (name, text, words) in tables {
        place.write(&format!("{name}.csv"), &text);
        place.write("read.rhai", format!("read_csv(\"{name}.csv\");").as_bytes());
        check(&place.run_within(PATIENCE, "read.rhai"), 4, words);
    }
    // A long table is no long list, and its rows end.
    place.write(
        "long.csv",
        format!("a,b\n{}", "1,2\n".repeat(200_000)).as_bytes(),
    );
    place.write(
        "read.rhai",
        b"let n = 0; let rows = read_csv(\"long.csv\"); for row in rows { n += 1; } if n != rows.len() { throw n; }",
    );
    let ran = place.run_within(PATIENCE, "read.rhai");
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
    place.write("row.rhai", b"read_csv(\"long.csv\")[200000];");
    check(
        &place.run_within(PATIENCE, "row.rhai"),
        4,
        "there is no row 200000: the table has 200000",
    );
}
