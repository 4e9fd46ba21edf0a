//! Which marks each maker used, and when.

use crate::check::draft::{Draft, report_few_pieces, seen};
use crate::check::{names, rows};
use crate::diagnostic::Diagnostic;
use crate::model::belief::{BeliefId, Spread};
use crate::pack::text::{Maker, Marks as MarksText, PackText, Placed, Word};
use crate::pack::years::Years;

/// A maker's marks as beliefs.
pub struct Used {
    /// Shares of its marks; `None` if nothing readable is said of them.
    pub shares: Option<BeliefId>,
    /// State of the mark variable and years of use, for each cell of the shares.
    pub kinds: Vec<(usize, Option<Years>)>,
}

/// For each maker its marks and their base shares.
pub fn marks_of_makers(
    text: &MarksText,
    pack: &PackText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Vec<Used> {
    names::report_duplicates(
        "maker with marks",
        text.marked_by.iter().map(|entry| &entry.maker),
        out,
    );
    let mut used: Vec<Used> = pack
        .makers
        .iter()
        .map(|_| Used {
            shares: None,
            kinds: Vec::new(),
        })
        .collect();
    let maker_ids: Vec<&str> = pack.makers.iter().map(|m| m.id.value.as_str()).collect();
    let mark_ids: Vec<&str> = text.marks.iter().map(|m| m.id.value.as_str()).collect();
    for entry in &text.marked_by {
        names::report_duplicates(
            "mark of this maker",
            entry.kinds.iter().map(|k| &k.mark),
            out,
        );
        let Some(maker) = names::find("maker", &entry.maker, maker_ids.iter().copied(), out) else {
            continue;
        };
        let mut kinds = Vec::new();
        for kind in &entry.kinds {
            if let Some(say) = &kind.say {
                rows::say::report_zero(say, out);
            }
            if let Some(years) = &kind.years {
                report_outside(&kind.mark, years, &pack.makers[maker], out);
            }
            if let Some(mark) = names::find("mark", &kind.mark, mark_ids.iter().copied(), out) {
                kinds.push((mark + 1, kind.years.as_ref().map(|y| y.value)));
            }
        }
        let stated: Option<Vec<f64>> = entry
            .kinds
            .iter()
            .map(|kind| kind.say.as_ref().map(|say| say.value.value))
            .collect();
        if entry.kinds.is_empty() {
            out.push(
                Diagnostic::error(
                    "pack::missing",
                    format!("`{}` has no marks here", entry.maker.value),
                    entry.span,
                )
                .hint("add `kinds = [{ mark = …, say = … }]`, or take the entry out"),
            );
        }
        let Some(say) = stated.filter(|_| !kinds.is_empty()) else {
            continue;
        };
        let sum: f64 = say.iter().sum();
        if (sum - 1.0).abs() > rows::say::SUM_TOLERANCE {
            let whose = format!("the shares of the marks of `{}`", entry.maker.value);
            let place = entry.kinds.last().and_then(|kind| kind.say.as_ref());
            let place = place.map_or(entry.span, |say| say.span);
            let report = rows::say::sum_off("pack::row-sum", &whose, sum, place);
            out.push(report.also(entry.span, "the maker"));
        }
        if kinds.len() < entry.kinds.len() {
            continue;
        }
        report_few_pieces("these shares rest", entry.seen.as_ref(), out);
        // A maker with a single mark leaves nothing to doubt about shares.
        let experience = match (&entry.seen, entry.kinds.len()) {
            (None, 1) => 1.0,
            (own, _) => seen(None, own.as_ref(), entry.span, out),
        };
        let about = format!("shares of the marks of {}", entry.maker.value);
        used[maker] = Used {
            shares: Some(draft.belief(about, Spread::Categorical { say }, experience, entry.span)),
            kinds,
        };
    }
    used
}

fn report_outside(mark: &Word, years: &Placed<Years>, maker: &Maker, out: &mut Vec<Diagnostic>) {
    let Some(Placed { value: firm, span }) = maker.years else {
        return;
    };
    if years.value.first < firm.first || years.value.last > firm.last {
        out.push(
            Diagnostic::error(
                "pack::mark-outside-firm",
                format!(
                    "the mark `{}` is in use {}, and `{}` was active {firm}",
                    mark.value, years.value, maker.id.value
                ),
                years.span,
            )
            .also(span, "the maker's years")
            .hint("narrow the mark's years, or widen the maker's"),
        );
    }
}

/// Reports a maker that marked its ware and of whose marks nothing is said.
pub fn report_no_entry(
    text: &MarksText,
    pack: &PackText,
    maker: &Maker,
    out: &mut Vec<Diagnostic>,
) {
    let mut entries = text
        .marked_by
        .iter()
        .map(|entry| entry.maker.value.as_str());
    let is_known = |id: &str| pack.makers.iter().any(|maker| maker.id.value == id);
    // Something is wrong with its entry, or the entry has an unknown maker's name: reported either way.
    if entries.any(|id| id == maker.id.value || !is_known(id)) {
        return;
    }
    out.push(
        Diagnostic::error(
            "pack::missing",
            format!(
                "maker `{}` marked its ware, and nothing says with which marks",
                maker.id.value
            ),
            maker.id.span,
        )
        .hint("add a [[marked_by]] for it in marks.toml, or set its rate to \"impossible\""),
    );
}
