//! What people write who have never programmed, and what they are told: one snapshot, read as a table.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

mod outside;

use std::fmt::Write as _;

/// Lines that go wrong, behind one that opens a pack and one that describes a jug.
const SLIPS: [&str; 69] = [
    "jug.saw('tint', 'blue')",
    "jug.saw(“tint”, “blue”)",
    "jug.saw(\"tint\" \"blue\")",
    "jug.saw(\"tint, \"blue\")",
    "jug.saw(\"tint\", \"blue\"",
    "jug.weighs(760 g)",
    "jug.weighs(\"0,76 kg\")",
    "jug.weighs(3.inch)",
    "jug.sure(\"tint\", \"blue\", 80%)",
    "jug.sure(\"tint\", \"blue\", \"nearly always\")",
    "jug.unsure(\"technique\", #{ line: 0.7, line+stipple: 0.3 })",
    "jug.unsure(\"technique\", { \"line\": 0.7 })",
    "jug.unsure(\"tint\", #{ faint blue: 0.5 })",
    "jug.saw(\"mark\", \"modern\")",
    "jug.saw(\"mark\", \"none\")",
    "jug.verdict",
    "jug.verdict().words()",
    "pack.verdict()",
    "jug.verdict() > 0.5",
    "1.kg > 0.5",
    "1 < \"2\"",
    "dates(\"1836\") < dates(\"1840\")",
    "let x = 5\nlet y = 6;",
    "let my jug = jug;",
    "let jug == 3;",
    "let in = 3;",
    "let match = 3;",
    "const x = 5; x = 6;",
    "x = 6;",
    "var x = 5;",
    "Let x = 5;",
    "print \"hello\";",
    "print(\"a\", \"b\");",
    "# a note\nprint(1);",
    "/* a note\nprint(1);",
    "for i in 1 to 3 { print(i); }",
    "if jug { print(1); }",
    "print(true and false);",
    "if true { print(1); }}",
    "if true { print(1);",
    "fn f(x) { pack.piece(x) } f(\"a\")",
    "import \"tables\" as tables; tables.row(1)",
    "[1, 2].length()",
    "[1, 2][2]",
    "kg(3)",
    "timestamp()",
    "if jug.probability(\"K07\") > 50% { print(1); }",
    "jug.probability(years(\"1850-1869\"))",
    "jug.probability(years(\"1850–1869\"))",
    "pack.makers().map(maker)",
    "[2, 1].sort(late); fn late(a, b) { a > b }",
    "jug.weighs(\"1,345 g\")",
    "print(2024-03-31)",
    "jug.value(#{ purpose: \"sale\" })",
    "jug.report(#{ purpose: \"sale\" })",
    "jug.audit(\"K07\", \"K11\")",
    "jug.probability(maker(\"K07\") && period(\"P4\"))",
    "jug.weighs(\"745 g\").weighs(\"738 g\")",
    "plot(jug.plan(1))",
    "jug.vary(#{ tint: [\"blue\", \"blue\"] })",
    "jug.audit().decibans",
    "jug.verdict().probability",
    "jug.verdict().maker(\"Thackle & Umbre\")",
    "jug.verdict().period(\"1850-1859\")",
    "show(jug.verdict().rows, [\"nam\", \"probability\"])",
    "show([1, 2], [\"chance\"])",
    "pack.piece(\"a jug\\nand a line of its own\")",
    "jug.looking(#{ who: \"E. Rowan\\tK\" })",
    "write_text(\"a\\x1b.md\", \"\")",
];

#[test]
fn what_is_said_of_slips() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("slip.rhai");
    let mut table = String::new();
    for slip in SLIPS {
        let script = format!(
            "let pack = open_pack(\"tidewheel\");\nlet jug = pack.piece(\"a jug\").saw(\"size\", \"IV\");\n{slip}\n"
        );
        std::fs::write(&path, script).unwrap();
        let ran = outside::run(&["run", path.to_str().unwrap()]);
        let told = ran.err;
        let _ = writeln!(table, "{slip}");
        let said = told.lines().filter_map(|line| {
            let line = line.trim_start();
            let begins = ["error[", "warning[", "= hint: "];
            let said = begins.iter().any(|begins| line.starts_with(begins));
            let place = line
                .strip_prefix("--> ")
                .and_then(|place| place.split_once(".rhai:"));
            place
                .map(|(_, place)| format!("at {place}"))
                .or(said.then(|| line.to_owned()))
        });
        for said in said {
            let _ = writeln!(table, "      {said}");
        }
        // A warning does not end a script.
        let is_warned = ran.code == 0 && told.starts_with("warning[");
        assert!(ran.code == 4 || is_warned, "{slip}: {told}");
    }
    insta::assert_snapshot!("slips", table);
}
