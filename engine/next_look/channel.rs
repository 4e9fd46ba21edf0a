//! The readings that a look may give, and their chances in every world.

use super::worlds::Worlds;

/// The readings of one look.
#[derive(Clone, Debug, Default)]
pub struct Channel {
    /// Names of the readings that are possible; empty for the points of a grid.
    pub readings: Vec<String>,
    /// P(reading | world): for each reading one chance for each world.
    pub chances: Vec<Vec<f64>>,
}

impl Channel {
    /// P(class, reading): for each reading one chance for each class.
    #[must_use]
    pub fn joint(&self, worlds: &Worlds, class_of: &[usize], n_classes: usize) -> Vec<Vec<f64>> {
        let of_reading = |chances: &Vec<f64>| {
            let mut classes = vec![0.0; n_classes];
            for ((p, weight), state) in chances.iter().zip(&worlds.weights).zip(&worlds.states) {
                classes[class_of[*state]] += p * weight;
            }
            classes
        };
        self.chances.iter().map(of_reading).collect()
    }
}
