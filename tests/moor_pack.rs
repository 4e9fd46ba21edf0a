//! A third pack: hollow and flat ware weighed for their size, hidden qualities with judged grades and measured colours, wear
//! put on to deceive, partnerships at one works.
//!
//! What the model answers is compared with sums over everything unseen, written out in `moor_pack/by_hand.rs`.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "moor_pack/by_hand.rs"]
mod by_hand;

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use by_hand::{Seen, flat, hollow, joint, lognormal, mean_lognormal};
use saggar::report::Shown;
use saggar::script::{self, Finished, Settings};

const STEPS_BY_DAY: [f64; 3] = [0.75, 0.23, 0.02];
const STEPS_BY_LAMP: [f64; 3] = [0.45, 0.40, 0.15];
const INSTRUMENT: [f64; 3] = [0.6, 0.3, 0.4];

fn priors() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/packs")
}

/// Runs `let piece = pack.piece("x")…; show(…)` on the pack.
fn run(description: &str, shown: &str) -> (Finished, Vec<Shown>) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("script.rhai");
    let text = format!(
        "let pack = open_pack(\"moor_ware\"); let piece = pack.piece(\"x\"){description}; {shown}"
    );
    std::fs::write(&path, text).unwrap();
    let results: Arc<Mutex<Vec<Shown>>> = Arc::default();
    let sink = Arc::clone(&results);
    let settings = Settings {
        time_limit: Duration::from_secs(120),
        ..Settings::new(priors())
    };
    let finished = script::run(&path, settings, move |s| sink.lock().unwrap().push(s)).unwrap();
    let results = std::mem::take(&mut *results.lock().unwrap());
    (finished, results)
}

/// P(maker | piece) in the order of makers.toml, and the findings in words.
fn judged(description: &str) -> (Vec<f64>, f64, Vec<String>) {
    let (finished, results) = run(description, "show(piece.verdict());");
    if let Some(failure) = finished.failure {
        panic!("{:?}", failure.diagnostics);
    }
    let Shown::Verdict(verdict) = &results[0] else {
        panic!()
    };
    let p = ["PH", "HS", "NB", "unlisted", "copy"].map(|id| {
        verdict
            .makers
            .iter()
            .find(|m| m.id == id)
            .unwrap()
            .probability
    });
    let said = verdict.findings.iter().map(|f| f.said.clone()).collect();
    (p.to_vec(), verdict.log_evidence, said)
}

fn refused(description: &str) -> String {
    let (finished, _) = run(description, "show(piece.verdict());");
    let diagnostic = finished.failure.unwrap().diagnostics.remove(0);
    let hints = diagnostic.hints.join(" | ");
    format!("{} | {hints}", diagnostic.message)
}

#[track_caller]
fn check_within(description: &str, seen: &Seen, tolerance: f64) -> Vec<String> {
    let (found, log_evidence, said) = judged(description);
    let expected = joint(seen);
    let sum: f64 = expected.iter().sum();
    for (found, expected) in found.iter().zip(expected) {
        assert!(
            (found - expected / sum).abs() < tolerance,
            "{found} {}",
            expected / sum
        );
    }
    assert!(
        (log_evidence - sum.ln()).abs() < tolerance.max(1e-12) * 10.0,
        "{log_evidence} {}",
        sum.ln()
    );
    said
}

#[track_caller]
fn check(description: &str, seen: &Seen) -> Vec<String> {
    check_within(description, seen, 1e-12)
}

#[test]
fn nothing_seen() {
    check("", &Seen::nothing());
}

// ------------------------------------------------------------------------------------------------------------ weight

/// Source: Bayes' theorem; the tolerance of the scale (2 g) by Simpson's rule.
#[test]
fn hollow_ware_is_judged_per_litre_given_body_maker_and_period() {
    for (notes, grams, litres, body) in [
        (
            r#".holds("0.7 l").weighs("412 g").saw("body", "earthenware")"#,
            412.0,
            0.7,
            Some(0),
        ),
        (r#".weighs("412 g", "70 cl")"#, 412.0, 0.7, None),
        (
            r#".weighs("1 lb 2 1/2 oz", "700 ml").saw("body", "stone china")"#,
            18.5 * 28.349_523_125,
            0.7,
            Some(1),
        ),
    ] {
        let (low, high) = ((grams - 2.0) / litres, (grams + 2.0) / litres);
        let seen = Seen {
            body,
            weight: Box::new(move |b, m, p| mean_lognormal(low, high, hollow(b, m, p))),
            ..Seen::nothing()
        };
        check_within(notes, &seen, 1e-10);
    }
}

#[test]
fn flat_ware_is_judged_per_square_centimetre() {
    let width = 9.75 * 2.54;
    let area = std::f64::consts::PI / 4.0 * width * width;
    let (low, high) = (510.0 / area, 514.0 / area);
    let seen = Seen {
        weight: Box::new(move |b, m, _| mean_lognormal(low, high, flat(b, m))),
        ..Seen::nothing()
    };
    let said = check_within(r#".across("9 3/4 in").weighs("512 g")"#, &seen, 1e-10);
    assert!(
        said[0].starts_with("512 g (1.063 g per square centimetre, between 1.059 and 1.067"),
        "{said:?}"
    );
    assert_eq!(said[1], "9 3/4 in across (481.7 cm²)");
}

/// The tolerances of both readings, and the one in hand before the pack's.
#[test]
fn a_tolerance_given_with_a_reading_goes_before_the_packs() {
    let (low, high) = (480.0 / 0.72, 500.0 / 0.68);
    let seen = Seen {
        weight: Box::new(move |b, m, p| mean_lognormal(low, high, hollow(b, m, p))),
        ..Seen::nothing()
    };
    check_within(r#".weighs("490 g ± 10 g", "0.7 l ± 20 ml")"#, &seen, 1e-9);
    // One so small that it is the density itself.
    let seen = Seen {
        weight: Box::new(move |b, m, p| lognormal(490.0 / 0.7, hollow(b, m, p))),
        ..Seen::nothing()
    };
    check_within(r#".weighs("490 g ± 0.000001 g", "0.7 l")"#, &seen, 1e-9);
}

#[test]
fn dimensions_alone_make_no_claim() {
    let said = check(r#".across("350 mm ± 2 mm", "270 mm")"#, &Seen::nothing());
    assert_eq!(
        said,
        ["350 mm ± 2 mm by 270 mm across (742.2 cm²): no claim without a mass"]
    );
    let said = check(r#".holds("0.7 l")"#, &Seen::nothing());
    assert_eq!(said, ["holds 0.7 l (0.700 l): no claim without a mass"]);
}

#[test]
fn a_second_weighing_replaces_the_first() {
    let (low, high) = (414.0 / 0.7, 418.0 / 0.7);
    let seen = Seen {
        weight: Box::new(move |b, m, p| mean_lognormal(low, high, hollow(b, m, p))),
        ..Seen::nothing()
    };
    check_within(
        r#".holds("0.7 l").weighs("600 g").weighs_again("416 g")"#,
        &seen,
        1e-10,
    );
}

#[test]
fn weights_that_are_refused() {
    for (notes, said) in [
        (
            r#".weighs("-3 g")"#,
            "`-3 g` is not a quantity above zero | write a mass such as",
        ),
        (
            r#".weighs("3 stone")"#,
            "`3 stone` has the unknown unit `stone` | write a mass such as",
        ),
        (
            r#".holds("2 pt")"#,
            "`2 pt` has the unknown unit `pt` | write a capacity such as",
        ),
        (
            r#".across("350")"#,
            "`350` has no unit | write a length such as",
        ),
        (
            r#".weighs("400 g ± 400 g")"#,
            "`400 g ± 400 g` has a tolerance that leaves nothing of it",
        ),
        (
            r#".weighs("400 g")"#,
            "the weight cannot be judged: it is judged per litre | note the capacity as well",
        ),
        (
            r#".holds("1 l").weighs("400 g").weighs("400 g", "380 cm2")"#,
            "the piece is weighed already: 400 g | if the second weighing is the better one",
        ),
        (
            r#".weighs_again("400 g")"#,
            "`weight of hollow ware` has not been noted yet",
        ),
    ] {
        let found = refused(notes);
        assert!(found.starts_with(said), "{notes}: {found}");
    }
}

// ------------------------------------------------------------------------------------------------- tint, inclusions, …

/// Source: sums over the hidden tint.
#[test]
fn a_judged_grade_is_misread_between_neighbours() {
    for (light, steps) in [("daylight", STEPS_BY_DAY), ("lamp", STEPS_BY_LAMP)] {
        for (grade, name) in ["white", "faint blue", "blue", "deep blue"]
            .iter()
            .enumerate()
        {
            let seen = Seen {
                tint: Some((grade, steps)),
                ..Seen::nothing()
            };
            let notes = format!(r#".saw("light", "{light}").saw("tint", "{name}")"#);
            check(&notes, &seen);
        }
    }
}

#[test]
fn a_measured_colour_adds_the_instrument_to_the_spread_of_the_tint() {
    let lab = [86.2, -2.7, -1.4];
    let seen = |instrument| Seen {
        colour: Some((lab, instrument)),
        ..Seen::nothing()
    };
    let notes = r#".measured("colour", #{ L: 86.2, a: -2.7, b: -1.4 })"#;
    let said = check(notes, &seen(INSTRUMENT));
    assert_eq!(
        said,
        ["L* 86.2, a* -2.7, b* -1.4 (ΔE₀₀ 1.4 from the mean of true tint = blue)"]
    );
    let notes = r#".measured("colour", #{ L: 86.2, a: -2.7, b: -1.4, sd: [2.0, 1.0, 1.5] })"#;
    check(notes, &seen([2.0, 1.0, 1.5]));
    // The same colour by chroma and hue.
    let (chroma, hue) = (2.7_f64.hypot(1.4), (-1.4_f64).atan2(-2.7).to_degrees());
    let notes = format!(r#".measured("colour", #{{ L: 86.2, C: {chroma:?}, h: {hue:?} }})"#);
    check_within(&notes, &seen(INSTRUMENT), 1e-10);
}

/// Both depend on the one hidden tint: together they are worth less than two witnesses of the maker.
#[test]
fn grade_and_colour_of_one_piece_share_the_hidden_tint() {
    let seen = |tint: bool, colour: bool| Seen {
        tint: tint.then_some((3, STEPS_BY_DAY)),
        colour: colour.then_some(([80.5, -4.2, -6.0], INSTRUMENT)),
        ..Seen::nothing()
    };
    let (eye, meter) = (
        r#".saw("light", "daylight").saw("tint", "deep blue")"#,
        r#".measured("colour", #{ L: 80.5, a: -4.2, b: -6.0 })"#,
    );
    check(eye, &seen(true, false));
    check(meter, &seen(false, true));
    check(&format!("{eye}{meter}"), &seen(true, true));

    let odds = |seen: &Seen| {
        let joint = joint(seen);
        (joint[0] / joint[1..].iter().sum::<f64>()).ln()
    };
    let prior = odds(&Seen::nothing());
    let alone = odds(&seen(true, false)) - prior + odds(&seen(false, true)) - prior;
    let together = odds(&seen(true, true)) - prior;
    assert!(
        together > 0.0 && together < 0.8 * alone,
        "{together} {alone}"
    );
}

#[test]
fn inclusions_crazing_and_pooling_are_graded_alike() {
    let seen = Seen {
        grit: Some(2),
        crazing: Some(1),
        pooling: Some(0),
        tint: Some((1, STEPS_BY_DAY)),
        ..Seen::nothing()
    };
    let notes = r#".saw("inclusions", "many").saw("crazing", "open").absent("pooling").saw("light", "daylight").saw("tint", "faint blue")"#;
    check(notes, &seen);
}

#[test]
fn colours_that_are_refused() {
    for (notes, said) in [
        (
            r#".saw("colour", "blue")"#,
            "`colour` is a measured colour | note it so: measured(\"colour\"",
        ),
        (
            r#".measured("tint", #{ L: 80, a: 0, b: 0 })"#,
            "`tint` is not a set of numbers measured together | note it with saw or weighs",
        ),
        (
            r#".measured("colour", #{ L: 180, a: 0, b: 0 })"#,
            "the colour of `colour` cannot be read: L* is 180, lightness lies between 0",
        ),
        (
            r#".measured("colour", #{ L: 80, a: 0 })"#,
            "the colour of `colour` cannot be read: `L, a` are not three coordinates",
        ),
        (
            r#".measured("colour", #{ X: 0.7, Y: 0.7, Z: 0.6 })"#,
            "the colour of `colour` cannot be read: X, Y and Z do not say which white",
        ),
        (
            r#".measured("colour", #{ L: 80, a: "green", b: 0 })"#,
            "the colour of `colour` cannot be read: a is ",
        ),
        (
            r#".measured("colour", #{ L: 80, a: 0, b: 0, sd: [1, 0, 1] })"#,
            "the colour of `colour` cannot be read: a standard deviation of the instrument is 0",
        ),
        (
            r#".unsure("colour", #{ blue: 1 })"#,
            "`colour` is a measured colour",
        ),
    ] {
        let found = refused(notes);
        assert!(found.starts_with(said), "{notes}: {found}");
    }
}

// -------------------------------------------------------------------------------------------------------------- wear

/// Source: sums over age, use and hidden wear.
#[test]
fn wear_follows_age_and_use() {
    for (state, name) in ["none", "light", "heavy", "simulated"].iter().enumerate() {
        for in_use in [None, Some(0), Some(1)] {
            let seen = Seen {
                wear: Some(state),
                in_use,
                ..Seen::nothing()
            };
            let kept = match in_use {
                Some(0) => r#".saw("use", "daily")"#,
                Some(_) => r#".saw("use", "on show")"#,
                None => "",
            };
            check(&format!(r#"{kept}.saw("wear", "{name}")"#), &seen);
        }
    }
}

#[test]
fn simulated_wear_speaks_for_a_reproduction_and_little_wear_hardly_against_age() {
    let copy = |notes: &str| judged(notes).0[4];
    let prior = copy("");
    assert!(copy(r#".saw("wear", "simulated")"#) > 3.0 * prior);
    assert!(copy(r#".saw("wear", "heavy")"#) < 0.5 * prior);
    // A piece that was only ever looked at has little wear at any age.
    let shown = copy(r#".saw("use", "on show").absent("wear")"#);
    let used = copy(r#".saw("use", "daily").absent("wear")"#);
    assert!(used > 1.5 * shown, "{used} {shown}");
}

// -------------------------------------------------------------------------------------------------------------- works

/// Source: sums, with moulds and habits by works and letters by maker.
#[test]
fn partnerships_at_one_works_share_moulds_and_not_letters() {
    let shared = r#".saw("foot", "double").saw("join", "gap").saw("inclusions", "many")"#;
    let seen = |letters| Seen {
        foot: Some(1),
        join: Some(1),
        grit: Some(2),
        letters,
        ..Seen::nothing()
    };
    check(shared, &seen(None));
    check(
        &format!(r#"{shared}.saw("letters", "H&S")"#),
        &seen(Some(2)),
    );
    // What the partnerships share moves both alike.
    let p = judged(shared).0;
    assert!((p[0] / p[1] - 0.30 / 0.25).abs() < 1e-12);
}

#[test]
fn the_verdict_is_given_for_the_works_when_its_partnerships_cannot_be_told_apart() {
    let words = |notes: &str| {
        let (finished, results) = run(notes, "show(piece.verdict());");
        assert!(finished.failure.is_none());
        let Shown::Verdict(verdict) = &results[0] else {
            panic!()
        };
        let works = verdict.works.iter().find(|w| w.id == "Cold Spout").unwrap();
        (verdict.attribution.clone(), works.probability)
    };
    let shared = r#".saw("foot", "double").saw("join", "gap").saw("inclusions", "many")"#;
    let (said, works) = words(shared);
    assert_eq!(said.rung, "works");
    assert_eq!(said.words, "Cold Spout, under one of its partnerships");
    assert_eq!(said.probability, works);
    assert!(said.beside[0].starts_with("Pell & Harrow 0.5"), "{said:?}");
    // Letters tell them apart.
    let (said, _) = words(&format!(r#"{shared}.saw("letters", "H&S")"#));
    assert_eq!(said.words, "attributed to Harrow & Sons");
}

/// Source: sums; a works is all of its partnerships together.
#[test]
fn an_audit_may_be_about_a_works() {
    let notes = r#".saw("foot", "double").saw("letters", "P&H")"#;
    let (finished, results) = run(notes, "show(piece.audit(\"Cold Spout\"));");
    if let Some(failure) = finished.failure {
        panic!("{:?}", failure.diagnostics);
    }
    let Shown::Audit(audit) = &results[0] else {
        panic!()
    };
    let decibans = |foot: bool, letters: bool| {
        let seen = Seen {
            foot: foot.then_some(1),
            letters: letters.then_some(1),
            ..Seen::nothing()
        };
        let joint = joint(&seen);
        10.0 * ((joint[0] + joint[1]) / joint[2..].iter().sum::<f64>()).log10()
    };
    let close =
        |found: f64, expected: f64| assert!((found - expected).abs() < 1e-9, "{found} {expected}");
    close(audit.prior_decibans, decibans(false, false));
    close(audit.posterior_decibans, decibans(true, true));
    close(
        audit.findings[0].in_order,
        decibans(true, false) - decibans(false, false),
    );
    close(
        audit.findings[1].alone,
        decibans(false, true) - decibans(false, false),
    );
    assert_eq!(
        audit.question.claim,
        "Cold Spout, under any of its partnerships"
    );
    let (finished, _) = run(notes, "show(piece.audit(\"works not known\"));");
    let said = &finished.failure.unwrap().diagnostics[0].message;
    assert_eq!(said, "there is no maker `works not known` in this pack");
}

// -------------------------------------------------------------------------------------------------- audit and stress

#[test]
fn the_audit_names_hidden_qualities_and_their_rows() {
    let notes = r#".saw("light", "daylight").saw("tint", "deep blue").measured("colour", #{ L: 80.5, a: -4.2, b: -6.0 }).saw("wear", "heavy")"#;
    let (_, results) = run(notes, "show(piece.audit(\"PH\"));");
    let Shown::Audit(audit) = &results[0] else {
        panic!()
    };
    assert!((audit.posterior_decibans - audit.prior_decibans - audit.total_decibans).abs() < 1e-9);
    let [group] = audit.groups.as_slice() else {
        panic!("{:?}", audit.groups)
    };
    assert_eq!(
        (group.name.as_str(), group.n_findings),
        ("all that tells of the tint of the glaze", 2)
    );
    // The group's weight by hand.
    let odds = |tint: bool| {
        let seen = Seen {
            tint: tint.then_some((3, STEPS_BY_DAY)),
            colour: tint.then_some(([80.5, -4.2, -6.0], INSTRUMENT)),
            ..Seen::nothing()
        };
        let joint = joint(&seen);
        10.0 * (joint[0] / joint[1..].iter().sum::<f64>()).log10()
    };
    assert!((group.alone - (odds(true) - odds(false))).abs() < 1e-9);
    // A reading's rows are followed by those of the quality it reads.
    let clues = std::fs::read_to_string(priors().join("moor_ware/clues.toml")).unwrap();
    let line = |wanted: &str| {
        let line = clues
            .lines()
            .position(|line| line.contains(wanted))
            .unwrap();
        format!("clues.toml:{}", line + 1)
    };
    let rows = |clue: &str| -> Vec<String> {
        let finding = audit.findings.iter().find(|f| f.clue == clue).unwrap();
        let file_and_line = |row: &String| row.rsplit(['/', '\\']).next().unwrap().to_owned();
        let mut rows: Vec<String> = finding.rows.iter().map(file_and_line).collect();
        rows.sort();
        rows
    };
    let tint = line("{ region = \"moor\", period = \"early\"");
    assert_eq!(rows("tint"), [tint.clone(), line("{ light = \"daylight\"")]);
    assert_eq!(
        rows("colour"),
        [tint, line("{ \"true tint\" = \"deep blue\",  mean")]
    );
    assert!(rows("wear").contains(&line("simulated  = {")));
}

#[test]
fn a_stress_run_doubts_colours_readings_and_simulated_states() {
    let notes = r#".saw("light", "daylight").saw("tint", "blue").measured("colour", #{ L: 85.5, a: -3.0, b: -2.0 }).saw("wear", "heavy").weighs("420 g", "0.7 l")"#;
    let stress = |threads_seed: &str| {
        let (finished, results) = run(notes, &format!("show(piece.stress(400, {threads_seed}));"));
        if let Some(failure) = finished.failure {
            panic!("{:?}", failure.diagnostics);
        }
        serde_json::to_string(match &results[0] {
            Shown::Stress(stress) => stress,
            _ => panic!(),
        })
        .unwrap()
    };
    assert_eq!(stress("7"), stress("7"));
    assert_ne!(stress("7"), stress("8"));
    for about in ["glaze tint measured", "reading of", "simulated base wear"] {
        let (finished, results) = run(
            notes,
            &format!("show(piece.stress_over(\"{about}\", 200));"),
        );
        assert!(finished.failure.is_none(), "{about}");
        assert!(matches!(&results[0], Shown::Stress(_)));
    }
}
