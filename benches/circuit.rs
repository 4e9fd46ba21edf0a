//! Compiling and evaluating published networks. Figures: benches/README.md.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use saggar::circuit::Circuit;
use saggar::network::Evidence;

#[path = "../shared/networks/published.rs"]
mod published;

fn networks(c: &mut Criterion) {
    let networks = published::networks();
    for name in ["chest_clinic", "student", "fire_alarm"] {
        let network = &networks[name];
        c.bench_function(&format!("{name}: compile"), |b| {
            b.iter(|| black_box(Circuit::compile(network)))
        });
        let circuit = Circuit::compile(network).expect("small");
        let parameters = network.parameters();
        let last = network
            .variable_ids()
            .next_back()
            .expect("a network has variables");
        let mut evidence = Evidence::new();
        evidence.observe(last, 0);
        let mut workspace = circuit.workspace();
        // The answer is checked before it is timed.
        let answer = circuit.evaluate(&parameters, &evidence).expect("possible");
        let certain = answer.marginal(last).expect("a chance variable")[0];
        assert!((certain - 1.0).abs() < 1e-12, "{certain}");
        c.bench_function(&format!("{name}: P(evidence)"), |b| {
            b.iter(|| black_box(circuit.log_evidence_in(&mut workspace, &parameters, &evidence)));
        });
        c.bench_function(&format!("{name}: all marginals"), |b| {
            b.iter(|| {
                black_box(
                    circuit
                        .evaluate_in(&mut workspace, &parameters, &evidence)
                        .map(|p| p.log_evidence()),
                )
            });
        });
    }
}

criterion_group!(benches, networks);
criterion_main!(benches);
