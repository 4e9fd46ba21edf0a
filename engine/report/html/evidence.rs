//! What speaks for the opinion, how firmly, and what would change it.

use maud::{Markup, html};

use super::{clean, section, table};
use crate::appraisal::Appraisal;
use crate::audit::Shared;
use crate::report::Shown;
use crate::report::chart::svg::picture;
use crate::report::text::layout::{estimate, four_digits, rows_cited, signed, small};
use crate::report::text::{MIXTURE, strength_in_words};
use crate::stress::Stress;

fn figure(shown: &Shown, id: &str) -> Markup {
    html! { @if let Some(chart) = shown.chart() { figure { (picture(&chart, id)) } } }
}

fn shared(shared: Option<Shared>) -> String {
    match shared {
        None => "none".to_owned(),
        Some(shared) => match shared.standard_error {
            None => signed(shared.decibans),
            Some(error) => format!("{} ± {error:.2}", signed(shared.decibans)),
        },
    }
}

pub(super) fn audit(appraisal: &Appraisal) -> Markup {
    let audit = &appraisal.audit;
    let findings: Vec<Vec<String>> = audit
        .findings
        .iter()
        .map(|finding| {
            vec![
                format!("{}: {}", finding.name, finding.said),
                shared(finding.shared),
                signed(finding.in_order),
                signed(finding.left_out),
                signed(finding.alone),
                rows_cited(&finding.rows),
            ]
        })
        .collect();
    let groups: Vec<Vec<String>> = audit
        .groups
        .iter()
        .map(|group| {
            vec![
                format!("{} ({})", group.name, group.n_findings),
                shared(group.shared),
                signed(group.left_out),
                signed(group.alone),
            ]
        })
        .collect();
    section(
        "evidence",
        "Evidence",
        &html! {
            p {
                "Weighed: " (clean(&audit.question.claim)) ", against " (clean(&audit.question.against)) ". Before any finding "
                (small(audit.prior)) ", given all of them " (small(audit.posterior)) "."
            }
            @if !groups.is_empty() {
                (table(
                    "Findings that hang together, in decibans (10 are ten times the odds).",
                    &["group", "shared, as one", "left out", "alone"],
                    &[false, true, true, true],
                    &groups,
                ))
            }
            (table(
                "Finding by finding, in decibans. Shared: over all orders (Shapley value); these add up, as those in order do.",
                &["finding", "shared", "in order", "left out", "alone", "lines of the prior files"],
                &[false, true, true, true, true, false],
                &findings,
            ))
            (figure(&Shown::Audit(audit.clone()), "audit"))
        },
    )
}

pub(super) fn strength(appraisal: &Appraisal) -> Markup {
    let strength = &appraisal.audit.strength;
    section(
        "strength",
        "Strength of the evidence",
        &html! {
            @for words in strength_in_words(strength) { p { (clean(&words)) } }
            p {
                "Scale: " (strength.scale)
                ". It says how much better the claim explains the findings than its alternative does, not how probable the claim is; the opinion above has another ladder."
            }
            p { "Mind: " (MIXTURE) }
        },
    )
}

fn stress_rows(stress: &Stress) -> Vec<Vec<String>> {
    let row = |what: &str, figure: String| vec![what.to_owned(), figure];
    let mut rows = vec![
        row(
            "probability of the claim as stated",
            four_digits(stress.stated),
        ),
        row("mean over the draws", estimate(stress.mean)),
        row("5 % of the draws lie below", estimate(stress.low)),
        row("median", estimate(stress.median)),
        row("95 % of the draws lie below", estimate(stress.high)),
        row("it leads in", stress.of_the_draws(stress.holds)),
    ];
    let others = stress.other_leaders.iter();
    rows.extend(others.map(|(maker, share)| row(&format!("{maker} leads"), small(*share))));
    if let Some(wording) = &stress.wording {
        rows.push(row("worded alike in", stress.of_the_draws(wording.holds)));
    }
    if stress.impossible_draws > 0 {
        let n = stress.impossible_draws.to_string();
        rows.push(row("draws that made the findings impossible, left out", n));
    }
    rows
}

pub(super) fn stress(appraisal: &Appraisal) -> Markup {
    let stress = &appraisal.stress;
    let caption = format!(
        "{}: {} draws of {} beliefs, seed {}; ± is one standard error.",
        stress.question.claim, stress.draws, stress.beliefs, stress.seed
    );
    section(
        "stress",
        "Would it hold if the priors were a little wrong?",
        &html! {
            (table(&caption, &["figure", "value"], &[false, true], &stress_rows(stress)))
            (figure(&Shown::Stress(stress.clone()), "stress"))
        },
    )
}

pub(super) fn leads_away(appraisal: &Appraisal) -> Markup {
    let rows: Vec<Vec<String>> = appraisal
        .contrasts
        .rows
        .iter()
        .map(|row| {
            let leading = if row.makers.is_empty() {
                &row.periods
            } else {
                &row.makers
            };
            let leading = leading.iter().filter(|share| share.probability >= 0.005);
            let leading =
                leading.map(|share| format!("{} {}", share.name, four_digits(share.probability)));
            vec![
                row.assumption.clone(),
                leading.collect::<Vec<_>>().join(", "),
                format!("{:.2e}", row.probability_of_evidence),
            ]
        })
        .collect();
    section(
        "away",
        "What leads away from it",
        &table(
            "The same findings under other assumptions.",
            &["if", "leading", "P(findings)"],
            &[false, false, true],
            &rows,
        ),
    )
}

pub(super) fn would_change(appraisal: &Appraisal) -> Markup {
    let readings: Option<Vec<Vec<String>>> = appraisal.overturn.as_ref().map(|overturn| {
        let readings = overturn.overturning.iter();
        let readings = readings.map(|o| {
            let after = &o.after;
            let then = format!("{} {}", after.leader_name, four_digits(after.probability));
            vec![
                format!("{}: {}", o.name, after.reading),
                small(after.chance),
                then,
            ]
        });
        readings.collect()
    });
    let looks: Option<Vec<Vec<String>>> = appraisal.next_look.as_ref().map(|next| {
        let looks = next.looks.iter();
        let looks = looks.map(|look| {
            vec![
                look.name.clone(),
                format!("{:.3}", look.bits),
                format!("{}", look.minutes),
                small(look.leader_changes),
            ]
        });
        looks.collect()
    });
    section(
        "change",
        "What would change it",
        &html! {
            @match &readings {
                Some(rows) if rows.is_empty() => p { "No single reading that is left makes another lead." },
                Some(rows) => (table(
                    "Readings after which another leads.",
                    &["reading", "chance", "then leads"],
                    &[false, true, false],
                    rows,
                )),
                None => p class="missing" { "What would overturn the opinion cannot be said; see the limits below." },
            }
            @match &looks {
                Some(rows) if rows.is_empty() => p { "Nothing is left to look at." },
                Some(rows) => (table(
                    "What is left to look at, the most bits for each minute first.",
                    &["look", "bits", "minutes", "chance that another leads then"],
                    &[false, true, true, true],
                    rows,
                )),
                None => p class="missing" { "What to look at next cannot be said; see the limits below." },
            }
        },
    )
}

pub(super) fn questions(appraisal: &Appraisal) -> Markup {
    section(
        "questions",
        "Questions of a hostile reader",
        &html! {
            @for asked in &appraisal.questions {
                h3 { (asked.question) }
                @for answer in &asked.answers { p { (clean(answer)) } }
            }
        },
    )
}
