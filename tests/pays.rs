//! Whether a further look pays: against a textbook's decision, and against every reading noted in turn and valued.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "demonstration/edited_pack.rs"]
mod edited_pack;

use std::collections::BTreeMap;
use std::path::Path;

use saggar::check;
use saggar::circuit::Circuit;
use saggar::instruction::{Instruction, Said};
use saggar::interchange::{Format, parse};
use saggar::model::CompiledModel;
use saggar::network::Evidence;
use saggar::pays::{Costs, LookPays, Pays, PaysError, mean_worth};
use saggar::piece::{Look, Piece, find_clue, find_state};
use saggar::source::Sources;
use saggar::units::Reading;
use saggar::value::Asked;

const DEFINITION: &str = "specialist estimate";

fn opened(pack: &Path) -> CompiledModel {
    let (mut sources, mut found) = (Sources::default(), Vec::new());
    let model = check::load(pack, &mut sources, &mut found).unwrap();
    let found: Vec<&String> = found.iter().map(|report| &report.message).collect();
    model
        .unwrap_or_else(|| panic!("{found:?}"))
        .compile()
        .unwrap()
}

fn demonstration() -> CompiledModel {
    opened(&Path::new(env!("CARGO_MANIFEST_DIR")).join("priors/tidewheel"))
}

fn instruction() -> Instruction {
    let said = [
        ("purpose", "a test"),
        ("users", "the test"),
        ("definition", DEFINITION),
        ("effective", "2024-03-31"),
        ("inspected", "2024-03-02"),
        ("inspector", "E. Rowan"),
        ("seen", "in hand"),
        ("interest", "none"),
    ];
    Instruction::new(said.map(|(name, text)| (name, Said::Text(text.to_owned())))).unwrap()
}

fn noted(pack: &CompiledModel, piece: &Piece, clue: &str, state: &str) -> Piece {
    let model = &pack.model;
    let clue = find_clue(model, clue).unwrap();
    let state_idx = find_state(&model.catalogue.clues[clue], state).unwrap();
    let seen = Look::Seen(state_idx);
    if piece.findings().iter().any(|f| f.clue == clue) {
        return piece
            .note_again(clue, seen, state.to_owned(), model)
            .unwrap();
    }
    piece.note(clue, seen, state.to_owned(), model).unwrap()
}

fn piece(pack: &CompiledModel, seen: &[(&str, &str)]) -> Piece {
    let blank = Piece::new("a jug")
        .in_condition(4, Vec::new(), &pack.model)
        .unwrap();
    seen.iter().fold(blank, |piece, (clue, state)| {
        noted(pack, &piece, clue, state)
    })
}

/// Two motifs alone: every wording is still open.
const BARELY: [(&str, &str); 5] = [
    ("size", "VI"),
    ("print", "clear"),
    ("search", "full"),
    ("wheel", "10"),
    ("sluice", "cross"),
];
/// A full mark that the other findings do not contradict yet, so that a further one may.
const MARKED: [(&str, &str); 6] = [
    ("size", "IV"),
    ("search", "full"),
    ("mark", "lantern TQ&U, full"),
    ("print", "clear"),
    ("technique", "line+stipple"),
    ("tint", "faint blue"),
];

fn pays(pack: &CompiledModel, piece: &Piece, costs: &Costs) -> Pays {
    pack.pays(piece, &instruction(), costs).unwrap()
}

fn an_hour_at(per_hour: f64) -> Costs {
    Costs {
        per_hour,
        ..Costs::default()
    }
}

/// The value's own wording and middle price of a piece as it stands.
fn own(pack: &CompiledModel, piece: &Piece) -> (String, f64) {
    let value = pack.value(piece, &instruction(), &Asked::default());
    let first = value.unwrap().estimates.remove(0);
    assert!(first.is_the_value);
    (first.catalogued, first.band.median)
}

fn compare(look: &LookPays, expected: &BTreeMap<String, (f64, f64)>, now: f64, within: f64) {
    let what = (&look.clue, &look.with);
    let mut gain = 0.0;
    for (catalogued, (chance, price)) in expected {
        let found = look.becomes.iter().find(|b| b.catalogued == *catalogued);
        let found = found.map_or(0.0, |b| b.chance);
        assert!(
            (found - chance).abs() < within,
            "{what:?} {catalogued}: {found} {chance}"
        );
        gain += chance * (price - now);
    }
    assert!(
        (look.gain - gain).abs() < 1000.0 * within,
        "{what:?}: {} {gain}",
        look.gain
    );
    let total: f64 = look.becomes.iter().map(|b| b.chance).sum();
    assert!((total - 1.0).abs() < 1e-9, "{what:?}: {total}");
}

/// Every reading of every clue with states noted in turn, and the piece valued as it is then.
#[test]
fn as_if_each_reading_were_noted_and_valued() {
    let pack = demonstration();
    for seen in [&BARELY[..], &MARKED[..]] {
        let piece = piece(&pack, seen);
        let (catalogued, now) = own(&pack, &piece);
        let answer = pays(&pack, &piece, &an_hour_at(60.0));
        assert_eq!(answer.now.catalogued, catalogued);
        assert_eq!(answer.now.price, now);
        let before = pack.ask(&piece).unwrap().posterior.log_evidence();
        let mut n_compared = 0;
        for look in &answer.looks {
            let clue = find_clue(&pack.model, &look.clue).unwrap();
            let states = &pack.model.catalogue.clues[clue].states;
            if states.is_empty() {
                continue;
            }
            let mut expected: BTreeMap<String, (f64, f64)> = BTreeMap::new();
            for state in states {
                let then = noted(&pack, &piece, &look.clue, state);
                // A reading that cannot be is a contradiction.
                let Ok(after) = pack.ask(&then) else { continue };
                let chance = (after.posterior.log_evidence() - before).exp();
                let (catalogued, price) = own(&pack, &then);
                expected.entry(catalogued).or_insert((0.0, price)).0 += chance;
            }
            compare(look, &expected, now, 1e-9);
            n_compared += 1;
        }
        assert!(n_compared >= 8, "{n_compared}");
    }
}

/// A weight, by a rectangle rule over grams that shares nothing with the grid of the look but the density.
#[test]
fn a_weight_as_if_each_gram_were_weighed() {
    // The demonstration judges a weight by bands, which are states.
    let folder =
        edited_pack::edited_pack("clues.toml", "bands      = [0.90, 1.00, 1.10, 1.20]\n", "");
    let pack = opened(&folder.path().join("tidewheel"));
    let piece = piece(&pack, &BARELY);
    let (_, now) = own(&pack, &piece);
    let answer = pays(&pack, &piece, &an_hour_at(60.0));
    let look = answer.looks.iter().find(|l| l.clue == "weight").unwrap();
    let clue = find_clue(&pack.model, "weight").unwrap();
    let before = pack.ask(&piece).unwrap().posterior.log_evidence();
    let mut sums: BTreeMap<String, (f64, f64)> = BTreeMap::new();
    let (mut total, step) = (0.0, 2);
    for gram in (1150..2450).step_by(step) {
        // Exactly weighed: the pack's own tolerance would smooth the density.
        let mass = Reading {
            value: f64::from(gram),
            tolerance: Some(1e-9),
        };
        let weighed = Look::Weighed { mass, per: None };
        let then = piece.note(clue, weighed, format!("{gram} g"), &pack.model);
        let then = then.unwrap();
        let Ok(after) = pack.ask(&then) else { continue };
        let density = (after.posterior.log_evidence() - before).exp();
        total += density;
        let (catalogued, price) = own(&pack, &then);
        sums.entry(catalogued).or_insert((0.0, price)).0 += density;
    }
    for (share, _) in sums.values_mut() {
        *share /= total;
    }
    assert!(sums.len() > 1, "{sums:?}");
    // Each edge between two wordings falls anywhere within two grams, of some hundreds.
    compare(look, &sums, now, 0.003);
}

/// Source: `tests/reference/07-value-of-information/decision_oil.json`.
#[test]
fn an_oil_well() {
    let path = "tests/reference/07-value-of-information/decision_oil.json";
    let text = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(path)).unwrap();
    let file: serde_json::Value = serde_json::from_str(&text).unwrap();
    let number = |value: &serde_json::Value| value.as_f64().unwrap();
    let (wells, results) = (["dry", "wet", "soaking"], ["none", "open", "closed"]);
    let list = |numbers: Vec<f64>| {
        let texts: Vec<String> = numbers.iter().map(f64::to_string).collect();
        texts.join(", ")
    };
    let prior = list(wells.map(|well| number(&file["prior"][well])).to_vec());
    let row = |well: &str| {
        let row = results.map(|result| number(&file["test_likelihood"][result][well]));
        format!("  ({well}) {};\n", list(row.to_vec()))
    };
    let bif = format!(
        "network oil {{ }}\nvariable well {{ type discrete [ 3 ] {{ {} }}; }}\n\
         variable test {{ type discrete [ 3 ] {{ {} }}; }}\nprobability ( well ) {{ table {prior}; }}\n\
         probability ( test | well ) {{\n{} }}\n",
        wells.join(", "),
        results.join(", "),
        wells.map(row).concat()
    );
    let mut sources = Sources::default();
    let source = sources.add("oil.bif", &bif);
    let oil = parse(source, &sources, Format::Bif).unwrap().network;
    let (circuit, parameters) = (Circuit::compile(&oil).unwrap(), oil.parameters());
    let [well, test] = ["well", "test"].map(|name| oil.find(name).unwrap());
    let marginal = |evidence: &Evidence, id| {
        let posterior = circuit.evaluate(&parameters, evidence).unwrap();
        posterior.marginal(id).unwrap().to_vec()
    };
    let best = |p: &[f64]| {
        let of = |action: &str| {
            let payoffs = wells.map(|well| number(&file["payoff"][action][well]));
            mean_worth(p.iter().copied().zip(payoffs))
        };
        of("drill").max(of("not"))
    };
    let (nothing, mut after) = (Evidence::new(), Vec::new());
    for (result, chance) in marginal(&nothing, test).into_iter().enumerate() {
        let mut evidence = Evidence::new();
        evidence.observe(test, result);
        after.push((chance, best(&marginal(&evidence, well))));
    }
    let without = best(&marginal(&nothing, well));
    let with = mean_worth(after);
    let certain = (0..3).map(|known| {
        let mut p = [0.0; 3];
        p[known] = 1.0;
        best(&p)
    });
    let known = mean_worth(marginal(&nothing, well).into_iter().zip(certain));
    for (found, expected) in [
        (without, "expected_value_without_test"),
        (with, "expected_value_with_free_test"),
        (with - without, "evsi"),
        (
            with - number(&file["test_cost"]),
            "expected_value_with_test_net",
        ),
        (known - without, "evpi"),
    ] {
        let expected_value = number(&file[expected]);
        assert!(
            (found - expected_value).abs() < 1e-12,
            "{expected}: {found} {expected_value}"
        );
    }
}

#[test]
fn a_look_pays_if_it_brings_more_than_it_costs() {
    let pack = demonstration();
    let piece = piece(&pack, &BARELY);
    let free = pays(&pack, &piece, &an_hour_at(0.0));
    let dear = pays(&pack, &piece, &an_hour_at(600.0));
    let mark = find_clue(&pack.model, "mark").unwrap();
    let fee = Costs {
        fees: vec![(mark, 500.0)],
        ..an_hour_at(600.0)
    };
    let with_fee = pays(&pack, &piece, &fee);
    let of_mark = |pays: &Pays| {
        let look = pays.looks.iter().find(|l| l.clue == "mark").unwrap();
        (look.cost, look.gain, look.pays)
    };
    let (cost, gain, is_worth_it) = of_mark(&free);
    assert_eq!((cost, is_worth_it), (0.0, true));
    let minutes = free
        .looks
        .iter()
        .find(|l| l.clue == "mark")
        .unwrap()
        .minutes;
    assert_eq!(
        of_mark(&dear),
        (minutes * 10.0, gain, gain > minutes * 10.0)
    );
    assert_eq!(of_mark(&with_fee), (minutes * 10.0 + 500.0, gain, false));
    for pays in [free, dear, with_fee] {
        let net = pays.looks.iter().map(|l| l.gain - l.cost);
        assert!(net.is_sorted_by(|a, b| a >= b));
        for look in &pays.looks {
            assert_eq!(look.mean_price, pays.now.price + look.gain);
            assert!(look.rises + look.falls <= 1.0 + 1e-9);
        }
    }
}

/// A look after which the wording stays what it is brings nothing, to the last digit.
#[test]
fn a_look_that_changes_no_wording_brings_nothing() {
    let pack = demonstration();
    let answer = pays(&pack, &piece(&pack, &BARELY), &an_hour_at(0.0));
    let settled: Vec<&LookPays> = answer
        .looks
        .iter()
        .filter(|look| look.becomes.len() == 1)
        .collect();
    assert!(!settled.is_empty());
    for look in settled {
        assert_eq!((look.gain, look.rises, look.falls), (0.0, 0.0, 0.0));
        assert!(!look.pays);
    }
}

#[test]
fn costs_that_are_none() {
    let pack = demonstration();
    let piece = piece(&pack, &BARELY);
    let bare = Piece::new("a jug");
    for per_hour in [-1.0, f64::NAN, f64::INFINITY] {
        let refused = pack.pays(&piece, &instruction(), &an_hour_at(per_hour));
        assert!(matches!(refused, Err(PaysError::Cost { .. })), "{per_hour}");
    }
    let refused = pack.pays(&bare, &instruction(), &an_hour_at(1.0));
    assert!(matches!(refused, Err(PaysError::Value(_))));
}
