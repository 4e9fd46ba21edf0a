//! What to look at next, as an appraiser reads it.

use super::layout::{heading, line, small, wrapped};
use crate::next_look::candidates::NotOffered;
use crate::next_look::overturn::{Overturn, Overturning, OverturningPair};
use crate::next_look::plan::{End, FixedList, Plans, PlansWith, Policy, Step};
use crate::next_look::{LookWorth, NextLook, Reckoned, With};
use crate::report::table::{Align, table};
use crate::verdict::wording::chance;

/// Readings of a plan that are shown; the rarer ones are summed up.
const SHOWN_FROM: f64 = 0.03;
/// Readings that would overturn the verdict that are shown.
const MOST_OVERTURNING: usize = 12;

/// What each look is worth.
#[must_use]
pub fn next_look(next: &NextLook) -> String {
    let mut out = String::new();
    heading(&mut out, "NEXT LOOK", &next.piece);
    asked(
        &mut out,
        &next.about,
        &next.leader,
        &next.leader_name,
        next.leader_probability,
    );
    line(&mut out, "left open", &format!("{:.3} bits", next.entropy));
    out.push('\n');
    if next.looks.is_empty() {
        line(&mut out, "", "nothing is left to look at");
    } else {
        let rows = next.looks.iter().map(row).collect();
        let header = [
            ("look at", Align::Left),
            ("minutes", Align::Right),
            ("bits", Align::Right),
            ("bits a minute", Align::Right),
            ("leader changes", Align::Right),
            ("opinion changes", Align::Right),
            ("worth it", Align::Left),
        ];
        out += &table(&header, rows);
        let worth: Vec<&LookWorth> = next.looks.iter().filter(|look| look.is_worth_it).collect();
        out.push('\n');
        match worth.first() {
            Some(best) => {
                line(&mut out, "next", &named(&best.name, &best.with));
                if let Some(how) = &best.how {
                    wrapped(&mut out, "              ", how);
                }
            }
            None => line(&mut out, "next", "nothing: no look is worth its minutes"),
        }
    }
    left_out(&mut out, &next.not_offered);
    out.push('\n');
    let source = if next.least_is_usual {
        "the usual figure"
    } else {
        "the pack says so"
    };
    let threshold = format!(
        "worth it: at least {} bits a minute ({source}). bits: how much of what is left open the look is expected to settle, the mean over its readings. leader changes: the chance that another answer leads after it; opinion changes: that the opinion in words reads otherwise.",
        next.least_bits_per_minute
    );
    wrapped(&mut out, "  ", &threshold);
    if next.looks.iter().any(|look| look.minutes_are_usual) {
        wrapped(
            &mut out,
            "  ",
            "* minutes not given by the pack: the usual figure.",
        );
    }
    let drawn = next.looks.iter().find_map(|look| match look.reckoned {
        Reckoned::Sampling { draws, seed, .. } => Some((draws, seed)),
        _ => None,
    });
    if let Some((draws, seed)) = drawn {
        let note = format!(
            "±: the standard error of {draws} draws of what may be measured (seed {seed})."
        );
        wrapped(&mut out, "  ", &note);
    }
    if next.looks.iter().any(|look| look.replaces.is_some()) {
        wrapped(
            &mut out,
            "  ",
            "again: the reading takes the place of the uncertain finding.",
        );
    }
    out
}

fn row(look: &LookWorth) -> Vec<String> {
    let again = if look.replaces.is_some() {
        " (again)"
    } else {
        ""
    };
    let usual = if look.minutes_are_usual { "*" } else { "" };
    let (bits, changes) = match look.reckoned {
        Reckoned::Sampling {
            bits,
            leader_changes,
            ..
        } => (
            format!("{:.3} ± {bits:.3}", look.bits),
            format!("{:.3} ± {leader_changes:.3}", look.leader_changes),
        ),
        _ => (format!("{:.3}", look.bits), how_often(look.leader_changes)),
    };
    vec![
        format!("{}{again}", named(&look.name, &look.with)),
        format!("{}{usual}", minutes(look.minutes)),
        bits,
        format!("{:.4}", look.bits_per_minute),
        changes,
        look.opinion_changes.map_or_else(String::new, how_often),
        if look.is_worth_it { "yes" } else { "no" }.to_owned(),
    ]
}

/// Plans of several looks.
#[must_use]
pub fn plans(plans: &Plans) -> String {
    let mut out = String::new();
    heading(&mut out, "PLAN", &plans.piece);
    line(&mut out, "question", &plans.about);
    line(
        &mut out,
        "now",
        &format!(
            "{} [{}], {:.3} bits left open",
            plans.leader,
            chance(plans.leader_probability),
            plans.entropy
        ),
    );
    line(
        &mut out,
        "looks",
        &format!(
            "up to {}, as long as they bring {} bits a minute",
            plans.n_looks, plans.bits_per_minute
        ),
    );
    for plan in &plans.plans {
        out.push('\n');
        one_setting(&mut out, plan);
    }
    left_out(&mut out, &plans.not_offered);
    out.push('\n');
    for note in [
        "in a fixed list: the most bits a minute first, before any reading is known. step by step: the same, each look chosen once the readings before it are known. the best: of all ways to choose and to stop, the one whose expected bits less the price of its minutes are highest.",
        "worth: expected bits less the price of the expected minutes.",
    ] {
        wrapped(&mut out, "  ", note);
    }
    out
}

fn one_setting(out: &mut String, plan: &PlansWith) {
    if !plan.with.is_empty() {
        line(out, "assumed", &circumstances(&plan.with));
    }
    let rows = [
        ("in a fixed list", plan.fixed.end),
        ("step by step", plan.step_by_step.end),
        ("the best", plan.best.end),
    ];
    let header = [
        ("plan", Align::Left),
        ("minutes", Align::Right),
        ("bits", Align::Right),
        ("left open", Align::Right),
        ("worth", Align::Right),
        ("leader changes", Align::Right),
    ];
    *out += &table(&header, rows.map(|(name, end)| end_row(name, end)).to_vec());
    out.push('\n');
    fixed(out, &plan.fixed);
    policy(out, &plan.best);
}

fn end_row(name: &str, end: End) -> Vec<String> {
    vec![
        name.to_owned(),
        format!("{:.1}", end.minutes),
        format!("{:.3}", end.bits),
        format!("{:.3}", end.entropy),
        format!("{:.3}", end.worth),
        how_often(end.leader_changes),
    ]
}

fn fixed(out: &mut String, list: &FixedList) {
    let one = |listed: &crate::next_look::plan::Listed| {
        format!(
            "{} (+{:.3} bits, {} min)",
            listed.look.name,
            listed.bits,
            minutes(listed.minutes)
        )
    };
    let looks: Vec<String> = list.looks.iter().map(one).collect();
    let text = if looks.is_empty() {
        "nothing: no look is worth its minutes".to_owned()
    } else {
        looks.join(", then ")
    };
    line(out, "fixed list", &text);
}

fn policy(out: &mut String, policy: &Policy) {
    match &policy.first {
        None => line(out, "the best", "nothing: no look is worth its minutes"),
        Some(step) => {
            line(
                out,
                "the best",
                &format!("{} ({} min)", step.look.name, minutes(step.minutes)),
            );
            branches(out, step, 1.0, 1);
        }
    }
}

fn branches(out: &mut String, step: &Step, so_far: f64, depth: usize) {
    let indent = "  ".repeat(depth);
    let (mut n_rare, mut rare) = (0, 0.0);
    for branch in &step.readings {
        let p = so_far * branch.chance;
        if p < SHOWN_FROM {
            n_rare += 1;
            rare += p;
            continue;
        }
        let then = match &branch.then {
            Some(step) => format!("then {} ({} min)", step.look.name, minutes(step.minutes)),
            None => "stop".to_owned(),
        };
        line(
            out,
            "",
            &format!(
                "{indent}{} [{}]: {} [{}]; {then}",
                branch.reading,
                chance(branch.chance),
                branch.leader,
                chance(branch.probability)
            ),
        );
        if let Some(step) = &branch.then {
            branches(out, step, p, depth + 1);
        }
    }
    if n_rare > 0 {
        let readings = if n_rare == 1 { "reading" } else { "readings" };
        line(
            out,
            "",
            &format!("{indent}{n_rare} rarer {readings} [{}]", chance_of(rare)),
        );
    }
}

/// Readings that would overturn the verdict.
#[must_use]
pub fn overturn(overturn: &Overturn) -> String {
    let mut out = String::new();
    heading(&mut out, "OVERTURN", &overturn.piece);
    asked(
        &mut out,
        &overturn.about,
        &overturn.leader,
        &overturn.leader_name,
        overturn.leader_probability,
    );
    out.push('\n');
    let header = [
        ("if it read so", Align::Left),
        ("chance", Align::Right),
        ("then leads", Align::Left),
        ("with", Align::Right),
    ];
    if overturn.overturning.is_empty() {
        line(&mut out, "", "no single reading would overturn the verdict");
        if overturn.pairs.is_empty() {
            line(&mut out, "", "nor would any two");
        } else {
            line(&mut out, "", "these two together would:");
            out.push('\n');
            out += &table(&header, overturn.pairs.iter().map(pair_row).collect());
        }
    } else {
        let shown = overturn.overturning.iter().take(MOST_OVERTURNING);
        out += &table(&header, shown.map(overturning_row).collect());
        let more = overturn.overturning.len().saturating_sub(MOST_OVERTURNING);
        if more > 0 {
            line(
                &mut out,
                "",
                &format!("and {more} less likely; --json lists all"),
            );
        }
    }
    left_out(&mut out, &overturn.not_offered);
    out.push('\n');
    wrapped(
        &mut out,
        "  ",
        "chance: of reading so, given all that is found. A reading takes the place of an uncertain finding of the same clue.",
    );
    out
}

fn overturning_row(reading: &Overturning) -> Vec<String> {
    let after = &reading.after;
    vec![
        format!("{}: {}", named(&reading.name, &reading.with), after.reading),
        chance_of(after.chance),
        answer(&after.leader, &after.leader_name),
        chance(after.probability),
    ]
}

fn pair_row(pair: &OverturningPair) -> Vec<String> {
    let [one, other] = &pair.names;
    let [first, second] = &pair.readings;
    let with = if pair.with.is_empty() {
        String::new()
    } else {
        format!(" ({})", circumstances(&pair.with))
    };
    vec![
        format!("{one}: {first}, and {other}: {second}{with}"),
        chance_of(pair.chance),
        answer(&pair.leader, &pair.leader_name),
        chance(pair.probability),
    ]
}

fn asked(out: &mut String, about: &str, leader: &str, name: &str, probability: f64) {
    line(out, "question", about);
    let leader = answer(leader, name);
    line(
        out,
        "leads now",
        &format!("{leader} [{}]", chance(probability)),
    );
}

/// An answer by short code and name, once where they are the same.
fn answer(id: &str, name: &str) -> String {
    if id == name {
        name.to_owned()
    } else {
        format!("{id} {name}")
    }
}

pub(super) fn named(name: &str, with: &[With]) -> String {
    if with.is_empty() {
        name.to_owned()
    } else {
        format!("{name} ({})", circumstances(with))
    }
}

fn circumstances(with: &[With]) -> String {
    let one = |with: &With| format!("{}: {}", with.name, with.state);
    with.iter().map(one).collect::<Vec<_>>().join(", ")
}

pub(super) fn left_out(out: &mut String, left: &[NotOffered]) {
    for left in left {
        let what = match &left.what[..] {
            [first, second, third, rest @ ..] if !rest.is_empty() => {
                format!("{first}, {second}, {third} and {} more", rest.len())
            }
            few => few.join(", "),
        };
        line(out, "not weighed", &format!("{what}: {}", left.why));
    }
}

pub(super) fn minutes(minutes: f64) -> String {
    if minutes.fract() == 0.0 {
        format!("{minutes:.0}")
    } else {
        format!("{minutes:.1}")
    }
}

/// A chance in two digits, as it stands beside a word, that may well be 0.
pub(super) fn how_often(p: f64) -> String {
    if p == 0.0 {
        "never".to_owned()
    } else {
        chance(p)
    }
}

/// A chance that may be small, or 0.
fn chance_of(p: f64) -> String {
    if p == 0.0 {
        "never".to_owned()
    } else {
        small(p)
    }
}
