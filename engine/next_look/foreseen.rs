//! What holds once a look has shown something, with its chance.

use super::candidates::assuming;
use super::measured::Grid;
use super::readings::Readings;
use super::stretches::stretches;
use super::worlds::Worlds;
use super::{Asked, Weighed};
use crate::circuit::Posterior;
use crate::model::column::weight::{between, density};
use crate::model::{ClueKind, ClueTarget};
use crate::network::{Evidence, MeasureId};
use crate::piece::{Look, Piece};

/// Values of a quantity less dense than this are passed over: together they are less than any figure shows.
const NEGLIGIBLE: f64 = 1e-14;

/// All that is known with a reading that a look may give.
pub(crate) struct Foreseen<'a> {
    /// The piece, with the reading noted if it is of a mark: what may be said depends on it.
    pub piece: &'a Piece,
    /// All that is found then.
    pub evidence: &'a Evidence,
    /// The posterior then.
    pub posterior: &'a Posterior,
}

/// What may hold, each with its chance.
type Chances<K> = Vec<(K, f64)>;

impl Asked<'_> {
    /// The chance of everything that `told` may say after a look. None if it says nothing of some reading, if the look gives
    /// several quantities at once, or a mark reading that the piece as described would not take.
    pub(crate) fn foresee<K: Clone + PartialEq>(
        &self,
        piece: &Piece,
        weighed: &Weighed<'_>,
        worlds: &Worlds,
        mut told: impl FnMut(Foreseen<'_>) -> Option<K>,
    ) -> Option<Chances<K>> {
        let model = self.model();
        let compiled = &self.subject.compiled;
        let found = assuming(model, self.evidence(), &weighed.setting);
        let mut workspace = compiled.circuit.workspace();
        let mut one = |piece: &Piece, evidence: &Evidence| {
            let circuit = &compiled.circuit;
            let posterior = circuit.evaluate_in(&mut workspace, &compiled.parameters, evidence);
            told(Foreseen {
                piece,
                evidence,
                posterior: posterior.ok()?,
            })
        };
        let mut chances = Vec::new();
        match (&weighed.readings, weighed.candidate.target) {
            (Readings::Exact(channel), ClueTarget::Variable(target)) => {
                let clue = &model.catalogue.clues[weighed.candidate.clue];
                for (reading, in_worlds) in channel.readings.iter().zip(&channel.chances) {
                    let chance = worlds.mean(in_worlds);
                    if chance == 0.0 {
                        continue;
                    }
                    let state = clue.states.iter().position(|state| state == reading)?;
                    let mut evidence = found.clone();
                    evidence.observe(target, state);
                    let so = match clue.kind {
                        ClueKind::Mark => {
                            one(&self.read(piece, weighed, state, reading)?, &evidence)?
                        }
                        _ => one(piece, &evidence)?,
                    };
                    add(&mut chances, so, chance);
                }
            }
            (
                Readings::Quantity {
                    measure,
                    normals,
                    grid,
                    ..
                },
                _,
            ) => {
                let quantity = Quantity {
                    measure: *measure,
                    normals,
                    weights: (0..normals.len())
                        .map(|c| weighed.configurations.iter().map(|row| row[c]).sum())
                        .collect(),
                };
                return quantity.chances(grid, &found, |evidence| one(piece, evidence));
            }
            _ => return None,
        }
        Some(chances)
    }

    /// The piece with a reading noted, under the circumstances assumed.
    fn read(
        &self,
        piece: &Piece,
        weighed: &Weighed<'_>,
        state: usize,
        reading: &str,
    ) -> Option<Piece> {
        let model = self.model();
        let mut then = piece.clone();
        for &(circumstance, state) in &weighed.setting {
            let said = model.catalogue.clues[circumstance].states[state].clone();
            then = then
                .note(circumstance, Look::Seen(state), said, model)
                .ok()?;
        }
        let (clue, seen, said) = (
            weighed.candidate.clue,
            Look::Seen(state),
            reading.to_owned(),
        );
        let is_noted = piece.findings().iter().any(|finding| finding.clue == clue);
        let noted = match is_noted {
            true => then.note_again(clue, seen, said, model),
            false => then.note(clue, seen, said, model),
        };
        noted.ok()
    }
}

/// A mixture of normals that a reading comes from.
struct Quantity<'a> {
    measure: MeasureId,
    /// Location and spread under each configuration of the measure's parents.
    normals: &'a [(f64, f64)],
    /// The chance of each configuration, given all that is found.
    weights: Vec<f64>,
}

impl Quantity<'_> {
    fn densities(&self, x: f64) -> Vec<f64> {
        let at_x = |&(location, scale): &(f64, f64)| density(x, location, scale, false);
        self.normals.iter().map(at_x).collect()
    }

    fn matters(&self, x: f64) -> bool {
        let terms = self.densities(x).into_iter().zip(&self.weights);
        terms.map(|(density, weight)| density * weight).sum::<f64>() > NEGLIGIBLE
    }

    fn chance_between(&self, low: f64, high: f64) -> f64 {
        let normals = self.normals.iter().zip(&self.weights);
        let terms = normals.map(|(&(location, scale), weight)| {
            weight * between((low - location) / scale, (high - location) / scale)
        });
        terms.sum()
    }

    fn chances<K: Clone + PartialEq>(
        &self,
        grid: &Grid,
        found: &Evidence,
        mut told: impl FnMut(&Evidence) -> Option<K>,
    ) -> Option<Chances<K>> {
        let holds = |x: f64| {
            let mut evidence = found.clone();
            evidence.measured(self.measure, self.densities(x));
            told(&evidence)
        };
        let (mut chances, mut low) = (Vec::new(), f64::NEG_INFINITY);
        for (so, high) in stretches(grid, |x| self.matters(x), holds)? {
            add(&mut chances, so, self.chance_between(low, high));
            low = high;
        }
        Some(chances)
    }
}

fn add<K: PartialEq>(chances: &mut Chances<K>, so: K, chance: f64) {
    match chances.iter_mut().find(|(known, _)| *known == so) {
        Some((_, sum)) => *sum += chance,
        None => chances.push((so, chance)),
    }
}
