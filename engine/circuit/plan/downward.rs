//! Which derivatives a downward pass must compute.
//!
//! All derivatives are wanted for families and sensitivities. For distributions alone few are: the bucket
//! in which a variable is summed out multiplies its last two tables, and one of them with its derivative
//! holds the whole distribution. A table given from outside needs no derivative otherwise.

use super::super::contract::Presence;
use super::{Builder, Contraction, NodeId};
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
    builder: &mut Builder<'_>,
    downward: Downward,
    sequence: &[VariableId],
) -> Vec<Reading> {
    let mut wanted = vec![downward == Downward::Everything; builder.nodes.len()];
    let mut readings = Vec::new();
    if downward == Downward::Marginals {
        readings = choose_readings(builder, &mut wanted, sequence);
    }
    if downward != Downward::Nothing {
        for index in 0..builder.contractions.len() {
            let Contraction { x, y, .. } = builder.contractions[index];
            let to_x = wanted[x.0].then(|| {
                builder.loops(index, |there| Presence {
                    x: there.out,
                    y: there.y,
                    out: there.x,
                })
            });
            let to_y = wanted[y.0].then(|| {
                builder.loops(index, |there| Presence {
                    x: there.out,
                    y: there.x,
                    out: there.y,
                })
            });
            let step = &mut builder.contractions[index];
            (step.to_x, step.to_y) = (to_x, to_y);
        }
    }
    readings
}

/// Picks the table from which each variable is read, and marks those whose derivatives are wanted: what is
/// read, and everything above it.
fn choose_readings(
    builder: &Builder<'_>,
    wanted: &mut [bool],
    sequence: &[VariableId],
) -> Vec<Reading> {
    let mut readings = Vec::with_capacity(sequence.len());
    for (index, &Contraction { x, y, out, .. }) in builder.contractions.iter().enumerate() {
        // What is summed out stands first.
        if let Some(&(place, there)) = builder.dimensions(index).first()
            && !there.out
        {
            // A derivative that is wanted anyway costs nothing; otherwise the smaller table is cheaper.
            let source = [(x, there.x), (y, there.y)]
                .into_iter()
                .filter(|&(_, has_it)| has_it)
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
