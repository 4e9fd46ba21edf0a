//! How odd each cell of a collection is, given all other cells of its row.

use super::LearnError;
use super::groups::{Pieces, choose, fit};

/// One cell and how it stands to the others of its row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OddCell {
    /// The row, from 0.
    pub row: usize,
    /// The column, from 0.
    pub column: usize,
    /// What was read.
    pub value: f64,
    /// What was most to be expected of the row's class, given the other cells of the row.
    pub expected: f64,
    /// Logarithm of the chance of a value at least as far out, on either side.
    pub ln_tail: f64,
}

/// Every cell, the oddest first. Each row is judged by what all the other rows teach: by the conditional Student t of one
/// cell given the others, under the row's own class.
///
/// Source: Gelman, Meng & Stern 1996, "Posterior predictive assessment of model fitness", *Statistica Sinica* 6:733–807;
/// left-out rows: Stone 1974, *JRSS B* 36:111–147.
///
/// # Errors
/// As for [`super::groups::learn`].
pub fn odd_cells(pieces: Pieces<'_>) -> Result<Vec<OddCell>, LearnError> {
    let strengths = choose(pieces)?;
    let mut cells = Vec::new();
    for row in 0..pieces.rows.len() {
        let others = |i: &usize| *i != row;
        let rows: Vec<Vec<f64>> = (0..pieces.rows.len())
            .filter(others)
            .map(|i| pieces.rows[i].clone())
            .collect();
        let class_of: Vec<usize> = (0..pieces.rows.len())
            .filter(others)
            .map(|i| pieces.class_of[i])
            .collect();
        let learned = fit(
            Pieces {
                rows: &rows,
                class_of: &class_of,
                districts: pieces.districts,
            },
            strengths,
        )?;
        let at = learned.of_class(pieces.class_of[row]).at(&pieces.rows[row]);
        for (column, given) in at.given_others.iter().enumerate() {
            let value = pieces.rows[row][column];
            cells.push(OddCell {
                row,
                column,
                value,
                expected: given.location,
                ln_tail: given.ln_tail(value),
            });
        }
    }
    cells.sort_by(|a, b| a.ln_tail.total_cmp(&b.ln_tail));
    Ok(cells)
}
