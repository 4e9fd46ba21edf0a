//! What to look at next: what each look is expected to tell, for its minutes, and which reading would overturn the verdict.
//!
//! A look is worth the information that its reading is expected to bring about the question: the entropy of the answers now,
//! less the mean entropy after it, each reading weighed by its chance given all that is found. A clue of which the appraiser
//! was unsure is offered again: what was seen of it already says which readings to expect, and the reading then takes its
//! place. A belief stated of another clue counts by the likelihoods that produced it, as in the audit.
//!
//! Readings of states are reckoned exactly, one quantity by quadrature, several at once by sampling, and each figure says
//! which. Letters of a mark are foreseen by the states of its reading. Plans of several looks (see [`plan`]) and overturning
//! readings (see [`overturn`]) rest on the same chances. Nothing here changes a verdict.

pub mod candidates;
pub mod channel;
pub(crate) mod foreseen;
pub mod information;
pub mod measured;
pub(crate) mod opinion;
pub mod overturn;
pub mod plan;
pub mod readings;
pub mod separators;
mod stretches;
pub mod subject;
pub mod worlds;

use serde::Serialize;

use crate::model::{ClueTarget, CompiledModel, Model};
use crate::network::Evidence;
use crate::piece::Piece;
use crate::query::{self, AskError, marginal, most_probable};
use crate::question::QuestionError;
use crate::stop::Stop;
use candidates::{Candidate, Circumstance, Cost, NotOffered, Offer, assuming, cost};
use information::entropy;
pub use information::{Information, information};
use readings::{Readings, readings};
pub use subject::{About, Subject};
use worlds::{Walk, Worlds, WorldsError};

/// Joint states that looks may hang together through.
pub const MOST_WORLDS: usize = 20_000;
/// Ways in which the circumstances that are not noted may be settled.
pub const MOST_SETTINGS: usize = 64;

/// What is asked, beside the piece.
#[derive(Clone, Debug, Default)]
pub struct Options {
    /// What the looks are to tell of.
    pub about: About,
    /// Clues of which it was noted that one cannot tell, to be looked at again all the same, by position.
    pub again: Vec<usize>,
    /// When to give up the search for the best plan.
    pub stop: Stop,
}

/// Why nothing can be said about the next look.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NextLookError {
    /// The piece cannot be judged as it is.
    #[error(transparent)]
    Ask(#[from] AskError),
    /// The question does not suit the pack.
    #[error(transparent)]
    Question(#[from] QuestionError),
    /// A question about works.
    #[error("this pack names no works; ask about the maker or the region")]
    NoWorks,
    /// A question about the period.
    #[error("this pack leaves out the period; ask about the maker")]
    PeriodLeftOut,
    /// The question has no answer as long as a circumstance is open.
    #[error(
        "{words} cannot be judged before every circumstance it depends on is noted; note them first"
    )]
    NoAnswer {
        /// What is asked.
        words: String,
    },
    /// Too many circumstances are open.
    #[error(
        "the circumstances not noted ({}) can be settled in more than {MOST_SETTINGS} ways; note some of them",
        open.join(", ")
    )]
    TooManySettings {
        /// The circumstances.
        open: Vec<String>,
    },
    /// The looks hang together too widely.
    #[error(transparent)]
    Worlds(WorldsError),
    /// A plan of no looks, or of more than can be planned.
    #[error("a plan holds from 1 to {} looks, not {found}", plan::MOST_LOOKS)]
    PlanLength {
        /// As asked.
        found: usize,
    },
    /// The search for the best plan was not over in time.
    #[error("the time is up before the best plan was found; plan fewer looks, or allow more time")]
    Stopped,
    /// A plan that would take too long to find.
    #[error(
        "the best plan of {n_looks} looks among {n_candidates} would take about {work:.0e} steps, more than {:.0e}; plan fewer looks, or note more first",
        plan::MOST_WORK
    )]
    PlanWork {
        /// Looks in the plan.
        n_looks: usize,
        /// Looks to choose from.
        n_candidates: usize,
        /// Steps it would take.
        work: f64,
    },
}

/// How a figure was reckoned.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "by")]
pub enum Reckoned {
    /// By summing over all readings.
    Sum,
    /// By an integral over all readings.
    Quadrature,
    /// By drawing readings; with the standard errors of both figures.
    Sampling {
        /// Draws.
        draws: usize,
        /// Seed.
        seed: u64,
        /// Standard error of the bits.
        bits: f64,
        /// Standard error of the chance that the leader changes.
        leader_changes: f64,
    },
}

/// A circumstance of a look, in words.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct With {
    /// Its name in scripts.
    pub circumstance: String,
    /// Its name for people.
    pub name: String,
    /// Its state.
    pub state: String,
}

/// What one look is worth.
#[derive(Clone, Debug, Serialize)]
pub struct LookWorth {
    /// The clue's name in scripts.
    pub clue: String,
    /// The clue's name for people.
    pub name: String,
    /// Circumstances it needs that are not noted, as they are assumed here.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub with: Vec<With>,
    /// The uncertain finding that its reading would replace.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub replaces: Option<String>,
    /// Minutes, with those until its tools are at hand.
    pub minutes: f64,
    /// Whether the pack gives no minutes for it, so that this is the usual figure.
    pub minutes_are_usual: bool,
    /// Tools it needs.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub tools: Vec<String>,
    /// Information in bits.
    pub bits: f64,
    /// Mean entropy of the answers after it, in bits.
    pub expected_entropy: f64,
    /// Chance that another answer leads after it.
    pub leader_changes: f64,
    /// Chance that the opinion in words reads otherwise after it; none for a look that gives several numbers at once.
    pub opinion_changes: Option<f64>,
    /// Bits for each minute.
    pub bits_per_minute: f64,
    /// Whether that is as much as the pack asks for.
    pub is_worth_it: bool,
    /// How the figures were reckoned.
    pub reckoned: Reckoned,
    /// How to look, as the pack says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub how: Option<String>,
}

/// What to look at next.
#[derive(Clone, Debug, Serialize)]
pub struct NextLook {
    /// The piece's title.
    pub piece: String,
    /// The pack's name.
    pub pack: String,
    /// SHA-256 of the pack's files.
    pub pack_sha256: String,
    /// What is asked, in words.
    pub about: String,
    /// Entropy of the answers now, in bits.
    pub entropy: f64,
    /// The leading answer: short code.
    pub leader: String,
    /// The leading answer: name.
    pub leader_name: String,
    /// Its probability.
    pub leader_probability: f64,
    /// Least bits per minute of a look worth taking.
    pub least_bits_per_minute: f64,
    /// Whether the pack gives none, so that this is the usual figure.
    pub least_is_usual: bool,
    /// Looks, the most bits per minute first.
    pub looks: Vec<LookWorth>,
    /// Clues that are not weighed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub not_offered: Vec<NotOffered>,
}

/// A question about a piece, with all that is needed to weigh looks.
pub(crate) struct Asked<'a> {
    pub subject: Subject<'a>,
    /// The piece as it is judged now.
    pub answer: query::Answer,
    pub offer: Offer,
    /// Probability of each answer now.
    answers: Vec<f64>,
    leader: usize,
}

/// A look under circumstances, its readings and their chances.
pub(crate) struct Weighed<'c> {
    pub candidate: &'c Candidate,
    setting: Vec<Circumstance>,
    cost: Cost,
    readings: Readings,
    /// P(answer, configuration of the parents), for a measure.
    configurations: Vec<Vec<f64>>,
}

impl<'a> Asked<'a> {
    pub fn new(
        compiled: &'a CompiledModel,
        piece: &Piece,
        options: &Options,
    ) -> Result<Self, NextLookError> {
        let subject = Subject::find(compiled, &options.about)?;
        let answer = subject.compiled.ask(piece)?;
        let states = marginal(&answer.posterior, subject.variable);
        if states.is_empty() {
            return Err(NextLookError::NoAnswer {
                words: subject.words,
            });
        }
        let mut answers = vec![0.0; subject.answers.len()];
        for (p, &class) in states.iter().zip(&subject.class_of) {
            answers[class] += p;
        }
        let evidence = &answer.entered.evidence;
        let offer = Offer::new(&subject.compiled.model, piece, evidence, &options.again);
        Ok(Self {
            leader: most_probable(&answers).unwrap_or(0),
            subject,
            answer,
            offer,
            answers,
        })
    }

    fn model(&self) -> &Model {
        &self.subject.compiled.model
    }

    /// All that is found.
    fn evidence(&self) -> &Evidence {
        &self.answer.entered.evidence
    }

    /// The settings of some circumstances.
    fn settings(&self, circumstances: &[usize]) -> Result<Vec<Vec<Circumstance>>, NextLookError> {
        let clues = &self.model().catalogue.clues;
        let n_states = circumstances.iter().map(|&c| clues[c].states.len());
        let n = n_states.fold(1_usize, |n, states| n.saturating_mul(states));
        if n > MOST_SETTINGS {
            let open = circumstances.iter().map(|&c| clues[c].id.clone());
            return Err(NextLookError::TooManySettings {
                open: open.collect(),
            });
        }
        Ok(candidates::settings(self.model(), circumstances))
    }

    /// The worlds between which some looks decide, under one setting; only the answers themselves if `alone`.
    fn worlds(
        &self,
        setting: &[Circumstance],
        looks: &[ClueTarget],
        alone: bool,
    ) -> Result<Worlds, NextLookError> {
        let compiled = &self.subject.compiled;
        let evidence = assuming(self.model(), self.evidence(), setting);
        let question = self.subject.variable;
        let order = if alone {
            vec![question]
        } else {
            separators::separators(&compiled.model.network, &evidence, question, looks)
        };
        let walk = Walk {
            circuit: &compiled.circuit,
            parameters: &compiled.parameters,
            question,
            order: &order,
            looks,
            most: MOST_WORLDS,
        };
        walk.worlds(&evidence).map_err(NextLookError::Worlds)
    }

    /// Some looks under one setting, their readings in every world.
    fn weighed<'c>(
        &self,
        candidates: &[&'c Candidate],
        setting: &[Circumstance],
        worlds: &Worlds,
    ) -> Vec<Weighed<'c>> {
        let model = self.model();
        let n_answers = self.answers.len();
        let weigh = |(&candidate, outcomes): (&&'c Candidate, &worlds::Outcomes)| {
            let names = &model.catalogue.clues[candidate.clue].states;
            let own = setting.iter().filter(|(c, _)| candidate.needs.contains(c));
            let own: Vec<Circumstance> = own.copied().collect();
            let readings = readings(model, candidate.target, names, outcomes, worlds);
            let mut configurations = Vec::new();
            if !matches!(readings, Readings::Exact(_)) {
                configurations = vec![vec![0.0; outcomes.n]; n_answers];
                for (world, (weight, state)) in
                    worlds.weights.iter().zip(&worlds.states).enumerate()
                {
                    let row = &mut configurations[self.subject.class_of[*state]];
                    for (sum, p) in row.iter_mut().zip(outcomes.in_world(world)) {
                        *sum += weight * p;
                    }
                }
            }
            Weighed {
                candidate,
                cost: cost(model, candidate.clue, self.evidence(), &own),
                setting: own,
                readings,
                configurations,
            }
        };
        candidates.iter().zip(&worlds.looks).map(weigh).collect()
    }

    /// Every look by itself, under every setting of the circumstances it needs.
    pub fn single_looks(&self) -> Result<Vec<(Weighed<'_>, Worlds)>, NextLookError> {
        let mut all = Vec::new();
        for (place, first) in self.offer.candidates.iter().enumerate() {
            let earlier = &self.offer.candidates[..place];
            if earlier.iter().any(|c| c.needs == first.needs) {
                continue;
            }
            let alike = self
                .offer
                .candidates
                .iter()
                .filter(|c| c.needs == first.needs);
            let alike: Vec<&Candidate> = alike.collect();
            let targets: Vec<ClueTarget> = alike.iter().map(|c| c.target).collect();
            for setting in self.settings(&first.needs)? {
                let worlds = self.worlds(&setting, &targets, true)?;
                for weighed in self.weighed(&alike, &setting, &worlds) {
                    all.push((weighed, worlds.clone()));
                }
            }
        }
        // In the order of the pack, whatever was reckoned together.
        all.sort_by_key(|(weighed, _)| weighed.candidate.clue);
        Ok(all)
    }

    fn with(&self, setting: &[Circumstance]) -> Vec<With> {
        let with = |&(circumstance, state): &Circumstance| {
            let clue = &self.model().catalogue.clues[circumstance];
            With {
                circumstance: clue.id.clone(),
                name: clue.name.clone(),
                state: clue.states[state].clone(),
            }
        };
        setting.iter().map(with).collect()
    }

    /// Bits, chance of another leader, and how they were reckoned.
    fn worth(&self, weighed: &Weighed<'_>, worlds: &Worlds) -> (f64, f64, Reckoned) {
        let (channel, reckoned) = match &weighed.readings {
            Readings::Exact(channel) => (channel, Reckoned::Sum),
            Readings::Quantity { points, .. } => (points, Reckoned::Quadrature),
            Readings::Several(measure) => {
                let joint = &weighed.configurations;
                let drawn = measured::drawn(self.model(), *measure, joint, self.leader);
                return match drawn {
                    Some(drawn) => (
                        drawn.bits.mean,
                        drawn.changes.mean,
                        Reckoned::Sampling {
                            draws: measured::DRAWS,
                            seed: measured::SEED,
                            bits: drawn.bits.standard_error,
                            leader_changes: drawn.changes.standard_error,
                        },
                    ),
                    // A measure without a density of its own tells of nothing.
                    None => (0.0, 0.0, Reckoned::Sum),
                };
            }
        };
        let joint = channel.joint(worlds, &self.subject.class_of, self.answers.len());
        let information = information::of_joint(&self.answers, &joint);
        let changes = joint
            .iter()
            .filter(|row| most_probable(row) != Some(self.leader));
        // A reading that cannot be has no leader.
        let changes = changes.fold(0.0, |sum, row| sum + row.iter().sum::<f64>());
        (information.bits, changes, reckoned)
    }

    /// What is left open, in bits.
    fn entropy(&self) -> f64 {
        entropy(&self.answers)
    }

    /// What one look is worth.
    pub(crate) fn look_worth(
        &self,
        piece: &Piece,
        weighed: &Weighed<'_>,
        worlds: &Worlds,
    ) -> LookWorth {
        let looks = &self.model().catalogue.looks;
        let least = looks.least_bits_per_minute();
        let clue = &self.model().catalogue.clues[weighed.candidate.clue];
        let (bits, leader_changes, reckoned) = self.worth(weighed, worlds);
        let tools = weighed.cost.tools.iter().map(|&tool| &looks.tools[tool]);
        let minutes = weighed.cost.minutes + tools.clone().map(|tool| tool.minutes).sum::<f64>();
        LookWorth {
            clue: clue.id.clone(),
            name: clue.name.clone(),
            with: self.with(&weighed.setting),
            replaces: weighed.candidate.replaces.clone(),
            minutes,
            minutes_are_usual: weighed.cost.is_usual,
            tools: tools.map(|tool| tool.name.clone()).collect(),
            bits,
            expected_entropy: self.entropy() - bits,
            leader_changes,
            opinion_changes: self.opinion_changes(piece, weighed, worlds),
            bits_per_minute: bits / minutes,
            is_worth_it: bits / minutes >= least,
            reckoned,
            how: clue.look.clone(),
        }
    }
}

impl CompiledModel {
    /// What each look that is left is worth, the most bits per minute first.
    ///
    /// # Errors
    /// As for [`CompiledModel::ask`]; [`NextLookError`] for a question that does not suit the pack.
    pub fn next_look(&self, piece: &Piece, options: &Options) -> Result<NextLook, NextLookError> {
        let asked = Asked::new(self, piece, options)?;
        let model = asked.model();
        let costs = &model.catalogue.looks;
        let mut looks: Vec<LookWorth> = asked
            .single_looks()?
            .iter()
            .map(|(weighed, worlds)| asked.look_worth(piece, weighed, worlds))
            .collect();
        looks.sort_by(|a, b| b.bits_per_minute.total_cmp(&a.bits_per_minute));
        let leader = &asked.subject.answers[asked.leader];
        Ok(NextLook {
            piece: crate::what_if::title(&self.model, piece),
            pack: model.name.clone(),
            pack_sha256: model.hash.clone(),
            about: asked.subject.words.clone(),
            entropy: asked.entropy(),
            leader: leader.id.clone(),
            leader_name: leader.name.clone(),
            leader_probability: asked.answers[asked.leader],
            least_bits_per_minute: costs.least_bits_per_minute(),
            least_is_usual: costs.bits_per_minute.is_none(),
            looks,
            not_offered: asked.offer.not_offered.clone(),
        })
    }
}
