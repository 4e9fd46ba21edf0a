//! The graph of a network of ordinary size.

use super::{Cliques, Graph};

/// An undirected graph; each row is a bit set of neighbours, so that common neighbours are counted 64 at
/// a time.
#[derive(Clone)]
pub(super) struct DenseGraph<'a> {
    n_states: &'a [usize],
    /// The variables of some clique, rising.
    present: Vec<usize>,
    /// Words of a row.
    words: usize,
    neighbours: Vec<u64>,
    /// Scratch: a set of variables.
    changed: Vec<u64>,
}

impl<'a> DenseGraph<'a> {
    pub(super) fn new(n_states: &'a [usize], cliques: &Cliques) -> Self {
        let words = n_states.len().div_ceil(64);
        let is_present = cliques.members(n_states.len());
        let mut graph = Self {
            n_states,
            present: (0..n_states.len()).filter(|&v| is_present[v]).collect(),
            words,
            neighbours: vec![0; words * n_states.len()],
            changed: Vec::new(),
        };
        for clique in cliques.iter() {
            for (i, &a) in clique.iter().enumerate() {
                for &b in &clique[i + 1..] {
                    graph.connect(a, b);
                }
            }
        }
        graph
    }

    fn row(&self, v: usize) -> &[u64] {
        &self.neighbours[v * self.words..][..self.words]
    }

    fn connect(&mut self, a: usize, b: usize) {
        self.neighbours[a * self.words + b / 64] |= 1 << (b % 64);
        self.neighbours[b * self.words + a / 64] |= 1 << (a % 64);
    }

    fn connected(&self, a: usize, b: usize) -> bool {
        self.row(a)[b / 64] >> (b % 64) & 1 == 1
    }
}

impl Graph for DenseGraph<'_> {
    /// Beyond what can be counted.
    const GIVEN_UP_AT: u128 = u128::MAX;

    fn n_states(&self) -> &[usize] {
        self.n_states
    }

    fn present(&self) -> &[usize] {
        &self.present
    }

    fn crowded(&self, _: usize) -> Option<f64> {
        None
    }

    fn neighbours_of(&self, v: usize, found: &mut Vec<usize>) {
        found.clear();
        for (w, &word) in self.row(v).iter().enumerate() {
            push_bits(word, w, found);
        }
    }

    fn missing_edges(&self, v: usize, neighbours: &[usize]) -> usize {
        let own = self.row(v);
        neighbours
            .iter()
            .map(|&w| {
                let common: u32 = own
                    .iter()
                    .zip(self.row(w))
                    .map(|(a, b)| (a & b).count_ones())
                    .sum();
                neighbours.len() - 1 - common as usize
            })
            .sum()
    }

    fn missing_weight(&self, v: usize, neighbours: &[usize]) -> f64 {
        let own = self.row(v);
        let mut total = 0;
        for &a in neighbours {
            let mut others = 0;
            for (w, (own, of_a)) in own.iter().zip(self.row(a)).enumerate() {
                let mut missing = own & !of_a;
                while missing != 0 {
                    others += self.n_states[w * 64 + missing.trailing_zeros() as usize];
                    missing &= missing - 1;
                }
            }
            // A variable is no neighbour of its own.
            total += (others - self.n_states[a]) * self.n_states[a];
        }
        total as f64
    }

    fn eliminate(&mut self, v: usize, neighbours: &[usize], touched: &mut Vec<usize>) {
        self.changed.clear();
        self.changed.resize(self.words, 0);
        let mut changed = std::mem::take(&mut self.changed);
        for (i, &a) in neighbours.iter().enumerate() {
            changed[a / 64] |= 1 << (a % 64);
            for &b in &neighbours[i + 1..] {
                if !self.connected(a, b) {
                    // The missing edge counted for every common neighbour, and for no one else.
                    for (w, changed) in changed.iter_mut().enumerate() {
                        *changed |= self.row(a)[w] & self.row(b)[w];
                    }
                    self.connect(a, b);
                }
            }
        }
        for &w in neighbours {
            self.neighbours[w * self.words + v / 64] &= !(1 << (v % 64));
        }
        self.neighbours[v * self.words..][..self.words].fill(0);
        changed[v / 64] &= !(1 << (v % 64));
        touched.clear();
        for (w, &word) in changed.iter().enumerate() {
            push_bits(word, w, touched);
        }
        self.changed = changed;
    }
}

fn push_bits(mut word: u64, index: usize, into: &mut Vec<usize>) {
    while word != 0 {
        into.push(index * 64 + word.trailing_zeros() as usize);
        word &= word - 1;
    }
}
