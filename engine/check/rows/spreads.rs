//! Tables whose rows each say one spread: of a weight, of a colour.

use super::{describe, first_fit, merge_seen_left_out, parent_views, row_seen, too_many_cases};
use crate::check::draft::{Draft, DraftId, DraftMeasure, Gaps, report_few_pieces};
use crate::diagnostic::Diagnostic;
use crate::model::{BeliefId, Spread};
use crate::pack::text::{Clue, Row};

/// The beliefs of a clue's rows.
pub struct RowSpreads {
    /// Parents, last one fastest.
    pub parents: Vec<DraftId>,
    /// For each parent configuration the row that speaks.
    pub row_of_configuration: Vec<Option<usize>>,
    /// For each row its belief, if it could be read.
    pub beliefs: Vec<Option<BeliefId>>,
    /// What a missing row means.
    pub gaps: Gaps,
}

impl RowSpreads {
    /// Enters a belief for every row of which `spread` makes sense; none if there are too many cases, which is reported.
    pub fn read(
        clue: &Clue,
        draft: &mut Draft<'_>,
        out: &mut Vec<Diagnostic>,
        mut spread: impl FnMut(&Row, &mut Vec<Diagnostic>) -> Option<Spread>,
    ) -> Option<Self> {
        let parents = draft.parents(&clue.table.depends_on, out);
        if draft.n_configurations(&parents).is_none() {
            out.push(too_many_cases(&clue.id.value, &clue.table));
            return None;
        }
        let fit = first_fit(&clue.table, &parent_views(draft, &parents), out);
        report_few_pieces("these rows rest", clue.table.seen.as_ref(), out);
        let n_reports = out.len();
        let name = &clue.name.as_ref().unwrap_or(&clue.id).value;
        let mut beliefs = Vec::with_capacity(clue.table.rows.len());
        for row in &clue.table.rows {
            beliefs.push(spread(row, out).map(|spread| {
                let seen = row_seen(row, &clue.table, out);
                draft.belief(describe(name, row), spread, seen, row.span)
            }));
        }
        merge_seen_left_out(n_reports, out);
        Some(Self {
            parents,
            row_of_configuration: fit.row_of_configuration,
            gaps: Gaps::Report.if_sound(fit.sound && beliefs.iter().all(Option::is_some)),
            beliefs,
        })
    }

    /// Makes them the densities of a measure.
    pub fn set(self, measure: &mut DraftMeasure) {
        let Self {
            parents,
            row_of_configuration,
            beliefs,
            gaps,
        } = self;
        let belief_of = |row: Option<usize>| row.and_then(|row| beliefs[row]);
        measure.gaps = gaps;
        measure.parents = parents;
        measure.belief_of_configuration = row_of_configuration.into_iter().map(belief_of).collect();
    }
}
