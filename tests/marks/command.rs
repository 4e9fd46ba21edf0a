//! `saggar marks`, and `mark_fragment` in scripts, from outside.

use serde_json::Value;

use super::outside::{Ran, run};

fn marks(arguments: &[&str]) -> Ran {
    run(&[&["marks", "priors/tidewheel"], arguments].concat())
}

#[test]
fn the_ranking_shows_each_alignment() {
    let ran = marks(&["?ROW? & S"]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    let text = ran.out.lines().filter(|line| !line.contains("SHA-256"));
    insta::assert_snapshot!("ranking", text.collect::<Vec<_>>().join("\n"));
    let devices = marks(&[
        "[TF]? & U",
        "--strike",
        "part-struck",
        "--device",
        "ribbon=partly seen",
        "--device",
        "lantern=not seen",
    ]);
    let text = devices.out.lines().take(20);
    insta::assert_snapshot!("ranking_with_devices", text.collect::<Vec<_>>().join("\n"));
}

#[test]
fn the_document_holds_every_mark_in_order() {
    let ran = marks(&["W? & C?", "--json"]);
    let document: Value = serde_json::from_str(&ran.out).unwrap();
    let result = &document["results"][0];
    assert_eq!(result["kind"], "marks");
    let marks = result["marks"].as_array().unwrap();
    assert_eq!(marks.len(), 19);
    assert_eq!(marks[0]["mark"], "printed ribbon W&Co");
    assert_eq!(marks[0]["users"][1]["years"], "1853–1884");
    let ratios: Vec<f64> = marks
        .iter()
        .map(|mark| mark["likelihood_ratio"].as_f64().unwrap())
        .collect();
    assert_eq!(ratios[0], 1.0);
    assert!(ratios.windows(2).all(|w| w[0] >= w[1]));
    for mark in marks {
        let ratio = mark["likelihood_ratio"].as_f64().unwrap();
        let decibans = mark["decibans"].as_f64().unwrap();
        assert!((decibans - 10.0 * ratio.log10()).abs() < 1e-9);
    }
}

#[test]
fn what_is_refused_names_place_and_remedy() {
    for (code, arguments, said) in [
        (
            2,
            vec!["? _"],
            "no letter of `? _` can be read, from column 1 on; write at least one letter",
        ),
        (2, vec![""], "no letter of `` can be read"),
        (2, vec!["R[OC"], "the `[` at column 2 is never closed"),
        (2, vec!["R☆"], "`☆` at column 2 is not among the characters"),
        (
            2,
            vec!["R", "--strike", "good"],
            "`good` is not a quality of strike; it is one of: clear",
        ),
        (
            2,
            vec!["R", "--device", "lanten"],
            "did you mean `lantern`?",
        ),
        (2, vec!["R", "--device", "crown"], "known: lantern"),
        (
            2,
            vec!["R", "--device", "bell=half"],
            "it is one of: seen, partly seen, not seen",
        ),
        (
            2,
            vec!["R", "--device", "bell", "--device", "bell"],
            "`bell` is noted twice",
        ),
    ] {
        let ran = marks(&arguments);
        assert_eq!(ran.code, code, "{arguments:?} {}", ran.err);
        assert!(ran.err.contains(said), "{arguments:?}\n{}", ran.err);
        assert_eq!(ran.out, "");
    }
    let plates = run(&["marks", "tests/packs/stoneware_plates", "R"]);
    assert_eq!(plates.code, 3);
    assert!(
        plates
            .err
            .contains("does not say how the letters of a mark are read")
    );
    let none = run(&["marks", "priors/none", "R"]);
    assert_eq!(none.code, 3);
}

fn script(end: &str) -> Ran {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("script.rhai");
    let start = "let jug = open_pack(\"tidewheel\").piece(\"jug\").saw(\"search\", \"full\");\n";
    std::fs::write(&path, format!("{start}{end}")).unwrap();
    run(&["run", path.to_str().unwrap(), "--priors", "priors"])
}

#[test]
fn a_script_notes_a_fragment() {
    let ran = script(
        "show(jug.mark_fragment(\"w? & [CO]\", #{ strike: \"faint\", devices: [\"ribbon\"], companions: #{ \"pattern name\": \"not seen\" } }));",
    );
    assert_eq!(ran.code, 0, "{}", ran.err);
    let expected = "mark reading: reads w? & [CO], faint, pattern name not seen, ribbon seen";
    assert!(ran.out.contains(expected), "{}", ran.out);
    let ran = script(
        "let read = jug.mark_fragment(\"T?\").mark_fragment_again(\"TQ?\", #{ strike: \"clear\" }); show(read);
        show(open_pack(\"tidewheel\").rank_marks(\"TQ?\", #{ strike: \"clear\" }));",
    );
    assert_eq!(ran.code, 0, "{}", ran.err);
    let expected = "mark reading: reads TQ?, clear  (before: reads T?)";
    assert!(ran.out.contains(expected), "{}", ran.out);
    let ranking = marks(&["TQ?", "--strike", "clear"]);
    assert!(ran.out.contains(ranking.out.trim()), "{}", ran.out);
    for (end, said) in [
        ("jug.mark_fragment_again(\"T\");", "has not been noted yet"),
        (
            "open_pack(\"tidewheel\").rank_marks(\"_\");",
            "no letter of `_` can be read",
        ),
        (
            "jug.mark_fragment(\"??\");",
            "no letter of `??` can be read",
        ),
        (
            "jug.mark_fragment(\"T\", #{ strik: \"clear\" });",
            "did you mean `strike`?",
        ),
        (
            "jug.mark_fragment(\"T\", #{ strike: 3 });",
            "is a text, not",
        ),
        (
            "jug.mark_fragment(\"T\", #{ devices: 3 });",
            "neither a list nor a map",
        ),
        (
            "jug.mark_fragment(\"T\", #{ devices: [\"bel\"] });",
            "did you mean `bell`?",
        ),
        (
            "jug.mark_fragment(\"T\").mark_fragment(\"U\");",
            "is noted as reads T and now as reads U",
        ),
        (
            "jug.absent(\"mark\").mark_fragment(\"U\");",
            "is noted as looked: none found and now as reads U",
        ),
    ] {
        let ran = script(end);
        assert_eq!(ran.code, 4, "{end}\n{}", ran.err);
        assert!(ran.err.contains(said), "{end}\n{}", ran.err);
    }
}
