//! How much each of the engravings at hand is used.

use crate::check::draft::{Draft, DraftId, report_few_pieces};
use crate::check::rows::say::say_chances;
use crate::check::rows::singles::{project, report_other_parents};
use crate::check::rows::{self, first_fit, parent_views};
use crate::diagnostic::Diagnostic;
use crate::model::belief::{BeliefId, Spread};
use crate::model::column::pulled::Shares;
use crate::pack::text::{Engravings as EngravingsText, RowBody, Word};

/// Pieces' worth of experience behind shares of use that the pack does not give: common practice, no source.
pub const SHARES_OF_USE_SEEN: f64 = 5.0;

/// Shares of use for each maker and period, by belief.
pub struct SharesOf {
    /// Parents of the table.
    pub parents: Vec<DraftId>,
    /// For each configuration of the parents the belief, with its line unless it is the default.
    pub belief_of_configuration: Vec<Option<(BeliefId, Option<String>)>>,
    cell_of: std::sync::Arc<[Option<usize>]>,
    /// Whether the pack does not say them.
    pub by_default: bool,
    /// Whether all of the table could be read.
    pub sound: bool,
}

impl SharesOf {
    /// The shares in a configuration of `all`, of which the table's parents are some, with the line that says them.
    pub fn of(
        &self,
        configuration: usize,
        all: &[DraftId],
        draft: &Draft<'_>,
    ) -> Option<(Shares, Option<String>)> {
        let own = project(configuration, all, &self.parents, draft);
        let (belief, line) = self.belief_of_configuration.get(own)?.clone()?;
        let shares = Shares {
            belief,
            cell_of: std::sync::Arc::clone(&self.cell_of),
        };
        Some((shares, line))
    }
}

/// The shares that `[use]` gives, or all alike.
pub fn shares(
    text: &EngravingsText,
    allowed: [DraftId; 2],
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> SharesOf {
    let mut n_cells = 0;
    let cell_of = text.engravings.iter().map(|engraving| {
        (!engraving.unseen).then(|| {
            n_cells += 1;
            n_cells - 1
        })
    });
    let cell_of: Vec<Option<usize>> = cell_of.collect();
    let mut shares = SharesOf {
        parents: Vec::new(),
        belief_of_configuration: vec![None],
        cell_of: cell_of.into(),
        by_default: text.from_histories.shares.is_none(),
        sound: true,
    };
    let Some(table) = &text.from_histories.shares else {
        if n_cells > 0 {
            let say = vec![1.0 / n_cells as f64; n_cells];
            let about = "use of the engravings at hand".to_owned();
            let belief = draft.belief(
                about,
                Spread::Categorical { say },
                SHARES_OF_USE_SEEN,
                text.span,
            );
            shares.belief_of_configuration = vec![Some((belief, None))];
        }
        return shares;
    };
    let parents = draft.parents(&table.depends_on, out);
    if report_other_parents(
        table,
        "the use of engravings",
        &parents,
        &allowed,
        draft,
        out,
    ) {
        shares.sound = false;
        return shares;
    }
    let states: Vec<Word> = text
        .engravings
        .iter()
        .filter(|e| !e.unseen)
        .map(|e| e.id.clone())
        .collect();
    let fit = first_fit(table, &parent_views(draft, &parents), out);
    report_few_pieces("these rows rest", table.seen.as_ref(), out);
    let n_reports = out.len();
    let mut beliefs = Vec::new();
    for row in &table.rows {
        let say = match &row.body {
            Some(RowBody::States(say)) => say_chances(say, &states, out),
            Some(_) => {
                out.push(
                    Diagnostic::error("pack::row-form", "the use of engravings is a share for each", row.span)
                        .hint("write `say = { A = \"2 in 3\", B = \"1 in 3\", otherwise = \"impossible\" }`"),
                );
                None
            }
            None => None,
        };
        beliefs.push(say.map(|say| {
            let experience = if say.contains(&1.0) {
                1.0
            } else {
                rows::row_seen(row, table, out)
            };
            let about = rows::describe("use of the engravings at hand", row);
            let belief = draft.belief(about, Spread::Categorical { say }, experience, row.span);
            (belief, Some(draft.citation(row.span)))
        }));
    }
    rows::merge_seen_left_out(n_reports, out);
    shares.sound = fit.sound && beliefs.iter().all(Option::is_some);
    shares.parents = parents;
    shares.belief_of_configuration = fit
        .row_of_configuration
        .into_iter()
        .map(|row| row.and_then(|row| beliefs[row].clone()))
        .collect();
    shares
}
