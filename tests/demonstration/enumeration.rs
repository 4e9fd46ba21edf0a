//! The circuit against brute force on the demonstration network itself.

use saggar::piece::{Piece, find_clue};

use super::depth_first::sums;
use super::world::{SCRIPTS, compiled, noted, piece};

const TOLERANCE: f64 = 1e-12;

fn check(piece: &Piece) {
    let compiled = compiled();
    let catalogue = &compiled.model.catalogue;
    let answer = compiled.ask(piece).unwrap();
    let mut questions = vec![catalogue.maker, catalogue.period, catalogue.region];
    questions.extend(catalogue.engraving);
    questions.extend(catalogue.works);
    let sums = sums(
        &compiled.model.network,
        &answer.entered.evidence,
        &questions,
    );
    let log_evidence = answer.posterior.log_evidence();
    assert!(
        (log_evidence - sums.evidence.ln()).abs() <= TOLERANCE,
        "{}",
        piece.title
    );
    for question in questions {
        let found = answer.posterior.marginal(question).unwrap();
        for (found, expected) in found.iter().zip(sums.posterior(question)) {
            let what = format!(
                "{}, {}",
                piece.title,
                compiled.model.network.variable(question).name
            );
            assert!(
                (found - expected).abs() <= TOLERANCE,
                "{what}: {found}, not {expected}"
            );
        }
    }
}

#[test]
fn every_piece() {
    for (name, ..) in SCRIPTS {
        check(&piece(name));
    }
}

/// A quick search has rows of its own, and a piece of which little is known leaves most of the network to be summed over.
#[test]
fn a_quick_look_at_little() {
    let compiled = compiled();
    for (mark, tint) in [
        ("none found", "blue"),
        ("device unclear", "white"),
        ("star, full", "grey-cream"),
    ] {
        let mut jug = Piece::new(mark);
        for (clue, state) in [("search", "quick"), ("mark", mark), ("tint", tint)] {
            jug = noted(compiled, &jug, clue, state);
        }
        check(&jug);
    }
    check(&Piece::new("nothing known"));
}

/// One finding more or less at a time, so that every clue has stood alone against the rest.
#[test]
fn every_piece_without_each_clue() {
    let compiled = compiled();
    for name in ["D2", "D6", "D7"] {
        let piece = piece(name);
        for clue in compiled
            .model
            .catalogue
            .clues
            .iter()
            .filter(|c| c.id != "print" && c.id != "search")
        {
            check(&piece.without(find_clue(&compiled.model, &clue.id).unwrap()));
        }
    }
}
