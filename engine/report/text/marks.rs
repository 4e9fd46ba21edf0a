//! The marks of a registry against a fragment.

use super::layout::{heading, line, signed, small, wrapped};
use crate::ranking::{AlignedColumn, ColumnKind, MarkRanking, RankedMark};

/// Marks worse than the best by more than this are named without their alignment, in decibans: a ten-thousandth.
const ALIGNED_TO: f64 = -40.0;

/// A ranking, each mark with its alignment underneath.
#[must_use]
pub fn marks(ranking: &MarkRanking) -> String {
    let mut out = String::new();
    heading(&mut out, "MARKS", &ranking.fragment);
    let strike = ranking.strike.map_or_else(
        || "not stated: summed over clear, faint, part-struck and smeared".to_owned(),
        str::to_owned,
    );
    line(&mut out, "strike", &strike);
    for (place, (thing, report)) in ranking.looked_for.iter().enumerate() {
        let key = if place == 0 { "looked for" } else { "" };
        line(&mut out, key, &format!("{thing}: {report}"));
    }
    out.push('\n');
    out += "   ratio to best   decibans  mark\n";
    let (aligned, others): (Vec<&RankedMark>, Vec<&RankedMark>) = ranking
        .marks
        .iter()
        .partition(|mark| mark.decibans >= ALIGNED_TO);
    for mark in aligned {
        one(&mut out, mark);
        alignment(&mut out, &mark.alignment);
        out.push('\n');
    }
    for mark in &others {
        one(&mut out, mark);
    }
    if !others.is_empty() {
        out.push('\n');
    }
    let pack = format!(
        "{} (SHA-256 {}…)",
        ranking.pack,
        &ranking.pack_sha256[..12.min(ranking.pack_sha256.len())]
    );
    line(&mut out, "priors", &pack);
    out.push('\n');
    for note in [
        "ratio to best: P(what was read | this mark) over the same for the best mark; in decibans 10 is ten times, 3 about twice. It \
         says nothing of how often the mark is met: for that, note the fragment of a piece (mark_fragment) and ask for a verdict.",
        "under each mark the likeliest way it came to be read so:  = read  ~ taken for another  . lost  - lost unnoticed  ' stop passed \
         over  + not in the mark  * nobody knows",
    ] {
        wrapped(&mut out, "  ", note);
    }
    out
}

fn one(out: &mut String, mark: &RankedMark) {
    let decibans = if mark.decibans == f64::NEG_INFINITY {
        "impossible".to_owned()
    } else {
        signed(mark.decibans)
    };
    let ratio = if mark.likelihood_ratio == 1.0 {
        "1".to_owned()
    } else {
        small(mark.likelihood_ratio)
    };
    let text = match mark.text.as_deref() {
        None => "no letters".to_owned(),
        Some("?") => "letters not known".to_owned(),
        Some(text) => format!("“{text}”"),
    };
    *out += &format!(
        "  {ratio:>14} {decibans:>10}  {}: {text}, {}\n",
        mark.mark, mark.method
    );
    for user in &mark.users {
        *out += &format!("{:29}{} {}, {}\n", "", user.maker, user.name, user.years);
    }
}

fn alignment(out: &mut String, columns: &[AlignedColumn]) {
    if columns.is_empty() {
        return;
    }
    let sign = |column: &AlignedColumn| match column.what {
        ColumnKind::Read => "=",
        ColumnKind::Misread => "~",
        ColumnKind::Lost => ".",
        ColumnKind::LostUnnoticed => "-",
        ColumnKind::PassedOver => "'",
        ColumnKind::NotInTheMark => "+",
    };
    let row = |key: &str, cell: &dyn Fn(&AlignedColumn) -> String| {
        let cells = columns.iter().map(|column| {
            let width = column.read.chars().count().max(1);
            format!("{:<width$}", cell(column))
        });
        let cells: Vec<String> = cells.collect();
        format!("{:31}{key:<6}{}", "", cells.join(" "))
            .trim_end()
            .to_owned()
            + "\n"
    };
    *out += &row("mark", &|c| c.mark.clone());
    *out += &row("read", &|c| c.read.clone());
    *out += &row("", &|c| sign(c).to_owned());
}
