//! Quantities measured together, as a clue: one witness of many numbers.

use crate::learn::LearnError;
use crate::learn::groups::Pieces;
use crate::learn::odd::{OddCell, odd_cells};
use crate::learn::readings::Readings;

/// What is learned of quantities measured together, with the collection it is learned from.
#[derive(Clone, Debug)]
pub struct Together {
    /// Names of the quantities.
    pub columns: Vec<String>,
    /// Their density under each maker.
    pub readings: Readings,
    /// Names of the collection's pieces; empty if the collection names none.
    pub names: Vec<String>,
    /// Their readings.
    pub rows: Vec<Vec<f64>>,
    /// Their makers.
    pub class_of: Vec<usize>,
    /// The district of each maker.
    pub districts: Vec<usize>,
    /// `file:line` that says it is to be learned.
    pub citation: String,
}

impl Together {
    /// Density of some readings (position of the quantity, value) under each maker. `None` if the values lie so far out
    /// that no density can be told from 0.
    #[must_use]
    pub fn densities(&self, readings: &[(usize, f64)]) -> Option<Vec<f64>> {
        let ln = self.readings.ln_densities(readings)?;
        let densities: Vec<f64> = ln.iter().map(|ln| ln.exp()).collect();
        let sound = densities.iter().any(|&d| d > 0.0) && densities.iter().all(|d| d.is_finite());
        sound.then_some(densities)
    }

    /// The collection's cells, oddest first.
    ///
    /// # Errors
    /// As for [`odd_cells`].
    pub fn odd_cells(&self) -> Result<Vec<OddCell>, LearnError> {
        odd_cells(Pieces {
            rows: &self.rows,
            class_of: &self.class_of,
            districts: &self.districts,
        })
    }
}
