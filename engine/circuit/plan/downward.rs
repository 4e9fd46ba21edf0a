//! Which derivatives a downward pass must compute.
//!
//! All derivatives are wanted for families and sensitivities. For distributions alone few are: the bucket
//! in which a variable is summed out multiplies its last two tables, and one of them with its derivative
//! holds the whole distribution. A table given from outside needs no derivative otherwise, which spares
//! about half of the pass.

use super::super::contract::Presence;
use super::{Builder, Contraction, NodeId, union};
use crate::network::VariableId;

/// What a downward pass is to give.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in super::super) enum Downward {
    /// It is never run.
    Nothing,
    /// The distribution of each variable.
    Marginals,
    /// The derivative with respect to every entry of every table.
    Everything,
}

/// The distribution of a variable: its unnormalised entries are the sums of value × derivative over equal
/// blocks of this table, one block for each state.
#[derive(Clone, Copy, Debug)]
pub(in super::super) struct Reading {
    pub variable: VariableId,
    pub node: NodeId,
}

/// Adds the loops of the downward pass to the contractions.
pub(super) fn plan(
    builder: &mut Builder,
    downward: Downward,
    sequence: &[VariableId],
) -> Vec<Reading> {
    let mut wanted = vec![downward == Downward::Everything; builder.nodes.len()];
    let mut readings = Vec::new();
    if downward == Downward::Marginals {
        readings = choose_readings(builder, &mut wanted, sequence);
    }
    let mut contractions = std::mem::take(&mut builder.contractions);
    if downward != Downward::Nothing {
        for step in &mut contractions {
            let Contraction { x, y, out, .. } = *step;
            let (in_x, in_y, in_out) = (
                &builder.scopes[x.0],
                &builder.scopes[y.0],
                &builder.scopes[out.0],
            );
            let union = union(in_x, in_y);
            let among = |scope: &[usize], place: usize| scope.binary_search(&place).is_ok();
            step.to_x = wanted[x.0].then(|| {
                builder.loops(&union, |p| Presence {
                    x: among(in_out, p),
                    y: among(in_y, p),
                    out: among(in_x, p),
                })
            });
            step.to_y = wanted[y.0].then(|| {
                builder.loops(&union, |p| Presence {
                    x: among(in_out, p),
                    y: among(in_x, p),
                    out: among(in_y, p),
                })
            });
        }
    }
    builder.contractions = contractions;
    readings
}

/// Picks the table from which each variable is read, and marks those whose derivatives are wanted: what is
/// read, and everything above it.
fn choose_readings(
    builder: &Builder,
    wanted: &mut [bool],
    sequence: &[VariableId],
) -> Vec<Reading> {
    let mut readings = Vec::with_capacity(sequence.len());
    for &Contraction { x, y, out, .. } in &builder.contractions {
        let (in_x, in_y) = (&builder.scopes[x.0], &builder.scopes[y.0]);
        // What is summed out stands first in the tables that have it, and not in the product.
        let first = match (in_x.first(), in_y.first()) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (a, b) => a.or(b),
        };
        if let Some(&place) = first
            && builder.scopes[out.0].first() != Some(&place)
        {
            // A derivative that is wanted anyway costs nothing; otherwise the smaller table is cheaper.
            let source = [(x, in_x), (y, in_y)]
                .into_iter()
                .filter(|(_, scope)| scope.first() == Some(&place))
                .min_by_key(|(node, _)| (!wanted[node.0], builder.nodes[node.0].len));
            if let Some((node, _)) = source {
                wanted[node.0] = true;
                readings.push(Reading {
                    variable: sequence[place],
                    node,
                });
            }
        }
        wanted[out.0] = wanted[x.0] || wanted[y.0];
    }
    readings
}
