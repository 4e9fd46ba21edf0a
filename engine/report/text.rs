//! Results as an appraiser reads them. Every word of judgement stands beside its number.

mod appraisal;
mod audit;
mod engravings;
pub(super) mod layout;
mod marks;
mod next_look;
mod pays;
mod sensitivity;
mod standing;
mod stress;
mod what_if;

use layout::{
    SHOWN_FROM, bar, findings, four_digits, heading, line, rung, shares_in_line, signed, small,
    what_if as what_if_line, wrapped,
};

pub use appraisal::{appraisal, instruction};
pub use audit::audit;
pub(super) use audit::{MIXTURE, strength as strength_in_words};
pub use engravings::engravings;
pub use marks::marks;
pub use next_look::{next_look, overturn, plans};
pub use pays::pays;
pub use sensitivity::sensitivity;
pub use standing::standing;
pub use stress::{explained, stress};
pub use what_if::{comparison, varied, why_not};

use super::Record;
use super::table::{Align, table};
use crate::contrast::Contrasts;
use crate::verdict::surprise::Surprise;
use crate::verdict::wording::chance;
use crate::verdict::{Share, Verdict};

/// A verdict.
#[must_use]
pub fn verdict(verdict: &Verdict) -> String {
    let mut out = String::new();
    let attribution = &verdict.attribution;
    let dating = &verdict.dating;
    heading(&mut out, "VERDICT", &verdict.piece);
    what_if_line(&mut out, verdict.what_if.as_ref());
    line(
        &mut out,
        "opinion",
        &format!(
            "{}  [{}]",
            attribution.words,
            rung(attribution.probability, attribution.at_least)
        ),
    );
    for beside in &attribution.beside {
        line(&mut out, "", beside);
    }
    if !verdict.periods.is_empty() {
        line(
            &mut out,
            "date",
            &format!(
                "{}  [{}; shortest span that holds at least {}]",
                dating.in_words(),
                chance(dating.probability),
                dating.at_least
            ),
        );
        let mode = format!(
            "most likely {}  [{}]",
            dating.mode_years,
            chance(dating.mode_probability)
        );
        line(&mut out, "", &mode);
    }
    if !verdict.regions.is_empty() {
        line(&mut out, "region", &shares_in_line(&verdict.regions));
    }
    for left in &verdict.leaves_out {
        line(
            &mut out,
            "leaves out",
            &format!("{}: {}", left.what, left.why),
        );
    }
    if !verdict.works.is_empty() {
        line(&mut out, "works", &shares_in_line(&verdict.works));
    }
    out.push('\n');

    let has_a_row = |m: &&Share| m.probability >= SHOWN_FROM || m.beyond_the_list;
    let makers = verdict.makers.iter().filter(has_a_row);
    let mut rows: Vec<Vec<String>> = makers
        .map(|m| {
            vec![
                m.id.clone(),
                m.name.clone(),
                small(m.probability),
                bar(m.probability),
            ]
        })
        .collect();
    let others: Vec<&Share> = verdict.makers.iter().filter(|m| !has_a_row(m)).collect();
    if !others.is_empty() {
        let together: f64 = others.iter().map(|m| m.probability).sum();
        let all = match &others[..] {
            [one] => one.name.clone(),
            more => format!("the {} others together", more.len()),
        };
        rows.push(vec![String::new(), all, small(together), bar(together)]);
    }
    if !rows.is_empty() {
        out += &table(
            &[
                ("maker", Align::Left),
                ("", Align::Left),
                ("probability", Align::Right),
                ("", Align::Left),
            ],
            rows,
        );
        out.push('\n');
    }
    let periods = verdict
        .periods
        .iter()
        .filter(|p| p.probability >= SHOWN_FROM);
    let rows: Vec<Vec<String>> = periods
        .map(|p| {
            vec![
                p.id.clone(),
                // A period without years is known by its short code alone.
                if p.name == p.id {
                    String::new()
                } else {
                    p.name.clone()
                },
                four_digits(p.probability),
                bar(p.probability),
            ]
        })
        .collect();
    if !rows.is_empty() {
        out += &table(
            &[
                ("period", Align::Left),
                ("", Align::Left),
                ("probability", Align::Right),
                ("", Align::Left),
            ],
            rows,
        );
    }
    if !verdict.engravings.is_empty() {
        out.push('\n');
        let engravings = verdict
            .engravings
            .iter()
            .filter(|e| e.probability >= SHOWN_FROM);
        let rows = engravings.map(|e| {
            vec![
                e.id.clone(),
                e.name.clone(),
                four_digits(e.probability),
                bar(e.probability),
            ]
        });
        let header = [
            ("engraving", Align::Left),
            ("", Align::Left),
            ("probability", Align::Right),
            ("", Align::Left),
        ];
        out += &table(&header, rows.collect());
    }
    out.push('\n');

    let surprise = &verdict.surprise;
    if let Some(words) = no_claim(verdict) {
        line(&mut out, "findings", words);
    }
    // One finding has nothing to fit.
    if surprise.predicted.len() > 1 {
        line(
            &mut out,
            "fit",
            &format!(
                "{}  [conflict {} decibans]",
                surprise.words,
                signed(surprise.conflict_decibans)
            ),
        );
    }
    fit(&mut out, surprise);
    // No finding at all has probability 1, of which the logarithm is 0 and not -0.
    let log = match is_nothing(verdict.log_evidence) {
        true => 0.0,
        false => verdict.log_evidence,
    };
    let p = log.exp();
    let evidence = if verdict.is_density {
        format!(
            "density of all findings {p:.4e}, natural log {log:.4}; no probability, since values were measured"
        )
    } else {
        format!("P(all findings) = {p:.4e}, natural log {log:.4}")
    };
    line(&mut out, "evidence", &evidence);
    out.push('\n');
    findings(&mut out, &verdict.findings, &verdict.not_looked);
    let pack = format!(
        "{} (SHA-256 {}…)",
        verdict.pack,
        &verdict.pack_sha256[..12.min(verdict.pack_sha256.len())]
    );
    line(&mut out, "priors", &pack);
    out.push('\n');
    for caution in &verdict.cautions {
        wrapped(&mut out, "! ", caution);
    }
    out
}

/// Whether it is the logarithm of 1, but for rounding: nothing was found.
fn is_nothing(log_evidence: f64) -> bool {
    log_evidence.abs() < 1e-12
}

/// What is said where no finding makes a claim.
pub(super) fn no_claim(verdict: &Verdict) -> Option<&'static str> {
    let is_claim =
        |f: &crate::piece::FindingShown| !matches!(f.clue.as_str(), "condition" | "dimensions");
    if !verdict.findings.iter().any(is_claim) {
        return Some("none: these are the priors");
    }
    // A look alone, such as the search for marks, says nothing by itself.
    let says_nothing = verdict.surprise.predicted.is_empty() && is_nothing(verdict.log_evidence);
    says_nothing.then_some("none that makes a claim: these are the priors")
}

/// The findings that do not fit, or the one that fits worst; and the list against a maker that is not on it.
fn fit(out: &mut String, surprise: &Surprise) {
    for odd in surprise.predicted.iter().filter(|p| p.odd) {
        let chance = odd
            .probability_given_others
            .map_or_else(String::new, |p| format!("{}; ", small(p)));
        line(
            out,
            "",
            &format!(
                "odd, given the others: {} = {}  [{chance}{} decibans on what it is alone]",
                odd.clue,
                odd.said,
                signed(odd.decibans)
            ),
        );
    }
    let fits = surprise.predicted.len() > 1;
    if let Some(least) = surprise.oddest.as_ref().filter(|least| !least.odd && fits) {
        let chance = least
            .probability_given_others
            .map_or_else(String::new, small);
        line(
            out,
            "",
            &format!(
                "least expected, given the others: {} = {}  [{chance}]",
                least.clue, least.said
            ),
        );
    }
    if let Some(open) = surprise
        .open_world
        .as_ref()
        .filter(|_| !surprise.predicted.is_empty())
    {
        let weight = open.decibans.map_or_else(String::new, |decibans| {
            format!("  [{} decibans for {}]", signed(decibans), open.maker)
        });
        line(out, "open list", &format!("{}{weight}", open.words));
    }
}

/// A piece's record.
#[must_use]
pub fn record(record: &Record) -> String {
    let mut out = String::new();
    heading(&mut out, "RECORD", &record.piece);
    what_if_line(&mut out, record.what_if.as_ref());
    findings(&mut out, &record.findings, &record.not_looked);
    out
}

/// A verdict beside its contrasts.
#[must_use]
pub fn contrasts(contrasts: &Contrasts) -> String {
    let mut out = String::new();
    heading(&mut out, "CONTRASTS", &contrasts.piece);
    let leading = |shares: &[Share]| {
        let shown = shares.iter().filter(|s| s.probability >= SHOWN_FROM);
        shown
            .map(|s| format!("{} {}", s.id, four_digits(s.probability)))
            .collect::<Vec<_>>()
            .join(", ")
    };
    let by_period = contrasts.rows.iter().all(|row| row.makers.is_empty());
    let rows = contrasts.rows.iter().map(|row| {
        let first = if by_period { &row.periods } else { &row.makers };
        vec![
            row.assumption.clone(),
            leading(first),
            leading(&row.engravings),
            format!("{:.4e}", row.probability_of_evidence),
        ]
    });
    let first = if by_period { "period" } else { "maker" };
    let header = [
        ("if", Align::Left),
        (first, Align::Left),
        ("engraving", Align::Left),
        ("P(findings)", Align::Right),
    ];
    out += &table(&header, rows.collect());
    let open = contrasts
        .rows
        .iter()
        .find(|r| r.assumption == crate::contrast::FULL_MODEL);
    let closed = contrasts
        .rows
        .iter()
        .find(|r| r.assumption == crate::contrast::LIST_CLOSED);
    // What has probability 1 before and after needs no explanation: nothing was found.
    let is_open = |row: &&crate::contrast::Contrast| !is_nothing(row.log_evidence);
    if let (Some(open), Some(closed)) = (open.filter(is_open), closed) {
        let times = (open.log_evidence - closed.log_evidence).exp();
        out.push('\n');
        let words = if times >= 2.0 {
            format!(
                "the listed makers alone explain these findings badly  [closing it makes them {times:.1} times less probable]"
            )
        } else {
            format!(
                "the listed makers explain these findings  [closing it multiplies their probability by {:.2}]",
                1.0 / times
            )
        };
        line(&mut out, "open list", &words);
    }
    out
}
