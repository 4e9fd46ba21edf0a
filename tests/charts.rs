//! Charts: well-formed pictures whose bars are as long as the results say, whatever stands in a title.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

mod outside;

use std::path::Path;

use outside::Ran;
use quick_xml::Reader;
use quick_xml::events::{BytesStart, Event};
use serde_json::Value;

const JUG: &str = r#"let jug = open_pack("tidewheel").piece("a jug").saw("size", "V").saw("search", "full")
    .saw("mark", "bell or beehive").saw("print", "blurred").saw("sluice", "cross").weighs("1345 g").saw("tint", "faint blue");
"#;

fn run(script: &str, folder: &Path, more: &[&str]) -> Ran {
    let path = folder.join("script.rhai");
    std::fs::write(&path, script).unwrap();
    let arguments = ["run", path.to_str().unwrap(), "--priors", "priors"];
    outside::run(&[&arguments[..], more].concat())
}

/// The results of a script as JSON, and what it saved as `picture.svg`.
fn results(script: &str) -> (Value, String) {
    let folder = tempfile::tempdir().unwrap();
    let write = folder.path().to_str().unwrap();
    let ran = run(script, folder.path(), &["--json", "--write", write]);
    assert_eq!((ran.code, ran.err.as_str()), (0, ""));
    let picture = std::fs::read_to_string(folder.path().join("picture.svg"));
    (
        serde_json::from_str(&ran.out).unwrap(),
        picture.unwrap_or_default(),
    )
}

#[derive(Clone, Debug)]
struct Rect {
    x: f64,
    width: f64,
    y: f64,
    height: f64,
    says: String,
}

fn attribute(tag: &BytesStart<'_>, name: &str) -> Option<String> {
    let found = tag.try_get_attribute(name).unwrap()?;
    Some(found.value.into_owned())
}

/// Reads a picture to its end, every tag closed: its bars with what they say, and all text.
fn bars_and_text(svg: &str) -> (Vec<Rect>, String) {
    let mut reader = Reader::from_str(svg);
    reader.config_mut().check_end_names = true;
    let (mut rects, mut text) = (Vec::<Rect>::new(), String::new());
    let mut open: Vec<String> = Vec::new();
    loop {
        match reader.read_event().unwrap() {
            Event::Start(tag) => {
                let name = tag.name().as_ref().to_owned();
                for attribute in tag.attributes() {
                    attribute.unwrap();
                }
                if name == "rect" {
                    let number = |name| attribute(&tag, name).map_or(0.0, |v| v.parse().unwrap());
                    rects.push(Rect {
                        x: number("x"),
                        width: number("width"),
                        y: number("y"),
                        height: number("height"),
                        says: String::new(),
                    });
                }
                assert!(
                    !["script", "image", "a", "use"].contains(&name.as_str()),
                    "{name}"
                );
                open.push(name);
            }
            Event::End(_) => {
                open.pop();
            }
            Event::Text(part) => {
                let part = (*part).to_owned();
                if open.len() > 2 && open[open.len() - 2] == "rect" {
                    rects.last_mut().unwrap().says += &part;
                }
                text += &part;
            }
            Event::GeneralRef(part) => text += &format!("&{};", &*part),
            Event::Eof => break,
            _ => {}
        }
    }
    assert!(open.is_empty(), "{open:?}");
    rects.retain(|rect| !rect.says.is_empty());
    (rects, text)
}

#[test]
fn bars_of_a_verdict_are_as_long_as_its_chances() {
    let script = format!(
        "{JUG} let v = jug.verdict(); show(v); show(plot(v)); plot(v).save_as(\"picture.svg\");"
    );
    let (json, picture) = results(&script);
    let [verdict, chart] = json["results"].as_array().unwrap().as_slice() else {
        panic!("{json}");
    };
    let (rects, _) = bars_and_text(&picture);
    // Makers lie, periods stand.
    let makers = chart["panels"][0]["bars"].as_array().unwrap();
    let periods = chart["panels"][1]["bars"].as_array().unwrap();
    assert_eq!(rects.len(), makers.len() + periods.len());
    let (lying, standing) = rects.split_at(makers.len());
    let compare = |bars: &[Value], lengths: Vec<f64>| {
        let values: Vec<f64> = bars.iter().map(|b| b["value"].as_f64().unwrap()).collect();
        let total: f64 = values.iter().sum();
        assert!((total - 1.0).abs() < 1e-9, "{total}");
        let (most, longest) = values
            .iter()
            .zip(&lengths)
            .max_by(|a, b| a.0.total_cmp(b.0))
            .unwrap();
        for (value, length) in values.iter().zip(&lengths) {
            let due = (value / most * longest).max(if *value > 0.0 { 0.75 } else { 0.0 });
            assert!((length - due).abs() <= 0.02, "{length} where {due} is due");
        }
    };
    compare(makers, lying.iter().map(|r| r.width).collect());
    compare(periods, standing.iter().map(|r| r.height).collect());
    assert!(
        standing
            .iter()
            .all(|r| (r.y + r.height - standing[0].y - standing[0].height).abs() < 0.02)
    );
    // The first three lines drawn are 0, 0.5 and 1 on the axis of the makers.
    let lines: Vec<f64> = picture
        .split("<line x1=\"")
        .skip(1)
        .take(3)
        .map(|rest| rest.split('"').next().unwrap().parse().unwrap())
        .collect();
    let share = lying[0].width / (lines[2] - lines[0]);
    assert!(
        (share - makers[0]["value"].as_f64().unwrap()).abs() < 1e-3,
        "{share}"
    );
    assert!((lying[0].x - lines[0]).abs() < 0.02);
    // The figures are those of the verdict, in full precision.
    assert_eq!(makers[0]["value"], verdict["makers"][0]["probability"]);
    for (bar, period) in periods.iter().zip(verdict["periods"].as_array().unwrap()) {
        assert_eq!(bar["value"], period["probability"]);
    }
}

#[test]
fn findings_stand_on_their_side_of_zero() {
    let script = format!(
        "{JUG} jug = jug.saw(\"foot\", \"single\"); let a = jug.audit(); show(a); show(plot(a)); plot(a).save_as(\"picture.svg\");"
    );
    let (json, picture) = results(&script);
    let (audit, chart) = (&json["results"][0], &json["results"][1]);
    let findings = audit["findings"].as_array().unwrap();
    let bars = chart["panels"][0]["bars"].as_array().unwrap();
    let (rects, _) = bars_and_text(&picture);
    let values: Vec<f64> = bars.iter().map(|b| b["value"].as_f64().unwrap()).collect();
    assert!(
        values.iter().any(|v| *v < 0.0) && values.iter().any(|v| *v > 0.0),
        "{values:?}"
    );
    // Zero is where bars above it begin and bars below it end.
    let first_above = values.iter().position(|v| *v > 0.0).unwrap();
    let zero = rects[first_above].x;
    let scale = rects[first_above].width / values[first_above];
    for ((finding, value), rect) in findings.iter().zip(&values).zip(&rects) {
        assert_eq!(finding["shared"]["decibans"].as_f64().unwrap(), *value);
        let end = if *value < 0.0 {
            rect.x
        } else {
            rect.x + rect.width
        };
        let due = zero + value * scale;
        assert!((end - due).abs() < 0.8, "{rect:?} where {due} is due");
    }
}

#[test]
fn every_draw_of_a_stress_run_is_counted_once() {
    let (json, _) = results(&format!(
        "{JUG} show(jug.stress(333)); show(plot(jug.stress(333)));"
    ));
    let (stress, chart) = (&json["results"][0], &json["results"][1]);
    let bands = stress["draws_by_band"].as_array().unwrap();
    let total: u64 = bands.iter().map(|n| n.as_u64().unwrap()).sum();
    assert_eq!((bands.len(), total), (20, 333));
    // Half of the draws lie below the median: so do the bands up to its own, at least.
    let median = stress["median"]["value"].as_f64().unwrap();
    let below: u64 = bands
        .iter()
        .take((median * 20.0).ceil() as usize)
        .map(|n| n.as_u64().unwrap())
        .sum();
    assert!(below * 2 >= 333, "{below}");
    assert_eq!(chart["panels"][1]["bars"][0]["low"], stress["low"]["value"]);
}

#[test]
fn whatever_has_a_chart_is_drawn_in_both_ways() {
    for result in [
        "jug.verdict()",
        "jug.audit()",
        "jug.audit(region(\"Saltharrow\"))",
        "jug.stress(64)",
        "jug.stress_explained(16)",
        "jug.sensitivity()",
        "jug.contrasts()",
        "jug.vary(\"tint\")",
        "jug.vary([\"tint\", \"foot\"])",
        "compare(jug, jug.without(\"mark\"))",
        "jug.why_not(\"K02\")",
        "jug.next_look()",
        "jug.overturn()",
        "open_pack(\"tidewheel\").rank_marks(\"T? & U\")",
        "plot(#{ title: \"own\", across: [1, 2.5], up: [3, -1e9], unit: \"\" })",
        "plot(#{ title: \"own\", across: [\"one\"], up: [0], unit: \"probability\" })",
    ] {
        let script =
            format!("{JUG} show(plot({result})); plot({result}).save_as(\"picture.svg\");");
        let (json, picture) = results(&script);
        assert_eq!(json["results"][0]["kind"], "plot", "{result}");
        let (_, text) = bars_and_text(&picture);
        assert!(text.len() > 20, "{result}");
        for wrong in ["NaN", "inf"] {
            assert!(
                !picture.contains(&format!("\"{wrong}\""))
                    && !picture.contains(&format!(" {wrong}")),
                "{result}"
            );
        }
        let folder = tempfile::tempdir().unwrap();
        let shown = run(&format!("{JUG} show(plot({result}));"), folder.path(), &[]).out;
        assert!(shown.starts_with("── CHART ──"), "{shown}");
        let widest = shown.lines().skip(1).map(|line| line.chars().count()).max();
        assert!(widest.unwrap() <= 80, "{shown}");
    }
}

#[test]
fn hostile_titles_are_escaped() {
    let title = r#"</text><script>alert("1")</script> & <a href='x'>"#;
    let script = format!(
        "let jug = open_pack(\"tidewheel\").piece({0:?}).saw(\"tint\", \"blue\"); plot(jug.verdict()).save_as(\"picture.svg\");",
        title
    );
    let (_, picture) = results(&script);
    let (_, text) = bars_and_text(&picture);
    assert!(
        !picture.contains("<script") && !picture.contains("<a "),
        "{picture}"
    );
    assert!(text.contains("alert"), "{text}");
}

#[test]
fn the_same_piece_gives_the_same_bytes() {
    let script = format!("{JUG} plot(jug.stress(200)).save_as(\"picture.svg\");");
    let (_, first) = results(&script);
    let (_, second) = results(&script);
    assert_eq!(first, second);
    assert!(first.contains("role=\"img\"") && first.contains("<desc"));
}

#[test]
fn what_cannot_be_drawn_is_refused_kindly() {
    let folder = tempfile::tempdir().unwrap();
    for (call, said) in [
        ("plot(jug)", "there is no chart of a piece"),
        ("plot(3)", "there is no chart of a whole number"),
        (
            "plot(#{ title: \"t\", across: [1], up: [1, 2], unit: \"g\" })",
            "`up` has 2 figures where `across` has 1",
        ),
        (
            "plot(#{ title: \"t\", across: [2, 1], up: [1, 2], unit: \"g\" })",
            "`across` grows from left to right",
        ),
        (
            "plot(#{ title: \"t\", across: [1], up: [\"x\"], unit: \"g\" })",
            "figure 1 of `up` is a text, no number",
        ),
        (
            "plot(#{ title: \"t\", across: [1], up: [1e300], unit: \"g\" })",
            "a chart has room",
        ),
        (
            "plot(#{ title: \"t\", across: [1], up: [1.2], unit: \"probability\" })",
            "1.2 is no probability",
        ),
        (
            "plot(#{ title: \"t\", across: [1], up: [2], low: [1], unit: \"g\" })",
            "a band has two ends",
        ),
        (
            "plot(#{ title: \"t\", across: [1], up: [2], low: [3], high: [4], unit: \"g\" })",
            "lies outside its ends",
        ),
        (
            "plot(#{ title: \"t\", across: [], up: [], unit: \"g\" })",
            "from 1 to 500 figures",
        ),
        (
            "plot(#{ title: \"t\", across: [1], up: [2] })",
            "`unit` is missing",
        ),
        (
            "plot(#{ titel: \"t\", across: [1], up: [2], unit: \"g\" })",
            "did you mean `title`?",
        ),
        ("plot(jug.verdict()).save_as(\"x.png\")", "saved as SVG"),
        (
            "plot(jug.verdict()).save_as(\"x.svg\")",
            "a script writes only where it may",
        ),
    ] {
        let ran = run(&format!("{JUG} {call};"), folder.path(), &[]);
        assert_eq!(ran.code, 4, "{call}: {}{}", ran.out, ran.err);
        assert!(ran.err.contains(said), "{call}: {}", ran.err);
    }
    let write = folder.path().to_str().unwrap();
    let script = format!("{JUG} plot(jug.verdict()).save_as(\"../x.svg\");");
    let ran = run(&script, folder.path(), &["--write", write]);
    assert_eq!(ran.code, 4, "{}", ran.err);
}
