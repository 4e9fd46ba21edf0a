//! The search for the best plan: every set of looks and readings, each once.

use std::collections::HashMap;

use super::MOST_LOOKS;
use super::problem::{History, Problem};
use crate::stop::Stop;

/// A history in order, so that all ways to the same one share an entry.
type Key = [u32; MOST_LOOKS];

/// What is best after a history: the look to take, or to stop; and expected entropy and price to come, times the chance of
/// the history.
#[derive(Clone, Copy, Debug)]
pub(super) struct Choice {
    /// The look; none: stop.
    pub look: Option<usize>,
    cost: f64,
}

/// A search under way.
pub(super) struct Search<'p> {
    problem: &'p Problem,
    known: HashMap<Key, Choice>,
    stop: &'p Stop,
    is_stopped: bool,
}

impl<'p> Search<'p> {
    pub(super) fn new(problem: &'p Problem, stop: &'p Stop) -> Self {
        Self {
            problem,
            known: HashMap::new(),
            stop,
            is_stopped: false,
        }
    }

    /// Whether it was broken off, so that what it found means nothing.
    pub(super) fn is_stopped(&self) -> bool {
        self.is_stopped
    }

    /// The best choice after a history, `left` looks to go.
    pub(super) fn best(&mut self, worlds: &[f64], history: &mut History, left: usize) -> Choice {
        let mut best = Choice {
            look: None,
            cost: self.problem.entropy(worlds),
        };
        if left == 0 || self.is_stopped {
            return best;
        }
        let key = key(history);
        if let Some(&choice) = self.known.get(&key) {
            return choice;
        }
        self.is_stopped = self.stop.is_due();
        let problem = self.problem;
        let chance: f64 = worlds.iter().sum();
        for look in 0..problem.looks.len() {
            let taken = history.iter().map(|&(look, _)| look);
            if taken.clone().any(|l| l == look) {
                continue;
            }
            let mut cost = chance * problem.price * problem.minutes(look, taken);
            // No look leaves less than nothing.
            if cost >= best.cost {
                continue;
            }
            if left == 1 {
                cost += problem.entropy_after(worlds, look);
            } else {
                for reading in 0..problem.looks[look].channel.chances.len() {
                    let after = problem.after(worlds, look, reading);
                    if after.iter().all(|&w| w == 0.0) {
                        continue;
                    }
                    history.push((look, reading));
                    cost += self.best(&after, history, left - 1).cost;
                    history.pop();
                    if cost >= best.cost {
                        break;
                    }
                }
            }
            if cost < best.cost {
                best = Choice {
                    look: Some(look),
                    cost,
                };
            }
        }
        self.known.insert(key, best);
        best
    }
}

fn key(history: &History) -> Key {
    let mut key = [u32::MAX; MOST_LOOKS];
    for (cell, &(look, reading)) in key.iter_mut().zip(history) {
        *cell = ((look as u32) << 16) | reading as u32;
    }
    key.sort_unstable();
    key
}
