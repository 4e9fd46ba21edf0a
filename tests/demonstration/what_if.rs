//! Variants of a piece, and the entries that must be kept apart.

use saggar::piece::FindingShown;
use saggar::report::Shown;
use saggar::verdict::Verdict;
use serde_json::Value;

use super::world::{described, shown};

/// What the end of a script shows, after the description of D2.
fn after_d2(end: &str) -> Vec<Shown> {
    let (description, _) = described("D2");
    shown(&format!("{description}{end}"))
}

fn verdicts(end: &str) -> Vec<Verdict> {
    after_d2(end)
        .into_iter()
        .map(|shown| match shown {
            Shown::Verdict(verdict) => *verdict,
            other => panic!("{}", other.to_text()),
        })
        .collect()
}

/// All posteriors of a verdict, bit for bit.
fn posteriors(verdict: &Verdict) -> String {
    let shares = [
        &verdict.makers,
        &verdict.works,
        &verdict.regions,
        &verdict.periods,
        &verdict.engravings,
    ];
    format!("{shares:?} {:?}", verdict.log_evidence)
}

#[test]
fn variants_leave_the_piece_as_it_is() {
    let shown = after_d2(
        r#"
        show(jug.verdict()); show(jug);
        let a = jug.without("mark");
        let b = jug.suppose("mark", "beehive, full");
        let c = jug.look_again("technique", "screen");
        let d = jug.titled("another");
        let e = jug.saw("wheel", 12).cannot_tell("wall");
        let all = [a, b, c, d, e];
        for variant in all { variant.verdict(); variant.audit(); variant.contrasts(); variant.stress(10); }
        show(jug.verdict()); show(jug);
        show(e.verdict());
    "#,
    );
    let json: Vec<Value> = shown
        .iter()
        .map(|s| serde_json::to_value(s).unwrap())
        .collect();
    assert_eq!(json[0], json[2]);
    assert_eq!(json[1], json[3]);
    assert_ne!(json[0], json[4]);
}

#[test]
fn four_entries_are_kept_apart() {
    let verdicts = verdicts(
        r#"
        let bare = jug.without("mark");
        show(bare.verdict());
        show(bare.cannot_tell("mark", "ground away").verdict());
        show(bare.absent("mark").verdict());
        show(bare.unsure("mark", #{ "bell or beehive": 0.5, "none found": 0.5 }).verdict());
        show(bare.saw("mark", "bell or beehive").verdict());
    "#,
    );
    let [not_looked, cannot_tell, absent, unsure, seen] = &verdicts[..] else {
        panic!("{}", verdicts.len());
    };
    // Not looked and cannot tell make no claim, and the record says which it was.
    assert_eq!(posteriors(not_looked), posteriors(cannot_tell));
    // What is left out was looked at all the same.
    let left_out = |v: &Verdict| {
        let what_if = v.what_if.as_ref();
        what_if.is_some_and(|what| !what.left_out.is_empty())
    };
    assert!(left_out(not_looked) && !not_looked.not_looked.contains(&"mark reading".to_owned()));
    let said = |v: &Verdict| {
        v.findings
            .iter()
            .find(|f| f.clue == "mark")
            .map(|f| f.said.clone())
    };
    assert_eq!(said(not_looked), None);
    assert_eq!(said(cannot_tell).unwrap(), "cannot tell: ground away");
    assert_eq!(said(absent).unwrap(), "looked: none found");
    assert_eq!(
        said(unsure).unwrap(),
        "unsure: bell or beehive 0.5, none found 0.5"
    );
    let four = [not_looked, absent, unsure, seen].map(posteriors);
    for (i, one) in four.iter().enumerate() {
        assert!(four[..i].iter().all(|other| other != one), "{i}");
    }
    // Another finding in its place is a what-if; the one that was found is none.
    assert!([cannot_tell, absent, unsure].into_iter().all(left_out) && !left_out(seen));
    // An absent mark speaks against a maker who marked six jugs in ten.
    let k07 = |v: &Verdict| v.makers.iter().find(|m| m.id == "K07").unwrap().probability;
    assert!(k07(absent) < k07(not_looked) && k07(not_looked) < k07(seen));
}

/// A state for sure is the same as likelihoods of 1 and 0, and a common factor of likelihoods says nothing of the maker.
#[test]
fn likelihoods_of_one_state() {
    let verdicts = verdicts(
        r#"
        let bare = jug.without("technique");
        show(bare.saw("technique", "stipple").verdict());
        show(bare.unsure("technique", #{ "stipple": 1 }).verdict());
        show(bare.unsure("technique", #{ "stipple": 0.25 }).verdict());
    "#,
    );
    assert_eq!(posteriors(&verdicts[0]), posteriors(&verdicts[1]));
    for (a, b) in verdicts[0].makers.iter().zip(&verdicts[2].makers) {
        assert!((a.probability - b.probability).abs() < 1e-15);
    }
    let factor = (verdicts[2].log_evidence - verdicts[0].log_evidence).exp();
    assert!((factor - 0.25).abs() < 1e-13, "{factor}");
}

#[test]
fn a_second_look_replaces_the_first() {
    let verdicts = verdicts(
        r#"
        show(jug.look_again("technique", "screen").verdict());
        show(jug.without("technique").saw("technique", "screen").verdict());
        show(jug.look_again("technique", "line").look_again("technique", #{ "screen": 0.9, "stipple": 0.1 }).verdict());
        show(jug.without("technique").unsure("technique", #{ "screen": 0.9, "stipple": 0.1 }).verdict());
        show(jug.verdict());
    "#,
    );
    assert_eq!(posteriors(&verdicts[0]), posteriors(&verdicts[1]));
    assert_eq!(posteriors(&verdicts[2]), posteriors(&verdicts[3]));
    let technique = |v: &Verdict| {
        v.findings
            .iter()
            .find(|f| f.clue == "technique")
            .unwrap()
            .clone()
    };
    let first = "unsure: line+stipple 0.5, stipple 0.5";
    let once = technique(&verdicts[0]);
    let replaced = |f: &FindingShown| -> Vec<String> {
        f.replaced
            .iter()
            .map(|earlier| earlier.said.clone())
            .collect()
    };
    assert_eq!(once.said, "screen");
    assert_eq!(replaced(&once), [first]);
    let twice = technique(&verdicts[2]);
    assert_eq!(replaced(&twice), [first, "line"]);
    assert_eq!(twice.said, "unsure: screen 0.9, stipple 0.1");
    assert!(technique(&verdicts[4]).replaced.is_empty());
}

#[test]
fn a_supposed_finding_counts_like_a_real_one() {
    let verdicts = verdicts(
        r#"
        show(jug.suppose("border", "bell").verdict());
        show(jug.saw("border", "bell").verdict());
        show(jug.suppose("mark", "none found").verdict());
        show(jug.without("mark").absent("mark").verdict());
    "#,
    );
    assert_eq!(posteriors(&verdicts[0]), posteriors(&verdicts[1]));
    assert_eq!(posteriors(&verdicts[2]), posteriors(&verdicts[3]));
    let said = |v: &Verdict| {
        v.findings
            .iter()
            .find(|f| f.clue == "border")
            .unwrap()
            .said
            .clone()
    };
    assert_eq!(
        (said(&verdicts[0]).as_str(), said(&verdicts[1]).as_str()),
        ("supposed: bell", "bell")
    );
}

/// The weight of D2 stands in the band 1.10–1.20: any other mass in it says the same, one just outside does not.
#[test]
fn a_weight_says_its_band() {
    let verdicts = verdicts(
        r#"
        let bare = jug.without("weight");
        for mass in ["1345 g", "1.345 kg", "1265 g", "1379.9 g", "1264.9 g", "1380 g"] { show(bare.weighs(mass).verdict()); }
    "#,
    );
    let all: Vec<String> = verdicts.iter().map(posteriors).collect();
    assert!(all[1..4].iter().all(|same| *same == all[0]));
    assert!(all[4..].iter().all(|other| *other != all[0]));
}
