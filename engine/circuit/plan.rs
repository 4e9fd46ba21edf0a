//! What to compute, in which order, and where each table lies: all of it known before any number is.

use crate::network::{Structure, VariableId};

use super::contract::{Loops, Presence};
use super::order::elimination_order;
use super::{CompileError, Cost};

/// Bucket elimination written down as a tree of products of two tables.
///
/// The leaves are the conditional probability tables, one likelihood vector for each variable and one
/// density vector for each measure. Each contraction multiplies two tables that no other contraction uses
/// and sums out a variable once all its tables have met; the last one leaves P(evidence).
#[derive(Clone, Debug)]
pub(super) struct Plan {
    pub nodes: Vec<Node>,
    /// The conditional probability table of each variable.
    pub parameter_leaves: Vec<Leaf>,
    /// The likelihood vector of each variable.
    pub likelihood_leaves: Vec<NodeId>,
    /// The density vector of each measure.
    pub measure_leaves: Vec<Leaf>,
    /// Every table stands before the contraction that uses it.
    pub contractions: Vec<Contraction>,
    /// The table of one cell that holds P(evidence); none if there are neither variables nor measures.
    pub root: Option<NodeId>,
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
    /// For each cell of the table, its place in the outside layout.
    pub outside: Vec<u32>,
}

/// out = Σ x · y, with the two contractions that carry derivatives the other way.
#[derive(Clone, Debug)]
pub(super) struct Contraction {
    pub x: NodeId,
    pub y: NodeId,
    pub out: NodeId,
    /// From x and y to out.
    pub upward: Loops,
    /// From the derivative of out, and y, to the derivative of x.
    pub to_x: Loops,
    /// From the derivative of out, and x, to the derivative of y.
    pub to_y: Loops,
}

/// A set of variables as sorted places in the elimination order.
type Scope = Vec<usize>;

impl Plan {
    pub(super) fn new(structure: &Structure, limit: usize) -> Result<Self, CompileError> {
        let n_states: Vec<usize> = structure
            .variable_ids()
            .map(|v| structure.n_states(v))
            .collect();
        let indices = |ids: &[VariableId]| ids.iter().map(|v| v.index()).collect::<Vec<_>>();
        let families: Vec<Vec<usize>> = structure
            .variable_ids()
            .map(|v| {
                let mut family = indices(structure.parents(v));
                family.push(v.index());
                family
            })
            .collect();
        let measured: Vec<Vec<usize>> = structure
            .measures()
            .iter()
            .map(|m| indices(&m.parents))
            .collect();
        let cliques: Vec<Vec<usize>> = families.iter().chain(&measured).cloned().collect();
        let order = elimination_order(&n_states, &cliques);
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

        let parameter_leaves = families
            .iter()
            .map(|f| builder.leaf(f, &n_states))
            .collect();
        let likelihood_leaves = (0..n_states.len())
            .map(|v| {
                let scope = vec![builder.place[v]];
                builder.node(scope)
            })
            .collect();
        let measure_leaves = measured
            .iter()
            .map(|m| builder.leaf(m, &n_states))
            .collect();
        let root = builder.eliminate_all()?;
        Ok(Self {
            nodes: builder.nodes,
            parameter_leaves,
            likelihood_leaves,
            measure_leaves,
            contractions: builder.contractions,
            root,
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
    fn leaf(&mut self, outside: &[usize], n_states: &[usize]) -> Leaf {
        let mut strides: Vec<(usize, usize)> = Vec::with_capacity(outside.len());
        let mut stride = 1;
        for &v in outside.iter().rev() {
            strides.push((self.place[v], stride));
            stride *= n_states[v];
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
        }
    }

    /// Sums out every variable in turn and multiplies what is left of each unconnected part.
    fn eliminate_all(&mut self) -> Result<Option<NodeId>, CompileError> {
        let mut buckets: Vec<Vec<NodeId>> = vec![Vec::new(); self.sizes.len()];
        let mut finished = Vec::new();
        let mut file = |builder: &Self, buckets: &mut Vec<Vec<NodeId>>, node: NodeId| match builder
            .scopes[node.0]
            .first()
        {
            Some(&place) => buckets[place].push(node),
            None => finished.push(node),
        };
        for index in 0..self.nodes.len() {
            file(self, &mut buckets, NodeId(index));
        }
        for place in 0..self.sizes.len() {
            let bucket = std::mem::take(&mut buckets[place]);
            if let Some(message) = self.eliminate(place, bucket)? {
                file(self, &mut buckets, message);
            }
        }
        let mut parts = finished.into_iter();
        let Some(mut root) = parts.next() else {
            return Ok(None);
        };
        for part in parts {
            root = self.contract(root, part, None)?;
        }
        Ok(Some(root))
    }

    /// Multiplies all tables of a bucket, the cheapest pair first, and sums out its variable with the last
    /// product, which is therefore never stored.
    fn eliminate(
        &mut self,
        place: usize,
        mut bucket: Vec<NodeId>,
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
        // A bucket holds at least its variable's likelihoods and probability table.
        match tables[..] {
            [x, y] => self.contract(x, y, Some(place)).map(Some),
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
        let dimensions: Vec<(usize, Presence)> = union
            .iter()
            .map(|&place| {
                let presence = Presence {
                    x: self.scopes[x.0].binary_search(&place).is_ok(),
                    y: self.scopes[y.0].binary_search(&place).is_ok(),
                    out: sum_out != Some(place),
                };
                (self.sizes[place], presence)
            })
            .collect();
        let loops = |turn: fn(Presence) -> Presence| {
            Loops::new(dimensions.iter().map(|&(size, there)| (size, turn(there))))
        };
        let upward = loops(|there| there);
        let to_x = loops(|there| Presence {
            x: there.out,
            y: there.y,
            out: there.x,
        });
        let to_y = loops(|there| Presence {
            x: there.out,
            y: there.x,
            out: there.y,
        });
        let kept = union.into_iter().filter(|&p| sum_out != Some(p)).collect();
        let out = self.node(kept);
        self.contractions.push(Contraction {
            x,
            y,
            out,
            upward,
            to_x,
            to_y,
        });
        Ok(out)
    }
}

/// The union of two sorted sets.
fn union(a: &[usize], b: &[usize]) -> Scope {
    let mut union = [a, b].concat();
    union.sort_unstable();
    union.dedup();
    union
}
