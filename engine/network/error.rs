//! What can be wrong with a network.

use thiserror::Error;

use super::ROW_SUM_TOLERANCE;

/// Why variables, tables and measures do not make a network.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum NetworkError {
    /// There must be one table for each variable.
    #[error("{n_variables} variables but {n_cpts} probability tables")]
    TableCount {
        /// Variables given.
        n_variables: usize,
        /// Tables given.
        n_cpts: usize,
    },
    /// Two variables or measures have the same name.
    #[error("the name `{name}` is used twice")]
    DuplicateName {
        /// The name.
        name: String,
    },
    /// A variable has no states.
    #[error("`{variable}` has no states")]
    NoStates {
        /// Name of the variable.
        variable: String,
    },
    /// Two states of one variable have the same name.
    #[error("`{variable}` has the state `{state}` twice")]
    DuplicateState {
        /// Name of the variable.
        variable: String,
        /// Name of the state.
        state: String,
    },
    /// A parent's index lies beyond the variables.
    #[error("`{child}` names parent {parent}, but there are only {n_variables} variables")]
    UnknownParent {
        /// Name of the variable or measure.
        child: String,
        /// Index of the parent.
        parent: usize,
        /// Variables given.
        n_variables: usize,
    },
    /// A parent is named more than once.
    #[error("`{child}` names the parent `{parent}` twice")]
    RepeatedParent {
        /// Name of the variable or measure.
        child: String,
        /// Name of the parent.
        parent: String,
    },
    /// An input depends on something.
    #[error("`{input}` is an input and cannot have parents")]
    InputWithParents {
        /// Name of the input.
        input: String,
    },
    /// A table has not one row for each state and one column for each parent configuration.
    #[error(
        "the table of `{variable}` has {found_rows} rows and {found_columns} columns instead of \
         {rows} states and {columns} parent configurations"
    )]
    TableShape {
        /// Name of the variable.
        variable: String,
        /// States of the variable.
        rows: usize,
        /// Configurations of the parents.
        columns: usize,
        /// Rows of the table.
        found_rows: usize,
        /// Columns of the table.
        found_columns: usize,
    },
    /// The parents of a variable or measure have too many configurations to count.
    #[error("the parents of `{child}` have too many configurations")]
    TooManyConfigurations {
        /// Name of the variable or measure.
        child: String,
    },
    /// An entry is negative or not finite.
    #[error(
        "the table of `{variable}` holds {value} for state {state_idx} in column {configuration}"
    )]
    NotAProbability {
        /// Name of the variable.
        variable: String,
        /// Column, counted from 0.
        configuration: usize,
        /// Row, counted from 0.
        state_idx: usize,
        /// The entry.
        value: f64,
    },
    /// A column does not sum to 1.
    #[error(
        "the probabilities of `{variable}` in column {configuration} sum to {sum}, \
         not to 1 within {ROW_SUM_TOLERANCE}"
    )]
    ColumnSum {
        /// Name of the variable.
        variable: String,
        /// Column, counted from 0.
        configuration: usize,
        /// The sum found.
        sum: f64,
    },
    /// Variables depend on one another in a circle.
    #[error("dependence runs in a circle: {}", .cycle.join(" -> "))]
    Cycle {
        /// Names from parent to child, the first one repeated at the end.
        cycle: Vec<String>,
    },
    /// Averaging over a variable that the child does not depend on directly.
    #[error("`{hidden}` is not a parent of `{child}`, so `{child}` cannot be averaged over it")]
    NotAParent {
        /// Name of the child.
        child: String,
        /// Name of the other variable.
        hidden: String,
    },
    /// Averaging over an input, which has no probability.
    #[error("`{hidden}` is an input without probability, so `{child}` cannot be averaged over it")]
    AverageOverInput {
        /// Name of the child.
        child: String,
        /// Name of the input.
        hidden: String,
    },
    /// Averaging would need a table too large to hold.
    #[error("`{child}` averaged over `{hidden}` needs a table of {} cells, more than {limit}",
        cells.map_or_else(|| "countless".to_owned(), |n| n.to_string()))]
    TableTooLarge {
        /// Name of the child.
        child: String,
        /// Name of the variable averaged over.
        hidden: String,
        /// Cells needed; `None` if they are too many to count.
        cells: Option<usize>,
        /// Cells allowed.
        limit: usize,
    },
}
