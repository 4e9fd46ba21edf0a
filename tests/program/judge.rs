//! Pieces described on the command line.

use super::outside::{run, succeeds};
use super::script;

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
