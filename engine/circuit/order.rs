//! The order in which variables are summed out.

mod cliques;
mod dense;
mod sparse;

use std::cmp::Reverse;
use std::collections::{BTreeSet, BinaryHeap};

pub(super) use cliques::Cliques;
use dense::DenseGraph;
use sparse::SparseGraph;

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

    /// What is not summed out makes one last table.
    fn push_kept(&mut self, n_states: &[usize], kept: &[usize]) {
        let Some((&first, others)) = kept.split_first() else {
            return;
        };
        let sizes = kept.iter().map(|&v| n_states[v] as u128);
        let cells = sizes.fold(1, u128::saturating_mul);
        self.push(first, cells, others.len());
        self.sequence.extend(others);
    }

    /// Appends what is missing, `kept` last, without counting what it costs.
    fn complete(&mut self, present: &[usize], kept: &[usize]) {
        let not_here: BTreeSet<usize> = self.sequence.iter().chain(kept).copied().collect();
        let left = present.iter().filter(|v| !not_here.contains(v));
        self.sequence.extend(left.chain(kept));
    }
}

/// Orders that would cost as many cells are worth a search for a better one: cheaper ones cost less than
/// the search, and beyond a thousand times what a plan may cost no order found would help.
const WORTH_A_SEARCH: std::ops::Range<u128> = 200_000..1 << 42;

/// A search may take one step (a variable taken out of the graph, about a microsecond) for each so many
/// cells of the order that it is to improve. Steps are counted, not timed, so that a network always gets
/// the same order.
const CELLS_FOR_A_STEP: u128 = 200;

/// Steps of the longest search.
const MOST_STEPS: u128 = 200_000;

/// How far scores are disturbed at most, run by run: no one strength is the best for all networks. In
/// trials, 0.3 did best for andes, 1 for munin1 and link, 3 for mildew.
const DISTURBANCES: [f64; 4] = [1.0, 0.3, 3.0, 0.1];

/// No plan may have a cluster of more cells, or more cells together.
const HOPELESS: f64 = u32::MAX as f64;

/// Pairs of neighbours that one run may look at to count missing edges, about a second's work; after that it goes by the
/// weight of clusters, which needs no pairs.
const MOST_PAIRS: usize = 1 << 23;

/// Variables up to which every pair has a bit of its own: fast, and half a megabyte at most.
const DENSE: usize = 2048;

/// The undirected graph from which variables are taken one by one.
trait Graph: Clone {
    /// Cells at which an order is given up: it is completed, but not worked out any further.
    const GIVEN_UP_AT: u128;

    /// Number of states of each variable, whether or not it is in the graph.
    fn n_states(&self) -> &[usize];

    /// The variables of some clique, rising.
    fn present(&self) -> &[usize];

    /// Writes the neighbours of `v`, rising, into `found`.
    fn neighbours_of(&self, v: usize, found: &mut Vec<usize>);

    /// A score for a variable whose neighbours are too many to be looked at, above all scores that are worked out.
    fn crowded(&self, v: usize) -> Option<f64>;

    /// Twice the number of neighbours of `v` that are not yet connected with one another.
    fn missing_edges(&self, v: usize, neighbours: &[usize]) -> usize;

    /// The same, each missing edge counted by the product of the numbers of states that it joins.
    fn missing_weight(&self, v: usize, neighbours: &[usize]) -> f64;

    /// Connects the neighbours of `v` with one another and takes `v` out; writes whose scores may have
    /// changed into `touched`.
    fn eliminate(&mut self, v: usize, neighbours: &[usize], touched: &mut Vec<usize>);

    /// Cells of the table over `v` and its neighbours; saturates.
    fn cluster_cells(&self, v: usize, neighbours: &[usize]) -> u128 {
        let sizes = neighbours.iter().map(|&w| self.n_states()[w] as u128);
        sizes.fold(self.n_states()[v] as u128, u128::saturating_mul)
    }

    /// The same, rounded; infinite where it is beyond the range of `f64`.
    fn cluster_weight(&self, v: usize, neighbours: &[usize]) -> f64 {
        let sizes = neighbours.iter().map(|&w| self.n_states()[w] as f64);
        sizes.fold(self.n_states()[v] as f64, |cells, size| cells * size)
    }
}

/// The cheapest order found for the graph in which every clique is connected.
///
/// Greedy orders by three criteria are compared. If the cheapest of them is still expensive, greedy runs
/// whose scores are disturbed at random, from a fixed seed, look for a better one. Only variables of some
/// clique and `kept` are in the order; these come last, as they are given.
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
    cliques: &Cliques,
    kept: &[usize],
) -> EliminationOrder {
    if n_states.len() <= DENSE {
        cheapest(&DenseGraph::new(n_states, cliques), kept)
    } else {
        cheapest(&SparseGraph::new(n_states, cliques), kept)
    }
}

fn cheapest<G: Graph>(graph: &G, kept: &[usize]) -> EliminationOrder {
    let mut best = greedy(graph, Criterion::Fill, kept, None, None);
    for criterion in [Criterion::Weight, Criterion::WeightedFill] {
        // Weighted fill lies between the two, and neither led anywhere.
        if matches!(criterion, Criterion::WeightedFill) && best.total_cells >= G::GIVEN_UP_AT {
            break;
        }
        if let Some(order) = greedy_below(graph, criterion, kept, &best, None) {
            best = order;
        }
    }
    if WORTH_A_SEARCH.contains(&best.total_cells) {
        let steps = (best.total_cells / CELLS_FOR_A_STEP).min(MOST_STEPS);
        let runs = steps as usize / graph.present().len().max(1);
        let mut state = 0;
        for run in 0..runs {
            let mut noise = Noise {
                state: &mut state,
                strength: DISTURBANCES[run / 3 % DISTURBANCES.len()],
            };
            let criterion = [Criterion::WeightedFill, Criterion::Fill, Criterion::Weight][run % 3];
            if let Some(order) = greedy_below(graph, criterion, kept, &best, Some(&mut noise)) {
                best = order;
            }
        }
    }
    best
}

/// A given order, restricted to the variables of some clique; or, if that would cost more than `cheap`
/// cells, the greedy order by weighted fill if it costs less. A search takes longer than it could save here.
pub(super) fn restricted_order(
    n_states: &[usize],
    cliques: &Cliques,
    sequence: &[usize],
    cheap: u128,
) -> EliminationOrder {
    if n_states.len() <= DENSE {
        along_or_greedy(&DenseGraph::new(n_states, cliques), sequence, cheap)
    } else {
        along_or_greedy(&SparseGraph::new(n_states, cliques), sequence, cheap)
    }
}

fn along_or_greedy(graph: &impl Graph, sequence: &[usize], cheap: u128) -> EliminationOrder {
    let order = along(graph.clone(), sequence);
    if order.total_cells <= cheap {
        return order;
    }
    greedy_below(graph, Criterion::WeightedFill, &[], &order, None).unwrap_or(order)
}

/// A given order, restricted to the variables of the graph, with its cost there.
fn along<G: Graph>(mut graph: G, sequence: &[usize]) -> EliminationOrder {
    let mut order = EliminationOrder::default();
    let (mut neighbours, mut touched) = (Vec::new(), Vec::new());
    for &v in sequence {
        if graph.present().binary_search(&v).is_err() {
            continue;
        }
        graph.neighbours_of(v, &mut neighbours);
        order.push(v, graph.cluster_cells(v, &neighbours), neighbours.len());
        if order.total_cells >= G::GIVEN_UP_AT {
            order.complete(graph.present(), &[]);
            break;
        }
        graph.eliminate(v, &neighbours, &mut touched);
    }
    order
}

/// The same clusters in another order: variables whose tables meet early stand next to one another. The
/// last `n_kept` stay where they are.
///
/// # Source
/// Liu, "The role of elimination trees in sparse factorization", SIAM J. Matrix Analysis 11, 1990: any
/// order in which each variable stands before its parent in the elimination tree makes the same clusters.
pub(super) fn depth_first(
    n_states: &[usize],
    cliques: &Cliques,
    sequence: &[usize],
    n_kept: usize,
) -> Vec<usize> {
    if n_states.len() <= DENSE {
        by_subtrees(DenseGraph::new(n_states, cliques), sequence, n_kept)
    } else {
        by_subtrees(SparseGraph::new(n_states, cliques), sequence, n_kept)
    }
}

fn by_subtrees(mut graph: impl Graph, sequence: &[usize], n_kept: usize) -> Vec<usize> {
    let (summed_out, kept) = sequence.split_at(sequence.len() - n_kept);
    let mut place = vec![usize::MAX; graph.n_states().len()];
    for (i, &v) in summed_out.iter().enumerate() {
        place[v] = i;
    }
    let (mut neighbours, mut touched) = (Vec::new(), Vec::new());
    let mut children = vec![Vec::new(); summed_out.len()];
    let mut tops = Vec::new();
    for (i, &v) in summed_out.iter().enumerate() {
        graph.neighbours_of(v, &mut neighbours);
        match neighbours.iter().map(|&w| place[w]).min() {
            Some(parent) if parent < summed_out.len() => children[parent].push(i),
            _ => tops.push(i),
        }
        graph.eliminate(v, &neighbours, &mut touched);
    }
    // Each variable before its children, turned round.
    let mut order = Vec::with_capacity(sequence.len());
    while let Some(i) = tops.pop() {
        order.push(summed_out[i]);
        tops.append(&mut children[i]);
    }
    order.reverse();
    order.extend(kept);
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

/// Random factors by SplitMix64 (Steele, Lea and Flood 2014).
struct Noise<'a> {
    state: &'a mut u64,
    strength: f64,
}

impl Noise<'_> {
    /// Evenly between 1 and 1 + strength.
    fn factor(&mut self) -> f64 {
        *self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = *self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        let share = ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64;
        1.0 + self.strength * share
    }
}

fn greedy_below(
    graph: &impl Graph,
    criterion: Criterion,
    kept: &[usize],
    best: &EliminationOrder,
    noise: Option<&mut Noise<'_>>,
) -> Option<EliminationOrder> {
    let cost = |order: &EliminationOrder| (order.total_cells, order.largest_cluster);
    let limit = best.total_cells.min(HOPELESS as u128);
    let order = greedy(graph, criterion, kept, Some(limit), noise);
    (order.sequence.len() == best.sequence.len() && cost(&order) < cost(best)).then_some(order)
}

/// Takes the variable with the lowest score again and again; stops short as soon as the cost exceeds
/// `limit`. An order that is given up is completed, but its cost is counted no further.
fn greedy<G: Graph>(
    graph: &G,
    criterion: Criterion,
    kept: &[usize],
    limit: Option<u128>,
    mut noise: Option<&mut Noise<'_>>,
) -> EliminationOrder {
    let mut graph = graph.clone();
    let mut order = EliminationOrder::default();
    let mut neighbours = Vec::new();
    let mut pairs = 0_usize;
    let mut score = |graph: &G, v: usize| {
        if let Some(score) = graph.crowded(v) {
            return (score.to_bits(), 0);
        }
        graph.neighbours_of(v, &mut neighbours);
        let weight = graph.cluster_weight(v, &neighbours);
        let score = match criterion {
            // No such cluster is ever stored, and counting its missing edges takes long.
            _ if weight > HOPELESS => weight * HOPELESS,
            Criterion::Weight => weight,
            _ if pairs > MOST_PAIRS => weight,
            Criterion::Fill => graph.missing_edges(v, &neighbours) as f64,
            Criterion::WeightedFill => graph.missing_weight(v, &neighbours),
        };
        pairs += neighbours.len().pow(2);
        let stretch = noise.as_mut().map_or(1.0, |noise| noise.factor());
        // Numbers that are not negative are in the order of their bits.
        ((score * stretch).to_bits(), weight.to_bits())
    };
    // How often each variable was scored: only its last score counts.
    let mut version = vec![0_u32; graph.n_states().len()];
    let mut is_kept = vec![false; graph.n_states().len()];
    for &v in kept {
        is_kept[v] = true;
    }
    let candidates = graph.present().iter().filter(|&&v| !is_kept[v]);
    let mut queue: BinaryHeap<_> = candidates
        .map(|&v| Reverse((score(&graph, v), v, 0)))
        .collect();
    let (mut cluster, mut touched) = (Vec::new(), Vec::new());
    loop {
        let v = match queue.pop() {
            Some(Reverse((_, v, scored))) if scored == version[v] => v,
            Some(_) => continue,
            None => {
                order.push_kept(graph.n_states(), kept);
                break;
            }
        };
        version[v] += 1;
        graph.neighbours_of(v, &mut cluster);
        order.push(v, graph.cluster_cells(v, &cluster), cluster.len());
        if limit.is_some_and(|limit| order.total_cells > limit) {
            break;
        }
        if order.total_cells >= G::GIVEN_UP_AT {
            order.complete(graph.present(), kept);
            break;
        }
        graph.eliminate(v, &cluster, &mut touched);
        for &w in touched.iter().filter(|&&w| !is_kept[w]) {
            version[w] += 1;
            queue.push(Reverse((score(&graph, w), w, version[w])));
        }
    }
    order
}

#[cfg(test)]
mod tests {
    use super::*;

    fn listed(list: &[impl AsRef<[usize]>]) -> Cliques {
        let mut cliques = Cliques::default();
        for clique in list {
            cliques.push(clique.as_ref().iter().copied());
        }
        cliques
    }

    fn check(n_states: &[usize], cliques: &[&[usize]], width: usize, largest: u128) {
        let order = elimination_order(n_states, &listed(cliques), &[]);
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
            let cliques = listed(&cliques);
            let graph = DenseGraph::new(&n_states, &cliques);
            let by = |criterion| greedy(&graph, criterion, &[], None, None).total_cells;
            let costs = [Criterion::Fill, Criterion::Weight, Criterion::WeightedFill].map(by);
            let taken = elimination_order(&n_states, &cliques, &[]);
            let least = *costs.iter().min().unwrap();
            assert_eq!(taken.total_cells, least);
            assert_eq!(along(graph.clone(), &taken.sequence), taken);
            let backwards: Vec<usize> = (0..7).rev().collect();
            let along_it = restricted_order(&n_states, &cliques, &backwards, u128::MAX);
            assert_eq!(along_it.sequence, backwards);
            let own = restricted_order(&n_states, &cliques, &backwards, 0);
            assert_eq!(own.total_cells, along_it.total_cells.min(costs[2]));
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
