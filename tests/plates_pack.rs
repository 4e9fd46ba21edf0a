//! A second pack, of another ware: three files only, and a weight that is taken as measured.
//!
//! What the model answers is compared with Bayes' theorem written out by hand.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "plates_pack/by_hand.rs"]
mod by_hand;

use std::path::Path;

use by_hand::check;
use saggar::diagnostic::render::render;
use saggar::model::CompiledModel;
use saggar::piece::{Dimension, Look, Piece, PieceError, find_clue, find_state};
use saggar::query::AskError;
use saggar::source::Sources;
use saggar::units::Reading;

/// Share, median and factor of the weight, P(body).
type Maker = (f64, f64, f64, [f64; 3]);

/// Makers in the order of makers.toml: share, median and factor of the weight in g/cm², P(body = white, grey, buff).
const MAKERS: [Maker; 4] = [
    (0.40, 1.10, 1.08, [0.70, 0.20, 0.10]),
    (0.35, 1.28, 1.10, [0.25, 0.60, 0.15]),
    (0.15, 1.20, 1.25, [0.40, 0.30, 0.30]),
    (0.10, 1.45, 1.05, [0.40, 0.30, 0.30]),
];
/// P(pitting = orange peel) for a white, grey and buff body.
const ORANGE_PEEL: [f64; 3] = [0.10, 0.50, 0.50];

fn plates() -> CompiledModel {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/packs/stoneware_plates");
    let mut sources = Sources::default();
    let mut out = Vec::new();
    let pack = saggar::pack::read(&folder, &mut sources, &mut out).unwrap();
    let model = saggar::check::check(&pack.unwrap(), &sources, &mut out);
    let said: Vec<String> = out.iter().map(|d| render(d, &sources, false)).collect();
    assert!(said.is_empty(), "{}", said.join("\n\n"));
    model.unwrap().compile().unwrap()
}

/// Density of a lognormal with median `median` and geometric standard deviation `factor`.
///
/// Source: Johnson, Kotz & Balakrishnan 1994, *Continuous Univariate Distributions* vol. 1, eq. 14.2, with μ = ln median
/// and σ = ln factor (from memory).
fn lognormal(x: f64, median: f64, factor: f64) -> f64 {
    let sigma = factor.ln();
    let z = (x.ln() - median.ln()) / sigma;
    (-0.5 * z * z).exp() / (x * sigma * (std::f64::consts::TAU).sqrt())
}

fn noted(plates: &CompiledModel, looks: &[(&str, Look)]) -> Piece {
    looks
        .iter()
        .fold(Piece::new("plate"), |piece, (clue, look)| {
            let clue = find_clue(&plates.model, clue).unwrap();
            piece
                .note(clue, look.clone(), String::new(), &plates.model)
                .unwrap()
        })
}

fn weighed(grams: f64, area: Option<f64>) -> Look {
    Look::Weighed {
        mass: Reading::exact(grams),
        per: area.map(|area| Dimension::Area(Reading::exact(area).into())),
    }
}

fn seen(plates: &CompiledModel, clue: &str, state: &str) -> Look {
    let clue = find_clue(&plates.model, clue).unwrap();
    Look::Seen(find_state(&plates.model.catalogue.clues[clue], state).unwrap())
}

/// Source: Bayes' theorem.
#[test]
fn weight_alone() {
    let plates = plates();
    for (grams, area) in [(410.0, 380.0), (640.0, 490.8739), (905.5, 531.0)] {
        let weighed = weighed(grams, Some(area));
        let by_hand = MAKERS
            .map(|(share, median, factor, _)| share * lognormal(grams / area, median, factor));
        check(&plates, &noted(&plates, &[("weight", weighed)]), by_hand);
    }
}

/// Source: Bayes' theorem, with the sum over the body, which was not looked at.
#[test]
fn weight_and_pitting_with_the_body_not_looked_at() {
    let plates = plates();
    let weighed = weighed(640.0, Some(520.0));
    let pitting = seen(&plates, "pitting", "orange peel");
    let by_hand = MAKERS.map(|(share, median, factor, body)| {
        let orange_peel: f64 = body.iter().zip(ORANGE_PEEL).map(|(b, o)| b * o).sum();
        share * lognormal(640.0 / 520.0, median, factor) * orange_peel
    });
    let piece = noted(&plates, &[("pitting", pitting), ("weight", weighed)]);
    check(&plates, &piece, by_hand);
}

/// How expected a weight is given the body, against what it is alone: densities by hand.
///
/// Source: Bayes' theorem.
#[test]
fn a_weight_is_predicted_from_the_body() {
    let plates = plates();
    let weighed = weighed(640.0, Some(400.0));
    let body = seen(&plates, "body", "white");
    let piece = noted(&plates, &[("body", body), ("weight", weighed)]);
    let surprise = plates.verdict(&piece).unwrap().surprise;
    let density = |median, factor| lognormal(1.6, median, factor);
    let sum = |f: &dyn Fn(&Maker) -> f64| MAKERS.iter().map(f).sum::<f64>();
    let joint = sum(&|&(share, median, factor, body)| share * body[0] * density(median, factor));
    let white = sum(&|&(share, _, _, body)| share * body[0]);
    let alone = sum(&|&(share, median, factor, _)| share * density(median, factor));
    let expected = 10.0 * (joint / white / alone).log10();
    let weight = &surprise.predicted[1];
    assert!(
        (weight.decibans - expected).abs() < 1e-10,
        "{} {expected}",
        weight.decibans
    );
    assert_eq!(weight.probability_given_others, None);
    assert!((surprise.conflict_decibans + expected).abs() < 1e-10);
}

/// The body known, the pitting that depends on it says nothing of the maker.
#[test]
fn pitting_says_nothing_once_the_body_is_known() {
    let plates = plates();
    let body = seen(&plates, "body", "grey");
    let pitting = seen(&plates, "pitting", "none");
    let by_hand = MAKERS.map(|(share, _, _, body)| share * body[1] * 0.10);
    check(
        &plates,
        &noted(&plates, &[("body", body), ("pitting", pitting)]),
        by_hand,
    );
}

#[test]
fn a_weight_without_its_area_cannot_be_judged() {
    let plates = plates();
    let weighed = weighed(640.0, None);
    let answer = plates.ask(&noted(&plates, &[("weight", weighed)]));
    assert!(matches!(
        answer,
        Err(AskError::Piece(PieceError::WeightNeeds { .. }))
    ));
}
