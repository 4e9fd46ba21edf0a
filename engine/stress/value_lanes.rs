//! Values of beliefs, sixteen draws side by side.

use crate::circuit::{LANES, Lanes};
use crate::model::{BeliefId, Beliefs, Values};

/// One number for every cell of every belief in every lane.
#[derive(Clone, Debug)]
pub(super) struct ValueLanes {
    cells: Vec<Lanes>,
    /// Where the cells of each belief begin, and where all end.
    offsets: Vec<usize>,
}

impl ValueLanes {
    /// The beliefs as stated, in every lane.
    pub fn of(beliefs: &Beliefs) -> Self {
        let stated = beliefs.stated();
        let (mut cells, mut offsets) = (Vec::new(), vec![0]);
        for (id, _) in beliefs.iter() {
            cells.extend(stated.of(id).iter().map(|&value| Lanes::all(value)));
            offsets.push(cells.len());
        }
        Self { cells, offsets }
    }

    /// The cells of one belief.
    pub fn of_belief(&self, id: BeliefId) -> &[Lanes] {
        &self.cells[self.offsets[id.index()]..self.offsets[id.index() + 1]]
    }

    /// The cells of one belief, to be overwritten by a draw.
    pub fn of_mut(&mut self, id: BeliefId) -> &mut [Lanes] {
        &mut self.cells[self.offsets[id.index()]..self.offsets[id.index() + 1]]
    }

    /// One belief as one lane has it.
    pub fn copy_lane(&self, id: BeliefId, lane: usize, into: &mut Values) {
        debug_assert!(lane < LANES);
        for (value, lanes) in into.of_mut(id).iter_mut().zip(self.of_belief(id)) {
            *value = lanes.0[lane];
        }
    }
}
