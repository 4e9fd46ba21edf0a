//! Would the verdict hold if the priors were wrong by as much as the experience behind them allows?
//!
//! Every belief of the pack is drawn at once around what was said, by its `seen`; the tables are rewritten and the piece is
//! judged again, many times. Every block of [`LANES`] draws has a random stream of its own, so a run gives the same figures
//! whatever the number of threads. [`DirichletTables`] draws the tables of any other network.

mod dirichlet;
mod draw;
mod elementary;
mod gamma;
mod judge;
#[cfg(test)]
mod kolmogorov_smirnov;
mod needed;
mod source;
mod tables;
mod trivariate;

use std::time::Instant;

use rayon::prelude::*;
use serde::Serialize;

use crate::circuit::{LANES, Specialised};
use crate::model::{BeliefId, CompiledModel};
use crate::piece::Piece;
use crate::query::{Answer, AskError, marginal, most_probable};
use draw::Sampler;
use judge::Judge;
use needed::Needed;

pub use tables::{DirichletTables, DrawError};

/// The most draws one run may ask for.
pub const MOST_DRAWS: usize = 10_000_000;

/// A figure from samples with its Monte Carlo standard error.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Estimate {
    /// The figure.
    pub value: f64,
    /// Its standard error over the draws.
    pub standard_error: f64,
}

/// The outcome of a stress run.
#[derive(Clone, Debug, Serialize)]
pub struct Stress {
    /// The piece's title.
    pub piece: String,
    /// The maker that leads at the stated beliefs.
    pub maker: String,
    /// Its name.
    pub maker_name: String,
    /// Its probability at the stated beliefs.
    pub stated: f64,
    /// Draws made.
    pub draws: usize,
    /// Seed.
    pub seed: u64,
    /// Beliefs drawn.
    pub beliefs: usize,
    /// Beliefs the pack holds.
    pub all_beliefs: usize,
    /// Draws under which the findings became impossible; they are left out of the figures below.
    pub impossible_draws: usize,
    /// Mean of the leader's probability.
    pub mean: Estimate,
    /// 5 % of the draws lie below.
    pub low: Estimate,
    /// Half of the draws lie below.
    pub median: Estimate,
    /// 95 % of the draws lie below.
    pub high: Estimate,
    /// Share of the draws in which the leader still leads.
    pub leader_holds: Estimate,
    /// Makers that lead in other draws, with their share.
    pub other_leaders: Vec<(String, f64)>,
}

/// Why a stress run was not made.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum StressError {
    /// Too few or too many draws.
    #[error("a stress run takes from 2 to {MOST_DRAWS} draws, not {0}")]
    Draws(usize),
    /// The deadline passed before the last draw.
    #[error("the time given to the run is up")]
    OutOfTime,
    /// The findings are impossible under every draw.
    #[error("under none of the {0} draws were the findings possible")]
    NothingPossible(usize),
    /// The piece could not be judged.
    #[error(transparent)]
    Ask(#[from] AskError),
}

/// One draw: the probability of the maker that leads as stated, and who leads here.
#[derive(Clone, Copy)]
struct Outcome {
    stated_leader: f64,
    leads: usize,
}

impl CompiledModel {
    /// Draws all beliefs `draws` times and judges the piece under each, until a deadline if there is one.
    ///
    /// # Errors
    /// [`StressError`] for a number of draws that is out of bounds, and whatever [`CompiledModel::ask`] reports.
    pub fn stress(
        &self,
        piece: &Piece,
        draws: usize,
        seed: u64,
        deadline: Option<Instant>,
    ) -> Result<Stress, StressError> {
        let all: Vec<BeliefId> = self.model.beliefs.iter().map(|(id, _)| id).collect();
        self.stress_over(piece, &all, draws, seed, deadline)
    }

    /// The same with only some beliefs drawn, the others kept as stated.
    ///
    /// # Errors
    /// As for [`CompiledModel::stress`].
    pub fn stress_over(
        &self,
        piece: &Piece,
        beliefs: &[BeliefId],
        draws: usize,
        seed: u64,
        deadline: Option<Instant>,
    ) -> Result<Stress, StressError> {
        if !(2..=MOST_DRAWS).contains(&draws) {
            return Err(StressError::Draws(draws));
        }
        if self.model.catalogue.leaves_out("maker") {
            return Err(AskError::MakerNotAsked.into());
        }
        let answer = self.ask(piece)?;
        let maker = self.model.catalogue.maker;
        let stated = marginal(&answer.posterior, maker);
        let leader = most_probable(stated).unwrap_or(0);
        let outcomes = self.outcomes(piece, &answer, beliefs, draws, seed, deadline)?;
        let possible: Vec<Outcome> = outcomes.iter().flatten().copied().collect();
        if possible.is_empty() {
            return Err(StressError::NothingPossible(draws));
        }
        let n_makers = stated.len();
        let mut led = vec![0usize; n_makers];
        for outcome in &possible {
            led[outcome.leads] += 1;
        }
        let n = possible.len() as f64;
        let makers = &self.model.catalogue.makers;
        let mut others: Vec<(usize, usize)> = (0..n_makers)
            .filter(|&m| m != leader && led[m] > 0)
            .map(|m| (led[m], m))
            .collect();
        others.sort_by(|a, b| b.0.cmp(&a.0).then(a.1.cmp(&b.1)));
        let mut sorted: Vec<f64> = possible.iter().map(|o| o.stated_leader).collect();
        sorted.sort_by(f64::total_cmp);
        Ok(Stress {
            piece: piece.title.clone(),
            maker: makers[leader].id.clone(),
            maker_name: makers[leader].name.clone(),
            stated: stated[leader],
            draws,
            seed,
            beliefs: beliefs.len(),
            all_beliefs: self.model.beliefs.len(),
            impossible_draws: draws - possible.len(),
            mean: mean(&sorted),
            low: quantile(&sorted, 0.05),
            median: quantile(&sorted, 0.5),
            high: quantile(&sorted, 0.95),
            leader_holds: share(led[leader], possible.len()),
            other_leaders: others
                .into_iter()
                .map(|(count, m)| (makers[m].id.clone(), count as f64 / n))
                .collect(),
        })
    }

    /// One outcome a draw, in order; `None` where the draw made the findings impossible.
    ///
    /// Draws are judged in blocks of [`LANES`]; block `i` has stream `i` of the seed, whatever thread it falls to.
    fn outcomes(
        &self,
        piece: &Piece,
        answer: &Answer,
        beliefs: &[BeliefId],
        draws: usize,
        seed: u64,
        deadline: Option<Instant>,
    ) -> Result<Vec<Option<Outcome>>, StressError> {
        let model = &self.model;
        let entered = &answer.entered;
        let stated = marginal(&answer.posterior, model.catalogue.maker);
        let question = Specialised::compile_posterior(
            model.network.structure(),
            &entered.evidence,
            model.catalogue.maker,
        )
        .map_err(|error| self.explain(error, piece, entered))?;
        let mut needed = Needed::of(model, &question, &entered.evidence);
        let samplers: Vec<Sampler> = beliefs
            .iter()
            .filter_map(|&id| Sampler::new(id, model.beliefs.get(id), needed.use_of(id)?))
            .collect();
        needed.keep_drawn(model, |id| beliefs.contains(&id));
        let judge = Judge {
            compiled: self,
            piece,
            entered,
            question: &question,
            needed: &needed,
            samplers: &samplers,
            seed,
            leader: most_probable(stated).unwrap_or(0),
        };
        let blocks: Result<Vec<Vec<Option<Outcome>>>, StressError> = (0..draws.div_ceil(LANES))
            .into_par_iter()
            .map_init(
                || judge.bench(),
                |bench, block| {
                    if deadline.is_some_and(|deadline| Instant::now() >= deadline) {
                        return Err(StressError::OutOfTime);
                    }
                    judge.block(bench, block, LANES.min(draws - block * LANES))
                },
            )
            .collect();
        Ok(blocks?.into_iter().flatten().collect())
    }
}

fn mean(values: &[f64]) -> Estimate {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0);
    Estimate {
        value: mean,
        standard_error: (variance / n).sqrt(),
    }
}

/// A share of draws, with the binomial standard error √(p(1−p)/n).
fn share(count: usize, n: usize) -> Estimate {
    let (count, n) = (count as f64, n as f64);
    let p = count / n;
    Estimate {
        value: p,
        standard_error: (p * (1.0 - p) / n).sqrt(),
    }
}

/// A quantile of sorted values (linear between order statistics), with half the distance between the quantiles one
/// binomial standard error to either side as its standard error.
///
/// Source: the order-statistic interval of David & Nagaraja 2003, *Order Statistics* (3rd ed.), sec. 7.1.
fn quantile(sorted: &[f64], p: f64) -> Estimate {
    let n = sorted.len() as f64;
    let at = |p: f64| {
        let place = p.clamp(0.0, 1.0) * (n - 1.0);
        let (low, high) = (place.floor() as usize, place.ceil() as usize);
        sorted[low] + (sorted[high] - sorted[low]) * place.fract()
    };
    let step = (p * (1.0 - p) / n).sqrt();
    Estimate {
        value: at(p),
        standard_error: (at(p + step) - at(p - step)) / 2.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_lie_between_order_statistics() {
        let sorted: Vec<f64> = (0..=100).map(f64::from).collect();
        assert_eq!(quantile(&sorted, 0.05).value, 5.0);
        assert_eq!(quantile(&sorted, 0.5).value, 50.0);
        assert_eq!(quantile(&[1.0], 0.95).value, 1.0);
        assert!((quantile(&[0.0, 1.0], 0.25).value - 0.25).abs() < 1e-15);
    }

    #[test]
    fn a_share_carries_its_binomial_error() {
        let estimate = share(25, 100);
        assert_eq!(estimate.value, 0.25);
        assert!(
            (estimate.standard_error - 0.25_f64.mul_add(0.75, 0.0).sqrt() / 10.0).abs() < 1e-15
        );
    }
}
