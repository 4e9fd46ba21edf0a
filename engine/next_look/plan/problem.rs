//! The problem that plans solve: worlds, looks, and what a look takes and leaves.

use crate::next_look::channel::Channel;
use crate::next_look::information::entropy;
use crate::query::most_probable;

/// A look of a problem.
#[derive(Clone, Debug)]
pub struct ProblemLook {
    /// Its readings.
    pub channel: Channel,
    /// Its minutes, without tools.
    pub minutes: f64,
    /// Tools it needs.
    pub tools: Vec<usize>,
}

/// Worlds, the answers they stand for, and looks that are independent within each world.
#[derive(Clone, Debug)]
pub struct Problem {
    /// P(world), worlds of one answer side by side.
    pub(super) weights: Vec<f64>,
    /// Where the worlds of each answer begin; one more entry for the end.
    starts: Vec<usize>,
    pub(super) looks: Vec<ProblemLook>,
    tool_minutes: Vec<f64>,
    pub(super) price: f64,
    pub(super) leader: usize,
}

/// Two readings of different looks.
pub struct ReadingPair {
    /// The looks.
    pub looks: [usize; 2],
    /// Their readings, by name.
    pub readings: [String; 2],
    /// The chance of each answer together with both readings.
    pub answers: Vec<f64>,
}

/// Looks taken with their readings, in any order.
pub(super) type History = Vec<(usize, usize)>;

impl Problem {
    /// A problem from chances of worlds, the answer in each, and looks; `price` is in bits per minute.
    #[must_use]
    pub fn new(
        weights: Vec<f64>,
        classes: Vec<usize>,
        n_classes: usize,
        mut looks: Vec<ProblemLook>,
        tool_minutes: Vec<f64>,
        price: f64,
    ) -> Self {
        let mut order: Vec<usize> = (0..weights.len()).collect();
        order.sort_by_key(|&world| classes[world]);
        let sorted = |values: &[f64]| order.iter().map(|&world| values[world]).collect::<Vec<_>>();
        for chances in looks.iter_mut().flat_map(|look| &mut look.channel.chances) {
            *chances = sorted(chances);
        }
        let below = |class: usize| classes.iter().filter(|&&c| c < class).count();
        let mut problem = Self {
            weights: sorted(&weights),
            starts: (0..=n_classes).map(below).collect(),
            looks,
            tool_minutes,
            price,
            leader: 0,
        };
        problem.leader = most_probable(&problem.classes(&problem.weights)).unwrap_or(0);
        problem
    }

    /// How many looks there are.
    #[must_use]
    pub fn n_looks(&self) -> usize {
        self.looks.len()
    }

    /// The name of a reading.
    #[must_use]
    pub fn reading(&self, look: usize, reading: usize) -> &str {
        let names = &self.looks[look].channel.readings;
        names.get(reading).map_or("", String::as_str)
    }

    /// About how many steps the search for the best plan takes.
    #[must_use]
    pub fn work(&self, n_looks: usize) -> f64 {
        // Elementary symmetric sums: how many sets of readings there are of each number of looks.
        let mut sets = vec![0.0; n_looks + 1];
        sets[0] = 1.0;
        let mut n_readings = 0.0;
        for look in &self.looks {
            let n = look.channel.chances.len() as f64;
            n_readings += n;
            for k in (1..=n_looks).rev() {
                sets[k] += sets[k - 1] * n;
            }
        }
        let histories: f64 = sets[..n_looks].iter().sum();
        histories * n_readings * self.weights.len() as f64
    }

    pub(super) fn classes(&self, worlds: &[f64]) -> Vec<f64> {
        let sum = |ends: &[usize]| worlds[ends[0]..ends[1]].iter().sum();
        self.starts.windows(2).map(sum).collect()
    }

    pub(super) fn entropy(&self, worlds: &[f64]) -> f64 {
        entropy(&self.classes(worlds))
    }

    pub(super) fn after(&self, worlds: &[f64], look: usize, reading: usize) -> Vec<f64> {
        let chances = &self.looks[look].channel.chances[reading];
        worlds.iter().zip(chances).map(|(w, p)| w * p).collect()
    }

    /// Minutes of one more look: tools that a look before it needed are at hand.
    pub(super) fn minutes(&self, look: usize, taken: impl Iterator<Item = usize> + Clone) -> f64 {
        let is_at_hand = |tool: &usize| taken.clone().any(|l| self.looks[l].tools.contains(tool));
        let to_fetch = self.looks[look]
            .tools
            .iter()
            .filter(|tool| !is_at_hand(tool));
        self.looks[look].minutes + to_fetch.map(|&tool| self.tool_minutes[tool]).sum::<f64>()
    }

    /// Entropy expected after one more look, times the chance of `worlds`.
    pub(super) fn entropy_after(&self, worlds: &[f64], look: usize) -> f64 {
        let mut classes = vec![0.0; self.starts.len() - 1];
        let mut sum = 0.0;
        for chances in &self.looks[look].channel.chances {
            for (class, ends) in classes.iter_mut().zip(self.starts.windows(2)) {
                let range = ends[0]..ends[1];
                let terms = worlds[range.clone()].iter().zip(&chances[range]);
                *class = terms.map(|(w, p)| w * p).sum();
            }
            sum += entropy(&classes);
        }
        sum
    }

    /// The chance of a history, if another answer leads after it.
    pub(super) fn change(&self, worlds: &[f64]) -> f64 {
        let classes = self.classes(worlds);
        let total = classes.iter().sum();
        if most_probable(&classes) == Some(self.leader) {
            0.0
        } else {
            total
        }
    }

    pub(super) fn is_worth_it(&self, bits: f64, minutes: f64) -> bool {
        bits > 0.0 && bits >= self.price * minutes
    }

    /// Every pair of readings of two looks.
    pub fn pairs(&self) -> impl Iterator<Item = ReadingPair> + '_ {
        let readings = |look: usize| {
            let n = self.looks[look].channel.chances.len();
            (0..n).map(move |reading| (look, reading))
        };
        let all = (0..self.looks.len()).flat_map(readings);
        all.flat_map(move |(one, first)| {
            let after = self.after(&self.weights, one, first);
            let others = (one + 1..self.looks.len()).flat_map(readings);
            others.map(move |(other, second)| {
                let names = [self.reading(one, first), self.reading(other, second)];
                ReadingPair {
                    looks: [one, other],
                    readings: names.map(str::to_owned),
                    answers: self.classes(&self.after(&after, other, second)),
                }
            })
        })
    }
}
