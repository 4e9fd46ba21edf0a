//! Marks: was the piece marked, with which mark, how did it come out, and what is read of it.

use super::clues::{ClueDraft, declare_states};
use super::draft::{Draft, DraftId, DraftRule, DraftTable, certain, few_pieces, seen};
use super::makers::Makers;
use super::names;
use super::rows::{self, Parent};
use crate::diagnostic::Diagnostic;
use crate::model::belief::{BeliefId, Spread};
use crate::model::column::ColumnRule;
use crate::model::column::mark_kinds::{KindInUse, MarkKinds, StrayInitials};
use crate::pack::text::{Marks as MarksText, PackText, Placed, Word};
use crate::pack::years::Years;

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
pub fn declare(text: &MarksText, draft: &mut Draft<'_>) -> Marks {
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
        reading: declare_states(&text.reading, draft),
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
    super::clues::state_table(&text.reading, &marks.reading, draft, out);
}

fn strike(text: &MarksText, marks: &Marks, draft: &mut Draft<'_>, out: &mut Vec<Diagnostic>) {
    let mut methods: Vec<&str> = Vec::new();
    for mark in &text.marks {
        if !methods.contains(&mark.method.value.as_str()) {
            methods.push(&mark.method.value);
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
    let row_of_method = rows::row_of_configuration(&text.strike, &view, out);
    for (method, _) in methods
        .iter()
        .zip(&row_of_method)
        .filter(|(_, row)| row.is_none())
    {
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
    rows::report_few_pieces(&text.strike, out);
    for row in &text.strike.rows {
        let say = match &row.body {
            Some(crate::pack::text::RowBody::States(say)) => rows::say_chances(say, &stated, out),
            Some(_) => {
                out.push(
                    Diagnostic::error("pack::row-form", "a strike has three states", row.span)
                        .hint("write `say = { full = …, partial = …, lost = … }`"),
                );
                None
            }
            None => None,
        };
        let mut say = say.unwrap_or_else(|| vec![1.0, 0.0, 0.0]);
        say.push(0.0);
        let experience = seen(row.seen.as_ref(), text.strike.seen.as_ref(), row.span, out);
        rules.push(draft.categorical(rows::describe("strike", row), say, experience, row.span));
    }
    let none = rules.len();
    rules.push(certain(3, STRIKES.len()));
    let rule_of_mark = |mark: &crate::pack::text::Mark| {
        methods
            .iter()
            .position(|m| *m == mark.method.value)
            .and_then(|method| row_of_method[method])
    };
    let table = DraftTable {
        rules,
        rule_of_configuration: std::iter::once(Some(none))
            .chain(text.marks.iter().map(rule_of_mark))
            .collect(),
        place: text.strike.span,
    };
    draft.set_table(marks.strike, vec![marks.mark_kind], table);
}

/// A maker's marks as beliefs.
struct Used {
    shares: Option<BeliefId>,
    /// State of the mark variable and years of use, for each cell of the shares.
    kinds: Vec<(usize, Option<Years>)>,
}

fn kinds(
    text: &MarksText,
    marks: &Marks,
    pack: &PackText,
    makers: &Makers,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) {
    let used = marks_of_makers(text, pack, draft, out);
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
    let views: Vec<Parent<'_>> = rows::parent_views(draft, &parents);
    let row_of_configuration = rows::row_of_configuration(&text.rate, &views, out);
    rows::report_few_pieces(&text.rate, out);
    let rates: Vec<Option<BeliefId>> = text
        .rate
        .rows
        .iter()
        .map(|row| rate(row, text, draft, out))
        .collect();
    let stray = text.stray.as_ref().map(|stray| {
        rows::report_zero(&stray.say, out);
        let experience = seen(stray.seen.as_ref(), None, stray.span, out);
        let say = vec![stray.say.value.value, 1.0 - stray.say.value.value];
        draft.belief(
            "stray initials per marked piece".to_owned(),
            Spread::Categorical { say },
            experience,
            stray.span,
        )
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

    let n_states = draft.variables[marks.mark_kind].states.len();
    let (mut kind_rules, mut stray_rules) = (Vec::new(), Vec::new());
    let (mut kind_of, mut stray_of) = (Vec::new(), Vec::new());
    for (configuration, row) in row_of_configuration.iter().enumerate() {
        let (maker, period) = (
            configuration / pack.periods.len(),
            configuration % pack.periods.len(),
        );
        let Some(rate) = row.and_then(|row| rates[row]) else {
            kind_of.push(None);
            stray_of.push(None);
            continue;
        };
        let citation = row.map(|row| draft.citation(text.rate.rows[row].span));
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
            citation: citation.clone(),
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
                    citation,
                }
            });
            stray_of.push(Some(stray_rules.len() - 1));
        }
    }
    let table = |rules, rule_of_configuration| DraftTable {
        rules,
        rule_of_configuration,
        place: text.rate.span,
    };
    draft.set_table(
        marks.mark_kind,
        parents.to_vec(),
        table(kind_rules, kind_of),
    );
    if let Some(id) = marks.stray {
        draft.set_table(id, parents.to_vec(), table(stray_rules, stray_of));
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
    let say = rows::single(chance, 2, out)?;
    let experience = seen(row.seen.as_ref(), text.rate.seen.as_ref(), row.span, out);
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
    let firm_in_period = pack.makers[maker]
        .years
        .value
        .overlap(&pack.periods[period].years.value);
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
        if marked > 0.0 {
            let maker = &pack.makers[maker];
            out.push(
                Diagnostic::error(
                    "pack::missing",
                    format!(
                        "maker `{}` marked its ware, and nothing says with which marks",
                        maker.id.value
                    ),
                    maker.id.span,
                )
                .hint(
                    "add a [[marked_by]] for it in marks.toml, or set its rate to \"impossible\"",
                ),
            );
        }
        return certain(0, n_states);
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
        citation: None,
    }
}

/// For each maker its marks and their base shares.
fn marks_of_makers(
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
            rows::report_zero(&kind.say, out);
            if let Some(years) = &kind.years {
                report_outside(&kind.mark, years, &pack.makers[maker], out);
            }
            if let Some(mark) = names::find("mark", &kind.mark, mark_ids.iter().copied(), out) {
                kinds.push((mark + 1, kind.years.as_ref().map(|y| y.value)));
            }
        }
        let say: Vec<f64> = entry.kinds.iter().map(|k| k.say.value.value).collect();
        let sum: f64 = say.iter().sum();
        if (sum - 1.0).abs() > rows::SUM_TOLERANCE {
            out.push(
                Diagnostic::error(
                    "pack::row-sum",
                    format!(
                        "the shares of the marks of `{}` sum to {sum:.9}, not to 1",
                        entry.maker.value
                    ),
                    entry.kinds.last().map_or(entry.span, |k| k.say.span),
                )
                .also(entry.span, "the maker")
                .hint("mend the shares; they are never rescaled in silence"),
            );
        }
        if kinds.len() < entry.kinds.len() || kinds.is_empty() {
            continue;
        }
        if let Some(few) = entry
            .seen
            .as_ref()
            .filter(|s| s.value < super::FEWEST_PIECES)
        {
            out.push(few_pieces(few));
        }
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

fn report_outside(
    mark: &Word,
    years: &Placed<Years>,
    maker: &crate::pack::text::Maker,
    out: &mut Vec<Diagnostic>,
) {
    let firm = maker.years.value;
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
            .also(maker.years.span, "the maker's years")
            .hint("narrow the mark's years, or widen the maker's"),
        );
    }
}
