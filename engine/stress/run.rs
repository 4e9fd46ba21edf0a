//! The draws of a run, in blocks, round by round.

use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use super::judge::{Judge, Outcome};
use super::plan::{StressError, StressPlan};
use crate::circuit::LANES;
use crate::stop::Stop;

/// Draws after which a run with a wanted standard error looks whether it is reached.
pub const DRAWS_BETWEEN_LOOKS: usize = 4096;

/// One outcome for each draw, in order; `None` where the draw made the findings impossible.
///
/// Draws are judged in blocks of [`LANES`]; block `i` has stream `i` of the seed, whatever thread it falls to.
pub(super) fn run(
    judge: &Judge<'_>,
    plan: &StressPlan<'_>,
) -> Result<Vec<Option<Outcome>>, StressError> {
    let mut outcomes: Vec<Option<Outcome>> = Vec::new();
    let done = AtomicUsize::new(0);
    while outcomes.len() < plan.draws {
        let left = plan.draws - outcomes.len();
        let round = plan.until.map_or(left, |_| left.min(DRAWS_BETWEEN_LOOKS));
        let first_block = outcomes.len() / LANES;
        let blocks: Result<Vec<Vec<Option<Outcome>>>, StressError> = (0..round.div_ceil(LANES))
            .into_par_iter()
            .map_init(
                || judge.bench(),
                |bench, block| {
                    if plan.stop.is_some_and(Stop::is_due) {
                        return Err(StressError::Stopped);
                    }
                    let draws = LANES.min(round - block * LANES);
                    let outcomes = judge.block(bench, first_block + block, draws)?;
                    if let Some(progress) = plan.progress {
                        let so_far = done.fetch_add(draws, Ordering::Relaxed) + draws;
                        progress(so_far, plan.draws);
                    }
                    Ok(outcomes)
                },
            )
            .collect();
        outcomes.extend(blocks?.into_iter().flatten());
        if plan.until.is_some_and(|until| is_reached(&outcomes, until)) {
            break;
        }
    }
    Ok(outcomes)
}

/// Whether the mean of the claim and the share of draws in which it holds are known so well.
fn is_reached(outcomes: &[Option<Outcome>], until: f64) -> bool {
    let possible: Vec<&Outcome> = outcomes.iter().flatten().collect();
    let claims: Vec<f64> = possible.iter().map(|o| o.claim).collect();
    let n_holds = possible.iter().filter(|o| o.holds).count();
    possible.len() > 1
        && super::mean(&claims).standard_error <= until
        && super::share(n_holds, possible.len()).standard_error <= until
}
