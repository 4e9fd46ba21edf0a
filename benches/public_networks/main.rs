//! Standard networks of the field: one question under many parameters, all marginals, compiling. Goals, figures and the
//! peer: benches/README.md.

mod asked;
mod marginals;
mod questions;
mod subsets;

use std::hint::black_box;
use std::time::Duration;

use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use saggar::circuit::Circuit;
use saggar::network::{Cpt, Network};

use asked::{assert_close, find, open};

/// From variables and tables to a circuit that can be evaluated.
fn compile(c: &mut Criterion) {
    for name in ["alarm", "hailfinder"] {
        let Some((network, asked)) = open(name) else {
            continue;
        };
        let variables = network.variables().to_vec();
        let cpts: Vec<Cpt> = network
            .variable_ids()
            .map(|id| network.cpt(id).clone())
            .collect();
        let compile = |(variables, cpts)| {
            let network = Network::new(variables, cpts, Vec::new()).expect("read as a network");
            let circuit = Circuit::compile(&network).expect("the network is small");
            (network, circuit)
        };
        let (again, circuit) = compile((variables.clone(), cpts.clone()));
        let question = &asked.questions[0];
        let posterior = circuit
            .evaluate(&again.parameters(), &question.evidence(&again))
            .expect("the evidence is possible");
        let found = posterior.marginal(find(&again, &question.asked));
        assert_close(found.expect("every variable has one"), &question.posterior);
        let mut group = c.benchmark_group("compile");
        group
            .sample_size(20)
            .warm_up_time(Duration::from_millis(500))
            .measurement_time(Duration::from_secs(2));
        group.bench_function(name, |b| {
            b.iter_batched(
                || (variables.clone(), cpts.clone()),
                |tables| black_box(compile(tables)),
                BatchSize::SmallInput,
            );
        });
        group.finish();
    }
}

criterion_group!(
    benches,
    questions::parameters_given,
    questions::parameters_drawn,
    subsets::subsets,
    compile,
    marginals::observed,
    marginals::priors
);
criterion_main!(benches);
