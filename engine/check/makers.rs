//! Makers, works, regions and periods.

mod output;

use super::collection::shares;
use super::draft::{Draft, DraftId, DraftTable, Gaps, certain, seen};
use super::names;
use super::rows;
use crate::diagnostic::Diagnostic;
use crate::model::MakerRole;
use crate::model::catalogue::WORKS_NOT_KNOWN;
use crate::pack::belief::Chance;
use crate::pack::text::{Maker, PackText, Placed, Word};

/// The one state of a question that the pack leaves out.
pub const NOT_ASKED: &str = "not asked";

/// The variables declared here.
pub struct Makers {
    /// Maker.
    pub maker: DraftId,
    /// Period.
    pub period: DraftId,
    /// Region.
    pub region: DraftId,
    /// Works, if the pack names any.
    pub works: Option<DraftId>,
    /// What each maker stands for.
    pub roles: Vec<MakerRole>,
}

/// Declares maker, period, region and works.
pub fn declare(pack: &PackText, draft: &mut Draft<'_>, out: &mut Vec<Diagnostic>) -> Makers {
    let ids = |words: Vec<&Word>| words.into_iter().cloned().collect::<Vec<_>>();
    let makers = ids(pack.makers.iter().map(|m| &m.id).collect());
    let periods = ids(pack.periods.iter().map(|p| &p.id).collect());
    names::report_duplicates("maker", &makers, out);
    names::report_duplicates(
        "maker's name",
        pack.makers.iter().filter_map(|m| m.name.as_ref()),
        out,
    );
    names::report_duplicates("period", &periods, out);
    // A name for people may be asked by, so that it must not be another's short one.
    for (what, ids, called) in [
        ("region", &pack.regions, &pack.region_names),
        ("works", &pack.works, &pack.works_names),
    ] {
        let called = ids
            .iter()
            .zip(called)
            .filter_map(|(id, name)| name.as_ref().filter(|name| name.value != id.value));
        names::report_duplicates(what, ids.iter().chain(called), out);
    }
    report_period_order(pack, out);
    let roles = roles(pack, out);

    let place = pack.name.span;
    let here = |name: &str| Placed {
        value: name.to_owned(),
        span: place,
    };
    // A question that the pack leaves out has one state, so that nothing can be said of it.
    let or_left_out = |what: &str, states: Vec<Word>| {
        if pack.leaves_out(what) && states.is_empty() {
            vec![here(NOT_ASKED)]
        } else {
            states
        }
    };
    let maker = draft.declare(here("maker"), "maker", or_left_out("maker", makers), false);
    let period = draft.declare(
        here("period"),
        "period",
        or_left_out("period", periods),
        true,
    );
    let regions = or_left_out("maker", pack.regions.clone());
    let region = draft.declare(here("region"), "region", regions, false);
    let works = (!pack.works.is_empty()).then(|| {
        let mut states = pack.works.clone();
        if let Some(maker) = pack.makers.iter().find(|m| m.works.is_none()) {
            states.push(Placed {
                value: WORKS_NOT_KNOWN.to_owned(),
                span: maker.id.span,
            });
        }
        draft.declare(here("works"), "works", states, false)
    });
    Makers {
        maker,
        period,
        region,
        works,
        roles,
    }
}

fn report_period_order(pack: &PackText, out: &mut Vec<Diagnostic>) {
    if pack.periods.is_empty() && !pack.leaves_out("period") {
        out.push(
            Diagnostic::error("pack::missing", "the pack has no period", pack.name.span).hint(
                "add [[period]] with `id` and `years` for each bin of years, in order of time",
            ),
        );
    }
    for pair in pack.periods.windows(2) {
        let (Some(earlier), Some(later)) = (&pair[0].years, &pair[1].years) else {
            continue;
        };
        if later.value.first <= earlier.value.last {
            out.push(
                Diagnostic::error(
                    "pack::period-order",
                    format!(
                        "period `{}` does not begin after `{}` ends",
                        pair[1].id.value, pair[0].id.value
                    ),
                    later.span,
                )
                .also(earlier.span, "the earlier one")
                .hint("periods are bins in order of time and do not overlap"),
            );
        }
    }
}

fn roles(pack: &PackText, out: &mut Vec<Diagnostic>) -> Vec<MakerRole> {
    let mut roles = Vec::new();
    for maker in &pack.makers {
        roles.push(match maker.role.as_ref().map(|r| r.value.as_str()) {
            None => MakerRole::Listed,
            Some("unlisted") => MakerRole::Unlisted,
            Some("reproduction") => MakerRole::Reproduction,
            Some(_) => {
                if let Some(role) = &maker.role {
                    out.push(names::unknown(
                        "role of a maker",
                        role,
                        ["unlisted", "reproduction"],
                    ));
                }
                MakerRole::Listed
            }
        });
    }
    for (role, word, meaning) in [
        (
            MakerRole::Unlisted,
            "unlisted",
            "a maker that is not on the list",
        ),
        (
            MakerRole::Reproduction,
            "reproduction",
            "a later reproduction",
        ),
    ] {
        let of_role: Vec<&Maker> = pack
            .makers
            .iter()
            .zip(&roles)
            .filter(|(_, r)| **r == role)
            .map(|(m, _)| m)
            .collect();
        match of_role.as_slice() {
            [] if pack.leaves_out(word) || pack.leaves_out("maker") => {}
            [] => out.push(
                Diagnostic::error(
                    "pack::closed-list",
                    format!("no maker stands for {meaning}"),
                    pack.makers.last().map_or(pack.name.span, |maker| maker.id.span),
                )
                .label("the last of the list")
                .hint(format!("add a [[maker]] with `role = \"{word}\"` and a share above 0: no list is complete")),
            ),
            [maker] => {
                if let Some(share) = maker.share.as_ref().filter(|s| s.value.value == 0.0) {
                    out.push(
                        Diagnostic::error("pack::closed-list", format!("{meaning} is ruled out"), share.span)
                            .label("must be above 0")
                            .hint("give it a small share: no list is complete"),
                    );
                }
            }
            [first, second, ..] => out.push(
                Diagnostic::error("pack::duplicate", format!("two makers have the role `{word}`"), second.id.span)
                    .also(first.id.span, "the other one"),
            ),
        }
    }
    roles
}

/// Shares, output by period, region and works of each maker.
pub fn tables(pack: &PackText, makers: &Makers, draft: &mut Draft<'_>, out: &mut Vec<Diagnostic>) {
    if pack.leaves_out("maker") {
        no_makers(pack, makers, draft, out);
        return;
    }
    shares(pack, makers, draft, out);
    if pack.leaves_out("period") {
        let only = DraftTable {
            rules: vec![certain(0, draft.variables[makers.period].states.len())],
            rule_of_configuration: vec![Some(0)],
            place: pack.name.span,
            gaps: Gaps::Leave,
        };
        draft.set_table(makers.period, Vec::new(), only);
    } else {
        output::output(pack, makers, draft, out);
    }
    let regions: Vec<&str> = pack.regions.iter().map(|r| r.value.as_str()).collect();
    let region_of: Vec<Option<usize>> = pack
        .makers
        .iter()
        .map(|m| names::find("region", m.region.as_ref()?, regions.iter().copied(), out))
        .collect();
    fixed_by_maker(makers, makers.region, &region_of, draft, pack);
    if let Some(works) = makers.works {
        let known: Vec<&str> = pack.works.iter().map(|w| w.value.as_str()).collect();
        let works_of = |maker: &Maker, out: &mut Vec<Diagnostic>| match &maker.works {
            None => Some(known.len()),
            Some(word) => names::find("works", word, known.iter().copied(), out),
        };
        let works_of: Vec<Option<usize>> = pack.makers.iter().map(|m| works_of(m, out)).collect();
        report_not_in_succession(pack, out);
        fixed_by_maker(makers, works, &works_of, draft, pack);
    } else if let Some(word) = pack.makers.iter().find_map(|m| m.works.as_ref()) {
        let report = names::unknown("works", word, []);
        out.push(report.hint("add [[works]] with this `id`"));
    }
}

/// The tables of a pack that leaves out the makers: it only asks for the period.
fn no_makers(pack: &PackText, makers: &Makers, draft: &mut Draft<'_>, out: &mut Vec<Diagnostic>) {
    for id in [makers.maker, makers.region] {
        let only = DraftTable {
            rules: vec![certain(0, draft.variables[id].states.len().max(1))],
            rule_of_configuration: vec![Some(0)],
            place: pack.name.span,
            gaps: Gaps::Leave,
        };
        draft.set_table(id, Vec::new(), only);
    }
    if let Some(rule) = shares::of_periods(pack, draft, out) {
        let table = DraftTable {
            rules: vec![rule],
            rule_of_configuration: vec![Some(0)],
            place: pack.name.span,
            gaps: Gaps::Leave,
        };
        draft.set_table(makers.period, Vec::new(), table);
    }
}

/// Partnerships at one works follow one another. Two at a time may be an error in the years, or two works of one name.
fn report_not_in_succession(pack: &PackText, out: &mut Vec<Diagnostic>) {
    for works in &pack.works {
        let mut partnerships: Vec<_> = pack
            .makers
            .iter()
            .filter(|maker| maker.works.as_ref().is_some_and(|w| w.value == works.value))
            .filter_map(|maker| Some((maker, maker.years.as_ref()?)))
            .collect();
        partnerships.sort_by_key(|(_, years)| (years.value.first, years.value.last));
        for pair in partnerships.windows(2) {
            let ((earlier, before), (later, after)) = (pair[0], pair[1]);
            // The year in which the works changes hands belongs to both.
            if after.value.first < before.value.last {
                out.push(
                    Diagnostic::warning(
                        "pack::succession",
                        format!(
                            "`{}` is at {} before `{}` has left it",
                            later.id.value, works.value, earlier.id.value
                        ),
                        after.span,
                    )
                    .also(before.span, format!("the years of `{}`", earlier.id.value))
                    .hint("partnerships at one works follow one another: mend the years, or, if both worked side by side, give each its own works"),
                );
            }
        }
    }
}

fn shares(pack: &PackText, makers: &Makers, draft: &mut Draft<'_>, out: &mut Vec<Diagnostic>) {
    // A zero of the two that are always there is an error of its own.
    for maker in pack.makers.iter().filter(|maker| maker.role.is_none()) {
        if let Some(share) = &maker.share {
            rows::say::report_zero(share, out);
        }
    }
    if pack.makers.is_empty() {
        out.push(Diagnostic::error("pack::missing", "the pack has no maker", pack.name.span).hint(
            "add [[maker]] for each maker, one with `role = \"unlisted\"` and one with `role = \"reproduction\"`",
        ));
        return;
    }
    let learns = pack.collection.as_ref().is_some_and(|c| c.maker.is_some());
    if learns && pack.makers.iter().all(|maker| maker.share.is_none()) {
        if let Some(rule) = shares::of_makers(pack, draft, out) {
            let table = DraftTable {
                rules: vec![rule],
                rule_of_configuration: vec![Some(0)],
                place: pack.name.span,
                gaps: Gaps::Report,
            };
            draft.set_table(makers.maker, Vec::new(), table);
        }
        return;
    }
    if let Some(maker) = pack.makers.iter().find(|m| learns && m.share.is_none()) {
        let message = format!(
            "maker `{}` has no share, and others have one",
            maker.id.value
        );
        out.push(
            Diagnostic::error("pack::missing", message, maker.id.span)
                .hint("give every maker a `share`, or none, to learn them from the collection"),
        );
        return;
    }
    let shares: Vec<&Placed<Chance>> = pack
        .makers
        .iter()
        .filter_map(|m| m.share.as_ref())
        .collect();
    let (Some(first), Some(last)) = (shares.first(), shares.last()) else {
        return;
    };
    if shares.len() < pack.makers.len() {
        return;
    }
    let say: Vec<f64> = shares.iter().map(|share| share.value.value).collect();
    let sum: f64 = say.iter().sum();
    if (sum - 1.0).abs() > rows::say::SUM_TOLERANCE {
        out.push(
            rows::say::sum_off(
                "pack::share-sum",
                "the shares of all makers",
                sum,
                last.span,
            )
            .also(first.span, "the first of them"),
        );
    }
    let experience = match &pack.shares_seen {
        Some(_) => seen(pack.shares_seen.as_ref(), None, first.span, out),
        // A missing table [shares] is reported already; in one that is there, `seen` may still be missing.
        None => pack
            .shares_span
            .map_or(1.0, |span| seen(None, None, span, out)),
    };
    let mut rule = draft.categorical(
        "share of each maker".to_owned(),
        say,
        experience,
        first.span,
    );
    // One of the two that are always there and has no share is reported; what follows from that is not.
    for (possible, maker) in rule.possible.iter_mut().zip(&pack.makers) {
        *possible |= maker.role.is_some();
    }
    let table = DraftTable {
        rules: vec![rule],
        rule_of_configuration: vec![Some(0)],
        place: first.span,
        gaps: Gaps::Report,
    };
    draft.set_table(makers.maker, Vec::new(), table);
}

/// A variable that the maker fixes by definition.
fn fixed_by_maker(
    makers: &Makers,
    id: DraftId,
    state_of: &[Option<usize>],
    draft: &mut Draft<'_>,
    pack: &PackText,
) {
    let n_states = draft.variables[id].states.len();
    if n_states == 0 {
        return;
    }
    let table = DraftTable {
        rules: (0..n_states)
            .map(|state| certain(state, n_states))
            .collect(),
        rule_of_configuration: state_of.to_vec(),
        place: pack.name.span,
        gaps: Gaps::Leave,
    };
    draft.set_table(id, vec![makers.maker], table);
}
