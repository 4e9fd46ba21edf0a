//! Which beliefs explain the spread of a stress run.

use rayon::prelude::*;
use serde::Serialize;

use super::Estimate;
use super::judge::Judge;
use super::plan::{StressError, StressPlan};
use super::variance::{Indices, PairedDraw, indices};
use crate::circuit::LANES;
use crate::model::{BeliefId, CompiledModel};
use crate::piece::Piece;
use crate::query::AskError;
use crate::question::{Asked, Question};

/// Which beliefs explain how far the probability of a claim spreads when all of them are doubted at once.
#[derive(Clone, Debug, Serialize)]
pub struct Explained {
    /// The piece's title.
    pub piece: String,
    /// What is asked.
    pub question: Asked,
    /// Probability of the claim at the stated beliefs.
    pub stated: f64,
    /// Pairs of draws made; each takes one judgement for every belief and two more.
    pub draws: usize,
    /// Seed.
    pub seed: u64,
    /// How many times fewer pieces each belief was taken to rest on than its `seen`.
    pub doubt: f64,
    /// Draws under which the findings became impossible; they are left out.
    pub impossible_draws: usize,
    /// Standard deviation of the claim's probability over the draws.
    pub standard_deviation: f64,
    /// Beliefs that the answer can depend on, the one with the largest total index first.
    pub beliefs: Vec<BeliefExplains>,
    /// Sum of the first-order indices: what the beliefs explain one by one. What is missing to 1 they do together.
    pub one_by_one: f64,
}

/// What one belief explains of the spread.
#[derive(Clone, Debug, Serialize)]
pub struct BeliefExplains {
    /// What it is about; several that are doubted together, after one another.
    pub about: Vec<String>,
    /// `file:line` of each.
    pub rows: Vec<String>,
    /// Share of the variance that it explains on its own (first-order index).
    pub first: Estimate,
    /// Share that it explains on its own and together with others (total index).
    pub total: Estimate,
}

/// The most judgements one run may make.
const MOST_JUDGEMENTS: usize = 100_000_000;

impl CompiledModel {
    /// Which beliefs explain the spread of the leading maker's probability, or of another claim's.
    ///
    /// # Errors
    /// As for [`CompiledModel::stress`]; [`StressError::TooMany`] if draws and beliefs together are too many.
    pub fn stress_explained(
        &self,
        piece: &Piece,
        question: Option<&Question>,
        plan: &StressPlan<'_>,
    ) -> Result<Explained, StressError> {
        plan.check()?;
        let answer = self.ask(piece)?;
        let question = match question {
            Some(question) => question.clone(),
            None => self.question_of_leader(&answer)?,
        };
        let posed = self.pose(&question).map_err(AskError::from)?;
        let (judge, stated) = Judge::new(piece, &answer, &posed, None, plan)?;
        let judgements = plan.draws.saturating_mul(judge.samplers.len() + 2);
        if judgements > MOST_JUDGEMENTS {
            return Err(StressError::TooMany {
                judgements,
                most: MOST_JUDGEMENTS,
            });
        }
        let draws = swapped_draws(&judge, plan)?;
        let possible: Vec<PairedDraw> = draws.iter().flatten().cloned().collect();
        if possible.is_empty() {
            return Err(StressError::NothingPossible(draws.len()));
        }
        let explains = |(sampler, indices): (&super::draw::Sampler, &Indices)| {
            let beliefs = sampler.beliefs().iter();
            let beliefs = beliefs.map(|&id: &BeliefId| self.model.beliefs.get(id));
            BeliefExplains {
                about: beliefs.clone().map(|b| b.about.clone()).collect(),
                rows: beliefs.map(|b| b.citation.clone()).collect(),
                first: indices.first,
                total: indices.total,
            }
        };
        let (variance, found) = indices(&possible).unwrap_or_default();
        let mut beliefs: Vec<BeliefExplains> =
            judge.samplers.iter().zip(&found).map(explains).collect();
        beliefs.sort_by(|a, b| b.total.value.total_cmp(&a.total.value));
        Ok(Explained {
            piece: crate::what_if::title(&self.model, piece),
            question: posed.asked(),
            stated: stated.claim,
            draws: draws.len(),
            seed: plan.seed,
            doubt: plan.doubt,
            impossible_draws: draws.len() - possible.len(),
            standard_deviation: variance.sqrt(),
            one_by_one: beliefs.iter().map(|b| b.first.value).sum(),
            beliefs,
        })
    }
}

/// Both samples of every draw, with each belief swapped in turn; `None` where one of them made the findings impossible.
fn swapped_draws(
    judge: &Judge<'_>,
    plan: &StressPlan<'_>,
) -> Result<Vec<Option<PairedDraw>>, StressError> {
    let blocks: Result<Vec<Vec<Option<PairedDraw>>>, StressError> = (0..plan.draws.div_ceil(LANES))
        .into_par_iter()
        .map_init(
            || judge.bench(),
            |bench, block| {
                let n_draws = LANES.min(plan.draws - block * LANES);
                judge.swapped(bench, block, n_draws, plan.stop)
            },
        )
        .collect();
    Ok(blocks?.into_iter().flatten().collect())
}
