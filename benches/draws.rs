//! Every table of a public network drawn anew, with the answer to one question under each draw. Figures: benches/README.md.

use std::hint::black_box;
use std::path::Path;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use saggar::circuit::{Circuit, LANES, LaneWorkspace, ParameterLanes, Specialised};
use saggar::interchange;
use saggar::network::{Evidence, Network};
use saggar::source::Sources;
use saggar::stress::DirichletTables;

const SEED: u64 = 1;
const SEEN: f64 = 20.0;

fn network(name: &str) -> Network {
    let path = format!("shared/networks/public/{name}.bif");
    interchange::read(Path::new(&path), &mut Sources::default())
        .expect("the network is there")
        .network
}

/// The posterior of the first variable given twelve others: every third one in the order of the file, each at its likeliest
/// state given those before it.
fn question(network: &Network) -> Specialised {
    let circuit = Circuit::compile(network).expect("the network is small");
    let parameters = network.parameters();
    let mut evidence = Evidence::new();
    for id in network.variable_ids().skip(1).step_by(3).take(12) {
        let posterior = circuit
            .evaluate(&parameters, &evidence)
            .expect("the evidence is possible");
        let marginal = posterior.marginal(id).expect("a marginal");
        let likeliest = (0..marginal.len())
            .max_by(|&a, &b| marginal[a].total_cmp(&marginal[b]))
            .expect("a state");
        evidence.observe(id, likeliest);
    }
    let asked = network.variable_ids().next().expect("a variable");
    Specialised::compile(network.structure(), &evidence, asked).expect("the network is small")
}

fn draws(c: &mut Criterion) {
    for name in ["alarm", "hailfinder"] {
        let network = network(name);
        let question = question(&network);
        let stated = network.parameters();
        let tables = DirichletTables::new(&question, &stated, SEEN).expect("chances");
        let mut lanes = ParameterLanes::of(&stated);
        let mut workspace = LaneWorkspace::default();
        // The answer is checked before it is timed.
        tables.draw(SEED, 0, &mut lanes);
        let answer = question.evaluate_in(&mut workspace, &lanes, &[]);
        for lane in 0..LANES {
            assert!(answer.holds(lane));
            let sum: f64 = answer.posterior.iter().map(|p| p.0[lane]).sum();
            assert!((sum - 1.0).abs() < 1e-12, "{sum}");
        }

        println!("{name}: {} gammas a draw", tables.n_gammas());
        let mut group = c.benchmark_group(name);
        group.throughput(Throughput::Elements(LANES as u64));
        let mut block = 0;
        group.bench_function("draws", |b| {
            b.iter(|| {
                block += 1;
                tables.draw(SEED, block, &mut lanes);
                black_box(&lanes);
            });
        });
        group.bench_function("posterior", |b| {
            b.iter(|| black_box(question.evaluate_in(&mut workspace, &lanes, &[]).evidence));
        });
        group.bench_function("draws and posterior", |b| {
            b.iter(|| {
                block += 1;
                tables.draw(SEED, block, &mut lanes);
                black_box(question.evaluate_in(&mut workspace, &lanes, &[]).evidence)
            });
        });
        group.finish();
    }
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(20);
    targets = draws
}
criterion_main!(benches);
