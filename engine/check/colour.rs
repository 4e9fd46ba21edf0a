//! Clues measured as colours.

use super::draft::{ClueDraft, Draft, DraftMeasure, Gaps};
use super::rows::spreads::RowSpreads;
use crate::cielab::Lab;
use crate::diagnostic::Diagnostic;
use crate::model::column::colour::covariance;
use crate::model::{MeasureFamily, Spread};
use crate::pack::text::{Clue, Row, RowBody};

/// Three numbers and how they hang together cannot rest on fewer pieces: their covariance would not be one.
const FEWEST_PIECES: f64 = 3.0;

/// Declares a clue of the kind `colour`.
pub fn declare(clue: &Clue, draft: &mut Draft<'_>, out: &mut Vec<Diagnostic>) -> ClueDraft {
    let instrument = clue.instrument.as_ref();
    if let Some(instrument) = instrument.filter(|i| i.values.iter().any(|&sd| sd <= 0.0)) {
        out.push(
            Diagnostic::error(
                "pack::quantity",
                "a standard deviation of the instrument must be above 0",
                instrument.span,
            )
            .hint("measure one spot ten times, taking the instrument off in between"),
        );
    }
    // One that is missing or could not be read is reported.
    let instrument = instrument.map_or([1.0; 3], |instrument| instrument.values);
    draft.measures.push(DraftMeasure {
        name: clue.id.clone(),
        parents: Vec::new(),
        belief_of_configuration: Vec::new(),
        family: MeasureFamily::Colour { instrument },
        dates: false,
        learned: None,
        place: clue.id.span,
        gaps: Gaps::Leave,
    });
    ClueDraft::Measure(draft.measures.len() - 1)
}

/// The table of a clue of the kind `colour`.
pub fn table(clue: &Clue, id: &ClueDraft, draft: &mut Draft<'_>, out: &mut Vec<Diagnostic>) {
    let ClueDraft::Measure(measure) = *id else {
        return;
    };
    let Some(rows) = RowSpreads::read(clue, draft, out, spread) else {
        return;
    };
    let seen = clue.table.seen.iter();
    for few in seen
        .chain(clue.table.rows.iter().filter_map(|row| row.seen.as_ref()))
        .filter(|seen| seen.value > 0.0 && seen.value < FEWEST_PIECES)
    {
        out.push(
            Diagnostic::error(
                "pack::seen",
                format!("a colour rests on {} pieces, fewer than {FEWEST_PIECES}", few.value),
                few.span,
            )
            .hint("from fewer than three pieces nothing can be told of how three numbers hang together"),
        );
    }
    rows.set(&mut draft.measures[measure]);
}

fn spread(row: &Row, out: &mut Vec<Diagnostic>) -> Option<Spread> {
    let (mean, sd, correlation) = match row.body.as_ref()? {
        RowBody::Colour {
            mean,
            sd,
            correlation,
        } => (mean, sd, correlation),
        _ => {
            out.push(
                Diagnostic::error(
                    "pack::row-form",
                    "a row of a colour gives `mean`, `sd` and `correlation`, three numbers each",
                    row.span,
                )
                .hint("write `mean = [88.0, -2.0, 1.0], sd = [3.0, 0.8, 1.5], correlation = [0, 0, 0]`"),
            );
            return None;
        }
    };
    let n_reports = out.len();
    let [l, a, b] = mean.values;
    if let Err(error) = Lab::new(l, a, b) {
        out.push(Diagnostic::error(
            "pack::quantity",
            error.to_string(),
            mean.span,
        ));
    }
    if sd.values.iter().any(|&sd| sd <= 0.0) {
        out.push(
            Diagnostic::error(
                "pack::quantity",
                "a standard deviation must be above 0",
                sd.span,
            )
            .hint("two pieces in three lie within this of the mean, on each axis"),
        );
    }
    if out.len() > n_reports {
        return None;
    }
    let Some(covariance) = covariance(sd.values, correlation.values) else {
        out.push(
            Diagnostic::error(
                "pack::quantity",
                "no three numbers hang together like that",
                correlation.span,
            )
            .label("L* with a*, L* with b*, a* with b*")
            .hint("each lies between -1 and 1, and two that go with a third cannot go strongly against each other"),
        );
        return None;
    };
    Some(Spread::Trivariate {
        mean: mean.values,
        covariance,
    })
}
