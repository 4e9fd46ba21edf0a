//! Looks that give numbers, in whole packs.

use std::path::Path;

use saggar::check;
use saggar::cielab::Lab;
use saggar::model::{ClueTarget, CompiledModel, MeasureRules};
use saggar::next_look::{LookWorth, NextLook, Options, Reckoned};
use saggar::piece::{Look, Piece, find_clue};
use saggar::source::Sources;

fn pack(folder: &str) -> CompiledModel {
    let (mut sources, mut found) = (Sources::default(), Vec::new());
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let model = check::load(&folder, &mut sources, &mut found).unwrap();
    model.unwrap().compile().unwrap()
}

fn look<'n>(next: &'n NextLook, clue: &str) -> &'n LookWorth {
    next.looks.iter().find(|look| look.clue == clue).unwrap()
}

/// Entropy of the makers, in bits.
fn entropy(compiled: &CompiledModel, piece: &Piece) -> f64 {
    let answer = compiled.ask(piece).unwrap();
    let p = answer
        .posterior
        .marginal(compiled.model.catalogue.maker)
        .unwrap();
    p.iter().filter(|&&p| p > 0.0).map(|p| -p * p.log2()).sum()
}

/// Evenly spread numbers (Weyl's sequence in four dimensions), and not the generator of the library.
fn spread(i: u32) -> [f64; 4] {
    let i = f64::from(i) + 0.5;
    [2.0, 3.0, 5.0, 7.0].map(|prime: f64| (i * prime.sqrt()).fract())
}

/// A colour measured: each colour noted of a piece in turn, and the piece judged.
///
/// Source: the definition of the expected entropy, by a sum over evenly spread colours.
#[test]
fn a_colour_against_the_verdict_after_each_of_many() {
    let compiled = pack("tests/packs/moor_ware");
    let model = &compiled.model;
    let piece = Piece::new("bare");
    let next = compiled.next_look(&piece, &Options::default()).unwrap();
    let found = look(&next, "colour");
    let Reckoned::Sampling { bits: error, .. } = found.reckoned else {
        panic!("{found:?}")
    };
    assert!(error > 0.0 && error < 0.01, "{error}");

    let clue = find_clue(model, "colour").unwrap();
    let ClueTarget::Measure(measure) = model.catalogue.clues[clue].target else {
        panic!()
    };
    let MeasureRules::Quantity {
        belief_of_configuration,
        ..
    } = &model.measures[measure.index()]
    else {
        panic!()
    };
    let answer = compiled.ask(&piece).unwrap();
    let p = answer.posterior.measure_configurations(measure).unwrap();
    let values = model.beliefs.stated();
    let n = 3_000;
    let (mut sum, mut squares) = (0.0, 0.0);
    for i in 0..n {
        let [at, u, v, w] = spread(i);
        let mut left = at;
        let picked = p.iter().position(|p| {
            left -= p;
            left < 0.0
        });
        let cells = values.of(belief_of_configuration[picked.unwrap_or(p.len() - 1)]);
        // Box and Muller 1958; a second radius from the last two numbers for the third normal.
        let radius = |u: f64| (-2.0 * u.ln()).sqrt();
        let (r, s) = (radius(u), radius((w * 7_919.0).fract().max(1e-12)));
        let turn = std::f64::consts::TAU;
        let normals = [
            r * (turn * v).cos(),
            r * (turn * v).sin(),
            s * (turn * w).cos(),
        ];
        // The root of the covariance, with the instrument's variances added, written out.
        let instrument = [0.6, 0.3, 0.4];
        let (ll, la, lb) = (cells[3] + instrument[0] * instrument[0], cells[4], cells[5]);
        let (aa, ab, bb) = (
            cells[6] + instrument[1] * instrument[1],
            cells[7],
            cells[8] + instrument[2] * instrument[2],
        );
        let c00 = f64::sqrt(ll);
        let (c10, c20) = (la / c00, lb / c00);
        let c11 = f64::sqrt(aa - c10 * c10);
        let c21 = (ab - c10 * c20) / c11;
        let c22 = f64::sqrt(bb - c20 * c20 - c21 * c21);
        let lab = Lab {
            l: cells[0] + c00 * normals[0],
            a: cells[1] + c10 * normals[0] + c11 * normals[1],
            b: cells[2] + c20 * normals[0] + c21 * normals[1] + c22 * normals[2],
        };
        let seen = Look::Coloured { lab, spread: None };
        let after = piece.note(clue, seen, String::new(), model).unwrap();
        let gain = next.entropy - entropy(&compiled, &after);
        sum += gain;
        squares += gain * gain;
    }
    let mean = sum / f64::from(n);
    let own = ((squares / f64::from(n) - mean * mean) / f64::from(n)).sqrt();
    let off = (found.bits - mean).abs();
    assert!(
        off < 5.0 * error.hypot(own),
        "{} {mean} ± {own}",
        found.bits
    );
}

/// A weight without bands: the verdict after each of many weights, by the trapezoidal rule over the mass.
#[test]
fn a_weight_against_the_verdict_after_each_of_many() {
    let compiled = pack("tests/packs/moor_ware");
    let model = &compiled.model;
    let litres = saggar::units::Reading {
        value: 1.0,
        tolerance: None,
    };
    let capacity = saggar::piece::Dimension::Capacity(litres.into());
    let piece = Piece::new("a litre").sized(capacity, "1 l".to_owned());
    let next = compiled.next_look(&piece, &Options::default()).unwrap();
    let clue = saggar::piece::weight_clue(model, Some(capacity)).unwrap();
    let found = look(&next, &model.catalogue.clues[clue].id);
    assert_eq!(found.reckoned, Reckoned::Quadrature);
    let before = compiled.ask(&piece).unwrap().posterior.log_evidence();
    // Exactly weighed: the pack's own tolerance would smooth the density.
    let exactly = Some(1e-9);
    let (mut total, mut after, step) = (0.0, 0.0, 4.0);
    for i in 1..700 {
        let mass = saggar::units::Reading {
            value: step * f64::from(i),
            tolerance: exactly,
        };
        let weighed = Look::Weighed { mass, per: None };
        // What can only be a slip is refused, and no reading that the look expects.
        let Ok(then) = piece.note(clue, weighed, String::new(), model) else {
            continue;
        };
        let answer = compiled.ask(&then).unwrap();
        let density = (answer.posterior.log_evidence() - before).exp();
        total += step * density;
        after += step * density * entropy(&compiled, &then);
    }
    assert!((total - 1.0).abs() < 1e-4, "{total}");
    let expected = next.entropy - after;
    assert!(
        (found.bits - expected).abs() < 1e-3,
        "{} {expected}",
        found.bits
    );
}

/// Nine oxides at once are drawn, the same figure every time, and enter no plan.
#[test]
fn several_quantities_at_once() {
    let compiled = pack("shared/pottery/romano_british_kilns");
    let piece = Piece::new("a sherd");
    let next = || compiled.next_look(&piece, &Options::default()).unwrap();
    let (one, again) = (next(), next());
    let found = look(&one, "oxides");
    assert_eq!(found.bits.to_bits(), look(&again, "oxides").bits.to_bits());
    assert!(
        matches!(found.reckoned, Reckoned::Sampling { .. }),
        "{found:?}"
    );
    assert!(
        found.bits > 0.5 * one.entropy && found.bits < one.entropy,
        "{found:?}"
    );
    let plans = compiled.plan(&piece, 2, &Options::default()).unwrap();
    assert!(plans.plans[0].best.first.is_none());
    assert!(
        plans
            .not_offered
            .iter()
            .any(|left| left.what.iter().any(|what| what.contains("oxides")))
    );
}
