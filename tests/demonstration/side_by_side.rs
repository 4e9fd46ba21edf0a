//! What-if tables, comparisons and why-nots of the demonstration pieces, against verdicts asked one by one.

use saggar::compare::compare;
use saggar::piece::find_clue;
use saggar::query::marginal;
use saggar::question::{Claim, Question};
use saggar::vary::{Over, VaryError};

use super::edited_pack::edited_pack;
use super::world::{SCRIPTS, compile, compiled, noted, piece};

fn over(clue: &str) -> Over {
    Over {
        clue: find_clue(&compiled().model, clue).unwrap(),
        states: None,
    }
}

#[track_caller]
fn close(found: f64, expected: f64) {
    assert!((found - expected).abs() < 1e-9, "{found}, not {expected}");
}

#[test]
fn a_clue_is_varied_over_its_states() {
    for (name, clue) in [
        ("D2", "wheel"),
        ("D7", "tint"),
        ("D4", "mark"),
        ("D9", "weight"),
    ] {
        let jug = piece(name);
        let varied = compiled().vary(&jug, &[over(clue)], None).unwrap();
        let index = find_clue(&compiled().model, clue).unwrap();
        let states = &compiled().model.catalogue.clues[index].states;
        assert_eq!(varied.rows.len(), states.len());
        // The chances of all readings sum to 1, and the claim averaged over them is the claim without the look.
        let chances: f64 = varied.rows.iter().filter_map(|row| row.chance).sum();
        close(chances, 1.0);
        let mean = varied
            .rows
            .iter()
            .filter_map(|row| Some(row.chance? * row.claim?));
        close(mean.sum(), varied.without);
        for (row, state) in varied.rows.iter().zip(states) {
            assert_eq!(&row.states[0], state);
            let variant = noted(compiled(), &jug.without(index), clue, state);
            let Ok(verdict) = compiled().verdict(&variant) else {
                assert_eq!(row.leader, None);
                continue;
            };
            let leader = &verdict.makers[0];
            assert_eq!(row.leader.as_ref(), Some(&leader.id));
            close(row.leader_probability.unwrap(), leader.probability);
            assert_eq!(row.words.as_ref(), Some(&verdict.attribution.words));
        }
    }
}

#[test]
fn a_grid_of_two_clues() {
    let model = &compiled().model;
    let some = |clue: &str, states: &[usize]| Over {
        states: Some(states.to_vec()),
        ..over(clue)
    };
    let grid = [some("foot", &[0, 2]), over("join")];
    let question = Question::of(Claim::region("Saltharrow"));
    let varied = compiled()
        .vary(&piece("D2"), &grid, Some(&question))
        .unwrap();
    let states: Vec<&[String]> = varied.rows.iter().map(|r| &r.states[..]).collect();
    assert_eq!(states[0], ["single", "neat"]);
    assert_eq!(states[1], ["single", "gap"]);
    assert_eq!(states[3], ["recessed", "neat"]);
    assert_eq!(states.len(), 6);
    let (foot, join) = (
        find_clue(model, "foot").unwrap(),
        find_clue(model, "join").unwrap(),
    );
    let bare = piece("D2").without(foot).without(join);
    let one = noted(
        compiled(),
        &noted(compiled(), &bare, "foot", "recessed"),
        "join",
        "gap",
    );
    let expected = compiled()
        .probability(&one, &Claim::region("Saltharrow"))
        .unwrap();
    close(varied.rows[4].claim.unwrap(), expected);
    let refused = |over: &[Over]| compiled().vary(&piece("D2"), over, None).unwrap_err();
    assert_eq!(refused(&[]), VaryError::Nothing);
    assert_eq!(
        refused(&[over("foot"), over("foot")]),
        VaryError::Twice("foot".to_owned())
    );
    let all = [
        "wheel",
        "sluice",
        "weathercock",
        "dovecote",
        "wall",
        "border",
        "technique",
        "tint",
        "foot",
    ];
    assert!(matches!(refused(&all.map(over)), VaryError::TooMany { .. }));
}

/// A circumstance has no chance, and the verdict is that of a piece looked at so.
#[test]
fn a_circumstance_can_be_varied() {
    let varied = compiled()
        .vary(&piece("D4"), &[over("search")], None)
        .unwrap();
    assert_eq!(varied.rows.len(), 2);
    assert!(varied.rows.iter().all(|row| row.chance.is_none()));
    let claims: Vec<f64> = varied.rows.iter().map(|row| row.claim.unwrap()).collect();
    // No mark found in a quick look says less than none found in a full one.
    assert!(claims[0] < claims[1], "{claims:?}");
}

#[test]
fn differences_add_up_clue_by_clue() {
    let pairs = [("D2", "D9"), ("D5", "D5b"), ("D4", "D8"), ("D7", "D7")];
    for (one, other) in pairs {
        let (a, b) = (piece(one), piece(other));
        for question in [None, Some(Question::of(Claim::region("Quillmarch")))] {
            let comparison =
                compare((compiled(), &a), (compiled(), &b), question.as_ref()).unwrap();
            let differences = comparison.clues.iter().map(|clue| clue.decibans.unwrap());
            let sum = comparison.prior_decibans + differences.sum::<f64>();
            close(sum, comparison.posterior_decibans);
            let odds = |p: f64| 10.0 * (p / (1.0 - p)).log10();
            let (first, second) = (comparison.first.posterior, comparison.second.posterior);
            assert!((odds(second) - odds(first) - comparison.posterior_decibans).abs() < 1e-6);
        }
    }
}

/// One piece under two experts' packs: the findings are carried over by name, and only what the packs say differs.
#[test]
fn one_piece_under_two_packs() {
    let edited = edited_pack("makers.toml", "seen = 200", "seen = 20");
    let edited = compile(&edited.path().join("tidewheel"));
    for (name, ..) in SCRIPTS {
        let jug = piece(name);
        let (carried, left) = jug.carried(&compiled().model, &edited.model);
        assert!(left.is_empty() && carried == jug, "{name}: {left:?}");
        let comparison = compare((compiled(), &jug), (&edited, &carried), None).unwrap();
        close(comparison.posterior_decibans, 0.0);
        assert_ne!(comparison.first.pack_sha256, comparison.second.pack_sha256);
    }
    let heavier = edited_pack(
        "clues.toml",
        "maker = \"K07\", mean = 1.10",
        "maker = \"K07\", mean = 1.02",
    );
    let heavier = compile(&heavier.path().join("tidewheel"));
    let jug = piece("D2");
    let comparison = compare((compiled(), &jug), (&heavier, &jug), None).unwrap();
    assert!(comparison.posterior_decibans < -1.0);
    assert_eq!(comparison.clues[0].clue, "weight for size");
}

#[test]
fn why_not_the_famous_works() {
    let jug = piece("D3");
    let why = compiled().why_not(&jug, "K02").unwrap();
    let shares = why.findings.iter().map(|f| f.shared.unwrap());
    close(
        why.prior_decibans + shares.sum::<f64>(),
        why.posterior_decibans,
    );
    let answer = compiled().ask(&jug).unwrap();
    let p = marginal(&answer.posterior, compiled().model.catalogue.maker);
    let leader = compiled().verdict(&jug).unwrap().makers[0].clone();
    close(why.probability, p[1]);
    close(
        why.posterior_decibans,
        10.0 * (leader.probability / p[1]).log10(),
    );
    // The chance of a finding from a maker is that of a what-if with the maker given: here by Bayes' rule,
    // P(found | maker, others) = P(maker | found, others) P(found | others) / P(maker | others).
    for finding in &why.findings {
        let clues = &compiled().model.catalogue.clues;
        let clue = clues
            .iter()
            .position(|clue| clue.name == finding.clue)
            .unwrap();
        let others = compiled().ask(&jug.without(clue)).unwrap();
        let without = marginal(&others.posterior, compiled().model.catalogue.maker);
        let chance = (answer.posterior.log_evidence() - others.posterior.log_evidence()).exp();
        close(finding.from_maker.unwrap(), p[1] * chance / without[1]);
    }
    // Asked of the leader, it is shown against the one behind it.
    let leads = compiled().why_not(&jug, &leader.id).unwrap();
    assert!(leads.asked_leads && !why.asked_leads);
    close(leads.probability, leader.probability);
    let mut behind: Vec<f64> = p.to_vec();
    behind.sort_by(f64::total_cmp);
    let odds = leader.probability / behind[behind.len() - 2];
    close(leads.posterior_decibans, 10.0 * odds.log10());
}
