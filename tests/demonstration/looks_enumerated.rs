//! What looks and plans tell, against sums over all joint states.

use saggar::model::ClueTarget;
use saggar::network::{Evidence, VariableId};
use saggar::next_look::plan::Step;
use saggar::next_look::{About, Options, Reckoned};
use saggar::piece::find_clue;
use saggar::question::{Claim, Question};

use super::depth_first::sums;
use super::next_look::next;
use super::world::{compiled, piece};

/// P(maker, reading | evidence) for every reading, by enumeration.
fn joint(evidence: &Evidence, target: VariableId) -> Vec<Vec<f64>> {
    let network = &compiled().model.network;
    let maker = compiled().model.catalogue.maker;
    let all = sums(network, evidence, &[maker, target]);
    let readings = all.posterior(target);
    let row = |(state, &p): (usize, &f64)| {
        if p == 0.0 {
            return vec![0.0; network.n_states(maker)];
        }
        // The hard reading in place of whatever was seen before.
        let mut so = evidence.clone();
        so.observe(target, state);
        let given = sums(network, &so, &[maker]).posterior(maker);
        given.iter().map(|q| q * p).collect()
    };
    readings.iter().enumerate().map(row).collect()
}

fn entropy(p: &[f64]) -> f64 {
    let sum: f64 = p.iter().sum();
    p.iter()
        .filter(|&&p| p > 0.0)
        .map(|p| -p * (p / sum).log2())
        .sum()
}

fn leader(p: &[f64]) -> usize {
    (0..p.len())
        .max_by(|&a, &b| p[a].total_cmp(&p[b]).then(b.cmp(&a)))
        .unwrap()
}

/// Every look of two pieces: bits, chance of another leader, and every reading that would overturn.
#[test]
fn every_look_against_enumeration() {
    let compiled = compiled();
    let model = &compiled.model;
    for name in ["D2", "D5", "D7"] {
        let piece = piece(name);
        let next = next(&piece);
        let overturn = compiled.overturn(&piece, &Options::default()).unwrap();
        let answer = compiled.ask(&piece).unwrap();
        let now = answer.posterior.marginal(model.catalogue.maker).unwrap();
        let mut n_overturning = 0;
        for look in &next.looks {
            let clue = find_clue(model, &look.clue).unwrap();
            let ClueTarget::Variable(target) = model.catalogue.clues[clue].target else {
                panic!()
            };
            let mut evidence = answer.entered.evidence.clone();
            for with in &look.with {
                let circumstance = find_clue(model, &with.circumstance).unwrap();
                let about = &model.catalogue.clues[circumstance];
                let ClueTarget::Variable(id) = about.target else {
                    panic!()
                };
                let state = about.states.iter().position(|s| *s == with.state).unwrap();
                evidence.observe(id, state);
            }
            let joint = joint(&evidence, target);
            let bits = entropy(now) - joint.iter().map(|row| entropy(row)).sum::<f64>();
            let what = format!("{name}, {}", look.clue);
            assert_eq!(look.reckoned, Reckoned::Sum);
            assert!(
                (look.bits - bits).abs() < 1e-10,
                "{what}: {} {bits}",
                look.bits
            );
            let changing = joint
                .iter()
                .enumerate()
                .filter(|(_, row)| row.iter().sum::<f64>() > 0.0 && leader(row) != leader(now));
            let mut changes = 0.0;
            for (state, row) in changing {
                let p: f64 = row.iter().sum();
                changes += p;
                n_overturning += 1;
                let reading = &model.catalogue.clues[clue].states[state];
                let is_it = |o: &&saggar::next_look::overturn::Overturning| {
                    o.clue == look.clue && o.with == look.with && o.after.reading == *reading
                };
                let listed = overturn.overturning.iter().find(is_it).unwrap();
                assert!((listed.after.chance - p).abs() < 1e-10, "{what}: {reading}");
                assert_eq!(listed.after.leader, model.catalogue.makers[leader(row)].id);
                assert!((listed.after.probability - row[leader(row)] / p).abs() < 1e-9);
            }
            assert!(
                (look.leader_changes - changes).abs() < 1e-10,
                "{what}: {changes}"
            );
        }
        assert_eq!(overturn.overturning.len(), n_overturning, "{name}");
    }
}

/// What a plan says of two looks in turn, against enumeration of both readings.
#[test]
fn a_plan_of_two_looks_against_enumeration() {
    let compiled = compiled();
    let model = &compiled.model;
    let piece = piece("D2");
    let plans = compiled.plan(&piece, 2, &Options::default()).unwrap();
    let [plan] = &plans.plans[..] else { panic!() };
    let target = |clue: &str| match model.catalogue.clues[find_clue(model, clue).unwrap()].target {
        ClueTarget::Variable(id) => id,
        ClueTarget::Measure(_) => panic!(),
    };
    let evidence = compiled.ask(&piece).unwrap().entered.evidence;
    // The entropy expected after a step, times the chance so far, by enumeration.
    fn after(evidence: &Evidence, step: Option<&Step>, target: &dyn Fn(&str) -> VariableId) -> f64 {
        let maker = super::world::compiled().model.catalogue.maker;
        let Some(step) = step else {
            return entropy(
                &sums(&super::world::compiled().model.network, evidence, &[maker]).posterior(maker),
            );
        };
        let id = target(&step.look.clue);
        let joint = joint(evidence, id);
        let possible = joint
            .iter()
            .enumerate()
            .filter(|(_, row)| row.iter().sum::<f64>() > 0.0);
        let possible: Vec<(usize, &Vec<f64>)> = possible.collect();
        assert_eq!(possible.len(), step.readings.len());
        let of_reading =
            |((state, row), branch): (&(usize, &Vec<f64>), &saggar::next_look::plan::Branch)| {
                let p: f64 = row.iter().sum();
                assert!((branch.chance - p).abs() < 1e-10);
                let mut so = evidence.clone();
                so.observe(id, *state);
                p * after(&so, branch.then.as_ref(), target)
            };
        possible.iter().zip(&step.readings).map(of_reading).sum()
    }
    for policy in [&plan.best, &plan.step_by_step] {
        let expected = after(&evidence, policy.first.as_ref(), &target);
        assert!(
            (policy.end.entropy - expected).abs() < 1e-9,
            "{expected} {:?}",
            policy.end
        );
    }
    let [first, second] = &plan.fixed.looks[..] else {
        panic!()
    };
    let mut expected = 0.0;
    let (one, other) = (target(&first.look.clue), target(&second.look.clue));
    for (state, row) in joint(&evidence, one).iter().enumerate() {
        let mut so = evidence.clone();
        so.observe(one, state);
        let p: f64 = row.iter().sum();
        expected += p * joint(&so, other)
            .iter()
            .map(|row| entropy(row))
            .sum::<f64>();
    }
    assert!((plan.fixed.end.entropy - expected).abs() < 1e-9);
    assert!(plan.best.end.worth > plan.fixed.end.worth);
    assert_eq!(plan.fixed.end.minutes, first.minutes + second.minutes);
}

/// The answers of a question are classes: one claim, the other, and neither.
#[test]
fn other_questions() {
    let compiled = compiled();
    let piece = piece("D2");
    let about = |about| {
        let options = Options {
            about,
            ..Options::default()
        };
        compiled.next_look(&piece, &options).unwrap()
    };
    let answer = compiled.ask(&piece).unwrap();
    let entropy_of = |id| entropy(answer.posterior.marginal(id).unwrap());
    let catalogue = &compiled.model.catalogue;
    assert!((about(About::Region).entropy - entropy_of(catalogue.region)).abs() < 1e-12);
    assert!((about(About::Period).entropy - entropy_of(catalogue.period)).abs() < 1e-12);
    assert!((about(About::Works).entropy - entropy_of(catalogue.works.unwrap())).abs() < 1e-12);
    let p = answer.posterior.marginal(catalogue.maker).unwrap();
    let two = about(About::Question(Question::of(Claim::maker("K07"))));
    assert!((two.entropy - entropy(&[p[6], 1.0 - p[6]])).abs() < 1e-9);
    assert_eq!(two.leader, "claim");
    let three = about(About::Question(
        Question::of(Claim::maker("K07")).against(Claim::maker("K11")),
    ));
    assert!((three.entropy - entropy(&[p[6], p[10], 1.0 - p[6] - p[10]])).abs() < 1e-9);
    // A claim over two variables is a variable of its own.
    let middle = Claim::Years("1850/1859".to_owned());
    let both = about(About::Question(Question::of(
        Claim::region("Saltharrow").and(middle),
    )));
    assert!(both.entropy > 0.1 && both.looks.iter().all(|look| look.bits >= 0.0));
}
