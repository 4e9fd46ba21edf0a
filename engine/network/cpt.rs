//! Conditional probability tables.

use nalgebra::DMatrix;

use super::{NetworkError, VariableId};

/// How far the sum of a column may lie from 1.
///
/// Beliefs such as 1/3 or 0.1 have no exact binary form; a slip of the pen is never this small.
pub const ROW_SUM_TOLERANCE: f64 = 1e-9;

/// P(states | parents) of one variable.
#[derive(Clone, Debug, PartialEq)]
pub struct Cpt {
    /// The parents, each at most once. The last one turns fastest in a configuration index.
    pub parents: Vec<VariableId>,
    /// One row for each state, one column for each configuration of the parents; each column sums to 1.
    /// The table of an input has one column, which is ignored.
    pub table: DMatrix<f64>,
}

impl Cpt {
    /// The table of an input with `n_states` states.
    pub fn of_input(n_states: usize) -> Self {
        Self {
            parents: Vec::new(),
            table: DMatrix::from_element(n_states, 1, 1.0),
        }
    }

    /// Checks that every column is a probability distribution.
    pub(super) fn check_columns(&self, variable: &str) -> Result<(), NetworkError> {
        for (configuration, column) in self.table.column_iter().enumerate() {
            for (state_idx, &value) in column.iter().enumerate() {
                if !value.is_finite() || value < 0.0 {
                    return Err(NetworkError::NotAProbability {
                        variable: variable.to_owned(),
                        configuration,
                        state_idx,
                        value,
                    });
                }
            }
            let sum: f64 = column.iter().sum();
            if (sum - 1.0).abs() > ROW_SUM_TOLERANCE {
                return Err(NetworkError::ColumnSum {
                    variable: variable.to_owned(),
                    configuration,
                    sum,
                });
            }
        }
        Ok(())
    }
}
