//! Tables whose rows each say one chance: of a right reading, of an engraving never seen, of wear.

use super::{
    FirstFit, describe, first_fit, merge_seen_left_out, parent_views, row_seen, say, too_many_cases,
};
use crate::check::draft::{Draft, DraftId, report_few_pieces};
use crate::diagnostic::Diagnostic;
use crate::model::{BeliefId, Spread};
use crate::pack::text::{RowBody, Table};

/// One chance for each configuration of the table's own parents.
#[derive(Default)]
pub struct Singles {
    /// Whether every row could be read; if not, that is reported, and a case without one may not be missing.
    pub sound: bool,
    /// Parents, last one fastest.
    pub parents: Vec<DraftId>,
    /// For each parent configuration the belief, with its line, if a row speaks.
    pub belief_of_configuration: Vec<Option<(BeliefId, String)>>,
}

/// How a table of single chances is called in messages.
pub struct Called<'a> {
    /// The table: `right`.
    pub table: &'a str,
    /// What a row says: `the chance of a right reading`.
    pub what: &'a str,
    /// What a belief is about: `right reading of a coding`.
    pub about: &'a str,
    /// Such a row: `say = "92%"`.
    pub example: &'a str,
}

impl Singles {
    /// Enters a belief for every row. `allowed` are the only parents it may have, if they are told.
    pub fn read(
        table: &Table,
        called: &Called<'_>,
        allowed: Option<&[DraftId]>,
        draft: &mut Draft<'_>,
        out: &mut Vec<Diagnostic>,
    ) -> Self {
        let parents = draft.parents(&table.depends_on, out);
        if let Some(allowed) = allowed
            && report_other_parents(table, called.what, &parents, allowed, draft, out)
        {
            return Self::default();
        }
        if draft.n_configurations(&parents).is_none() {
            out.push(too_many_cases(called.table, table));
            return Self::default();
        }
        let FirstFit {
            row_of_configuration,
            sound,
        } = first_fit(table, &parent_views(draft, &parents), out);
        report_few_pieces("these rows rest", table.seen.as_ref(), out);
        let n_reports = out.len();
        let mut beliefs = Vec::new();
        for row in &table.rows {
            let say = match &row.body {
                Some(RowBody::Single(chance)) => say::single(chance, 2, out),
                Some(_) => {
                    let message = format!("{} is one chance", called.what);
                    out.push(
                        Diagnostic::error("pack::row-form", message, row.span)
                            .hint(format!("write `{}`", called.example)),
                    );
                    None
                }
                None => None,
            };
            beliefs.push(say.map(|say| {
                let experience = row_seen(row, table, out);
                let about = describe(called.about, row);
                let belief = draft.belief(about, Spread::Categorical { say }, experience, row.span);
                (belief, draft.citation(row.span))
            }));
        }
        merge_seen_left_out(n_reports, out);
        Self {
            sound: sound && beliefs.iter().all(Option::is_some),
            parents,
            belief_of_configuration: row_of_configuration
                .into_iter()
                .map(|row| row.and_then(|row| beliefs[row].clone()))
                .collect(),
        }
    }

    /// The belief for a configuration of `all`, last one fastest, of which the table's parents are some.
    pub fn of(
        &self,
        configuration: usize,
        all: &[DraftId],
        draft: &Draft<'_>,
    ) -> Option<&(BeliefId, String)> {
        let own = project(configuration, all, &self.parents, draft);
        self.belief_of_configuration.get(own)?.as_ref()
    }
}

/// Reports names in `depends_on` beyond those allowed; whether there is any.
pub fn report_other_parents(
    table: &Table,
    what: &str,
    parents: &[DraftId],
    allowed: &[DraftId],
    draft: &Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> bool {
    let Some(&other) = parents.iter().find(|parent| !allowed.contains(parent)) else {
        return false;
    };
    let name = &draft.variables[other].name.value;
    let names: Vec<String> = allowed
        .iter()
        .map(|&id| format!("`{}`", draft.variables[id].name.value))
        .collect();
    let place = table.depends_on.iter().find(|word| word.value == *name);
    out.push(
        Diagnostic::error(
            "pack::row-form",
            format!("{what} cannot depend on `{name}`"),
            place.map_or(table.span, |word| word.span),
        )
        .hint(format!("it may depend on {}", names.join(", "))),
    );
    true
}

/// The configuration of `own` within a configuration of `all`; both have the last one fastest.
pub fn project(configuration: usize, all: &[DraftId], own: &[DraftId], draft: &Draft<'_>) -> usize {
    let mut rest = configuration;
    let mut digits = vec![0; all.len()];
    for (digit, &id) in digits.iter_mut().zip(all).rev() {
        let n = draft.variables[id].states.len().max(1);
        *digit = rest % n;
        rest /= n;
    }
    own.iter().fold(0, |index, id| {
        let place = all.iter().position(|of_all| of_all == id);
        index * draft.variables[*id].states.len() + place.map_or(0, |place| digits[place])
    })
}
