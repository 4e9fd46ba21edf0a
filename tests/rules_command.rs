//! `saggar rules` and the words for rules and dates in scripts, from outside.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

mod outside;
#[path = "termini/pack.rs"]
mod pack;

use outside::{run, succeeds};
use serde_json::Value;

/// Source of the dates: tests/reference/11-dating/diamond_cases.csv, registered_number_cases.csv.
#[test]
fn a_registration_is_decoded_with_its_reasons() {
    insta::assert_snapshot!(
        "diamond",
        succeeds(&[
            "rules", "diamond", "--class", "IV", "--top", "D", "--right", "14", "--left", "B"
        ])
    );
    insta::assert_snapshot!(
        "diamond_ambiguous",
        succeeds(&["rules", "diamond", "--year-letter", "X"])
    );
    insta::assert_snapshot!("number", succeeds(&["rules", "number", "141273"]));
    let json: Value =
        serde_json::from_str(&succeeds(&["rules", "--json", "number", "351202"])).unwrap();
    let registration = &json["results"][0]["registration"];
    assert_eq!(registration["candidates"][0]["registered"], "1900");
}

#[test]
fn rules_are_put_together_and_listed() {
    insta::assert_snapshot!("found", succeeds(&["rules", "found", "rd_no", "pearlware"]));
    insta::assert_snapshot!(
        "wording",
        succeeds(&["rules", "wording", "MADE IN ENGLAND"])
    );
    let list = succeeds(&["rules", "list"]);
    assert!(list.contains("Limited Liability Act 1855") && list.contains("no legal advice"));
}

#[test]
fn what_cannot_be_decoded_is_told_on_standard_error() {
    for (arguments, told) in [
        (&["rules", "number", "0"][..], "begin at 1"),
        (
            &[
                "rules", "diamond", "--top", "X", "--right", "30", "--left", "G",
            ],
            "no day 30 in 1842-02",
        ),
        (&["rules", "diamond", "--class", "IV"], "no year letter"),
        (&["rules", "found", "nipon"], "did you mean `nippon`"),
        (&["rules", "wording", "semi china"], "saggar rules list"),
    ] {
        let ran = run(arguments);
        assert_eq!((ran.code, ran.out.as_str()), (1, ""), "{arguments:?}");
        assert!(ran.err.contains(told), "{}", ran.err);
    }
    let ran = run(&["rules", "diamond", "--top", "XX"]);
    assert!(
        ran.code == 2 && ran.err.contains("one letter or a whole number"),
        "{}",
        ran.err
    );
    let ran = run(&["rules", "--file", "nowhere.toml", "list"]);
    assert_eq!((ran.code, ran.out.as_str()), (3, ""));
}

#[test]
fn scripts_note_wordings_registrations_and_dates() {
    let priors = pack::folder(10);
    let script = priors.path().join("plate.rhai");
    let text = r#"
        let plate = open_pack("dated").piece("plate")
            .wording("Made in England")
            .found("decal")
            .registration(#{ class: "IV", top: "D", right: 14, left: "B" })
            .dated("inscription", "1925~");
        show(plate.verdict());
        show(plate.audit());
        show(plate.without("rule decal").suppose("inscription", 1930).verdict());
    "#;
    std::fs::write(&script, text).unwrap();
    let folder = priors.path().to_str().unwrap();
    let out = succeeds(&["run", script.to_str().unwrap(), "--priors", folder]);
    insta::assert_snapshot!("script", out.replace(folder, "PRIORS"));

    for (line, told) in [
        (r#".found("nipon")"#, "did you mean `nippon`"),
        (r#".saw("rule nippon", "yes")"#, "found(\"nippon\")"),
        (r#".saw("inscription", "1925")"#, "dated(\"inscription\""),
        (r#".dated("inscription", "1925-02-30")"#, "no day 30"),
        (
            r#".registration(#{ corner: "D" })"#,
            "a diamond has no `corner`",
        ),
        (r#".registration(-3)"#, "-3 is not a registered number"),
    ] {
        std::fs::write(&script, format!("open_pack(\"dated\").piece(\"p\"){line};")).unwrap();
        let ran = run(&["run", script.to_str().unwrap(), "--priors", folder]);
        assert_eq!(ran.code, 4, "{line}");
        assert!(ran.err.contains(told), "{}", ran.err);
    }
}

#[test]
fn the_checker_shows_the_numbers_that_a_pack_did_not_give() {
    let told = succeeds(&["check", "priors/tidewheel", "--defaults"]);
    assert!(
        told.contains("5 years either way  [as by default"),
        "{told}"
    );
    let priors = pack::folder(1);
    let told = succeeds(&[
        "check",
        priors.path().join("dated").to_str().unwrap(),
        "--defaults",
    ]);
    assert!(
        told.contains("4 years either way  [the pack says so"),
        "{told}"
    );
    assert!(told.contains("140 periods"), "{told}");
    let clues = succeeds(&["clues", priors.path().join("dated").to_str().unwrap()]);
    assert!(
        clues.contains("dated(\"inscription\", \"1846~\")") && clues.contains("found(\"nippon\")")
    );
}
