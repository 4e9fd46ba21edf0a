//! `saggar network` from outside.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

mod outside;

use std::path::{Path, PathBuf};

use outside::Ran;
use serde_json::Value;

fn public(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("shared/networks/public/{name}.bif"))
}

fn network(file: &Path, arguments: &[&str]) -> Ran {
    outside::run(&[&["network", file.to_str().unwrap()], arguments].concat())
}

fn lines(out: &str) -> Vec<Value> {
    out.lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect()
}

fn assert_near(found: &Value, expected: f64) {
    let found = found.as_f64().unwrap();
    assert!(
        (found - expected).abs() < 1e-14,
        "{found} instead of {expected}"
    );
}

/// Source: Lauritzen and Spiegelhalter 1988; P(evidence) = 0.004501375 and P(lung) = 3584/36011 given asia and dyspnoea
/// are those of `tests/reference/01-networks/posteriors.csv`, by enumeration in rational arithmetic.
#[test]
fn one_set_gives_one_line() {
    let outcome = network(
        &public("asia"),
        &["--given", "dysp=yes", "--given", "asia=yes", "--json"],
    );
    assert_eq!((outcome.code, outcome.err.as_str()), (0, ""));
    let [line] = &lines(&outcome.out)[..] else {
        panic!("{}", outcome.out)
    };
    let log_evidence = line["log_evidence"].as_f64().unwrap();
    assert!(
        (log_evidence - 0.004501375_f64.ln()).abs() < 1e-14,
        "{log_evidence}"
    );
    assert_near(&line["posteriors"]["lung"]["yes"], 3584.0 / 36011.0);
    let posteriors = line["posteriors"].as_object().unwrap();
    assert_eq!(posteriors.len(), 8);
    for (node, states) in posteriors {
        let sum: f64 = states
            .as_object()
            .unwrap()
            .values()
            .map(|p| p.as_f64().unwrap())
            .sum();
        assert!((sum - 1.0).abs() < 1e-12, "{node}");
    }
    assert_near(&posteriors["asia"]["yes"], 1.0);
    // Nodes and states keep the order of the file.
    assert!(outcome.out.find("\"asia\"") < outcome.out.find("\"tub\""));
    assert!(outcome.out.contains("\"no\":0.0}"), "{}", outcome.out);
}

/// The file of evidence sets holds one object or many; names may have likelihoods.
#[test]
fn sets_of_a_file_are_answered_in_order() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("evidence.json");
    let sets = r#"[{"xray": "yes"}, {"xray": [1, 0]}, {"xray": [0.3, 0.3]}, {}]"#;
    std::fs::write(&file, sets).unwrap();
    let file = file.to_str().unwrap();
    let outcome = network(&public("asia"), &["--given-file", file]);
    assert_eq!((outcome.code, outcome.err.as_str()), (0, ""));
    let found = lines(&outcome.out);
    assert_eq!(found.len(), 4);
    assert_eq!(found[0], found[1]);
    // Equal likelihoods change P(e) by their factor and no posterior.
    let p = |line: &Value, node: &str| line["posteriors"][node]["yes"].as_f64().unwrap();
    assert!((p(&found[2], "lung") - p(&found[3], "lung")).abs() < 1e-15);
    assert!((found[2]["log_evidence"].as_f64().unwrap() - 0.3_f64.ln()).abs() < 1e-15);
    assert!(found[3]["log_evidence"].as_f64().unwrap().abs() < 1e-15);
    // What is given on the command line holds for every set.
    let outcome = network(
        &public("asia"),
        &["--given-file", file, "--given", "smoke=yes"],
    );
    assert!(
        lines(&outcome.out)
            .iter()
            .all(|line| (p(line, "smoke") - 1.0).abs() < 1e-14)
    );
}

#[test]
fn any_number_of_threads_gives_the_same_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("evidence.json");
    let states = ["TRUE", "FALSE"];
    let sets: Vec<Value> = (0..600)
        .map(|i| serde_json::json!({ "HISTORY": states[i % 2], "CVP": [i as f64 + 1.0, 1.0, 0.5] }))
        .collect();
    std::fs::write(&file, serde_json::to_string(&sets).unwrap()).unwrap();
    let file = file.to_str().unwrap();
    let answers: Vec<Ran> = ["1", "2", "5"]
        .map(|n| network(&public("alarm"), &["--given-file", file, "--threads", n]))
        .into();
    assert_eq!(answers[0].code, 0);
    assert_eq!(answers[0].out.lines().count(), 600);
    assert!(answers.iter().all(|a| a.out == answers[0].out));
    // Rows of alarm.bif that sum to 0.9999999.
    assert!(
        answers[0].err.contains("warning[network::row-sum]"),
        "{}",
        answers[0].err
    );
}

#[test]
fn an_impossible_set_names_what_clashes_and_fails_in_the_end() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("evidence.json");
    let sets =
        r#"[{"either": "no", "smoke": "yes", "lung": "yes", "xray": "no"}, {"smoke": "yes"}]"#;
    std::fs::write(&file, sets).unwrap();
    let outcome = network(&public("asia"), &["--given-file", file.to_str().unwrap()]);
    assert_eq!(outcome.code, 1);
    let found = lines(&outcome.out);
    assert_eq!(found[0]["conflict"], serde_json::json!(["lung", "either"]));
    assert_eq!(
        found[0]["error"],
        "the evidence is impossible: `lung`, `either` cannot stand together"
    );
    assert!(found[1]["posteriors"].is_object());
}

/// P(e) = 1e-399 is 0 in double precision; its logarithm is printed.
#[test]
fn tiny_probabilities_keep_their_logarithm() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("tiny.bif");
    let mut text = String::from("network tiny { }\n");
    let mut set = serde_json::Map::new();
    for i in 0..133 {
        text += &format!(
            "variable x{i} {{ type discrete [ 2 ] {{ a, b }}; }}\nprobability ( x{i} ) {{ table 0.001, 0.999; }}\n"
        );
        set.insert(format!("x{i}"), "a".into());
    }
    std::fs::write(&file, text).unwrap();
    let given = folder.path().join("given.json");
    std::fs::write(&given, Value::from(set).to_string()).unwrap();
    let outcome = network(&file, &["--given-file", given.to_str().unwrap()]);
    assert_eq!((outcome.code, outcome.err.as_str()), (0, ""));
    let found = lines(&outcome.out)[0]["log_evidence"].as_f64().unwrap();
    assert!(
        (found / (-399.0 * 10_f64.ln()) - 1.0).abs() < 1e-14,
        "{found}"
    );
}

#[test]
fn bad_evidence_is_refused_before_anything_is_answered() {
    let refused = [
        ("smoke", "error: `smoke` is not of the form NAME=STATE\n"),
        (
            "smok=yes",
            "error: the network has no variable `smok`; did you mean `smoke`?\n",
        ),
        (
            "smoke=often",
            "error: `smoke` has no state `often`; its states are `yes`, `no`\n",
        ),
    ];
    for (given, message) in refused {
        let outcome = network(&public("asia"), &["--given", "asia=no", "--given", given]);
        assert_eq!((outcome.code, outcome.out.as_str()), (2, ""));
        assert_eq!(outcome.err, message);
    }
    let outcome = network(
        &public("asia"),
        &["--given", "asia=no", "--given", "asia=no"],
    );
    assert_eq!(
        (outcome.code, outcome.err.as_str()),
        (2, "error: `asia` is given twice\n")
    );
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("e.json");
    let texts = [
        (
            "{\"asia\": \"yes\",}",
            "e.json`: trailing comma at line 1 column 16",
        ),
        (
            "[{}, {\"asia\": [0, 0]}]",
            "e.json`: evidence set 2: `asia`: all likelihoods are 0",
        ),
        (
            "[{}, {\"asia\": true}]",
            "invalid type: boolean `true`, expected the name of a state",
        ),
        (
            "{\"asia\": \"yes\", \"asia\": \"no\"}",
            "`asia` is given twice",
        ),
        ("", "EOF while parsing"),
    ];
    for (text, message) in texts {
        std::fs::write(&file, text).unwrap();
        let outcome = network(&public("asia"), &["--given-file", file.to_str().unwrap()]);
        assert_eq!((outcome.code, outcome.out.as_str()), (3, ""), "{text}");
        assert!(outcome.err.contains(message), "{}", outcome.err);
    }
}

/// A name and a state that hold `=` themselves, as in the public network `child`.
#[test]
fn an_equals_sign_may_be_part_of_a_state() {
    let outcome = network(
        &public("child"),
        &["--given", "LowerBodyO2=<5", "--given", "CO2Report=>=7.5"],
    );
    assert_eq!((outcome.code, outcome.err.as_str()), (0, ""));
    assert_near(
        &lines(&outcome.out)[0]["posteriors"]["CO2Report"][">=7.5"],
        1.0,
    );
}

/// Source: the largest cluster of the chest clinic is a triple of two-state variables, its treewidth 2 (Lauritzen and
/// Spiegelhalter 1988, figure 4: cliques of at most three nodes).
#[test]
fn cost_is_predicted() {
    let outcome = network(&public("asia"), &["--cost"]);
    assert_eq!(outcome.code, 0);
    let line = &lines(&outcome.out)[0];
    let expected = [
        ("variables", 8),
        ("arcs", 8),
        ("table_cells", 36),
        ("induced_width", 2),
        ("largest_table", 8),
    ];
    for (name, value) in expected {
        assert_eq!(line[name], value, "{name}");
    }
    assert_eq!(line["fits"], true);
    // Every cell of every table is run through at least once; how often more is the engine's affair.
    let work = |name: &str| line[name].as_u64().unwrap();
    assert!(
        (36..1000).contains(&work("evidence_cells")),
        "{}",
        outcome.out
    );
    assert_eq!(work("posterior_cells"), 3 * work("evidence_cells"));
    // A clique of 40 variables: 2^40 cells at least.
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("clique.bif");
    let mut text = String::new();
    for i in 0..40 {
        text += &format!("variable x{i} {{ type discrete [ 2 ] {{ a, b }}; }}\n");
        text += &format!("probability ( x{i} ) {{ table 0.5, 0.5; }}\n");
    }
    for i in 0..40 {
        for j in 0..i {
            text += &format!("variable y{i}_{j} {{ type discrete [ 2 ] {{ a, b }}; }}\n");
            text += &format!("probability ( y{i}_{j} | x{i}, x{j} ) {{ default 0.5, 0.5; }}\n");
        }
    }
    std::fs::write(&file, text).unwrap();
    let outcome = network(&file, &["--cost"]);
    assert_eq!(outcome.code, 1);
    let line = &lines(&outcome.out)[0];
    assert_eq!(line["fits"], false);
    assert!(line["evidence_cells"].as_f64().unwrap() >= 2_f64.powi(40));
    let outcome = network(&file, &["--given", "x0=a"]);
    // Whether a set can be answered depends on what it observes: this one is refused on its line, with its size.
    assert_eq!((outcome.code, outcome.err.as_str()), (1, ""));
    let line = &lines(&outcome.out)[0];
    let error = line["error"].as_str().unwrap();
    assert!(
        error.contains("table cells, more than 268435456"),
        "{error}"
    );
    let predicted = error.split(' ').find_map(|word| word.parse::<f64>().ok());
    assert!(predicted.unwrap() >= 2_f64.powi(39), "{error}");
    // With all but two of them observed nothing is left of the clique.
    let all: Vec<String> = (2..40).map(|i| format!("x{i}=a")).collect();
    let given: Vec<&str> = all.iter().flat_map(|g| ["--given", g.as_str()]).collect();
    let outcome = network(&file, &given);
    assert_eq!((outcome.code, outcome.err.as_str()), (0, ""));
    let line = &lines(&outcome.out)[0];
    assert_eq!(line["posteriors"]["x0"]["a"], 0.5);
    assert_eq!(line["log_evidence"].as_f64().unwrap(), 38.0 * 0.5_f64.ln());
}

#[test]
fn networks_are_converted() {
    let folder = tempfile::tempdir().unwrap();
    let xml = folder.path().join("child.xmlbif");
    let outcome = network(&public("child"), &["--write", xml.to_str().unwrap()]);
    assert_eq!(
        (outcome.code, outcome.out.as_str(), outcome.err.as_str()),
        (0, "", "")
    );
    let given = ["--given", "LowerBodyO2=<5"];
    assert_eq!(
        network(&xml, &given).out,
        network(&public("child"), &given).out
    );
    let back = folder.path().join("back.bif");
    network(&xml, &["--write", back.to_str().unwrap()]);
    let again = folder.path().join("again.bif");
    network(&back, &["--write", again.to_str().unwrap()]);
    assert_eq!(
        std::fs::read(&back).unwrap(),
        std::fs::read(&again).unwrap()
    );
    // Only what was asked for is left.
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 3);
    let outcome = network(
        &xml,
        &["--write", folder.path().join("child.net").to_str().unwrap()],
    );
    assert_eq!(outcome.code, 3);
    assert!(
        outcome.err.contains("should end in .bif"),
        "{}",
        outcome.err
    );
}

#[test]
fn files_that_cannot_be_used() {
    let folder = tempfile::tempdir().unwrap();
    let broken = folder.path().join("broken.bif");
    std::fs::write(&broken, "network n { }\nvariable a { type discrete [ 2 ] { x, y }; }\nprobability ( a ) { table 0.5, 0.4; }\n").unwrap();
    let outcome = network(&broken, &[]);
    assert_eq!((outcome.code, outcome.out.as_str()), (3, ""));
    assert!(outcome.err.contains("broken.bif:3:27"), "{}", outcome.err);
    assert!(outcome.err.contains("0.1 missing"), "{}", outcome.err);
    for path in [folder.path().join("missing.bif"), folder.path().to_owned()] {
        let outcome = network(&path, &[]);
        assert_eq!((outcome.code, outcome.out.as_str()), (3, ""));
        assert!(
            outcome.err.starts_with("error: cannot read"),
            "{}",
            outcome.err
        );
    }
    // Read and converted, but the search for an order would take gigabytes.
    let many = folder.path().join("many.bif");
    let text: String = (0..70_000)
        .map(|i| format!("variable v{i} {{ type discrete [ 1 ] {{ a }}; }}\nprobability ( v{i} ) {{ table 1; }}\n"))
        .collect();
    std::fs::write(&many, text).unwrap();
    let outcome = network(&many, &["--cost"]);
    assert_eq!((outcome.code, outcome.out.as_str()), (1, ""));
    assert!(outcome.err.contains("70000 variables"), "{}", outcome.err);
    let huge = folder.path().join("huge.bif");
    std::fs::File::create(&huge)
        .unwrap()
        .set_len(1 << 40)
        .unwrap();
    let outcome = network(&huge, &[]);
    assert_eq!(outcome.code, 3);
    assert!(
        outcome
            .err
            .contains("1099511627776 bytes; at most 33554432 are read"),
        "{}",
        outcome.err
    );
}
