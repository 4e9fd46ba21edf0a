//! What cannot be judged, and how that is said.

use saggar::piece::{Look, Piece, PieceError, find_clue};
use saggar::query::AskError;
use saggar::script::{Cause, ScriptFailure};
use saggar::units::Reading;

use super::edited_pack::edited_pack;
use super::world::{compile, compiled, described, finish, here, noted, piece};

fn failure(script: &str, priors: std::path::PathBuf) -> ScriptFailure {
    finish(script, priors).0.failure.unwrap()
}

#[test]
fn a_weight_needs_the_size() {
    let compiled = compiled();
    let weight = find_clue(&compiled.model, "weight").unwrap();
    let look = Look::Weighed {
        mass: Reading::exact(1345.0),
        per: None,
    };
    let jug = Piece::new("no size")
        .note(weight, look, "1345 g".to_owned(), &compiled.model)
        .unwrap();
    let error = compiled.ask(&jug).unwrap_err();
    assert!(
        matches!(error, AskError::Piece(PieceError::WeightNeeds { .. })),
        "{error:?}"
    );
    assert!(
        error.to_string().contains("the size is not noted"),
        "{error}"
    );
    // With the size it can, whichever of the two is noted first.
    compiled.ask(&noted(compiled, &jug, "size", "V")).unwrap();
}

#[test]
fn a_mark_needs_the_search() {
    let compiled = compiled();
    let jug = noted(compiled, &Piece::new("no search"), "mark", "bell, full");
    let error = compiled.ask(&jug).unwrap_err();
    let expected = AskError::CircumstanceNotGiven {
        circumstance: "search".to_owned(),
        needed_by: "mark".to_owned(),
        states: vec!["quick".to_owned(), "full".to_owned()],
    };
    assert_eq!(error, expected);
    let said = "`mark` cannot be judged without `search`; note it: saw(\"search\", \"quick\") or saw(\"search\", \"full\")";
    assert_eq!(error.to_string(), said);
    let script =
        "let pack = open_pack(\"tidewheel\");\npack.piece(\"x\").absent(\"mark\").verdict();";
    let failure = failure(script, here("priors"));
    assert_eq!(failure.cause, Cause::Script);
    assert!(failure.diagnostics[0].message.contains("without `search`"));
}

#[test]
fn a_coding_needs_the_print_quality() {
    let compiled = compiled();
    let jug = noted(
        compiled,
        &noted(compiled, &Piece::new("x"), "size", "V"),
        "sluice",
        "cross",
    );
    let error = compiled.ask(&jug).unwrap_err();
    assert!(
        matches!(&error, AskError::CircumstanceNotGiven { circumstance, needed_by, .. } if circumstance == "print" && needed_by == "sluice"),
        "{error:?}"
    );
}

/// A copy of the pack in which reproductions never have many inclusions. Only reproductions bear a modern mark.
fn strict_pack() -> tempfile::TempDir {
    edited_pack(
        "clues.toml",
        r#"{ region = "abroad",     say = { none = "95%", few = "4%",  many = "1%"  } }"#,
        r#"{ region = "abroad",     say = { none = "96%", few = "4%",  many = "impossible" } }"#,
    )
}

/// A full description of which two findings exclude each other: these two are named, in the order noted, and no others.
#[test]
fn a_contradiction_names_the_findings_that_clash() {
    let priors = strict_pack();
    let (description, _) = described("D5");
    let description = description
        .replace("\"lantern TQ&U, full\"", "\"modern, full\"")
        .replace("\"inclusions\", \"none\"", "\"inclusions\", \"many\"");
    let failure = failure(
        &format!("{description}\njug.verdict();"),
        priors.path().to_owned(),
    );
    assert_eq!(failure.cause, Cause::Contradiction);
    let [said] = &failure.diagnostics[..] else {
        panic!("{:?}", failure.diagnostics);
    };
    assert_eq!(said.code, "script::contradiction");
    let clash = ["mark reading: modern, full", "inclusions: many"];
    let labels: Vec<&str> = said.others.iter().map(|label| &label.text[..]).collect();
    assert_eq!(labels, clash);
    assert_eq!(said.hints.len(), 1, "{:?}", said.hints);

    let strict = compile(&priors.path().join("tidewheel"));
    let mut jug = Piece::new("clash");
    for (clue, state) in [
        ("wear", "light"),
        ("search", "full"),
        ("mark", "modern, full"),
        ("tint", "white"),
        ("inclusions", "many"),
    ] {
        jug = noted(&strict, &jug, clue, state);
    }
    let AskError::Contradiction { conflicting } = strict.ask(&jug).unwrap_err() else {
        panic!("no contradiction");
    };
    let clues: Vec<usize> = conflicting.iter().map(|finding| finding.clue).collect();
    let names: Vec<&str> = clues
        .iter()
        .map(|&c| strict.model.catalogue.clues[c].id.as_str())
        .collect();
    assert_eq!(names, ["mark", "inclusions"]);
    // Either of them alone can stand.
    for clue in clues {
        strict.ask(&jug.without(clue)).unwrap();
    }
}

/// The pack as it is gives every reading some chance, so none of its pieces contradicts itself, not even a wild one.
#[test]
fn the_demonstration_pack_rules_nothing_out() {
    let compiled = compiled();
    let mut wild = piece("D5");
    for (clue, state) in [
        ("mark", "modern, full"),
        ("inclusions", "many"),
        ("weight", "1.20 and over"),
    ] {
        let index = find_clue(&compiled.model, clue).unwrap();
        wild = noted(compiled, &wild.without(index), clue, state);
    }
    compiled.verdict(&wild).unwrap();
}

#[test]
fn notes_that_are_refused() {
    let said = |statement: &str| {
        let script = format!(
            "let pack = open_pack(\"tidewheel\"); let jug = pack.piece(\"x\").saw(\"tint\", \"blue\"); {statement};"
        );
        let diagnostic = failure(&script, here("priors")).diagnostics.remove(0);
        format!("{} | {}", diagnostic.message, diagnostic.hints.join(" | "))
    };
    let cases = [
        (
            "jug.saw(\"tint\", \"white\")",
            "`tint` is noted as blue and now as white, and a piece is only one of them | if the second look is the better one it replaces the first: use look_again; if another observer coded it without knowing the first: use blind",
        ),
        (
            "jug.look_again(\"wear\", \"light\")",
            "`wear` has not been noted yet, so nothing can be looked at again: use saw | ",
        ),
        (
            "jug.not_looked(\"tint\")",
            "`tint` is already noted as blue | a second look replaces the first: use look_again",
        ),
        (
            "jug.saw(\"weathercok\", \"left\")",
            "there is no clue `weathercok` in this pack | did you mean `weathercock`?",
        ),
        (
            "jug.saw(\"wall\", \"corsed\")",
            "`corsed` is not a state of `wall` | did you mean `coursed`?",
        ),
        (
            "jug.saw(\"foot\", \"ring\")",
            "`ring` is not a state of `foot` | known: single | double | recessed",
        ),
        (
            "jug.saw(\"weight\", \"heavy\")",
            "`weight` is measured: note a weight, such as weighs(\"1345 g\") | ",
        ),
        (
            "jug.weighs(\"1345\")",
            "`1345` has no unit | write a mass such as `1345 g`, `1.345 kg` or `2 lb 15 oz`",
        ),
        (
            "jug.weighs(\"-3 g\")",
            "`-3 g` is not a quantity above zero | write a mass such as `1345 g`, `1.345 kg` or `2 lb 15 oz`",
        ),
        (
            "jug.saw(\"size\", \"IV\").weighs(\"745 kg\")",
            "745 kg would be 955.1282 of the usual, and this pack speaks of weights from 0.350 to 1.750 | is the unit right, and the size?",
        ),
        (
            "jug.weighs(\"26 g\").saw(\"size\", \"IV\")",
            "26 g would be 0.0333 of the usual, and this pack speaks of weights from 0.350 to 1.750 | is the unit right, and the size?",
        ),
        (
            "pack.suppose(\"weight for size given maker = K07\", #{ mean: -1 })",
            "“weight for size given maker = K07” cannot have the mean -1 | a weight is more than 0",
        ),
        (
            "pack.suppose(\"share of each maker\", #{ say: #{ U: 0 }, others: \"in proportion\" })",
            "“share of each maker” cannot have the chance 0 | a maker not listed and a later copy are always possible: give each a chance, however small",
        ),
        (
            "jug.stress(100, #{ over: [] })",
            "no belief is to be drawn, so nothing could change | name some, or leave out `over`",
        ),
        (
            "jug.unsure(\"wall\", #{})",
            "the weights of `wall` are all 0: nothing could have been seen | ",
        ),
        (
            "jug.unsure(\"wall\", #{ \"coursed\": -1 })",
            "the weights of `wall` hold -1 for coursed | a weight is a finite number, 0 or more",
        ),
        (
            "jug.unsure(\"wall\", #{ \"coursed\": \"a lot\" })",
            "the weights of `wall` hold “a lot” for coursed | a weight is a number, or a text such as \"70%\"",
        ),
        (
            "jug.unsure(\"print\", #{ \"clear\": 0.5 })",
            "`print` is a circumstance of the look and needs one state for sure | ",
        ),
        (
            "jug.stress(1)",
            "a stress run takes from 2 to 1000000 draws, not 1 | ",
        ),
        ("jug.stress(10, -1)", "a seed is not negative | "),
        (
            "jug.stress(2.5)",
            "the number of draws is a whole number, not 2.5 | ",
        ),
        (
            "jug.audit(\"K7\")",
            "there is no maker `K7` in this pack | did you mean `K07`?",
        ),
        (
            "jug.verdict().works(\"Lantern Work\")",
            "there is no works `Lantern Work` in this verdict | did you mean `Lantern Works`?",
        ),
    ];
    let mut wrong = Vec::new();
    for (statement, expected) in cases {
        let found = said(statement);
        if found != expected {
            wrong.push(format!(
                "{statement}\n  says     {found}\n  expected {expected}"
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
