//! How far the weights reach that a pack speaks of.

use super::{BeliefId, Clue, ClueKind, ClueTarget, ColumnRule, MeasureFamily, MeasureRules, Model};

/// Standard deviations to either side of every mean within which a weight is one that the pack speaks of: beyond, even the
/// heaviest or lightest maker would make less than one piece in a million so. Our own choice.
const REACH: f64 = 5.0;

impl Model {
    /// Whether a belief is about weights themselves, and not about their logarithms or something else.
    #[must_use]
    pub(super) fn is_of_plain_weights(&self, belief: BeliefId) -> bool {
        let weights = self.catalogue.clues.iter();
        let weights = weights.filter(|clue| matches!(clue.kind, ClueKind::Weight { .. }));
        let mut beliefs = weights.flat_map(|clue| self.beliefs_of_weights(clue));
        beliefs.any(|(of, logarithmic)| of == belief && !logarithmic)
    }

    /// The beliefs of a weight clue, and whether each is about the logarithm.
    fn beliefs_of_weights(&self, clue: &Clue) -> Vec<(BeliefId, bool)> {
        match clue.target {
            ClueTarget::Variable(id) => {
                let rules = self.tables[id.index()].iter().flat_map(|t| &t.rules);
                let bands = rules.filter_map(|rule| match rule {
                    ColumnRule::Bands(bands) => Some((bands.belief, bands.logarithmic)),
                    _ => None,
                });
                bands.collect()
            }
            ClueTarget::Measure(id) => match &self.measures[id.index()] {
                MeasureRules::Quantity {
                    belief_of_configuration,
                    family: family @ (MeasureFamily::Normal | MeasureFamily::Lognormal),
                } => {
                    let logarithmic = *family == MeasureFamily::Lognormal;
                    let beliefs = belief_of_configuration.iter();
                    beliefs.map(|&belief| (belief, logarithmic)).collect()
                }
                _ => Vec::new(),
            },
        }
    }

    /// The least and the most that a weight clue's beliefs speak of, as the weight is judged (grams per litre, of the usual
    /// weight…); none for another clue.
    #[must_use]
    pub fn weights_spoken_of(&self, clue: &Clue) -> Option<(f64, f64)> {
        let values = self.beliefs.stated();
        let mut reach: Option<(f64, f64)> = None;
        for (belief, logarithmic) in self.beliefs_of_weights(clue) {
            let (location, scale) = values.normal(belief);
            let ends = [location - REACH * scale, location + REACH * scale];
            let [low, high] = ends.map(|end| if logarithmic { end.exp() } else { end });
            let (least, most) = reach.unwrap_or((low, high));
            reach = Some((least.min(low).max(0.0), most.max(high)));
        }
        reach
    }
}
