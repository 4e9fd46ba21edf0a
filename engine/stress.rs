//! Would the verdict hold if the priors were wrong by as much as the experience behind them allows?
//!
//! Every belief of the pack is drawn at once around what was said, by its `seen`; the tables are rewritten and the piece is
//! judged again, many times. Every block of [`LANES`] draws has a random stream of its own, so a run gives the same figures
//! whatever the number of threads. [`DirichletTables`] draws the tables of any other network.

mod dirichlet;
mod draw;
mod elementary;
mod estimate;
mod explained;
mod gamma;
mod judge;
#[cfg(test)]
mod kolmogorov_smirnov;
mod ladder;
mod needed;
mod plan;
mod run;
mod source;
mod tables;
mod together;
mod trivariate;
pub mod variance;

use serde::Serialize;

use crate::model::CompiledModel;
use crate::piece::Piece;
use crate::query::{Answer, AskError};
use crate::question::{Asked, Posed, Question};
use crate::verdict::opinion::Opinion;
use crate::verdict::wording;
use estimate::{mean, quantile, share, unseen_up_to};
use judge::{Judge, Outcome};

pub use estimate::Estimate;
pub use explained::{BeliefExplains, Explained};
pub use plan::{FEW_DRAWS, MOST_DOUBT, MOST_DRAWS, StressError, StressPlan};
pub use tables::{DirichletTables, DrawError};

/// The outcome of a stress run.
#[derive(Clone, Debug, Serialize)]
pub struct Stress {
    /// The piece's title.
    pub piece: String,
    /// What is asked: as a rule, whether the maker that leads at the stated beliefs made it.
    pub question: Asked,
    /// Probability of the claim at the stated beliefs.
    pub stated: f64,
    /// Draws made.
    pub draws: usize,
    /// Seed.
    pub seed: u64,
    /// Beliefs drawn.
    pub beliefs: usize,
    /// Beliefs the pack holds.
    pub all_beliefs: usize,
    /// How many times fewer pieces each belief was taken to rest on than its `seen`; 1 as stated.
    pub doubt: f64,
    /// Draws under which the findings became impossible; they are left out of the figures below.
    pub impossible_draws: usize,
    /// Mean of the claim's probability.
    pub mean: Estimate,
    /// 5 % of the draws lie below.
    pub low: Estimate,
    /// Half of the draws lie below.
    pub median: Estimate,
    /// 95 % of the draws lie below.
    pub high: Estimate,
    /// How many of the possible draws gave the claim a probability in each of [`BANDS`] bands of equal width from 0 to 1: a
    /// band holds its lower end, the last one both.
    pub draws_by_band: Vec<usize>,
    /// Share of the draws in which the claim holds: in which the leading maker still leads, or the claim is still more (or
    /// still less) probable than what it is weighed against.
    pub holds: Estimate,
    /// What came in no draw may still have up to this share, with 95 % confidence; what came in all of them may lack it. A
    /// standard error of 0 says nothing of that.
    pub unseen_up_to: f64,
    /// Makers that lead in other draws, with their share; empty unless a maker is asked about.
    pub other_leaders: Vec<(String, f64)>,
    /// What becomes of the verdict's words; none unless the leading maker is asked about.
    pub wording: Option<WordingHolds>,
}

/// What becomes of the words of the verdict when the priors are doubted.
#[derive(Clone, Debug, Serialize)]
pub struct WordingHolds {
    /// The words as stated, without their chances.
    pub words: String,
    /// Share of the draws in which they would be the same.
    pub holds: Estimate,
    /// Other words, the most frequent first, with their share of the draws.
    pub others: Vec<(String, f64)>,
}

/// Other words kept at most: the rest are hardly met.
const MOST_OTHERS: usize = 20;

impl Stress {
    /// A share of the draws in words: `0.8120 ± 0.0124 of the draws`, or what can be said of something that came in all or none.
    #[must_use]
    pub fn of_the_draws(&self, share: Estimate) -> String {
        let up_to = self.unseen_up_to;
        let up_to = match up_to {
            p if p < 0.0001 => format!("{p:.1e}"),
            p => format!("{p:.4}"),
        };
        match share.value {
            1.0 => format!(
                "all of the draws (of further ones up to {up_to} may differ, with 95 % confidence)"
            ),
            0.0 => format!(
                "none of the draws (up to {up_to} of further ones may, with 95 % confidence)"
            ),
            value => format!("{value:.4} ± {:.4} of the draws", share.standard_error),
        }
    }
}

/// Bands of probability that draws are counted in.
pub const BANDS: usize = 20;

/// How many of these probabilities lie in each band.
fn by_band(probabilities: &[f64]) -> Vec<usize> {
    let mut counts = vec![0; BANDS];
    for p in probabilities {
        // The ends are compared as written, `k / 20`: p · 20 could round up to a whole number that p does not reach.
        let band = (1..BANDS).take_while(|&k| *p >= k as f64 / BANDS as f64);
        counts[band.count()] += 1;
    }
    counts
}

impl CompiledModel {
    /// Draws the beliefs again and again and judges the piece under each draw: whether its leading maker still leads, and
    /// whether the verdict would be worded alike.
    ///
    /// A wording may need findings that do not pull against each other. That is looked at once, at the stated beliefs.
    ///
    /// # Errors
    /// [`StressError`] for a plan that is out of bounds, and whatever [`CompiledModel::ask`] reports.
    pub fn stress(&self, piece: &Piece, plan: &StressPlan<'_>) -> Result<Stress, StressError> {
        plan.check()?;
        let answer = self.ask(piece)?;
        let leader = self.leader(&answer)?;
        let question = self.question_of_leader(&answer)?;
        let posed = self.pose(&question).map_err(AskError::from)?;
        self.stressed(piece, &answer, &posed, Some(leader), plan)
    }

    /// The same for any question.
    ///
    /// # Errors
    /// As for [`CompiledModel::stress`]; also if the question cannot be put to the pack.
    pub fn stress_on(
        &self,
        piece: &Piece,
        question: &Question,
        plan: &StressPlan<'_>,
    ) -> Result<Stress, StressError> {
        plan.check()?;
        let answer = self.ask(piece)?;
        let posed = self.pose(question).map_err(AskError::from)?;
        self.stressed(piece, &answer, &posed, None, plan)
    }

    fn stressed(
        &self,
        piece: &Piece,
        answer: &Answer,
        posed: &Posed<'_>,
        leader: Option<usize>,
        plan: &StressPlan<'_>,
    ) -> Result<Stress, StressError> {
        let (judge, stated) = Judge::new(piece, answer, posed, leader, plan)?;
        let outcomes = run::run(&judge, plan)?;
        let possible: Vec<Outcome> = outcomes.iter().flatten().copied().collect();
        if possible.is_empty() {
            return Err(StressError::NothingPossible(outcomes.len()));
        }
        let mut sorted: Vec<f64> = possible.iter().map(|o| o.claim).collect();
        sorted.sort_by(f64::total_cmp);
        let n_holds = possible.iter().filter(|o| o.holds).count();
        let beliefs = plan.beliefs.map_or(self.model.beliefs.len(), <[_]>::len);
        Ok(Stress {
            piece: crate::what_if::title(&self.model, piece),
            question: posed.asked(),
            stated: stated.claim,
            draws: outcomes.len(),
            seed: plan.seed,
            beliefs,
            all_beliefs: self.model.beliefs.len(),
            doubt: plan.doubt,
            impossible_draws: outcomes.len() - possible.len(),
            mean: mean(&sorted),
            low: quantile(&sorted, 0.05),
            median: quantile(&sorted, 0.5),
            high: quantile(&sorted, 0.95),
            draws_by_band: by_band(&sorted),
            holds: share(n_holds, possible.len()),
            unseen_up_to: unseen_up_to(possible.len()),
            other_leaders: leader
                .map_or_else(Vec::new, |leader| self.other_leaders(leader, &possible)),
            wording: stated
                .opinion
                .map(|stated| self.wording_holds(stated, &possible)),
        })
    }

    fn other_leaders(&self, leader: usize, outcomes: &[Outcome]) -> Vec<(String, f64)> {
        let makers = &self.model.catalogue.makers;
        let mut led = vec![0_usize; makers.len()];
        for outcome in outcomes {
            led[outcome.leads] += 1;
        }
        let others = (0..led.len()).filter(|&m| m != leader && led[m] > 0);
        let mut others: Vec<usize> = others.collect();
        others.sort_by(|&a, &b| led[b].cmp(&led[a]).then(a.cmp(&b)));
        let share = |&m: &usize| (makers[m].id.clone(), led[m] as f64 / outcomes.len() as f64);
        others.iter().map(share).collect()
    }

    fn wording_holds(&self, stated: Opinion, outcomes: &[Outcome]) -> WordingHolds {
        let words = |opinion| wording::words(&self.model, opinion, None);
        let mut met: Vec<(Opinion, usize)> = Vec::new();
        let mut n_same = 0;
        for opinion in outcomes.iter().filter_map(|o| o.opinion) {
            if opinion == stated {
                n_same += 1;
            } else if let Some((_, n)) = met.iter_mut().find(|(met, _)| *met == opinion) {
                *n += 1;
            } else {
                met.push((opinion, 1));
            }
        }
        let mut others: Vec<(String, f64)> = met
            .into_iter()
            .map(|(opinion, n)| (words(opinion), n as f64 / outcomes.len() as f64))
            .collect();
        others.sort_by(|a, b| b.1.total_cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
        others.truncate(MOST_OTHERS);
        WordingHolds {
            words: words(stated),
            holds: share(n_same, outcomes.len()),
            others,
        }
    }
}
