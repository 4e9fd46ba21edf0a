//! Order along the arrows, and the circle that prevents one.

use super::VariableId;

/// Every variable after its parents; where several could come next, the lowest index comes first.
///
/// # Errors
/// The variables of one circle, each a parent of the next, if there is one.
/// # Source
/// Kahn, "Topological sorting of large networks", Communications of the ACM 5(11), 1962.
pub(super) fn topological_order(
    parents: &[Vec<VariableId>],
    children: &[Vec<VariableId>],
) -> Result<Vec<VariableId>, Vec<VariableId>> {
    let mut waiting_for: Vec<usize> = parents.iter().map(Vec::len).collect();
    let mut ready: std::collections::BTreeSet<VariableId> = VariableId::first(parents.len())
        .filter(|v| waiting_for[v.index()] == 0)
        .collect();
    let mut order = Vec::with_capacity(parents.len());
    while let Some(v) = ready.pop_first() {
        order.push(v);
        for &child in &children[v.index()] {
            waiting_for[child.index()] -= 1;
            if waiting_for[child.index()] == 0 {
                ready.insert(child);
            }
        }
    }
    match VariableId::first(parents.len()).find(|v| waiting_for[v.index()] > 0) {
        None => Ok(order),
        Some(start) => Err(circle_above(start, parents, &waiting_for)),
    }
}

/// Walks from parent to parent among variables still waiting, until one comes twice.
fn circle_above(
    start: VariableId,
    parents: &[Vec<VariableId>],
    waiting_for: &[usize],
) -> Vec<VariableId> {
    let mut path = vec![start];
    let mut here = start;
    // A variable that still waits has a parent that still waits, so the walk goes on until it closes.
    while let Some(&up) = parents[here.index()]
        .iter()
        .find(|p| waiting_for[p.index()] > 0)
    {
        if let Some(first) = path.iter().position(|&v| v == up) {
            path.drain(..first);
            break;
        }
        path.push(up);
        here = up;
    }
    path.reverse();
    path
}
