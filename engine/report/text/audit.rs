//! An audit as an appraiser reads it.

use super::layout::{
    findings, four_digits, heading, line, rows_cited, short_line, signed, small, what_if, wrapped,
};
use crate::audit::strength::{Strength, Supported};
use crate::audit::{Audit, Shared};
use crate::piece::FindingShown;
use crate::report::table::{Align, table};

/// What the strength depends on besides the findings.
pub(in crate::report) const MIXTURE: &str = "where the alternative is several together (all other makers), it is a mixture of them, each by its chance before any finding: with other shares the ratio would be another.";

/// An audit.
#[must_use]
pub fn audit(audit: &Audit) -> String {
    let mut out = String::new();
    heading(&mut out, "AUDIT", &audit.piece);
    what_if(&mut out, audit.what_if.as_ref());
    line(
        &mut out,
        "question",
        &format!(
            "{}, against {}",
            audit.question.claim, audit.question.against
        ),
    );
    line(
        &mut out,
        "from",
        &format!(
            "{} before any finding  [odds {} decibans]",
            small(audit.prior),
            signed(audit.prior_decibans)
        ),
    );
    line(
        &mut out,
        "to",
        &format!(
            "{} given all findings  [odds {} decibans]",
            small(audit.posterior),
            signed(audit.posterior_decibans)
        ),
    );
    let [words, ratio] = strength(&audit.strength);
    line(&mut out, "strength", &words);
    line(&mut out, "", &ratio);
    out.push('\n');
    let mut rows: Vec<Vec<String>> = audit
        .findings
        .iter()
        .map(|f| {
            vec![
                format!("{}: {}", f.name, f.said),
                signed(f.in_order),
                four_digits(f.probability_after),
                signed(f.left_out),
                signed(f.alone),
                shared(f.shared),
                rows_cited(&f.rows),
            ]
        })
        .collect();
    let shift = signed(audit.total_decibans);
    let shares = audit.findings.iter().map(|f| f.shared.map(|s| s.decibans));
    let all_shares: Option<f64> = shares.sum();
    rows.push(vec![
        "total".to_owned(),
        shift,
        String::new(),
        String::new(),
        String::new(),
        all_shares.map_or_else(String::new, signed),
        String::new(),
    ]);
    let header = [
        ("finding", Align::Left),
        ("in order", Align::Right),
        ("then", Align::Right),
        ("left out", Align::Right),
        ("alone", Align::Right),
        ("shared", Align::Right),
        ("rows", Align::Left),
    ];
    out += &table(&header, rows);
    if !audit.groups.is_empty() {
        out.push('\n');
        let rows = audit.groups.iter().map(|g| {
            vec![
                format!("{} ({})", g.name, g.n_findings),
                signed(g.left_out),
                signed(g.alone),
                shared(g.shared),
            ]
        });
        let header = [
            ("findings that hang together", Align::Left),
            ("left out", Align::Right),
            ("alone", Align::Right),
            ("shared, as one", Align::Right),
        ];
        out += &table(&header, rows.collect());
    }
    if !audit.pairs.is_empty() {
        out.push('\n');
        let rows = audit.pairs.iter().map(|pair| {
            vec![
                format!("{} and {}", pair.first, pair.second),
                signed(pair.decibans),
            ]
        });
        let header = [
            ("findings that change each other's weight", Align::Left),
            ("together, beyond apart", Align::Right),
        ];
        out += &table(&header, rows.collect());
    }
    let told: Vec<FindingShown> = audit
        .record
        .iter()
        .filter(|f| !f.how.is_empty() || !f.replaced.is_empty() || f.blind)
        .cloned()
        .collect();
    if !told.is_empty() {
        out.push('\n');
        findings(&mut out, &told, &[]);
    }
    if !audit.histories.is_empty() {
        out.push('\n');
        line(
            &mut out,
            "engraving",
            "by whose histories it came to the maker, if the claim holds:",
        );
        for cited in &audit.histories {
            wrapped(
                &mut out,
                "  ",
                &format!(
                    "{} {}: {}  [{}]",
                    four_digits(cited.probability),
                    cited.engraving,
                    cited.said,
                    short_line(&cited.line)
                ),
            );
        }
    }
    if !audit.rules.is_empty() {
        out.push('\n');
        line(&mut out, "by rule", "of law and record:");
        for rule in &audit.rules {
            wrapped(&mut out, "  ", &rule.in_words());
        }
        wrapped(&mut out, "! ", crate::dating::rules::CAUTION);
    }
    out.push('\n');
    let weights = audit
        .findings
        .iter()
        .flat_map(|f| [f.in_order, f.left_out, f.alone]);
    if weights.clone().any(|weight| !weight.is_finite()) {
        wrapped(
            &mut out,
            "  ",
            "+∞: the finding rules the alternative out under this pack; -∞: it rules the claim out; none: what stands against what \
             is ruled out already has no weight.",
        );
    }
    for note in [
        "Weights of evidence in decibans: 10 is ten times the odds, 3 about twice, below 0 against.",
        "in order: given the findings above it; these add up to the shift of the odds. then: the claim's probability after it.",
        "left out: how far the odds fall without it, all others kept. alone: with no other finding. These two do not add up: an alternative such as all other makers is a mixture, and findings overlap.",
        "shared: the mean over all orders in which the findings could have been made (the Shapley value); these add up as well, and no finding gains by its place.",
        "together, beyond apart: below 0, two findings for the claim say in part the same thing.",
        "rows: lines of the prior files that spoke for the claim.",
        "strength: how much better the claim explains the findings than its alternative does; how probable the claim is stands under `to`, and is another matter.",
        MIXTURE,
    ] {
        wrapped(&mut out, "  ", note);
    }
    out
}

/// A share of the shift, with its standard error if it was estimated.
fn shared(share: Option<Shared>) -> String {
    match share {
        None => "none".to_owned(),
        Some(Shared {
            decibans,
            standard_error: None,
        }) => signed(decibans),
        Some(Shared {
            decibans,
            standard_error: Some(error),
        }) => format!("{} ± {error:.2}", signed(decibans)),
    }
}

/// The strength of the evidence: the words with the band they stand for, and the ratio.
pub(in crate::report) fn strength(strength: &Strength) -> [String; 2] {
    let band = match (strength.from, strength.to) {
        (Some(from), Some(to)) => format!("ratios from {from} to below {to}"),
        (Some(from), None) => format!("ratios of {from} and more"),
        (None, Some(to)) => format!("ratios below {to}"),
        (None, None) => String::new(),
    };
    let (whose, better, worse) = match strength.supports {
        Supported::Claim => (" for the claim", "the claim", "its alternative"),
        Supported::Alternative => (" against the claim", "the alternative", "the claim"),
        Supported::Neither => ("", "the one", "the other"),
    };
    let ratio = match strength.likelihood_ratio {
        Some(ratio) => format!(
            "the findings are {} times as probable under {better} as under {worse}",
            three_digits(ratio)
        ),
        None if strength.supports == Supported::Neither => {
            "the findings are impossible under both".to_owned()
        }
        None => format!("the findings are impossible under {worse}"),
    };
    [
        match strength.from.or(strength.to) {
            Some(_) => format!("{}{whose}  [{}: {band}]", strength.words, strength.scale),
            None => strength.words.to_owned(),
        },
        ratio,
    ]
}

/// A ratio with three digits that count.
fn three_digits(ratio: f64) -> String {
    if ratio >= 1e6 {
        format!("{ratio:.2e}")
    } else if ratio >= 100.0 {
        format!("{ratio:.0}")
    } else if ratio >= 10.0 {
        format!("{ratio:.1}")
    } else {
        format!("{ratio:.2}")
    }
}
