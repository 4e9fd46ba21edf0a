//! Inputs that are not given, parameters that are no probabilities, networks of unusual shape.

use nalgebra::DMatrix;
use saggar::circuit::{Circuit, CompileError, QueryError};
use saggar::network::{
    Cpt, Evidence, EvidenceItem, Measure, MeasureId, Network, Role, Variable, VariableId,
};

use super::number_range::clues;
use super::{TOLERANCE, assert_close};

#[test]
fn an_input_needs_a_state() {
    let names = ["search", "mark", "maker"];
    let variables = names.map(|name| Variable {
        name: name.to_owned(),
        states: vec!["a".to_owned(), "b".to_owned()],
        role: if name == "search" {
            Role::Input
        } else {
            Role::Chance
        },
    });
    let [search, mark, maker] = [0, 1, 2].map(VariableId::new);
    let cpts = vec![
        Cpt::of_input(2),
        Cpt {
            parents: vec![search, maker],
            table: DMatrix::from_row_slice(2, 4, &[0.9, 0.2, 0.0, 0.6, 0.1, 0.8, 1.0, 0.4]),
        },
        Cpt {
            parents: Vec::new(),
            table: DMatrix::from_column_slice(2, 1, &[0.25, 0.75]),
        },
    ];
    let weight = Measure {
        name: "weight".to_owned(),
        parents: vec![mark],
    };
    let network = Network::new(variables.to_vec(), cpts, vec![weight]).unwrap();
    let circuit = Circuit::compile(&network).unwrap();
    let evaluate = |evidence: &Evidence| circuit.evaluate(&network.parameters(), evidence);

    let mut evidence = Evidence::new();
    evidence.observe(maker, 0);
    let posterior = evaluate(&evidence).unwrap();
    assert!((posterior.log_evidence() - 0.25_f64.ln()).abs() < TOLERANCE);
    assert_eq!(posterior.marginal(maker), Some(&[1.0, 0.0][..]));
    assert!(posterior.marginal(mark).is_none() && posterior.marginal(search).is_none());
    assert!(
        posterior
            .measure_configurations(MeasureId::new(0))
            .is_none()
    );

    evidence.observe(mark, 0);
    let needed_by = EvidenceItem::Variable(mark);
    let error = evaluate(&evidence).unwrap_err();
    assert_eq!(
        error,
        QueryError::InputNotGiven {
            input: search,
            needed_by
        }
    );
    evidence.likelihood(search, vec![1.0, 0.5]);
    let error = evaluate(&evidence).unwrap_err();
    assert_eq!(error, QueryError::InputNotHard { input: search });

    // P(mark = a | search = a, maker = a) = 0.9; under the other setting it is impossible.
    evidence.observe(search, 0);
    let posterior = evaluate(&evidence).unwrap();
    assert!((posterior.log_evidence() - (0.25_f64 * 0.9).ln()).abs() < TOLERANCE);
    assert_eq!(posterior.marginal(search), Some(&[1.0, 0.0][..]));
    evidence.observe(search, 1);
    let named = [search, mark, maker].map(EvidenceItem::Variable);
    let conflicting = named.to_vec();
    assert_eq!(
        evaluate(&evidence).unwrap_err(),
        QueryError::ImpossibleEvidence { conflicting }
    );
}

/// The complaint about likelihoods comes first, wherever the input stands among the variables.
#[test]
fn an_input_after_its_child() {
    let variable = |name: &str, role| Variable {
        name: name.to_owned(),
        states: vec!["a".to_owned(), "b".to_owned()],
        role,
    };
    let [mark, search] = [0, 1].map(VariableId::new);
    let table = DMatrix::from_row_slice(2, 2, &[0.9, 0.2, 0.1, 0.8]);
    let parents = vec![search];
    let network = Network::new(
        vec![
            variable("mark", Role::Chance),
            variable("search", Role::Input),
        ],
        vec![Cpt { parents, table }, Cpt::of_input(2)],
        Vec::new(),
    )
    .unwrap();
    let circuit = Circuit::compile(&network).unwrap();
    let mut evidence = Evidence::new();
    evidence.observe(mark, 0).likelihood(search, vec![0.5, 0.5]);
    let error = circuit
        .evaluate(&network.parameters(), &evidence)
        .unwrap_err();
    assert_eq!(error, QueryError::InputNotHard { input: search });
}

/// Variables of one state have no weight in any table, however many there are.
#[test]
fn a_hundred_parents_of_one_state() {
    let variable = |name: String, n: usize| Variable {
        name,
        states: (0..n).map(|s| s.to_string()).collect(),
        role: Role::Chance,
    };
    let mut variables: Vec<_> = (0..100).map(|i| variable(format!("v{i}"), 1)).collect();
    let certain = Cpt {
        parents: Vec::new(),
        table: DMatrix::from_element(1, 1, 1.0),
    };
    let mut cpts = vec![certain; 100];
    variables.insert(50, variable("two".to_owned(), 2));
    let table = DMatrix::from_column_slice(2, 1, &[0.25, 0.75]);
    cpts.insert(
        50,
        Cpt {
            parents: Vec::new(),
            table,
        },
    );
    variables.push(variable("child".to_owned(), 2));
    cpts.push(Cpt {
        parents: (0..101).map(VariableId::new).collect(),
        table: DMatrix::from_row_slice(2, 2, &[0.5, 0.125, 0.5, 0.875]),
    });
    let network = Network::new(variables, cpts, Vec::new()).unwrap();
    let circuit = Circuit::compile(&network).unwrap();
    let mut evidence = Evidence::new();
    evidence.observe(VariableId::new(101), 0);
    let posterior = circuit.evaluate(&network.parameters(), &evidence).unwrap();
    // 0.25 · 0.5 = 0.125 against 0.75 · 0.125 = 0.09375.
    let expected = [0.125 / 0.21875, 0.09375 / 0.21875];
    assert_close(
        posterior.marginal(VariableId::new(50)).unwrap(),
        &expected,
        "two",
    );
    assert!((posterior.log_evidence() - 0.21875_f64.ln()).abs() <= TOLERANCE);
}

#[test]
fn too_large_to_compile_is_known_before_memory_is_taken() {
    let variable = |i: usize| Variable {
        name: format!("v{i}"),
        states: vec!["a".to_owned(), "b".to_owned()],
        role: Role::Chance,
    };
    let even = Cpt {
        parents: Vec::new(),
        table: DMatrix::from_element(2, 1, 0.5),
    };
    let measure = Measure {
        name: "m".to_owned(),
        parents: (0..40).map(VariableId::new).collect(),
    };
    let network = Network::new(
        (0..40).map(variable).collect(),
        vec![even; 40],
        vec![measure],
    )
    .unwrap();
    let error = Circuit::compile(&network).unwrap_err();
    let CompileError::TooLarge {
        predicted_cells,
        limit,
    } = error
    else {
        panic!("{error}")
    };
    assert!(predicted_cells >= 1 << 40 && limit < 1 << 30);
}

#[test]
fn parameters_are_checked() {
    let (network, evidence) = clues(&[0.5, 0.5], &[[0.9, 0.2]]);
    let circuit = Circuit::compile(&network).unwrap();
    let leaf = VariableId::new(1);
    for value in [-0.1, 1.1, f64::NAN, f64::INFINITY] {
        let mut parameters = network.parameters();
        parameters.column_mut(leaf, 1)[0] = value;
        let error = circuit.log_evidence(&parameters, &evidence).unwrap_err();
        let named = matches!(
            error,
            QueryError::NotAProbability { variable, configuration: 1, state_idx: 0, .. } if variable == leaf
        );
        assert!(named, "{error}");
    }
    let (other, _) = clues(&[0.5, 0.5], &[[0.9, 0.2]; 2]);
    let error = circuit
        .log_evidence(&other.parameters(), &evidence)
        .unwrap_err();
    assert_eq!(error, QueryError::ForeignParameters);
}

#[test]
fn a_network_without_variables_is_certain() {
    let network = Network::new(Vec::new(), Vec::new(), Vec::new()).unwrap();
    let circuit = Circuit::compile(&network).unwrap();
    let posterior = circuit
        .evaluate(&network.parameters(), &Evidence::new())
        .unwrap();
    assert_eq!(posterior.log_evidence(), 0.0);
    assert!(posterior.marginal(VariableId::new(0)).is_none());
}
