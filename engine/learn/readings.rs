//! The density of a set of readings under each class, with the chance that one of them is wrong.
//!
//! Every clue has a misreading model, and so have numbers: a misplaced point or a figure copied from the next line is no
//! evidence against the class. Either all readings are right, or one of them, any with the same chance, has nothing to do
//! with the piece and is spread as that column is over the whole collection, whatever the class.

use rand::{Rng, RngExt};

use super::student_t::{MultivariateT, Univariate};

/// What is learned of readings.
#[derive(Clone, Debug)]
pub struct Readings {
    classes: Vec<MultivariateT>,
    columns: Vec<Univariate>,
    wrong: f64,
}

impl Readings {
    /// Densities of right readings for each class, and of wrong ones for each column, learned from `n_pieces`.
    ///
    /// The chance that a cell is wrong is that of an event not met in any of the collection's cells so far, by Jeffreys'
    /// rule, ½/(N + 1).
    ///
    /// Source: Jeffreys 1961, *Theory of Probability* (3rd ed.), sec. 3.10; Gelman et al. 2013, sec. 2.8.
    #[must_use]
    pub fn new(classes: Vec<MultivariateT>, columns: Vec<Univariate>, n_pieces: usize) -> Self {
        let n_cells = (n_pieces * columns.len()) as f64;
        Self {
            classes,
            columns,
            wrong: 0.5 / (n_cells + 1.0),
        }
    }

    /// The chance that one cell is wrong.
    #[must_use]
    pub fn chance_of_a_wrong_cell(&self) -> f64 {
        self.wrong
    }

    /// The distribution of right readings of one class.
    #[must_use]
    pub fn of_class(&self, class: usize) -> &MultivariateT {
        &self.classes[class]
    }

    /// For each class the logarithm of the density of some readings: column, from 0, and value, each column once. What was
    /// not measured says nothing.
    ///
    /// `None` if the readings cannot be told apart in the numbers there are, because the scales of two columns are too
    /// far apart.
    #[must_use]
    pub fn ln_densities(&self, readings: &[(usize, f64)]) -> Option<Vec<f64>> {
        let (cells, values): (Vec<usize>, Vec<f64>) = readings.iter().copied().unzip();
        if cells.iter().copied().eq(0..self.columns.len()) {
            return Some(self.ln_densities_of_all(&values));
        }
        self.classes
            .iter()
            .map(|t| Some(self.ln_density(&t.only(&cells)?, &cells, &values)))
            .collect()
    }

    /// The same for a row with every cell.
    #[must_use]
    pub fn ln_densities_of_all(&self, values: &[f64]) -> Vec<f64> {
        let cells: Vec<usize> = (0..self.columns.len()).collect();
        self.classes
            .iter()
            .map(|t| self.ln_density(t, &cells, values))
            .collect()
    }

    /// A row as it is to be expected of one class: every cell right, or one of them wrong.
    #[must_use]
    pub fn draw<R: Rng>(&self, class: usize, rng: &mut R) -> Vec<f64> {
        let mut row = self.classes[class].draw(rng);
        let one_wrong = (self.wrong * row.len() as f64).min(1.0);
        if rng.random::<f64>() < one_wrong {
            let cell = rng.random_range(0..row.len());
            row[cell] = self.columns[cell].draw(rng);
        }
        row
    }

    fn ln_density(&self, t: &MultivariateT, cells: &[usize], values: &[f64]) -> f64 {
        let at = t.at(values);
        let one_wrong = (self.wrong * cells.len() as f64).min(1.0);
        let each = one_wrong / cells.len().max(1) as f64;
        let mut terms = vec![(-one_wrong).ln_1p() + at.ln_density];
        for ((&cell, &value), without) in cells.iter().zip(values).zip(&at.ln_density_without) {
            terms.push(each.ln() + without + self.columns[cell].ln_density(value));
        }
        let highest = terms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        highest + terms.iter().map(|t| (t - highest).exp()).sum::<f64>().ln()
    }
}

#[cfg(test)]
mod tests {
    use nalgebra::{DMatrix, DVector};

    use super::*;

    fn readings() -> Readings {
        let one = |location: f64| {
            let scale = DMatrix::from_element(1, 1, 0.04);
            MultivariateT::new(DVector::from_element(1, location), scale, 8.0).unwrap()
        };
        let column = Univariate {
            location: 2.0,
            scale: 1.0,
            degrees_of_freedom: 9.0,
        };
        Readings::new(vec![one(1.0), one(3.0)], vec![column], 10)
    }

    /// A density sums to 1, the chance of a wrong cell included.
    #[test]
    fn a_density_for_each_class() {
        let (readings, step) = (readings(), 1e-3);
        let mut sums = [0.0; 2];
        for i in -40_000..44_000 {
            let at = [(f64::from(i) + 0.5) * step];
            for (sum, ln) in sums.iter_mut().zip(readings.ln_densities_of_all(&at)) {
                *sum += step * ln.exp();
            }
        }
        assert!(sums.iter().all(|sum| (sum - 1.0).abs() < 1e-6), "{sums:?}");
    }

    /// A reading far from every class says nothing between them; without the chance of a slip it would decide.
    #[test]
    fn a_slip_decides_nothing() {
        let at = readings().ln_densities(&[(0, 60.0)]).unwrap();
        assert!((at[0] - at[1]).abs() < 0.05, "{at:?}");
        let near = readings().ln_densities(&[(0, 1.1)]).unwrap();
        assert!(near[0] - near[1] > 3.0, "{near:?}");
        assert_eq!(readings().chance_of_a_wrong_cell(), 0.5 / 11.0);
    }
}
