//! What a look is said to bring, against the verdict after each of its readings.

use saggar::model::CompiledModel;
use saggar::next_look::{NextLook, Options, information};
use saggar::piece::{HowSeen, Look, Piece, find_clue, find_state, uncertain};
use saggar::verdict::Verdict;

use super::next_look::{next, worth};
use super::world::{compiled, noted, piece};

/// Every reading noted of the piece in turn, as an appraiser would: the chance of reading so, the leader and the opinion then.
fn replayed(compiled: &CompiledModel, piece: &Piece) {
    let model = &compiled.model;
    let options = Options::default();
    let next = compiled.next_look(piece, &options).unwrap();
    let overturn = compiled.overturn(piece, &options).unwrap();
    let now = compiled.verdict(piece).unwrap();
    let words = |verdict: &Verdict| {
        let words = &verdict.attribution.words;
        words.split(" (0.").next().unwrap().to_owned()
    };
    let mut n_readings = 0;
    for look in &overturn.looks {
        let clue = find_clue(model, &look.clue).unwrap();
        let mut with = piece.clone();
        for w in &look.with {
            with = noted(compiled, &with, &w.circumstance, &w.state);
        }
        let (mut total, mut changes) = (0.0, 0.0);
        for reading in &look.readings {
            let state = find_state(&model.catalogue.clues[clue], &reading.after.reading).unwrap();
            let (seen, said) = (Look::Seen(state), reading.after.reading.clone());
            let is_noted = piece.findings().iter().any(|f| f.clue == clue);
            let then = match is_noted {
                true => with.note_again(clue, seen, said, model),
                false => with.note(clue, seen, said, model),
            };
            let verdict = compiled.verdict(&then.unwrap()).unwrap();
            let what = format!("{}: {}", look.clue, reading.after.reading);
            assert_eq!(verdict.makers[0].id, reading.after.leader, "{what}");
            let off = verdict.makers[0].probability - reading.after.probability;
            assert!(off.abs() < 1e-9, "{what}: {off}");
            for share in &reading.answers {
                let maker = verdict.makers.iter().find(|m| m.id == share.id).unwrap();
                assert!(
                    (maker.probability - share.probability).abs() < 1e-9,
                    "{what}"
                );
            }
            total += reading.after.chance;
            if words(&verdict) != words(&now) {
                changes += reading.after.chance;
            }
            n_readings += 1;
        }
        assert!((total - 1.0).abs() < 1e-9, "{}: {total}", look.clue);
        let worth = next
            .looks
            .iter()
            .find(|w| w.clue == look.clue && w.with == look.with);
        let found = worth.unwrap().opinion_changes.unwrap();
        assert!(
            (found - changes).abs() < 1e-9,
            "{}: {found} {changes}",
            look.clue
        );
    }
    assert!(n_readings > 10);
}

#[test]
fn readings_noted_in_turn() {
    for name in ["D2", "D7"] {
        replayed(compiled(), &piece(name));
    }
    let mut jug = Piece::new("little known");
    for (clue, state) in [
        ("size", "IV"),
        ("print", "clear"),
        ("wheel", "10"),
        ("border", "reed"),
    ] {
        jug = noted(compiled(), &jug, clue, state);
    }
    replayed(compiled(), &jug);
    // Attributed without a mark; with a full one of its own, it is "marked".
    let mut jug = Piece::new("no mark looked for");
    for (clue, state) in [
        ("size", "IV"),
        ("print", "clear"),
        ("search", "full"),
        ("wheel", "8"),
        ("sluice", "cross"),
        ("wall", "random"),
        ("border", "bell"),
        ("technique", "stipple"),
    ] {
        jug = noted(compiled(), &jug, clue, state);
    }
    let verdict = compiled().verdict(&jug).unwrap();
    assert_eq!(verdict.attribution.words, "attributed to Wrayling & Co.");
    replayed(compiled(), &jug);
}

/// In a pack with observers a look is the usual observer's, who errs; of a doubtful coding, that of whoever made it.
#[test]
fn looks_of_observers() {
    let priors = super::edited_pack::edited_pack(
        "clues.toml",
        "# Tidewheel jugs: glaze",
        "# Tidewheel jugs: glaze",
    );
    let observers = r#"
        default = "house"

        [[observer]]
        id        = "house"
        otherwise = "as the tables say"
        reads     = [{ clues = ["wheel", "border"], say = "80%", seen = 120 }]

        [[observer]]
        id        = "rowan"
        otherwise = "as the tables say"
        reads     = [{ clues = ["wall"], say = "70%", seen = 40 }]
    "#;
    let folder = priors.path().join("tidewheel");
    std::fs::write(folder.join("observers.toml"), observers).unwrap();
    let compiled = super::world::compile(&folder);
    let model = &compiled.model;
    let mut jug = Piece::new("a jug");
    for (clue, state) in [("size", "IV"), ("print", "clear"), ("sluice", "cross")] {
        jug = noted(&compiled, &jug, clue, state);
    }
    let jug = jug.looked_at(jug.how().noted("who", "rowan").unwrap());
    let wall = find_clue(model, "wall").unwrap();
    let look = uncertain(
        &model.catalogue.clues[wall],
        [("coursed", 0.8), ("random", 0.2)],
    )
    .unwrap();
    let jug = jug.note(wall, look, "unsure".to_owned(), model).unwrap();
    let bits = |next: &NextLook, clue: &str| worth(next, clue, None).bits;
    let found = compiled.next_look(&jug, &Options::default()).unwrap();
    let rowan = model
        .catalogue
        .observers
        .iter()
        .find(|o| o.id == "rowan")
        .unwrap();
    let answer = compiled.ask(&jug).unwrap();
    let maker = model.catalogue.maker;
    let expected = information(
        &compiled.circuit,
        &compiled.parameters,
        &answer.entered.evidence,
        maker,
        rowan.readings[&wall],
    );
    assert!((bits(&found, "wall") - expected.unwrap().bits).abs() < 1e-10);
    // Errors on top of those of the tables leave less to be told.
    let clean = {
        let mut jug = Piece::new("a jug");
        for (clue, state) in [("size", "IV"), ("print", "clear"), ("sluice", "cross")] {
            jug = noted(self::compiled(), &jug, clue, state);
        }
        next(&jug)
    };
    assert!(bits(&found, "border") < bits(&clean, "border"));
    let house = jug.looked_at(HowSeen::default());
    replayed(&compiled, &house.without(wall));
}
