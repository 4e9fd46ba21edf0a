//! The tables that histories stand for: which engraving, and how far its plate has worn.

use super::chain::{Chain, chains};
use super::forms::{bins, classes, only_unseen, report_two_forms, report_without_histories};
use super::plates::{plate_table, wear};
use super::pulls::{Pulls, TooMany, pulls};
use super::shares::{SharesOf, shares};
use super::{Names, are_told, words};
use crate::check::draft::{Draft, DraftId, DraftRule, DraftTable, Gaps, certain};
use crate::check::engravings::declared::Engravings;
use crate::check::rows::singles::{Called, Singles};
use crate::check::{gaps, support};
use crate::dating::Bin;
use crate::diagnostic::{Diagnostic, has_errors};
use crate::model::column::ColumnRule;
use crate::model::column::pulled::Pulled;
use crate::model::histories::Histories;
use crate::pack::text::{Engravings as EngravingsText, PackText, Placed, RowBody};
use crate::source::Span;

/// Lines are told while they carry at least this share of what brought an engraving.
const LINE_SHARE: f64 = 0.1;

/// What histories came to.
pub struct Told {
    /// For people; none if a defect was found.
    pub histories: Option<Histories>,
    /// What the engraving depends on: maker, period and, if some engravings are not of every size class, that.
    pub causes: Vec<DraftId>,
    maker: DraftId,
    period: DraftId,
    /// The makers' years, where a period without any is reported.
    years: Vec<Span>,
    /// For each maker and period whether any of the maker's years lies in it.
    works_then: Vec<bool>,
    never_seen: Singles,
    never_seen_place: Span,
    /// Shares of use.
    pub shares: SharesOf,
    shares_place: Span,
    wear: Option<(Singles, Span)>,
}

/// Sets the tables of the engraving and of its plate, if histories say who used it.
pub fn tables(
    text: &EngravingsText,
    engravings: &Engravings,
    pack: &PackText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<Told> {
    if !are_told(text) {
        report_without_histories(text, out);
        return None;
    }
    if let Some(used) = &text.used {
        report_two_forms(text, used.span, out);
        all_may_be(text, engravings, draft);
        return None;
    }
    let (Some(maker), Some(period)) = (draft.find("maker"), draft.find("period")) else {
        return None;
    };
    let n_reports = out.len();
    let names = Names { pack, text };
    let never_seen = never_seen(text, [maker, period], draft, out);
    let shares = shares(text, [maker, period], draft, out);
    let wear = wear(text, engravings, [maker, period], draft, out);
    let classes = classes(text, draft, out);
    let bins = bins(pack, text, out);
    let chains = chains(&names, bins.as_deref().unwrap_or(&[]), out);
    let unseen = only_unseen(text, out);
    let sound = !has_errors(&out[n_reports..]);
    let mut told = Told {
        histories: None,
        causes: [maker, period]
            .into_iter()
            .chain(classes.as_ref().map(|c| c.variable))
            .collect(),
        maker,
        period,
        years: pack
            .makers
            .iter()
            .map(|m| {
                m.output_years
                    .as_ref()
                    .map(|y| y.span)
                    .or(m.years.as_ref().map(|y| y.span))
                    .unwrap_or(m.id.span)
            })
            .collect(),
        works_then: Vec::new(),
        never_seen_place: text
            .from_histories
            .never_seen
            .as_ref()
            .map_or(text.span, |t| t.span),
        never_seen,
        shares_place: text
            .from_histories
            .shares
            .as_ref()
            .map_or(text.span, |t| t.span),
        shares,
        wear: None,
    };
    let found = match (bins.filter(|_| sound), unseen) {
        (Some(bins), Some(unseen)) => match pulls(&names, &chains, &bins) {
            Ok(pulls) => Some((bins, unseen, pulls)),
            Err(TooMany { year }) => {
                out.push(
                    Diagnostic::error(
                        "pack::too-large",
                        format!("too many engravings may or may not have been at hand in {year}"),
                        text.span,
                    )
                    .hint("make some of the dates around that year firmer, or say in [used] who used which engraving"),
                );
                None
            }
        },
        _ => None,
    };
    let Some((bins, unseen, pulls)) = found else {
        all_may_be(text, engravings, draft);
        return Some(told);
    };
    told.works_then = pulls.iter().map(Option::is_some).collect();
    let cases: Vec<Option<Pulls>> = match &classes {
        None => pulls,
        Some(classes) => pulls
            .iter()
            .flat_map(|pulls| {
                let of_class = |class: &Vec<bool>| pulls.as_ref().map(|pulls| pulls.within(class));
                classes.cut_for.iter().map(of_class)
            })
            .collect(),
    };
    engraving_table(
        engravings.engraving,
        unseen,
        &cases,
        &told,
        draft,
        text.span,
    );
    if let (Some(plate), Some(wear)) = (engravings.plate, wear) {
        plate_table(
            text,
            plate,
            engravings.engraving,
            &cases,
            (&wear, &told.shares, &told.causes),
            draft,
            out,
        );
        let place = text
            .from_histories
            .plate
            .as_ref()
            .map_or(text.span, |plate| plate.span);
        told.wear = Some((wear, place));
    }
    told.histories = Some(histories(
        &names, &chains, &bins, unseen, &cases, &told, draft,
    ));
    Some(told)
}

fn never_seen(
    text: &EngravingsText,
    allowed: [DraftId; 2],
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Singles {
    let Some(table) = &text.from_histories.never_seen else {
        out.push(
            Diagnostic::error(
                "pack::closed-list",
                "nothing says how often a print is from an engraving never seen",
                text.span,
            )
            .hint("add `[never_seen]` with `say = \"5%\"` and `seen = …`: no list of engravings is complete"),
        );
        return Singles::default();
    };
    for row in &table.rows {
        if let Some(RowBody::Single(chance)) = &row.body
            && chance.value.value == 0.0
        {
            out.push(
                Diagnostic::error(
                    "pack::closed-list",
                    "an engraving never seen is ruled out",
                    chance.span,
                )
                .label("must be above 0")
                .hint("give it a small chance: no list of engravings is complete"),
            );
        }
    }
    let called = Called {
        table: "never_seen",
        what: "the chance of an engraving never seen",
        about: "an engraving never seen",
        example: "say = \"5%\"",
    };
    Singles::read(table, &called, Some(&allowed), draft, out)
}

/// After a defect that is reported the check goes on as if every engraving could be anywhere.
fn all_may_be(text: &EngravingsText, engravings: &Engravings, draft: &mut Draft<'_>) {
    for id in [Some(engravings.engraving), engravings.plate]
        .into_iter()
        .flatten()
    {
        let n_states = draft.variables[id].states.len();
        if n_states == 0 {
            continue;
        }
        let table = DraftTable {
            rules: vec![DraftRule {
                possible: vec![true; n_states],
                ..certain(0, n_states)
            }],
            rule_of_configuration: vec![Some(0)],
            place: text.span,
            gaps: Gaps::Leave,
        };
        draft.set_table(id, Vec::new(), table);
    }
}

fn engraving_table(
    id: DraftId,
    unseen: usize,
    cases: &[Option<Pulls>],
    told: &Told,
    draft: &mut Draft<'_>,
    place: Span,
) {
    let parents = told.causes.clone();
    let stated = draft.beliefs.stated();
    let n_states = draft.variables[id].states.len();
    let mut rules = Vec::new();
    let mut rule_of_configuration = Vec::new();
    for (configuration, pulls) in cases.iter().enumerate() {
        let never_seen = told.never_seen.of(configuration, &parents, draft);
        let (Some(pulls), Some((never_seen, line)), Some((shares, shares_line))) = (
            pulls,
            never_seen,
            told.shares.of(configuration, &parents, draft),
        ) else {
            rule_of_configuration.push(None);
            continue;
        };
        let rule = ColumnRule::Pulled(Pulled {
            at_hand: pulls
                .at_hand
                .iter()
                .map(|(set, p)| (set.clone(), *p))
                .collect(),
            shares,
            never_seen: *never_seen,
            unseen,
        });
        let mut column = vec![0.0; n_states];
        rule.write(&stated, &mut column);
        rules.push(DraftRule {
            rule,
            possible: column.iter().map(|&p| p > 0.0).collect(),
            citations: std::iter::once(line.clone()).chain(shares_line).collect(),
        });
        rule_of_configuration.push(Some(rules.len() - 1));
    }
    let table = DraftTable {
        rules,
        rule_of_configuration,
        place,
        gaps: Gaps::FromHistories,
    };
    draft.set_table(id, parents, table);
}

#[allow(
    clippy::too_many_arguments,
    reason = "everything that people are told of histories"
)]
fn histories(
    names: &Names<'_>,
    chains: &[Chain],
    bins: &[Bin],
    unseen: usize,
    cases: &[Option<Pulls>],
    told: &Told,
    draft: &Draft<'_>,
) -> Histories {
    let mut brought_by = Vec::new();
    for engraving in 0..names.text.engravings.len() {
        for (configuration, pulls) in cases.iter().enumerate() {
            if engraving == unseen {
                let line = told.never_seen.of(configuration, &told.causes, draft);
                brought_by.push(line.map(|(_, line)| line.clone()).into_iter().collect());
                continue;
            }
            let lines = pulls.as_ref().and_then(|pulls| pulls.lines.get(&engraving));
            let lines: Vec<&(Span, f64)> = lines.iter().flat_map(|lines| lines.values()).collect();
            let most = lines.iter().map(|(_, weight)| *weight).fold(0.0, f64::max);
            let mut told: Vec<String> = Vec::new();
            for (span, _) in lines
                .iter()
                .filter(|(_, weight)| *weight >= LINE_SHARE * most)
            {
                let line = draft.citation(*span);
                if !told.contains(&line) {
                    told.push(line);
                }
            }
            brought_by.push(told);
        }
    }
    Histories {
        lines: words::lines(names, draft),
        at_hand: words::at_hand(names, chains, bins),
        brought_by,
        shares_by_default: told.shares.by_default,
    }
}

impl Told {
    /// Reports makers at work in periods none of their years lies in, and cases that no row speaks for.
    pub fn report_gaps(&self, draft: &Draft<'_>, order: &[DraftId], out: &mut Vec<Diagnostic>) {
        if self.never_seen.sound {
            let missing = |case: usize| self.never_seen.belief_of_configuration[case].is_none();
            let parents = &self.never_seen.parents;
            gaps::report_missing_rows(
                draft,
                order,
                "never_seen",
                parents,
                missing,
                self.never_seen_place,
                out,
            );
        }
        if self.shares.sound {
            let missing = |case: usize| self.shares.belief_of_configuration[case].is_none();
            let parents = &self.shares.parents;
            gaps::report_missing_rows(
                draft,
                order,
                "use",
                parents,
                missing,
                self.shares_place,
                out,
            );
        }
        if let Some((wear, place)) = self.wear.as_ref().filter(|(wear, _)| wear.sound) {
            let missing = |case: usize| wear.belief_of_configuration[case].is_none();
            gaps::report_missing_rows(draft, order, "plate", &wear.parents, missing, *place, out);
        }
        let n_periods = draft.variables[self.period].states.len();
        let possible = support::possible(draft, order, &[self.maker, self.period]);
        for case in possible.iter().flatten() {
            let [maker, period] = case[..] else { continue };
            if self.works_then.get(maker * n_periods + period) != Some(&false) {
                continue;
            }
            let name = |id: DraftId, state: usize| -> &Placed<String> {
                &draft.variables[id].states[state]
            };
            out.push(
                Diagnostic::error(
                    "pack::history-years",
                    format!(
                        "`{}` has output in {}, and none of its years lies there",
                        name(self.maker, maker).value,
                        name(self.period, period).value
                    ),
                    self.years[maker],
                )
                .hint("histories go by the maker's years: mend them, or take the period out of its `output`"),
            );
        }
    }
}
