//! Random small networks: every function of a cell against the network with the cell changed.

use proptest::prelude::*;
use saggar::circuit::{Circuit, QueryError};
use saggar::network::{Evidence, Network, Parameters, Role, VariableId};
use saggar::sensitivity::{Cell, covary::covary, distance, of_cell};

use super::random::network_and_evidence;

/// P(state, evidence) of every state, 0 if the evidence is impossible.
fn joint(
    circuit: &Circuit,
    parameters: &Parameters,
    evidence: &Evidence,
    variable: VariableId,
) -> Option<Vec<f64>> {
    match circuit.evaluate(parameters, evidence) {
        Ok(posterior) => {
            let p = posterior.log_evidence().exp();
            Some(
                posterior
                    .marginal(variable)?
                    .iter()
                    .map(|q| q * p)
                    .collect(),
            )
        }
        Err(QueryError::ImpossibleEvidence { .. }) => {
            Some(vec![0.0; parameters.structure().n_states(variable)])
        }
        Err(error) => panic!("{error}"),
    }
}

fn chance_variables(network: &Network) -> Vec<VariableId> {
    let chance = |id: &VariableId| network.variable(*id).role == Role::Chance;
    network.variable_ids().filter(chance).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(192))]

    /// The function of any cell, one at 0 or 1 as well as any other, is the answer of the network with that cell changed and the
    /// rest of its column in proportion; its derivative is the slope; and the odds stay within the Chan–Darwiche bound.
    #[test]
    fn functions_of_cells(
        (network, evidence) in network_and_evidence(),
        asked in any::<prop::sample::Index>(),
        cells in prop::collection::vec((any::<prop::sample::Index>(), any::<prop::sample::Index>(), any::<prop::sample::Index>()), 6),
        x in 0.01..0.99_f64,
    ) {
        let variables = chance_variables(&network);
        prop_assume!(!variables.is_empty());
        let asked = *asked.get(&variables);
        let circuit = Circuit::compile(&network).unwrap();
        let parameters = network.parameters();
        let Ok(derivatives) = circuit.joint_derivatives(&parameters, &evidence, asked) else {
            // The evidence is impossible, or an input is missing; then there is no answer either.
            let answer = circuit.evaluate(&parameters, &evidence);
            let none = match &answer {
                Ok(posterior) => posterior.marginal(asked).is_none(),
                Err(_) => true,
            };
            prop_assert!(none);
            return Ok(());
        };
        let p_evidence = derivatives.log_evidence().exp();
        let stated = joint(&circuit, &parameters, &evidence, asked).unwrap();
        for (found, expected) in derivatives.probabilities().iter().zip(&stated) {
            prop_assert!((found - expected / p_evidence).abs() < 1e-12);
        }
        for measure in network.measure_ids() {
            let Some(densities) = evidence.densities(measure) else {
                continue;
            };
            let unit = derivatives.unit(measure).unwrap();
            for (q, expected) in stated.iter().enumerate() {
                let terms = derivatives.densities(q, measure).unwrap().iter().zip(densities);
                let sum: f64 = terms.map(|(d, density)| d * density / unit).sum();
                prop_assert!((sum - expected / p_evidence).abs() < 1e-12, "{sum} {expected}");
            }
        }
        for (variable, column, entry) in cells {
            let cell = {
                let variable = *variable.get(&variables);
                Cell {
                    variable,
                    configuration: column.index(network.n_configurations(variable)),
                    state_idx: entry.index(network.n_states(variable)),
                }
            };
            let before = parameters.column(cell.variable, cell.configuration).to_vec();
            let Some(after) = covary(&before, cell.state_idx, x) else {
                prop_assert!(of_cell(&derivatives, &parameters, &[0], cell).is_none());
                continue;
            };
            let mut changed = parameters.clone();
            changed.column_mut(cell.variable, cell.configuration).copy_from_slice(&after);
            let masses = joint(&circuit, &changed, &evidence, asked).unwrap();
            let total: f64 = masses.iter().sum();
            let d = distance::between_columns(&before, &after);
            for (q, mass) in masses.iter().enumerate() {
                let f = of_cell(&derivatives, &parameters, &[q], cell).unwrap();
                let above = f.alpha * x + f.beta;
                let below = f.gamma * x + f.delta;
                prop_assert!((above - mass / p_evidence).abs() <= 1e-11 * (1.0 + below.abs()), "{above} {mass}");
                prop_assert!((below - total / p_evidence).abs() <= 1e-11 * (1.0 + below.abs()));
                if total == 0.0 {
                    continue;
                }
                let x0 = before[cell.state_idx];
                let slope = (f.value((x0 + 1e-6).min(1.0)) - f.value((x0 - 1e-6).max(0.0)))
                    / ((x0 + 1e-6).min(1.0) - (x0 - 1e-6).max(0.0));
                let steep = f.derivative(x0).abs();
                if slope.is_finite() && steep < 1e3 && x0 > 1e-3 && x0 < 1.0 - 1e-3 {
                    prop_assert!((f.derivative(x0) - slope).abs() <= 1e-4 * (1.0 + steep * steep), "{slope} {}", f.derivative(x0));
                }
                let (low, high) = distance::bounds(derivatives.probabilities()[q], d);
                let p = mass / total;
                prop_assert!(low - 1e-9 <= p && p <= high + 1e-9, "{low} {p} {high} at distance {d}");
            }
        }
    }
}

/// Worked by hand: a cause said to be impossible (chance 0) with an effect seen. P(cause | effect) is 0, and would be
/// 0.9 x/(0.9 x + 0.2 (1 − x)) at chance x: its derivative at 0 is 4.5, which no posterior divided by 0 could tell.
#[test]
fn what_is_impossible_as_stated_has_a_derivative() {
    use nalgebra::DMatrix;
    use saggar::network::{Cpt, Variable};

    let variable = |name: &str| Variable {
        name: name.to_owned(),
        states: vec!["yes".to_owned(), "no".to_owned()],
        role: Role::Chance,
    };
    let cause = VariableId::new(0);
    let cpts = vec![
        Cpt {
            parents: vec![],
            table: DMatrix::from_column_slice(2, 1, &[0.0, 1.0]),
        },
        Cpt {
            parents: vec![cause],
            table: DMatrix::from_column_slice(2, 2, &[0.9, 0.1, 0.2, 0.8]),
        },
    ];
    let network = Network::new(vec![variable("cause"), variable("effect")], cpts, vec![]).unwrap();
    let circuit = Circuit::compile(&network).unwrap();
    let mut evidence = Evidence::new();
    evidence.observe(VariableId::new(1), 0);
    let parameters = network.parameters();
    let derivatives = circuit
        .joint_derivatives(&parameters, &evidence, cause)
        .unwrap();
    let cell = Cell {
        variable: cause,
        configuration: 0,
        state_idx: 0,
    };
    let f = of_cell(&derivatives, &parameters, &[0], cell).unwrap();
    assert_eq!(f.value(0.0), 0.0);
    assert!((f.derivative(0.0) - 4.5).abs() < 1e-12, "{f:?}");
    assert!((f.value(0.5) - 0.45 / 0.55).abs() < 1e-12);
    // The odds are even where 0.9 x = 0.2 (1 − x).
    assert!((f.solve(0.5).unwrap() - 0.2 / 1.1).abs() < 1e-12);
}
