//! Lines, numbers and bars of the text reports.

use std::fmt::Write;

use crate::piece::{EarlierShown, FindingShown, HowSeen};
use crate::stress::Estimate;
use crate::verdict::Share;
use crate::verdict::wording::chance;
use crate::what_if::WhatIf;

/// Answers less probable than this are summed up in one line.
pub(in crate::report) const SHOWN_FROM: f64 = 0.005;

/// `── WHAT ── title`.
pub(in crate::report) fn heading(out: &mut String, what: &str, title: &str) {
    let _ = writeln!(out, "── {what} ── {title}");
}

/// What is supposed, below the heading, so that nobody misses it.
pub(in crate::report) fn what_if(out: &mut String, what_if: Option<&WhatIf>) {
    if let Some(what_if) = what_if {
        wrapped(out, "!! ", &what_if.words);
    }
}

/// A line under a key.
pub(in crate::report) fn line(out: &mut String, key: &str, text: &str) {
    let _ = writeln!(out, "  {key:<12}{text}");
}

/// A piece's record.
pub(super) fn findings(out: &mut String, findings: &[FindingShown], not_looked: &[String]) {
    for (place, finding) in findings.iter().enumerate() {
        let key = if place == 0 { "seen" } else { "" };
        let blind = if finding.blind { ", coded blind" } else { "" };
        let how = by(finding.observer.as_deref(), &finding.how);
        let how = if how.is_empty() {
            String::new()
        } else {
            format!("  [{how}{blind}]")
        };
        line(
            out,
            key,
            &format!("{}: {}{how}{}", finding.name, finding.said, before(finding)),
        );
    }
    if !not_looked.is_empty() {
        line(out, "not looked", &not_looked.join(", "));
    }
}

/// Who, when and how, in one line.
fn by(observer: Option<&str>, how: &HowSeen) -> String {
    match observer {
        None => how.to_string(),
        // The observer's name stands for whoever was noted.
        Some(name) => HowSeen {
            who: Some(name.to_owned()),
            ..how.clone()
        }
        .to_string(),
    }
}

/// The looks that a finding replaced.
fn before(finding: &FindingShown) -> String {
    if finding.replaced.is_empty() {
        return String::new();
    }
    let one = |earlier: &EarlierShown| {
        let how = by(earlier.observer.as_deref(), &earlier.how);
        if how.is_empty() {
            earlier.said.clone()
        } else {
            format!("{} [{how}]", earlier.said)
        }
    };
    let all: Vec<String> = finding.replaced.iter().map(one).collect();
    format!("  (before: {})", all.join("; "))
}

/// `A [0.77], B [0.23]`.
pub(super) fn shares_in_line(shares: &[Share]) -> String {
    let shown = shares.iter().filter(|s| s.probability >= SHOWN_FROM);
    shown
        .map(|s| format!("{} [{}]", s.name, chance(s.probability)))
        .collect::<Vec<_>>()
        .join(", ")
}

/// A probability with the threshold its word stands on.
pub(super) fn rung(probability: f64, at_least: f64) -> String {
    if at_least > 0.0 {
        format!(
            "{}; house rule: at least {at_least:.2}",
            chance(probability)
        )
    } else {
        chance(probability)
    }
}

/// `clues.toml:33`: a line without its folder.
pub(super) fn short_line(line: &str) -> &str {
    line.rsplit('/').next().unwrap_or(line)
}

/// `clues.toml:33, 35`: the file named once.
pub(in crate::report) fn rows_cited(rows: &[String]) -> String {
    let mut out = String::new();
    let mut last_file = "";
    for row in rows.iter().take(3) {
        let short = short_line(row);
        let (file, place) = short.rsplit_once(':').unwrap_or((short, ""));
        let separator = if out.is_empty() { "" } else { ", " };
        if file == last_file {
            let _ = write!(out, "{separator}{place}");
        } else {
            let _ = write!(out, "{separator}{file}:{place}");
        }
        last_file = file;
    }
    if rows.len() > 3 {
        out.push_str(", …");
    }
    out
}

/// Four digits, and never a 1 that is not one.
pub(in crate::report) fn four_digits(p: f64) -> String {
    if p >= 0.99995 {
        "> 0.9999".to_owned()
    } else {
        format!("{p:.4}")
    }
}

/// Like [`four_digits`], with small chances in scientific notation rather than as 0.0000.
pub(in crate::report) fn small(p: f64) -> String {
    if p == 0.0 {
        "0".to_owned()
    } else if p < 0.0005 {
        format!("{p:.1e}")
    } else {
        four_digits(p)
    }
}

/// Decibans, always with a sign.
pub(in crate::report) fn signed(decibans: f64) -> String {
    if decibans.is_nan() {
        return "none".to_owned();
    }
    if decibans.is_infinite() {
        return if decibans > 0.0 { "+∞" } else { "-∞" }.to_owned();
    }
    let text = format!("{decibans:+.2}");
    // What rounds to nothing is on neither side.
    if text == "-0.00" {
        "+0.00".to_owned()
    } else {
        text
    }
}

/// A sampled figure with its error.
pub(in crate::report) fn estimate(estimate: Estimate) -> String {
    format!("{:.4} ± {:.4}", estimate.value, estimate.standard_error)
}

/// A bar of at most twenty cells; any chance worth a line gets at least a hairline.
pub(super) fn bar(p: f64) -> String {
    let eighths = (p * 160.0).round() as usize;
    let mut bar = "█".repeat(eighths / 8);
    if let Some(part) = [' ', '▏', '▎', '▍', '▌', '▋', '▊', '▉']
        .get(eighths % 8)
        .filter(|c| **c != ' ')
    {
        bar.push(*part);
    }
    bar
}

/// Text folded at 100 characters, with a mark before its first line.
pub(in crate::report) fn wrapped(out: &mut String, mark: &str, text: &str) {
    const WIDTH: usize = 100;
    let mut current = mark.to_owned();
    for word in text.split_whitespace() {
        if current.chars().count() + word.chars().count() + 1 > WIDTH {
            let _ = writeln!(out, "{}", current.trim_end());
            current = " ".repeat(mark.chars().count());
        }
        current += word;
        current.push(' ');
    }
    let _ = writeln!(out, "{}", current.trim_end());
}
