//! How findings are come by, how sure they are, and how well they fit: through scripts.

use saggar::model::ClueKind;
use saggar::network::{EvidenceItem, ItemContent};
use saggar::query::marginal;
use saggar::report::Shown;
use saggar::verdict::Verdict;

use super::world::{compiled, described, piece, shown};

/// Verdicts shown by what follows the description of a piece.
fn verdicts(piece: &str, end: &str) -> Vec<Verdict> {
    let (description, _) = described(piece);
    let all = shown(&format!("{description}{end}"));
    let verdict = |shown| match shown {
        Shown::Verdict(verdict) => *verdict,
        other => panic!("{}", other.to_text()),
    };
    all.into_iter().map(verdict).collect()
}

fn maker(verdict: &Verdict, id: &str) -> f64 {
    verdict
        .makers
        .iter()
        .find(|m| m.id == id)
        .unwrap()
        .probability
}

#[track_caller]
fn near(found: f64, expected: f64) {
    assert!((found - expected).abs() < 1e-11, "{found}, not {expected}");
}

/// "Sure 80 %" of four states is likelihoods of 0.8 and three times 0.2/3, by hand.
#[test]
fn sure_is_likelihood_evidence() {
    let verdicts = verdicts(
        "D2",
        r#"
        let bare = jug.without("tint");
        show(bare.sure("tint", "blue", "80%").verdict());
        show(bare.unsure("tint", #{ "blue": 12, "white": 1, "faint blue": 1, "grey-cream": 1 }).verdict());
        show(bare.sure("tint", "blue", 0.8).verdict());
        show(bare.sure("tint", "blue", "certain").verdict());
        show(bare.saw("tint", "blue").verdict());
    "#,
    );
    for id in ["K07", "K11", "U", "R"] {
        near(maker(&verdicts[0], id), maker(&verdicts[1], id));
        near(maker(&verdicts[0], id), maker(&verdicts[2], id));
        near(maker(&verdicts[3], id), maker(&verdicts[4], id));
    }
    assert!((maker(&verdicts[0], "K07") - maker(&verdicts[4], "K07")).abs() > 1e-4);
}

/// Jeffrey's rule: a belief over the tints is the mixture, by that belief, of the verdicts under each tint for sure.
#[test]
fn a_belief_is_a_mixture_of_certainties() {
    let verdicts = verdicts(
        "D2",
        r#"
        let bare = jug.without("tint");
        show(bare.believed("tint", #{ "blue": 0.6, "white": 0.4 }).verdict());
        show(bare.saw("tint", "blue").verdict());
        show(bare.saw("tint", "white").verdict());
        show(bare.unsure("tint", #{ "blue": 0.6, "white": 0.4 }).verdict());
    "#,
    );
    let [believed, blue, white, unsure] = &verdicts[..] else {
        panic!("{}", verdicts.len());
    };
    for id in ["K07", "K11", "K09", "U", "R"] {
        let mixture = 0.6 * maker(blue, id) + 0.4 * maker(white, id);
        near(maker(believed, id), mixture);
    }
    assert!((maker(unsure, "K11") - maker(believed, "K11")).abs() > 1e-3);
    // A belief made from all the rest surprises nobody.
    assert!(
        believed
            .surprise
            .predicted
            .iter()
            .all(|p| p.clue != "glaze tint")
    );
}

/// Two beliefs hold together, in whatever order they are stated; the posterior of each clue is what was stated.
#[test]
fn several_beliefs_hold_together() {
    let verdicts = verdicts(
        "D4",
        r#"
        let bare = jug.without("tint").without("foot");
        show(bare.believed("tint", #{ "blue": 0.5, "white": 0.5 }).believed("foot", #{ "double": 0.8, "single": 0.2 }).verdict());
        show(bare.believed("foot", #{ "double": 0.8, "single": 0.2 }).believed("tint", #{ "blue": 0.5, "white": 0.5 }).verdict());
    "#,
    );
    for id in ["K01", "K02", "K03", "U"] {
        near(maker(&verdicts[0], id), maker(&verdicts[1], id));
    }
}

#[test]
fn the_record_keeps_who_when_and_how() {
    let verdicts = verdicts(
        "D2",
        r#"
        let first = jug.without("technique").looking(#{ who: "E. Rowan", when: "2024-03-02", tool: "x3 loupe", cleaning: "before" })
            .unsure("technique", #{ "line": 0.5, "stipple": 0.5 });
        let second = first.looking(#{ when: "2024-03-09", tool: "x10 loupe", cleaning: "after", light: "raking" })
            .look_again("technique", "stipple");
        show(second.verdict());
        show(jug.look_again("technique", "stipple").verdict());
    "#,
    );
    let technique = verdicts[0]
        .findings
        .iter()
        .find(|f| f.clue == "technique")
        .unwrap();
    assert_eq!(technique.said, "stipple");
    assert_eq!(
        technique.how.to_string(),
        "E. Rowan, 2024-03-09, raking, x10 loupe, after cleaning"
    );
    let [before] = &technique.replaced[..] else {
        panic!("{:?}", technique.replaced);
    };
    assert_eq!(before.said, "unsure: line 0.5, stipple 0.5");
    assert_eq!(
        before.how.to_string(),
        "E. Rowan, 2024-03-02, x3 loupe, before cleaning"
    );
    let json = serde_json::to_value(technique).unwrap();
    assert_eq!(json["tool"], "x10 loupe");
    assert_eq!(json["replaced"][0]["cleaning"], "before");
    // Who looked and when weighs nothing.
    for (a, b) in verdicts[0].makers.iter().zip(&verdicts[1].makers) {
        near(a.probability, b.probability);
    }
    let text = Shown::Verdict(Box::new(verdicts[0].clone())).to_text();
    assert!(
        text.contains(
            "print technique: stipple  [E. Rowan, 2024-03-09, raking, x10 loupe, after cleaning]  (before: unsure: line \
             0.5, stipple 0.5 [E. Rowan, 2024-03-02, x3 loupe, before cleaning])"
        ),
        "{text}"
    );
}

/// P(finding | all others) from one downward pass, against P(all) / P(all but it), one finding at a time.
#[test]
fn every_finding_is_predicted_from_the_others() {
    let compiled = compiled();
    for name in ["D2", "D4", "D5", "D6", "D7", "D8"] {
        let piece = piece(name);
        let answer = compiled.ask(&piece).unwrap();
        let verdict = compiled.verdict_of(&piece, &answer).unwrap();
        let all = answer.posterior.log_evidence();
        let clues = &compiled.model.catalogue.clues;
        let claims = (0..clues.len()).filter(|&c| clues[c].kind != ClueKind::Circumstance);
        let nothing = compiled
            .ask(&claims.fold(piece.clone(), |p, c| p.without(c)))
            .unwrap();
        let mut predicted = verdict.surprise.predicted.iter();
        let mut singles = 0.0;
        for &(item, position) in &answer.entered.items {
            let clue = &compiled.model.catalogue.clues[piece.findings()[position].clue];
            if clue.kind == ClueKind::Circumstance {
                continue;
            }
            let mut others = answer.entered.evidence.clone();
            others.remove(item);
            let others = compiled
                .evaluate(&others, &piece, &answer.entered)
                .unwrap()
                .log_evidence();
            let found = predicted.next().unwrap();
            assert_eq!(found.clue, clue.name);
            // The likelihoods of these pieces are stated so that the largest is below 1.
            let largest = answer
                .entered
                .evidence
                .items()
                .find(|(i, _)| *i == item)
                .map(|(_, content)| match content {
                    ItemContent::Likelihood(w) => w.iter().copied().fold(0.0, f64::max),
                    _ => 1.0,
                });
            let probability = (all - others).exp() / largest.unwrap();
            near(found.probability_given_others.unwrap(), probability);
            let alone = found.probability_alone.unwrap();
            if let EvidenceItem::Variable(id) = item
                && let Some((_, ItemContent::State(state))) =
                    answer.entered.evidence.items().find(|(i, _)| *i == item)
            {
                near(alone, marginal(&nothing.posterior, id)[state]);
            }
            near(found.decibans, 10.0 * (probability / alone).log10());
            singles += (alone * largest.unwrap()).ln();
        }
        assert!(predicted.next().is_none());
        let conflict = 10.0 * (singles - all) / std::f64::consts::LN_10;
        assert!(
            (verdict.surprise.conflict_decibans - conflict).abs() < 1e-9,
            "{name}"
        );
    }
}

/// P(findings | maker) by entering the maker, for the best of the list and for one not listed.
#[test]
fn the_open_list_is_weighed() {
    let compiled = compiled();
    let catalogue = &compiled.model.catalogue;
    for (name, best, list_explains) in [("D2", "K07", true), ("D6", "K08", false)] {
        let piece = piece(name);
        let answer = compiled.ask(&piece).unwrap();
        let open = compiled
            .verdict_of(&piece, &answer)
            .unwrap()
            .surprise
            .open_world
            .unwrap();
        assert_eq!(open.maker, best);
        let decibans = open.decibans.unwrap();
        let prior = compiled.ask(&saggar::piece::Piece::new("nothing")).unwrap();
        let log_given = |id: &str| {
            let maker = catalogue.makers.iter().position(|m| m.id == id).unwrap();
            let mut evidence = answer.entered.evidence.clone();
            evidence.observe(catalogue.maker, maker);
            let joint = compiled
                .evaluate(&evidence, &piece, &answer.entered)
                .unwrap()
                .log_evidence();
            joint - marginal(&prior.posterior, catalogue.maker)[maker].ln()
        };
        let expected = 10.0 * (log_given(best) - log_given("U")) / std::f64::consts::LN_10;
        assert!(
            (decibans - expected).abs() < 1e-9,
            "{} {expected}",
            decibans
        );
        assert_eq!(decibans > 0.0, list_explains);
    }
}

/// A coding that is at odds with a whole engraving is pointed out, and the one that was mistaken is the one named.
#[test]
fn an_odd_reading_is_pointed_out() {
    let verdicts = verdicts("D9", r#"show(jug.look_again("border", "bell").verdict());"#);
    let surprise = &verdicts[0].surprise;
    let oddest = surprise.oddest.as_ref().unwrap();
    assert_eq!((oddest.clue.as_str(), oddest.odd), ("rim border", true));
    assert!(oddest.decibans < 0.0);
    let text = Shown::Verdict(Box::new(verdicts[0].clone())).to_text();
    assert!(
        text.contains("odd, given the others: rim border = bell  ["),
        "{text}"
    );
}

/// The size trap: a coding for large pieces is refused on a small jug; as a loose comparison it is weighed as far as it goes.
#[test]
fn a_loose_comparison_is_likelihood_evidence() {
    let verdicts = verdicts(
        "D8",
        r#"
        let bare = jug.without("wheel");
        show(bare.coded_for("wheel", 8, "small").verdict());
        show(jug.verdict());
        show(bare.coded_loosely("wheel", 8, "large", "40%").verdict());
        show(bare.unsure("wheel", #{ "8": 0.4, "6": 0.2, "10": 0.2, "12": 0.2 }).verdict());
    "#,
    );
    for id in ["K01", "K02", "K04"] {
        near(maker(&verdicts[0], id), maker(&verdicts[1], id));
        near(maker(&verdicts[2], id), maker(&verdicts[3], id));
    }
}
