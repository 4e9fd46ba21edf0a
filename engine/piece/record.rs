//! The record of a piece in words.

use serde::Serialize;

use super::{Finding, HowSeen, Look, Piece};
use crate::model::{ClueKind, ClueTarget, Model, column::weight};

/// A finding as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FindingShown {
    /// The clue's name in scripts.
    pub clue: String,
    /// The clue's name for people.
    pub name: String,
    /// The finding in words.
    pub said: String,
    /// Who coded it, in a pack that lists its observers.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub observer: Option<String>,
    /// Who, when, light, tool, before or after cleaning, as far as noted.
    #[serde(flatten)]
    pub how: HowSeen,
    /// Whether it was coded without knowing what another observer made of it.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub blind: bool,
    /// Looks that it replaced, oldest first.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub replaced: Vec<EarlierShown>,
}

/// A look that was replaced, as it is shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EarlierShown {
    /// The finding in words.
    pub said: String,
    /// Who coded it, in a pack that lists its observers.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub observer: Option<String>,
    /// Who, when, light, tool, before or after cleaning, as far as noted.
    #[serde(flatten)]
    pub how: HowSeen,
}

/// A finding in words; a weight with what it is judged as.
fn said(piece: &Piece, finding: &Finding, model: &Model) -> String {
    let clue = &model.catalogue.clues[finding.clue];
    if let (Look::Coloured { lab, .. }, ClueTarget::Measure(id)) = (&finding.look, clue.target)
        && let Some((belief, off)) = model.nearest_colour(id, *lab)
    {
        let case = belief
            .about
            .split_once(" given ")
            .map_or(belief.about.as_str(), |(_, case)| case);
        return format!("{} (ΔE₀₀ {off:.1} from the mean of {case})", finding.said);
    }
    let Look::Weighed { mass, per } = finding.look else {
        return finding.said.clone();
    };
    match (piece.judged_weight(model, clue, mass, per), &clue.kind) {
        (
            Ok(judged),
            ClueKind::Weight {
                weighing, edges, ..
            },
        ) => {
            let unit = weighing.unit();
            let is_far = |(least, most): &(f64, f64)| !(least..=most).contains(&&judged.value);
            let far = model.weights_spoken_of(clue).filter(is_far);
            let far = far.map_or_else(String::new, |(least, most)| {
                format!("; beyond all that the pack speaks of, {least:.3} to {most:.3}")
            });
            // Thousandths of what is about 1, no fractions of what is about 1000.
            let figure = |value: f64| match value < 100.0 {
                true => format!("{value:.3}"),
                false => format!("{value:.0}"),
            };
            let within = judged.within.map_or_else(String::new, |(low, high)| {
                format!(", between {} and {}", figure(low), figure(high))
            });
            let names = |bands: &[usize]| {
                let names = bands.iter().filter_map(|&band| clue.states.get(band));
                names.cloned().collect::<Vec<_>>().join(" or ")
            };
            let band = match weight::bands_of(edges, judged.value, judged.within) {
                _ if edges.is_empty() => String::new(),
                weight::Banded::In(band) => format!(", band {}", names(&[band])),
                weight::Banded::Across(parts) => {
                    let bands: Vec<usize> =
                        (0..parts.len()).filter(|&band| parts[band] > 0.0).collect();
                    format!(", band {}", names(&bands))
                }
            };
            format!(
                "{} ({} {unit}{within}{band}{far})",
                finding.said,
                figure(judged.value)
            )
        }
        _ => finding.said.clone(),
    }
}

impl Piece {
    /// A finding in the words it was entered with; with the observer's name, if not the one who codes by default.
    ///
    /// # Panics
    /// If there is no such finding.
    #[must_use]
    pub fn said(&self, position: usize, model: &Model) -> String {
        let finding = &self.findings[position];
        let catalogue = &model.catalogue;
        match finding.observer {
            Some(observer) if finding.observer != catalogue.default_observer => {
                format!("{} ({})", finding.said, catalogue.observers[observer].name)
            }
            _ => finding.said.clone(),
        }
    }
}

/// The size of a piece in words, with what it is good for.
fn dimension(piece: &Piece) -> Option<FindingShown> {
    let (dimension, said) = piece.dimension()?;
    let claim = match piece.weighed() {
        Some(_) => "",
        None => ": no claim without a mass",
    };
    Some(FindingShown {
        clue: "dimensions".to_owned(),
        name: "dimensions".to_owned(),
        said: format!("{said} ({}){claim}", dimension.words()),
        observer: None,
        how: HowSeen::default(),
        blind: false,
        replaced: Vec::new(),
    })
}

/// The record of a piece in words: what was found, and which clues were not looked at.
#[must_use]
pub fn record(piece: &Piece, model: &Model) -> (Vec<FindingShown>, Vec<String>) {
    let clues = &model.catalogue.clues;
    let observer = |index: Option<usize>| Some(model.catalogue.observers.get(index?)?.name.clone());
    let found = piece
        .findings
        .iter()
        .map(|finding| FindingShown {
            clue: clues[finding.clue].id.clone(),
            name: clues[finding.clue].name.clone(),
            said: said(piece, finding, model),
            observer: observer(finding.observer),
            how: finding.how.clone(),
            blind: finding.blind,
            replaced: finding
                .replaced
                .iter()
                .map(|earlier| EarlierShown {
                    said: earlier.said.clone(),
                    observer: observer(earlier.observer),
                    how: earlier.how.clone(),
                })
                .collect(),
        })
        .chain(dimension(piece))
        .chain(super::condition::shown(piece))
        .collect();
    let not_looked = (0..clues.len())
        // Rules and registrations are noted where they are found; a piece without them was not looked at for less.
        .filter(|&clue| {
            !matches!(
                clues[clue].kind,
                ClueKind::Rule { .. } | ClueKind::Registration { .. }
            )
        })
        .filter(|&clue| piece.findings.iter().all(|f| f.clue != clue))
        // It was looked at: a what-if leaves it out.
        .filter(|&clue| piece.left_out.iter().all(|left| left.clue != clue))
        .map(|clue| clues[clue].name.clone())
        .collect();
    (found, not_looked)
}
