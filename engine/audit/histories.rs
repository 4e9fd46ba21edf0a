//! The lines of the engravings' histories by which the maker had what was printed from, if the claim of an audit holds.

use serde::Serialize;

use crate::circuit::Posterior;
use crate::model::Model;

/// Lines are cited while the print is from their engraving, by them, with at least this chance.
const LEAST: f64 = 0.1;

/// A line of a history.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HistoryCited {
    /// The engraving.
    pub engraving: String,
    /// Chance that the print is from it, by a maker and in a period for which the line spoke, given the claim and all findings.
    pub probability: f64,
    /// What the line says.
    pub said: String,
    /// `file:line`.
    pub line: String,
}

/// The lines behind a posterior in which the claim is given, the weightiest first.
pub(super) fn cited(model: &Model, posterior: &Posterior) -> Vec<HistoryCited> {
    let (Some(histories), Some(engraving)) = (&model.histories, model.catalogue.engraving) else {
        return Vec::new();
    };
    let Some(family) = posterior.family(engraving) else {
        return Vec::new();
    };
    let names = &model.network.variable(engraving).states;
    let mut cited: Vec<HistoryCited> = Vec::new();
    for (index, name) in names.iter().enumerate() {
        for configuration in 0..family.ncols() {
            let probability = family[(index, configuration)];
            for line in histories.brought_by(index, configuration) {
                let same = |c: &&mut HistoryCited| c.engraving == *name && c.line == *line;
                match cited.iter_mut().find(same) {
                    Some(cited) => cited.probability += probability,
                    None => cited.push(HistoryCited {
                        engraving: name.clone(),
                        probability,
                        said: histories.said(index, line).to_owned(),
                        line: line.clone(),
                    }),
                }
            }
        }
    }
    cited.retain(|c| c.probability >= LEAST);
    cited.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    cited
}
