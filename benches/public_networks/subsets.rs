//! One variable asked for given every subset of 12 observations.

use std::hint::black_box;

use criterion::Criterion;
use saggar::circuit::{Circuit, SubsetPosteriors, Subsets};
use saggar::network::{Evidence, EvidenceItem, Parameters};

use super::asked::{assert_close, open};
use super::questions::{NETWORKS, Question, questions, timed};

pub fn subsets(c: &mut Criterion) {
    for name in NETWORKS {
        let Some((network, asked)) = open(name) else {
            continue;
        };
        let parameters = network.parameters();
        let circuit = Circuit::compile(&network).expect("the network is small");
        let (mut compiled, mut n_answers) = (Vec::new(), 0);
        for question in questions(&network, &asked) {
            let items = question.evidence.items().map(|(item, _)| item);
            let groups: Vec<Evidence> = items.map(|item| only(&question.evidence, item)).collect();
            let nothing = Evidence::new();
            let subsets = Subsets::compile(network.structure(), &nothing, &groups, question.target)
                .expect("the network is small");
            let mut workspace = subsets.workspace();
            let answer = subsets
                .evaluate_in(&mut workspace, &parameters)
                .expect("the evidence is possible");
            check_subsets(answer, &question, &circuit, &parameters);
            n_answers += answer.n_subsets();
            compiled.push((subsets, workspace));
        }
        let mut group = timed(c, "posterior_subsets", n_answers);
        group.bench_function(name, |b| {
            b.iter(|| {
                for (subsets, workspace) in &mut compiled {
                    let answer = subsets.evaluate_in(workspace, black_box(&parameters));
                    black_box(answer.expect("asked before").probability(0, 0));
                }
            });
        });
        group.finish();
    }
}

/// Each subset must be answered as a circuit does that is given this subset alone.
fn check_subsets(
    answer: &SubsetPosteriors,
    question: &Question,
    circuit: &Circuit,
    parameters: &Parameters,
) {
    let n_states = circuit.structure().n_states(question.target);
    let mut workspace = circuit.workspace();
    for subset in 0..answer.n_subsets() {
        let mut evidence = question.evidence.clone();
        let items = question.evidence.items().enumerate();
        for (_, (item, _)) in items.filter(|(place, _)| subset >> place & 1 == 0) {
            evidence.remove(item);
        }
        let found: Option<Vec<f64>> = (0..n_states)
            .map(|state_idx| answer.probability(subset, state_idx))
            .collect();
        let alone = circuit
            .evaluate_in(&mut workspace, parameters, &evidence)
            .expect("part of what is possible");
        let expected = alone.marginal(question.target);
        assert_close(
            &found.expect("part of what is possible"),
            expected.expect("every variable has one"),
        );
    }
}

fn only(evidence: &Evidence, kept: EvidenceItem) -> Evidence {
    let mut only = evidence.clone();
    for (item, _) in evidence.items().filter(|&(item, _)| item != kept) {
        only.remove(item);
    }
    only
}
