//! The console from outside: from a pipe, and at a terminal.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "demonstration/edited_pack.rs"]
mod edited_pack;
mod outside;
#[cfg(unix)]
#[path = "console/terminal.rs"]
mod terminal;

use std::io::Write;
use std::path::Path;
use std::process::Stdio;

use outside::Ran;

const PACK: &str = "priors/tidewheel";

/// The console with these lines from a pipe.
fn piped(arguments: &[&str], lines: &str) -> Ran {
    let mut child = outside::saggar(&[&["console"], arguments].concat())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    child
        .stdin
        .take()
        .unwrap()
        .write_all(lines.as_bytes())
        .unwrap();
    outside::ran(child.wait_with_output().unwrap())
}

#[test]
fn a_piece_described_line_by_line() {
    let ran = piped(
        &[PACK],
        "let jug = pack.piece(\"a jug\")\n    .saw(\"size\", \"V\")\n    .saw(\"print\", \"blurred\");\n\
         jug = jug.saw(\"weathercock\", \"right\");\n\
         jug = jug.saw(\"foot\", \"recessed\")\n\
         jug.saw(\"tint\", \"blue\")\n\
         let other = jug.titled(\"other\");\n\
         2 + 2\n\
         [1, 2.5, \"a\"]\n\
         1.84.kg\n\
         fn twice(x) {\n    x * 2\n}\n\
         twice(4)\n\
         print(jug.verdict().leader)\n",
    );
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    insta::assert_snapshot!("line_by_line", ran.out);
}

#[test]
fn the_figures_are_those_of_the_verdict() {
    let noted = "pack.piece(\"a jug\").saw(\"size\", \"V\").saw(\"tint\", \"blue\")";
    let ran = piped(
        &[PACK],
        &format!(
            "let jug = {noted};\nprint(jug.verdict().leader + \" \" + digits(jug.verdict().maker(jug.verdict().leader), 2));\n"
        ),
    );
    let lines: Vec<&str> = ran.out.lines().collect();
    let (leader, probability) = lines[1].split_once(' ').unwrap();
    assert!(lines[0].starts_with("jug: "), "{}", ran.out);
    assert!(
        lines[0].contains(&format!("({leader}) {probability}, ")),
        "{}",
        ran.out
    );
}

#[test]
fn an_error_is_underlined_and_the_session_goes_on() {
    let ran = piped(
        &[PACK],
        "let jug = pack.piece(\"a jug\");\n\
         jug.saw(\"tnt\", \"blue\")\n\
         fn broken(x) {\n    x.nothing_of_the_kind()\n}\n\
         broken(1)\n\
         let a = 1; no_such_thing(a);\n\
         a + 1\n\
         jug.saw(\"size\", \"IV\"\n",
    );
    assert_eq!(ran.code, 4);
    insta::assert_snapshot!("errors", ran.err);
    assert_eq!(ran.out, "2\n");
}

#[test]
fn findings_that_contradict_each_other_are_told() {
    let ran = piped(
        &[PACK],
        "let jug = pack.piece(\"a jug\").unsure(\"tint\", #{ \"blue\": 1.0 }).believed(\"foot\", #{ \"single\": 1.0 });\n\
         jug = jug.saw(\"size\", \"IV\");\n1 + 1\n",
    );
    assert_eq!(ran.code, 0, "{}", ran.err);
    assert!(ran.out.lines().count() == 3, "{}", ran.out);
}

/// Each finding is shown where it was entered: in an entry of its own, or in a file that was imported.
#[test]
fn a_contradiction_names_the_entries() {
    let clash = edited_pack::edited_pack(
        "clues.toml",
        "few = \"4%\",  many = \"1%\" ",
        "few = \"5%\",  many = \"impossible\"",
    );
    let pack = clash.path().join("tidewheel");
    let scripts = tempfile::tempdir().unwrap();
    let marked = "fn marked(piece) {\n    piece.saw(\"search\", \"full\").saw(\"mark\", \"modern, full\")\n}\n";
    std::fs::write(scripts.path().join("marked.rhai"), marked).unwrap();
    let output = outside::saggar(&["console", pack.to_str().unwrap()])
        .current_dir(scripts.path())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .and_then(|mut child| {
            let lines = "fn twice(x) { x * 2 }\nimport \"marked\" as marks;\nlet jug = marks::marked(pack.piece(\"a jug\"));\n\
                         jug = jug.saw(\"inclusions\", \"many\");\njug.verdict()\n\
                         jug.saw(\"inclusions\", \"few\")\n";
            child.stdin.take().unwrap().write_all(lines.as_bytes())?;
            child.wait_with_output()
        })
        .unwrap();
    let ran = outside::ran(output);
    assert_eq!(ran.code, 4);
    let folder = scripts.path().canonicalize().unwrap();
    let told = ran.err.replace(folder.to_str().unwrap(), "FOLDER");
    insta::assert_snapshot!("contradiction_across_entries", told);
}

#[test]
fn every_entry_has_limits_of_its_own() {
    let ran = piped(
        &[PACK, "--time-limit", "1"],
        "loop {}\nlet a = 1;\nloop {}\na + 1\n",
    );
    let n_stopped = ran.err.matches("error[script::limit]").count();
    assert_eq!(
        (ran.code, n_stopped, ran.out.as_str()),
        (4, 2, "2\n"),
        "{}",
        ran.err
    );
}

#[test]
fn imports_and_functions_stay() {
    let ran = piped(
        &[PACK],
        "import \"tables\" as tables;\nfn wide(x) { tables::padded(x, 4) + \"|\" }\ntables::padded(\"a\", 3) + \"|\"\nwide(\"b\")\n",
    );
    assert_eq!(
        (ran.code, ran.out.as_str(), ran.err.as_str()),
        (0, "a  |\nb   |\n", "")
    );
}

#[test]
fn help_in_a_pipe() {
    let ran = piped(&[PACK], "help\nhelp saw\nhelp worth\nhelp sawn\n");
    assert!(ran.out.contains("`help NAME` explains"), "{}", ran.out);
    assert!(
        ran.out
            .contains("example: jug.saw(\"tint\", \"faint blue\")"),
        "{}",
        ran.out
    );
    assert!(
        ran.out.contains("Worth: What a piece is worth"),
        "{}",
        ran.out
    );
    assert_eq!(
        ran.err,
        "error: there is no function or topic `sawn`; `help` lists them\n"
    );
}

#[test]
fn a_pack_that_is_not_there() {
    let ran = piped(&["priors/nothing"], "");
    assert_eq!(ran.code, 3);
    assert!(
        ran.err
            .starts_with("error: cannot open the pack `priors/nothing`: "),
        "{}",
        ran.err
    );
    let empty = tempfile::tempdir().unwrap();
    let ran = piped(&[empty.path().to_str().unwrap()], "1\n");
    assert_eq!((ran.code, ran.out.as_str()), (3, ""), "{}", ran.err);
    assert!(Path::new(PACK).is_dir());
}
