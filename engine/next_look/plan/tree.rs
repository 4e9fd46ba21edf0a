//! A plan in which each look depends on the readings before it.

use serde::Serialize;

use super::PlannedLook;
use super::problem::Problem;

/// What is to be expected at the end of a plan.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct End {
    /// Expected entropy of the answers, in bits.
    pub entropy: f64,
    /// Expected information, in bits.
    pub bits: f64,
    /// Expected minutes.
    pub minutes: f64,
    /// Expected bits less the price of the expected minutes.
    pub worth: f64,
    /// Chance that another answer leads at the end than now.
    pub leader_changes: f64,
}

impl End {
    pub(super) fn new(
        before: f64,
        entropy: f64,
        minutes: f64,
        leader_changes: f64,
        price: f64,
    ) -> Self {
        let bits = before - entropy;
        Self {
            entropy,
            bits,
            minutes,
            worth: bits - price * minutes,
            leader_changes,
        }
    }
}

/// A state of knowledge in a plan, looks and readings by position.
#[derive(Clone, Debug)]
pub struct Node {
    /// Entropy of the answers, in bits.
    pub entropy: f64,
    /// The leading answer.
    pub leader: usize,
    /// Its probability.
    pub probability: f64,
    /// The look to take; none: stop.
    pub look: Option<usize>,
    /// Its minutes.
    pub minutes: f64,
    /// What it may show.
    pub outcomes: Vec<Outcome>,
}

/// One reading of a look in a plan.
#[derive(Clone, Debug)]
pub struct Outcome {
    /// The reading.
    pub reading: usize,
    /// Its chance, given those before it.
    pub chance: f64,
    /// What to do then.
    pub then: Node,
}

/// Expectations at the end.
pub(super) struct Sums {
    pub entropy: f64,
    pub minutes: f64,
    pub leader_changes: f64,
}

impl Node {
    pub(super) fn sums(&self, leader: usize) -> Sums {
        if self.look.is_none() {
            return Sums {
                entropy: self.entropy,
                minutes: 0.0,
                leader_changes: f64::from(u8::from(self.leader != leader)),
            };
        }
        let mut sums = Sums {
            entropy: 0.0,
            minutes: self.minutes,
            leader_changes: 0.0,
        };
        for outcome in &self.outcomes {
            let then = outcome.then.sums(leader);
            sums.entropy += outcome.chance * then.entropy;
            sums.minutes += outcome.chance * then.minutes;
            sums.leader_changes += outcome.chance * then.leader_changes;
        }
        sums
    }

    /// The plan with looks, readings and answers by name.
    pub(super) fn named(
        &self,
        problem: &Problem,
        look: &impl Fn(usize) -> PlannedLook,
        answer: &impl Fn(usize) -> String,
    ) -> Policy {
        Policy {
            end: problem.end(self),
            first: self.step(problem, look, answer),
        }
    }

    fn step(
        &self,
        problem: &Problem,
        named: &impl Fn(usize) -> PlannedLook,
        answer: &impl Fn(usize) -> String,
    ) -> Option<Step> {
        let look = self.look?;
        let after: f64 = self
            .outcomes
            .iter()
            .map(|o| o.chance * o.then.entropy)
            .sum();
        let branch = |outcome: &Outcome| Branch {
            reading: problem.reading(look, outcome.reading).to_owned(),
            chance: outcome.chance,
            entropy: outcome.then.entropy,
            leader: answer(outcome.then.leader),
            probability: outcome.then.probability,
            then: outcome.then.step(problem, named, answer),
        };
        Some(Step {
            look: named(look),
            minutes: self.minutes,
            bits: (self.entropy - after).max(0.0),
            readings: self.outcomes.iter().map(branch).collect(),
        })
    }
}

/// A plan in which each look depends on the readings before it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Policy {
    /// What is to be expected at its end.
    pub end: End,
    /// The first look; none if nothing is worth its minutes.
    pub first: Option<Step>,
}

/// One look of a plan.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Step {
    /// The look.
    pub look: PlannedLook,
    /// Its minutes, tools that are at hand already not counted again.
    pub minutes: f64,
    /// What it is expected to tell here, in bits.
    pub bits: f64,
    /// What it may show, in the order of the pack.
    pub readings: Vec<Branch>,
}

/// What to do after one reading.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Branch {
    /// The reading.
    pub reading: String,
    /// Its chance, given those before it.
    pub chance: f64,
    /// Entropy of the answers then, in bits.
    pub entropy: f64,
    /// The answer that leads then: short code.
    pub leader: String,
    /// Its probability.
    pub probability: f64,
    /// The next look; none: stop.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub then: Option<Step>,
}
