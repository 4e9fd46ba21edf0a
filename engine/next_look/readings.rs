//! How the readings of a look are reckoned with: exactly, integrated over, or drawn.

use super::channel::Channel;
use super::measured::{self, Grid};
use super::worlds::{Outcomes, Worlds};
use crate::model::{ClueTarget, MeasureFamily, MeasureRules, Model};
use crate::network::MeasureId;

/// How the readings of a look are reckoned with.
pub enum Readings {
    /// States, exactly.
    Exact(Channel),
    /// A quantity: points close enough for an integral, and bands of them.
    Quantity {
        /// The points.
        points: Channel,
        /// The bands, for plans and to be told by name.
        bands: Channel,
        /// The measure.
        measure: MeasureId,
        /// The normal (location, spread) under each configuration of the measure's parents.
        normals: Vec<(f64, f64)>,
        /// Where the points lie.
        grid: Grid,
    },
    /// Several quantities at once, which are drawn.
    Several(MeasureId),
}

/// The readings of a look at a target, from its outcomes in every world. `names` are the states of a clue.
#[must_use]
pub fn readings(
    model: &Model,
    target: ClueTarget,
    names: &[String],
    outcomes: &Outcomes,
    worlds: &Worlds,
) -> Readings {
    let n_worlds = worlds.weights.len();
    let id = match target {
        ClueTarget::Variable(_) => {
            let mut channel = Channel::default();
            for (state, name) in names.iter().enumerate().take(outcomes.n) {
                let chances = (0..n_worlds).map(|world| outcomes.in_world(world)[state]);
                let chances: Vec<f64> = chances.collect();
                if chances.iter().any(|&p| p > 0.0) {
                    channel.readings.push(name.clone());
                    channel.chances.push(chances);
                }
            }
            return Readings::Exact(channel);
        }
        ClueTarget::Measure(id) => id,
    };
    match &model.measures[id.index()] {
        MeasureRules::Quantity {
            belief_of_configuration,
            family: family @ (MeasureFamily::Normal | MeasureFamily::Lognormal),
        } => {
            let values = model.beliefs.stated();
            let normals = belief_of_configuration.iter().map(|&b| values.normal(b));
            let normals: Vec<(f64, f64)> = normals.collect();
            let grid = Grid::over(&normals, outcomes);
            let points = grid.points(&normals, outcomes, n_worlds);
            let is_logarithm = *family == MeasureFamily::Lognormal;
            let bands = measured::bands(&grid, &points, &worlds.weights, is_logarithm);
            Readings::Quantity {
                points,
                bands,
                measure: id,
                normals,
                grid,
            }
        }
        _ => Readings::Several(id),
    }
}
