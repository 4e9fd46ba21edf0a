//! Tables and contractions as they are laid out one after the other.
//!
//! A plan for a new set of observed variables is made while a query waits, and takes longer than the query
//! itself for a small network, most of it for memory; so scopes lie in one vector, not in one each.

use smallvec::SmallVec;

use super::super::contract::{Loops, Presence};
use super::super::{CompileError, Cost};
use super::{Contraction, Leaf, Limit, Node, NodeId, Part};
use crate::network::{Structure, VariableId};

pub(super) struct Builder<'a> {
    structure: &'a Structure,
    is_observed: &'a [bool],
    /// Place in the elimination order of each variable.
    place: Vec<usize>,
    /// Number of states by place.
    sizes: Vec<usize>,
    pub nodes: Vec<Node>,
    /// The variables of each table as rising places in the elimination order, table after table.
    scopes: Vec<usize>,
    /// Where the variables of each table begin; one more entry for the end.
    scope_starts: Vec<usize>,
    pub contractions: Vec<Contraction>,
    /// The dimensions of each contraction, one after the other.
    dimensions: Vec<(usize, Presence)>,
    /// Where the dimensions of each contraction begin; one more entry for the end.
    dimension_starts: Vec<usize>,
    merged: Vec<(usize, Presence)>,
    n_cells: usize,
    work: u128,
    largest_cluster: u128,
    widest: usize,
    limit: Limit,
}

impl<'a> Builder<'a> {
    pub(super) fn new(
        structure: &'a Structure,
        is_observed: &'a [bool],
        sequence: &[VariableId],
        limit: Limit,
    ) -> Self {
        let n = structure.variables().len();
        let mut place = vec![0; n];
        for (i, v) in sequence.iter().enumerate() {
            place[v.index()] = i;
        }
        Self {
            structure,
            is_observed,
            place,
            sizes: sequence.iter().map(|&v| structure.n_states(v)).collect(),
            nodes: Vec::with_capacity(2 * n + 2),
            scopes: Vec::with_capacity(8 * n),
            scope_starts: vec![0],
            contractions: Vec::with_capacity(n),
            dimensions: Vec::with_capacity(4 * n),
            dimension_starts: vec![0],
            merged: Vec::new(),
            n_cells: 0,
            work: 0,
            largest_cluster: 0,
            widest: 0,
            limit,
        }
    }

    pub(super) fn n_cells(&self) -> usize {
        self.n_cells
    }

    pub(super) fn cost(&self) -> Cost {
        let counted = |cells: u128| usize::try_from(cells).unwrap_or(usize::MAX);
        Cost {
            largest_table: counted(self.largest_cluster),
            total_cells: counted(self.work),
            induced_width: self.widest.saturating_sub(1),
        }
    }

    /// Counts the tables given from outside, and refuses if they and the clusters are too large.
    pub(super) fn admit_outside(
        &mut self,
        part: &Part,
        cluster_cells: u128,
    ) -> Result<(), CompileError> {
        let open = |v: VariableId| {
            let size = if self.is_observed[v.index()] {
                1
            } else {
                self.structure.n_states(v)
            };
            size as u128
        };
        let product = |parents: &[VariableId], own: u128| {
            let sizes = parents.iter().map(|&p| open(p));
            sizes.fold(own, |cells, size| cells.saturating_mul(size))
        };
        let mut cells = 0_u128;
        for v in self.structure.variable_ids() {
            if part.tables[v.index()] {
                cells = cells.saturating_add(product(self.structure.parents(v), open(v)));
            }
            if part.likelihoods[v.index()] {
                cells = cells.saturating_add(open(v));
            }
        }
        for m in self.structure.measure_ids() {
            if part.measures[m.index()] {
                cells = cells.saturating_add(product(&self.structure.measure(m).parents, 1));
            }
        }
        self.work = cells;
        within(self.limit.stored, cells)?;
        self.admit(cells.saturating_add(cluster_cells))
    }

    fn admit(&self, predicted_cells: u128) -> Result<(), CompileError> {
        within(self.limit.work, predicted_cells)
    }

    pub(super) fn scope(&self, node: NodeId) -> &[usize] {
        &self.scopes[self.scope_starts[node.0]..self.scope_starts[node.0 + 1]]
    }

    /// The dimensions of a contraction, by its place.
    pub(super) fn dimensions(&self, index: usize) -> &[(usize, Presence)] {
        &self.dimensions[self.dimension_starts[index]..self.dimension_starts[index + 1]]
    }

    fn cells(&self, scope: impl Iterator<Item = usize>) -> u128 {
        scope.fold(1, |cells, p| cells.saturating_mul(self.sizes[p] as u128))
    }

    /// A new table, behind those there are. Its size has been admitted.
    pub(super) fn node(&mut self, scope: impl IntoIterator<Item = usize>) -> NodeId {
        let start = self.scopes.len();
        self.scopes.extend(scope);
        self.scope_starts.push(self.scopes.len());
        let len = self.scopes[start..]
            .iter()
            .map(|&p| self.sizes[p])
            .product();
        let node = NodeId(self.nodes.len());
        self.nodes.push(Node {
            offset: self.n_cells,
            len,
        });
        self.n_cells += len;
        node
    }

    /// A table of one variable.
    pub(super) fn vector(&mut self, v: VariableId) -> NodeId {
        self.node([self.place[v.index()]])
    }

    /// A table given with `parents`, the last one faster than the others, and fastest of all `own`.
    pub(super) fn leaf(&mut self, parents: &[VariableId], own: Option<VariableId>) -> Leaf {
        let mut strides: SmallVec<[(usize, usize); 8]> = SmallVec::new();
        let mut observed = SmallVec::new();
        let mut stride = 1;
        for v in own.into_iter().chain(parents.iter().rev().copied()) {
            if self.is_observed[v.index()] {
                observed.push((v, stride));
            } else {
                strides.push((self.place[v.index()], stride));
            }
            stride *= self.structure.n_states(v);
        }
        strides.sort_unstable();
        let node = self.node(strides.iter().map(|&(place, _)| place));
        let mut outside = Vec::with_capacity(self.nodes[node.0].len);
        outside.push(0_u32);
        // From the fastest variable on, each repeats what there is, further along.
        for &(place, stride) in strides.iter().rev() {
            let block = outside.len();
            for s in 1..self.sizes[place] {
                for i in 0..block {
                    // Admitted tables are far smaller than 2^32 cells.
                    outside.push(outside[i] + (s * stride) as u32);
                }
            }
        }
        Leaf {
            node,
            outside,
            observed,
        }
    }

    /// Sums out every variable in turn, but the last `n_kept`, and multiplies what is left of each unconnected
    /// part.
    pub(super) fn eliminate_all(
        &mut self,
        unit: NodeId,
        n_kept: usize,
    ) -> Result<NodeId, CompileError> {
        // Each bucket is a chain of tables: the first one by place, the next one by table.
        let mut first: Vec<Option<NodeId>> = vec![None; self.sizes.len()];
        let mut next: Vec<Option<NodeId>> = vec![None; self.nodes.len()];
        let mut root = unit;
        for node in (unit.0 + 1..self.nodes.len()).map(NodeId) {
            match self.scope(node).first() {
                Some(&place) => next[node.0] = first[place].replace(node),
                None => root = self.contract(root, node, None)?,
            }
        }
        let n_summed_out = self.sizes.len() - n_kept;
        let list = |first: Option<NodeId>, next: &[Option<NodeId>], bucket: &mut Vec<NodeId>| {
            bucket.clear();
            let after = |node: &NodeId| next.get(node.0).copied().flatten();
            bucket.extend(std::iter::successors(first, after));
            bucket.reverse();
        };
        let mut bucket = Vec::new();
        for place in 0..n_summed_out {
            list(first[place], &next, &mut bucket);
            if let Some(message) = self.eliminate(place, &mut bucket, unit)? {
                match self.scope(message).first() {
                    Some(&place) => {
                        next.resize(message.0 + 1, None);
                        next[message.0] = first[place].replace(message);
                    }
                    None => root = self.contract(root, message, None)?,
                }
            }
        }
        let mut left = Vec::new();
        for &first in &first[n_summed_out..] {
            list(first, &next, &mut bucket);
            left.append(&mut bucket);
        }
        self.multiply_to(1, &mut left)?;
        for node in left {
            root = self.contract(root, node, None)?;
        }
        Ok(root)
    }

    /// Multiplies all tables of a bucket, the cheapest pair first, and sums out its variable with the last
    /// product, which is therefore never stored.
    fn eliminate(
        &mut self,
        place: usize,
        tables: &mut Vec<NodeId>,
        unit: NodeId,
    ) -> Result<Option<NodeId>, CompileError> {
        self.multiply_to(2, tables)?;
        match tables[..] {
            [x, y] => self.contract(x, y, Some(place)).map(Some),
            [x] => self.contract(unit, x, Some(place)).map(Some),
            // The variable takes no part.
            _ => Ok(None),
        }
    }

    /// Multiplies tables until at most `goal` are left, the cheapest pair first.
    fn multiply_to(&mut self, goal: usize, tables: &mut Vec<NodeId>) -> Result<(), CompileError> {
        if tables.len() > goal {
            // Tables of one scope first: there may be thousands of clues about one variable.
            tables.sort_unstable_by(|&a, &b| (self.scope(a), a).cmp(&(self.scope(b), b)));
            let mut left = tables.len();
            let mut n_distinct = 1;
            for i in 1..tables.len() {
                let (last, node) = (tables[n_distinct - 1], tables[i]);
                if left > goal && self.scope(last) == self.scope(node) {
                    tables[n_distinct - 1] = self.contract(last, node, None)?;
                    left -= 1;
                } else {
                    tables[n_distinct] = node;
                    n_distinct += 1;
                }
            }
            tables.truncate(n_distinct);
        }
        while tables.len() > goal {
            let (i, j) = self.cheapest_pair(tables);
            let y = tables.remove(j);
            tables[i] = self.contract(tables[i], y, None)?;
        }
        Ok(())
    }

    /// The pair with the smallest product; among equals the first.
    fn cheapest_pair(&self, tables: &[NodeId]) -> (usize, usize) {
        let mut best = (u128::MAX, 0, 1);
        for i in 0..tables.len() {
            for j in i + 1..tables.len() {
                let union = Union::of(self.scope(tables[i]), self.scope(tables[j]));
                best = best.min((self.cells(union.map(|(place, _)| place)), i, j));
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
        let start = self.dimensions.len();
        let mut dimensions = std::mem::take(&mut self.dimensions);
        dimensions.extend(
            Union::of(self.scope(x), self.scope(y)).map(|(place, there)| {
                let out = sum_out != Some(place);
                (place, Presence { out, ..there })
            }),
        );
        self.dimensions = dimensions;
        let end = self.dimensions.len();
        let union = &self.dimensions[start..];
        let cells = self.cells(union.iter().map(|&(place, _)| place));
        self.work = self.work.saturating_add(cells);
        self.largest_cluster = self.largest_cluster.max(cells);
        self.widest = self.widest.max(union.len());
        self.admit(self.work)?;
        let kept = union.iter().filter(|(_, there)| there.out);
        let stored = self.cells(kept.map(|&(place, _)| place));
        within(
            self.limit.stored,
            stored.saturating_add(self.n_cells as u128),
        )?;
        self.dimension_starts.push(end);
        let upward = self.loops(self.contractions.len(), |there| there);
        let dimensions = std::mem::take(&mut self.dimensions);
        let kept = dimensions[start..].iter().filter(|(_, there)| there.out);
        let out = self.node(kept.map(|&(place, _)| place));
        self.dimensions = dimensions;
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

    /// The loops of a contraction, by its place, with its tables in other roles.
    pub(super) fn loops(&mut self, index: usize, turn: impl Fn(Presence) -> Presence) -> Loops {
        let mut merged = std::mem::take(&mut self.merged);
        let dimensions = self.dimensions(index).iter();
        let sized = dimensions.map(|&(place, there)| (self.sizes[place], turn(there)));
        let loops = Loops::new(sized, &mut merged);
        self.merged = merged;
        loops
    }
}

fn within(limit: usize, predicted_cells: u128) -> Result<(), CompileError> {
    if predicted_cells > limit as u128 {
        return Err(CompileError::TooLarge {
            predicted_cells,
            limit,
        });
    }
    Ok(())
}

/// The union of two sorted scopes, and in which of them each place is.
struct Union<'a> {
    x: &'a [usize],
    y: &'a [usize],
}

impl<'a> Union<'a> {
    fn of(x: &'a [usize], y: &'a [usize]) -> Self {
        Self { x, y }
    }
}

impl Iterator for Union<'_> {
    type Item = (usize, Presence);

    fn next(&mut self) -> Option<Self::Item> {
        let (x, y) = (self.x.first(), self.y.first());
        let place = match (x, y) {
            (Some(a), Some(b)) => *a.min(b),
            (a, b) => *a.or(b)?,
        };
        let there = Presence {
            x: x == Some(&place),
            y: y == Some(&place),
            out: true,
        };
        self.x = &self.x[usize::from(there.x)..];
        self.y = &self.y[usize::from(there.y)..];
        Some((place, there))
    }
}
