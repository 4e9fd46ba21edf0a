//! What is refused: with which exit code, and in which words.

use std::path::Path;

use tempfile::TempDir;

use super::edited_pack::edited_pack;
use super::outside::run;
use super::script;

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

/// The demonstration pack, but nothing from abroad has many inclusions.
fn clashing_pack() -> TempDir {
    edited_pack(
        "clues.toml",
        "few = \"4%\",  many = \"1%\" ",
        "few = \"5%\",  many = \"impossible\"",
    )
}

/// Runs a script whose findings contradict each other in [`clashing_pack`]; what is told of it.
#[track_caller]
fn contradicts(text: &str) -> String {
    let clash = clashing_pack();
    let (folder, path) = script(text);
    let priors = clash.path().to_str().unwrap();
    let ran = run(&["run", path.to_str().unwrap(), "--priors", priors]);
    assert_eq!((ran.code, ran.out.as_str()), (1, ""));
    redacted(&ran.err, folder.path())
}

#[test]
fn each_exit_code() {
    let defects = edited_pack(
        "clues.toml",
        "none = \"70%\", few = \"25%\"",
        "none = \"71%\", few = \"25%\"",
    );
    let pack = defects.path().join("tidewheel");
    let clash = clashing_pack();
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

/// What has been shown before the failure stays, as a whole JSON document too.
#[test]
fn results_before_a_failure() {
    let (_folder, path) = script(
        "print(\"before\"); open_pack(\"tidewheel\").piece(\"x\").saw(\"tint\", \"green\");",
    );
    let path = path.to_str().unwrap();
    let text = run(&["run", path]);
    assert_eq!((text.code, text.out.trim()), (4, "before"));
    let json = run(&["run", path, "--json"]);
    let document: serde_json::Value = serde_json::from_str(&json.out).unwrap();
    let shown = document["results"].as_array().unwrap();
    assert_eq!((json.code, shown.len()), (4, 1));
    assert_eq!(shown[0]["text"], "before");
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
    let told = contradicts(
        "let jug = open_pack(\"tidewheel\").piece(\"x\")
    .saw(\"search\", \"full\")
    .saw(\"mark\", \"modern, full\")
    .saw(\"tint\", \"white\")
    .saw(\"inclusions\", \"many\");
show(jug.verdict());",
    );
    insta::assert_snapshot!("contradiction", told);
}

/// What the other findings rule out cannot be believed either.
#[test]
fn a_belief_against_certainty_is_told() {
    let told = contradicts(
        "let jug = open_pack(\"tidewheel\").piece(\"x\")
    .saw(\"search\", \"full\")
    .saw(\"mark\", \"modern, full\")
    .believed(\"inclusions\", #{ \"many\": 0.2, \"none\": 0.8 });
show(jug.verdict());",
    );
    insta::assert_snapshot!("belief_against_certainty", told);
}
