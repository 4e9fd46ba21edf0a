//! The order in which variables are summed out.

/// An elimination order and what it will cost.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct EliminationOrder {
    /// Variables, the first to be summed out first.
    pub sequence: Vec<usize>,
    /// Cells of all clusters together; saturates.
    pub total_cells: u128,
    /// Cells of the largest cluster; saturates.
    pub largest_cluster: u128,
    /// Variables in the widest cluster, less one.
    pub induced_width: usize,
}

/// The cheaper of the min-fill and the min-weight order for the graph in which every clique is connected.
///
/// Only variables of some clique are in it; `kept`, if any, comes last.
///
/// Ties go to the lighter variable, then to the lower index, so the same network always gets the same
/// order.
///
/// # Source
/// Kjærulff, "Triangulation of graphs – algorithms giving small total state space", 1990; Darwiche,
/// *Modeling and Reasoning with Bayesian Networks*, 2009, section 9.3.2.
pub(super) fn elimination_order(
    n_states: &[usize],
    cliques: &[Vec<usize>],
    kept: Option<usize>,
) -> EliminationOrder {
    let graph = Graph::new(n_states, cliques);
    let by_fill = graph.clone().eliminate_all(Criterion::Fill, kept);
    let by_weight = graph.eliminate_all(Criterion::Weight, kept);
    let cost = |order: &EliminationOrder| (order.total_cells, order.largest_cluster);
    if cost(&by_weight) < cost(&by_fill) {
        by_weight
    } else {
        by_fill
    }
}

#[derive(Clone, Copy)]
enum Criterion {
    /// Fewest edges to be added.
    Fill,
    /// Fewest cells in the cluster.
    Weight,
}

/// An undirected graph; each row is a bit set of neighbours, so that common neighbours are counted 64 at
/// a time.
#[derive(Clone)]
struct Graph<'a> {
    n_states: &'a [usize],
    /// The variables of some clique, rising.
    present: Vec<usize>,
    neighbours: Vec<Vec<u64>>,
}

impl<'a> Graph<'a> {
    fn new(n_states: &'a [usize], cliques: &[Vec<usize>]) -> Self {
        let words = n_states.len().div_ceil(64);
        let mut present: Vec<usize> = cliques.iter().flatten().copied().collect();
        present.sort_unstable();
        present.dedup();
        let mut graph = Self {
            n_states,
            present,
            neighbours: vec![vec![0; words]; n_states.len()],
        };
        for clique in cliques {
            for (i, &a) in clique.iter().enumerate() {
                for &b in &clique[i + 1..] {
                    graph.connect(a, b);
                }
            }
        }
        graph
    }

    fn connect(&mut self, a: usize, b: usize) {
        self.neighbours[a][b / 64] |= 1 << (b % 64);
        self.neighbours[b][a / 64] |= 1 << (a % 64);
    }

    fn connected(&self, a: usize, b: usize) -> bool {
        self.neighbours[a][b / 64] >> (b % 64) & 1 == 1
    }

    fn neighbours_of(&self, v: usize) -> Vec<usize> {
        let mut found = Vec::new();
        for (w, &word) in self.neighbours[v].iter().enumerate() {
            let mut word = word;
            while word != 0 {
                found.push(w * 64 + word.trailing_zeros() as usize);
                word &= word - 1;
            }
        }
        found
    }

    fn cluster_cells(&self, v: usize, neighbours: &[usize]) -> u128 {
        neighbours
            .iter()
            .fold(self.n_states[v] as u128, |cells, &w| {
                cells.saturating_mul(self.n_states[w] as u128)
            })
    }

    /// Twice the number of neighbours of `v` that are not yet connected with one another.
    fn missing_edges(&self, v: usize, neighbours: &[usize]) -> u128 {
        let own = &self.neighbours[v];
        neighbours
            .iter()
            .map(|&w| {
                let common: u32 = own
                    .iter()
                    .zip(&self.neighbours[w])
                    .map(|(a, b)| (a & b).count_ones())
                    .sum();
                neighbours.len() as u128 - 1 - u128::from(common)
            })
            .sum()
    }

    /// Connects the neighbours of `v` with one another and takes `v` out; returns whose scores may have
    /// changed.
    fn eliminate(&mut self, v: usize, neighbours: &[usize]) -> Vec<usize> {
        let mut filled = false;
        for (i, &a) in neighbours.iter().enumerate() {
            for &b in &neighbours[i + 1..] {
                if !self.connected(a, b) {
                    self.connect(a, b);
                    filled = true;
                }
            }
        }
        for &w in neighbours {
            self.neighbours[w][v / 64] &= !(1 << (v % 64));
        }
        self.neighbours[v].fill(0);
        let mut touched = neighbours.to_vec();
        if filled {
            for &w in neighbours {
                touched.extend(self.neighbours_of(w));
            }
            touched.sort_unstable();
            touched.dedup();
        }
        touched
    }

    fn eliminate_all(mut self, criterion: Criterion, kept: Option<usize>) -> EliminationOrder {
        let n = self.n_states.len();
        let mut order = EliminationOrder {
            sequence: Vec::with_capacity(n),
            total_cells: 0,
            largest_cluster: 0,
            induced_width: 0,
        };
        let mut remaining: Vec<usize> = self
            .present
            .iter()
            .copied()
            .filter(|&v| Some(v) != kept)
            .collect();
        let mut scores: Vec<Option<(u128, u128)>> = vec![None; n];
        loop {
            if remaining.is_empty() {
                // What is kept is the last that is left.
                match kept {
                    Some(kept) if order.sequence.last() != Some(&kept) => remaining.push(kept),
                    _ => break,
                }
            }
            for &v in &remaining {
                if scores[v].is_none() {
                    let neighbours = self.neighbours_of(v);
                    let weight = self.cluster_cells(v, &neighbours);
                    scores[v] = Some(match criterion {
                        Criterion::Fill => (self.missing_edges(v, &neighbours), weight),
                        Criterion::Weight => (weight, weight),
                    });
                }
            }
            // `remaining` stays sorted and the first of equals is taken.
            let Some(place) = (0..remaining.len()).min_by_key(|&i| scores[remaining[i]]) else {
                break;
            };
            let v = remaining.remove(place);
            let neighbours = self.neighbours_of(v);
            let cells = self.cluster_cells(v, &neighbours);
            order.sequence.push(v);
            order.total_cells = order.total_cells.saturating_add(cells);
            order.largest_cluster = order.largest_cluster.max(cells);
            order.induced_width = order.induced_width.max(neighbours.len());
            for w in self.eliminate(v, &neighbours) {
                scores[w] = None;
            }
        }
        order
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(n_states: &[usize], cliques: &[&[usize]], width: usize, largest: u128) {
        let cliques: Vec<Vec<usize>> = cliques.iter().map(|c| c.to_vec()).collect();
        let order = elimination_order(n_states, &cliques, None);
        assert_eq!(
            (order.induced_width, order.largest_cluster),
            (width, largest)
        );
        let mut sorted = order.sequence.clone();
        sorted.sort_unstable();
        assert!(sorted.into_iter().eq(0..n_states.len()));
    }

    #[test]
    fn known_widths() {
        check(&[], &[], 0, 0);
        check(&[3, 2], &[&[0], &[1]], 0, 3);
        // A chain and a star.
        check(&[2; 5], &[&[0, 1], &[1, 2], &[2, 3], &[3, 4]], 1, 4);
        check(&[9, 2, 2, 2], &[&[0, 1], &[0, 2], &[0, 3]], 1, 18);
        // A circle of four needs one chord: across the two light variables.
        check(
            &[10, 2, 10, 2],
            &[&[0, 1], &[1, 2], &[2, 3], &[3, 0]],
            2,
            40,
        );
        // Three by three: the treewidth of a square grid is its side.
        let grid: Vec<Vec<usize>> = (0..9)
            .flat_map(|i| {
                let right = (i % 3 < 2).then(|| vec![i, i + 1]);
                let down = (i < 6).then(|| vec![i, i + 3]);
                right.into_iter().chain(down)
            })
            .collect();
        let grid: Vec<&[usize]> = grid.iter().map(Vec::as_slice).collect();
        check(&[2; 9], &grid, 3, 16);
    }

    /// Each criterion is the better one for some graphs; the order taken is as cheap as either.
    #[test]
    fn the_cheaper_criterion_wins() {
        let mut wins = [0; 2];
        for seed in 0..200_usize {
            // Circles of seven with two chords and between 2 and 9 states, all set by the seed.
            let n_states: Vec<usize> = (0..7).map(|i| 2 + (seed * 31 + i * i * 17) % 8).collect();
            let mut cliques: Vec<Vec<usize>> = (0..7).map(|i| vec![i, (i + 1) % 7]).collect();
            cliques.push(vec![seed % 7, (seed + 2 + seed / 7 % 3) % 7]);
            cliques.push(vec![(seed + 1) % 7, (seed + 4 + seed / 21 % 2) % 7]);
            let graph = Graph::new(&n_states, &cliques);
            let fill = graph
                .clone()
                .eliminate_all(Criterion::Fill, None)
                .total_cells;
            let weight = graph.eliminate_all(Criterion::Weight, None).total_cells;
            let taken = elimination_order(&n_states, &cliques, None).total_cells;
            assert_eq!(taken, fill.min(weight));
            wins[0] += usize::from(fill < weight);
            wins[1] += usize::from(weight < fill);
        }
        assert!(wins[0] > 0 && wins[1] > 0, "{wins:?}");
    }

    #[test]
    fn more_cells_than_can_be_counted() {
        let all: Vec<usize> = (0..200).collect();
        check(&[10; 200], &[&all], 199, u128::MAX);
    }
}
