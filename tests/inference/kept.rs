//! What is kept from one question to the next, or shared between threads, never shows in an answer.

use nalgebra::DMatrix;
use proptest::prelude::*;
use saggar::circuit::{
    Circuit, CompileError, LaneWorkspace, ParameterLanes, Propagator, QueryError, Specialised,
};
use saggar::network::{Cpt, Evidence, Network, NetworkError, Role, Variable, VariableId};

use super::TOLERANCE;
use super::number_range::clues;
use super::random::network_and_evidence;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    /// Parameters changed in place between two evaluations: the same bits as in a fresh workspace.
    #[test]
    fn changed_parameters_are_seen(
        (network, evidence) in network_and_evidence(),
        changes in prop::collection::vec((any::<usize>(), 0..4_usize), 1..8),
    ) {
        let circuit = Circuit::compile(&network).unwrap();
        let mut used = circuit.workspace();
        let mut parameters = network.parameters();
        for (place, change) in changes {
            let v = VariableId::new((place % network.variables().len()) as u32);
            let last = network.n_configurations(v) - 1;
            match change {
                0 => parameters.column_mut(v, last).rotate_left(1),
                1 => parameters.copy_column(v, last, 0),
                2 => parameters.values_mut().iter_mut().for_each(|p| *p *= 0.5),
                _ => {}
            }
            let mut new = circuit.workspace();
            let fresh = format!("{:?}", circuit.evaluate_in(&mut new, &parameters, &evidence));
            let by_itself = format!("{:?}", circuit.evaluate(&parameters, &evidence));
            prop_assert_eq!(&by_itself, &fresh);
            let again = format!("{:?}", circuit.evaluate_in(&mut used, &parameters, &evidence));
            prop_assert_eq!(again, fresh);
            let fresh = circuit.log_evidence_in(&mut circuit.workspace(), &parameters, &evidence);
            let fresh = fresh.ok().map(f64::to_bits);
            let by_itself = circuit.log_evidence(&parameters, &evidence).ok().map(f64::to_bits);
            prop_assert_eq!(by_itself, fresh);
            let again = circuit.log_evidence_in(&mut used, &parameters, &evidence);
            prop_assert_eq!(again.ok().map(f64::to_bits), fresh);
        }
    }

    /// One circuit and one question serve many threads, each with a workspace of its own.
    #[test]
    fn threads_agree(questions in prop::collection::vec(network_and_evidence(), 4)) {
        let network = &questions[0].0;
        let circuit = Circuit::compile(network).unwrap();
        let parameters = network.parameters();
        let target = VariableId::new(0);
        let asked: Vec<Evidence> = (0..12).map(|i| {
            let mut evidence = questions[0].1.clone();
            for (item, _) in questions[0].1.items().skip(i % 5).step_by(2 + i % 3) {
                evidence.remove(item);
            }
            evidence
        }).collect();
        let specialised: Vec<_> = asked.iter()
            .map(|evidence| Specialised::compile(network.structure(), evidence, target))
            .collect();
        let answers = |turn: usize| {
            let (mut workspace, mut lanes) = (circuit.workspace(), LaneWorkspace::default());
            let side_by_side = ParameterLanes::of(&parameters);
            let mut answers = vec![String::new(); asked.len()];
            for i in 0..asked.len() {
                let place = (i * 5 + turn) % asked.len();
                let posterior = circuit.evaluate_in(&mut workspace, &parameters, &asked[place]);
                let in_lanes = specialised[place].as_ref().map(|question| {
                    let answer = question.evaluate_in(&mut lanes, &side_by_side, &[]);
                    format!("{:?} {:?}", answer.posterior, answer.evidence)
                });
                answers[place] = format!("{posterior:?} {in_lanes:?}");
            }
            answers
        };
        let alone = answers(0);
        std::thread::scope(|scope| {
            let answers = &answers;
            let threads: Vec<_> = (1..5).map(|turn| scope.spawn(move || answers(turn))).collect();
            for thread in threads {
                assert_eq!(thread.join().unwrap(), alone);
            }
        });
    }
}

/// 47 causes, each two of them with a common effect that was seen: one cluster of 2^47 cells, a pebibyte.
#[test]
fn a_pebibyte_is_refused_with_its_size() {
    let n = 47_u32;
    let binary = |name: String| Variable {
        name,
        states: vec!["yes".to_owned(), "no".to_owned()],
        role: Role::Chance,
    };
    let mut variables: Vec<_> = (0..n).map(|i| binary(format!("cause {i}"))).collect();
    let cause = Cpt {
        parents: Vec::new(),
        table: DMatrix::from_element(2, 1, 0.5),
    };
    let mut cpts = vec![cause; n as usize];
    let mut evidence = Evidence::new();
    for i in 0..n {
        for j in 0..i {
            evidence.observe(VariableId::new(variables.len() as u32), 0);
            variables.push(binary(format!("effect of {i} and {j}")));
            cpts.push(Cpt {
                parents: vec![VariableId::new(i), VariableId::new(j)],
                table: DMatrix::from_element(2, 4, 0.5),
            });
        }
    }
    let network = Network::new(variables, cpts, Vec::new()).unwrap();
    let pebibyte = (1_u128 << 50) / 8;
    let is_refused = |error: CompileError| {
        let CompileError::TooLarge {
            predicted_cells,
            limit,
        } = error
        else {
            panic!("{error}")
        };
        assert!(predicted_cells >= pebibyte && (limit as u128) < pebibyte / 10_000);
        assert!(
            error.to_string().contains(&predicted_cells.to_string()),
            "{error}"
        );
    };
    is_refused(Circuit::compile(&network).unwrap_err());
    let propagator = Propagator::new(network.structure());
    let mut workspace = propagator.workspace();
    let by_propagator = propagator.marginals_in(&mut workspace, &network.parameters(), &evidence);
    let in_lanes = Specialised::compile(network.structure(), &evidence, VariableId::new(0));
    for error in [by_propagator.unwrap_err(), in_lanes.unwrap_err()] {
        let QueryError::TooLarge(error) = error else {
            panic!("{error}")
        };
        is_refused(error);
    }
}

/// A network refuses such a column and says what it sums to. Parameters of a query are taken as they stand: nothing is
/// rescaled, and what is missing is missing from P(evidence).
#[test]
fn a_column_that_sums_to_0_9999999() {
    let column = [0.3333333, 0.3333333, 0.3333333];
    let variable = Variable {
        name: "third".to_owned(),
        states: ["a", "b", "c"].map(str::to_owned).to_vec(),
        role: Role::Chance,
    };
    let table = DMatrix::from_column_slice(3, 1, &column);
    let cpt = Cpt {
        parents: Vec::new(),
        table,
    };
    let error = Network::new(vec![variable], vec![cpt], Vec::new()).unwrap_err();
    let NetworkError::ColumnSum { sum, .. } = error else {
        panic!("{error}")
    };
    assert!((sum - 0.9999999).abs() <= 1e-15, "{sum}");

    let (network, evidence) = clues(&[0.25, 0.25, 0.5], &[]);
    let mut parameters = network.parameters();
    let root = VariableId::new(0);
    parameters.column_mut(root, 0).copy_from_slice(&column);
    let posterior = Circuit::compile(&network)
        .unwrap()
        .evaluate(&parameters, &evidence)
        .unwrap();
    assert!((posterior.log_evidence() - 0.9999999_f64.ln()).abs() <= TOLERANCE);
    let propagator = Propagator::new(network.structure());
    let mut workspace = propagator.workspace();
    let marginals = propagator
        .marginals_in(&mut workspace, &parameters, &evidence)
        .unwrap();
    assert!((marginals.log_evidence() - 0.9999999_f64.ln()).abs() <= TOLERANCE);
    for marginal in [posterior.marginal(root), marginals.marginal(root)] {
        super::assert_close(marginal.unwrap(), &[1.0 / 3.0; 3], "a third");
    }
}
