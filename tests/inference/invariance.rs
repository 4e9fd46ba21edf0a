//! What must not matter: how variables, states and parents are listed, and the order in which evidence was entered.

use std::path::Path;

use nalgebra::DMatrix;
use proptest::prelude::*;
use saggar::circuit::{
    Circuit, LaneWorkspace, ParameterLanes, Propagator, QueryError, Specialised,
};
use saggar::network::{
    Cpt, Evidence, EvidenceItem, ItemContent, Measure, Network, Role, Variable, VariableId,
};
use saggar::source::Sources;

use super::random::network_and_evidence;
use super::{TOLERANCE, assert_close};

/// New places: of each variable, of each state of each variable, and of each parent among the parents.
struct Listing {
    variables: Vec<usize>,
    states: Vec<Vec<usize>>,
    state: u64,
}

impl Listing {
    fn new(network: &Network, seed: u64) -> Self {
        let mut listing = Self {
            variables: Vec::new(),
            states: Vec::new(),
            state: seed,
        };
        listing.variables = listing.shuffled(network.variables().len());
        for v in network.variable_ids() {
            let places = listing.shuffled(network.n_states(v));
            listing.states.push(places);
        }
        listing
    }

    /// The places 0 to n - 1 in an order that the seed decides (Fisher and Yates).
    fn shuffled(&mut self, n: usize) -> Vec<usize> {
        let mut places: Vec<usize> = (0..n).collect();
        for i in (1..n).rev() {
            self.state = self
                .state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            places.swap(i, (self.state >> 33) as usize % (i + 1));
        }
        places
    }

    fn variable(&self, v: VariableId) -> VariableId {
        VariableId::new(self.variables[v.index()] as u32)
    }

    /// Entries by state, in their new places.
    fn by_state(&self, v: VariableId, values: &[f64]) -> Vec<f64> {
        let mut placed = vec![0.0; values.len()];
        for (&place, &value) in self.states[v.index()].iter().zip(values) {
            placed[place] = value;
        }
        placed
    }

    /// The network in the new listing, and the same evidence about it, entered last item first.
    fn of(&mut self, network: &Network, evidence: &Evidence) -> (Network, Evidence) {
        let n = network.variables().len();
        let (mut variables, mut cpts) = (vec![None; n], vec![None; n]);
        for v in network.variable_ids() {
            let old = network.variable(v);
            let mut states = old.states.clone();
            for (&place, state) in self.states[v.index()].iter().zip(&old.states) {
                states[place].clone_from(state);
            }
            let place = self.variables[v.index()];
            variables[place] = Some(Variable {
                states,
                ..old.clone()
            });
            let (parents, columns) = self.parents(network, network.parents(v));
            let mut table = network.cpt(v).table.clone();
            if old.role == Role::Chance {
                for (column, &from) in columns.iter().enumerate() {
                    let values = network.cpt(v).table.column(from);
                    table
                        .column_mut(column)
                        .copy_from_slice(&self.by_state(v, values.as_slice()));
                }
            }
            cpts[place] = Some(Cpt { parents, table });
        }
        let mut entered = Vec::new();
        let mut measures = Vec::new();
        for (m, measure) in network.measure_ids().zip(network.measures()) {
            let (parents, columns) = self.parents(network, &measure.parents);
            measures.push(Measure {
                name: measure.name.clone(),
                parents,
            });
            if let Some(densities) = evidence.densities(m) {
                entered.push((m, columns.iter().map(|&from| densities[from]).collect()));
            }
        }
        let listed = Network::new(
            variables.into_iter().flatten().collect(),
            cpts.into_iter().flatten().collect(),
            measures,
        );
        let mut same = Evidence::new();
        for (m, densities) in entered.into_iter().rev() {
            same.measured(m, densities);
        }
        for (item, content) in evidence.items().collect::<Vec<_>>().into_iter().rev() {
            match (item, content) {
                (EvidenceItem::Variable(v), ItemContent::State(s)) => {
                    same.observe(self.variable(v), self.states[v.index()][s]);
                }
                (EvidenceItem::Variable(v), ItemContent::Likelihood(values)) => {
                    same.likelihood(self.variable(v), self.by_state(v, values));
                }
                _ => {}
            }
        }
        assert_eq!(same.len(), evidence.len());
        (listed.unwrap(), same)
    }

    /// Parents in a new order, and for each new configuration the old one.
    fn parents(&mut self, network: &Network, old: &[VariableId]) -> (Vec<VariableId>, Vec<usize>) {
        let order = self.shuffled(old.len());
        let n_columns: usize = old.iter().map(|&p| network.n_states(p)).product();
        let mut columns = vec![0; n_columns];
        for from in 0..n_columns {
            let mut states = vec![0; old.len()];
            let mut rest = from;
            for (i, &p) in old.iter().enumerate().rev() {
                states[i] = rest % network.n_states(p);
                rest /= network.n_states(p);
            }
            let to = order.iter().fold(0, |to, &i| {
                to * network.n_states(old[i]) + self.states[old[i].index()][states[i]]
            });
            columns[to] = from;
        }
        (
            order.iter().map(|&i| self.variable(old[i])).collect(),
            columns,
        )
    }
}

/// ln P(evidence) and the distribution of each variable, as far as it has one.
type Answer = Result<(f64, Vec<Option<Vec<f64>>>), QueryError>;

fn by_circuit(network: &Network, evidence: &Evidence) -> Answer {
    let circuit = Circuit::compile(network).unwrap();
    let posterior = circuit.evaluate(&network.parameters(), evidence)?;
    let marginals = network
        .variable_ids()
        .map(|v| posterior.marginal(v).map(<[f64]>::to_vec));
    Ok((posterior.log_evidence(), marginals.collect()))
}

fn by_propagator(network: &Network, evidence: &Evidence) -> Answer {
    let propagator = Propagator::new(network.structure());
    let mut workspace = propagator.workspace();
    let answer = propagator.marginals_in(&mut workspace, &network.parameters(), evidence)?;
    let marginals = network
        .variable_ids()
        .map(|v| answer.marginal(v).map(<[f64]>::to_vec));
    Ok((answer.log_evidence(), marginals.collect()))
}

/// One variable's posterior in the first lane, and ln P(evidence); `None` if the evidence is impossible.
fn by_lanes(
    network: &Network,
    evidence: &Evidence,
    target: VariableId,
) -> Result<Option<(f64, Vec<f64>)>, QueryError> {
    let question = Specialised::compile(network.structure(), evidence, target)?;
    let mut workspace = LaneWorkspace::default();
    let parameters = ParameterLanes::of(&network.parameters());
    let answer = question.evaluate_in(&mut workspace, &parameters, &[]);
    Ok(answer.holds(0).then(|| {
        let log_evidence = answer.evidence.0[0].ln() + question.log_scale();
        (
            log_evidence,
            answer.posterior.iter().map(|p| p.0[0]).collect(),
        )
    }))
}

fn check(network: &Network, evidence: &Evidence, seed: u64) {
    let mut listing = Listing::new(network, seed);
    let (listed, same) = listing.of(network, evidence);
    let close = |a: f64, b: f64| {
        let tolerance = TOLERANCE.max(4.0 * f64::EPSILON * a.abs());
        assert!((a - b).abs() <= tolerance, "ln P(evidence): {a} and {b}");
    };
    for engine in [by_circuit, by_propagator] {
        match (engine(network, evidence), engine(&listed, &same)) {
            (Ok((ln_p, marginals)), Ok((listed_ln_p, listed_marginals))) => {
                close(ln_p, listed_ln_p);
                for (v, marginal) in network.variable_ids().zip(marginals) {
                    let found = &listed_marginals[listing.variable(v).index()];
                    assert_eq!(found.is_some(), marginal.is_some());
                    if let (Some(found), Some(marginal)) = (found, marginal) {
                        let expected = listing.by_state(v, &marginal);
                        assert_close(found, &expected, &network.variable(v).name);
                    }
                }
            }
            (one, other) => {
                let kind = |answer: &Answer| answer.as_ref().err().map(std::mem::discriminant);
                assert!(one.is_err());
                assert_eq!(kind(&one), kind(&other));
            }
        }
    }
    for v in network.variable_ids() {
        let one = by_lanes(network, evidence, v);
        let other = by_lanes(&listed, &same, listing.variable(v));
        match (one, other) {
            (Ok(Some((ln_p, p))), Ok(Some((listed_ln_p, listed_p)))) => {
                close(ln_p, listed_ln_p);
                assert_close(&listed_p, &listing.by_state(v, &p), "in lanes");
            }
            (one, other) => {
                assert!(!matches!(one, Ok(Some(_))));
                assert_eq!(one.is_err(), other.is_err());
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    /// Zeros, deterministic columns, variables of one state and unconnected parts are among these networks.
    #[test]
    fn listing_is_irrelevant_to_every_engine((network, evidence) in network_and_evidence(), seed in any::<u64>()) {
        check(&network, &evidence, seed);
    }
}

/// Every fifth variable in its most probable state given the ones before it in the network; whatever is seen is possible.
#[test]
fn listing_is_irrelevant_to_public_networks() {
    for name in ["alarm", "hailfinder", "insurance"] {
        let path = format!("shared/networks/public/{name}.bif");
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(path);
        let network = saggar::interchange::read(&path, &mut Sources::default())
            .unwrap()
            .network;
        let mut states = vec![0; network.variables().len()];
        for &v in network.topological_order() {
            let column = network.configuration(v, |p| states[p.index()]);
            let column = network.cpt(v).table.column(column);
            states[v.index()] = column.imax();
        }
        for seed in 0..3 {
            let mut evidence = Evidence::new();
            for v in network
                .variable_ids()
                .filter(|v| (v.index() + seed) % 5 == 0)
            {
                evidence.observe(v, states[v.index()]);
            }
            for v in network
                .variable_ids()
                .filter(|v| (v.index() + seed) % 11 == 3)
            {
                let likelihoods = (0..network.n_states(v)).map(|s| 0.125 + s as f64);
                evidence.likelihood(v, likelihoods.collect());
            }
            check(&network, &evidence, seed as u64);
        }
    }
}

/// The new listing is the same network, and is not the old listing.
#[test]
fn a_listing_by_hand() {
    let table = DMatrix::from_column_slice(2, 2, &[0.9, 0.1, 0.3, 0.7]);
    let variable = |name: &str| Variable {
        name: name.to_owned(),
        states: vec!["a".to_owned(), "b".to_owned()],
        role: Role::Chance,
    };
    let root = DMatrix::from_column_slice(2, 1, &[0.25, 0.75]);
    let network = Network::new(
        vec![variable("root"), variable("clue")],
        vec![
            Cpt {
                parents: vec![],
                table: root,
            },
            Cpt {
                parents: vec![VariableId::new(0)],
                table,
            },
        ],
        vec![],
    )
    .unwrap();
    let mut listing = Listing {
        variables: vec![1, 0],
        states: vec![vec![1, 0], vec![1, 0]],
        state: 0,
    };
    let mut evidence = Evidence::new();
    evidence.observe(VariableId::new(1), 0);
    let (listed, same) = listing.of(&network, &evidence);
    let clue = VariableId::new(0);
    assert_eq!(listed.variable(clue).name, "clue");
    assert_eq!(listed.variable(clue).states, ["b", "a"]);
    assert_eq!(listed.cpt(clue).table.as_slice(), [0.7, 0.3, 0.1, 0.9]);
    assert_eq!(
        listed.cpt(VariableId::new(1)).table.as_slice(),
        [0.75, 0.25]
    );
    assert_eq!(
        same.finding(clue),
        Some(&saggar::network::Finding::State(1))
    );
}
