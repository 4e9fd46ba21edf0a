//! Hundreds of causes behind one effect, chained by deterministic tables: answers by hand, zeros that stay zero.

use nalgebra::DMatrix;
use saggar::circuit::{
    Circuit, LaneWorkspace, ParameterLanes, Propagator, QueryError, Specialised,
};
use saggar::network::{Cpt, Evidence, EvidenceItem, Network, Role, Variable, VariableId};

use super::{TOLERANCE, assert_close};

const N_CAUSES: u32 = 300;

/// Whether any of the causes before is there is known to each link.
#[derive(Clone, Copy, Debug)]
enum Shape {
    /// Each link joins the link before and one cause.
    Chain,
    /// Pairs are joined, then pairs of pairs.
    Tree,
}

/// Causes, each there (its first state) with probability `p`, and links that are there if one of two others is. The last
/// variable says whether any cause is there.
fn any_of_many(shape: Shape, p: f64) -> Network {
    let mut parents: Vec<Vec<u32>> = vec![Vec::new(); N_CAUSES as usize];
    match shape {
        Shape::Chain => {
            for cause in 1..N_CAUSES {
                let before = if cause == 1 {
                    0
                } else {
                    parents.len() as u32 - 1
                };
                parents.push(vec![before, cause]);
            }
        }
        Shape::Tree => {
            let mut open: std::collections::VecDeque<u32> = (0..N_CAUSES).collect();
            while let (Some(a), Some(b)) = (open.pop_front(), open.pop_front()) {
                open.push_back(parents.len() as u32);
                parents.push(vec![a, b]);
                if open.len() == 1 {
                    break;
                }
            }
        }
    }
    let variables = (0..parents.len()).map(|i| Variable {
        name: format!("v{i}"),
        states: vec!["there".to_owned(), "not".to_owned()],
        role: Role::Chance,
    });
    let cpts = parents.iter().map(|parents| Cpt {
        table: match parents[..] {
            [] => DMatrix::from_column_slice(2, 1, &[p, 1.0 - p]),
            _ => DMatrix::from_row_slice(2, 4, &[1.0, 1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0]),
        },
        parents: parents.iter().copied().map(VariableId::new).collect(),
    });
    Network::new(variables.collect(), cpts.collect(), Vec::new()).unwrap()
}

/// The last variable, and evidence that it has the state.
fn effect(network: &Network, state_idx: usize) -> (VariableId, Evidence) {
    let last = network.variable_ids().next_back().unwrap();
    let mut evidence = Evidence::new();
    evidence.observe(last, state_idx);
    (last, evidence)
}

/// Every cause has the same posterior, by circuit and by propagator; relative errors.
fn check(network: &Network, evidence: &Evidence, ln_p: f64, cause: [f64; 2]) {
    let parameters = network.parameters();
    let circuit = Circuit::compile(network).unwrap();
    let posterior = circuit.evaluate(&parameters, evidence).unwrap();
    let propagator = Propagator::new(network.structure());
    let mut workspace = propagator.workspace();
    let marginals = propagator
        .marginals_in(&mut workspace, &parameters, evidence)
        .unwrap();
    for found in [posterior.log_evidence(), marginals.log_evidence()] {
        let tolerance = TOLERANCE * (1.0_f64).max(ln_p.abs());
        assert!(
            (found - ln_p).abs() <= tolerance,
            "{found} instead of {ln_p}"
        );
    }
    for v in (0..N_CAUSES).map(VariableId::new) {
        for found in [
            posterior.marginal(v).unwrap(),
            marginals.marginal(v).unwrap(),
        ] {
            for (found, expected) in found.iter().zip(cause) {
                assert!(
                    (found - expected).abs() <= TOLERANCE * expected,
                    "{found} instead of {expected}"
                );
            }
        }
    }
    for v in network.variable_ids() {
        let finite = |p: &[f64]| p.iter().all(|p| p.is_finite());
        assert!(finite(posterior.marginal(v).unwrap()) && finite(marginals.marginal(v).unwrap()));
        assert!((posterior.family(v).unwrap().sum() - 1.0).abs() <= TOLERANCE);
        assert!(
            posterior
                .parameter_derivative(v)
                .unwrap()
                .iter()
                .all(|d| !d.is_nan())
        );
    }
}

#[test]
fn no_cause_at_all() {
    for shape in [Shape::Chain, Shape::Tree] {
        // Each cause is missing with 1e-6, all of them with 1e-1800: below the range of f64, and every cause is out.
        let missing = 1.0 - (1.0 - 1e-6_f64);
        let network = any_of_many(shape, 1.0 - 1e-6);
        let (_, evidence) = effect(&network, 1);
        check(
            &network,
            &evidence,
            f64::from(N_CAUSES) * missing.ln(),
            [0.0, 1.0],
        );
    }
}

#[test]
fn some_rare_cause() {
    for shape in [Shape::Chain, Shape::Tree] {
        for p in [1e-6_f64, 1e-300] {
            let network = any_of_many(shape, p);
            let (_, evidence) = effect(&network, 0);
            // 1 - (1 - p)^n, without the cancellation; a cause is there with p of that.
            let some = -(f64::from(N_CAUSES) * (-p).ln_1p()).exp_m1();
            let cause = p / some;
            check(&network, &evidence, some.ln(), [cause, 1.0 - cause]);
        }
    }
}

/// All causes but one are seen to be missing, so that one must be there, however rare.
#[test]
fn the_only_cause_left() {
    for shape in [Shape::Chain, Shape::Tree] {
        let network = any_of_many(shape, 1e-6);
        let (last, mut evidence) = effect(&network, 0);
        for cause in (0..N_CAUSES).filter(|&cause| cause != 137) {
            evidence.observe(VariableId::new(cause), 1);
        }
        let left = VariableId::new(137);
        let parameters = network.parameters();
        let posterior = Circuit::compile(&network)
            .unwrap()
            .evaluate(&parameters, &evidence)
            .unwrap();
        assert_close(
            posterior.marginal(left).unwrap(),
            &[1.0, 0.0],
            "the cause left",
        );
        assert_eq!(posterior.marginal(left).unwrap()[1], 0.0);

        // Without that one the evidence is impossible, and every item is needed for that.
        evidence.observe(left, 1);
        let error = Circuit::compile(&network)
            .unwrap()
            .evaluate(&parameters, &evidence)
            .unwrap_err();
        let propagator = Propagator::new(network.structure());
        let mut workspace = propagator.workspace();
        let same = propagator
            .marginals_in(&mut workspace, &parameters, &evidence)
            .unwrap_err();
        assert_eq!(same, error);
        let QueryError::ImpossibleEvidence { conflicting } = error else {
            panic!("{error}")
        };
        assert_eq!(conflicting.len(), N_CAUSES as usize + 1);

        // One cause that is there contradicts an effect that is not; no third item is named.
        evidence.observe(left, 0).observe(last, 1);
        let error = Circuit::compile(&network)
            .unwrap()
            .evaluate(&parameters, &evidence)
            .unwrap_err();
        let conflicting = [left, last].map(EvidenceItem::Variable).to_vec();
        assert_eq!(error, QueryError::ImpossibleEvidence { conflicting });
    }
}

/// Lanes keep no watch over their range: they must say so themselves where it ran out, and hold where it did not.
#[test]
fn lanes_know_when_they_do_not_hold() {
    for (p, holds) in [(1.0 - 1e-6, false), (0.5, true)] {
        let network = any_of_many(Shape::Chain, p);
        let (_, evidence) = effect(&network, 1);
        let cause = VariableId::new(7);
        let question = Specialised::compile(network.structure(), &evidence, cause).unwrap();
        let mut workspace = LaneWorkspace::default();
        let parameters = ParameterLanes::of(&network.parameters());
        let answer = question.evaluate_in(&mut workspace, &parameters, &[]);
        assert_eq!(answer.holds(3), holds);
        if holds {
            assert_eq!(answer.evidence.0[3], 0.5_f64.powi(N_CAUSES as i32));
            assert_eq!(
                answer.posterior.iter().map(|p| p.0[3]).collect::<Vec<_>>(),
                [0.0, 1.0]
            );
        }
    }
}
