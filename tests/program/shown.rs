//! What is shown: the same figures as text and as JSON.

use std::path::Path;

use serde_json::Value;

use super::outside::succeeds;
use super::{json, script};

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
            "at_least first_year last_year mode mode_probability mode_years probability stretches",
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
            "all_beliefs beliefs doubt draws draws_by_band high holds impossible_draws kind low mean median other_leaders piece question seed stated unseen_up_to wording",
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
