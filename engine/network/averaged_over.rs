//! A network in which a child no longer sees a hidden parent.

use std::sync::Arc;

use nalgebra::DMatrix;

use super::{Cpt, Network, NetworkError, Role, Structure, VariableId};

/// The largest table that averaging may make, in cells (half a gibibyte).
const MAX_CELLS: usize = 1 << 26;

impl Network {
    /// The network in which `child` depends on the parents of `hidden_parent` instead of on
    /// `hidden_parent` itself. All other variables stay as they are.
    ///
    /// Each pair of a child and its grandparents keeps its distribution, but children of one hidden
    /// parent become independent witnesses given its parents: this shows what it would cost to ignore
    /// that they hang together.
    ///
    /// P(child | pa, gp) = Σ over hidden states h of P(h | gp) P(child | pa, h), with gp the parents of
    /// the hidden variable and pa the child's other parents. New parents follow the old ones.
    ///
    /// # Errors
    /// - [`NetworkError::NotAParent`] if `child` does not depend on `hidden_parent` directly
    /// - [`NetworkError::AverageOverInput`] if `hidden_parent` is an input
    /// - [`NetworkError::TableTooLarge`] if the new table would have more than 2^26 cells
    pub fn averaged_over(
        &self,
        child: VariableId,
        hidden_parent: VariableId,
    ) -> Result<Network, NetworkError> {
        let old = self.structure();
        let name = |id: VariableId| old.variable(id).name.clone();
        if !old.parents(child).contains(&hidden_parent) {
            return Err(NetworkError::NotAParent {
                child: name(child),
                hidden: name(hidden_parent),
            });
        }
        if old.variable(hidden_parent).role == Role::Input {
            return Err(NetworkError::AverageOverInput {
                child: name(child),
                hidden: name(hidden_parent),
            });
        }

        let mut parents: Vec<VariableId> = old.parents(child).to_vec();
        parents.retain(|&p| p != hidden_parent);
        for &grandparent in old.parents(hidden_parent) {
            if !parents.contains(&grandparent) {
                parents.push(grandparent);
            }
        }
        let n_states = old.n_states(child);
        let cells = parents
            .iter()
            .try_fold(n_states, |n, &p| n.checked_mul(old.n_states(p)));
        let Some(cells) = cells.filter(|&n| n <= MAX_CELLS) else {
            return Err(NetworkError::TableTooLarge {
                child: name(child),
                hidden: name(hidden_parent),
                cells,
                limit: MAX_CELLS,
            });
        };

        let mut table = DMatrix::zeros(n_states, cells / n_states);
        let mut states = vec![0; old.variables().len()];
        for (configuration, mut column) in table.column_iter_mut().enumerate() {
            let mut rest = configuration;
            for &p in parents.iter().rev() {
                states[p.index()] = rest % old.n_states(p);
                rest /= old.n_states(p);
            }
            let above = old.configuration(hidden_parent, |v| states[v.index()]);
            for hidden_idx in 0..old.n_states(hidden_parent) {
                let weight = self.cpt(hidden_parent).table[(hidden_idx, above)];
                states[hidden_parent.index()] = hidden_idx;
                let below = old.configuration(child, |v| states[v.index()]);
                column.axpy(weight, &self.cpt(child).table.column(below), 1.0);
            }
        }

        let mut all_parents: Vec<_> = old
            .variable_ids()
            .map(|v| old.parents(v).to_vec())
            .collect();
        all_parents[child.index()].clone_from(&parents);
        let structure = Structure::new(
            old.variables().to_vec(),
            all_parents,
            old.measures().to_vec(),
        )?;
        let mut cpts = self.cpts.clone();
        cpts[child.index()] = Cpt { parents, table };
        // The sums of the new columns are means of sums already checked; a second check against the same
        // tolerance could only fail on rounding.
        Ok(Network {
            structure: Arc::new(structure),
            cpts,
        })
    }
}
