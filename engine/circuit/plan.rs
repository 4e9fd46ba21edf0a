//! What to compute, in which order, and where each table lies: all of it known before any number is.

use smallvec::SmallVec;

use crate::network::{Evidence, EvidenceItem, ItemContent, MeasureId, Role, Structure, VariableId};

use super::contract::Loops;
use super::order::{Cliques, EliminationOrder, depth_first, elimination_order, restricted_order};
use super::{CompileError, Cost};

mod builder;
mod downward;

use builder::Builder;
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
    /// The table that is left: one cell that holds P(evidence), or one for each configuration of the kept
    /// variables, the last one fastest.
    pub root: NodeId,
    /// Where the distribution of each variable is read, if only distributions are wanted.
    pub readings: Vec<Reading>,
    /// Cells of all tables together.
    pub n_cells: usize,
    pub cost: Cost,
}

/// How large a plan may be.
#[derive(Clone, Copy, Debug)]
pub(super) struct Limit {
    /// Cells that one pass runs through.
    pub work: usize,
    /// Cells of all tables that are stored.
    pub stored: usize,
}

impl From<usize> for Limit {
    /// As many cells stored as run through; above 2^32 - 1 cells could not be numbered.
    fn from(cells: usize) -> Self {
        let cells = cells.min(u32::MAX as usize);
        Self {
            work: cells,
            stored: cells,
        }
    }
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
    pub observed: SmallVec<[(VariableId, usize); 2]>,
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
    /// The variables that are not summed out.
    pub kept: Vec<VariableId>,
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
            kept: Vec::new(),
            downward: Downward::Everything,
        }
    }

    /// What bears on one variable given evidence: neither that variable, nor observed, nor an ancestor of either, and a
    /// variable takes no part. Observed variables are no dimension, but the one asked for keeps its states.
    pub(super) fn about(structure: &Structure, evidence: &Evidence, target: VariableId) -> Self {
        let n = structure.variables().len();
        let mut part = Self {
            observed: vec![false; n],
            tables: vec![false; n],
            likelihoods: vec![false; n],
            measures: vec![false; structure.measures().len()],
            kept: vec![target],
            downward: Downward::Nothing,
        };
        let mut open = vec![target];
        for (item, content) in evidence.items() {
            match (item, content) {
                (EvidenceItem::Variable(id), ItemContent::State(_)) if id != target => {
                    part.observed[id.index()] = true;
                    open.push(id);
                }
                (EvidenceItem::Variable(id), _) => {
                    part.likelihoods[id.index()] = true;
                    open.push(id);
                }
                (EvidenceItem::Measure(id), _) => {
                    part.measures[id.index()] = true;
                    open.extend(&structure.measure(id).parents);
                }
            }
        }
        while let Some(id) = open.pop() {
            if !part.tables[id.index()] {
                part.tables[id.index()] = true;
                open.extend(structure.parents(id));
            }
        }
        // An input has no table: one that takes part is given.
        for id in structure.variable_ids() {
            part.tables[id.index()] &= structure.variable(id).role == Role::Chance;
        }
        part
    }

    /// The variables of each table that are not observed.
    fn cliques(&self, structure: &Structure) -> Cliques {
        let mut cliques = Cliques::default();
        let open = |v: &VariableId| (!self.observed[v.index()]).then_some(v.index());
        for v in structure.variable_ids() {
            if self.tables[v.index()] {
                let family = structure.parents(v).iter().chain(std::iter::once(&v));
                cliques.push(family.filter_map(open));
            }
            if self.likelihoods[v.index()] {
                cliques.push(open(&v));
            }
        }
        for m in structure.measure_ids() {
            if self.measures[m.index()] {
                cliques.push(structure.measure(m).parents.iter().filter_map(open));
            }
        }
        cliques
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

/// The order in which a part would be summed out, and what that would cost.
pub(super) fn order_for(structure: &Structure, part: &Part) -> EliminationOrder {
    let kept: Vec<usize> = part.kept.iter().map(|v| v.index()).collect();
    elimination_order(&sizes(structure), &part.cliques(structure), &kept)
}

/// Number of states of each variable.
fn sizes(structure: &Structure) -> Vec<usize> {
    let variables = structure.variable_ids();
    variables.map(|v| structure.n_states(v)).collect()
}

impl Plan {
    /// The plan along the best order found.
    pub(super) fn new(
        structure: &Structure,
        part: &Part,
        limit: Limit,
    ) -> Result<Self, CompileError> {
        let order = order_for(structure, part);
        Self::along(structure, part, &order.sequence, order.total_cells, limit)
    }

    /// The plan along the order of the whole network, which costs `whole` there. If that is more than
    /// `cheap` cells, and so it is for this part, one of its own is looked for.
    pub(super) fn restricted(
        structure: &Structure,
        part: &Part,
        order: &EliminationOrder,
        cheap: u128,
        limit: Limit,
    ) -> Result<Self, CompileError> {
        let cliques = part.cliques(structure);
        if order.total_cells <= cheap {
            let is_member = cliques.members(structure.variables().len());
            let members = order.sequence.iter().copied().filter(|&v| is_member[v]);
            let sequence: Vec<usize> = members.collect();
            return Self::along(structure, part, &sequence, 0, limit);
        }
        let order = restricted_order(&sizes(structure), &cliques, &order.sequence, cheap);
        Self::along(structure, part, &order.sequence, order.total_cells, limit)
    }

    /// The plan along the best order found, with kept variables in the order that suits the innermost loops:
    /// `slow` first, then the others of `part.kept`, those that join the tables last before those that join
    /// first. A table that takes up one more of them then repeats whole blocks of what it had.
    pub(super) fn with_blocks(
        structure: &Structure,
        part: &mut Part,
        slow: VariableId,
        limit: Limit,
    ) -> Result<Self, CompileError> {
        let order = order_for(structure, part);
        if order.total_cells > limit.work as u128 {
            // It will be refused.
            return Self::along(structure, part, &order.sequence, order.total_cells, limit);
        }
        let cliques = part.cliques(structure);
        let n_kept = part.kept.len();
        let mut sequence = depth_first(&sizes(structure), &cliques, &order.sequence, n_kept);
        let mut place = vec![0; structure.variables().len()];
        for (i, &v) in sequence.iter().enumerate() {
            place[v] = i;
        }
        // A table enters where the first of its variables is summed out.
        let mut joins = vec![0; structure.variables().len()];
        for clique in cliques.iter() {
            let first = clique.iter().map(|&v| place[v]).min().unwrap_or(0);
            for &v in clique {
                joins[v] = joins[v].max(first);
            }
        }
        let key = |v: &VariableId| (*v != slow, std::cmp::Reverse(joins[v.index()]), *v);
        part.kept.sort_by_key(key);
        sequence.truncate(sequence.len() - n_kept);
        sequence.extend(part.kept.iter().map(|v| v.index()));
        Self::along(structure, part, &sequence, order.total_cells, limit)
    }

    /// The plan along a given order, whose clusters have at least `cluster_cells` together.
    fn along(
        structure: &Structure,
        part: &Part,
        sequence: &[usize],
        cluster_cells: u128,
        limit: Limit,
    ) -> Result<Self, CompileError> {
        let sequence = sequence.iter().map(|&v| VariableId::new(v as u32));
        let sequence: Vec<VariableId> = sequence.collect();
        let mut builder = Builder::new(structure, &part.observed, &sequence, limit);
        // Every cluster and every leaf is run through once; their sum is known before the details are.
        builder.admit_outside(part, cluster_cells)?;
        let unit = builder.node([]);
        let families = structure.variable_ids().filter(|v| part.tables[v.index()]);
        let parameter_leaves = families
            .map(|v| (v, builder.leaf(structure.parents(v), Some(v))))
            .collect();
        let with_likelihood = structure
            .variable_ids()
            .filter(|v| part.likelihoods[v.index()] && !part.observed[v.index()]);
        let likelihood_leaves = with_likelihood.map(|v| (v, builder.vector(v))).collect();
        let measured = structure.measure_ids().filter(|m| part.measures[m.index()]);
        let measure_leaves = measured
            .map(|m| (m, builder.leaf(&structure.measure(m).parents, None)))
            .collect();
        let root = builder.eliminate_all(unit, part.kept.len())?;
        let readings = downward::plan(&mut builder, part.downward, &sequence);
        Ok(Self {
            unit,
            parameter_leaves,
            likelihood_leaves,
            measure_leaves,
            root,
            readings,
            n_cells: builder.n_cells(),
            cost: builder.cost(),
            nodes: builder.nodes,
            contractions: builder.contractions,
        })
    }
}
