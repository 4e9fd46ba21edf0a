//! Weights of evidence of the demonstration pieces.

use saggar::audit::Audit;
use saggar::piece::Piece;
use saggar::query::marginal;
use saggar::question::{Claim, Question};

use super::world::{SCRIPTS, compiled, piece, recomputed};

const TOLERANCE: f64 = 1e-9;

/// Log-odds of a maker against all others, in decibans, from a verdict of its own.
fn decibans(piece: &Piece, maker: usize) -> f64 {
    let compiled = compiled();
    let answer = compiled.ask(piece).unwrap();
    let p = marginal(&answer.posterior, compiled.model.catalogue.maker);
    let others = p.iter().enumerate().filter(|(m, _)| *m != maker);
    10.0 * (p[maker] / others.map(|(_, p)| p).sum::<f64>()).log10()
}

/// The piece with its findings noted in the opposite order.
fn reversed(piece: &Piece) -> Piece {
    let model = &compiled().model;
    piece
        .findings()
        .iter()
        .rev()
        .fold(Piece::new("reversed"), |turned, f| {
            turned
                .note(f.clue, f.look.clone(), f.said.clone(), model)
                .unwrap()
        })
}

fn audits(piece: &Piece) -> Vec<(usize, Audit)> {
    let compiled = compiled();
    let makers = compiled.model.catalogue.makers.iter();
    let audit = |id: &str| compiled.audit_on(piece, &Question::of(Claim::maker(id)));
    makers
        .map(|maker| audit(&maker.id).unwrap())
        .enumerate()
        .collect()
}

#[test]
fn weights_in_order_add_up_to_the_shift_for_every_maker() {
    let mut n_finite = 0;
    for (name, ..) in SCRIPTS {
        let piece = piece(name);
        for (maker, audit) in audits(&piece) {
            assert!(
                audit.prior_decibans.is_finite(),
                "{name} {}",
                audit.question.claim
            );
            if audit.posterior == 0.0 {
                assert_eq!(audit.posterior_decibans, f64::NEG_INFINITY);
                continue;
            }
            n_finite += 1;
            let shift = decibans(&piece, maker) - decibans(&Piece::new("nothing known"), maker);
            let total = audit.total_decibans;
            let what = format!("{name} {}: {total}, not {shift}", audit.question.claim);
            assert!((total - shift).abs() <= TOLERANCE, "{what}");
            let sum: f64 = audit.findings.iter().map(|f| f.in_order).sum();
            assert!((sum - shift).abs() <= TOLERANCE, "{what}");
        }
    }
    assert!(n_finite > 50, "only {n_finite}");
}

/// Source: `answers.json`; the leading maker's log-odds from its chance and those of all others.
#[test]
fn the_shift_is_that_of_the_recomputed_chances() {
    let compiled = compiled();
    for (name, ..) in SCRIPTS {
        let audit = compiled.audit(&piece(name)).unwrap();
        let expected = &recomputed()[name].full.maker;
        let (leader, _) = audit.question.claim.split_once(' ').unwrap();
        let others = expected.iter().filter(|(id, _)| *id != leader);
        let odds = expected[leader] / others.map(|(_, p)| p).sum::<f64>();
        let found = audit.posterior_decibans;
        assert!(
            (found - 10.0 * odds.log10()).abs() <= TOLERANCE,
            "{name}: {found}"
        );
    }
}

#[test]
fn the_total_does_not_depend_on_the_order() {
    for (name, ..) in SCRIPTS {
        let piece = piece(name);
        let mut differs = false;
        for ((_, forwards), (_, backwards)) in audits(&piece).iter().zip(audits(&reversed(&piece)))
        {
            if forwards.posterior == 0.0 {
                continue;
            }
            let (f, b) = (forwards.total_decibans, backwards.total_decibans);
            assert!(
                (f - b).abs() <= TOLERANCE,
                "{name} {}: {f}, {b}",
                forwards.question.claim
            );
            // The single steps do depend on it.
            let first = &forwards.findings[0];
            let same = backwards
                .findings
                .iter()
                .find(|s| s.clue == first.clue)
                .unwrap();
            differs |= (first.in_order - same.in_order).abs() > 0.01;
        }
        assert!(differs, "{name}");
    }
}

#[test]
fn a_weight_left_out_is_that_of_a_fresh_verdict_without_it() {
    for (name, ..) in SCRIPTS {
        let piece = piece(name);
        let nothing = piece
            .findings()
            .iter()
            .fold(piece.clone(), |p, f| match f.said.as_str() {
                "clear" | "blurred" | "full" => p,
                _ => p.without(f.clue),
            });
        for (maker, audit) in audits(&piece)
            .into_iter()
            .filter(|(_, a)| a.posterior > 0.0)
        {
            for weight in &audit.findings {
                let clue = saggar::piece::find_clue(&compiled().model, &weight.clue).unwrap();
                let without = decibans(&piece, maker) - decibans(&piece.without(clue), maker);
                let what = format!("{name} {} {}", audit.question.claim, weight.clue);
                assert!(
                    (weight.left_out - without).abs() <= TOLERANCE,
                    "{what}: {without}"
                );
                let finding = piece.findings().iter().find(|f| f.clue == clue).unwrap();
                let model = &compiled().model;
                let only = nothing
                    .note(clue, finding.look.clone(), String::new(), model)
                    .unwrap();
                let alone = decibans(&only, maker) - decibans(&nothing, maker);
                assert!((weight.alone - alone).abs() <= TOLERANCE, "{what}: {alone}");
            }
        }
    }
}

/// Six codings of one copper are not six witnesses: together they weigh less than one by one.
#[test]
fn codings_together_weigh_less_than_their_sum() {
    let audit = compiled().audit(&piece("D9")).unwrap();
    let together = audit.groups[0].alone;
    let codings = [
        "wheel",
        "sluice",
        "weathercock",
        "dovecote",
        "wall",
        "border",
        "technique",
    ];
    let one_by_one = audit
        .findings
        .iter()
        .filter(|f| codings.contains(&f.clue.as_str()));
    assert_eq!(audit.groups[0].n_findings, 7);
    assert!(together > 0.0 && together < one_by_one.map(|f| f.alone).sum());
}

/// Every finding that weighs something names lines of the prior files that exist.
#[test]
fn rows_cited_exist() {
    for (name, ..) in SCRIPTS {
        for finding in compiled().audit(&piece(name)).unwrap().findings {
            assert!(!finding.rows.is_empty(), "{name} {}", finding.clue);
            for row in finding.rows {
                let (file, line) = row.rsplit_once(':').unwrap();
                let text = std::fs::read_to_string(file).unwrap();
                let line = text
                    .lines()
                    .nth(line.parse::<usize>().unwrap() - 1)
                    .unwrap();
                assert!(line.contains('=') || line.contains('['), "{row}: {line}");
            }
        }
    }
}
