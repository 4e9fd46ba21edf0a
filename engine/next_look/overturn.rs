//! The readings that would overturn the verdict.

use serde::Serialize;

use super::candidates::{Candidate, Circumstance, NotOffered};
use super::readings::Readings;
use super::{Asked, NextLookError, Options, With};
use crate::model::CompiledModel;
use crate::piece::Piece;
use crate::query::most_probable;
use crate::verdict::Share;

/// Pairs of readings that are listed.
const MOST_PAIRS: usize = 10;

/// What each reading of each look would do to the verdict.
#[derive(Clone, Debug, Serialize)]
pub struct Overturn {
    /// The piece's title.
    pub piece: String,
    /// The pack's name.
    pub pack: String,
    /// SHA-256 of the pack's files.
    pub pack_sha256: String,
    /// What is asked, in words.
    pub about: String,
    /// The leading answer: short code.
    pub leader: String,
    /// The leading answer: name.
    pub leader_name: String,
    /// Its probability.
    pub leader_probability: f64,
    /// Readings after which another answer leads, the most probable first.
    pub overturning: Vec<Overturning>,
    /// If no single reading overturns the verdict: pairs that do, the most probable first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub pairs: Vec<OverturningPair>,
    /// Every look with every reading.
    pub looks: Vec<LookReadings>,
    /// Clues that are not weighed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub not_offered: Vec<NotOffered>,
}

/// A reading after which another answer leads.
#[derive(Clone, Debug, Serialize)]
pub struct Overturning {
    /// The clue's name in scripts.
    pub clue: String,
    /// The clue's name for people.
    pub name: String,
    /// Circumstances assumed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub with: Vec<With>,
    /// What would be read.
    #[serde(flatten)]
    pub after: After,
}

/// A reading, its chance, and what it leads to.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct After {
    /// The reading.
    pub reading: String,
    /// Its chance, given all that is found.
    pub chance: f64,
    /// The answer that leads then: short code.
    pub leader: String,
    /// The answer that leads then: name.
    pub leader_name: String,
    /// Its probability.
    pub probability: f64,
}

/// Two readings after which another answer leads.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OverturningPair {
    /// The clues' names in scripts.
    pub clues: [String; 2],
    /// The clues' names for people.
    pub names: [String; 2],
    /// Circumstances assumed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub with: Vec<With>,
    /// The readings.
    pub readings: [String; 2],
    /// The chance of both.
    pub chance: f64,
    /// The answer that leads then: short code.
    pub leader: String,
    /// The answer that leads then: name.
    pub leader_name: String,
    /// Its probability.
    pub probability: f64,
}

/// Every reading of one look.
#[derive(Clone, Debug, Serialize)]
pub struct LookReadings {
    /// The clue's name in scripts.
    pub clue: String,
    /// The clue's name for people.
    pub name: String,
    /// Circumstances assumed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub with: Vec<With>,
    /// Its readings, in the order of the pack; a quantity by bands; none for several quantities at once.
    pub readings: Vec<Reading>,
}

/// One reading, with all answers after it.
#[derive(Clone, Debug, Serialize)]
pub struct Reading {
    /// What it leads to.
    #[serde(flatten)]
    pub after: After,
    /// Whether another answer leads than now.
    pub overturns: bool,
    /// Every answer, in the order of the pack.
    pub answers: Vec<Share>,
}

impl CompiledModel {
    /// What each reading of each look that is left would do to the verdict, and which would overturn it.
    ///
    /// # Errors
    /// As for [`CompiledModel::next_look`].
    pub fn overturn(&self, piece: &Piece, options: &Options) -> Result<Overturn, NextLookError> {
        let asked = Asked::new(self, piece, options)?;
        let model = asked.model();
        let subject = &asked.subject;
        let mut looks = Vec::new();
        let mut overturning = Vec::new();
        for (weighed, worlds) in &asked.single_looks()? {
            let clue = &model.catalogue.clues[weighed.candidate.clue];
            let with = asked.with(&weighed.setting);
            let mut of_look = LookReadings {
                clue: clue.id.clone(),
                name: clue.name.clone(),
                with: with.clone(),
                readings: Vec::new(),
            };
            let (Readings::Exact(channel) | Readings::Quantity { bands: channel, .. }) =
                &weighed.readings
            else {
                looks.push(of_look);
                continue;
            };
            let joint = channel.joint(worlds, &subject.class_of, asked.answers.len());
            for (reading, row) in channel.readings.iter().zip(&joint) {
                let Some((after, leader)) = asked.after(reading.clone(), row) else {
                    continue;
                };
                let overturns = leader != asked.leader;
                if overturns {
                    overturning.push(Overturning {
                        clue: clue.id.clone(),
                        name: clue.name.clone(),
                        with: with.clone(),
                        after: after.clone(),
                    });
                }
                let share = |(answer, p): (&super::subject::Answer, &f64)| Share {
                    beyond_the_list: false,
                    id: answer.id.clone(),
                    name: answer.name.clone(),
                    probability: p / after.chance,
                };
                let answers = subject.answers.iter().zip(row).map(share).collect();
                of_look.readings.push(Reading {
                    after,
                    overturns,
                    answers,
                });
            }
            looks.push(of_look);
        }
        overturning.sort_by(|a, b| b.after.chance.total_cmp(&a.after.chance));
        let pairs = match overturning.is_empty() {
            true => asked.pairs()?,
            false => Vec::new(),
        };
        let leader = &subject.answers[asked.leader];
        Ok(Overturn {
            piece: crate::what_if::title(&self.model, piece),
            pack: model.name.clone(),
            pack_sha256: model.hash.clone(),
            about: subject.words.clone(),
            leader: leader.id.clone(),
            leader_name: leader.name.clone(),
            leader_probability: asked.answers[asked.leader],
            overturning,
            pairs,
            looks,
            not_offered: asked.offer.not_offered.clone(),
        })
    }
}

impl Asked<'_> {
    /// What a reading leads to, from the answers' chances together with it; none if it cannot be.
    fn after(&self, reading: String, row: &[f64]) -> Option<(After, usize)> {
        let chance: f64 = row.iter().sum();
        let leader = most_probable(row).filter(|_| chance > 0.0)?;
        let answer = &self.subject.answers[leader];
        let after = After {
            reading,
            chance,
            leader: answer.id.clone(),
            leader_name: answer.name.clone(),
            probability: row[leader] / chance,
        };
        Some((after, leader))
    }

    /// Pairs of readings after which another answer leads, the most probable first.
    fn pairs(&self) -> Result<Vec<OverturningPair>, NextLookError> {
        let mut found: Vec<OverturningPair> = Vec::new();
        let banded = self
            .offer
            .candidates
            .iter()
            .filter(|c| !self.gives_several(c));
        let banded: Vec<&Candidate> = banded.collect();
        let clues = &self.model().catalogue.clues;
        for setting in self.settings(&self.offer.open_circumstances())? {
            let problem = self.problem(&banded, &setting)?;
            for read in problem.pairs() {
                let Some((after, leader)) = self.after(String::new(), &read.answers) else {
                    continue;
                };
                if leader == self.leader {
                    continue;
                }
                let two = read.looks.map(|look| banded[look]);
                let is_needed =
                    |(c, _): &&Circumstance| two.iter().any(|look| look.needs.contains(c));
                let own: Vec<Circumstance> = setting.iter().filter(is_needed).copied().collect();
                let pair = OverturningPair {
                    clues: two.map(|look| clues[look.clue].id.clone()),
                    names: two.map(|look| clues[look.clue].name.clone()),
                    with: self.with(&own),
                    readings: read.readings,
                    chance: after.chance,
                    leader: after.leader,
                    leader_name: after.leader_name,
                    probability: after.probability,
                };
                // Looks that need none of the circumstances come out the same under all of them.
                let is_same = |known: &OverturningPair| {
                    (&known.clues, &known.readings, &known.with)
                        == (&pair.clues, &pair.readings, &pair.with)
                };
                if !found.iter().any(is_same) {
                    found.push(pair);
                }
            }
            found.sort_by(|a, b| b.chance.total_cmp(&a.chance));
            found.truncate(MOST_PAIRS);
        }
        Ok(found)
    }
}
