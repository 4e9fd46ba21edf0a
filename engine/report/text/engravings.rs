//! Engravings: their histories, who could pull from them, how often each maker did.

use super::layout::{four_digits, heading, line, short_line, wrapped};
use crate::engravings::{EngravingTold, Engravings};
use crate::model::histories::Spell;
use crate::report::table::{Align, table};

/// All engravings of a pack.
#[must_use]
pub fn engravings(shown: &Engravings) -> String {
    let mut out = String::new();
    heading(&mut out, "ENGRAVINGS", &shown.pack);
    for engraving in &shown.engravings {
        one(&mut out, engraving);
    }
    if !shown.chances.is_empty() {
        out.push('\n');
        let rows = shown.chances.iter().map(|of| {
            let mut row = vec![of.maker.clone(), of.period.clone()];
            row.extend(of.size_class.clone());
            row.extend(of.chances.iter().map(|&p| {
                if p == 0.0 {
                    "–".to_owned()
                } else {
                    four_digits(p)
                }
            }));
            row
        });
        let mut header = vec![("maker", Align::Left), ("period", Align::Left)];
        if shown.chances.iter().any(|of| of.size_class.is_some()) {
            header.push(("size class", Align::Left));
        }
        header.extend(
            shown
                .engravings
                .iter()
                .map(|e| (e.id.as_str(), Align::Right)),
        );
        out += &table(&header, rows.collect());
    }
    out.push('\n');
    let pack = format!(
        "{} (SHA-256 {}…)",
        shown.pack,
        &shown.pack_sha256[..12.min(shown.pack_sha256.len())]
    );
    line(&mut out, "priors", &pack);
    out.push('\n');
    let notes: &[&str] = if shown.by_histories {
        &[
            "years: those in which the maker had the engraving at hand more likely than not; perhaps: at all, as soft as the dates are.",
            "chances: of a print of that maker and period, from which engraving; they follow from the histories, the shares of use and the chance of one never seen.",
        ]
    } else {
        &[
            "chances: of a print of that maker and period, from which engraving, as the rows of engravings.toml say. The engravings have no histories.",
        ]
    };
    for note in notes {
        wrapped(&mut out, "  ", note);
    }
    out
}

fn one(out: &mut String, engraving: &EngravingTold) {
    *out += &format!("\n  {:<6}{}\n", engraving.id, engraving.name);
    for told in &engraving.history {
        *out += &format!("        {}  [{}]\n", told.said, short_line(&told.line));
    }
    for (place, had) in engraving.at_hand.iter().enumerate() {
        let key = if place == 0 { "at hand" } else { "" };
        let spells: Vec<String> = had.spells.iter().map(spell).collect();
        *out += &format!("        {key:<9}{}: {}\n", had.maker, spells.join("; "));
    }
}

fn years((first, last): (i64, i64)) -> String {
    if first == last {
        first.to_string()
    } else {
        format!("{first}–{last}")
    }
}

fn spell(spell: &Spell) -> String {
    match spell.likely {
        None => format!("perhaps {}", years(spell.possible)),
        Some(likely) if likely == spell.possible => years(likely),
        Some(likely) => format!("{} (perhaps {})", years(likely), years(spell.possible)),
    }
}
