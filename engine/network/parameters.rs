//! The numbers of a network, apart from its structure.

use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

use super::{Cpt, Structure, VariableId};

/// The entries of all conditional probability tables of a network in one vector.
///
/// A drawn or learned set of tables is written into a clone with [`column_mut`](Self::column_mut), so the
/// network and its compiled circuit need not be rebuilt. Columns are not checked as they are written: a
/// query refuses entries that are no probabilities, and takes a column that does not sum to 1 as it stands.
///
/// # Shape
/// The tables stand in the order of the variables, each column by column.
#[derive(Clone, Debug, PartialEq)]
pub struct Parameters {
    structure: Arc<Structure>,
    values: Vec<f64>,
    stamp: Stamp,
}

/// A number that no other content has, given out when it is first asked for; 0 before.
#[derive(Default)]
struct Stamp(AtomicU64);

static NEXT_STAMP: AtomicU64 = AtomicU64::new(1);

/// A copy has the same content, and so the same stamp.
impl Clone for Stamp {
    fn clone(&self) -> Self {
        Self(AtomicU64::new(self.0.load(Ordering::Relaxed)))
    }
}

/// The stamp says nothing about the content itself.
impl PartialEq for Stamp {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl std::fmt::Debug for Stamp {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Stamp")
    }
}

impl Parameters {
    pub(super) fn new(structure: Arc<Structure>, cpts: &[Cpt]) -> Self {
        let mut values = Vec::with_capacity(structure.n_parameters());
        for cpt in cpts {
            // nalgebra stores column by column.
            values.extend_from_slice(cpt.table.as_slice());
        }
        Self {
            structure,
            values,
            stamp: Stamp::default(),
        }
    }

    /// P(states | one parent configuration), one entry for each state.
    ///
    /// # Panics
    /// If the network has no such variable or the variable no such configuration.
    pub fn column(&self, id: VariableId, configuration: usize) -> &[f64] {
        let n_states = self.structure.n_states(id);
        &self.table(id)[configuration * n_states..][..n_states]
    }

    /// The same column, to be written.
    ///
    /// # Panics
    /// If the network has no such variable or the variable no such configuration.
    pub fn column_mut(&mut self, id: VariableId, configuration: usize) -> &mut [f64] {
        self.content_changes();
        let n_states = self.structure.n_states(id);
        let range = self.structure.table_range(id);
        &mut self.values[range][configuration * n_states..][..n_states]
    }

    /// Copies the column of one configuration over that of another.
    ///
    /// # Panics
    /// If the network has no such variable or the variable no such configuration.
    pub fn copy_column(&mut self, id: VariableId, from: usize, to: usize) {
        self.content_changes();
        let n_states = self.structure.n_states(id);
        let range = self.structure.table_range(id);
        let start = from * n_states;
        self.values[range].copy_within(start..start + n_states, to * n_states);
    }

    /// All columns of one variable, one after the other.
    pub fn table(&self, id: VariableId) -> &[f64] {
        &self.values[self.structure.table_range(id)]
    }

    /// All columns of all variables, in the order of the variables.
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// The same, to be written.
    pub fn values_mut(&mut self) -> &mut [f64] {
        self.content_changes();
        &mut self.values
    }

    /// Equal stamps mean equal content, within this run of the program: whoever has checked or loaded
    /// these numbers once need not do so again.
    pub(crate) fn stamp(&self) -> u64 {
        let Stamp(stamp) = &self.stamp;
        match stamp.load(Ordering::Relaxed) {
            0 => {
                let new = NEXT_STAMP.fetch_add(1, Ordering::Relaxed);
                // Another thread may have been quicker; its number holds.
                match stamp.compare_exchange(0, new, Ordering::Relaxed, Ordering::Relaxed) {
                    Ok(_) => new,
                    Err(other) => other,
                }
            }
            given => given,
        }
    }

    /// Every way to write passes here. A reference given out for writing cannot outlive the next query,
    /// which borrows these numbers.
    fn content_changes(&mut self) {
        *self.stamp.0.get_mut() = 0;
    }

    /// The structure that these numbers belong to.
    pub fn structure(&self) -> &Arc<Structure> {
        &self.structure
    }
}
