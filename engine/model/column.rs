//! How beliefs become one column of a table: one family of distributions a file.

pub mod chance;
pub mod colour;
pub mod grades;
pub mod mark_kinds;
pub mod misreading;
pub mod plate;
pub mod pulled;
pub mod simulated;
pub mod weight;
pub mod worn;

use super::belief::{BeliefId, Values};
use chance::Chance;

/// How one column P(states | parent configuration) is written.
#[derive(Clone, Debug)]
pub enum ColumnRule {
    /// One state for certain: by definition, or said to be certain.
    Certain(usize),
    /// The belief itself, one cell for each state.
    Stated(BeliefId),
    /// The usual state read right with a chance, else another state.
    Misreading(misreading::Misreading),
    /// A grade read right, one grade off, or further off.
    GradeReading(grades::GradeReading),
    /// Genuine states, and one put on to deceive.
    Simulated(simulated::Simulated),
    /// Which mark a piece carries, if any.
    MarkKinds(mark_kinds::MarkKinds),
    /// Whether a piece carries initials that are not its maker's.
    StrayInitials(mark_kinds::StrayInitials),
    /// Which of the engravings at hand a print was pulled from.
    Pulled(pulled::Pulled),
    /// How far a plate has worn.
    PlateState(plate::PlateState),
    /// A state that may be seen as another on a worn plate.
    WornReading(worn::WornReading),
    /// A continuous quantity cut into bands.
    Bands(weight::Bands),
    /// A configuration that the pack makes impossible; the column is never weighed, and holds equal shares so that it
    /// still sums to one.
    NeverReached,
}

impl ColumnRule {
    /// Writes the column for the given values of the beliefs.
    pub fn write<T: Chance>(&self, values: &Values<T>, column: &mut [T]) {
        match self {
            Self::Certain(state) => {
                column.fill(T::all(0.0));
                column[*state] = T::all(1.0);
            }
            Self::Stated(belief) => column.copy_from_slice(values.of(*belief)),
            Self::Misreading(rule) => rule.write(values, column),
            Self::GradeReading(rule) => rule.write(values, column),
            Self::Simulated(rule) => rule.write(values, column),
            Self::MarkKinds(rule) => rule.write(values, column),
            Self::StrayInitials(rule) => rule.write(values, column),
            Self::Pulled(rule) => rule.write(values, column),
            Self::PlateState(rule) => rule.write(values, column),
            Self::WornReading(rule) => rule.write(values, column),
            Self::Bands(rule) => rule.write(values, column),
            Self::NeverReached => column.fill(T::all(1.0 / column.len() as f64)),
        }
    }

    /// Writes the column as far as one entry of it needs it: that entry holds what [`write`](Self::write) gives it, the
    /// others may hold anything.
    pub fn write_entry<T: Chance>(&self, values: &Values<T>, state: usize, column: &mut [T]) {
        match self {
            Self::Stated(belief) => column[state] = values.of(*belief)[state],
            Self::Bands(rule) => column[state] = rule.chance(values, state),
            _ => self.write(values, column),
        }
    }

    /// The beliefs the column is written from.
    #[must_use]
    pub fn beliefs(&self) -> Vec<BeliefId> {
        match self {
            Self::Certain(_) | Self::NeverReached => Vec::new(),
            Self::Stated(belief) => vec![*belief],
            Self::Misreading(rule) => vec![rule.right],
            Self::GradeReading(rule) => vec![rule.steps],
            Self::Simulated(rule) => {
                let mut beliefs = rule.genuine.beliefs();
                beliefs.push(rule.simulated);
                beliefs
            }
            Self::MarkKinds(rule) => vec![rule.rate, rule.shares],
            Self::StrayInitials(rule) => vec![rule.rate, rule.stray],
            Self::Pulled(rule) => vec![rule.never_seen, rule.shares.belief],
            Self::PlateState(rule) => vec![rule.wear, rule.shares.belief],
            Self::WornReading(rule) => {
                let mut beliefs = rule.kept.beliefs();
                beliefs.extend(rule.lost.beliefs());
                beliefs.push(rule.loss);
                beliefs
            }
            Self::Bands(rule) => vec![rule.belief],
        }
    }
}
