//! One variable asked for given 12 observations, under many sets of parameters.

use std::hint::black_box;
use std::time::Duration;

use criterion::measurement::WallTime;
use criterion::{BenchmarkGroup, Criterion, Throughput};
use saggar::circuit::{Circuit, LANES, LaneWorkspace, ParameterLanes, Specialised};
use saggar::network::{Evidence, Network, Parameters, VariableId};
use saggar::stress::DirichletTables;

use super::asked::{OfNetwork, assert_close, find, open};

pub const NETWORKS: [&str; 2] = ["alarm", "hailfinder"];

/// Pieces' worth of experience behind each row of a table.
const EQUIVALENT_SAMPLE_SIZE: f64 = 20.0;

const SEED: u64 = 1;

/// Sets of parameters in lanes that are evaluated in turn, so that no figure rests on the caches of a processor.
const N_SETS: u64 = 8;

pub struct Question {
    specialised: Specialised,
    pub target: VariableId,
    pub evidence: Evidence,
}

pub fn parameters_given(c: &mut Criterion) {
    for name in NETWORKS {
        let Some((network, asked)) = open(name) else {
            continue;
        };
        let questions = questions(&network, &asked);
        let stated = network.parameters();
        let sets: Vec<Vec<ParameterLanes>> = questions
            .iter()
            .map(|question| {
                let tables = tables(question, &stated);
                let draw = |block| {
                    let mut lanes = ParameterLanes::of(&stated);
                    tables.draw(SEED, block, &mut lanes);
                    lanes
                };
                (0..N_SETS).map(draw).collect()
            })
            .collect();
        for (question, sets) in questions.iter().zip(&sets) {
            check_lanes(&network, question, &sets[0]);
        }
        let mut workspace = LaneWorkspace::default();
        let mut set = 0;
        let mut group = timed(c, "posterior_parameters_given", LANES * questions.len());
        group.bench_function(name, |b| {
            b.iter(|| {
                set = (set + 1) % N_SETS as usize;
                for (question, sets) in questions.iter().zip(&sets) {
                    let lanes = black_box(&sets[set]);
                    let answer = question.specialised.evaluate_in(&mut workspace, lanes, &[]);
                    black_box(answer.posterior);
                }
            });
        });
        group.finish();
    }
}

pub fn parameters_drawn(c: &mut Criterion) {
    for name in NETWORKS {
        let Some((network, asked)) = open(name) else {
            continue;
        };
        let questions = questions(&network, &asked);
        let stated = network.parameters();
        // Each question has its own lanes: it draws, of a variable that it observes, only the entry that matters.
        let mut drawn = Vec::new();
        for question in &questions {
            let (tables, mut lanes) = (tables(question, &stated), ParameterLanes::of(&stated));
            tables.draw(SEED, 0, &mut lanes);
            check_lanes(&network, question, &lanes);
            drawn.push((tables, lanes));
        }
        let mut workspace = LaneWorkspace::default();
        let mut block = 0;
        let mut group = timed(c, "posterior_parameters_drawn", LANES * questions.len());
        group.bench_function(name, |b| {
            b.iter(|| {
                block += 1;
                for (question, (tables, lanes)) in questions.iter().zip(&mut drawn) {
                    tables.draw(SEED, block, lanes);
                    let answer = question.specialised.evaluate_in(&mut workspace, lanes, &[]);
                    black_box(answer.posterior);
                }
            });
        });
        group.finish();
    }
}

/// The questions, checked with the network's own parameters.
pub fn questions(network: &Network, asked: &OfNetwork) -> Vec<Question> {
    let own = ParameterLanes::of(&network.parameters());
    let mut workspace = LaneWorkspace::default();
    let compiled = asked.questions.iter().map(|question| {
        let evidence = question.evidence(network);
        let target = find(network, &question.asked);
        let specialised = Specialised::compile(network.structure(), &evidence, target)
            .expect("the network is small");
        let answer = specialised.evaluate_in(&mut workspace, &own, &[]);
        let posterior: Vec<f64> = answer.posterior.iter().map(|p| p.0[LANES - 1]).collect();
        assert_close(&posterior, &question.posterior);
        Question {
            specialised,
            target,
            evidence,
        }
    });
    compiled.collect()
}

fn tables(question: &Question, stated: &Parameters) -> DirichletTables {
    DirichletTables::new(&question.specialised, stated, EQUIVALENT_SAMPLE_SIZE)
        .expect("the network holds chances")
}

/// Each lane must answer as a circuit does that is given this lane's parameters alone.
fn check_lanes(network: &Network, question: &Question, lanes: &ParameterLanes) {
    let circuit = Circuit::compile(network).expect("the network is small");
    let mut workspace = LaneWorkspace::default();
    let mut single = network.parameters();
    let answer = question.specialised.evaluate_in(&mut workspace, lanes, &[]);
    for lane in 0..LANES {
        lanes.copy_lane(lane, &mut single);
        let alone = circuit
            .evaluate(&single, &question.evidence)
            .expect("the evidence is possible");
        let found: Vec<f64> = answer.posterior.iter().map(|p| p.0[lane]).collect();
        let expected = alone.marginal(question.target);
        assert_close(&found, expected.expect("every variable has one"));
    }
}

pub fn timed<'a>(
    c: &'a mut Criterion,
    name: &str,
    n_answers: usize,
) -> BenchmarkGroup<'a, WallTime> {
    let mut group = c.benchmark_group(name);
    group
        .throughput(Throughput::Elements(n_answers as u64))
        .sample_size(50)
        .warm_up_time(Duration::from_secs(1))
        .measurement_time(Duration::from_secs(3));
    group
}
