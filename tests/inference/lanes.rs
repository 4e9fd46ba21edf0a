//! One question in lanes: every lane against enumeration, and nothing read but what is said to be needed.

use nalgebra::DMatrix;
use proptest::prelude::*;
use saggar::circuit::{LANES, LaneWorkspace, ParameterLanes, QueryError, Specialised};
use saggar::network::{Cpt, Evidence, EvidenceItem, Network, Role, Variable, VariableId};

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

/// Even lanes hold the tables of one network, odd lanes those of the other, and what is not needed holds `fill`.
fn two_networks(question: &Specialised, networks: &[Network; 2], fill: f64) -> ParameterLanes {
    let mut nothing = networks[0].parameters();
    nothing.values_mut().fill(fill);
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
    let parameters = two_networks(&question, networks, f64::NAN);
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

/// The posterior alone: the same posteriors, to the last bit whatever the columns hold that are said not to matter.
fn check_posterior_alone(networks: &[Network; 2], evidence: &Evidence, target: VariableId) {
    let structure = networks[0].structure();
    let whole = Specialised::compile(structure, evidence, target);
    let alone = Specialised::compile_posterior(structure, evidence, target);
    let (Ok(whole), Ok(alone)) = (&whole, &alone) else {
        assert_eq!(whole.err(), alone.err());
        return;
    };
    let needed: Vec<_> = alone.needed_columns().collect();
    let all: Vec<_> = whole.needed_columns().collect();
    assert!(needed.iter().all(|column| all.contains(column)));
    let bits = |fill: f64| {
        let parameters = two_networks(alone, networks, fill);
        let mut workspace = LaneWorkspace::default();
        let answer = alone.evaluate_in(&mut workspace, &parameters, &[]);
        let lanes = answer.posterior.iter().flat_map(|p| p.0);
        (lanes.map(f64::to_bits).collect::<Vec<_>>(), answer.evidence)
    };
    let (posterior, part) = bits(f64::NAN);
    assert_eq!(bits(0.625), (posterior.clone(), part));
    for (which, network) in networks.iter().enumerate() {
        let expected = Enumeration::new(network, evidence);
        if expected.evidence > 0.0 {
            assert!(part.0[which] > 0.0);
            let of_lane = posterior.iter().skip(which).step_by(LANES);
            let of_lane: Vec<f64> = of_lane.map(|&p| f64::from_bits(p)).collect();
            assert_close(&of_lane, &expected.marginal(target), "posterior alone");
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
            check_posterior_alone(&networks, &evidence, target);
        }
    }
}

/// a → b → c → d, and e on its own. Once b is seen, c and d tell nothing about a, nor does e ever.
#[test]
fn what_evidence_separates_is_not_needed() {
    let variable = |name: &str| Variable {
        name: name.to_owned(),
        states: vec!["yes".to_owned(), "no".to_owned()],
        role: Role::Chance,
    };
    let root = DMatrix::from_column_slice(2, 1, &[0.25, 0.75]);
    let link = DMatrix::from_row_slice(2, 2, &[0.5, 0.125, 0.5, 0.875]);
    let cpt = |parent: Option<u32>| Cpt {
        parents: parent.into_iter().map(VariableId::new).collect(),
        table: parent.map_or_else(|| root.clone(), |_| link.clone()),
    };
    let network = Network::new(
        ["a", "b", "c", "d", "e"].map(variable).to_vec(),
        [None, Some(0), Some(1), Some(2), None].map(cpt).to_vec(),
        Vec::new(),
    )
    .unwrap();
    let [a, b, c, d, e] = [0, 1, 2, 3, 4].map(VariableId::new);
    let needed = |seen: &[VariableId], target: VariableId| {
        let mut evidence = Evidence::new();
        for &v in seen {
            evidence.observe(v, 0);
        }
        let question = Specialised::compile_posterior(network.structure(), &evidence, target);
        let mut tables: Vec<_> = question
            .unwrap()
            .needed_columns()
            .map(|(v, ..)| v)
            .collect();
        tables.dedup();
        tables
    };
    assert_eq!(needed(&[d], a), [a, b, c, d]);
    assert_eq!(needed(&[b, d, e], a), [a, b]);
    assert_eq!(needed(&[b, d], c), [c, d]);
    assert_eq!(needed(&[a, b], e), [e]);
    // What is seen needs no table.
    assert_eq!(needed(&[a, b], a), []);
}
