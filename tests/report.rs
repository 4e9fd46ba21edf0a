//! Written opinions: well-formed, complete, with the figures of the results.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

mod outside;

use quick_xml::Reader;
use quick_xml::events::Event;
use serde_json::Value;

const INSTRUCTION: &str = r##"instruction(#{ purpose: "a sale", users: "the owner", effective: "2024-03-31", inspected: "2024-03-02",
    inspector: "E. Rowan", seen: "from photographs", interest: "none" })"##;

const JUG: &str = r#"let jug = open_pack("tidewheel").piece("a jug").saw("size", "V").saw("search", "full")
    .saw("mark", "bell or beehive").saw("print", "blurred").saw("sluice", "cross").weighs("1345 g").saw("tint", "faint blue");
"#;

/// Exit code, standard output, standard error and what was saved as `report.html`.
fn run(script: &str, more: &[&str]) -> (i32, String, String, String) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("jug.rhai");
    std::fs::write(&path, script).unwrap();
    let arguments = ["run", path.to_str().unwrap(), "--priors", "priors"];
    let write = ["--write", folder.path().to_str().unwrap()];
    let ran = outside::run(&[&arguments[..], &write, more].concat());
    (
        ran.code,
        ran.out,
        ran.err,
        std::fs::read_to_string(folder.path().join("report.html")).unwrap_or_default(),
    )
}

fn page(title: &str, options: &str) -> (Value, String) {
    let script = format!(
        "{} let report = jug.report({INSTRUCTION}, {options}); show(report); report.save_as(\"report.html\");",
        JUG.replace("a jug", title)
    );
    let (code, out, err, page) = run(&script, &["--json"]);
    assert_eq!((code, err.as_str()), (0, ""));
    let json: Value = serde_json::from_str(&out).unwrap();
    (json["results"][0].clone(), page)
}

/// The names of all tags and all text; every tag but those of the head that HTML leaves open is closed.
fn tags_and_text(page: &str) -> (Vec<String>, String) {
    let closed = page.replace("initial-scale=1\">", "initial-scale=1\"/>");
    let closed = closed.replace("<meta charset=\"utf-8\">", "<meta charset=\"utf-8\"/>");
    let mut reader = Reader::from_str(&closed);
    let (mut tags, mut text) = (Vec::new(), String::new());
    loop {
        match reader.read_event().unwrap() {
            Event::Start(tag) | Event::Empty(tag) => tags.push(tag.name().as_ref().to_owned()),
            Event::Text(part) => text += &part,
            Event::End(_) => text.push('\n'),
            Event::GeneralRef(part) => {
                text += match &*part {
                    "amp" => "&",
                    "lt" => "<",
                    "gt" => ">",
                    _ => "\"",
                };
            }
            Event::Eof => break,
            _ => {}
        }
    }
    (tags, text)
}

#[test]
fn every_section_is_there() {
    let (_, page) = page("a jug", "#{ draws: 64 }");
    for id in [
        "instruction",
        "opinion",
        "alternatives",
        "date",
        "object",
        "findings",
        "evidence",
        "strength",
        "stress",
        "away",
        "change",
        "condition",
        "questions",
        "limits",
        "again",
        "signature",
    ] {
        assert!(page.contains(&format!("<section id=\"{id}\">")), "{id}");
    }
    let (tags, text) = tags_and_text(&page);
    assert_eq!(tags.iter().filter(|tag| *tag == "svg").count(), 3);
    for wrong in ["script", "link", "img", "iframe", "a"] {
        assert!(!tags.iter().any(|tag| tag == wrong), "{wrong}");
    }
    // Nothing is fetched: the one address names the language of the pictures.
    assert_eq!(
        page.matches("http").count(),
        page.matches("http://www.w3.org/2000/svg").count()
    );
    for said in [
        "What was believed before the piece was looked at?",
        "Was a maker not on the list considered?",
        "Condition: not noted.",
        "Not in this report: value (not asked)",
        "Seen in photographs only",
        "wheel paddles",
        "ENFSI 2015",
        "jug.rhai",
        "distinguishing features\nnot noted",
        "a maker not listed",
        "later reproduction",
    ] {
        assert!(text.contains(said), "{said}\n{text}");
    }
    assert!(page.starts_with("<!DOCTYPE html><html lang=\"en\">"));
}

#[test]
fn figures_are_those_of_the_results() {
    let (json, page) = page("a jug", "#{ draws: 200, seed: 7 }");
    let (_, text) = tags_and_text(&page);
    let own = format!("{JUG} show(jug.verdict()); show(jug.audit()); show(jug.stress(200, 7));");
    let (_, out, _, _) = run(&own, &["--json"]);
    let own: Value = serde_json::from_str(&out).unwrap();
    let figure = |value: &Value| value.as_f64().unwrap();
    let [verdict, audit, stress] = own["results"].as_array().unwrap().as_slice() else {
        panic!("{own}");
    };
    assert_eq!(json["verdict"]["makers"], verdict["makers"]);
    assert_eq!(json["audit"]["findings"], audit["findings"]);
    assert_eq!(json["stress"]["median"], stress["median"]);
    let mut n_makers = 0;
    for maker in verdict["makers"].as_array().unwrap() {
        if figure(&maker["probability"]) >= 0.005 {
            let row = format!(
                "{} {}\n{:.4}",
                maker["id"].as_str().unwrap(),
                maker["name"].as_str().unwrap(),
                figure(&maker["probability"])
            );
            assert!(text.contains(&row), "{row}");
            n_makers += 1;
        }
    }
    assert!(n_makers >= 2);
    for finding in audit["findings"].as_array().unwrap() {
        let row = format!(
            "{}: {}\n{:+.2}\n{:+.2}",
            finding["name"].as_str().unwrap(),
            finding["said"].as_str().unwrap(),
            figure(&finding["shared"]["decibans"]),
            figure(&finding["in_order"])
        );
        assert!(text.contains(&row), "{row}");
    }
    let median = &stress["median"];
    let row = format!(
        "median\n{:.4} ± {:.4}",
        figure(&median["value"]),
        figure(&median["standard_error"])
    );
    assert!(text.contains(&row), "{row}");
    assert!(text.contains(verdict["pack_sha256"].as_str().unwrap()));
}

#[test]
fn a_value_stands_in_it_only_with_a_definition() {
    let asked = INSTRUCTION.replace("interest:", "definition: \"auction estimate\", interest:");
    let script = format!(
        "{JUG} jug = jug.in_condition(4, []); let i = {asked}; show(jug.value(i)); let report = jug.report(i, #{{ draws: 64 }}); show(report); report.save_as(\"report.html\");"
    );
    let (code, out, err, page) = run(&script, &["--json"]);
    assert_eq!((code, err.as_str()), (0, ""));
    let json: Value = serde_json::from_str(&out).unwrap();
    let (value, report) = (&json["results"][0], &json["results"][1]);
    assert_eq!(report["value"]["estimates"], value["estimates"]);
    let (_, text) = tags_and_text(&page);
    assert!(page.contains("<section id=\"value\">"));
    for estimate in value["estimates"].as_array().unwrap() {
        let rounded = estimate["rounded"].as_array().unwrap().iter();
        let rounded: Vec<String> = rounded
            .map(|p| format!("{}", p.as_f64().unwrap()))
            .collect();
        let row = format!(
            "{}\n{}\n",
            estimate["catalogued"].as_str().unwrap(),
            rounded.join("–")
        );
        assert!(text.contains(&row), "{row}");
    }
    let without = format!("{JUG} jug.report({asked});");
    let (code, _, err, _) = run(&without, &[]);
    assert_eq!(code, 4);
    assert!(err.contains("condition"), "{err}");
}

#[test]
fn hostile_texts_are_escaped() {
    let hostile = "</title><script>alert(1)</script>&<b>";
    let options = format!(
        "#{{ draws: 64, title: \"{hostile}\", condition: \"{hostile}\", object: #{{ type: \"{hostile}\" }} }}"
    );
    let (_, page) = page(hostile, &options);
    let (tags, text) = tags_and_text(&page);
    assert!(
        !tags.iter().any(|tag| tag == "script" || tag == "b"),
        "{tags:?}"
    );
    assert!(text.matches(hostile).count() >= 4, "{text}");
}

#[test]
fn what_cannot_be_written_is_refused_kindly() {
    for (call, said) in [
        (
            "jug.report(instruction(#{ purpose: \"sale\" }))",
            "the instruction does not say: users, effective",
        ),
        (
            "jug.report(instruction(#{ purpos: \"sale\" }))",
            "did you mean `purpose`?",
        ),
        (
            "jug.report(INSTRUCTION, #{ drawz: 9 })",
            "did you mean `draws`?",
        ),
        (
            "jug.report(INSTRUCTION, #{ draws: 1 })",
            "a stress run takes from 2",
        ),
        (
            "jug.report(INSTRUCTION, #{ object: #{ tipe: \"jug\" } })",
            "did you mean `type`?",
        ),
        (
            "jug.report(INSTRUCTION, #{ condition: 3 })",
            "`condition` is a text, not a whole number",
        ),
        (
            "jug.report(INSTRUCTION, #{ draws: 8 }).save_as(\"x.pdf\")",
            "a report is saved as HTML",
        ),
        (
            "jug.report(INSTRUCTION, #{ draws: 8 }).save_as(\"../x.html\")",
            "without `..`",
        ),
    ] {
        let script = format!("{JUG} {};", call.replace("INSTRUCTION", INSTRUCTION));
        let (code, out, err, _) = run(&script, &[]);
        assert_eq!(code, 4, "{call}: {out}{err}");
        assert!(err.contains(said), "{call}: {err}");
    }
}

#[test]
fn a_page_and_a_text() {
    let (_, page) = page("a jug", "#{ draws: 64, condition: \"sound\" }");
    // Pictures have tests of their own.
    let parts = page.split("<svg").enumerate();
    let without: String = parts
        .map(|(place, part)| match (place, part.split_once("</svg>")) {
            (0, _) | (_, None) => part,
            (_, Some((_, rest))) => rest,
        })
        .collect();
    insta::assert_snapshot!("page", without.replace("><", ">\n<"));
    let script = format!("{JUG} show(jug.report({INSTRUCTION}, #{{ draws: 64 }}));");
    let (_, text, _, _) = run(&script, &[]);
    let (front, _) = text.split_once("── VERDICT").unwrap();
    let (_, back) = text.split_once("── QUESTIONS").unwrap();
    insta::assert_snapshot!("text", format!("{front}…\n── QUESTIONS{back}"));
}
