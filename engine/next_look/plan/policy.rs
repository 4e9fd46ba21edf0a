//! Ways to choose: a list settled beforehand, step by step, and the best plan there is.

use super::problem::{History, Problem};
use super::search::Search;
use super::tree::{End, Node, Outcome};
use crate::next_look::information::entropy;
use crate::query::most_probable;
use crate::stop::Stop;

impl Problem {
    /// The looks of the highest bits per minute, one after the other, before any reading is known: look, bits, minutes.
    #[must_use]
    pub fn fixed_list(&self, n_looks: usize) -> (Vec<(usize, f64, f64)>, End) {
        let mut histories = vec![self.weights.clone()];
        let mut listed: Vec<(usize, f64, f64)> = Vec::new();
        while listed.len() < n_looks {
            let taken = || listed.iter().map(|&(look, ..)| look);
            let now: f64 = histories.iter().map(|h| self.entropy(h)).sum();
            let left = (0..self.looks.len()).filter(|look| taken().all(|t| t != *look));
            let worth = left.map(|look| {
                let after: f64 = histories.iter().map(|h| self.entropy_after(h, look)).sum();
                (look, (now - after).max(0.0), self.minutes(look, taken()))
            });
            let Some(best) =
                highest_rate(worth).filter(|(_, bits, minutes)| self.is_worth_it(*bits, *minutes))
            else {
                break;
            };
            let n_readings = self.looks[best.0].channel.chances.len();
            let read = |h: &Vec<f64>| {
                (0..n_readings)
                    .map(|r| self.after(h, best.0, r))
                    .collect::<Vec<_>>()
            };
            histories = histories.iter().flat_map(read).collect();
            listed.push(best);
        }
        let leader_changes = histories.iter().fold(0.0, |sum, h| sum + self.change(h));
        let entropy: f64 = histories.iter().map(|h| self.entropy(h)).sum();
        let minutes = listed.iter().fold(0.0, |sum, (.., minutes)| sum + minutes);
        let end = End::new(
            self.entropy(&self.weights),
            entropy,
            minutes,
            leader_changes,
            self.price,
        );
        (listed, end)
    }

    /// Each look chosen once the readings before it are known, by bits per minute.
    #[must_use]
    pub fn step_by_step(&self, n_looks: usize) -> Node {
        self.grow(
            &self.weights,
            &mut Vec::new(),
            n_looks,
            &mut |worlds, history, _| {
                let chance: f64 = worlds.iter().sum();
                let now = self.entropy(worlds);
                let taken = || history.iter().map(|&(look, _)| look);
                let left = (0..self.looks.len()).filter(|look| taken().all(|t| t != *look));
                let worth = left.map(|look| {
                    let bits = (now - self.entropy_after(worlds, look)).max(0.0) / chance;
                    (look, bits, self.minutes(look, taken()))
                });
                let best = highest_rate(worth)?;
                self.is_worth_it(best.1, best.2).then_some(best.0)
            },
        )
    }

    /// Of all ways to choose each look by the readings before it, and to stop, the one whose expected bits less the price of
    /// its expected minutes are highest. None if the search had to end before it was over.
    #[must_use]
    pub fn best(&self, n_looks: usize, stop: &Stop) -> Option<Node> {
        let mut search = Search::new(self, stop);
        let best = self.grow(
            &self.weights,
            &mut Vec::new(),
            n_looks,
            &mut |worlds, history, left| search.best(worlds, history, left).look,
        );
        (!search.is_stopped()).then_some(best)
    }

    /// The tree of a way to choose.
    fn grow(
        &self,
        worlds: &[f64],
        history: &mut History,
        left: usize,
        choose: &mut impl FnMut(&[f64], &mut History, usize) -> Option<usize>,
    ) -> Node {
        let classes = self.classes(worlds);
        let chance: f64 = classes.iter().sum();
        let leader = most_probable(&classes).unwrap_or(0);
        let mut node = Node {
            entropy: entropy(&classes) / chance,
            leader,
            probability: classes[leader] / chance,
            look: None,
            minutes: 0.0,
            outcomes: Vec::new(),
        };
        let look = if left == 0 {
            None
        } else {
            choose(worlds, history, left)
        };
        let Some(look) = look else { return node };
        node.look = Some(look);
        node.minutes = self.minutes(look, history.iter().map(|&(look, _)| look));
        for reading in 0..self.looks[look].channel.chances.len() {
            let after = self.after(worlds, look, reading);
            let of_reading: f64 = after.iter().sum();
            if of_reading == 0.0 {
                continue;
            }
            history.push((look, reading));
            let then = self.grow(&after, history, left - 1, choose);
            history.pop();
            node.outcomes.push(Outcome {
                reading,
                chance: of_reading / chance,
                then,
            });
        }
        node
    }

    /// What is to be expected at the end of a plan.
    #[must_use]
    pub fn end(&self, node: &Node) -> End {
        let before = self.entropy(&self.weights);
        let sums = node.sums(self.leader);
        End::new(
            before,
            sums.entropy,
            sums.minutes,
            sums.leader_changes,
            self.price,
        )
    }
}

/// The look of the most bits per minute, the first of equals.
fn highest_rate(worth: impl Iterator<Item = (usize, f64, f64)>) -> Option<(usize, f64, f64)> {
    worth.reduce(|best, next| {
        if next.1 / next.2 > best.1 / best.2 {
            next
        } else {
            best
        }
    })
}
