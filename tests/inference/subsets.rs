//! Every subset of the evidence at once: each against enumeration.

use proptest::prelude::*;
use saggar::circuit::{QueryError, Subsets, SubsetsError};
use saggar::network::{
    Cpt, Evidence, EvidenceItem, ItemContent, Measure, Network, Role, Variable, VariableId,
};

use super::oracle::{Enumeration, inputs_above, only};
use super::random::network_and_evidence;
use super::{TOLERANCE, assert_close};

/// The items in groups; those of group 0 are fixed, as inputs always are.
fn grouped(network: &Network, evidence: &Evidence, group_of: &[usize]) -> Vec<Evidence> {
    let n_groups = group_of.iter().max().map_or(1, |most| most + 1);
    let mut groups = vec![Vec::new(); n_groups];
    for (i, (item, _)) in evidence.items().enumerate() {
        let is_input =
            matches!(item, EvidenceItem::Variable(v) if network.variable(v).role == Role::Input);
        groups[if is_input {
            0
        } else {
            group_of[i % group_of.len()]
        }]
        .push(item);
    }
    groups.iter().map(|items| only(evidence, items)).collect()
}

fn joined(fixed: &Evidence, groups: &[Evidence], subset: usize) -> Evidence {
    let mut evidence = fixed.clone();
    let taken = groups
        .iter()
        .enumerate()
        .filter(|(g, _)| subset >> g & 1 == 1);
    for (item, content) in taken.flat_map(|(_, group)| group.items()) {
        match (item, content) {
            (EvidenceItem::Variable(v), ItemContent::State(state)) => evidence.observe(v, state),
            (EvidenceItem::Variable(v), ItemContent::Likelihood(values)) => {
                evidence.likelihood(v, values.to_vec())
            }
            (EvidenceItem::Measure(m), ItemContent::Densities(values)) => {
                evidence.measured(m, values.to_vec())
            }
            _ => panic!("content that does not suit"),
        };
    }
    evidence
}

fn check(network: &Network, evidence: &Evidence, group_of: &[usize], target: VariableId) {
    let all = grouped(network, evidence, group_of);
    let (fixed, groups) = all.split_first().unwrap();
    let result = Subsets::compile(network.structure(), fixed, groups, target);
    let given = |v: &VariableId| evidence.finding(*v).is_some();
    let mut asked: Vec<EvidenceItem> = evidence.items().map(|(item, _)| item).collect();
    asked.push(EvidenceItem::Variable(target));
    if asked
        .iter()
        .any(|&item| !inputs_above(network, item).iter().all(given))
    {
        let refused = matches!(
            result,
            Err(SubsetsError::Query(
                QueryError::InputNotGiven { .. } | QueryError::InputNotHard { .. }
            ))
        );
        assert!(refused, "expected a missing input");
        return;
    }
    let subsets = result.unwrap();
    let mut workspace = subsets.workspace();
    // The second time from memory that holds the first answer.
    for _ in 0..2 {
        let answer = subsets
            .evaluate_in(&mut workspace, &network.parameters())
            .unwrap();
        assert_eq!(answer.n_subsets(), 1 << groups.len());
        for subset in 0..answer.n_subsets() {
            let expected = Enumeration::new(network, &joined(fixed, groups, subset));
            let found: Option<Vec<f64>> = (0..network.n_states(target))
                .map(|state_idx| answer.probability(subset, state_idx))
                .collect();
            if expected.evidence == 0.0 {
                assert_eq!(found, None);
                assert_eq!(answer.log_evidence(subset), f64::NEG_INFINITY);
                continue;
            }
            assert_close(&found.unwrap(), &expected.marginal(target), "posterior");
            let apart = answer.log_evidence(subset) - expected.evidence.ln();
            assert!(apart.abs() <= TOLERANCE, "{apart}");
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn every_subset_agrees_with_enumeration(
        (network, evidence) in network_and_evidence(),
        group_of in prop::collection::vec(0..5_usize, 1..8),
    ) {
        for target in network.variable_ids() {
            check(&network, &evidence, &group_of, target);
        }
    }
}

/// A cause with two states, and `n` findings about it with these likelihoods.
fn witnesses(n: usize, likelihoods: [f64; 2]) -> (Network, Vec<Evidence>) {
    let variable = Variable {
        name: "cause".to_owned(),
        states: vec!["a".to_owned(), "b".to_owned()],
        role: Role::Chance,
    };
    let cpt = Cpt {
        parents: vec![],
        table: nalgebra::DMatrix::from_column_slice(2, 1, &[0.25, 0.75]),
    };
    let measures = (0..n).map(|i| Measure {
        name: format!("witness {i}"),
        parents: vec![VariableId::new(0)],
    });
    let network = Network::new(vec![variable], vec![cpt], measures.collect()).unwrap();
    let groups = network.measure_ids().map(|m| {
        let mut group = Evidence::new();
        group.measured(m, likelihoods.to_vec());
        group
    });
    let groups = groups.collect();
    (network, groups)
}

/// Odds 1 : 3, doubled by each of twelve findings whose joint probability is about 1e-3600.
#[test]
fn far_below_the_range_of_floating_point() {
    let (network, groups) = witnesses(12, [2e-300, 1e-300]);
    let cause = VariableId::new(0);
    let subsets = Subsets::compile(network.structure(), &Evidence::new(), &groups, cause).unwrap();
    let answer = subsets.evaluate(&network.parameters()).unwrap();
    for subset in [0, 1, 0b1000_0000_0101, 4095_usize] {
        let n = subset.count_ones() as i32;
        let odds = 2_f64.powi(n) / 3.0;
        let found = answer.probability(subset, 0).unwrap();
        assert!(
            (found - odds / (1.0 + odds)).abs() < 1e-15,
            "{subset:b}: {found}"
        );
        let expected = f64::from(n) * 1e-300_f64.ln() + (0.25 * 2_f64.powi(n) + 0.75).ln();
        let found = answer.log_evidence(subset);
        assert!(
            (found / expected - 1.0).abs() < 1e-12 || expected == found,
            "{found} {expected}"
        );
    }
}

#[test]
fn what_cannot_be_asked() {
    let (network, groups) = witnesses(25, [0.5, 0.1]);
    let cause = VariableId::new(0);
    let ask = |fixed: &Evidence, groups: &[Evidence]| {
        Subsets::compile(network.structure(), fixed, groups, cause).unwrap_err()
    };
    let nothing = Evidence::new();
    assert_eq!(
        ask(&nothing, &groups),
        SubsetsError::TooManyGroups { found: 25 }
    );
    let first = groups[0].items().next().unwrap().0;
    let twice = [groups[0].clone(), groups[0].clone()];
    assert_eq!(
        ask(&nothing, &twice),
        SubsetsError::Repeated { item: first }
    );
    assert_eq!(
        ask(&groups[0], &groups[..1]),
        SubsetsError::Repeated { item: first }
    );
    let mut foreign = Evidence::new();
    foreign.observe(VariableId::new(7), 0);
    let refused = ask(&nothing, &[foreign]);
    assert!(
        matches!(refused, SubsetsError::Query(QueryError::Evidence(_))),
        "{refused}"
    );
}
