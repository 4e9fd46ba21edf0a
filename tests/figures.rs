//! The figures that a script takes out of results: those of the JSON document, in full precision, by one name for every result.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

mod outside;

use serde_json::Value;

/// D2 of the demonstration, without what takes long.
const JUG: &str = r#"
let pack = open_pack("tidewheel");
let jug = pack.piece("a jug").saw("size", "V").saw("search", "full").saw("mark", "bell or beehive").saw("print", "blurred")
    .saw("sluice", "cross").weighs("1345 g").saw("tint", "faint blue").saw("foot", "recessed");
"#;

fn document(script: &str) -> Value {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("figures.rhai");
    std::fs::write(&path, format!("{JUG}{script}")).unwrap();
    let text = outside::succeeds(&["run", path.to_str().unwrap(), "--json"]);
    serde_json::from_str(&text).unwrap()
}

/// The document with the names that scripts have for those which are words of the language.
fn in_scripts(value: Value) -> Value {
    let name = |key: String| match key.as_str() {
        "shared" => "share".to_owned(),
        "with" => "assuming".to_owned(),
        "then" => "leads_then".to_owned(),
        _ => key,
    };
    match value {
        Value::Object(map) => {
            let pairs = map.into_iter();
            pairs
                .map(|(key, entry)| (name(key), in_scripts(entry)))
                .collect()
        }
        Value::Array(list) => list.into_iter().map(in_scripts).collect(),
        plain => plain,
    }
}

/// What is shown of a result, and its `figures` shown as a map, are the same document.
#[test]
fn figures_are_those_of_the_document() {
    let results = [
        "jug.verdict()",
        "jug.audit()",
        "jug.stress(200)",
        "jug.contrasts()",
        "jug.vary(\"tint\")",
        "compare(jug, jug.without(\"tint\"))",
        "jug.why_not(\"K07\")",
        "jug.next_look()",
        "jug.overturn()",
        "jug.plan(2)",
        "jug.sensitivity(3)",
        "pack.rank_marks(\"?ROW? & S\")",
    ];
    let script: String = results
        .iter()
        .map(|result| format!("show({result}); show({result}.figures);\n"))
        .collect();
    let document = document(&script);
    let shown = document["results"].as_array().unwrap();
    assert_eq!(shown.len(), 2 * results.len());
    for (result, pair) in results.iter().zip(shown.chunks(2)) {
        let mut whole = pair[0].clone();
        whole.as_object_mut().unwrap().remove("kind");
        assert_eq!(in_scripts(whole), pair[1]["value"], "{result}");
    }
}

/// Rows are the table that is shown: as many, in the same order, with the same numbers.
#[test]
fn rows_are_the_tables_of_the_document() {
    let tables = [
        ("jug.verdict()", "makers", "probability"),
        ("jug.audit()", "findings", "left_out"),
        ("jug.contrasts()", "rows", "log_evidence"),
        ("jug.vary(\"tint\")", "rows", "claim"),
        ("compare(jug, jug.without(\"tint\"))", "clues", "decibans"),
        ("jug.why_not(\"K07\")", "findings", "from_leader"),
        ("jug.next_look()", "looks", "bits"),
        ("jug.overturn()", "overturning", "chance"),
        ("pack.rank_marks(\"?ROW? & S\")", "marks", "decibans"),
    ];
    let script: String = tables
        .iter()
        .map(|(result, ..)| format!("show({result}); show({result}.rows);\n"))
        .collect();
    let document = document(&script);
    let shown = document["results"].as_array().unwrap();
    for ((result, table, column), pair) in tables.iter().zip(shown.chunks(2)) {
        let column = |rows: &Value| -> Vec<Value> {
            let rows = rows.as_array().unwrap().iter();
            rows.map(|row| row[*column].clone()).collect()
        };
        let rows = column(&pair[1]["value"]);
        assert!(!rows.is_empty(), "{result}");
        assert_eq!(rows, column(&pair[0][*table]), "{result}");
    }
}

/// A share stands in its row as a number, whatever the document puts beside it, and no name is a word of the language.
#[test]
fn a_weight_is_a_number() {
    let document = document(
        "let row = jug.audit().rows[0]; show(#{ row: row.share, whole: jug.audit().figures.findings[0].share.decibans });",
    );
    let shown = &document["results"];
    assert_eq!(shown[0]["value"]["row"], shown[0]["value"]["whole"]);
    assert!(shown[0]["value"]["row"].is_number());
}

/// Of two claims, the chance of one is its share of both.
#[test]
fn one_claim_against_another() {
    let document = document(
        "show([jug.probability(\"K07\"), jug.probability(\"K11\"), jug.probability(maker(\"K07\").against(maker(\"K11\")))]);",
    );
    let figures: Vec<f64> = document["results"][0]["value"]
        .as_array()
        .unwrap()
        .iter()
        .map(|figure| figure.as_f64().unwrap())
        .collect();
    let [one, other, against] = figures[..] else {
        panic!("{figures:?}")
    };
    assert!((against - one / (one + other)).abs() < 1e-12);
}
