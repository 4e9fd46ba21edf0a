//! All marginals by a kept engine: against enumeration, and unmoved by what it was asked before.

use nalgebra::DMatrix;
use proptest::prelude::*;
use saggar::circuit::{CompileError, Propagator, PropagatorWorkspace, QueryError};
use saggar::network::{
    Cpt, Evidence, EvidenceItem, Finding, ItemContent, Measure, Network, Parameters, Role,
    Variable, VariableId,
};

use super::number_range::clues;
use super::oracle::{Enumeration, inputs_above};
use super::random::network_and_evidence;
use super::{TOLERANCE, assert_close, check_conflict};

fn check(
    network: &Network,
    propagator: &Propagator,
    workspace: &mut PropagatorWorkspace,
    evidence: &Evidence,
) {
    let result = propagator.marginals_in(workspace, &network.parameters(), evidence);
    let given = |v: &VariableId| evidence.finding(*v).is_some();
    let mut items = evidence.items().map(|(item, _)| item);
    if items.any(|item| !inputs_above(network, item).iter().all(given)) {
        let Err(QueryError::InputNotGiven { input, .. }) = result else {
            panic!("expected a missing input, found {result:?}");
        };
        assert!(!given(&input));
        return;
    }
    let expected = Enumeration::new(network, evidence);
    if expected.evidence == 0.0 {
        let Err(QueryError::ImpossibleEvidence { conflicting }) = result else {
            panic!("expected a conflict, found {result:?}");
        };
        check_conflict(network, evidence, &conflicting);
        return;
    }
    let marginals = result.unwrap();
    assert!((marginals.log_evidence() - expected.evidence.ln()).abs() <= TOLERANCE);
    for v in network.variable_ids() {
        let above = inputs_above(network, EvidenceItem::Variable(v));
        let found = marginals.marginal(v);
        assert_eq!(found.is_some(), above.iter().all(given));
        if let Some(found) = found {
            assert_close(found, &expected.marginal(v), &network.variable(v).name);
        }
    }
    let beyond = VariableId::new(network.variables().len() as u32);
    assert!(marginals.marginal(beyond).is_none());
}

fn bits(
    propagator: &Propagator,
    workspace: &mut PropagatorWorkspace,
    parameters: &Parameters,
    evidence: &Evidence,
) -> String {
    format!(
        "{:?}",
        propagator.marginals_in(workspace, parameters, evidence)
    )
}

/// The same items about the same variables, with every observed state moved on by `step`.
fn moved(network: &Network, evidence: &Evidence, step: usize) -> Evidence {
    let mut moved = evidence.clone();
    for v in network.variable_ids() {
        if let Some(&Finding::State(state_idx)) = evidence.finding(v) {
            moved.observe(v, (state_idx + step) % network.n_states(v));
        }
    }
    moved
}

/// `evidence` without every `n`-th item.
fn thinned(evidence: &Evidence, n: usize) -> Evidence {
    let mut rest = evidence.clone();
    for (i, (item, _)) in evidence.items().enumerate() {
        if i % n == 0 {
            rest.remove(item);
        }
    }
    rest
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1500))]

    /// New values of the same variables, then fewer variables, in one workspace.
    #[test]
    fn marginals_agree_with_enumeration((network, evidence) in network_and_evidence()) {
        let propagator = Propagator::new(network.structure());
        let mut workspace = propagator.workspace();
        for step in 0..3 {
            check(&network, &propagator, &mut workspace, &moved(&network, &evidence, step));
            check(&network, &propagator, &mut workspace, &thinned(&evidence, step + 1));
        }
    }

    /// Whatever was asked before, of this network or another, with these parameters or others: the same bits.
    #[test]
    fn a_used_workspace_gives_the_same_bits(
        (network, evidence) in network_and_evidence(),
        (other_network, other_evidence) in network_and_evidence(),
        questions in prop::collection::vec((0..4_usize, 1..4_usize, 0..5_usize), 1..12),
    ) {
        let propagator = Propagator::new(network.structure());
        let other = Propagator::new(other_network.structure());
        let mut used = propagator.workspace();
        let mut parameters = network.parameters();
        for (step, thinning, change) in questions {
            let question = thinned(&moved(&network, &evidence, step), thinning);
            let v = VariableId::new((step % network.variables().len()) as u32);
            let last = network.n_configurations(v) - 1;
            match change {
                0 => parameters.column_mut(v, last).rotate_left(1),
                1 => parameters.copy_column(v, last, 0),
                2 => parameters.values_mut().iter_mut().for_each(|p| *p *= 0.5),
                3 => _ = bits(&other, &mut used, &other_network.parameters(), &other_evidence),
                _ => {}
            }
            let fresh = bits(&propagator, &mut propagator.workspace(), &parameters, &question);
            prop_assert_eq!(bits(&propagator, &mut used, &parameters, &question), fresh);
        }
    }

    /// Variables and states listed in reverse: the same distributions.
    #[test]
    fn listing_is_irrelevant((network, evidence) in network_and_evidence()) {
        let (reversed, reversed_evidence) = reversed(&network, &evidence);
        let answer = |network: &Network, evidence: &Evidence| {
            let propagator = Propagator::new(network.structure());
            let mut workspace = propagator.workspace();
            propagator.marginals_in(&mut workspace, &network.parameters(), evidence).cloned()
        };
        match (answer(&network, &evidence), answer(&reversed, &reversed_evidence)) {
            (Ok(one), Ok(other)) => {
                prop_assert!((one.log_evidence() - other.log_evidence()).abs() <= TOLERANCE);
                for v in network.variable_ids() {
                    let forwards = one.marginal(v).map(<[f64]>::to_vec);
                    let backwards = other.marginal(mirror(&network, v));
                    let backwards = backwards.map(|p| p.iter().rev().copied().collect::<Vec<_>>());
                    prop_assert_eq!(forwards.is_some(), backwards.is_some());
                    if let (Some(a), Some(b)) = (forwards, backwards) {
                        assert_close(&a, &b, "listing");
                    }
                }
            }
            (one, other) => {
                let kind = |e: &QueryError| std::mem::discriminant(e);
                prop_assert_eq!(one.as_ref().err().map(kind), other.as_ref().err().map(kind));
            }
        }
    }
}

fn mirror(network: &Network, v: VariableId) -> VariableId {
    VariableId::new((network.variables().len() - 1 - v.index()) as u32)
}

fn reversed(network: &Network, evidence: &Evidence) -> (Network, Evidence) {
    let ids = || network.variable_ids().rev();
    let variables = ids().map(|v| {
        let mut variable = network.variable(v).clone();
        variable.states.reverse();
        variable
    });
    let cpts = ids().map(|v| {
        let cpt = network.cpt(v);
        let (rows, columns) = cpt.table.shape();
        let table = DMatrix::from_fn(rows, columns, |r, c| {
            cpt.table[(rows - 1 - r, columns - 1 - c)]
        });
        let parents = cpt.parents.iter().map(|&p| mirror(network, p)).collect();
        Cpt { parents, table }
    });
    let measures = network.measures().iter().map(|m| Measure {
        name: m.name.clone(),
        parents: m.parents.iter().map(|&p| mirror(network, p)).collect(),
    });
    let other = Network::new(variables.collect(), cpts.collect(), measures.collect()).unwrap();
    let backwards = |values: &[f64]| values.iter().rev().copied().collect();
    let mut mirrored = Evidence::new();
    for (item, content) in evidence.items() {
        match (item, content) {
            (EvidenceItem::Variable(v), ItemContent::State(s)) => {
                mirrored.observe(mirror(network, v), network.n_states(v) - 1 - s);
            }
            (EvidenceItem::Variable(v), ItemContent::Likelihood(l)) => {
                mirrored.likelihood(mirror(network, v), backwards(l));
            }
            (EvidenceItem::Measure(m), ItemContent::Densities(d)) => {
                mirrored.measured(m, backwards(d));
            }
            other => panic!("{other:?}"),
        }
    }
    (other, mirrored)
}

/// An evaluation that leaves the range of `f64` half way leaves nothing behind for the next one.
#[test]
fn a_pass_that_was_given_up_is_forgotten() {
    let (network, evidence) = clues(&[0.3, 0.7], &[[0.9, 0.2], [0.4, 0.5], [0.5, 0.125]]);
    let propagator = Propagator::new(network.structure());
    let mut workspace = propagator.workspace();
    let parameters = network.parameters();
    let mut rare = parameters.clone();
    for leaf in 1..=3 {
        rare.column_mut(VariableId::new(leaf), 0)[0] = 1e-200;
    }
    let fresh = bits(&propagator, &mut workspace, &parameters, &evidence);
    let deep = bits(&propagator, &mut propagator.workspace(), &rare, &evidence);
    for _ in 0..2 {
        assert_eq!(bits(&propagator, &mut workspace, &rare, &evidence), deep);
        assert_eq!(
            bits(&propagator, &mut workspace, &parameters, &evidence),
            fresh
        );
    }
}

/// P(evidence) = 1e-200 and a marginal of 1e-200: every table is in range, their product of 1e-400 is not.
#[test]
fn a_rare_state_beside_rare_evidence() {
    let rare = Cpt {
        parents: Vec::new(),
        table: DMatrix::from_column_slice(2, 1, &[1e-200, 1.0]),
    };
    let variables = ["seen", "unseen"].map(|name| binary(name.to_owned()));
    let network = Network::new(variables.to_vec(), vec![rare.clone(), rare], Vec::new()).unwrap();
    let mut evidence = Evidence::new();
    evidence.observe(VariableId::new(0), 0);
    let propagator = Propagator::new(network.structure());
    let mut workspace = propagator.workspace();
    let marginals = propagator
        .marginals_in(&mut workspace, &network.parameters(), &evidence)
        .unwrap();
    let unseen = marginals.marginal(VariableId::new(1)).unwrap();
    assert!((unseen[0] / 1e-200 - 1.0).abs() <= TOLERANCE, "{unseen:?}");
}

fn binary(name: String) -> Variable {
    Variable {
        name,
        states: vec!["yes".to_owned(), "no".to_owned()],
        role: Role::Chance,
    }
}

/// Roots with a common child; P(yes) is 1/4 for a root, and for the child 1/2^(number of roots that are not).
fn collider(n_roots: u32) -> Network {
    let mut variables: Vec<_> = (0..n_roots).map(|i| binary(format!("root {i}"))).collect();
    variables.push(binary("child".to_owned()));
    let root = Cpt {
        parents: Vec::new(),
        table: DMatrix::from_column_slice(2, 1, &[0.25, 0.75]),
    };
    let mut cpts = vec![root; n_roots as usize];
    cpts.push(Cpt {
        parents: (0..n_roots).map(VariableId::new).collect(),
        table: DMatrix::from_fn(2, 1 << n_roots, |row, column| {
            let p = 0.5_f64.powi(column.count_ones() as i32);
            if row == 0 { p } else { 1.0 - p }
        }),
    });
    Network::new(variables, cpts, Vec::new()).unwrap()
}

/// The whole network is beyond the limit, what the evidence leaves of it is not.
#[test]
fn evidence_makes_a_large_network_small() {
    let network = collider(12);
    let propagator = Propagator::within(network.structure(), 1000);
    let mut workspace = propagator.workspace();
    let parameters = network.parameters();
    let refused = |limit_of: &Evidence, workspace: &mut PropagatorWorkspace| {
        let error = propagator
            .marginals_in(workspace, &parameters, limit_of)
            .unwrap_err();
        let QueryError::TooLarge(CompileError::TooLarge {
            predicted_cells,
            limit,
        }) = error
        else {
            panic!("{error}")
        };
        assert!(predicted_cells > 1000 && limit == 1000);
        assert_eq!(propagator.cost(limit_of), Err(error));
    };
    refused(&Evidence::new(), &mut workspace);
    let child = VariableId::new(12);
    let mut evidence = Evidence::new();
    for root in (2..12).map(VariableId::new) {
        evidence.observe(root, 1);
    }
    evidence.observe(child, 0);
    let cost = propagator.cost(&evidence).unwrap();
    assert!(
        cost.total_cells <= 1000 && cost.largest_table == 4,
        "{cost:?}"
    );
    let marginals = propagator
        .marginals_in(&mut workspace, &parameters, &evidence)
        .unwrap();
    // Each of the two others: 1/4 · 1 against 3/4 · 1/2.
    for root in (0..2).map(VariableId::new) {
        assert_close(marginals.marginal(root).unwrap(), &[0.4, 0.6], "root");
    }
    let ln_p = 10.0 * 0.75_f64.ln() + (0.625_f64 * 0.625).ln() - 10.0 * std::f64::consts::LN_2;
    assert!((marginals.log_evidence() - ln_p).abs() <= TOLERANCE);
    refused(&Evidence::new(), &mut workspace);
}

/// The parts of this conflict are too large to be tried, so it is reported as it stands.
#[test]
fn a_conflict_that_cannot_be_made_smaller() {
    let network = collider(12);
    let mut parameters = network.parameters();
    parameters
        .values_mut()
        .iter_mut()
        .rev()
        .step_by(2)
        .for_each(|p| *p = 1.0);
    parameters.values_mut()[24..]
        .iter_mut()
        .step_by(2)
        .for_each(|p| *p = 0.0);
    let mut evidence = Evidence::new();
    for v in network.variable_ids() {
        evidence.observe(v, 0);
    }
    let conflict_within = |limit: usize| {
        let propagator = Propagator::within(network.structure(), limit);
        let mut workspace = propagator.workspace();
        match propagator.marginals_in(&mut workspace, &parameters, &evidence) {
            Err(QueryError::ImpossibleEvidence { conflicting }) => conflicting,
            other => panic!("{other:?}"),
        }
    };
    let child = EvidenceItem::Variable(VariableId::new(12));
    assert_eq!(conflict_within(1 << 20), [child]);
    let found = conflict_within(1000);
    assert!(found.contains(&child) && found.len() > 1, "{found:?}");
}

/// One propagator and one set of parameters serve many threads; each has a workspace of its own.
#[test]
fn threads_agree() {
    let network = collider(8);
    let propagator = Propagator::new(network.structure());
    let parameters = network.parameters();
    let questions: Vec<Evidence> = (0..200_usize)
        .map(|i| {
            let mut evidence = Evidence::new();
            for v in network.variable_ids() {
                match (i * 7 + v.index() * i / 3) % 4 {
                    0 => _ = evidence.observe(v, i % 2),
                    1 => _ = evidence.likelihood(v, vec![0.5, 0.25 + i as f64]),
                    _ => {}
                }
            }
            evidence
        })
        .collect();
    let answers = |turn: usize| {
        let mut workspace = propagator.workspace();
        let mut answers = vec![String::new(); questions.len()];
        for i in 0..questions.len() {
            let place = (i * 11 + turn * 37) % questions.len();
            answers[place] = bits(&propagator, &mut workspace, &parameters, &questions[place]);
        }
        answers
    };
    let alone = answers(0);
    std::thread::scope(|scope| {
        let threads: Vec<_> = (1..9)
            .map(|turn| scope.spawn(move || answers(turn)))
            .collect();
        for thread in threads {
            assert_eq!(thread.join().unwrap(), alone);
        }
    });
}
