//! What is supposed, left out or changed is told in every result, and an opinion says nothing that its findings do not bear out.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use std::process::Command;

use serde_json::Value;

const ASKED: &str = r##"instruction(#{ purpose: "a sale", users: "the owner", effective: "2024-03-31", inspected: "2024-03-02",
    inspector: "E. Rowan", seen: "in hand", interest: "none", definition: "auction estimate" })"##;

const BEGIN: &str = r#"let pack = open_pack("tidewheel");
let jug = pack.piece("a jug").saw("size", "V").saw("search", "full").saw("print", "clear").saw("weathercock", "left")
    .saw("mark", "bell or beehive").in_condition(4, []);
"#;

/// What a script shows, as text and as JSON.
fn run(script: &str) -> (String, Value) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("jug.rhai");
    let script = format!("{BEGIN}let asked = {ASKED};\n{script}");
    std::fs::write(&path, script).unwrap();
    let show = |more: &[&str]| {
        let output = Command::new(env!("CARGO_BIN_EXE_saggar"))
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .args(["run", path.to_str().unwrap(), "--priors", "priors"])
            .args(["--write", folder.path().to_str().unwrap()])
            .args(more)
            .output()
            .unwrap();
        let error = String::from_utf8(output.stderr).unwrap();
        assert!(output.status.success(), "{error}");
        String::from_utf8(output.stdout).unwrap()
    };
    let mut text = show(&[]);
    let json = serde_json::from_str(&show(&["--json"])).unwrap();
    if let Ok(page) = std::fs::read_to_string(folder.path().join("page.html")) {
        text += &page;
    }
    (text, json)
}

const ALL: &str = r#"show(other); show(other.verdict()); show(other.audit()); show(other.value(asked));
    show(other.pays(asked, #{ per_hour: 60 }));
    let report = other.report(asked, #{ title: "A jug for sale", draws: 64 });
    show(report); report.save_as("page.html");"#;

/// Every result that may be shown to a client says `words` near its title and among its cautions, and holds a field.
#[track_caller]
fn all_say(other: &str, words: &str) {
    let (text, json) = run(&format!("let other = {other}; {ALL}"));
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    // Record, verdict, audit, value, pays; the report with its verdict, audit and value; the page.
    assert!(flat.matches(words).count() >= 9, "{words}\n{text}");
    assert!(
        flat.contains(&format!("── VALUE ── a jug [{}", title(words))),
        "{text}"
    );
    assert!(
        flat.contains(&format!("── REPORT ── A jug for sale !! {words}")),
        "{text}"
    );
    assert!(
        flat.contains(&format!(
            "<p class=\"what-if\"><strong>{}",
            words.replace('&', "&amp;")
        )),
        "{text}"
    );
    let results = json["results"].as_array().unwrap();
    assert_eq!(results.len(), 6);
    for result in results {
        let said = result["what_if"]["words"].as_str().unwrap_or_default();
        assert!(said.starts_with(words), "{result}");
        let caution = result["cautions"][0]
            .as_str()
            .unwrap_or_default()
            .to_lowercase();
        let is_told = caution.starts_with(&words.to_lowercase());
        let has_cautions = matches!(result["kind"].as_str(), Some("verdict" | "value" | "pays"));
        assert!(is_told || !has_cautions, "{result}");
    }
}

fn title(words: &str) -> &str {
    match words.starts_with("what-if") {
        true => "what-if",
        false => "prior files pooled",
    }
}

#[test]
fn what_is_supposed_or_left_out_is_told() {
    all_say(
        r#"jug.suppose("mark", "lantern TQ&U, full").suppose("tint", "blue")"#,
        "what-if, not an opinion: supposed: mark reading lantern TQ&U, full (found: bell or beehive), glaze tint blue",
    );
    all_say(
        r#"jug.without("mark")"#,
        "what-if, not an opinion: left out: mark reading (found: bell or beehive)",
    );
    let (text, _) = run(r#"show(jug.without("mark").verdict());"#);
    let not_looked = text
        .lines()
        .find(|line| line.contains("not looked"))
        .unwrap();
    assert!(!not_looked.contains("mark reading"), "{text}");
}

#[test]
fn prior_files_that_were_changed_are_told() {
    all_say(
        r#"jug.under(pack.suppose("weight for size given maker = K07", #{ mean: 1.05 }))"#,
        "what-if, not an opinion: prior files changed: supposing another weight for size given maker = K07",
    );
    all_say(
        r#"jug.under(pool_linear([pack, open_pack("tidewheel")], [0.7, 0.3]))"#,
        "on pooled prior files, no single expert's: prior files pooled: linearly, Tidewheel jugs (",
    );
    let (_, json) = run(
        r#"show(jug.under(pool_linear([pack, pack.suppose("share of each maker", #{ seen: 20 })], [0.7, 0.3])).verdict());"#,
    );
    let verdict = &json["results"][0];
    assert_eq!(
        verdict["what_if"]["prior_files"][0],
        "supposing another share of each maker"
    );
    let name = verdict["pack"].as_str().unwrap();
    assert!(
        name.contains("by 0.7 and ") && name.ends_with("by 0.3"),
        "{name}"
    );
}

/// A piece as it was found, and one whose finding came back as it was, are no what-ifs.
#[test]
fn what_was_found_is_no_what_if() {
    let (text, json) = run(
        r#"show(jug.value(asked)); show(jug.without("mark").saw("mark", "bell or beehive").verdict()); show(jug.without("tint").audit());"#,
    );
    assert!(!text.contains("what-if"), "{text}");
    for result in json["results"].as_array().unwrap() {
        assert!(result["what_if"].is_null(), "{result}");
    }
}

/// The first caution and the answer to a hostile reader name who is ruled out, and nobody else.
#[test]
fn who_is_ruled_out_is_named() {
    let (text, json) = run(
        r#"let copy = pack.piece("copy").saw("size", "V").saw("search", "full").saw("mark", "lantern TQ&U, full").saw("print", "clear")
            .saw("technique", "screen").saw("tint", "white").saw("foot", "double").in_condition(4, []);
        show(copy.verdict()); show(copy.report(asked, #{ draws: 64 }));"#,
    );
    let verdict = &json["results"][0];
    let chance = |role: &str| {
        let makers = verdict["makers"].as_array().unwrap();
        let maker = makers.iter().find(|maker| maker["id"] == role).unwrap();
        maker["probability"].as_f64().unwrap()
    };
    assert!(chance("R") > 0.9 && chance("U") == 0.0, "{text}");
    let caution = verdict["cautions"][0].as_str().unwrap();
    assert!(
        caution.contains("given these findings, a maker not listed:"),
        "{caution}"
    );
    assert!(!caution.contains("a later copy"), "{caution}");
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        flat.contains("Among the alternatives weighed above: later reproduction."),
        "{text}"
    );
    assert!(flat.contains("Not weighed, since these prior files rule it out given these findings: a maker not listed."), "{text}");
}

#[test]
fn nothing_found_explains_nothing() {
    let (text, json) = run(r#"let bare = pack.piece("bare"); show(bare.verdict());
        show(bare.report(instruction(#{ purpose: "a sale", users: "the owner", effective: "2024-03-31", inspected: "2024-03-02",
            inspector: "E. Rowan", seen: "in hand", interest: "none" }), #{ draws: 64 })); show(bare.contrasts());"#);
    assert!(json["results"][0]["surprise"]["open_world"].is_null());
    for wrong in [
        "explains the findings better",
        "explain these findings",
        "needs at least 0.00",
        "-0.0000",
    ] {
        assert!(!text.contains(wrong), "{wrong}\n{text}");
    }
    assert!(text.contains("none: these are the priors"), "{text}");
    assert!(text.contains("no finding makes a claim"), "{text}");
}

#[test]
fn what_the_expert_tells_is_no_opinion() {
    let (text, json) = run(
        r##"let told = #{ object: #{ maker: "Tarrowby, beyond doubt", date: "1820", title: "Tidewheel" }, draws: 64 };
        let report = jug.report(asked, told); show(report); report.save_as("page.html");"##,
    );
    let fields = json["results"][0]["object"].as_array().unwrap();
    let field = |name: &str| fields.iter().find(|field| field["field"] == name).unwrap();
    let opinion = &json["results"][0]["verdict"]["attribution"]["words"];
    assert_eq!(&field("maker")["text"], opinion);
    assert_eq!(field("maker")["told"], "Tarrowby, beyond doubt");
    assert_eq!(field("date or period")["told"], "1820");
    assert_eq!(field("title")["text"], "Tidewheel");
    let flat = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        flat.contains("title: Tidewheel [as told by the expert]"),
        "{text}"
    );
    assert!(
        flat.contains("as told by the expert, not this opinion: Tarrowby, beyond doubt"),
        "{text}"
    );
    assert!(
        flat.contains("maker, as told</th><td class=\"text\">Tarrowby, beyond doubt</td>"),
        "{text}"
    );
}

/// The widest first, by the sensitivity's own order.
#[test]
fn the_numbers_that_move_the_answer_most_are_told() {
    let (text, json) = run("show(jug.report(asked, #{ draws: 64 }));");
    let report = &json["results"][0];
    let questions = report["questions"].as_array().unwrap();
    let asked = questions
        .iter()
        .find(|q| q["question"] == "What if the tables are wrong?")
        .unwrap();
    let answers = &asked["answers"].as_array().unwrap()[2..];
    let moved = &report["sensitivity"]["moved"].as_array().unwrap()[..3];
    assert_eq!(answers.len(), 3, "{text}");
    for (answer, moved) in answers.iter().zip(moved) {
        let begin = format!(
            "{}, {}: ",
            moved["about"].as_str().unwrap(),
            moved["number"].as_str().unwrap()
        );
        assert!(
            answer.as_str().unwrap().starts_with(&begin),
            "{answer} {begin}"
        );
    }
}

#[test]
fn regions_go_by_their_names() {
    let (text, _) = run(
        r#"show(pack.piece("bare").verdict()); print(jug.probability(region("region not known")) == jug.probability(region("any")));"#,
    );
    assert!(
        text.contains("region not known [0.06]") && !text.contains("any ["),
        "{text}"
    );
    assert!(text.contains("\ntrue\n"), "{text}");
}
