//! One question in lanes: every lane against enumeration, and nothing read but what is said to be needed.

use nalgebra::DMatrix;
use proptest::prelude::*;
use saggar::circuit::{LANES, LaneWorkspace, ParameterLanes, QueryError, Specialised};
use saggar::network::{Cpt, Evidence, EvidenceItem, Network, Role, VariableId};

use super::oracle::{Enumeration, inputs_above};
use super::random::network_and_evidence;
use super::{TOLERANCE, assert_close};

/// The network with every column drawn halfway to equal shares: other numbers, no zeros.
fn smoothed(network: &Network) -> Network {
    let cpts = network.variable_ids().map(|v| {
        let cpt = network.cpt(v);
        let even = 1.0 / network.n_states(v) as f64;
        let table: DMatrix<f64> = match network.variable(v).role {
            Role::Input => cpt.table.clone(),
            Role::Chance => cpt.table.map(|p| (p + even) / 2.0),
        };
        Cpt {
            parents: cpt.parents.clone(),
            table,
        }
    });
    Network::new(
        network.variables().to_vec(),
        cpts.collect(),
        network.measures().to_vec(),
    )
    .unwrap()
}

/// Even lanes hold the tables of one network, odd lanes those of the other, and what is not needed holds no number.
fn two_networks(question: &Specialised, networks: &[Network; 2]) -> ParameterLanes {
    let mut nothing = networks[0].parameters();
    nothing.values_mut().fill(f64::NAN);
    let mut lanes = ParameterLanes::of(&nothing);
    let parameters = networks.each_ref().map(Network::parameters);
    for (variable, configuration, state) in question.needed_columns() {
        let column = lanes.column_mut(variable, configuration);
        for (state_idx, cell) in column.iter_mut().enumerate() {
            if state.is_none_or(|needed| needed == state_idx) {
                for lane in 0..LANES {
                    cell.0[lane] = parameters[lane % 2].column(variable, configuration)[state_idx];
                }
            }
        }
    }
    lanes
}

fn check(networks: &[Network; 2], evidence: &Evidence, target: VariableId) {
    let network = &networks[0];
    let result = Specialised::compile(network.structure(), evidence, target);
    let given = |v: &VariableId| evidence.finding(*v).is_some();
    let mut asked: Vec<EvidenceItem> = evidence.items().map(|(item, _)| item).collect();
    asked.push(EvidenceItem::Variable(target));
    if asked
        .iter()
        .any(|&item| !inputs_above(network, item).iter().all(given))
    {
        let refused = matches!(
            result,
            Err(QueryError::InputNotGiven { .. } | QueryError::InputNotHard { .. })
        );
        assert!(refused, "expected a missing input");
        return;
    }
    let question = result.unwrap();
    let parameters = two_networks(&question, networks);
    let mut workspace = LaneWorkspace::default();
    let answer = question.evaluate_in(&mut workspace, &parameters, &[]);
    for (which, network) in networks.iter().enumerate() {
        let expected = Enumeration::new(network, evidence);
        for lane in (which..LANES).step_by(2) {
            assert_eq!(answer.holds(lane), expected.evidence > 0.0);
            if !answer.holds(lane) {
                assert_eq!(answer.evidence.0[lane], 0.0);
                continue;
            }
            let log_evidence = answer.evidence.0[lane].ln() + question.log_scale();
            assert!((log_evidence - expected.evidence.ln()).abs() <= TOLERANCE);
            let posterior: Vec<f64> = answer.posterior.iter().map(|p| p.0[lane]).collect();
            assert_close(&posterior, &expected.marginal(target), "posterior");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    #[test]
    fn lanes_agree_with_enumeration((network, evidence) in network_and_evidence()) {
        let networks = [network.clone(), smoothed(&network)];
        for target in network.variable_ids() {
            check(&networks, &evidence, target);
        }
    }
}
