//! P(evidence), posteriors and derivatives in exact rational arithmetic, by walking through all joint states.
//!
//! Every `f64` is a whole multiple of a power of two, so all factors are written over one common denominator and the sums
//! are sums of integers: nothing is rounded anywhere.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{One, Signed, ToPrimitive, Zero};
use saggar::network::{Evidence, Finding, Network, Parameters, Role, VariableId};

/// Sums over all joint states, each a rational number.
pub struct Exact {
    /// P(evidence), likelihoods and densities as they stand.
    pub evidence: BigRational,
    /// P(state, evidence) of each variable.
    pub marginals: Vec<Vec<BigRational>>,
    /// P(state, parent configuration, evidence) of each variable, column by column.
    pub families: Vec<Vec<BigRational>>,
    /// ∂ P(evidence) / ∂ entry of each table, column by column.
    pub derivatives: Vec<Vec<BigRational>>,
}

impl Exact {
    /// Walks through all joint states under `parameters`, whose columns need not sum to 1. An input that is not given is
    /// spread evenly.
    pub fn new(network: &Network, parameters: &Parameters, evidence: &Evidence) -> Self {
        let n = network.variables().len();
        let tables: Vec<Vec<f64>> = network
            .variable_ids()
            .map(|v| match network.variable(v).role {
                Role::Chance => parameters.table(v).to_vec(),
                Role::Input => vec![1.0; network.n_states(v)],
            })
            .collect();
        let findings: Vec<Vec<f64>> = network
            .variable_ids()
            .map(|v| {
                let n_states = network.n_states(v);
                match evidence.finding(v) {
                    None => vec![1.0; n_states],
                    Some(&Finding::State(observed)) => (0..n_states)
                        .map(|s| f64::from(u8::from(s == observed)))
                        .collect(),
                    Some(Finding::Likelihood(values)) => values.clone(),
                }
            })
            .collect();
        let densities: Vec<Vec<f64>> = network
            .measure_ids()
            .map(|m| match evidence.densities(m) {
                None => vec![1.0; network.n_measure_configurations(m)],
                Some(values) => values.to_vec(),
            })
            .collect();
        let all = || tables.iter().chain(&findings).chain(&densities).flatten();
        let digits = all().map(|&value| binary_places(value)).max().unwrap_or(0);
        let whole = |values: &Vec<Vec<f64>>| -> Vec<Vec<BigInt>> {
            values
                .iter()
                .map(|list| list.iter().map(|&value| scaled(value, digits)).collect())
                .collect()
        };
        let (tables, findings, densities) = (whole(&tables), whole(&findings), whole(&densities));

        let zeros = |lengths: Vec<usize>| -> Vec<Vec<BigInt>> {
            lengths.iter().map(|&n| vec![BigInt::zero(); n]).collect()
        };
        let mut total = BigInt::zero();
        let mut marginals = zeros(findings.iter().map(Vec::len).collect());
        let mut families = zeros(tables.iter().map(Vec::len).collect());
        let mut derivatives = zeros(tables.iter().map(Vec::len).collect());
        let mut states = vec![0; n];
        loop {
            let place = |v: VariableId| {
                let column = network.configuration(v, |p| states[p.index()]);
                column * network.n_states(v) + states[v.index()]
            };
            let places: Vec<usize> = network.variable_ids().map(place).collect();
            let mut outside = BigInt::one();
            for (v, list) in findings.iter().enumerate() {
                outside *= &list[states[v]];
            }
            for m in network.measure_ids() {
                let parents = &network.measure(m).parents;
                let at = |n: usize, &p: &VariableId| n * network.n_states(p) + states[p.index()];
                outside *= &densities[m.index()][parents.iter().fold(0, at)];
            }
            if !outside.is_zero() {
                // The product of all entries but one, from the products before and behind it.
                let mut before = outside;
                let mut behind = vec![BigInt::one(); n + 1];
                for v in (0..n).rev() {
                    behind[v] = &behind[v + 1] * &tables[v][places[v]];
                }
                for v in 0..n {
                    derivatives[v][places[v]] += &before * &behind[v + 1];
                    before *= &tables[v][places[v]];
                }
                for v in 0..n {
                    marginals[v][states[v]] += &before;
                    families[v][places[v]] += &before;
                }
                total += before;
            }
            if !super::next(&mut states, network) {
                break;
            }
        }

        let n_factors = 2 * n + network.measures().len();
        let unset = network
            .variable_ids()
            .filter(|&v| network.variable(v).role == Role::Input && evidence.finding(v).is_none());
        let spread: BigInt = unset.map(|v| BigInt::from(network.n_states(v))).product();
        let over = |numerator: &BigInt, n_factors: usize| {
            BigRational::new(
                numerator.clone(),
                &spread * (BigInt::one() << (digits * n_factors)),
            )
        };
        let all_over = |lists: &[Vec<BigInt>], n_factors: usize| -> Vec<Vec<BigRational>> {
            lists
                .iter()
                .map(|list| list.iter().map(|sum| over(sum, n_factors)).collect())
                .collect()
        };
        Self {
            evidence: over(&total, n_factors),
            marginals: all_over(&marginals, n_factors),
            families: all_over(&families, n_factors),
            derivatives: all_over(&derivatives, n_factors - 1),
        }
    }
}

/// How many binary places behind the point a number has.
fn binary_places(value: f64) -> usize {
    let exact = BigRational::from_float(value).unwrap();
    (exact.denom().bits() - 1) as usize
}

/// value · 2^digits, a whole number.
fn scaled(value: f64, digits: usize) -> BigInt {
    let exact = BigRational::from_float(value).unwrap() * (BigInt::one() << digits);
    assert!(exact.is_integer());
    exact.to_integer()
}

/// The natural logarithm of a positive number of any size.
pub fn ln(value: &BigRational) -> f64 {
    let exponent = value.numer().bits() as i64 - value.denom().bits() as i64;
    let power = BigInt::one() << exponent.unsigned_abs();
    let mantissa = match exponent {
        0.. => value / power,
        _ => value * power,
    };
    mantissa.to_f64().unwrap().ln() + exponent as f64 * std::f64::consts::LN_2
}

/// Asserts that `found` differs from the exact value by no more than `tolerance` of it. Beyond the range of `f64` it must
/// be infinite; below the smallest normal number the last binary place of a subnormal one is allowed.
pub fn assert_exact(found: f64, exact: &BigRational, tolerance: f64, what: &str) {
    let of = |value: f64| BigRational::from_float(value).unwrap();
    if found == f64::INFINITY {
        assert!(
            *exact > of(f64::MAX) * of(1.0 - tolerance),
            "{what}: infinite"
        );
        return;
    }
    assert!(found.is_finite(), "{what}: {found}");
    let smallest = of(f64::MIN_POSITIVE) * of(f64::EPSILON);
    let mut allowed = exact * of(tolerance);
    if *exact < of(f64::MIN_POSITIVE) {
        allowed += &smallest + &smallest;
    }
    assert!(
        exact.is_zero() == (found == 0.0) || *exact < smallest.clone() + &smallest,
        "{what}: {found}"
    );
    let off = (of(found) - exact).abs();
    assert!(
        off <= allowed,
        "{what}: {found:e} is off by {:e} of {:e}",
        off.to_f64().unwrap(),
        exact.to_f64().unwrap()
    );
}
