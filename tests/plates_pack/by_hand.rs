//! Verdicts against sums written out by hand.

use saggar::model::CompiledModel;
use saggar::piece::Piece;
use saggar::query::marginal;

/// Compares P(maker | piece) and P(piece) with weights that are not yet divided by their sum.
#[track_caller]
pub fn check(plates: &CompiledModel, piece: &Piece, weights: [f64; 4]) {
    let answer = plates.ask(piece).unwrap();
    let found = marginal(&answer.posterior, plates.model.catalogue.maker);
    let sum: f64 = weights.iter().sum();
    for (found, weight) in found.iter().zip(weights) {
        assert!(
            (found - weight / sum).abs() < 1e-12,
            "{found} {}",
            weight / sum
        );
    }
    assert!((answer.posterior.log_evidence() - sum.ln()).abs() < 1e-12);
}
