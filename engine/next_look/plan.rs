//! Plans of several looks.
//!
//! Three of them, from the same chances:
//!
//! - **a fixed list**: look after look the most bits per minute, before any reading is known;
//! - **step by step**: the same, but each look is chosen once the readings before it are known;
//! - **the best**: of all ways to choose each look by the readings before it, and to stop, the one whose expected bits less
//!   the price of its expected minutes are highest. The price is the pack's least bits per minute, so that a plan ends where
//!   nothing is worth its minutes any longer.
//!
//! The best plan is found by going through every set of looks and readings: information has diminishing returns often, but
//! not always (two looks may tell together what neither tells alone), so no shorter way is sure to find it. Two bounds that
//! always hold cut the search: no look brings more than the entropy that is left, and none leaves less than nothing.
//!
//! Given the variables that separate the looks ([`super::separators`]) all this is exact, up to a quantity being cut into
//! bands, which understates it a little. Quantities measured several at once enter no plan.

mod policy;
mod problem;
mod search;
pub mod tree;

use serde::Serialize;

use super::candidates::{Candidate, Circumstance, NotOffered};
use super::information::entropy;
use super::readings::Readings;
use super::{Asked, NextLookError, Options, With};
use crate::model::{ClueTarget, CompiledModel};
use crate::piece::Piece;
pub use problem::{Problem, ProblemLook};
pub use tree::{Branch, End, Policy, Step};

/// Looks in a plan at most.
pub const MOST_LOOKS: usize = 4;
/// Steps that the search for the best plan may take: some ten seconds.
pub const MOST_WORK: f64 = 1e10;

/// A look in a fixed list.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Listed {
    /// The look.
    pub look: PlannedLook,
    /// What it is expected to add to those before it, in bits.
    pub bits: f64,
    /// Its minutes, tools that are at hand already not counted again.
    pub minutes: f64,
}

/// A look as a plan names it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlannedLook {
    /// The clue's name in scripts.
    pub clue: String,
    /// The clue's name for people.
    pub name: String,
}

/// The looks of a fixed list, and where they lead.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FixedList {
    /// Looks, in this order.
    pub looks: Vec<Listed>,
    /// What is to be expected at the end.
    pub end: End,
}

/// The plans under one setting of the circumstances that are not noted; of none, if they come out the same under all.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlansWith {
    /// Circumstances assumed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub with: Vec<With>,
    /// A list fixed beforehand.
    pub fixed: FixedList,
    /// Step by step.
    pub step_by_step: Policy,
    /// The best.
    pub best: Policy,
}

/// Plans for a piece.
#[derive(Clone, Debug, Serialize)]
pub struct Plans {
    /// The piece's title.
    pub piece: String,
    /// The pack's name.
    pub pack: String,
    /// SHA-256 of the pack's files.
    pub pack_sha256: String,
    /// What is asked, in words.
    pub about: String,
    /// Looks at most.
    pub n_looks: usize,
    /// Bits that a minute must bring.
    pub bits_per_minute: f64,
    /// Entropy of the answers now, in bits.
    pub entropy: f64,
    /// The leading answer: short code.
    pub leader: String,
    /// Its probability.
    pub leader_probability: f64,
    /// One for each way to settle the circumstances that are not noted.
    pub plans: Vec<PlansWith>,
    /// Clues that enter no plan.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub not_offered: Vec<NotOffered>,
}

impl CompiledModel {
    /// Plans of up to `n_looks` looks, 1 to [`MOST_LOOKS`].
    ///
    /// # Errors
    /// As for [`CompiledModel::next_look`]; [`NextLookError::PlanLength`]; [`NextLookError::PlanWork`] if the best plan would
    /// take too long to find, [`NextLookError::Stopped`] if it has to end before it is found.
    pub fn plan(
        &self,
        piece: &Piece,
        n_looks: usize,
        options: &Options,
    ) -> Result<Plans, NextLookError> {
        if !(1..=MOST_LOOKS).contains(&n_looks) {
            return Err(NextLookError::PlanLength { found: n_looks });
        }
        let asked = Asked::new(self, piece, options)?;
        let model = asked.model();
        let mut not_offered = asked.offer.not_offered.clone();
        let (planned, several): (Vec<&Candidate>, Vec<&Candidate>) = asked
            .offer
            .candidates
            .iter()
            .partition(|candidate| !asked.gives_several(candidate));
        if !several.is_empty() {
            let name = |c: &&Candidate| model.catalogue.clues[c.clue].name.clone();
            not_offered.push(NotOffered {
                what: several.iter().map(name).collect(),
                why: "several quantities at once enter no plan; see what they are worth by themselves".to_owned(),
            });
        }
        let mut plans = Vec::new();
        for setting in asked.settings(&asked.offer.open_circumstances())? {
            let problem = asked.problem(&planned, &setting)?;
            let work = problem.work(n_looks);
            if work > MOST_WORK {
                return Err(NextLookError::PlanWork {
                    n_looks,
                    n_candidates: planned.len(),
                    work,
                });
            }
            let named = |look: usize| {
                let clue = &model.catalogue.clues[planned[look].clue];
                PlannedLook {
                    clue: clue.id.clone(),
                    name: clue.name.clone(),
                }
            };
            let answer = |class: usize| asked.subject.answers[class].id.clone();
            let best = problem.best(n_looks, &options.stop);
            let best = best.ok_or(NextLookError::Stopped)?;
            let (listed, end) = problem.fixed_list(n_looks);
            let looks = listed.into_iter().map(|(look, bits, minutes)| Listed {
                look: named(look),
                bits,
                minutes,
            });
            plans.push(PlansWith {
                with: asked.with(&setting),
                fixed: FixedList {
                    looks: looks.collect(),
                    end,
                },
                step_by_step: problem
                    .step_by_step(n_looks)
                    .named(&problem, &named, &answer),
                best: best.named(&problem, &named, &answer),
            });
        }
        // Plans that come out the same whatever the circumstances need none of them.
        let is_like_first = |plan: &PlansWith| {
            let first = &plans[0];
            (&plan.fixed, &plan.step_by_step, &plan.best)
                == (&first.fixed, &first.step_by_step, &first.best)
        };
        if plans.iter().all(is_like_first) {
            plans.truncate(1);
            plans[0].with.clear();
        }
        Ok(Plans {
            piece: crate::what_if::title(&self.model, piece),
            pack: model.name.clone(),
            pack_sha256: model.hash.clone(),
            about: asked.subject.words.clone(),
            n_looks,
            bits_per_minute: model.catalogue.looks.least_bits_per_minute(),
            entropy: entropy(&asked.answers),
            leader: asked.subject.answers[asked.leader].id.clone(),
            leader_probability: asked.answers[asked.leader],
            plans,
            not_offered,
        })
    }
}

impl Asked<'_> {
    /// Whether a look gives several quantities at once.
    pub(super) fn gives_several(&self, candidate: &Candidate) -> bool {
        use crate::model::{MeasureFamily, MeasureRules};
        let ClueTarget::Measure(id) = candidate.target else {
            return false;
        };
        !matches!(
            &self.model().measures[id.index()],
            MeasureRules::Quantity {
                family: MeasureFamily::Normal | MeasureFamily::Lognormal,
                ..
            }
        )
    }

    /// The looks with their chances in every world, under one setting of all circumstances.
    pub(super) fn problem(
        &self,
        planned: &[&Candidate],
        setting: &[Circumstance],
    ) -> Result<Problem, NextLookError> {
        let targets: Vec<ClueTarget> = planned.iter().map(|c| c.target).collect();
        let worlds = self.worlds(setting, &targets, false)?;
        let weighed = self.weighed(planned, setting, &worlds);
        let looks = weighed.into_iter().map(|weighed| ProblemLook {
            minutes: weighed.cost.minutes,
            tools: weighed.cost.tools,
            channel: match weighed.readings {
                Readings::Exact(channel) => channel,
                Readings::Quantity { bands, .. } => bands,
                Readings::Several(_) => super::channel::Channel::default(),
            },
        });
        let classes = worlds.states.iter().map(|&s| self.subject.class_of[s]);
        let costs = &self.model().catalogue.looks;
        Ok(Problem::new(
            worlds.weights.clone(),
            classes.collect(),
            self.answers.len(),
            looks.collect(),
            costs.tools.iter().map(|tool| tool.minutes).collect(),
            costs.least_bits_per_minute(),
        ))
    }
}
