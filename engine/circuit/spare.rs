//! Workspaces that are not in use, so that a question asked by itself need not ask the system for memory either.

use std::sync::{Arc, Mutex};

use super::{Circuit, Workspace};

/// Workspaces kept at most: one for each thread of a usual machine.
const MOST: usize = 16;
/// Cells of a pass beyond which a workspace is given back to the system: 4 mebibytes in `f64`, kept by each thread.
const MOST_CELLS: usize = 1 << 19;

/// Workspaces of one circuit and its clones that are not in use.
#[derive(Clone, Debug, Default)]
pub(super) struct Spare(Arc<Mutex<Vec<Workspace>>>);

impl Circuit {
    /// Works in a workspace that was used before, if one is free.
    pub(super) fn with_workspace<T>(&self, work: impl FnOnce(&mut Workspace) -> T) -> T {
        // Held for a push or a pop alone: whoever panics elsewhere takes its own workspace along.
        let spare = || self.spare.0.lock().unwrap_or_else(|left| left.into_inner());
        let kept = spare().pop();
        let mut workspace = kept.unwrap_or_else(|| self.workspace());
        let result = work(&mut workspace);
        if self.plan.n_cells <= MOST_CELLS {
            let mut spare = spare();
            if spare.len() < MOST {
                spare.push(workspace);
            }
        }
        result
    }
}
