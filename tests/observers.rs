//! Observers: two codings of one clue are two noisy readings of one state, each as reliable as the pack says.
//!
//! What the model answers is compared with Bayes' theorem written out by hand.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "plates_pack/by_hand.rs"]
mod by_hand;
mod outside;

use std::path::Path;

use by_hand::check;
use saggar::diagnostic::render::render;
use saggar::model::CompiledModel;
use saggar::network::ItemContent;
use saggar::piece::{Dimension, Look, Piece, PieceError, find_clue, find_state};
use saggar::query::marginal;
use saggar::source::Sources;
use saggar::stress::StressPlan;
use saggar::units::Reading;

/// Makers of the stoneware plates in the order of makers.toml: share, P(body = white, grey, buff).
const MAKERS: [(f64, [f64; 3]); 4] = [
    (0.40, [0.70, 0.20, 0.10]),
    (0.35, [0.25, 0.60, 0.15]),
    (0.15, [0.40, 0.30, 0.30]),
    (0.10, [0.40, 0.30, 0.30]),
];

const OBSERVERS: &str = r#"
default = "house"

[[observer]]
id        = "house"
name      = "the house"
otherwise = "as the tables say"

[[observer]]
id        = "rowan"
name      = "E. Rowan"
otherwise = "not asked"
reads     = [{ clues = ["body"], say = "80%", seen = 40 }]

[[observer]]
id        = "ash"
name      = "T. Ash"
otherwise = "as the tables say"

[[observer.reads]]
clues = ["body"]
seen  = 25
row = [
  { body = "white", say = { white = "90%", grey = "7%", buff = "3%" } },
  { body = "grey",  say = { white = "25%", grey = "70%", buff = "5%" } },
  { body = "buff",  say = { white = "10%", grey = "30%", buff = "60%" } },
]
"#;

/// P(recorded | body) of Ash.
const ASH: [[f64; 3]; 3] = [[0.90, 0.07, 0.03], [0.25, 0.70, 0.05], [0.10, 0.30, 0.60]];

/// P(recorded | body) of Rowan: right, or one of the other two.
fn rowan(body: usize, recorded: usize) -> f64 {
    if body == recorded { 0.8 } else { 0.1 }
}

/// A pack's files and those observers, in a new folder.
fn copy(pack: &Path, to: &Path, observers: &str) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join(pack)).unwrap() {
        let path = entry.unwrap().path();
        std::fs::copy(&path, to.join(path.file_name().unwrap())).unwrap();
    }
    std::fs::write(to.join("observers.toml"), observers).unwrap();
}

fn with_observers(pack: &str, observers: &str) -> CompiledModel {
    let folder = tempfile::tempdir().unwrap();
    copy(Path::new(pack), folder.path(), observers);
    let (mut sources, mut out) = (Sources::default(), Vec::new());
    let model = saggar::check::load(folder.path(), &mut sources, &mut out).unwrap();
    let said: Vec<String> = out.iter().map(|d| render(d, &sources, false)).collect();
    assert!(said.is_empty(), "{}", said.join("\n\n"));
    model.unwrap().compile().unwrap()
}

fn plates() -> CompiledModel {
    with_observers("tests/packs/stoneware_plates", OBSERVERS)
}

fn by(piece: &Piece, who: &str) -> Piece {
    piece.looked_at(piece.how().noted("who", who).unwrap())
}

fn state(compiled: &CompiledModel, clue: &str, state: &str) -> (usize, Look) {
    let index = find_clue(&compiled.model, clue).unwrap();
    let seen = find_state(&compiled.model.catalogue.clues[index], state).unwrap();
    (index, Look::Seen(seen))
}

fn noted(
    compiled: &CompiledModel,
    piece: &Piece,
    clue: &str,
    seen: &str,
) -> Result<Piece, PieceError> {
    let (index, look) = state(compiled, clue, seen);
    piece.note(index, look, seen.to_owned(), &compiled.model)
}

fn blind(
    compiled: &CompiledModel,
    piece: &Piece,
    clue: &str,
    seen: &str,
) -> Result<Piece, PieceError> {
    let (index, look) = state(compiled, clue, seen);
    piece.note_blind(index, look, seen.to_owned(), &compiled.model)
}

/// Source: Bayes' theorem, summed over the body, which nobody knows for sure.
#[test]
fn one_reading_is_as_good_as_its_observer() {
    let plates = plates();
    let plate = noted(&plates, &by(&Piece::new("plate"), "rowan"), "body", "grey").unwrap();
    let by_hand =
        MAKERS.map(|(share, body)| share * (0..3).map(|b| body[b] * rowan(b, 1)).sum::<f64>());
    check(&plates, &plate, by_hand);
    // Nobody named: the default observer, who reads as the tables say.
    let plate = noted(&plates, &Piece::new("plate"), "body", "grey").unwrap();
    check(&plates, &plate, MAKERS.map(|(share, body)| share * body[1]));
}

/// Source: Bayes' theorem: given the body the two readings are independent; given the maker alone they are not.
#[test]
fn two_readings_are_of_one_body() {
    let plates = plates();
    for (first, second) in [("grey", 1), ("buff", 2), ("white", 0)].map(|(name, s)| (s, name)) {
        let plate = noted(&plates, &by(&Piece::new("plate"), "rowan"), "body", second).unwrap();
        let plate = blind(&plates, &by(&plate, "T. Ash"), "body", "grey").unwrap();
        let by_hand = MAKERS.map(|(share, body)| {
            share
                * (0..3)
                    .map(|b| body[b] * rowan(b, first) * ASH[b][1])
                    .sum::<f64>()
        });
        check(&plates, &plate, by_hand);
        let as_two_witnesses = MAKERS.map(|(share, body)| {
            let rowan: f64 = (0..3).map(|b| body[b] * rowan(b, first)).sum();
            let ash: f64 = (0..3).map(|b| body[b] * ASH[b][1]).sum();
            share * rowan * ash
        });
        // Two that agree would be taken for more than they are.
        if first == 1 {
            let lead = |weights: [f64; 4]| weights[0] / weights.iter().sum::<f64>();
            assert!(lead(by_hand) - lead(as_two_witnesses) > 0.05);
        }
    }
}

#[test]
fn readings_stand_in_audit_verdict_and_stress() {
    let plates = plates();
    let plate = noted(&plates, &by(&Piece::new("plate"), "rowan"), "body", "grey").unwrap();
    let plate = blind(&plates, &by(&plate, "ash"), "body", "white").unwrap();
    let audit = plates.audit(&plate).unwrap();
    let said: Vec<&str> = audit.findings.iter().map(|f| f.said.as_str()).collect();
    assert_eq!(said, ["grey (E. Rowan)", "white (T. Ash)"]);
    assert!((audit.posterior_decibans - audit.prior_decibans - audit.total_decibans).abs() < 1e-9);
    let both = audit
        .groups
        .iter()
        .find(|g| g.name.starts_with("readings of"))
        .unwrap();
    assert_eq!(both.n_findings, 2);
    assert!((both.alone - audit.total_decibans).abs() < 1e-9);
    for finding in &audit.findings {
        let cites = |file: &str| finding.rows.iter().any(|row| row.contains(file));
        assert!(
            cites("observers.toml") && cites("clues.toml"),
            "{:?}",
            finding.rows
        );
    }
    let verdict = plates.verdict(&plate).unwrap();
    let ash = &verdict.findings[1];
    assert_eq!((ash.observer.as_deref(), ash.blind), (Some("T. Ash"), true));
    assert_eq!(verdict.surprise.predicted.len(), 2);
    // The reliability is a belief like any other, and is doubted.
    let reliability: Vec<_> = plates
        .model
        .beliefs
        .iter()
        .filter(|(_, b)| b.about.starts_with("right reading by rowan"))
        .map(|(id, b)| {
            assert_eq!(b.seen, 40.0);
            id
        })
        .collect();
    assert_eq!(reliability.len(), 1);
    let stress = plates
        .stress(&plate, &StressPlan::new(200, 1).over(&reliability))
        .unwrap();
    assert!(stress.high.value - stress.low.value > 1e-4);
}

#[test]
fn what_cannot_be_weighed_is_refused() {
    let plates = plates();
    let start = Piece::new("plate");
    let error = noted(&plates, &by(&start, "rowen"), "body", "grey").unwrap_err();
    assert!(
        error.to_string().ends_with("did you mean `rowan`?"),
        "{error}"
    );
    let error = noted(&plates, &by(&start, "rowan"), "pitting", "none").unwrap_err();
    assert!(matches!(error, PieceError::NotAsked { .. }), "{error}");

    let house = noted(&plates, &start, "body", "grey").unwrap();
    let error = blind(&plates, &by(&house, "ash"), "body", "white").unwrap_err();
    assert!(
        error.to_string().contains("give `house` a chance"),
        "{error}"
    );
    let rowan = noted(&plates, &by(&start, "rowan"), "body", "grey").unwrap();
    let error = blind(&plates, &rowan, "body", "white").unwrap_err();
    assert!(error.to_string().contains("use look_again"), "{error}");
    let error = noted(&plates, &by(&rowan, "ash"), "body", "white").unwrap_err();
    assert!(matches!(error, PieceError::Contradicts { .. }), "{error}");
    let error = blind(&plates, &by(&start, "ash"), "body", "white").unwrap_err();
    assert!(matches!(error, PieceError::NotNoted { .. }), "{error}");

    let (index, _) = state(&plates, "body", "grey");
    let believed = Look::Believed(vec![0.5, 0.5, 0.0]);
    let believed = by(&start, "rowan")
        .note(index, believed, "believed".to_owned(), &plates.model)
        .unwrap();
    let error = blind(&plates, &by(&believed, "ash"), "body", "white").unwrap_err();
    assert!(error.to_string().contains("is no coding"), "{error}");
    // Whoever weighs, the scale errs as it does.
    let weight = find_clue(&plates.model, "weight").unwrap();
    let weighed = Look::Weighed {
        mass: Reading::exact(640.0),
        per: Some(Dimension::Area(Reading::exact(400.0).into())),
    };
    let note =
        |piece: &Piece| piece.note(weight, weighed.clone(), "640 g".to_owned(), &plates.model);
    let by_rowan = note(&by(&start, "rowan")).unwrap();
    assert!(plates.ask(&by_rowan).is_ok());
    let error = by(&by_rowan, "ash")
        .note_blind(weight, weighed.clone(), "640 g".to_owned(), &plates.model)
        .unwrap_err();
    assert!(error.to_string().contains("not coded by eye"), "{error}");

    // A second look by each replaces his own; by a third, nobody's.
    let both = blind(&plates, &by(&rowan, "ash"), "body", "white").unwrap();
    let (index, look) = state(&plates, "body", "buff");
    let again = both
        .note_again(index, look.clone(), "buff".to_owned(), &plates.model)
        .unwrap();
    assert_eq!(again.findings()[0].said, "grey");
    assert_eq!(
        (
            again.findings()[1].said.as_str(),
            again.findings()[1].replaced[0].said.as_str()
        ),
        ("buff", "white")
    );
    let error = by(&both, "house")
        .note_again(index, look, "buff".to_owned(), &plates.model)
        .unwrap_err();
    assert!(matches!(error, PieceError::NotNoted { .. }), "{error}");
}

/// A coding of the print: two coders' readings count like the product of their likelihoods on the coding, and hang together
/// with the other codings through the engraving.
#[test]
fn readings_of_a_coding_hang_together_through_the_engraving() {
    let tidewheel = with_observers(
        "priors/tidewheel",
        r#"
default = "house"

[[observer]]
id        = "house"
otherwise = "as the tables say"

[[observer]]
id        = "rowan"
otherwise = "not asked"

[[observer.reads]]
clues      = ["wheel", "sluice", "border"]
depends_on = ["print"]
seen       = 60
row = [
  { print = "clear",   say = "95%" },
  { print = "blurred", say = "70%" },
]

[[observer]]
id        = "ash"
otherwise = "not asked"
reads     = [{ clues = ["wheel", "border"], say = "4 in 5", seen = 20 }]
"#,
    );
    let start = ["V", "clear", "cross"]
        .into_iter()
        .zip(["size", "print", "sluice"]);
    let jug = start.fold(Piece::new("jug"), |jug, (seen, clue)| {
        noted(&tidewheel, &jug, clue, seen).unwrap()
    });
    let two = noted(&tidewheel, &by(&jug, "rowan"), "wheel", "10").unwrap();
    let two = blind(&tidewheel, &by(&two, "ash"), "wheel", "8").unwrap();
    // wheel: 6, 8, 10, 12
    let product: Vec<f64> = (0..4)
        .map(|s| {
            let rowan = if s == 2 { 0.95 } else { 0.05 / 3.0 };
            let ash = if s == 1 { 0.8 } else { 0.2 / 3.0 };
            rowan * ash
        })
        .collect();
    let (wheel, _) = state(&tidewheel, "wheel", "10");
    let one = jug
        .note(
            wheel,
            Look::Uncertain(product),
            "both".to_owned(),
            &tidewheel.model,
        )
        .unwrap();
    let (two, one) = (tidewheel.ask(&two).unwrap(), tidewheel.ask(&one).unwrap());
    assert!((two.posterior.log_evidence() - one.posterior.log_evidence()).abs() < 1e-12);
    for id in [
        tidewheel.model.catalogue.maker,
        tidewheel.model.catalogue.engraving.unwrap(),
    ] {
        for (a, b) in marginal(&two.posterior, id)
            .iter()
            .zip(marginal(&one.posterior, id))
        {
            assert!((a - b).abs() < 1e-12, "{a} {b}");
        }
    }
    let n_states = two
        .entered
        .evidence
        .items()
        .filter(|(_, c)| matches!(c, ItemContent::State(_)));
    assert_eq!(n_states.count(), 5);
}

/// Scripts name observers, and the record says whose each coding is.
#[test]
fn scripts_name_observers() {
    let folder = tempfile::tempdir().unwrap();
    let pack = folder.path().join("plates");
    copy(Path::new("tests/packs/stoneware_plates"), &pack, OBSERVERS);
    let run = |arguments: &[&str]| {
        let ran = outside::run(arguments);
        assert_eq!(ran.code, 0, "{}", ran.err);
        ran.out
    };
    let clues = run(&["clues", pack.to_str().unwrap()]);
    let (_, observers) = clues.split_once("\nobservers: ").unwrap();
    assert_eq!(
        observers,
        "looking(#{ who: \"…\" })\n\
         \x20   house (the house, whose the findings are that name nobody): a reliability for none; other clues as the tables say\n\
         \x20   rowan (E. Rowan): a reliability for body; other clues not asked\n\
         \x20   ash (T. Ash): a reliability for body; other clues as the tables say\n"
    );
    let script = folder.path().join("script.rhai");
    let text = r#"
        let pack = open_pack("plates");
        print(pack.observers()[1]);
        show(pack.piece("plate").looking(#{ who: "rowan", when: "2024-03-02" }).saw("body", "grey")
            .looking(#{ who: "ash", when: "2024-03-03", light: "lamp" }).blind("body", #{ "grey": 0.5, "buff": 0.5 }));
    "#;
    std::fs::write(&script, text).unwrap();
    let priors = folder.path().to_str().unwrap();
    let said = run(&["run", script.to_str().unwrap(), "--priors", priors]);
    for expected in [
        "rowan\n",
        "body: grey  [E. Rowan, 2024-03-02]\n",
        "body: unsure: buff 0.5, grey 0.5  [T. Ash, 2024-03-03, lamp, coded blind]\n",
    ] {
        assert!(said.contains(expected), "{said}");
    }
}

/// The example of the manual is a file that the demonstration pack accepts.
#[test]
fn the_manuals_observers_are_sound() {
    let manual = include_str!("../README.md");
    let (_, rest) = manual.split_once("```toml\n# observers.toml").unwrap();
    let (example, _) = rest.split_once("```").unwrap();
    let tidewheel = with_observers("priors/tidewheel", example);
    assert_eq!(tidewheel.model.catalogue.observers.len(), 2);
    let house = tidewheel.model.catalogue.default_observer.unwrap();
    assert!(
        !tidewheel.model.catalogue.observers[house]
            .readings
            .is_empty()
    );
}
