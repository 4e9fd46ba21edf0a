//! Scripts from a stranger: whatever they try, the program ends in time with a message, and nothing is read or written that
//! was not granted.
//!
//! A case is a script in `hostile_scripts/cases`: a first line that says what it tries, then `// exit CODE: WORDS` with the
//! exit code and words of the message (`A or B` where it depends on the machine which of two limits comes first).
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "hostile_scripts/granted.rs"]
mod granted;
#[path = "hostile_scripts/place.rs"]
mod place;

use place::{PATIENCE, Place, TIME_LIMIT, check, complaints, here};

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
