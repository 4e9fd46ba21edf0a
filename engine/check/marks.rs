//! Marks: was the piece marked, with which mark, how did it come out, and what is read of it.

mod in_use;

use super::draft::{
    ClueDraft, Draft, DraftId, DraftRule, DraftTable, Gaps, certain, report_few_pieces, seen,
};
use super::makers::Makers;
use super::rows::{self, Parent};
use super::{names, states};
use crate::diagnostic::Diagnostic;
use crate::model::belief::{BeliefId, Spread};
use crate::model::column::ColumnRule;
use crate::model::column::mark_kinds::{KindInUse, MarkKinds, StrayInitials};
use crate::pack::text::{Marks as MarksText, PackText, Placed, Word};
use crate::pack::years::Years;
use in_use::Used;

/// States of the strike variable, in this order.
pub const STRIKES: [&str; 4] = ["full", "partial", "lost", "none"];

/// The variables declared here.
pub struct Marks {
    /// Which mark, `unmarked` first.
    pub mark_kind: DraftId,
    /// How it came out.
    pub strike: DraftId,
    /// Initials that are not the maker's.
    pub stray: Option<DraftId>,
    /// What is read.
    pub reading: ClueDraft,
}

/// Declares mark kind, strike, stray initials and reading.
pub fn declare(text: &MarksText, draft: &mut Draft<'_>, out: &mut Vec<Diagnostic>) -> Marks {
    names::find("kind of reading", &text.reading.kind, states::KINDS, out);
    let place = text.rate.span;
    let here = |name: &str| Placed {
        value: name.to_owned(),
        span: place,
    };
    let kinds = std::iter::once(here("unmarked"))
        .chain(text.marks.iter().map(|m| m.id.clone()))
        .collect();
    Marks {
        mark_kind: draft.declare(here("mark_kind"), "mark", kinds, false),
        strike: draft.declare(
            here("strike"),
            "strike of the mark",
            STRIKES.map(here).to_vec(),
            true,
        ),
        stray: text.stray.as_ref().map(|_| {
            draft.declare(
                here("stray"),
                "stray initials",
                vec![here("yes"), here("no")],
                false,
            )
        }),
        reading: states::declare(&text.reading, draft),
    }
}

/// The tables of all four.
pub fn tables(
    text: &MarksText,
    marks: &Marks,
    pack: &PackText,
    makers: &Makers,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) {
    names::report_duplicates("mark", text.marks.iter().map(|m| &m.id), out);
    strike(text, marks, draft, out);
    kinds(text, marks, pack, makers, draft, out);
    states::table(&text.reading, &marks.reading, draft, out);
}

fn strike(text: &MarksText, marks: &Marks, draft: &mut Draft<'_>, out: &mut Vec<Diagnostic>) {
    let mut methods: Vec<&str> = Vec::new();
    for method in text.marks.iter().filter_map(|mark| mark.method.as_ref()) {
        if !methods.contains(&method.value.as_str()) {
            methods.push(&method.value);
        }
    }
    for word in text
        .strike
        .depends_on
        .iter()
        .filter(|w| w.value != "method")
    {
        out.push(names::unknown(
            "name the strike can depend on",
            word,
            ["method"],
        ));
    }
    let view = [Parent {
        name: "method",
        states: methods.clone(),
        ordered: false,
    }];
    let fit = rows::first_fit(&text.strike, &view, out);
    let row_of_method = fit.row_of_configuration;
    let without_row = methods
        .iter()
        .zip(&row_of_method)
        .filter(|(_, row)| row.is_none());
    for (method, _) in without_row.filter(|_| fit.sound) {
        out.push(
            Diagnostic::error(
                "pack::missing-row",
                format!("no row says how {method} marks come out"),
                text.strike.span,
            )
            .hint("add a row for it, or one with `otherwise = true`"),
        );
    }
    // The rows say `full`, `partial`, `lost`; `none` belongs to the unmarked piece alone.
    let stated: Vec<Word> = draft.variables[marks.strike].states[..3].to_vec();
    let mut rules = Vec::new();
    report_few_pieces("these rows rest", text.strike.seen.as_ref(), out);
    let n_reports = out.len();
    for row in &text.strike.rows {
        let say = match &row.body {
            Some(crate::pack::text::RowBody::States(say)) => {
                rows::say::say_chances(say, &stated, out)
            }
            Some(_) => {
                out.push(
                    Diagnostic::error("pack::row-form", "a strike has three states", row.span)
                        .hint("write `say = { full = …, partial = …, lost = … }`"),
                );
                None
            }
            None => None,
        };
        let Some(mut say) = say else {
            // Reported already; the check goes on as if all were well with this row.
            rules.push(DraftRule {
                possible: vec![true, true, true, false],
                ..certain(0, STRIKES.len())
            });
            continue;
        };
        say.push(0.0);
        let experience = rows::row_seen(row, &text.strike, out);
        rules.push(draft.categorical(rows::describe("strike", row), say, experience, row.span));
    }
    rows::merge_seen_left_out(n_reports, out);
    let none = rules.len();
    rules.push(certain(3, STRIKES.len()));
    let rule_of_mark = |mark: &crate::pack::text::Mark| {
        let method = mark.method.as_ref()?;
        let method = methods.iter().position(|m| *m == method.value)?;
        row_of_method[method]
    };
    let table = DraftTable {
        rules,
        rule_of_configuration: std::iter::once(Some(none))
            .chain(text.marks.iter().map(rule_of_mark))
            .collect(),
        place: text.strike.span,
        gaps: Gaps::Leave,
    };
    draft.set_table(marks.strike, vec![marks.mark_kind], table);
}

fn kinds(
    text: &MarksText,
    marks: &Marks,
    pack: &PackText,
    makers: &Makers,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) {
    let used = in_use::marks_of_makers(text, pack, draft, out);
    for word in text
        .rate
        .depends_on
        .iter()
        .filter(|w| w.value != "maker" && w.value != "period")
    {
        out.push(names::unknown(
            "name the marking rate can depend on",
            word,
            ["maker", "period"],
        ));
    }
    let parents = [makers.maker, makers.period];
    if draft.n_configurations(&parents).is_none() {
        out.push(rows::too_many_cases("rate", &text.rate));
        return;
    }
    let views: Vec<Parent<'_>> = rows::parent_views(draft, &parents);
    let fit = rows::first_fit(&text.rate, &views, out);
    report_few_pieces("these rows rest", text.rate.seen.as_ref(), out);
    let n_reports = out.len();
    let rates: Vec<Option<BeliefId>> = text
        .rate
        .rows
        .iter()
        .map(|row| rate(row, text, draft, out))
        .collect();
    rows::merge_seen_left_out(n_reports, out);
    let sound = fit.sound && rates.iter().all(Option::is_some);
    let stray = text.stray.as_ref().and_then(|stray| {
        let chance = stray.say.as_ref()?;
        rows::say::report_zero(chance, out);
        let experience = seen(stray.seen.as_ref(), None, stray.span, out);
        let say = vec![chance.value.value, 1.0 - chance.value.value];
        Some(draft.belief(
            "stray initials per marked piece".to_owned(),
            Spread::Categorical { say },
            experience,
            stray.span,
        ))
    });
    let except: Vec<usize> = text.stray.as_ref().map_or_else(Vec::new, |stray| {
        let known = || pack.makers.iter().map(|m| m.id.value.as_str());
        let known: Vec<&str> = known().collect();
        stray
            .except
            .iter()
            .filter_map(|word| names::find("maker", word, known.iter().copied(), out))
            .collect()
    });

    let marked = |configuration: usize| {
        let rate = fit.row_of_configuration[configuration].and_then(|row| rates[row]);
        rate.is_some_and(|rate| draft.beliefs.stated().of(rate)[0] > 0.0)
    };
    let n_periods = pack.periods.len();
    for (maker, _) in used
        .iter()
        .enumerate()
        .filter(|(_, used)| used.shares.is_none())
    {
        if (0..n_periods).any(|period| marked(maker * n_periods + period)) {
            in_use::report_no_entry(text, pack, &pack.makers[maker], out);
        }
    }
    let n_states = draft.variables[marks.mark_kind].states.len();
    let (mut kind_rules, mut stray_rules) = (Vec::new(), Vec::new());
    let (mut kind_of, mut stray_of) = (Vec::new(), Vec::new());
    for (configuration, row) in fit.row_of_configuration.iter().enumerate() {
        let (maker, period) = (
            configuration / pack.periods.len(),
            configuration % pack.periods.len(),
        );
        let Some(rate) = row.and_then(|row| rates[row]) else {
            kind_of.push(None);
            stray_of.push(None);
            continue;
        };
        let citations: Vec<String> = row
            .iter()
            .map(|&row| draft.citation(text.rate.rows[row].span))
            .collect();
        let rule = kind_rule(
            rate,
            &used[maker],
            maker,
            period,
            pack,
            n_states,
            draft,
            text,
            out,
        );
        kind_rules.push(DraftRule {
            citations: citations.clone(),
            ..rule
        });
        kind_of.push(Some(kind_rules.len() - 1));
        if let Some(stray) = stray {
            stray_rules.push(if except.contains(&maker) {
                certain(1, 2)
            } else {
                DraftRule {
                    rule: ColumnRule::StrayInitials(StrayInitials {
                        yes: 0,
                        no: 1,
                        rate,
                        stray,
                    }),
                    possible: vec![true, true],
                    citations,
                }
            });
            stray_of.push(Some(stray_rules.len() - 1));
        }
    }
    let table = |rules, rule_of_configuration, gaps| DraftTable {
        rules,
        rule_of_configuration,
        place: text.rate.span,
        gaps,
    };
    draft.set_table(
        marks.mark_kind,
        parents.to_vec(),
        table(kind_rules, kind_of, Gaps::ReportAs("rate").if_sound(sound)),
    );
    if let Some(id) = marks.stray {
        // It has the rows of the marking rate, where they are missed already.
        draft.set_table(
            id,
            parents.to_vec(),
            table(stray_rules, stray_of, Gaps::Leave),
        );
    }
}

fn rate(
    row: &crate::pack::text::Row,
    text: &MarksText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<BeliefId> {
    let Some(crate::pack::text::RowBody::Single(chance)) = &row.body else {
        if row.body.is_some() {
            out.push(
                Diagnostic::error("pack::row-form", "a marking rate is one chance", row.span)
                    .hint("write `say = \"3 in 10\"`: the share of pieces that carry a mark"),
            );
        }
        return None;
    };
    let say = rows::say::single(chance, 2, out)?;
    let experience = rows::row_seen(row, &text.rate, out);
    let about = rows::describe("marked", row);
    Some(draft.belief(about, Spread::Categorical { say }, experience, row.span))
}

/// P(mark | maker, period): see [`MarkKinds`].
#[allow(clippy::too_many_arguments)] // One caller; a struct would only rename the same nine things.
fn kind_rule(
    rate: BeliefId,
    used: &Used,
    maker: usize,
    period: usize,
    pack: &PackText,
    n_states: usize,
    draft: &Draft<'_>,
    text: &MarksText,
    out: &mut Vec<Diagnostic>,
) -> DraftRule {
    let firm_in_period = match (&pack.makers[maker].years, &pack.periods[period].years) {
        (Some(firm), Some(period)) => firm.value.overlap(&period.value),
        _ => None,
    };
    let use_share = |years: &Option<Years>| match (firm_in_period, years) {
        // Pieces placed outside the firm's own years are slack in the dates; no mark can be preferred there.
        (None, _) | (_, None) => 1.0,
        (Some(firm), Some(mark)) => mark.overlap(&firm).map_or(0.0, |both| {
            f64::from(both.count()) / f64::from(firm.count())
        }),
    };
    let stated = draft.beliefs.stated();
    let marked = stated.of(rate)[0];
    let Some(shares) = used.shares else {
        if marked == 0.0 {
            return certain(0, n_states);
        }
        // Reported once for the maker; the check goes on as if all were well with it.
        return DraftRule {
            possible: vec![true; n_states],
            ..certain(0, n_states)
        };
    };
    let kinds: Vec<KindInUse> = used
        .kinds
        .iter()
        .enumerate()
        .map(|(cell, (state, years))| KindInUse {
            state: *state,
            cell,
            use_share: use_share(years),
        })
        .collect();
    let mut possible = vec![false; n_states];
    possible[0] = marked < 1.0;
    for kind in &kinds {
        possible[kind.state] |= marked > 0.0 && kind.use_share * stated.of(shares)[kind.cell] > 0.0;
    }
    if marked > 0.0 && !possible[1..].contains(&true) {
        let entry = text
            .marked_by
            .iter()
            .find(|entry| entry.maker.value == pack.makers[maker].id.value);
        out.push(
            Diagnostic::error(
                "pack::no-mark-in-use",
                format!(
                    "in period `{}` the ware of `{}` was marked, and none of its marks was in use then",
                    pack.periods[period].id.value, pack.makers[maker].id.value
                ),
                entry.map_or(pack.makers[maker].id.span, |entry| entry.span),
            )
            .hint("widen the years of a mark, or give the period a rate of \"impossible\""),
        );
    }
    DraftRule {
        rule: ColumnRule::MarkKinds(MarkKinds {
            unmarked: 0,
            rate,
            shares,
            kinds,
        }),
        possible,
        citations: Vec::new(),
    }
}
