//! A weight and the dimensions it is judged by.
//!
//! Dimensions by themselves say nothing of the maker: they are kept with the piece, make no claim, and wait for a mass.

use std::f64::consts::PI;

use super::{Finding, Look, Piece, PieceError};
use crate::model::{Clue, ClueKind, Model, Weighing};
use crate::units::Reading;

/// How large a piece is, as far as a weight can be judged by it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Dimension {
    /// What hollow ware holds, in litres.
    Capacity(Bounded),
    /// What flat ware covers, in square centimetres.
    Area(Bounded),
}

/// A quantity with the least and the most it can be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounded {
    /// The quantity.
    pub value: f64,
    /// The least and the most it can be by the tolerances of the readings; `None` if no tolerance is given.
    pub within: Option<(f64, f64)>,
}

impl From<Reading> for Bounded {
    fn from(reading: Reading) -> Self {
        let Reading { value, tolerance } = reading;
        Self {
            value,
            within: tolerance.map(|t| (value - t, value + t)),
        }
    }
}

impl Dimension {
    /// The area of round or oval flat ware, from its widths in centimetres across two axes at right angles: π/4 × both.
    #[must_use]
    pub fn across(one: Reading, other: Reading) -> Self {
        let area = |sign: f64| {
            let width = |r: Reading| r.value + sign * r.tolerance.unwrap_or(0.0);
            PI / 4.0 * width(one) * width(other)
        };
        let tolerance = one.tolerance.or(other.tolerance);
        Self::Area(Bounded {
            value: area(0.0),
            within: tolerance.map(|_| (area(-1.0), area(1.0))),
        })
    }

    /// The size in words: `958.0 cm²`.
    #[must_use]
    pub fn words(self) -> String {
        match self {
            Self::Capacity(reading) => format!("{:.3} l", reading.value),
            Self::Area(reading) => format!("{:.1} cm²", reading.value),
        }
    }

    fn suits(self, weighing: Weighing) -> bool {
        matches!(
            (self, weighing),
            (Self::Capacity(_), Weighing::PerLitre)
                | (Self::Area(_), Weighing::PerSquareCentimetre)
        )
    }
}

/// The clue that a weight is noted on, by position: of several, the one judged by what is known of the piece's size.
///
/// # Errors
/// [`PieceError::NoWeightClue`] if the pack has none.
pub fn weight_clue(model: &Model, dimension: Option<Dimension>) -> Result<usize, PieceError> {
    let clues = &model.catalogue.clues;
    let judged = |clue: &Clue| match clue.kind {
        ClueKind::Weight { weighing, .. } => Some(weighing),
        _ => None,
    };
    let suits = |clue: &Clue| {
        let weighing = judged(clue);
        dimension.is_some_and(|d| weighing.is_some_and(|w| d.suits(w)))
    };
    clues
        .iter()
        .position(suits)
        .or_else(|| clues.iter().position(|clue| judged(clue).is_some()))
        .ok_or(PieceError::NoWeightClue)
}

impl Piece {
    /// The same piece with its size noted, in place of an earlier note of it. Alone it makes no claim.
    #[must_use]
    pub fn sized(&self, dimension: Dimension, said: String) -> Self {
        let mut piece = self.clone();
        piece.dimension = Some((dimension, said));
        piece
    }

    /// How large the piece is, if it was noted, with the words it was noted in.
    #[must_use]
    pub fn dimension(&self) -> Option<(Dimension, &str)> {
        self.dimension.as_ref().map(|(d, said)| (*d, said.as_str()))
    }

    /// The weight noted, if there is one.
    #[must_use]
    pub fn weighed(&self) -> Option<&Finding> {
        self.findings()
            .iter()
            .find(|finding| matches!(finding.look, Look::Weighed { .. }))
    }

    /// Mass divided by what the pack judges it by. What is given with the mass goes before what is noted of the piece.
    ///
    /// # Errors
    /// [`PieceError::WeightNeeds`] if that is not known of the piece.
    pub fn judged_weight(
        &self,
        model: &Model,
        clue: &Clue,
        mass: Reading,
        per: Option<Dimension>,
    ) -> Result<Bounded, PieceError> {
        let ClueKind::Weight {
            weighing,
            tolerance,
            ..
        } = clue.kind
        else {
            return Ok(judged(mass, exactly(1.0)));
        };
        let mass = Reading {
            tolerance: mass.tolerance.or(tolerance),
            ..mass
        };
        let needs = |what: &str| PieceError::WeightNeeds {
            what: what.to_owned(),
        };
        let noted = self.dimension.as_ref().map(|(dimension, _)| *dimension);
        match (weighing, per, per.or(noted)) {
            (Weighing::AsItIs, None, _) => Ok(judged(mass, exactly(1.0))),
            (Weighing::UsualWeight, None, _) => {
                let size = self.findings().iter().find_map(|finding| {
                    match (&model.catalogue.clues[finding.clue].kind, &finding.look) {
                        (ClueKind::Size, Look::Seen(size)) => Some(*size),
                        _ => None,
                    }
                });
                let size = size.ok_or_else(|| {
                    needs("it is judged for its size, and the size is not noted for sure")
                })?;
                let usual = model.catalogue.sizes[size].usual_weight;
                let usual =
                    usual.ok_or_else(|| needs("the pack gives no usual weight for this size"))?;
                Ok(judged(mass, exactly(usual)))
            }
            (Weighing::PerLitre, _, Some(Dimension::Capacity(litres))) => Ok(judged(mass, litres)),
            (Weighing::PerSquareCentimetre, _, Some(Dimension::Area(area))) => {
                Ok(judged(mass, area))
            }
            (Weighing::PerLitre, _, _) => Err(needs(
                "it is judged per litre; note the capacity as well: weighs(\"840 g\", \"0.7 l\")",
            )),
            (Weighing::PerSquareCentimetre, _, _) => Err(needs(
                "it is judged per square centimetre; note the area as well: weighs(\"410 g\", \"380 cm2\")",
            )),
            (Weighing::UsualWeight | Weighing::AsItIs, Some(_), _) => Err(needs(
                "this pack does not judge by capacity or area; note the mass alone",
            )),
        }
    }
}

/// A weight this many times beyond all that the pack speaks of is a slip: of the unit, or of the size. Wide enough for a
/// what-if over all sizes of a set, and too narrow for grams taken as ounces or kilograms. Our own choice.
const SLIP: f64 = 10.0;

/// Refuses a weight that can only be a slip. One that cannot be judged yet may still be right.
///
/// # Errors
/// [`PieceError::WeightFar`].
pub(super) fn check(piece: &Piece, model: &Model) -> Result<(), PieceError> {
    for finding in piece.findings() {
        let clue = &model.catalogue.clues[finding.clue];
        let (Look::Weighed { mass, per }, ClueKind::Weight { weighing, .. }) =
            (&finding.look, &clue.kind)
        else {
            continue;
        };
        let (Ok(judged), Some((least, most))) = (
            piece.judged_weight(model, clue, *mass, *per),
            model.weights_spoken_of(clue),
        ) else {
            continue;
        };
        if judged.value < least / SLIP || judged.value > most * SLIP {
            return Err(PieceError::WeightFar {
                said: finding.said.clone(),
                judged: judged.value,
                unit: weighing.unit(),
                least,
                most,
            });
        }
    }
    Ok(())
}

/// A mass divided by a size, with the least and the most that can be. The mass can be no less than nothing, whatever
/// tolerance the pack gives for every reading of the scale.
fn judged(mass: Reading, size: Bounded) -> Bounded {
    let t = mass.tolerance.unwrap_or(0.0);
    let (least, most) = size.within.unwrap_or((size.value, size.value));
    Bounded {
        value: mass.value / size.value,
        within: (mass.tolerance.is_some() || size.within.is_some())
            .then(|| ((mass.value - t).max(0.0) / most, (mass.value + t) / least)),
    }
}

fn exactly(value: f64) -> Bounded {
    Bounded {
        value,
        within: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(value: f64, tolerance: f64) -> Reading {
        Reading {
            value,
            tolerance: Some(tolerance),
        }
    }

    /// Source: the area of an ellipse is π a b for half-axes a and b.
    #[test]
    fn areas() {
        let Dimension::Area(round) = Dimension::across(Reading::exact(20.0), Reading::exact(20.0))
        else {
            panic!()
        };
        assert!((round.value - PI * 100.0).abs() < 1e-12);
        assert_eq!(round.within, None);
        let Dimension::Area(oval) = Dimension::across(reading(30.0, 0.2), reading(20.0, 0.1))
        else {
            panic!()
        };
        assert!((oval.value - PI * 15.0 * 10.0).abs() < 1e-12);
        let (least, most) = oval.within.unwrap();
        assert!((least - PI * 14.9 * 9.95).abs() < 1e-12);
        assert!((most - PI * 15.1 * 10.05).abs() < 1e-12);
    }

    #[test]
    fn a_quotient_lies_between_its_extremes() {
        let weight = judged(reading(410.0, 1.0), reading(380.0, 4.0).into());
        assert_eq!(weight.value, 410.0 / 380.0);
        assert_eq!(weight.within, Some((409.0 / 384.0, 411.0 / 376.0)));
        let exact = judged(Reading::exact(410.0), Reading::exact(380.0).into());
        assert_eq!(exact.within, None);
        // A scale that only shows pounds, and a thimble on it.
        let thimble = judged(reading(20.0, 450.0), exactly(1.0));
        assert_eq!(thimble.within, Some((0.0, 470.0)));
    }
}
