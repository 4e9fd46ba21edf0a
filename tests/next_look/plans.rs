//! Plans over random networks: worlds against brute force, and every plan against the others.

use proptest::prelude::*;
use saggar::circuit::Circuit;
use saggar::model::ClueTarget;
use saggar::network::{Evidence, Finding, Network, Role, VariableId};
use saggar::next_look::channel::Channel;
use saggar::next_look::plan::{Problem, ProblemLook};
use saggar::next_look::separators::separators;
use saggar::next_look::worlds::{Walk, Worlds};
use saggar::stop::Stop;

use crate::information::whole;
use crate::oracle::Enumeration;
use crate::random::network_and_evidence;

const MINUTES: [f64; 3] = [2.0, 1.0, 4.0];
const LOUPE: f64 = 1.5;

/// A question, looks that are not found for sure, and evidence with every input given.
fn posed(
    network: &Network,
    evidence: &Evidence,
) -> Option<(Evidence, VariableId, Vec<VariableId>)> {
    let evidence = whole(network, evidence)?;
    let is_open = |id: &VariableId| {
        network.variable(*id).role == Role::Chance
            && !matches!(evidence.finding(*id), Some(Finding::State(_)))
    };
    let open: Vec<VariableId> = network.variable_ids().filter(is_open).collect();
    let (question, looks) = open.split_first()?;
    let looks: Vec<VariableId> = looks.iter().copied().take(3).collect();
    (!looks.is_empty()).then_some((evidence, *question, looks))
}

fn worlds(
    network: &Network,
    evidence: &Evidence,
    question: VariableId,
    looks: &[VariableId],
) -> Worlds {
    let circuit = Circuit::compile(network).unwrap();
    let targets: Vec<ClueTarget> = looks.iter().map(|&id| ClueTarget::Variable(id)).collect();
    let order = separators(network, evidence, question, &targets);
    let walk = Walk {
        circuit: &circuit,
        parameters: &network.parameters(),
        question,
        order: &order,
        looks: &targets,
        most: 100_000,
    };
    walk.worlds(evidence).unwrap()
}

/// P(question, all looks) by brute force, the last look fastest: one row for each joint reading.
fn joint(
    network: &Network,
    evidence: &Evidence,
    question: VariableId,
    looks: &[VariableId],
) -> Vec<Vec<f64>> {
    let total = Enumeration::new(network, evidence).evidence;
    let n: usize = looks.iter().map(|&id| network.n_states(id)).product();
    let row = |reading: usize| {
        let (mut so, mut rest, mut likelihood) = (evidence.clone(), reading, 1.0);
        for &id in looks.iter().rev() {
            let state = rest % network.n_states(id);
            rest /= network.n_states(id);
            if let Some(Finding::Likelihood(weights)) = evidence.finding(id) {
                likelihood *= weights[state];
            }
            so.observe(id, state);
        }
        let given = Enumeration::new(network, &so);
        if given.evidence == 0.0 {
            return vec![0.0; network.n_states(question)];
        }
        // Observing a state leaves out what its likelihood was.
        let p = given.evidence * likelihood / total;
        given.marginal(question).iter().map(|q| q * p).collect()
    };
    (0..n).map(row).collect()
}

fn problem(worlds: &Worlds, n_classes: usize, price: f64) -> Problem {
    let n_worlds = worlds.weights.len();
    let looks = worlds
        .looks
        .iter()
        .zip(MINUTES)
        .enumerate()
        .map(|(look, (outcomes, minutes))| {
            let chances =
                |state: usize| (0..n_worlds).map(|w| outcomes.in_world(w)[state]).collect();
            ProblemLook {
                channel: Channel {
                    readings: (0..outcomes.n).map(|state| state.to_string()).collect(),
                    chances: (0..outcomes.n).map(chances).collect(),
                },
                minutes,
                // The first and the last share a loupe.
                tools: if look == 1 { vec![] } else { vec![0] },
            }
        });
    let (looks, weights, states) = (
        looks.collect(),
        worlds.weights.clone(),
        worlds.states.clone(),
    );
    Problem::new(weights, states, n_classes, looks, vec![LOUPE], price)
}

/// Expected entropy and price of the best way on, by walking through every choice; no memory, no bound.
struct ByHand<'a> {
    joint: &'a [Vec<f64>],
    sizes: Vec<usize>,
    price: f64,
}

impl ByHand<'_> {
    fn readings_of(&self, row: usize) -> Vec<usize> {
        let (mut rest, mut states) = (row, vec![0; self.sizes.len()]);
        for (state, n) in states.iter_mut().zip(&self.sizes).rev() {
            *state = rest % n;
            rest /= n;
        }
        states
    }

    fn best(&self, taken: &[Option<usize>], left: usize) -> f64 {
        let fits = |row: &usize| {
            let states = self.readings_of(*row);
            taken
                .iter()
                .zip(states)
                .all(|(t, s)| t.is_none_or(|t| t == s))
        };
        let rows: Vec<usize> = (0..self.joint.len()).filter(fits).collect();
        let class = |c: usize| rows.iter().map(|&row| self.joint[row][c]).sum::<f64>();
        let classes: Vec<f64> = (0..self.joint[0].len()).map(class).collect();
        let chance: f64 = classes.iter().sum();
        if chance == 0.0 {
            return 0.0;
        }
        let term = |&p: &f64| {
            if p > 0.0 {
                -p * (p / chance).log2()
            } else {
                0.0
            }
        };
        let mut best: f64 = classes.iter().map(term).sum();
        for look in (0..taken.len()).filter(|&look| left > 0 && taken[look].is_none()) {
            let at_hand =
                |other: usize| other != 1 && taken.get(other).is_some_and(Option::is_some);
            let fetch = look != 1 && !at_hand(0) && !at_hand(2);
            let minutes = MINUTES[look] + if fetch { LOUPE } else { 0.0 };
            let after = (0..self.sizes[look]).map(|state| {
                let mut then = taken.to_vec();
                then[look] = Some(state);
                self.best(&then, left - 1)
            });
            best = best.min(chance * self.price * minutes + after.sum::<f64>());
        }
        best
    }
}

fn entropy(p: &[f64]) -> f64 {
    p.iter().filter(|&&p| p > 0.0).map(|p| -p * p.log2()).sum()
}

proptest! {
    #[test]
    fn looks_are_independent_in_every_world((network, evidence) in network_and_evidence()) {
        let Some((evidence, question, looks)) = posed(&network, &evidence) else { return Ok(()) };
        let worlds = worlds(&network, &evidence, question, &looks);
        let expected = joint(&network, &evidence, question, &looks);
        let mut found = vec![vec![0.0; network.n_states(question)]; expected.len()];
        for (world, (weight, state)) in worlds.weights.iter().zip(&worlds.states).enumerate() {
            for (reading, row) in found.iter_mut().enumerate() {
                let (mut rest, mut p) = (reading, *weight);
                for outcomes in worlds.looks.iter().rev() {
                    p *= outcomes.in_world(world)[rest % outcomes.n];
                    rest /= outcomes.n;
                }
                row[*state] += p;
            }
        }
        for (found, expected) in found.iter().flatten().zip(expected.iter().flatten()) {
            prop_assert!((found - expected).abs() < 1e-10, "{} {}", found, expected);
        }
    }

    #[test]
    fn the_best_plan_is_the_best((network, evidence) in network_and_evidence(), price in 0.0..0.1_f64) {
        let Some((evidence, question, looks)) = posed(&network, &evidence) else { return Ok(()) };
        let worlds = worlds(&network, &evidence, question, &looks);
        let joint = joint(&network, &evidence, question, &looks);
        let sizes = looks.iter().map(|&id| network.n_states(id)).collect();
        let by_hand = ByHand { joint: &joint, sizes, price };
        let now = entropy(&Enumeration::new(&network, &evidence).marginal(question));
        let problem = problem(&worlds, network.n_states(question), price);
        let mut before = 0.0;
        for n in 1..=looks.len() {
            let best = problem.end(&problem.best(n, &Stop::default()).unwrap());
            let expected = now - by_hand.best(&vec![None; looks.len()], n);
            prop_assert!((best.worth - expected).abs() < 1e-9, "{} looks: {:?}, not {}", n, best, expected);
            // A longer plan is no worse, and no other plan is better.
            prop_assert!(best.worth >= before - 1e-12);
            before = best.worth;
            let step_by_step = problem.end(&problem.step_by_step(n));
            let (_, fixed) = problem.fixed_list(n);
            for other in [step_by_step, fixed] {
                prop_assert!(other.worth <= best.worth + 1e-9, "{:?} {:?}", other, best);
                prop_assert!((other.bits - price * other.minutes - other.worth).abs() < 1e-12);
                prop_assert!(other.worth >= -1e-9, "{:?}", other);
                prop_assert!((0.0..=1.0 + 1e-12).contains(&other.leader_changes));
            }
        }
    }

    /// At no price nothing is left out: two looks tell at least as much as either of them.
    #[test]
    fn two_looks_tell_no_less_than_one((network, evidence) in network_and_evidence()) {
        let Some((evidence, question, looks)) = posed(&network, &evidence) else { return Ok(()) };
        let worlds = worlds(&network, &evidence, question, &looks);
        let problem = problem(&worlds, network.n_states(question), 0.0);
        let bits = |n| problem.end(&problem.best(n, &Stop::default()).unwrap()).bits;
        prop_assert!(bits(2) >= bits(1) - 1e-12);
        prop_assert!(bits(1) >= -1e-12);
    }
}

/// Two looks that tell nothing each and everything together: choosing one at a time finds neither, the best plan both.
#[test]
fn looks_that_only_tell_together() {
    let worlds = Worlds {
        weights: vec![0.25; 4],
        states: vec![0, 1, 1, 0],
        looks: Vec::new(),
    };
    let look = |of: [f64; 4]| ProblemLook {
        channel: Channel {
            readings: vec!["no".to_owned(), "yes".to_owned()],
            chances: vec![of.map(|p| 1.0 - p).to_vec(), of.to_vec()],
        },
        minutes: 1.0,
        tools: Vec::new(),
    };
    let looks = vec![look([0.0, 0.0, 1.0, 1.0]), look([0.0, 1.0, 0.0, 1.0])];
    let problem = Problem::new(worlds.weights, worlds.states, 2, looks, Vec::new(), 0.1);
    let best = problem.end(&problem.best(2, &Stop::default()).unwrap());
    assert!(
        (best.bits - 1.0).abs() < 1e-12 && (best.minutes - 2.0).abs() < 1e-12,
        "{best:?}"
    );
    assert_eq!(problem.end(&problem.step_by_step(2)).bits, 0.0);
    assert_eq!(problem.fixed_list(2).0, []);
    assert_eq!(
        problem
            .end(&problem.best(1, &Stop::default()).unwrap())
            .minutes,
        0.0
    );
}

/// Two looks of two readings, in two worlds: for one look 4 readings are weighed once, for two once more after each of them.
#[test]
fn the_work_of_a_search() {
    let look = || ProblemLook {
        channel: Channel {
            readings: vec!["no".to_owned(), "yes".to_owned()],
            chances: vec![vec![0.5, 0.2], vec![0.5, 0.8]],
        },
        minutes: 1.0,
        tools: Vec::new(),
    };
    let looks = vec![look(), look()];
    let problem = Problem::new(vec![0.5, 0.5], vec![0, 1], 2, looks, Vec::new(), 0.0);
    // A search that has no time is given up, and says so.
    let over = Stop {
        at: Some(std::time::Instant::now()),
        asked: None,
    };
    assert!(problem.best(2, &over).is_none());
    assert_eq!(problem.work(1), 4.0 * 2.0);
    assert_eq!(problem.work(2), (1.0 + 4.0) * 4.0 * 2.0);
}
