//! Random small networks and evidence for property tests.

use nalgebra::DMatrix;
use proptest::prelude::*;
use saggar::network::{Cpt, Evidence, Measure, MeasureId, Network, Role, Variable, VariableId};

/// A network of 2 to 8 variables with 1 to 4 states, zeros, deterministic columns, unconnected parts, now
/// and then an input, up to two measures, and evidence of all kinds about it.
pub fn network_and_evidence() -> impl Strategy<Value = (Network, Evidence)> {
    let variable = (1..=4_usize, any::<u8>(), 0..8_u8, any::<u64>());
    let measure = (any::<u8>(), any::<u64>());
    (
        prop::collection::vec(variable, 2..=8),
        prop::collection::vec(measure, 0..=2),
        any::<u64>(),
    )
        .prop_flat_map(|(variables, measures, seed)| {
            let ids: Vec<u32> = (0..variables.len() as u32).collect();
            (
                Just(variables),
                Just(measures),
                Just(seed),
                Just(ids).prop_shuffle(),
            )
        })
        .prop_map(|(variables, measures, seed, ids)| build(&variables, &measures, seed, &ids))
}

/// `ids[i]` is the id of the i-th variable in order along the arrows, so that ids and arrows disagree.
fn build(
    recipe: &[(usize, u8, u8, u64)],
    measures: &[(u8, u64)],
    seed: u64,
    ids: &[u32],
) -> (Network, Evidence) {
    let n = recipe.len();
    let picked = |mask: u8, below: usize, most: usize| -> Vec<usize> {
        // From high to low, so that parents do not come in the order of their ids.
        (0..below)
            .rev()
            .filter(|i| mask >> i & 1 == 1)
            .take(most)
            .collect()
    };
    let mut variables = vec![None; n];
    let mut cpts = vec![None; n];
    for (i, &(n_states, mask, kind, seed)) in recipe.iter().enumerate() {
        let is_input = kind == 0;
        let parents = if is_input {
            Vec::new()
        } else {
            picked(mask, i, 3)
        };
        let n_columns: usize = parents.iter().map(|&p| recipe[p].0).product();
        let mut noise = Noise(seed);
        let mut table = DMatrix::zeros(n_states, n_columns);
        for mut column in table.column_iter_mut() {
            let deterministic = noise.one_in(4);
            for entry in column.iter_mut() {
                *entry = if deterministic || noise.one_in(4) {
                    0.0
                } else {
                    noise.share()
                };
            }
            if column.sum() == 0.0 {
                column[noise.below(n_states)] = 1.0;
            }
            let sum = column.sum();
            column /= sum;
        }
        let place = ids[i] as usize;
        variables[place] = Some(Variable {
            name: format!("v{place}"),
            states: (0..n_states).map(|s| s.to_string()).collect(),
            role: if is_input { Role::Input } else { Role::Chance },
        });
        cpts[place] = Some(Cpt {
            parents: parents.iter().map(|&p| VariableId::new(ids[p])).collect(),
            table,
        });
    }
    let measures_of: Vec<Measure> = measures
        .iter()
        .enumerate()
        .map(|(i, &(mask, _))| Measure {
            name: format!("m{i}"),
            parents: picked(mask, n, 3)
                .iter()
                .map(|&p| VariableId::new(ids[p]))
                .collect(),
        })
        .collect();
    let network = Network::new(
        variables.into_iter().flatten().collect(),
        cpts.into_iter().flatten().collect(),
        measures_of,
    )
    .unwrap();

    let mut noise = Noise(seed);
    let mut evidence = Evidence::new();
    for v in network.variable_ids() {
        let n_states = network.n_states(v);
        let state_idx = noise.below(n_states);
        let is_input = network.variable(v).role == Role::Input;
        match noise.below(6) {
            0 | 1 if !is_input => {
                evidence.observe(v, state_idx);
            }
            2 if !is_input => {
                evidence.likelihood(v, noise.likelihoods(n_states));
            }
            0..=4 if is_input => {
                evidence.observe(v, state_idx);
            }
            _ => {}
        }
    }
    for (i, &(_, seed)) in measures.iter().enumerate() {
        let id = MeasureId::new(i as u32);
        let mut noise = Noise(seed);
        if !noise.one_in(3) {
            evidence.measured(id, noise.likelihoods(network.n_measure_configurations(id)));
        }
    }
    (network, evidence)
}

/// SplitMix64 (Steele, Lea and Flood 2014).
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// In (0, 1].
    fn share(&mut self) -> f64 {
        ((self.next() >> 11) + 1) as f64 / (1_u64 << 53) as f64
    }

    fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }

    fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }

    /// Likelihoods between 0 and 20, some of them 0 but not all.
    fn likelihoods(&mut self, n: usize) -> Vec<f64> {
        let mut values: Vec<f64> = (0..n)
            .map(|_| {
                if self.one_in(4) {
                    0.0
                } else {
                    20.0 * self.share()
                }
            })
            .collect();
        if values.iter().all(|&v| v == 0.0) {
            values[self.below(n)] = 0.3;
        }
        values
    }
}
