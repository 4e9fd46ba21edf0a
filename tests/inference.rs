//! The circuit against brute force on random networks, and at the ends of the number range.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "inference/chained.rs"]
mod chained;
#[path = "inference/edges.rs"]
mod edges;
#[path = "inference/exact.rs"]
mod exact;
#[path = "inference/invariance.rs"]
mod invariance;
#[path = "inference/kept.rs"]
mod kept;
#[path = "inference/lanes.rs"]
mod lanes;
#[path = "inference/large.rs"]
mod large;
#[path = "inference/marginals.rs"]
mod marginals;
#[path = "inference/number_range.rs"]
mod number_range;
mod oracle;
#[path = "oracle/random.rs"]
mod random;
#[path = "inference/subsets.rs"]
mod subsets;

use nalgebra::DMatrix;
use oracle::{Enumeration, inputs_above, only};
use proptest::prelude::*;
use random::network_and_evidence;
use saggar::circuit::{Circuit, QueryError};
use saggar::network::{
    Cpt, Evidence, EvidenceItem, ItemContent, Network, NetworkError, Role, Variable, VariableId,
};

const TOLERANCE: f64 = 1e-12;

fn assert_close(found: &[f64], expected: &[f64], what: &str) {
    assert_eq!(found.len(), expected.len(), "{what}");
    for (i, (f, e)) in found.iter().zip(expected).enumerate() {
        assert!(
            (f - e).abs() <= TOLERANCE,
            "{what}, place {i}: {f} instead of {e}"
        );
    }
}

/// Compares everything that one evaluation gives with enumeration.
fn check(network: &Network, evidence: &Evidence) {
    let circuit = Circuit::compile(network).unwrap();
    let parameters = network.parameters();
    let result = circuit.evaluate(&parameters, evidence);
    let given = |v: &VariableId| evidence.finding(*v).is_some();
    let needing = evidence
        .items()
        .map(|(item, _)| item)
        .find(|&item| !inputs_above(network, item).iter().all(given));
    if needing.is_some() {
        let Err(QueryError::InputNotGiven { input, needed_by }) = result else {
            panic!("expected a missing input, found {result:?}");
        };
        assert!(!given(&input) && inputs_above(network, needed_by).contains(&input));
        return;
    }
    let expected = Enumeration::new(network, evidence);
    if expected.evidence == 0.0 {
        let Err(QueryError::ImpossibleEvidence { conflicting }) = result else {
            panic!("expected a conflict, found {result:?}");
        };
        check_conflict(network, evidence, &conflicting);
        assert!(circuit.log_evidence(&parameters, evidence).is_err());
        return;
    }

    let posterior = result.unwrap();
    let ln_expected = expected.evidence.ln();
    assert!((posterior.log_evidence() - ln_expected).abs() <= TOLERANCE);
    let upward_only = circuit.log_evidence(&parameters, evidence).unwrap();
    assert_eq!(upward_only.to_bits(), posterior.log_evidence().to_bits());
    for v in network.variable_ids() {
        let name = &network.variable(v).name;
        if !inputs_above(network, EvidenceItem::Variable(v))
            .iter()
            .all(given)
        {
            assert!(posterior.marginal(v).is_none() && posterior.family(v).is_none());
            continue;
        }
        assert_close(posterior.marginal(v).unwrap(), &expected.marginal(v), name);
        let mut others = evidence.clone();
        others.remove(EvidenceItem::Variable(v));
        if network.variable(v).role == Role::Input {
            assert!(posterior.family(v).is_none());
            assert!(posterior.marginal_without_own_evidence(v).is_none());
            continue;
        }
        let family = posterior.family(v).unwrap();
        assert_eq!(family.shape(), network.cpt(v).table.shape());
        let family: Vec<f64> = family.iter().copied().collect();
        assert_close(&family, &expected.family(v), name);
        assert_close(
            posterior.marginal_without_own_evidence(v).unwrap(),
            &Enumeration::new(network, &others).marginal(v),
            name,
        );
    }
    for m in network.measure_ids() {
        let above = inputs_above(network, EvidenceItem::Measure(m));
        let found = posterior.measure_configurations(m);
        assert_eq!(found.is_some(), above.iter().all(given));
        if let Some(found) = found {
            assert_close(found, &expected.measure(m), "measure");
        }
    }
}

/// The set is impossible, and possible as soon as any one item is left out.
fn check_conflict(network: &Network, evidence: &Evidence, conflicting: &[EvidenceItem]) {
    let p = |items: &[EvidenceItem]| Enumeration::new(network, &only(evidence, items)).evidence;
    assert!(!conflicting.is_empty());
    assert_eq!(p(conflicting), 0.0);
    for left_out in conflicting {
        let rest: Vec<_> = conflicting
            .iter()
            .copied()
            .filter(|i| i != left_out)
            .collect();
        assert!(
            p(&rest) > 0.0,
            "{left_out} is not needed in {conflicting:?}"
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1500))]

    #[test]
    fn evaluation_agrees_with_enumeration((network, evidence) in network_and_evidence()) {
        check(&network, &evidence);
    }

    #[test]
    fn order_of_entry_is_irrelevant((network, evidence) in network_and_evidence()) {
        let mut reversed = Evidence::new();
        for (item, content) in evidence.items().collect::<Vec<_>>().into_iter().rev() {
            match (item, content) {
                (EvidenceItem::Variable(v), ItemContent::State(s)) => { reversed.observe(v, s); }
                (EvidenceItem::Variable(v), ItemContent::Likelihood(l)) => { reversed.likelihood(v, l.to_vec()); }
                (EvidenceItem::Measure(m), ItemContent::Densities(d)) => { reversed.measured(m, d.to_vec()); }
                other => panic!("{other:?}"),
            }
        }
        let circuit = Circuit::compile(&network).unwrap();
        let parameters = network.parameters();
        let answer = |e: &Evidence| format!("{:?}", circuit.evaluate(&parameters, e));
        prop_assert_eq!(answer(&evidence), answer(&reversed));
    }

    /// One workspace for many evaluations, in whatever order and whether or not they failed, changes nothing.
    #[test]
    fn a_used_workspace_gives_the_same_bits(
        (network, evidence) in network_and_evidence(),
        (other_network, other_evidence) in network_and_evidence(),
    ) {
        let circuit = Circuit::compile(&network).unwrap();
        let other_circuit = Circuit::compile(&other_network).unwrap();
        let fresh = format!("{:?}", circuit.evaluate(&network.parameters(), &evidence));
        let mut workspace = circuit.workspace();
        for _ in 0..2 {
            let used = format!("{:?}", circuit.evaluate_in(&mut workspace, &network.parameters(), &evidence));
            prop_assert_eq!(&used, &fresh);
            let _ = circuit.evaluate_in(&mut workspace, &network.parameters(), &Evidence::new());
        }
        let _ = other_circuit.evaluate_in(&mut workspace, &other_network.parameters(), &other_evidence);
        let used = format!("{:?}", circuit.evaluate_in(&mut workspace, &network.parameters(), &evidence));
        prop_assert_eq!(&used, &fresh);
    }

    /// P(evidence) is linear in each parameter, so its derivative is the difference between the values at 1 and 0.
    #[test]
    fn derivatives_agree_with_differences((network, evidence) in network_and_evidence()) {
        let circuit = Circuit::compile(&network).unwrap();
        let parameters = network.parameters();
        let Ok(posterior) = circuit.evaluate(&parameters, &evidence) else { return Ok(()) };
        let p_at = |v: VariableId, column: usize, state_idx: usize, value: f64| {
            let mut changed = parameters.clone();
            changed.column_mut(v, column)[state_idx] = value;
            match circuit.log_evidence(&changed, &evidence) {
                Ok(ln_p) => (ln_p - posterior.log_evidence()).exp(),
                Err(QueryError::ImpossibleEvidence { .. }) => 0.0,
                Err(error) => panic!("{error}"),
            }
        };
        for v in network.variable_ids() {
            let (Some(family), Some(derivative)) = (posterior.family(v), posterior.parameter_derivative(v)) else { continue };
            prop_assert!((family.sum() - 1.0).abs() <= TOLERANCE);
            for column in 0..network.n_configurations(v) {
                for s in 0..network.n_states(v) {
                    let found = derivative[(s, column)];
                    let expected = p_at(v, column, s, 1.0) - p_at(v, column, s, 0.0);
                    prop_assert!((found - expected).abs() <= 1e-11 * (1.0 + expected.abs()), "{} {}", found, expected);
                    let entry = parameters.column(v, column)[s];
                    prop_assert!((family[(s, column)] - entry * found).abs() <= TOLERANCE);
                }
            }
        }
    }

    /// Far below the range of `f64` the posteriors are the same and P(evidence) is lower by a known factor.
    #[test]
    fn extended_range_agrees_with_enumeration((network, evidence) in network_and_evidence()) {
        let mut variables = network.variables().to_vec();
        let mut cpts: Vec<Cpt> = network.variable_ids().map(|v| network.cpt(v).clone()).collect();
        let mut deep_evidence = evidence.clone();
        for name in ["rare", "rarer"] {
            deep_evidence.observe(VariableId::new(variables.len() as u32), 0);
            let states = vec!["seen".to_owned(), "not".to_owned()];
            variables.push(Variable { name: name.to_owned(), states, role: Role::Chance });
            let table = DMatrix::from_column_slice(2, 1, &[1e-200, 1.0]);
            cpts.push(Cpt { parents: Vec::new(), table });
        }
        let deep = Network::new(variables, cpts, network.measures().to_vec()).unwrap();
        let circuit = Circuit::compile(&deep).unwrap();
        let Ok(posterior) = circuit.evaluate(&deep.parameters(), &deep_evidence) else { return Ok(()) };
        let expected = Enumeration::new(&network, &evidence);
        let ln_p = expected.evidence.ln() - 400.0 * std::f64::consts::LN_10;
        prop_assert!((posterior.log_evidence() - ln_p).abs() <= TOLERANCE);
        for v in network.variable_ids() {
            if let Some(marginal) = posterior.marginal(v) {
                assert_close(marginal, &expected.marginal(v), "marginal");
            }
            if let Some(family) = posterior.family(v) {
                let family: Vec<f64> = family.iter().copied().collect();
                assert_close(&family, &expected.family(v), "family");
            }
        }
    }

    /// The averaged child has the distribution given its new parents that enumeration finds; the rest stays.
    #[test]
    fn averaging_over_a_hidden_parent((network, _) in network_and_evidence()) {
        for child in network.variable_ids() {
            for hidden in network.variable_ids() {
                let averaged = network.averaged_over(child, hidden);
                if !network.parents(child).contains(&hidden) {
                    let refused = matches!(averaged, Err(NetworkError::NotAParent { .. }));
                    prop_assert!(refused);
                } else if network.variable(hidden).role == Role::Input {
                    let refused = matches!(averaged, Err(NetworkError::AverageOverInput { .. }));
                    prop_assert!(refused);
                } else {
                    check_averaged(&network, &averaged.unwrap(), child, hidden);
                }
            }
        }
    }
}

/// Compares the new table with enumeration of a network of its own, in which the new parents are observed
/// roots and only the hidden variable and the child keep their tables.
fn check_averaged(old: &Network, new: &Network, child: VariableId, hidden: VariableId) {
    for v in old.variable_ids().filter(|&v| v != child) {
        assert_eq!(old.cpt(v), new.cpt(v));
    }
    let parents = new.parents(child);
    assert!(!parents.contains(&hidden));
    let members: Vec<VariableId> = parents.iter().copied().chain([hidden, child]).collect();
    let local =
        |v: VariableId| VariableId::new(members.iter().position(|&m| m == v).unwrap() as u32);
    let cpts = members
        .iter()
        .map(|&v| {
            if v == hidden || v == child {
                let Cpt { parents, table } = old.cpt(v).clone();
                Cpt {
                    parents: parents.into_iter().map(local).collect(),
                    table,
                }
            } else {
                let n_states = old.n_states(v);
                let table = DMatrix::from_element(n_states, 1, 1.0 / n_states as f64);
                Cpt {
                    parents: Vec::new(),
                    table,
                }
            }
        })
        .collect();
    let chance = |&v: &VariableId| Variable {
        role: Role::Chance,
        ..old.variable(v).clone()
    };
    let variables = members.iter().map(chance).collect();
    let alone = Network::new(variables, cpts, Vec::new()).unwrap();
    for column in 0..new.n_configurations(child) {
        let mut evidence = Evidence::new();
        for (&p, state_idx) in parents.iter().zip(new.parent_states(child, column)) {
            evidence.observe(local(p), state_idx);
        }
        let expected = Enumeration::new(&alone, &evidence).marginal(local(child));
        let found = new.cpt(child).table.column(column);
        assert_close(found.as_slice(), &expected, "averaged column");
    }
}
