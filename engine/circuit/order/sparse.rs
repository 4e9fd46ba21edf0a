//! The graph of a network of thousands of variables.

use std::collections::BTreeSet;

use super::{Cliques, Graph};

/// An undirected graph; each variable has a set of neighbours.
///
/// Memory is in proportion to the edges, and to take out one of a variable's many neighbours does not cost a look at the
/// others. Variables of one state have no edges: they are taken out last, when they make no table larger.
#[derive(Clone)]
pub(super) struct SparseGraph<'a> {
    n_states: &'a [usize],
    /// The variables of some clique, rising.
    present: Vec<usize>,
    neighbours: Vec<BTreeSet<u32>>,
    /// The binary logarithm of the cells of each variable's cluster, up to rounding.
    log_cells: Vec<f64>,
}

/// Clusters above 2^40 cells are far beyond what any plan may have.
const MOST_LOG_CELLS: f64 = 40.0;

/// Above every score that is worked out: those are at most 2^72.
const CROWDED: f64 = (1_u128 << 80) as f64;

impl<'a> SparseGraph<'a> {
    pub(super) fn new(n_states: &'a [usize], cliques: &Cliques) -> Self {
        let is_present = cliques.members(n_states.len());
        let mut graph = Self {
            n_states,
            present: (0..n_states.len()).filter(|&v| is_present[v]).collect(),
            neighbours: vec![BTreeSet::new(); n_states.len()],
            log_cells: n_states.iter().map(|&n| (n as f64).log2()).collect(),
        };
        for clique in cliques.iter() {
            for (i, &a) in clique.iter().enumerate() {
                if n_states[a] < 2 {
                    continue;
                }
                for &b in clique[i + 1..].iter().filter(|&&b| n_states[b] > 1) {
                    graph.connect(a, b);
                }
            }
        }
        graph
    }

    /// Connects two variables; `false` if they were connected already.
    fn connect(&mut self, a: usize, b: usize) -> bool {
        let is_new = self.neighbours[a].insert(b as u32);
        if is_new {
            self.neighbours[b].insert(a as u32);
            self.log_cells[a] += (self.n_states[b] as f64).log2();
            self.log_cells[b] += (self.n_states[a] as f64).log2();
        }
        is_new
    }

    fn is_crowded(&self, v: usize) -> bool {
        self.log_cells[v] > MOST_LOG_CELLS
    }

    fn connected(&self, a: usize, b: usize) -> bool {
        self.neighbours[a].contains(&(b as u32))
    }
}

impl Graph for SparseGraph<'_> {
    /// Beyond what any plan may have: what follows would take long to work out.
    const GIVEN_UP_AT: u128 = 1 << 32;

    fn n_states(&self) -> &[usize] {
        self.n_states
    }

    fn present(&self) -> &[usize] {
        &self.present
    }

    fn neighbours_of(&self, v: usize, found: &mut Vec<usize>) {
        found.clear();
        found.extend(self.neighbours[v].iter().map(|&w| w as usize));
    }

    fn crowded(&self, v: usize) -> Option<f64> {
        if self.n_states[v] < 2 {
            return Some(f64::MAX);
        }
        self.is_crowded(v).then_some(CROWDED * self.log_cells[v])
    }

    fn missing_edges(&self, _: usize, neighbours: &[usize]) -> usize {
        let mut missing = 0;
        for (i, &a) in neighbours.iter().enumerate() {
            let others = neighbours[i + 1..].iter();
            missing += 2 * others.filter(|&&b| !self.connected(a, b)).count();
        }
        missing
    }

    fn missing_weight(&self, _: usize, neighbours: &[usize]) -> f64 {
        let mut missing = 0;
        for (i, &a) in neighbours.iter().enumerate() {
            let others = neighbours[i + 1..].iter();
            let open = others.filter(|&&b| !self.connected(a, b));
            missing += 2 * self.n_states[a] * open.map(|&b| self.n_states[b]).sum::<usize>();
        }
        missing as f64
    }

    fn eliminate(&mut self, v: usize, neighbours: &[usize], touched: &mut Vec<usize>) {
        for &w in neighbours {
            self.neighbours[w].remove(&(v as u32));
            self.log_cells[w] -= (self.n_states[v] as f64).log2();
        }
        self.neighbours[v].clear();
        touched.clear();
        touched.extend(neighbours);
        for (i, &a) in neighbours.iter().enumerate() {
            for &b in &neighbours[i + 1..] {
                // The missing edge counted for every common neighbour, and for no one else. Between two that are
                // crowded common neighbours may be thousands; their scores stay as they are, slightly too high.
                if self.connect(a, b) && !(self.is_crowded(a) && self.is_crowded(b)) {
                    let common = self.neighbours[a].intersection(&self.neighbours[b]);
                    touched.extend(common.map(|&w| w as usize));
                }
            }
        }
        touched.sort_unstable();
        touched.dedup();
    }
}

#[cfg(test)]
mod tests {
    use super::super::dense::DenseGraph;
    use super::super::{Criterion, along, greedy};
    use super::*;

    /// Both graphs give the same orders at the same cost, as long as no cluster is hopeless.
    #[test]
    fn dense_and_sparse_agree() {
        let mut state = 1_u64;
        let mut below = |n: usize| {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            (state >> 33) as usize % n
        };
        for trial in 0..200 {
            let n = 3 + below(30);
            let n_states: Vec<usize> = (0..n).map(|_| 2 + below(4)).collect();
            let mut cliques = Cliques::default();
            for i in 0..n {
                cliques.push(
                    (0..1 + below(3))
                        .map(|_| below(i + 1))
                        .chain([i])
                        .collect::<BTreeSet<_>>(),
                );
            }
            let dense = DenseGraph::new(&n_states, &cliques);
            let sparse = SparseGraph::new(&n_states, &cliques);
            for criterion in [Criterion::Fill, Criterion::Weight, Criterion::WeightedFill] {
                for kept in [&[][..], &[trial % n]] {
                    let expected = greedy(&dense, criterion, kept, None, None);
                    assert!(expected.total_cells < SparseGraph::GIVEN_UP_AT);
                    assert_eq!(greedy(&sparse, criterion, kept, None, None), expected);
                    assert_eq!(along(sparse.clone(), &expected.sequence), expected);
                }
            }
        }
    }

    /// A hundred variables in one clique are given up at once, and still all in the order, what is kept last.
    #[test]
    fn hopeless_orders_are_complete() {
        let mut n_states = vec![2; 100];
        n_states[7] = 1;
        let mut cliques = Cliques::default();
        cliques.push(0..100);
        let graph = SparseGraph::new(&n_states, &cliques);
        let mut order = greedy(&graph, Criterion::Fill, &[40], None, None);
        assert!(order.total_cells >= SparseGraph::GIVEN_UP_AT);
        assert_eq!(order.sequence.last(), Some(&40));
        let backwards: Vec<usize> = (0..100).rev().collect();
        let mut along_it = along(graph, &backwards);
        assert!(along_it.total_cells >= SparseGraph::GIVEN_UP_AT);
        for order in [&mut order, &mut along_it] {
            order.sequence.sort_unstable();
            assert!(order.sequence.iter().copied().eq(0..100));
        }
    }

    /// A variable of one state joins nothing and comes last, before what is kept.
    #[test]
    fn single_states_come_last() {
        let mut cliques = Cliques::default();
        cliques.push([0, 1, 2]);
        cliques.push([1, 3]);
        let n_states = [3, 1, 3, 3];
        let graph = SparseGraph::new(&n_states, &cliques);
        let order = greedy(&graph, Criterion::Weight, &[3], None, None);
        assert_eq!(order.sequence, [0, 2, 1, 3]);
        assert_eq!(
            (order.total_cells, order.largest_cluster),
            (9 + 3 + 1 + 3, 9)
        );
    }
}
