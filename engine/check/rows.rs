//! Rows of a table: which cases each speaks of, and what it says there.

pub mod say;
pub mod singles;
pub mod spreads;

use super::draft::{Draft, DraftId, DraftRule, DraftTable, Gaps, certain, report_few_pieces, seen};
use super::names;
use crate::diagnostic::{Diagnostic, shorten};
use crate::model::belief::Spread;
use crate::pack::text::{Placed, Row, RowBody, Table, Word};
use say::{possible_states, say_chances, single};

/// A parent as rows see it.
pub struct Parent<'a> {
    /// Name used in rows.
    pub name: &'a str,
    /// States.
    pub states: Vec<&'a str>,
    /// Whether ranges make sense.
    pub ordered: bool,
}

/// The parents of a table as rows see them.
pub fn parent_views<'d>(draft: &'d Draft<'_>, parents: &[DraftId]) -> Vec<Parent<'d>> {
    let view = |&id: &DraftId| {
        let variable = &draft.variables[id];
        Parent {
            name: &variable.name.value,
            states: variable.states.iter().map(|s| s.value.as_str()).collect(),
            ordered: variable.ordered,
        }
    };
    parents.iter().map(view).collect()
}

/// Which row speaks for which case.
pub struct FirstFit {
    /// For each parent configuration (last parent fastest) the first row that fits it.
    pub row_of_configuration: Vec<Option<usize>>,
    /// Whether all of the table's conditions make sense; if not, that is reported, and a case without a row may only be
    /// one whose row could not be understood.
    pub sound: bool,
}

/// Finds for each parent configuration the first row that fits it. Reports conditions that make no sense and rows that
/// are never used.
pub fn first_fit(table: &Table, parents: &[Parent<'_>], out: &mut Vec<Diagnostic>) -> FirstFit {
    let fits: Vec<Option<Vec<Vec<bool>>>> = table
        .rows
        .iter()
        .map(|row| cases(row, table, parents, out))
        .collect();
    let sound = table.readable
        && fits.iter().all(Option::is_some)
        && table.depends_on.iter().all(|word| is_among(word, parents));
    let n_configurations: usize = parents.iter().map(|p| p.states.len()).product();
    let mut digits = vec![0; parents.len()];
    let mut speaks = vec![false; table.rows.len()];
    let mut row_of_configuration = Vec::with_capacity(n_configurations);
    for _ in 0..n_configurations {
        let row = fits.iter().position(|fit| {
            fit.as_ref()
                .is_some_and(|masks| masks.iter().zip(&digits).all(|(mask, &digit)| mask[digit]))
        });
        if let Some(row) = row {
            speaks[row] = true;
        }
        row_of_configuration.push(row);
        for place in (0..digits.len()).rev() {
            digits[place] += 1;
            if digits[place] < parents[place].states.len() {
                break;
            }
            digits[place] = 0;
        }
    }
    if sound {
        for (row, _) in table
            .rows
            .iter()
            .zip(&speaks)
            .filter(|(_, speaks)| !**speaks)
        {
            out.push(
                Diagnostic::error("pack::unused-row", "this row is never used", row.span)
                    .label("earlier rows already speak for all of its cases")
                    .hint("rows are read from the top and the first that fits speaks: take it out, or move it up"),
            );
        }
    }
    FirstFit {
        row_of_configuration,
        sound,
    }
}

fn is_among(word: &Word, parents: &[Parent<'_>]) -> bool {
    parents.iter().any(|parent| parent.name == word.value)
}

/// For each parent, which of its states the row speaks of; `None` if a condition cannot be understood.
fn cases(
    row: &Row,
    table: &Table,
    parents: &[Parent<'_>],
    out: &mut Vec<Diagnostic>,
) -> Option<Vec<Vec<bool>>> {
    let mut masks: Vec<Vec<bool>> = parents.iter().map(|p| vec![true; p.states.len()]).collect();
    if row.otherwise {
        if let Some(condition) = row.conditions.first() {
            out.push(
                Diagnostic::error(
                    "pack::otherwise",
                    "`otherwise = true` speaks for every case left",
                    condition.parent.span,
                )
                .label("but this names a case")
                .hint("take out either `otherwise` or the case"),
            );
            return None;
        }
        return Some(masks);
    }
    if !row.readable && row.conditions.is_empty() {
        return None;
    }
    if row.conditions.is_empty() && !parents.is_empty() {
        let names = names::list(parents.iter().map(|p| p.name));
        out.push(
            Diagnostic::error(
                "pack::no-case",
                "this row does not say which case it speaks of",
                row.span,
            )
            .hint(format!(
                "name the {} it is about ({names}), or write `otherwise = true`",
                if parents.len() == 1 {
                    "value"
                } else {
                    "values"
                }
            )),
        );
        return None;
    }
    let mut readable = true;
    for condition in &row.conditions {
        let name = &condition.parent.value;
        let Some(place) = parents.iter().position(|p| p.name == name) else {
            readable = false;
            // A name that stands in `depends_on` and is not among the parents is reported there.
            if table.depends_on.iter().all(|word| word.value != *name) {
                let known = parents.iter().map(|p| p.name);
                out.push(names::not_depended_on(&condition.parent, known));
            }
            continue;
        };
        let parent = &parents[place];
        let mut mask = vec![false; parent.states.len()];
        for value in &condition.values {
            match states_meant(value, parent, out) {
                Some(meant) => mask
                    .iter_mut()
                    .zip(meant)
                    .for_each(|(m, meant)| *m |= meant),
                None => readable = false,
            }
        }
        masks[place] = mask;
    }
    readable.then_some(masks)
}

/// The states meant by `P1` or, over an ordered parent, by `P1..P3`.
fn states_meant(value: &Word, parent: &Parent<'_>, out: &mut Vec<Diagnostic>) -> Option<Vec<bool>> {
    let states = || parent.states.iter().copied();
    if states().any(|s| s == value.value) {
        return Some(states().map(|s| s == value.value).collect());
    }
    let Some((from, to)) = value.value.split_once("..") else {
        out.push(names::unknown_state(parent.name, value, states()));
        return None;
    };
    let mut end = |text: &str| {
        let word = Placed {
            value: text.trim().to_owned(),
            span: value.span,
        };
        let position = states().position(|s| s == word.value);
        if position.is_none() {
            out.push(names::unknown_state(parent.name, &word, states()));
        }
        position
    };
    let (from, to) = (end(from), end(to));
    let (from, to) = (from?, to?);
    let shown = shorten(&value.value);
    if !parent.ordered {
        out.push(
            Diagnostic::error(
                "pack::range-without-order",
                format!("`{shown}` means nothing: `{}` has no order", parent.name),
                value.span,
            )
            .hint("name each of them: [\"…\", \"…\"]"),
        );
        return None;
    }
    if from > to {
        out.push(
            Diagnostic::error(
                "pack::empty-range",
                format!("the range `{shown}` is empty"),
                value.span,
            )
            .hint("write the earlier state first"),
        );
        return None;
    }
    Some(
        (0..parent.states.len())
            .map(|s| (from..=to).contains(&s))
            .collect(),
    )
}

/// A table whose rows say chances of `states`.
pub fn stated_table(
    draft: &mut Draft<'_>,
    table: &Table,
    parents: &[DraftId],
    states: &[Word],
    about: &str,
    out: &mut Vec<Diagnostic>,
) -> Option<DraftTable> {
    if draft.n_configurations(parents).is_none() {
        out.push(too_many_cases(about, table));
        return None;
    }
    let fit = first_fit(table, &parent_views(draft, parents), out);
    report_few_pieces("these rows rest", table.seen.as_ref(), out);
    let n_reports = out.len();
    let rules = table
        .rows
        .iter()
        .map(|row| stated_row(draft, row, table, states, about, out))
        .collect();
    merge_seen_left_out(n_reports, out);
    Some(DraftTable {
        rules,
        rule_of_configuration: fit.row_of_configuration,
        place: table.span,
        gaps: Gaps::Report.if_sound(fit.sound),
    })
}

/// The pieces behind a row: its own, or its table's.
pub fn row_seen(row: &Row, table: &Table, out: &mut Vec<Diagnostic>) -> f64 {
    if row.seen.is_none() && table.seen.is_none() && !table.readable {
        // Perhaps that is what could not be read.
        return 1.0;
    }
    seen(row.seen.as_ref(), table.seen.as_ref(), row.span, out)
}

/// Makes one report of those, from `n_reports` on, that nothing says how much experience is behind a row.
pub fn merge_seen_left_out(n_reports: usize, out: &mut Vec<Diagnostic>) {
    let reports = out.split_off(n_reports);
    let is_one = |report: &Diagnostic| report.code == "pack::seen-left-out";
    let n_rows = reports.iter().filter(|report| is_one(report)).count();
    let mut first = true;
    for report in reports {
        if !is_one(&report) {
            out.push(report);
        } else if std::mem::take(&mut first) {
            out.push(match n_rows {
                1 => report,
                n => report.label(format!("nor behind {} more rows of this table", n - 1)),
            });
        }
    }
}

/// The report of a table beyond all bounds.
pub fn too_many_cases(name: &str, table: &Table) -> Diagnostic {
    let place = table.depends_on.first().map_or(table.span, |w| w.span);
    Diagnostic::error(
        "pack::too-large",
        format!("the table of `{name}` has more than a million cases"),
        place,
    )
    .hint("let it depend on fewer things, or put a hidden variable between")
}

fn stated_row(
    draft: &mut Draft<'_>,
    row: &Row,
    table: &Table,
    states: &[Word],
    about: &str,
    out: &mut Vec<Diagnostic>,
) -> DraftRule {
    let say = match &row.body {
        Some(RowBody::States(say)) => say_chances(say, states, out),
        Some(RowBody::Single(chance)) => single(chance, states.len(), out),
        Some(RowBody::Normal { mean: place, .. } | RowBody::Lognormal { median: place, .. }) => {
            out.push(
                Diagnostic::error(
                    "pack::row-form",
                    "this clue has states, and the row gives a measured quantity",
                    place.span,
                )
                .hint("write `say = { state = chance, … }`, or make the clue's kind \"weight\""),
            );
            None
        }
        Some(RowBody::Colour { mean, .. }) => {
            out.push(
                Diagnostic::error(
                    "pack::row-form",
                    "this clue has states, and the row gives a colour",
                    mean.span,
                )
                .hint("write `say = { state = chance, … }`, or make the clue's kind \"colour\""),
            );
            None
        }
        None => None,
    };
    let about = describe(about, row);
    match say {
        Some(say) if is_certain(&say) => draft.categorical(about, say, 1.0, row.span),
        Some(say) => {
            let seen = row_seen(row, table, out);
            draft.categorical(about, say, seen, row.span)
        }
        // Reported already; the check goes on as if all were well with this row.
        None => DraftRule {
            possible: match &row.body {
                Some(RowBody::States(say)) => possible_states(say, states),
                _ => vec![true; states.len()],
            },
            ..certain(0, states.len())
        },
    }
}

fn is_certain(say: &[f64]) -> bool {
    say.contains(&1.0) && say.iter().filter(|&&p| p != 0.0).count() == 1
}

/// `glaze tint given region = Quillmarch, period = P1..P3`.
pub fn describe(about: &str, row: &Row) -> String {
    let condition = |c: &crate::pack::text::Condition| {
        let values: Vec<&str> = c.values.iter().map(|v| v.value.as_str()).collect();
        format!("{} = {}", c.parent.value, values.join("/"))
    };
    match (row.conditions.is_empty(), row.otherwise) {
        (true, true) => format!("{about} otherwise"),
        (true, false) => about.to_owned(),
        _ => format!(
            "{about} given {}",
            row.conditions
                .iter()
                .map(condition)
                .collect::<Vec<_>>()
                .join(", ")
        ),
    }
}

/// The belief about a measured quantity that a row of a weight clue gives: location and scale, on the logarithmic scale
/// for a lognormal.
pub fn moments(row: &Row, logarithmic: bool, out: &mut Vec<Diagnostic>) -> Option<Spread> {
    let (location, scale) = match (&row.body, logarithmic) {
        (Some(RowBody::Normal { mean, sd }), false) => (mean, sd),
        (Some(RowBody::Lognormal { median, factor }), true) => (median, factor),
        (None, _) => return None,
        (Some(_), _) => {
            let wanted = if logarithmic {
                "`median` and `factor`"
            } else {
                "`mean` and `sd`"
            };
            out.push(
                Diagnostic::error(
                    "pack::row-form",
                    format!("a row of this weight gives {wanted}"),
                    row.span,
                )
                .hint("or change the clue's `family`"),
            );
            return None;
        }
    };
    let report = |place: &Placed<f64>, message: &str, hint: &str, out: &mut Vec<Diagnostic>| {
        let message = format!("{message}, and this is {}", place.value);
        out.push(Diagnostic::error("pack::quantity", message, place.span).hint(hint));
    };
    if logarithmic && location.value <= 0.0 {
        let hint = "half of the pieces lie below it";
        report(location, "a median must be above 0", hint, out);
        return None;
    }
    if logarithmic && scale.value <= 1.0 {
        let hint = "two pieces in three lie within this factor of the median; 1.06 is 6 in 100";
        report(
            scale,
            "a geometric standard deviation must be above 1",
            hint,
            out,
        );
        return None;
    }
    if !logarithmic && location.value <= 0.0 {
        let hint = "it is counted as the clue judges it: of the usual weight, or in grams";
        report(location, "a mean weight must be above 0", hint, out);
        return None;
    }
    if !logarithmic && scale.value <= 0.0 {
        let hint =
            "two pieces in three lie within this of the mean; even pieces of one mould differ";
        report(scale, "a standard deviation must be above 0", hint, out);
        return None;
    }
    Some(if logarithmic {
        Spread::Normal {
            mean: location.value.ln(),
            sd: scale.value.ln(),
        }
    } else {
        Spread::Normal {
            mean: location.value,
            sd: scale.value,
        }
    })
}
