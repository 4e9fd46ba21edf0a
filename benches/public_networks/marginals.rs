//! All marginals at once: with a fifth of the variables observed, and with none.

use std::hint::black_box;
use std::time::Duration;

use criterion::measurement::WallTime;
use criterion::{BenchmarkGroup, BenchmarkId, Criterion, SamplingMode, Throughput};
use saggar::circuit::{Propagator, PropagatorWorkspace};
use saggar::network::{Evidence, Network, Parameters};

use super::asked::{TOLERANCE, assert_close, find, open};

const OBSERVED: [&str; 9] = [
    "alarm",
    "hailfinder",
    "hepar2",
    "pathfinder",
    "andes",
    "pigs",
    "munin1",
    "link",
    "munin",
];

/// An engine kept between queries.
struct Kept {
    propagator: Propagator,
    workspace: PropagatorWorkspace,
    parameters: Parameters,
}

impl Kept {
    fn new(network: &Network) -> Self {
        let propagator = Propagator::new(network.structure());
        Self {
            workspace: propagator.workspace(),
            propagator,
            parameters: network.parameters(),
        }
    }

    fn check(&mut self, asked: &[(Evidence, f64)]) {
        for (evidence, log_evidence) in asked {
            let marginals = self
                .propagator
                .marginals_in(&mut self.workspace, &self.parameters, evidence)
                .expect("the evidence is possible");
            let off = (marginals.log_evidence() - log_evidence).abs();
            assert!(off <= TOLERANCE, "ln P(evidence) off by {off}");
        }
    }

    fn ask_all(&mut self, asked: &[(Evidence, f64)]) {
        for (evidence, _) in asked {
            let marginals = self.propagator.marginals_in(
                &mut self.workspace,
                &self.parameters,
                black_box(evidence),
            );
            black_box(marginals.expect("asked before").log_evidence());
        }
    }
}

pub fn observed(c: &mut Criterion) {
    for name in OBSERVED {
        let Some((network, asked)) = open(name) else {
            continue;
        };
        let choices: Vec<_> = asked
            .observed
            .iter()
            .map(|observed| observed.evidence(&network))
            .collect();
        // Some choices leave far larger tables than others, so each that has several sets of states is timed apart.
        let mut group = short(c, "marginals_new_states");
        for (k, states) in choices.iter().enumerate().filter(|(_, s)| s.len() > 1) {
            let mut kept = Kept::new(&network);
            kept.check(states);
            group.throughput(Throughput::Elements(states.len() as u64));
            group.bench_function(BenchmarkId::new(name, k), |b| {
                b.iter(|| kept.ask_all(states));
            });
        }
        group.finish();
        // One after the other, more than the workspace keeps plans for: each is planned anew.
        let variables: Vec<_> = choices.iter().map(|states| states[0].clone()).collect();
        let mut kept = Kept::new(&network);
        kept.check(&variables);
        let mut group = short(c, "marginals_new_variables");
        group.throughput(Throughput::Elements(variables.len() as u64));
        group.bench_function(name, |b| b.iter(|| kept.ask_all(&variables)));
        group.finish();
    }
}

pub fn priors(c: &mut Criterion) {
    for name in ["munin1", "water", "mildew", "munin"] {
        let Some((network, asked)) = open(name) else {
            continue;
        };
        let mut kept = Kept::new(&network);
        let nothing = [(Evidence::new(), 0.0)];
        kept.check(&nothing);
        let marginals =
            kept.propagator
                .marginals_in(&mut kept.workspace, &kept.parameters, &nothing[0].0);
        let marginals = marginals.expect("asked before");
        for (variable, expected) in &asked.priors {
            let found = marginals.marginal(find(&network, variable));
            assert_close(found.expect("every variable has one"), expected);
        }
        let mut group = short(c, "marginals_prior");
        group.throughput(Throughput::Elements(1));
        group.bench_function(name, |b| b.iter(|| kept.ask_all(&nothing)));
        group.finish();
    }
}

/// An iteration of the large networks takes up to a second.
fn short<'a>(c: &'a mut Criterion, name: &str) -> BenchmarkGroup<'a, WallTime> {
    let mut group = c.benchmark_group(name);
    group
        .sample_size(10)
        .sampling_mode(SamplingMode::Flat)
        .warm_up_time(Duration::from_millis(300))
        .measurement_time(Duration::from_secs(1));
    group
}
