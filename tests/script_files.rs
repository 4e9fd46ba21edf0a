//! What a script is given: arguments, tables to read, a folder to write to, values with units, and numbers that do not surprise.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

mod outside;

use std::path::PathBuf;

use outside::Ran;
use tempfile::TempDir;

/// A folder with a script in it.
struct Place {
    folder: TempDir,
}

impl Place {
    fn new(script: &str) -> Self {
        let place = Self {
            folder: tempfile::tempdir().unwrap(),
        };
        std::fs::write(place.path("script.rhai"), script).unwrap();
        place
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn with(self, name: &str, text: &str) -> Self {
        std::fs::write(self.path(name), text).unwrap();
        self
    }

    fn run(&self, arguments: &[&str]) -> Ran {
        let path = self.path("script.rhai");
        outside::run(&[&["run", path.to_str().unwrap()], arguments].concat())
    }
}

/// What a script prints, a line each.
#[track_caller]
fn prints(script: &str, expected: &[&str]) {
    let ran = Place::new(script).run(&[]);
    let lines: Vec<&str> = ran.out.lines().filter(|line| !line.is_empty()).collect();
    assert_eq!(
        (ran.code, ran.err.as_str(), lines.as_slice()),
        (0, "", expected)
    );
}

/// The message of a script that fails, without the place.
#[track_caller]
fn fails(script: &str, words: &str) {
    let ran = Place::new(script).run(&[]);
    assert_eq!(ran.code, 4, "{script}: {}", ran.out);
    assert!(ran.err.contains(words), "{script}: {}", ran.err);
}

#[test]
fn arguments_reach_the_script() {
    let place = Place::new("for arg in args { print(arg); } print(args.len());");
    let ran = place.run(&["--", "K07", "--odd words", "é"]);
    assert_eq!(
        (ran.code, ran.out.as_str()),
        (0, "K07\n--odd words\né\n3\n")
    );
    assert_eq!(place.run(&[]).out, "0\n");
    fails("args = [];", "constant");
}

#[test]
fn a_batch_from_a_table() {
    let script = "
        let pack = open_pack(\"tidewheel\");
        let out = \"\";
        for row in read_csv(\"pieces.csv\") {
            let jug = pack.piece(row.title).saw(\"size\", row.size).saw(\"print\", \"clear\");
            if row.wheel != \"\" { jug = jug.saw(\"wheel\", row.wheel); }
            out += `${row.title}: ${jug.verdict().leader}` + \"\\n\";
        }
        write_text(\"out.md\", out);
        print(read_csv(\"pieces.csv\").columns);
    ";
    let place = Place::new(script).with(
        "pieces.csv",
        "title , size, wheel\n\"a jug, chipped\",IV,12\nanother,VI,\n",
    );
    let granted = tempfile::tempdir().unwrap();
    let ran = place.run(&["--write", granted.path().to_str().unwrap()]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    assert_eq!(ran.out, "[\"title\", \"size\", \"wheel\"]\n");
    let written = std::fs::read_to_string(granted.path().join("out.md")).unwrap();
    assert_eq!(written.lines().count(), 2);
    assert!(
        written.starts_with("a jug, chipped: K05\nanother: K"),
        "{written}"
    );
    // Nothing unfinished is left beside it, and a second run takes its place.
    place.run(&["--write", granted.path().to_str().unwrap()]);
    let names: Vec<_> = std::fs::read_dir(granted.path())
        .unwrap()
        .map(|e| e.unwrap().file_name())
        .collect();
    assert_eq!(names, ["out.md"]);
    // The same table is there for nobody else.
    let elsewhere = tempfile::tempdir().unwrap();
    let ran = place.run(&["--read", elsewhere.path().to_str().unwrap()]);
    assert_eq!(ran.code, 4);
    assert!(
        ran.err.contains("there is no file `pieces.csv`"),
        "{}",
        ran.err
    );
}

/// Folders below the one granted are made as they are needed.
#[test]
fn a_folder_for_every_lot() {
    let place = Place::new(
        "for lot in [\"1\", \"2\"] { write_text(`lots/${lot}/note.md`, lot); } write_text(\"lots/1/more.md\", \"\");",
    );
    let granted = tempfile::tempdir().unwrap();
    let ran = place.run(&["--write", granted.path().to_str().unwrap()]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    let note =
        |lot: &str| std::fs::read_to_string(granted.path().join("lots").join(lot).join("note.md"));
    assert_eq!(
        (note("1").unwrap(), note("2").unwrap()),
        ("1".to_owned(), "2".to_owned())
    );
}

/// A table that cannot be read says why.
#[test]
fn tables_that_are_none() {
    for (table, said) in [
        ("a,b\n1,\"never closed\n2,3\n", "a \" is not closed"),
        ("", "`pieces.csv` is empty"),
        ("\n \n", "`pieces.csv` is empty"),
    ] {
        let place = Place::new("read_csv(\"pieces.csv\");").with("pieces.csv", table);
        let ran = place.run(&[]);
        assert_eq!(ran.code, 4, "{table:?}");
        assert!(ran.err.contains(said), "{table:?}: {}", ran.err);
    }
}

#[test]
fn whole_numbers_and_others_are_the_same() {
    prints(
        "print(7 / 2); print(6 / 2); print(7 % 2); print(-7 / 2); print(6.0 / 4); let a = 9; a = a / 2; print(a); a = 9; a /= 2; print(a); a /= 3; print(a); a = 2; a **= -1; print(a);
         print([10, 20, 30][4 / 2]); print(2 ** 10); print(2 ** -1); print(3 == 3.0);",
        &["3.5", "3", "1", "-3.5", "1.5", "4.5", "4.5", "1.5", "0.5", "30", "1024", "0.5", "true"],
    );
    prints(
        "print(sqrt(4)); print(ln(1)); print(exp(0)); print(log(8, 2)); print(log(1000)); print(round(2.5)); print(floor(7 / 2));",
        &["2.0", "0.0", "1.0", "3.0", "3.0", "3.0", "3.0"],
    );
    fails("1 / 0", "1 / 0 is a division by zero");
    fails("1.5 / 0", "1.5 / 0 is a division by zero");
    fails("let a = 9; a /= 0;", "9 / 0 is a division by zero");
    fails("let a = 9.5; a /= 0.0;", "9.5 / 0 is a division by zero");
    fails("sqrt(-1)", "`sqrt(-1)` is no finite number");
    fails("ln(0)", "`ln(0)` is no finite number");
    let noted = |wheel: &str| {
        let script = format!(
            "show(open_pack(\"tidewheel\").piece(\"a jug\").saw(\"size\", \"IV\").saw(\"print\", \"clear\").saw(\"wheel\", {wheel}));"
        );
        let ran = Place::new(&script).run(&[]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        ran.out
    };
    assert_eq!(noted("10"), noted("10.0"));
    assert_eq!(noted("10"), noted("20 / 2"));
    assert_eq!(noted("10"), noted("\"10\""));
}

#[test]
fn quantities_say_what_their_texts_say() {
    prints(
        "print(1.84.kg); print(738.g); print(350.mm); print(8.lb + 13.oz); print(1.kg + 200.g); print(1.84.kg - 310.g);
         print(738.g.give_or_take(1.g)); print(2.inch); print(2 * 3.cm); print(1.kg / 4); print(738.g / 369.g);
         print(1000.g == 1.kg); print(738.g < 1.lb); print(`it weighs ${738.g}`); print(digits((8.lb + 13.oz).in_unit(\"g\"), 6));",
        &[
            "1.84 kg", "738 g", "350 mm", "8 lb 13 oz", "1200 g", "1530 g", "738 g ± 1 g", "2 in", "6 cm", "250 g", "2.0",
            "true", "false", "it weighs 738 g",
            // 8 lb of 453.59237 g and 13 oz of 28.349523125 g: units.rs.
            "3997.282761",
        ],
    );
    fails(
        "1.kg + 1.mm",
        "`1 kg` and `1 mm` cannot be added: the one is a mass, the other a length",
    );
    fails("1.kg - 2.kg", "is not a quantity above zero");
    fails("1.kg.in_unit(\"mm\")", "`mm` is no unit of mass");
    let noted = |weighed: &str| {
        let script = format!(
            "show(open_pack(\"tidewheel\").piece(\"a jug\").saw(\"size\", \"IV\").weighs({weighed}).verdict());"
        );
        let ran = Place::new(&script).run(&["--json"]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        ran.out
    };
    assert_eq!(noted("738.g"), noted("\"738 g\""));
    assert_eq!(noted("1.lb + 10.oz"), noted("\"1 lb 10 oz\""));
    assert_eq!(noted("738.g.give_or_take(1.g)"), noted("\"738 g ± 1 g\""));
    fails(
        "open_pack(\"tidewheel\").piece(\"a jug\").saw(\"size\", \"IV\").weighs(738)",
        "a mass is a quantity, not a number without a unit",
    );
    fails(
        "open_pack(\"tidewheel\").piece(\"a jug\").saw(\"size\", \"IV\").weighs(35.cm)",
        "`35 cm` is a length, and a mass is wanted here",
    );
}

#[test]
fn odds_and_dates_say_what_their_texts_say() {
    prints(
        "print(odds(3, 1)); print(odds(3, 1).chance); print(odds(3, 1) == odds(6, 2)); print(dates(\"1836~/1871\"));
         print(dates(\"186X\").first_year); print(dates(\"1891/..\").last_year == ()); print(dates(\"1836~/1871\").last_year);",
        &["3:1", "0.75", "true", "1836~/1871", "1860", "true", "1871"],
    );
    fails("odds(3, -1)", "odds");
    fails("dates(\"about 1836\")", "about 1836");
    let verdict = |noted: &str| {
        let script = format!(
            "show(open_pack(\"tidewheel\").piece(\"a jug\"){noted}.verdict().log_evidence);"
        );
        let ran = Place::new(&script).run(&[]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        ran.out
    };
    assert_eq!(
        verdict(".sure(\"tint\", \"blue\", odds(4, 1))"),
        verdict(".sure(\"tint\", \"blue\", \"80%\")")
    );
    // In the order of the pack's states where a pack has just these, and by name where none has.
    prints(
        "let pack = open_pack(\"tidewheel\"); print(pack.states(\"tint\"));
         print(after_seeing(#{ blue: 0.25, white: 0.25, \"faint blue\": 0.25, \"grey-cream\": 0.25 }, 4, #{}));",
        &[
            "[\"white\", \"faint blue\", \"blue\", \"grey-cream\"]",
            "say = { \"white\" = \"1 in 4\", \"faint blue\" = \"1 in 4\", \"blue\" = \"1 in 4\", \"grey-cream\" = \"1 in 4\" }, seen = 4",
        ],
    );
    prints(
        "print(after_seeing(#{ white: odds(1, 3), blue: \"3:1\" }, 20, #{ blue: 4 }));",
        &["say = { \"blue\" = \"19 in 24\", \"white\" = \"5 in 24\" }, seen = 24"],
    );
    let dated = |date: &str| {
        let script = format!(
            "show(open_pack(\"dated_ware\").piece(\"a plate\").dated(\"inscription\", {date}));"
        );
        let priors = tempfile::tempdir().unwrap();
        for (from, to) in [
            ("tests/packs/dated_ware", "dated_ware"),
            ("priors/rules", "rules"),
        ] {
            std::fs::create_dir(priors.path().join(to)).unwrap();
            let from = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(from);
            for entry in std::fs::read_dir(from).unwrap() {
                let entry = entry.unwrap();
                std::fs::copy(entry.path(), priors.path().join(to).join(entry.file_name()))
                    .unwrap();
            }
        }
        let ran = Place::new(&script).run(&["--priors", priors.path().to_str().unwrap()]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        ran.out
    };
    assert_eq!(dated("dates(\"1846~\")"), dated("\"1846~\""));
    assert_eq!(dated("1846"), dated("\"1846\""));
}

#[test]
fn results_print_as_they_are_shown() {
    let jug = "let jug = open_pack(\"tidewheel\").piece(\"a jug\").saw(\"size\", \"IV\").saw(\"tint\", \"blue\");";
    let out = |last: &str| {
        let ran = Place::new(&format!("{jug} {last}")).run(&[]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        ran.out
    };
    for result in [
        "jug.verdict()",
        "jug.audit()",
        "jug.contrasts()",
        "jug.stress(20)",
        "jug",
    ] {
        // A result has an empty line behind it, a text has none.
        assert_eq!(
            out(&format!("print({result});")) + "\n",
            out(&format!("show({result});")),
            "{result}"
        );
        assert_eq!(
            out(&format!("print(`${{{result}}}`);")) + "\n",
            out(&format!("show({result});")),
            "{result}"
        );
    }
}

#[test]
fn what_may_have_been_meant() {
    let with_jug = |last: &str| {
        format!("let jug = open_pack(\"tidewheel\").piece(\"a jug\").saw(\"size\", \"IV\"); {last}")
    };
    for (script, words) in [
        ("jgu.verdict()", "did you mean `jug`?"),
        ("jug.verdict().leadr", "did you mean `leader`?"),
        ("jug.verdict", "it is called: piece.verdict() -> verdict"),
        ("jug.verdct()", "did you mean `verdict`?"),
        (
            "jug.verdict().saw(\"tint\", \"blue\")",
            "`saw` belongs to a piece, not to a verdict",
        ),
        ("jug.saw(\"tint\")", "it takes: saw(clue, state)"),
        ("\"abc\".lenn()", "did you mean `len`?"),
        ("let map = #{ a: 1 }; map.b", "the map has no entry `b`"),
        (
            "1.kg + 2",
            "`+` cannot stand between a quantity and a whole number",
        ),
        (
            "fn twice(x) { x * 2 } twice(1, 2)",
            "the script has: fn twice(x)",
        ),
        ("tables::row()", "nothing is imported as `tables`"),
    ] {
        fails(&with_jug(script), words);
    }
}

#[test]
fn lists_in_order() {
    let out = |script: &str| {
        let ran = Place::new(script).run(&[]);
        assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{script}");
        ran.out
    };
    for (list, sorted) in [
        ("[3, 1.5, 2]", "[1.5, 2, 3]"),
        ("[\"b\", \"a\"]", "[\"a\", \"b\"]"),
        ("[3.kg, 1500.g]", "[\"1500 g\", \"3 kg\"]"),
        ("[[2, 1], [1, 5], [1, 4]]", "[[1, 4], [1, 5], [2, 1]]"),
        ("[odds(3, 1), 0.5]", "[0.5, \"3:1\"]"),
        ("[]", "[]"),
    ] {
        let script = format!("let list = {list}; list.sort(); show(list);");
        assert_eq!(out(&script).trim(), sorted, "{list}");
    }
    // By a number with a fraction, by true or false; equal entries stay as they stood.
    let by = |function: &str| {
        out(&format!(
            "fn by(a, b) {{ {function} }} let list = [[\"a\", 0.25], [\"b\", 0.5], [\"c\", 0.25]]; list.sort(by); for row in list {{ print(row[0]); }}"
        ))
    };
    assert_eq!(by("b[1] - a[1]"), "b\na\nc\n");
    assert_eq!(by("a[1] > b[1]"), "b\na\nc\n");
    for (function, words) in [
        ("a.weight - b.weight", "error"),
        ("\"first\"", "gives a number or true or false, not a text"),
        ("throw \"no order\"", "no order"),
    ] {
        fails(
            &format!("fn by(a, b) {{ {function} }} let list = [1, 2]; list.sort(by);"),
            words,
        );
    }
    fails(
        "[1, \"a\"].sort();",
        "a text and a whole number have no order",
    );
}

#[test]
fn unlike_values_compared() {
    let out = |script: &str| Place::new(&format!("print({script});")).run(&[]).out;
    for (question, answer) in [
        ("odds(3, 1) > 0.5", "true"),
        ("0.8 < odds(3, 1)", "false"),
        ("odds(3, 1) == \"75%\"", "true"),
        ("odds(3, 1) == odds(6, 2)", "true"),
        ("1.kg == \"1000 g\"", "true"),
        ("\"2 lb\" > 1.kg", "false"),
        ("1.kg == ()", "false"),
    ] {
        assert_eq!(out(question).trim(), answer, "{question}");
    }
    for question in ["1.kg == 1.cm", "1.kg > 1", "dates(\"1836\") == 1836"] {
        fails(&format!("{question};"), "cannot be compared");
    }
}

#[test]
fn what_is_not_kept_is_warned_of() {
    let jug = "let jug = open_pack(\"tidewheel\").piece(\"x\");";
    let warned = |script: &str| {
        let ran = Place::new(&format!("{jug} {script}")).run(&[]);
        assert_eq!(ran.code, 0, "{}", ran.err);
        ran.err.matches("warning[script::not-kept]").count()
    };
    assert_eq!(warned("jug.saw(\"tint\", \"blue\"); print(jug.title);"), 1);
    assert_eq!(warned("for i in 0..2 { jug.saw(\"tint\", \"blue\"); }"), 1);
    assert_eq!(warned("jug.saw(\"tint\", \"blue\")"), 0);
    assert_eq!(
        warned("let other = jug.saw(\"tint\", \"blue\"); other.verdict();"),
        0
    );
    assert_eq!(warned(&"jug.saw(\"tint\", \"blue\"); ".repeat(9)), 3);
}

/// The same rows again, not the file once more: otherwise a loop would fill the memory before anybody looked.
#[test]
fn a_table_read_without_end() {
    let mut table = (0..900)
        .map(|n| format!("c{n}"))
        .collect::<Vec<_>>()
        .join(",");
    for _ in 0..4000 {
        table += "\n";
        table += &",".repeat(899);
    }
    let script = "let all = []; loop { all.push(read_csv(\"wide.csv\")); }";
    let ran = Place::new(script).with("wide.csv", &table).run(&[]);
    assert_eq!(ran.code, 4);
    assert!(ran.err.contains("a list grows too long"), "{}", ran.err);
    let ran = Place::new("read_csv(\"t.csv\")[0]")
        .with("t.csv", "a;b\n1;2\n")
        .run(&[]);
    assert!(ran.err.contains("is divided by semicolons"), "{}", ran.err);
}
