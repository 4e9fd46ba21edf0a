//! Sensitivity to one entry of one table of a plain network.

use crate::circuit::JointDerivatives;
use crate::network::{Parameters, VariableId};

use super::LinearFraction;
use super::covary::covary;

/// One entry of one table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cell {
    /// Whose table.
    pub variable: VariableId,
    /// Column.
    pub configuration: usize,
    /// Row.
    pub state_idx: usize,
}

/// P(hypothesis | evidence) as a function of one entry of a table, the others of its column changing in proportion.
///
/// The hypothesis is a set of states of the variable that the derivatives are about. `None` for an input, for an entry that
/// is not there, and for an entry of 1 beside more than one other, of which nothing says how they would share what it loses.
///
/// # Source
/// See [`LinearFraction`]; from derivatives: Darwiche 2003, J. ACM 50(3), sec. 3.
#[must_use]
pub fn of_cell(
    derivatives: &JointDerivatives,
    parameters: &Parameters,
    hypothesis: &[usize],
    cell: Cell,
) -> Option<LinearFraction> {
    let stated = parameters.table(cell.variable);
    let mut above = [0.0; 2];
    let mut below = [0.0; 2];
    for state_idx in 0..derivatives.probabilities().len() {
        let table = derivatives.table(state_idx, cell.variable)?;
        let n_states = table.nrows();
        let column = stated.chunks(n_states).nth(cell.configuration)?;
        for (end, x) in [0.0, 1.0].into_iter().enumerate() {
            let moved = covary(column, cell.state_idx, x)?;
            let mut joint = 0.0;
            for (configuration, derivative) in table.column_iter().enumerate() {
                let entries = match configuration == cell.configuration {
                    true => moved.as_slice(),
                    false => &stated[configuration * n_states..][..n_states],
                };
                let terms = derivative.iter().zip(entries);
                joint += terms.map(|(d, entry)| d * entry).sum::<f64>();
            }
            below[end] += joint;
            if hypothesis.contains(&state_idx) {
                above[end] += joint;
            }
        }
    }
    Some(LinearFraction::through(above, below))
}
