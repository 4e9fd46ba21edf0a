//! What to compute, in which order, and where each table lies: all of it known before any number is.

use crate::network::{MeasureId, Structure, VariableId};

use super::contract::{Loops, Presence};
use super::order::{EliminationOrder, along, elimination_order};
use super::{CompileError, Cost};

mod downward;

pub(super) use downward::{Downward, Reading};

/// Bucket elimination written down as a tree of products of two tables.
///
/// The leaves are the conditional probability tables, one likelihood vector for each variable and one
/// density vector for each measure. Each contraction multiplies two tables that no other contraction uses
/// and sums out a variable once all its tables have met; the last one leaves P(evidence).
#[derive(Clone, Debug)]
pub(super) struct Plan {
    pub nodes: Vec<Node>,
    /// The table of one cell that holds 1: what a table that stands alone is multiplied with.
    pub unit: NodeId,
    /// The conditional probability tables that take part, by variable.
    pub parameter_leaves: Vec<(VariableId, Leaf)>,
    /// The likelihood vectors that take part, by variable.
    pub likelihood_leaves: Vec<(VariableId, NodeId)>,
    /// The density vectors that take part, by measure.
    pub measure_leaves: Vec<(MeasureId, Leaf)>,
    /// Every table stands before the contraction that uses it.
    pub contractions: Vec<Contraction>,
    /// The table that is left: one cell that holds P(evidence), or one for each state of the kept variable.
    pub root: NodeId,
    /// Where the distribution of each variable is read, if only distributions are wanted.
    pub readings: Vec<Reading>,
    /// Cells of all tables together.
    pub n_cells: usize,
    pub cost: Cost,
}

/// Place of a table in [`Plan::nodes`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct NodeId(usize);

impl NodeId {
    pub(super) fn index(self) -> usize {
        self.0
    }
}

/// Where a table lies among the cells of all tables.
#[derive(Clone, Copy, Debug)]
pub(super) struct Node {
    pub offset: usize,
    pub len: usize,
}

/// A table given from outside, whose variables are put into elimination order as it is read.
#[derive(Clone, Debug)]
pub(super) struct Leaf {
    pub node: NodeId,
    /// For each cell of the table, its place in the outside layout, observed variables in their first state.
    pub outside: Vec<u32>,
    /// Observed variables of the outside layout with their strides: they are no dimension of the table.
    pub observed: Vec<(VariableId, usize)>,
}

impl Leaf {
    /// How far the observed states move the places of [`outside`](Self::outside).
    pub(super) fn shift(&self, state_of: impl Fn(VariableId) -> usize) -> usize {
        self.observed
            .iter()
            .map(|&(id, stride)| stride * state_of(id))
            .sum()
    }
}

/// What takes part in a plan.
#[derive(Clone, Debug)]
pub(super) struct Part {
    /// Variables whose state is known before: they are no dimension of any table.
    pub observed: Vec<bool>,
    /// Variables whose conditional probability table takes part.
    pub tables: Vec<bool>,
    /// Variables with a likelihood vector.
    pub likelihoods: Vec<bool>,
    /// Measures with a density vector.
    pub measures: Vec<bool>,
    /// The variable that is not summed out, if any.
    pub kept: Option<VariableId>,
    /// What the downward pass is to give.
    pub downward: Downward,
}

impl Part {
    /// Everything, nothing observed, all summed out.
    pub(super) fn whole(structure: &Structure) -> Self {
        let n = structure.variables().len();
        Self {
            observed: vec![false; n],
            tables: vec![true; n],
            likelihoods: vec![true; n],
            measures: vec![true; structure.measures().len()],
            kept: None,
            downward: Downward::Everything,
        }
    }
}

/// out = Σ x · y, with the two contractions that carry derivatives the other way.
#[derive(Clone, Debug)]
pub(super) struct Contraction {
    pub x: NodeId,
    pub y: NodeId,
    pub out: NodeId,
    /// From x and y to out.
    pub upward: Loops,
    /// From the derivative of out, and y, to the derivative of x, if that is wanted.
    pub to_x: Option<Loops>,
    /// From the derivative of out, and x, to the derivative of y, if that is wanted.
    pub to_y: Option<Loops>,
}

/// A set of variables as sorted places in the elimination order.
type Scope = Vec<usize>;

/// What meets in a plan, before an order is chosen.
struct Factors {
    n_states: Vec<usize>,
    families: Vec<(VariableId, Vec<VariableId>)>,
    measured: Vec<(MeasureId, Vec<VariableId>)>,
    with_likelihood: Vec<VariableId>,
    /// The variables of each table that are not observed.
    cliques: Vec<Vec<usize>>,
}

impl Factors {
    fn new(structure: &Structure, part: &Part) -> Self {
        let n_states: Vec<usize> = structure
            .variable_ids()
            .map(|v| structure.n_states(v))
            .collect();
        let families = structure
            .variable_ids()
            .filter(|v| part.tables[v.index()])
            .map(|v| {
                let mut family = structure.parents(v).to_vec();
                family.push(v);
                (v, family)
            });
        let families: Vec<(VariableId, Vec<VariableId>)> = families.collect();
        let measured = structure.measure_ids().filter(|m| part.measures[m.index()]);
        let measured: Vec<(MeasureId, Vec<VariableId>)> = measured
            .map(|m| (m, structure.measure(m).parents.clone()))
            .collect();
        let open = |scope: &[VariableId]| -> Vec<usize> {
            scope
                .iter()
                .map(|v| v.index())
                .filter(|&v| !part.observed[v])
                .collect()
        };
        let with_likelihood = structure
            .variable_ids()
            .filter(|v| part.likelihoods[v.index()] && !part.observed[v.index()]);
        let with_likelihood: Vec<VariableId> = with_likelihood.collect();
        let cliques: Vec<Vec<usize>> = (families.iter().map(|(_, scope)| open(scope)))
            .chain(measured.iter().map(|(_, scope)| open(scope)))
            .chain(with_likelihood.iter().map(|v| vec![v.index()]))
            .collect();
        Self {
            n_states,
            families,
            measured,
            with_likelihood,
            cliques,
        }
    }
}

/// The order in which a part would be summed out, and what that would cost.
pub(super) fn order_for(structure: &Structure, part: &Part) -> EliminationOrder {
    let factors = Factors::new(structure, part);
    let kept = part.kept.map(VariableId::index);
    elimination_order(&factors.n_states, &factors.cliques, kept)
}

impl Plan {
    /// The plan along the best order found.
    pub(super) fn new(
        structure: &Structure,
        part: &Part,
        limit: usize,
    ) -> Result<Self, CompileError> {
        let factors = Factors::new(structure, part);
        let kept = part.kept.map(VariableId::index);
        let order = elimination_order(&factors.n_states, &factors.cliques, kept);
        Self::along(&factors, part, &order, limit)
    }

    /// The plan along the order of a larger part, or along one of its own where the former would cost more
    /// than `cheap` cells.
    pub(super) fn restricted(
        structure: &Structure,
        part: &Part,
        sequence: &[usize],
        cheap: u128,
        limit: usize,
    ) -> Result<Self, CompileError> {
        let factors = Factors::new(structure, part);
        let mut order = along(&factors.n_states, &factors.cliques, sequence);
        if order.total_cells > cheap {
            let own = elimination_order(&factors.n_states, &factors.cliques, None);
            if own.total_cells < order.total_cells {
                order = own;
            }
        }
        Self::along(&factors, part, &order, limit)
    }

    fn along(
        factors: &Factors,
        part: &Part,
        order: &EliminationOrder,
        limit: usize,
    ) -> Result<Self, CompileError> {
        let Factors {
            n_states,
            families,
            measured,
            with_likelihood,
            cliques,
        } = factors;
        let leaf_cells = cliques.iter().fold(0_u128, |total, scope| {
            let cells = scope
                .iter()
                .fold(1_u128, |n, &v| n.saturating_mul(n_states[v] as u128));
            total.saturating_add(cells)
        });
        let mut builder = Builder {
            place: vec![0; n_states.len()],
            sizes: order.sequence.iter().map(|&v| n_states[v]).collect(),
            nodes: Vec::new(),
            scopes: Vec::new(),
            contractions: Vec::new(),
            n_cells: 0,
            work: leaf_cells,
            limit,
        };
        for (place, &v) in order.sequence.iter().enumerate() {
            builder.place[v] = place;
        }
        // Every cluster is run through once, so their sum is a lower bound known before the details are.
        builder.admit(order.total_cells.saturating_add(leaf_cells))?;

        let unit = builder.node(Vec::new());
        let parameter_leaves = families
            .iter()
            .map(|(v, scope)| (*v, builder.leaf(scope, &part.observed, n_states)))
            .collect();
        let likelihood_leaves = with_likelihood
            .iter()
            .map(|&v| {
                let scope = vec![builder.place[v.index()]];
                (v, builder.node(scope))
            })
            .collect();
        let measure_leaves = measured
            .iter()
            .map(|(m, scope)| (*m, builder.leaf(scope, &part.observed, n_states)))
            .collect();
        let root = builder.eliminate_all(unit, part.kept.is_some())?;
        let sequence = order.sequence.iter();
        let sequence: Vec<VariableId> = sequence.map(|&v| VariableId::new(v as u32)).collect();
        let readings = downward::plan(&mut builder, part.downward, &sequence);
        Ok(Self {
            nodes: builder.nodes,
            unit,
            parameter_leaves,
            likelihood_leaves,
            measure_leaves,
            contractions: builder.contractions,
            root,
            readings,
            n_cells: builder.n_cells,
            cost: Cost {
                largest_table: usize::try_from(order.largest_cluster).unwrap_or(usize::MAX),
                total_cells: usize::try_from(builder.work).unwrap_or(usize::MAX),
                induced_width: order.induced_width,
            },
        })
    }
}

struct Builder {
    /// Place in the elimination order of each variable.
    place: Vec<usize>,
    /// Number of states by place.
    sizes: Vec<usize>,
    nodes: Vec<Node>,
    scopes: Vec<Scope>,
    contractions: Vec<Contraction>,
    n_cells: usize,
    work: u128,
    limit: usize,
}

impl Builder {
    fn admit(&self, predicted_cells: u128) -> Result<(), CompileError> {
        if predicted_cells > self.limit as u128 {
            return Err(CompileError::TooLarge {
                predicted_cells,
                limit: self.limit,
            });
        }
        Ok(())
    }

    fn cells(&self, scope: &[usize]) -> u128 {
        scope
            .iter()
            .fold(1, |cells, &p| cells.saturating_mul(self.sizes[p] as u128))
    }

    /// A new table, behind those there are. Its size has been admitted.
    fn node(&mut self, scope: Scope) -> NodeId {
        let len: usize = scope.iter().map(|&p| self.sizes[p]).product();
        let node = NodeId(self.nodes.len());
        self.nodes.push(Node {
            offset: self.n_cells,
            len,
        });
        self.n_cells += len;
        self.scopes.push(scope);
        node
    }

    /// A table given with its variables in the order of `outside`, the last one fastest.
    fn leaf(&mut self, outside: &[VariableId], is_observed: &[bool], n_states: &[usize]) -> Leaf {
        let mut strides: Vec<(usize, usize)> = Vec::with_capacity(outside.len());
        let mut observed = Vec::new();
        let mut stride = 1;
        for &v in outside.iter().rev() {
            if is_observed[v.index()] {
                observed.push((v, stride));
            } else {
                strides.push((self.place[v.index()], stride));
            }
            stride *= n_states[v.index()];
        }
        strides.sort_unstable();
        // Built from the slowest variable on: each further variable multiplies the list.
        let mut places = vec![0_u32];
        for &(place, stride) in &strides {
            places = places
                .iter()
                .flat_map(|&base| {
                    // Admitted tables are far smaller than 2^32 cells.
                    (0..self.sizes[place]).map(move |s| base + (s * stride) as u32)
                })
                .collect();
        }
        let scope = strides.into_iter().map(|(place, _)| place).collect();
        Leaf {
            node: self.node(scope),
            outside: places,
            observed,
        }
    }

    /// Sums out every variable in turn, but the last if it is to be kept, and multiplies what is left of each
    /// unconnected part.
    fn eliminate_all(&mut self, unit: NodeId, keep_last: bool) -> Result<NodeId, CompileError> {
        let mut buckets: Vec<Vec<NodeId>> = vec![Vec::new(); self.sizes.len()];
        let mut root = unit;
        let mut file = |builder: &mut Self,
                        buckets: &mut Vec<Vec<NodeId>>,
                        node: NodeId|
         -> Result<(), CompileError> {
            match builder.scopes[node.0].first() {
                Some(&place) => buckets[place].push(node),
                None => root = builder.contract(root, node, None)?,
            }
            Ok(())
        };
        for index in unit.0 + 1..self.nodes.len() {
            file(self, &mut buckets, NodeId(index))?;
        }
        let n_summed_out = self.sizes.len() - usize::from(keep_last);
        for place in 0..n_summed_out {
            let bucket = std::mem::take(&mut buckets[place]);
            if let Some(message) = self.eliminate(place, bucket, unit)? {
                file(self, &mut buckets, message)?;
            }
        }
        if keep_last {
            for node in std::mem::take(&mut buckets[n_summed_out]) {
                root = self.contract(root, node, None)?;
            }
        }
        Ok(root)
    }

    /// Multiplies all tables of a bucket, the cheapest pair first, and sums out its variable with the last
    /// product, which is therefore never stored.
    fn eliminate(
        &mut self,
        place: usize,
        mut bucket: Vec<NodeId>,
        unit: NodeId,
    ) -> Result<Option<NodeId>, CompileError> {
        // Tables of one scope first: there may be thousands of clues about one variable.
        bucket.sort_by(|a, b| (&self.scopes[a.0], a).cmp(&(&self.scopes[b.0], b)));
        let mut tables: Vec<NodeId> = Vec::new();
        let mut left = bucket.len();
        for node in bucket {
            match tables.last_mut() {
                Some(last) if left > 2 && self.scopes[last.0] == self.scopes[node.0] => {
                    *last = self.contract(*last, node, None)?;
                    left -= 1;
                }
                _ => tables.push(node),
            }
        }
        while tables.len() > 2 {
            let (i, j) = self.cheapest_pair(&tables);
            let y = tables.remove(j);
            tables[i] = self.contract(tables[i], y, None)?;
        }
        match tables[..] {
            [x, y] => self.contract(x, y, Some(place)).map(Some),
            [x] => self.contract(unit, x, Some(place)).map(Some),
            // The variable takes no part.
            _ => Ok(None),
        }
    }

    /// The pair with the smallest product; among equals the first.
    fn cheapest_pair(&self, tables: &[NodeId]) -> (usize, usize) {
        let mut best = (u128::MAX, 0, 1);
        for i in 0..tables.len() {
            for j in i + 1..tables.len() {
                let union = union(&self.scopes[tables[i].0], &self.scopes[tables[j].0]);
                best = best.min((self.cells(&union), i, j));
            }
        }
        (best.1, best.2)
    }

    fn contract(
        &mut self,
        x: NodeId,
        y: NodeId,
        sum_out: Option<usize>,
    ) -> Result<NodeId, CompileError> {
        let union = union(&self.scopes[x.0], &self.scopes[y.0]);
        self.work = self.work.saturating_add(self.cells(&union));
        self.admit(self.work)?;
        let upward = self.loops(&union, |place| Presence {
            x: self.scopes[x.0].binary_search(&place).is_ok(),
            y: self.scopes[y.0].binary_search(&place).is_ok(),
            out: sum_out != Some(place),
        });
        let kept = union.into_iter().filter(|&p| sum_out != Some(p)).collect();
        let out = self.node(kept);
        self.contractions.push(Contraction {
            x,
            y,
            out,
            upward,
            to_x: None,
            to_y: None,
        });
        Ok(out)
    }

    fn loops(&self, union: &[usize], there: impl Fn(usize) -> Presence) -> Loops {
        Loops::new(union.iter().map(|&place| (self.sizes[place], there(place))))
    }
}

/// The union of two sorted sets.
fn union(a: &[usize], b: &[usize]) -> Scope {
    let mut union = Vec::with_capacity(a.len() + b.len());
    let (mut i, mut j) = (0, 0);
    while i < a.len() && j < b.len() {
        union.push(a[i].min(b[j]));
        let (from_a, from_b) = (a[i] <= b[j], b[j] <= a[i]);
        i += usize::from(from_a);
        j += usize::from(from_b);
    }
    union.extend_from_slice(&a[i..]);
    union.extend_from_slice(&b[j..]);
    union
}
