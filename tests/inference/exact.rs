//! Everything that one evaluation gives against exact rational arithmetic, relative to the exact value.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{ToPrimitive, Zero};
use proptest::prelude::*;
use saggar::circuit::{Circuit, Propagator, QueryError};
use saggar::network::{Evidence, Network, Parameters, VariableId};

use super::oracle::exact::{Exact, assert_exact, ln};
use super::random::network_and_evidence;

/// Relative error allowed of every figure, however small the figure.
const RELATIVE: f64 = 1e-13;

/// Joint states up to which a network is walked through in integers of hundreds of digits.
const FEW: usize = 600;

fn is_small(network: &Network) -> bool {
    let sizes = network.variable_ids().map(|v| network.n_states(v));
    sizes.product::<usize>() <= FEW
}

/// Every entry halved again and again, up to `most` times, as a hash of its place says: the numbers then lie as far apart
/// as those of rare clues, and stay exact.
fn halved(network: &Network, seed: u64, most: u64) -> Parameters {
    let mut parameters = network.parameters();
    for (place, value) in (0_u64..).zip(parameters.values_mut()) {
        let hash =
            (seed ^ place.wrapping_mul(0x9e37_79b9_7f4a_7c15)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        *value *= 0.5_f64.powi((hash >> 33).checked_rem(most + 1).unwrap_or(0) as i32);
    }
    parameters
}

fn check(network: &Network, parameters: &Parameters, evidence: &Evidence) {
    let circuit = Circuit::compile(network).unwrap();
    let exact = match circuit.evaluate(parameters, evidence) {
        Err(QueryError::InputNotGiven { .. }) => return,
        Err(QueryError::ImpossibleEvidence { .. }) => {
            assert!(Exact::new(network, parameters, evidence).evidence.is_zero());
            return;
        }
        Err(error) => panic!("{error}"),
        Ok(posterior) => {
            let exact = Exact::new(network, parameters, evidence);
            assert_ln(posterior.log_evidence(), &exact.evidence);
            for v in network.variable_ids() {
                if let Some(marginal) = posterior.marginal(v) {
                    assert_shares(
                        marginal,
                        &exact.marginals[v.index()],
                        &exact.evidence,
                        "marginal",
                    );
                }
                if let Some(family) = posterior.family(v) {
                    let family: Vec<f64> = family.iter().copied().collect();
                    assert_shares(
                        &family,
                        &exact.families[v.index()],
                        &exact.evidence,
                        "family",
                    );
                }
                if let Some(derivatives) = posterior.parameter_derivative(v) {
                    let derivatives: Vec<f64> = derivatives.iter().copied().collect();
                    assert_shares(
                        &derivatives,
                        &exact.derivatives[v.index()],
                        &exact.evidence,
                        "derivative",
                    );
                }
            }
            exact
        }
    };
    let propagator = Propagator::new(network.structure());
    let mut workspace = propagator.workspace();
    let marginals = propagator
        .marginals_in(&mut workspace, parameters, evidence)
        .unwrap();
    assert_ln(marginals.log_evidence(), &exact.evidence);
    for v in network.variable_ids() {
        if let Some(marginal) = marginals.marginal(v) {
            assert_shares(
                marginal,
                &exact.marginals[v.index()],
                &exact.evidence,
                "kept marginal",
            );
        }
    }
}

/// The absolute error of a logarithm is the relative error of the number, as far as the logarithm itself can be held.
fn assert_ln(found: f64, exact: &BigRational) {
    let exact = ln(exact);
    let rounding = 2.0 * f64::EPSILON * exact.abs();
    assert!(
        (found - exact).abs() <= RELATIVE + rounding,
        "ln P(evidence): {found} instead of {exact}"
    );
}

fn assert_shares(found: &[f64], exact: &[BigRational], evidence: &BigRational, what: &str) {
    assert_eq!(found.len(), exact.len());
    for (&found, exact) in found.iter().zip(exact) {
        assert_exact(found, &(exact / evidence), RELATIVE, what);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn figures_are_exact(
        (network, evidence) in network_and_evidence().prop_filter("too many joint states", |(n, _)| is_small(n)),
        seed in any::<u64>(),
        most in prop::sample::select(vec![0_u64, 60, 400]),
    ) {
        check(&network, &halved(&network, seed, most), &evidence);
    }

    /// P(evidence) is linear in each entry, so the central difference is its derivative but for rounding.
    #[test]
    fn derivatives_agree_with_central_differences((network, evidence) in network_and_evidence()) {
        let circuit = Circuit::compile(&network).unwrap();
        let mut parameters = network.parameters();
        let Ok(posterior) = circuit.evaluate(&parameters, &evidence) else { return Ok(()) };
        let at_rest = posterior.log_evidence();
        for v in network.variable_ids() {
            let Some(derivatives) = posterior.parameter_derivative(v) else { continue };
            for column in 0..network.n_configurations(v) {
                for s in 0..network.n_states(v) {
                    let entry = parameters.column(v, column)[s];
                    let step = entry.min(1.0 - entry) / 2.0;
                    if step <= 0.0 {
                        continue;
                    }
                    let mut at = |value: f64| {
                        parameters.column_mut(v, column)[s] = value;
                        let ln_p = circuit.log_evidence(&parameters, &evidence);
                        parameters.column_mut(v, column)[s] = entry;
                        // The other terms may be 0, but the entry never is here.
                        (ln_p.unwrap() - at_rest).exp()
                    };
                    let difference = (at(entry + step) - at(entry - step)) / (2.0 * step);
                    let found = derivatives[(s, column)];
                    // Differences of numbers near 1 lose what the step is smaller than they are.
                    let allowed = 1e-13 * (1.0 + 1.0 / step);
                    prop_assert!((found - difference).abs() <= allowed + 1e-12 * found, "{} {}", found, difference);
                }
            }
        }
    }
}

/// The oracle itself, on sums that can be done by hand: a root of 1/4 and 3/4, a clue of 1/2 and 1/8.
#[test]
fn the_exact_oracle_by_hand() {
    let (network, evidence) = super::number_range::clues(&[0.25, 0.75], &[[0.5, 0.125]]);
    let exact = Exact::new(&network, &network.parameters(), &evidence);
    let over_32 = |n: i32| BigRational::new(BigInt::from(n), BigInt::from(32));
    // 1/4 · 1/2 + 3/4 · 1/8 = 7/32.
    assert_eq!(exact.evidence, over_32(7));
    assert_eq!(exact.marginals[0], [over_32(4), over_32(3)]);
    assert_eq!(
        exact.families[1],
        [over_32(4), over_32(0), over_32(3), over_32(0)]
    );
    assert_eq!(exact.derivatives[0], [over_32(16), over_32(4)]);
    assert_eq!(
        exact.derivatives[1],
        [over_32(8), over_32(0), over_32(24), over_32(0)]
    );
    assert!((ln(&exact.evidence) - exact.evidence.to_f64().unwrap().ln()).abs() < 1e-15);
    let circuit = Circuit::compile(&network).unwrap();
    let posterior = circuit.evaluate(&network.parameters(), &evidence).unwrap();
    let derivative = posterior.parameter_derivative(VariableId::new(1)).unwrap();
    assert_eq!(derivative[(0, 0)], 8.0 / 7.0);
}
