//! The order in which variables are summed out.

mod graph;

use graph::Graph;

/// An elimination order and what it will cost.
#[derive(Clone, Debug, Default, PartialEq)]
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

impl EliminationOrder {
    fn push(&mut self, v: usize, cells: u128, n_neighbours: usize) {
        self.sequence.push(v);
        self.total_cells = self.total_cells.saturating_add(cells);
        self.largest_cluster = self.largest_cluster.max(cells);
        self.induced_width = self.induced_width.max(n_neighbours);
    }
}

/// Orders that would cost more cells than this are worth a search for a better one.
const WORTH_A_SEARCH: u128 = 200_000;

/// No plan may have a cluster of more cells.
const HOPELESS: u128 = u32::MAX as u128;

/// Runs of the search; counted, not timed, so that a network always gets the same order.
const MOST_RUNS: u128 = 48;

/// The cheapest order found for the graph in which every clique is connected.
///
/// Greedy orders by three criteria are compared. If the cheapest of them is still expensive, greedy runs
/// whose scores are disturbed at random, from a fixed seed, look for a better one. Only variables of some
/// clique are in the order; `kept`, if any, comes last.
///
/// Ties go to the lighter variable, then to the lower index, so the same network always gets the same
/// order.
///
/// # Source
/// Kjærulff, "Triangulation of graphs – algorithms giving small total state space", 1990; Darwiche,
/// *Modeling and Reasoning with Bayesian Networks*, 2009, section 9.3.2; for the disturbed runs Fishelson
/// and Geiger, "Optimizing exact genetic linkage computations", J. Computational Biology 11, 2004.
pub(super) fn elimination_order(
    n_states: &[usize],
    cliques: &[Vec<usize>],
    kept: Option<usize>,
) -> EliminationOrder {
    let graph = Graph::new(n_states, cliques);
    let mut best = greedy(&graph, Criterion::Fill, kept, None, None);
    for criterion in [Criterion::Weight, Criterion::WeightedFill] {
        if let Some(order) = greedy_below(&graph, criterion, kept, &best, None) {
            best = order;
        }
    }
    let runs = (best.total_cells / WORTH_A_SEARCH).min(MOST_RUNS);
    let mut noise = Noise(0);
    for run in 0..runs {
        let criterion =
            [Criterion::WeightedFill, Criterion::Fill, Criterion::Weight][(run % 3) as usize];
        if let Some(order) = greedy_below(&graph, criterion, kept, &best, Some(&mut noise)) {
            best = order;
        }
    }
    best
}

/// A given order, restricted to the variables of some clique, with its cost in this graph.
pub(super) fn along(
    n_states: &[usize],
    cliques: &[Vec<usize>],
    sequence: &[usize],
) -> EliminationOrder {
    let mut graph = Graph::new(n_states, cliques);
    let mut is_present = vec![false; n_states.len()];
    for &v in graph.present() {
        is_present[v] = true;
    }
    let mut order = EliminationOrder::default();
    let (mut neighbours, mut touched) = (Vec::new(), Vec::new());
    for &v in sequence.iter().filter(|&&v| is_present[v]) {
        graph.neighbours_of(v, &mut neighbours);
        order.push(v, graph.cluster_cells(v, &neighbours), neighbours.len());
        graph.eliminate(v, &neighbours, &mut touched);
    }
    order
}

#[derive(Clone, Copy)]
enum Criterion {
    /// Fewest edges to be added.
    Fill,
    /// Fewest cells in the cluster.
    Weight,
    /// Fewest edges to be added, each counted by the cells of the table that it makes.
    WeightedFill,
}

/// SplitMix64 (Steele, Lea and Flood 2014).
struct Noise(u64);

impl Noise {
    /// In [0, 1).
    fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }
}

fn greedy_below(
    graph: &Graph<'_>,
    criterion: Criterion,
    kept: Option<usize>,
    best: &EliminationOrder,
    noise: Option<&mut Noise>,
) -> Option<EliminationOrder> {
    let cost = |order: &EliminationOrder| (order.total_cells, order.largest_cluster);
    let order = greedy(graph, criterion, kept, Some(best.total_cells), noise);
    (order.sequence.len() == best.sequence.len() && cost(&order) < cost(best)).then_some(order)
}

/// Takes the variable with the lowest score again and again; stops short as soon as the cost exceeds
/// `limit`.
fn greedy(
    graph: &Graph<'_>,
    criterion: Criterion,
    kept: Option<usize>,
    limit: Option<u128>,
    mut noise: Option<&mut Noise>,
) -> EliminationOrder {
    let mut graph = graph.clone();
    let mut order = EliminationOrder::default();
    let mut remaining: Vec<usize> = graph
        .present()
        .iter()
        .copied()
        .filter(|&v| Some(v) != kept)
        .collect();
    let mut scores: Vec<Option<(f64, f64)>> = vec![None; graph.n_states().len()];
    let (mut neighbours, mut touched) = (Vec::new(), Vec::new());
    loop {
        if remaining.is_empty() {
            // What is kept is the last that is left.
            match kept {
                Some(kept) if order.sequence.last() != Some(&kept) => remaining.push(kept),
                _ => break,
            }
        }
        let mut best = (f64::INFINITY, f64::INFINITY, 0);
        for (place, &v) in remaining.iter().enumerate() {
            let (score, weight) = *scores[v].get_or_insert_with(|| {
                graph.neighbours_of(v, &mut neighbours);
                let weight = graph.cluster_cells(v, &neighbours);
                let score = match criterion {
                    // No such cluster is ever stored, and counting its missing edges takes long.
                    _ if weight > HOPELESS => weight.saturating_mul(HOPELESS),
                    Criterion::Fill => graph.missing_edges(v, &neighbours),
                    Criterion::Weight => weight,
                    Criterion::WeightedFill => graph.missing_weight(v, &neighbours),
                } as f64;
                let stretch = noise.as_mut().map_or(1.0, |noise| 1.0 + noise.share());
                (score * stretch, weight as f64)
            });
            // `remaining` stays sorted and the first of equals is taken.
            if (score, weight) < (best.0, best.1) || place == 0 {
                best = (score, weight, place);
            }
        }
        let v = remaining.remove(best.2);
        graph.neighbours_of(v, &mut neighbours);
        order.push(v, graph.cluster_cells(v, &neighbours), neighbours.len());
        if limit.is_some_and(|limit| order.total_cells > limit) {
            break;
        }
        graph.eliminate(v, &neighbours, &mut touched);
        for &w in &touched {
            scores[w] = None;
        }
    }
    order
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
        let mut wins = [0; 3];
        for seed in 0..200_usize {
            // Circles of seven with two chords and between 2 and 9 states, all set by the seed.
            let n_states: Vec<usize> = (0..7).map(|i| 2 + (seed * 31 + i * i * 17) % 8).collect();
            let mut cliques: Vec<Vec<usize>> = (0..7).map(|i| vec![i, (i + 1) % 7]).collect();
            cliques.push(vec![seed % 7, (seed + 2 + seed / 7 % 3) % 7]);
            cliques.push(vec![(seed + 1) % 7, (seed + 4 + seed / 21 % 2) % 7]);
            let graph = Graph::new(&n_states, &cliques);
            let by = |criterion| greedy(&graph, criterion, None, None, None).total_cells;
            let costs = [Criterion::Fill, Criterion::Weight, Criterion::WeightedFill].map(by);
            let taken = elimination_order(&n_states, &cliques, None);
            let least = *costs.iter().min().unwrap();
            assert_eq!(taken.total_cells, least);
            assert_eq!(along(&n_states, &cliques, &taken.sequence), taken);
            for (wins, cost) in wins.iter_mut().zip(costs) {
                *wins += usize::from(cost == least && costs.iter().any(|&c| c > least));
            }
        }
        assert!(wins.iter().all(|&n| n > 0), "{wins:?}");
    }

    #[test]
    fn more_cells_than_can_be_counted() {
        let all: Vec<usize> = (0..200).collect();
        check(&[10; 200], &[&all], 199, u128::MAX);
    }
}
