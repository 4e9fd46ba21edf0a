//! The tables that histories stand for: which engraving, and how far its plate has worn.

use std::collections::{BTreeMap, BTreeSet};

use super::chain::{Chain, chains};
use super::pulls::{Pulls, TooMany, pulls};
use super::{Names, are_told, words};
use crate::check::draft::{
    Draft, DraftId, DraftRule, DraftTable, Gaps, certain, report_few_pieces, seen,
};
use crate::check::engravings::Engravings;
use crate::check::rows::say::say_chances;
use crate::check::rows::singles::{Called, Singles, project, report_other_parents};
use crate::check::rows::{self, first_fit, parent_views};
use crate::check::{dating, gaps, support};
use crate::dating::Bin;
use crate::diagnostic::{Diagnostic, has_errors};
use crate::model::belief::{BeliefId, Spread};
use crate::model::column::ColumnRule;
use crate::model::column::plate::{AgesOfSet, PlateState};
use crate::model::column::pulled::{Pulled, Shares};
use crate::model::histories::Histories;
use crate::pack::text::{Engravings as EngravingsText, PackText, Placed, RowBody, Word};
use crate::source::Span;

/// Pieces' worth of experience behind shares of use that the pack does not give: common practice, no source.
pub const SHARES_OF_USE_SEEN: f64 = 5.0;

/// Lines are told while they carry at least this share of what brought an engraving.
const LINE_SHARE: f64 = 0.1;

/// What histories came to.
pub struct Told {
    /// For people; none if a defect was found.
    pub histories: Option<Histories>,
    maker: DraftId,
    period: DraftId,
    /// The makers' years, where a period without any is reported.
    years: Vec<Span>,
    /// For each maker and period whether any of the maker's years lies in it.
    works_then: Vec<bool>,
    never_seen: Singles,
    never_seen_place: Span,
    shares: SharesOf,
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
    let bins = bins(pack, text, out);
    let chains = chains(&names, bins.as_deref().unwrap_or(&[]), out);
    let unseen = only_unseen(text, out);
    let sound = !has_errors(&out[n_reports..]);
    let mut told = Told {
        histories: None,
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
    engraving_table(
        engravings.engraving,
        unseen,
        &pulls,
        &told,
        draft,
        text.span,
    );
    if let (Some(plate), Some(wear)) = (engravings.plate, wear) {
        plate_table(
            text,
            plate,
            engravings.engraving,
            &pulls,
            (&wear, &told),
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
        &names, &chains, &bins, unseen, &pulls, &told, draft,
    ));
    Some(told)
}

fn report_two_forms(text: &EngravingsText, used: Span, out: &mut Vec<Diagnostic>) {
    let told = text.engravings.iter().find(|e| !e.history.is_empty());
    let mut report = Diagnostic::error(
        "pack::two-forms",
        "who used which engraving is said twice: in rows and in histories",
        used,
    );
    if let Some(told) = told {
        report = report.also(told.id.span, "this one has a history");
    }
    out.push(report.hint("keep [used], or `cut` and `events`: take the other out"));
}

/// Tables that only histories use.
fn report_without_histories(text: &EngravingsText, out: &mut Vec<Diagnostic>) {
    let from = &text.from_histories;
    let tables = [
        ("never_seen", from.never_seen.as_ref().map(|t| t.span)),
        ("use", from.shares.as_ref().map(|t| t.span)),
        ("plate", from.plate.as_ref().map(|p| p.span)),
    ];
    for (name, span) in tables {
        if let Some(span) = span {
            out.push(
                Diagnostic::error(
                    "pack::misplaced",
                    format!("[{name}] means nothing without histories"),
                    span,
                )
                .hint("give the engravings `cut` and `events` instead of [used], or take it out"),
            );
        }
    }
}

fn bins(pack: &PackText, text: &EngravingsText, out: &mut Vec<Diagnostic>) -> Option<Vec<Bin>> {
    if pack.leaves_out("period") || pack.leaves_out("maker") {
        out.push(
            Diagnostic::error(
                "pack::history-years",
                "histories speak of makers and years, and the pack leaves them out",
                text.span,
            )
            .hint("take them out of [leaves_out], or say in [used] what the engraving depends on"),
        );
        return None;
    }
    dating::bins(pack)
}

fn only_unseen(text: &EngravingsText, out: &mut Vec<Diagnostic>) -> Option<usize> {
    let mut unseen = text.engravings.iter().enumerate().filter(|(_, e)| e.unseen);
    let first = unseen.next()?;
    if let Some((_, second)) = unseen.next() {
        out.push(
            Diagnostic::error(
                "pack::duplicate",
                "two engravings stand for one never seen",
                second.id.span,
            )
            .also(first.1.id.span, "the other one")
            .hint("with histories one is enough: its chance is said in [never_seen]"),
        );
        return None;
    }
    Some(first.0)
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

/// Shares of use for each maker and period, by belief.
struct SharesOf {
    parents: Vec<DraftId>,
    belief_of_configuration: Vec<Option<(BeliefId, Option<String>)>>,
    cell_of: std::sync::Arc<[Option<usize>]>,
    by_default: bool,
    sound: bool,
}

impl SharesOf {
    fn of(
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

fn shares(
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

fn wear(
    text: &EngravingsText,
    engravings: &Engravings,
    [maker, period]: [DraftId; 2],
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<Singles> {
    let plate = text.from_histories.plate.as_ref()?;
    let called = Called {
        table: "plate",
        what: "the chance of wearing on to the next state in ten years",
        about: "wear of a plate in ten years",
        example: "say = \"20%\"",
    };
    let allowed = [engravings.engraving, maker, period];
    Some(Singles::read(
        &plate.table,
        &called,
        Some(&allowed),
        draft,
        out,
    ))
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
    pulls: &[Option<Pulls>],
    told: &Told,
    draft: &mut Draft<'_>,
    place: Span,
) {
    let parents = vec![told.maker, told.period];
    let stated = draft.beliefs.stated();
    let n_states = draft.variables[id].states.len();
    let mut rules = Vec::new();
    let mut rule_of_configuration = Vec::new();
    for (configuration, pulls) in pulls.iter().enumerate() {
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
    reason = "what histories, use and wear each have to say of a plate"
)]
fn plate_table(
    text: &EngravingsText,
    id: DraftId,
    engraving: DraftId,
    pulls: &[Option<Pulls>],
    (wear, told): (&Singles, &Told),
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) {
    let parents = vec![engraving, told.maker, told.period];
    let unseen = unseen_plate(text, id, draft, out);
    let stated = draft.beliefs.stated();
    let n_states = draft.variables[id].states.len();
    let mut rules: Vec<DraftRule> = vec![unseen];
    let mut rule_of_configuration = Vec::new();
    for (index, is_unseen) in text.engravings.iter().map(|e| e.unseen).enumerate() {
        for (configuration, pulls) in pulls.iter().enumerate() {
            if is_unseen {
                rule_of_configuration.push(Some(0));
                continue;
            }
            let place = index * told.works_then.len() + configuration;
            let worn = pulls.as_ref().and_then(|pulls| pulls.wear.get(&index));
            let by_maker = [told.maker, told.period];
            let (Some(worn), Some((wear, line)), Some((shares, _))) = (
                worn,
                wear.of(place, &parents, draft),
                told.shares.of(configuration, &by_maker, draft),
            ) else {
                rule_of_configuration.push(None);
                continue;
            };
            let ages: BTreeSet<(usize, i64)> = worn
                .values()
                .flat_map(|ages| ages.keys().copied())
                .collect();
            let ages: Vec<(usize, i64)> = ages.into_iter().collect();
            let place_of: BTreeMap<(usize, i64), usize> = ages.iter().copied().zip(0..).collect();
            let at_hand = worn.iter().map(|(set, weights)| AgesOfSet {
                set: set.clone(),
                ages: weights
                    .iter()
                    .map(|(age, weight)| (place_of[age], *weight))
                    .collect(),
            });
            let rule = ColumnRule::PlateState(PlateState {
                engraving: index,
                at_hand: at_hand.collect(),
                ages,
                shares,
                wear: *wear,
            });
            let mut column = vec![0.0; n_states];
            rule.write(&stated, &mut column);
            rules.push(DraftRule {
                rule,
                possible: column.iter().map(|&p| p > 0.0).collect(),
                citations: vec![line.clone()],
            });
            rule_of_configuration.push(Some(rules.len() - 1));
        }
    }
    let table = DraftTable {
        rules,
        rule_of_configuration,
        place: text.span,
        gaps: Gaps::Leave,
    };
    draft.set_table(id, parents, table);
}

/// The state of the plate behind a print from an engraving never seen.
fn unseen_plate(
    text: &EngravingsText,
    id: DraftId,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> DraftRule {
    let states = draft.variables[id].states.clone();
    let defect = || DraftRule {
        possible: vec![true; states.len()],
        ..certain(0, states.len().max(1))
    };
    let Some(plate) = &text.from_histories.plate else {
        return defect();
    };
    let Some(unseen) = &plate.unseen else {
        out.push(
            Diagnostic::error(
                "pack::missing",
                "nothing says how worn the plate of an engraving never seen is",
                plate.span,
            )
            .hint("add `unseen = { say = { otherwise = \"evenly\" }, seen = … }` to [plate]"),
        );
        return defect();
    };
    let Some((said, say)) = unseen
        .say
        .as_ref()
        .and_then(|said| Some((said, say_chances(said, &states, out)?)))
    else {
        return defect();
    };
    report_few_pieces("this rests", unseen.seen.as_ref(), out);
    let experience = seen(None, unseen.seen.as_ref(), said.span, out);
    draft.categorical(
        "plate of an engraving never seen".to_owned(),
        say,
        experience,
        said.span,
    )
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
    pulls: &[Option<Pulls>],
    told: &Told,
    draft: &Draft<'_>,
) -> Histories {
    let mut brought_by = Vec::new();
    let parents = [told.maker, told.period];
    for engraving in 0..names.text.engravings.len() {
        for (configuration, pulls) in pulls.iter().enumerate() {
            if engraving == unseen {
                let line = told.never_seen.of(configuration, &parents, draft);
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
