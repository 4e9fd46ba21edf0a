//! The graph from which variables are taken one by one.

/// An undirected graph; each row is a bit set of neighbours, so that common neighbours are counted 64 at
/// a time.
#[derive(Clone)]
pub(super) struct Graph<'a> {
    n_states: &'a [usize],
    /// The variables of some clique, rising.
    present: Vec<usize>,
    /// Words of a row.
    words: usize,
    neighbours: Vec<u64>,
}

impl<'a> Graph<'a> {
    pub(super) fn new(n_states: &'a [usize], cliques: &[Vec<usize>]) -> Self {
        let words = n_states.len().div_ceil(64);
        let mut is_present = vec![false; n_states.len()];
        let mut graph = Self {
            n_states,
            present: Vec::new(),
            words,
            neighbours: vec![0; words * n_states.len()],
        };
        for clique in cliques {
            for (i, &a) in clique.iter().enumerate() {
                is_present[a] = true;
                for &b in &clique[i + 1..] {
                    graph.connect(a, b);
                }
            }
        }
        graph.present = (0..n_states.len()).filter(|&v| is_present[v]).collect();
        graph
    }

    pub(super) fn n_states(&self) -> &'a [usize] {
        self.n_states
    }

    pub(super) fn present(&self) -> &[usize] {
        &self.present
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

    /// Writes the neighbours of `v`, rising, into `found`.
    pub(super) fn neighbours_of(&self, v: usize, found: &mut Vec<usize>) {
        found.clear();
        for (w, &word) in self.row(v).iter().enumerate() {
            push_bits(word, w, found);
        }
    }

    pub(super) fn cluster_cells(&self, v: usize, neighbours: &[usize]) -> u128 {
        neighbours
            .iter()
            .fold(self.n_states[v] as u128, |cells, &w| {
                cells.saturating_mul(self.n_states[w] as u128)
            })
    }

    /// Twice the number of neighbours of `v` that are not yet connected with one another.
    pub(super) fn missing_edges(&self, v: usize, neighbours: &[usize]) -> u128 {
        let own = self.row(v);
        neighbours
            .iter()
            .map(|&w| {
                let common: u32 = own
                    .iter()
                    .zip(self.row(w))
                    .map(|(a, b)| (a & b).count_ones())
                    .sum();
                neighbours.len() as u128 - 1 - u128::from(common)
            })
            .sum()
    }

    /// The same, each missing edge counted by the product of the numbers of states that it joins.
    pub(super) fn missing_weight(&self, v: usize, neighbours: &[usize]) -> u128 {
        let own = self.row(v);
        let mut missing = Vec::new();
        let mut total = 0_u128;
        for &a in neighbours {
            missing.clear();
            for (w, (own, of_a)) in own.iter().zip(self.row(a)).enumerate() {
                push_bits(own & !of_a, w, &mut missing);
            }
            let others: u128 = missing
                .iter()
                .filter(|&&b| b != a)
                .map(|&b| self.n_states[b] as u128)
                .sum();
            total = total.saturating_add(others * self.n_states[a] as u128);
        }
        total
    }

    /// Connects the neighbours of `v` with one another and takes `v` out; writes whose scores may have
    /// changed into `touched`.
    pub(super) fn eliminate(&mut self, v: usize, neighbours: &[usize], touched: &mut Vec<usize>) {
        let mut changed = vec![0_u64; self.words];
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
    }
}

fn push_bits(mut word: u64, index: usize, into: &mut Vec<usize>) {
    while word != 0 {
        into.push(index * 64 + word.trailing_zeros() as usize);
        word &= word - 1;
    }
}
