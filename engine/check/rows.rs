//! Rows of a table: which cases each speaks of, and what it says there.

use super::draft::{Draft, DraftId, DraftRule, DraftTable, certain, few_pieces, seen};
use super::names;
use crate::diagnostic::Diagnostic;
use crate::model::belief::Spread;
use crate::pack::belief::{Chance, Firmness};
use crate::pack::text::{Placed, Remainder, Row, RowBody, Say, Table, Word};
use crate::source::Span;

/// How far a row may miss 1 before it is reported. The rounding of a few dozen decimal fractions stays well below it.
pub const SUM_TOLERANCE: f64 = 1e-9;

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

/// For each parent configuration (last parent fastest) the first row that fits it. Reports conditions that make no
/// sense and rows that are never used.
pub fn row_of_configuration(
    table: &Table,
    parents: &[Parent<'_>],
    out: &mut Vec<Diagnostic>,
) -> Vec<Option<usize>> {
    let n_reports = out.len();
    let fits: Vec<Option<Vec<Vec<bool>>>> = table
        .rows
        .iter()
        .map(|row| cases(row, parents, out))
        .collect();
    let n_configurations: usize = parents.iter().map(|p| p.states.len()).product();
    let mut digits = vec![0; parents.len()];
    let mut speaks = vec![false; table.rows.len()];
    let mut first_fit = Vec::with_capacity(n_configurations);
    for _ in 0..n_configurations {
        let row = fits.iter().position(|fit| {
            fit.as_ref()
                .is_some_and(|masks| masks.iter().zip(&digits).all(|(mask, &digit)| mask[digit]))
        });
        if let Some(row) = row {
            speaks[row] = true;
        }
        first_fit.push(row);
        for place in (0..digits.len()).rev() {
            digits[place] += 1;
            if digits[place] < parents[place].states.len() {
                break;
            }
            digits[place] = 0;
        }
    }
    // With an unreadable condition about, which rows are used is not known.
    if out.len() == n_reports {
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
    first_fit
}

/// For each parent, which of its states the row speaks of; `None` if a condition is unreadable.
fn cases(row: &Row, parents: &[Parent<'_>], out: &mut Vec<Diagnostic>) -> Option<Vec<Vec<bool>>> {
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
    if row.conditions.is_empty() && !parents.is_empty() {
        let names = names::list(parents.iter().map(|p| p.name));
        out.push(
            Diagnostic::error(
                "pack::no-case",
                "this row does not say which case it speaks of",
                row.span,
            )
            .hint(format!(
                "name a state of {names}, or write `otherwise = true`"
            )),
        );
        return None;
    }
    let mut readable = true;
    for condition in &row.conditions {
        let known = parents.iter().map(|p| p.name);
        let Some(place) = known
            .clone()
            .position(|name| name == condition.parent.value)
        else {
            let report = names::unknown(
                "name in this table's `depends_on`",
                &condition.parent,
                known,
            );
            out.push(report.label("not something this table depends on"));
            readable = false;
            continue;
        };
        let parent = &parents[place];
        let mut mask = vec![false; parent.states.len()];
        for value in &condition.values {
            match states_meant(value, parent, out) {
                Some(range) => mask[range].fill(true),
                None => readable = false,
            }
        }
        masks[place] = mask;
    }
    readable.then_some(masks)
}

/// The states meant by `P1` or, over an ordered parent, by `P1..P3`.
fn states_meant(
    value: &Word,
    parent: &Parent<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<std::ops::Range<usize>> {
    let states = || parent.states.iter().copied();
    if let Some(state) = states().position(|s| s == value.value) {
        return Some(state..state + 1);
    }
    let what = format!("state of {}", parent.name);
    let Some((from, to)) = value.value.split_once("..").filter(|_| parent.ordered) else {
        out.push(names::unknown(&what, value, states()));
        return None;
    };
    let part = |text: &str| Placed {
        value: text.trim().to_owned(),
        span: value.span,
    };
    let from = names::find(&what, &part(from), states(), out)?;
    let to = names::find(&what, &part(to), states(), out)?;
    if from > to {
        out.push(
            Diagnostic::error(
                "pack::empty-interval",
                format!("the range `{}` is empty", value.value),
                value.span,
            )
            .hint("write the earlier state first"),
        );
        return None;
    }
    Some(from..to + 1)
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
        out.push(too_many_cases(table));
        return None;
    }
    let first_fit = row_of_configuration(table, &parent_views(draft, parents), out);
    report_few_pieces(table, out);
    let rules = table
        .rows
        .iter()
        .map(|row| stated_row(draft, row, table, states, about, out))
        .collect();
    Some(DraftTable {
        rules,
        rule_of_configuration: first_fit,
        place: table.span,
    })
}

/// The report of a table beyond all bounds.
pub fn too_many_cases(table: &Table) -> Diagnostic {
    let place = table.depends_on.first().map_or(table.span, |w| w.span);
    Diagnostic::error(
        "pack::too-large",
        "this table has more than four million cases",
        place,
    )
    .hint("let it depend on fewer things, or put a hidden variable between")
}

/// The warning about the `seen` of a whole table.
pub fn report_few_pieces(table: &Table, out: &mut Vec<Diagnostic>) {
    if let Some(seen) = table
        .seen
        .as_ref()
        .filter(|seen| seen.value < super::FEWEST_PIECES)
    {
        out.push(few_pieces(seen));
    }
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
        None => None,
    };
    let about = describe(about, row);
    match say {
        Some(say) if is_certain(&say) => draft.categorical(about, say, 1.0, row.span),
        Some(say) => {
            let seen = seen(row.seen.as_ref(), table.seen.as_ref(), row.span, out);
            draft.categorical(about, say, seen, row.span)
        }
        // Reported already; the check goes on as if all were well with this row.
        None => DraftRule {
            possible: vec![true; states.len()],
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

/// One chance for the first of two states.
pub fn single(
    chance: &Placed<Chance>,
    n_states: usize,
    out: &mut Vec<Diagnostic>,
) -> Option<Vec<f64>> {
    if n_states != 2 {
        out.push(
            Diagnostic::error(
                "pack::row-form",
                format!("one chance does not do for {n_states} states"),
                chance.span,
            )
            .hint("write `say = { state = chance, … }`"),
        );
        return None;
    }
    report_zero(chance, out);
    Some(vec![chance.value.value, 1.0 - chance.value.value])
}

/// A chance for each state, from a map that may leave some to `otherwise`.
///
/// Reports unknown and repeated states, states left out, sums that miss 1, and zeros that were not meant.
pub fn say_chances(say: &Say, states: &[Word], out: &mut Vec<Diagnostic>) -> Option<Vec<f64>> {
    let n_reports = out.len();
    let mut chances: Vec<Option<f64>> = vec![None; states.len()];
    for (state, chance) in &say.entries {
        let Some(place) = names::find("state", state, states.iter().map(|s| s.value.as_str()), out)
        else {
            continue;
        };
        chances[place] = Some(chance.value.value);
        report_zero(chance, out);
    }
    // A chance that could not be read, or a state that is not known, would make the sum look wrong as well.
    if out[n_reports..]
        .iter()
        .any(|d| d.severity == crate::diagnostic::Severity::Error)
    {
        return None;
    }
    let left_out: Vec<usize> = (0..states.len())
        .filter(|&s| chances[s].is_none())
        .collect();
    let sum: f64 = chances.iter().flatten().sum();
    let rest = match &say.otherwise {
        Some(remainder) if left_out.is_empty() => {
            out.push(
                Diagnostic::error(
                    "pack::otherwise",
                    "every state is named; nothing is left for `otherwise`",
                    remainder.span,
                )
                .hint("take `otherwise` out"),
            );
            return None;
        }
        Some(Placed {
            value: Remainder::Evenly,
            ..
        }) if sum < 1.0 + SUM_TOLERANCE => (1.0 - sum).max(0.0) / left_out.len() as f64,
        Some(_) => 0.0,
        // A single state for certain needs no word about the others.
        None if say
            .entries
            .iter()
            .any(|(_, c)| c.value.firmness == Firmness::Certain) =>
        {
            0.0
        }
        None if left_out.is_empty() => 0.0,
        None => {
            let names = names::list(left_out.iter().map(|&s| states[s].value.as_str()));
            out.push(Diagnostic::error("pack::state-left-out", format!("nothing is said of {names}"), say.span).hint(
                "give each a chance, or end the row with `otherwise = \"impossible\"` or `otherwise = \"evenly\"`",
            ));
            return None;
        }
    };
    let evenly = matches!(&say.otherwise, Some(o) if o.value == Remainder::Evenly);
    let total = if evenly { sum.max(1.0) } else { sum };
    if (total - 1.0).abs() > SUM_TOLERANCE {
        out.push(row_sum(total, states.len(), say.span));
        return None;
    }
    Some(
        chances
            .into_iter()
            .map(|chance| chance.unwrap_or(rest))
            .collect(),
    )
}

fn row_sum(sum: f64, n_states: usize, span: Span) -> Diagnostic {
    // Twelve digits show a slip in the tenth; trailing rounding beyond that would only confuse.
    let shown = |x: f64| {
        format!("{:.12}", x)
            .trim_end_matches('0')
            .trim_end_matches('.')
            .to_owned()
    };
    let off = if sum < 1.0 {
        format!("{} missing", shown(1.0 - sum))
    } else {
        format!("{} too much", shown(sum - 1.0))
    };
    Diagnostic::error(
        "pack::row-sum",
        format!("the chances sum to {}, not to 1", shown(sum)),
        span,
    )
    .label(format!("{n_states} states, {off}"))
    .hint("mend the chances; they are never rescaled in silence")
}

/// A zero that was not meant as impossible.
pub fn report_zero(chance: &Placed<Chance>, out: &mut Vec<Diagnostic>) {
    if chance.value.value == 0.0 && chance.value.firmness != Firmness::Impossible {
        out.push(
            Diagnostic::warning(
                "pack::zero",
                "a chance of exactly 0 can never be overturned by any clue",
                chance.span,
            )
            .hint("give it a small chance, or write \"impossible\" if that is meant"),
        );
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
    let report = |place: &Placed<f64>, message: &str, out: &mut Vec<Diagnostic>| {
        out.push(Diagnostic::error(
            "pack::quantity",
            format!("{message}, and this is {}", place.value),
            place.span,
        ));
    };
    if logarithmic && location.value <= 0.0 {
        report(location, "a median is above 0", out);
        return None;
    }
    if logarithmic && scale.value <= 1.0 {
        report(scale, "a geometric standard deviation is above 1", out);
        return None;
    }
    if !logarithmic && scale.value <= 0.0 {
        report(scale, "a standard deviation is above 0", out);
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
