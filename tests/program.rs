//! The program from outside: what it prints, where, and with which exit code.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "demonstration/edited_pack.rs"]
mod edited_pack;

use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use edited_pack::edited_pack;
use serde_json::Value;
use tempfile::TempDir;

const ESCAPE: char = '\u{1b}';

/// The program, in the folder of the repository, with no wish about colour.
fn saggar(arguments: &[&str]) -> Command {
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
struct Ran {
    code: i32,
    out: String,
    err: String,
}

fn ran(output: Output) -> Ran {
    Ran {
        code: output.status.code().unwrap(),
        out: String::from_utf8(output.stdout).unwrap(),
        err: String::from_utf8(output.stderr).unwrap(),
    }
}

fn run(arguments: &[&str]) -> Ran {
    ran(saggar(arguments).output().unwrap())
}

/// Standard output of a run that must succeed silently.
#[track_caller]
fn succeeds(arguments: &[&str]) -> String {
    let ran = run(arguments);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""), "{arguments:?}");
    ran.out
}

/// A script of a test, in a folder of its own.
fn script(text: &str) -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("script.rhai");
    std::fs::write(&path, text).unwrap();
    (folder, path)
}

/// Runs a script that is wrong; standard error with the folder taken out.
#[track_caller]
fn fails(text: &str) -> String {
    let (folder, path) = script(text);
    let ran = run(&["run", path.to_str().unwrap()]);
    assert_eq!((ran.code, ran.out.as_str()), (4, ""), "{}", ran.err);
    redacted(&ran.err, folder.path())
}

fn redacted(text: &str, folder: &Path) -> String {
    text.replace(folder.to_str().unwrap(), "FOLDER")
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

/// A script that describes a piece can be asked anything from the command line, and what it shows itself is left out.
#[test]
fn a_described_piece_is_judged_from_the_command_line() {
    let script = "scripts/d2_partial_mark.rhai";
    let asked = [
        "judge",
        script,
        "--audit",
        "--about",
        "maker(\"K07\").against(maker(\"K11\"))",
        "--stress",
        "200",
        "--vary",
        "join",
    ];
    let asked: Vec<&str> = asked.to_vec();
    let text = succeeds(&asked);
    let heads: Vec<&str> = text.lines().filter(|line| line.starts_with("──")).collect();
    let kinds = ["AUDIT", "STRESS", "WHAT IF"];
    assert_eq!(heads.len(), kinds.len(), "{text}");
    assert!(
        heads
            .iter()
            .zip(kinds)
            .all(|(head, kind)| head.contains(kind)),
        "{heads:?}"
    );
    assert!(text.contains("question    K07 Thackle & Umber, against K11 Wrayling & Co."));
    // The same as a script that asks so.
    let own = succeeds(&["judge", script, "--audit", "--stress", "1000"]);
    let run = succeeds(&["run", script]);
    assert!(run.trim_end().ends_with(own.trim_end()), "{own}");
    // A JSON document, and every other question.
    let all = [
        "judge",
        script,
        "--json",
        "--verdict",
        "--explain",
        "20",
        "--sensitivity",
        "--next-look",
        "--plan",
        "2",
        "--overturn",
        "--contrasts",
        "--why-not",
        "K11",
    ];
    let document: serde_json::Value = serde_json::from_str(&succeeds(&all)).unwrap();
    let results = document["results"].as_array().unwrap();
    let kinds: Vec<&str> = results
        .iter()
        .map(|r| r["kind"].as_str().unwrap())
        .collect();
    assert_eq!(
        kinds,
        [
            "verdict",
            "explained",
            "sensitivity",
            "contrasts",
            "why_not",
            "next_look",
            "plan",
            "overturn"
        ]
    );
    // Which piece, where a script describes several; and beside one another, or under a pack (here the same one).
    let d5b = "scripts/d5b_second_look.rhai";
    let again = succeeds(&["judge", d5b]);
    assert!(again.contains("VERDICT"), "{again}");
    let first = succeeds(&["judge", d5b, "--piece", "jug"]);
    assert_ne!(first, again);
    let beside = succeeds(&["judge", d5b, "--beside", "jug", "--about", "maker(\"K02\")"]);
    assert!(
        beside.contains("COMPARISON") && beside.contains("print technique"),
        "{beside}"
    );
    let under = succeeds(&["judge", script, "--under", "tidewheel"]);
    assert!(
        under.contains("+0.00 decibans, second less first"),
        "{under}"
    );
}

#[test]
fn what_cannot_be_judged_is_told() {
    let (_folder, nothing) = script("let pack = open_pack(\"tidewheel\");");
    let told = run(&["judge", nothing.to_str().unwrap(), "--priors", "priors"]);
    assert_eq!(told.code, 2, "{}", told.err);
    assert!(told.err.contains("describes no piece"), "{}", told.err);
    let d2 = "scripts/d2_partial_mark.rhai";
    let told = run(&["judge", d2, "--about", "region(\"Saltharow\")"]);
    assert_eq!(told.code, 4, "{}", told.err);
    assert!(
        told.err.contains("did you mean `Saltharrow`?"),
        "{}",
        told.err
    );
    assert!(told.err.contains("what is asked:1:"), "{}", told.err);
    let told = run(&["judge", "scripts/nowhere.rhai"]);
    assert_eq!(told.code, 3, "{}", told.err);
}

#[test]
fn text_of_the_partial_mark() {
    insta::assert_snapshot!(
        "d2_text",
        succeeds(&["run", "scripts/d2_partial_mark.rhai"])
    );
}

#[test]
fn text_of_the_next_look() {
    insta::assert_snapshot!("next_look", succeeds(&["run", "scripts/next_look.rhai"]));
}

#[test]
fn text_of_the_second_look() {
    insta::assert_snapshot!(
        "d5b_text",
        succeeds(&["run", "scripts/d5b_second_look.rhai"])
    );
}

#[test]
fn text_of_the_contrasts() {
    let out = succeeds(&["run", "scripts/d9_same_copper_two_hands.rhai"]);
    let (_, contrasts) = out.split_once("── CONTRASTS ──").unwrap();
    insta::assert_snapshot!("d9_contrasts", contrasts);
}

fn keys(value: &Value) -> Vec<&str> {
    value
        .as_object()
        .unwrap()
        .keys()
        .map(String::as_str)
        .collect()
}

#[test]
fn json_of_the_partial_mark() {
    let document = json(&["run", "scripts/d2_partial_mark.rhai", "--json"]);
    assert_eq!(keys(&document), ["program", "results", "version"]);
    assert_eq!(document["program"], "saggar");
    assert_eq!(document["version"], env!("CARGO_PKG_VERSION"));
    let results = document["results"].as_array().unwrap();
    let kinds: Vec<&str> = results
        .iter()
        .map(|r| r["kind"].as_str().unwrap())
        .collect();
    assert_eq!(kinds, ["verdict", "audit", "stress"]);
    let [verdict, audit, stress] = &results[..] else {
        panic!("{kinds:?}");
    };
    for (value, expected) in [
        (
            verdict,
            "attribution cautions dating engravings findings is_density kind log_evidence makers not_looked pack pack_sha256 periods piece regions surprise works",
        ),
        (
            &verdict["attribution"],
            "at_least beside probability rung words",
        ),
        (
            &verdict["dating"],
            "at_least first_year last_year mode mode_probability mode_years probability",
        ),
        (
            &verdict["surprise"],
            "conflict_decibans oddest open_world predicted words",
        ),
        (
            &verdict["surprise"]["predicted"][0],
            "clue decibans odd probability_alone probability_given_others said",
        ),
        (
            &verdict["surprise"]["open_world"],
            "decibans maker maker_name words",
        ),
        (&verdict["makers"][0], "id name probability"),
        (&verdict["findings"][0], "clue name said"),
        (
            audit,
            "findings groups kind pairs piece posterior posterior_decibans prior prior_decibans question record strength total_decibans",
        ),
        (
            &audit["findings"][0],
            "alone clue in_order left_out name probability_after rows said shared",
        ),
        (&audit["groups"][0], "alone left_out n_findings name shared"),
        (
            stress,
            "all_beliefs beliefs doubt draws draws_by_band high holds impossible_draws kind low mean median other_leaders piece question seed stated wording",
        ),
        (&stress["mean"], "standard_error value"),
    ] {
        let mut found = keys(value);
        found.sort_unstable();
        assert_eq!(found.join(" "), expected);
    }
    let makers = verdict["makers"].as_array().unwrap();
    let sum: f64 = makers
        .iter()
        .map(|m| m["probability"].as_f64().unwrap())
        .sum();
    assert!((sum - 1.0).abs() < 1e-12 && makers.len() == 14);
    assert_eq!(verdict["pack_sha256"].as_str().unwrap().len(), 64);
}

/// Numbers in the document are the shortest text that reads back as the same number, and `digits` agrees with them.
#[test]
fn numbers_round_trip() {
    let text = succeeds(&["run", "scripts/d2_partial_mark.rhai", "--json"]);
    let document: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(
        format!("{}\n", serde_json::to_string_pretty(&document).unwrap()).len(),
        text.len()
    );
    let mut n_numbers = 0;
    let mut open = vec![&document];
    while let Some(value) = open.pop() {
        match value {
            Value::Array(values) => open.extend(values),
            Value::Object(entries) => open.extend(entries.values()),
            Value::Number(number) if number.is_f64() => {
                n_numbers += 1;
                let found = number.as_f64().unwrap();
                assert_eq!(
                    number.to_string().parse::<f64>().unwrap().to_bits(),
                    found.to_bits()
                );
                assert!(text.contains(&number.to_string()), "{number}");
            }
            _ => {}
        }
    }
    assert!(n_numbers > 100, "{n_numbers}");

    let d2 = std::fs::read_to_string(
        Path::new(env!("CARGO_MANIFEST_DIR")).join("scripts/d2_partial_mark.rhai"),
    )
    .unwrap();
    let (description, _) = d2.split_once("\nshow(").unwrap();
    let (_folder, path) = script(&format!(
        "{description}\nprint(digits(jug.verdict().maker(\"K07\"), 17));"
    ));
    let out = succeeds(&["run", path.to_str().unwrap()]);
    let makers = document["results"][0]["makers"].as_array().unwrap();
    let k07 = makers.iter().find(|m| m["id"] == "K07").unwrap();
    assert_eq!(
        out.trim(),
        format!("{:.17}", k07["probability"].as_f64().unwrap())
    );
}

#[test]
fn the_demonstration_pack_is_clean() {
    let clean =
        "Tidewheel jugs: 0 defects, 0 warnings (14 makers, 8 periods, 18 clues, 227 beliefs)\n";
    assert_eq!(succeeds(&["check", "priors/tidewheel"]), clean);
    assert_eq!(succeeds(&["check", "priors/tidewheel", "--strict"]), clean);
}

#[test]
fn clues_are_listed() {
    insta::assert_snapshot!("clues", succeeds(&["clues", "priors/tidewheel"]));
}

/// Every state that is listed can be noted, under the words it is listed with.
#[test]
fn clues_are_ready_to_be_copied() {
    let out = succeeds(&["clues", "priors/tidewheel"]);
    let mut statements = String::new();
    let mut clue = "";
    for line in out.lines() {
        if let Some((id, _)) = line.split_once(" (").filter(|_| !line.starts_with(' ')) {
            clue = id;
        } else if line.contains(" | ") && !line.contains("how to look") {
            for state in line.trim().split(" | ") {
                statements += &format!("noted = jug.saw(\"{clue}\", \"{state}\");\n");
            }
        }
    }
    assert!(statements.lines().count() > 70, "{statements}");
    let (_folder, path) = script(&format!(
        "let jug = open_pack(\"tidewheel\").piece(\"x\");\nlet noted = jug;\n{statements}()"
    ));
    assert_eq!(succeeds(&["run", path.to_str().unwrap()]), "");
}

#[test]
fn each_exit_code() {
    let defects = edited_pack(
        "clues.toml",
        "none = \"70%\", few = \"25%\"",
        "none = \"71%\", few = \"25%\"",
    );
    let pack = defects.path().join("tidewheel");
    let clash = edited_pack(
        "clues.toml",
        "few = \"4%\",  many = \"1%\" ",
        "few = \"5%\",  many = \"impossible\"",
    );
    let (_a, contradiction) = script(
        "let jug = open_pack(\"tidewheel\").piece(\"x\").saw(\"search\", \"full\").saw(\"mark\", \"modern, full\");
        jug.saw(\"inclusions\", \"many\").verdict();",
    );
    let (_b, opens) = script("open_pack(\"tidewheel\");");
    let (_c, no_pack) = script("open_pack(\"tidewhel\");");
    let (_d, wrong) = script("1 +");
    let path = |p: &Path| p.to_str().unwrap().to_owned();
    let (defects, clash) = (path(defects.path()), path(clash.path()));
    for (code, arguments, said) in [
        (0, vec!["check", "priors/tidewheel"], ""),
        (0, vec!["--version"], ""),
        (0, vec!["--help"], ""),
        (1, vec!["check", &path(&pack)], "error[pack::row-sum]"),
        (
            1,
            vec!["run", &path(&contradiction), "--priors", &clash],
            "error[script::contradiction]",
        ),
        (2, vec![], "Usage"),
        (2, vec!["guess"], "unrecognized subcommand"),
        (2, vec!["run"], "required arguments"),
        (
            2,
            vec!["check", "priors/tidewheel", "--sloppy"],
            "unexpected argument",
        ),
        (
            2,
            vec!["run", &path(&opens), "--threads", "0"],
            "invalid value",
        ),
        (
            2,
            vec!["run", &path(&opens), "--time-limit", "0"],
            "invalid value",
        ),
        (
            2,
            vec!["run", &path(&opens), "--seed", "-1"],
            "unexpected argument",
        ),
        (
            2,
            vec!["run", &path(&opens), "--seed", "one"],
            "invalid value",
        ),
        (
            2,
            vec!["run", &path(&opens), "--color", "pink"],
            "invalid value",
        ),
        (3, vec!["run", "scripts/none.rhai"], "cannot read"),
        (3, vec!["run", "scripts"], "it is a folder, not a file"),
        (3, vec!["check", "priors/none"], "priors/none"),
        (3, vec!["check", "priors/tidewheel/pack.toml"], "pack.toml"),
        (3, vec!["clues", "priors/none"], "priors/none"),
        (3, vec!["clues", &path(&pack)], "error[pack::row-sum]"),
        (
            3,
            vec!["run", &path(&opens), "--priors", "nowhere"],
            "error[script::pack]",
        ),
        (
            3,
            vec!["run", &path(&opens), "--priors", &defects],
            "error[pack::row-sum]",
        ),
        (3, vec!["run", &path(&no_pack)], "did you mean `tidewheel`?"),
        (4, vec!["run", &path(&wrong)], "error[script::syntax]"),
    ] {
        let ran = run(&arguments);
        assert_eq!(ran.code, code, "{arguments:?}\n{}", ran.err);
        assert!(ran.err.contains(said), "{arguments:?}\n{}", ran.err);
        assert!(code == 0 || !ran.err.is_empty());
        assert!(!ran.err.contains("panicked"), "{}", ran.err);
    }
}

/// What has been shown before the failure stays, and no half of a JSON document is printed.
#[test]
fn results_before_a_failure() {
    let (_folder, path) = script(
        "print(\"before\"); open_pack(\"tidewheel\").piece(\"x\").saw(\"tint\", \"green\");",
    );
    let path = path.to_str().unwrap();
    let text = run(&["run", path]);
    assert_eq!((text.code, text.out.trim()), (4, "before"));
    let json = run(&["run", path, "--json"]);
    assert_eq!((json.code, json.out.as_str()), (4, ""));
}

#[test]
fn script_errors() {
    let after = |end: &str| {
        format!("let pack = open_pack(\"tidewheel\");\nlet jug = pack.piece(\"x\");\n{end}\n")
    };
    for (name, text) in [
        (
            "syntax_missing_bracket",
            "let a = [1, 2\nlet b = 3;".to_owned(),
        ),
        ("syntax_end", "fn f(x) {\n    x + 1".to_owned()),
        ("unknown_function", after("jug.verdikt();")),
        ("unknown_variable", after("show(jag.verdict());")),
        ("unknown_clue", after("jug.saw(\"weathercok\", \"left\");")),
        ("unknown_clue_far", after("jug.saw(\"handle\", \"loop\");")),
        ("unknown_state", after("jug.saw(\"tint\", \"faint-blue\");")),
        ("unknown_state_far", after("jug.saw(\"foot\", \"ring\");")),
        ("unknown_maker", after("show(jug.audit(\"K13\"));")),
        ("wrong_type_of_clue", after("jug.saw(3, \"left\");")),
        (
            "wrong_type_of_weights",
            after("jug.unsure(\"tint\", \"blue\");"),
        ),
        (
            "wrong_type_of_a_weight",
            after("jug.unsure(\"tint\", #{ \"blue\": \"half\" });"),
        ),
        ("wrong_type_of_mass", after("jug.weighs(1345);")),
        ("mass_without_unit", after("jug.weighs(\"1345\");")),
        (
            "weight_without_size",
            after("show(jug.weighs(\"1345 g\").verdict());"),
        ),
        (
            "mark_without_search",
            after("show(jug.absent(\"mark\").verdict());"),
        ),
        (
            "noted_twice",
            after("jug.saw(\"tint\", \"blue\").saw(\"tint\", \"white\");"),
        ),
        (
            "noted_twice_alike",
            after("jug.saw(\"tint\", \"blue\").saw(\"tint\", \"blue\");"),
        ),
        (
            "second_look_before_the_first",
            after(
                "jug.looking(#{ when: \"2024-03-02\" }).saw(\"tint\", \"blue\")\n    .looking(#{ when: \"2024-02-29\" }).look_again(\"tint\", \"white\");",
            ),
        ),
        (
            "date_that_is_none",
            after("jug.looking(#{ when: \"2023-02-29\" });"),
        ),
        (
            "unknown_part_of_a_look",
            after("jug.looking(#{ lamp: \"UV\" });"),
        ),
        (
            "sure_in_percent_without_a_sign",
            after("jug.sure(\"tint\", \"blue\", 80);"),
        ),
        (
            "no_surer_than_guessing",
            after("jug.sure(\"tint\", \"blue\", \"25%\");"),
        ),
        (
            "belief_that_misses_one",
            after("jug.believed(\"tint\", #{ \"blue\": 0.7, \"white\": 0.2 });"),
        ),
        (
            "coded_for_another_size_class",
            after("jug.saw(\"size\", \"II\").coded_for(\"wheel\", 8, \"large\");"),
        ),
        (
            "size_of_another_class_than_a_coding",
            after("jug.coded_for(\"wheel\", 8, \"large\").saw(\"size\", \"II\");"),
        ),
        (
            "unknown_size_class",
            after("jug.coded_for(\"wheel\", 8, \"larg\");"),
        ),
        (
            "no_coding",
            after("jug.coded_for(\"tint\", \"blue\", \"large\");"),
        ),
        (
            "blind_without_observers",
            after("jug.saw(\"tint\", \"blue\").blind(\"tint\", \"white\");"),
        ),
        (
            "nothing_to_look_at_again",
            after("jug.look_again(\"tint\", \"blue\");"),
        ),
        ("no_state_for_absent", after("jug.absent(\"tint\");")),
        (
            "inside_a_function",
            after(
                "fn judge(jug) {\n    jug.saw(\"tint\", \"bleu\").verdict()\n}\nfor i in 0..2 {\n    judge(jug);\n}",
            ),
        ),
        (
            "letters_beyond_ascii",
            after("let a = \"Ünïted — “Töpferei”\"; jug.saw(\"größe\", \"IV\");"),
        ),
        ("thrown", after("throw \"the jug is broken\";")),
        ("digits_of_a_word", after("print(digits(\"many\", 2));")),
    ] {
        insta::assert_snapshot!(format!("script_error_{name}"), fails(&text));
    }
}

#[test]
fn messages_outside_scripts() {
    let file = run(&["run", "scripts/none.rhai"]).err;
    assert_eq!(
        file,
        "error: cannot read `scripts/none.rhai`: No such file or directory (os error 2)\n"
    );
    let folder = run(&["run", "scripts"]).err;
    assert_eq!(
        folder,
        "error: cannot read `scripts`: it is a folder, not a file\n"
    );
    insta::assert_snapshot!("no_arguments", run(&[]).err);
    insta::assert_snapshot!(
        "unknown_flag",
        run(&["check", "priors/tidewheel", "--sloppy"]).err
    );
    insta::assert_snapshot!("check_of_no_folder", run(&["check", "priors/none"]).err);
    insta::assert_snapshot!(
        "check_of_a_file",
        run(&["check", "priors/tidewheel/pack.toml"]).err
    );
}

#[test]
fn a_contradiction_is_told() {
    let clash = edited_pack(
        "clues.toml",
        "few = \"4%\",  many = \"1%\" ",
        "few = \"5%\",  many = \"impossible\"",
    );
    let (folder, path) = script(
        "let jug = open_pack(\"tidewheel\").piece(\"x\")
    .saw(\"search\", \"full\")
    .saw(\"mark\", \"modern, full\")
    .saw(\"tint\", \"white\")
    .saw(\"inclusions\", \"many\");
show(jug.verdict());",
    );
    let ran = run(&[
        "run",
        path.to_str().unwrap(),
        "--priors",
        clash.path().to_str().unwrap(),
    ]);
    assert_eq!((ran.code, ran.out.as_str()), (1, ""));
    insta::assert_snapshot!("contradiction", redacted(&ran.err, folder.path()));
}

/// What the other findings rule out cannot be believed either.
#[test]
fn a_belief_against_certainty_is_told() {
    let clash = edited_pack(
        "clues.toml",
        "few = \"4%\",  many = \"1%\" ",
        "few = \"5%\",  many = \"impossible\"",
    );
    let (folder, path) = script(
        "let jug = open_pack(\"tidewheel\").piece(\"x\")
    .saw(\"search\", \"full\")
    .saw(\"mark\", \"modern, full\")
    .believed(\"inclusions\", #{ \"many\": 0.2, \"none\": 0.8 });
show(jug.verdict());",
    );
    let ran = run(&[
        "run",
        path.to_str().unwrap(),
        "--priors",
        clash.path().to_str().unwrap(),
    ]);
    assert_eq!((ran.code, ran.out.as_str()), (1, ""));
    insta::assert_snapshot!(
        "belief_against_certainty",
        redacted(&ran.err, folder.path())
    );
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
