//! A value as text.

use std::fmt::Write as _;

use super::table::{Align, table};
use super::text::layout::{heading, line, what_if, wrapped};
use crate::model::market::PriceKind;
use crate::value::{Adjusted, Estimate, Support, Value};
use crate::verdict::wording::chance;

/// Where texts stand that go on below a key.
const INDENT: &str = "              ";
/// Where the factor from the hammer stands in the grid.
const PRICE_COLUMN: usize = 9;

/// The value, what it rests on, and under which instruction it holds.
#[must_use]
pub fn text(value: &Value) -> String {
    let mut out = String::new();
    let asked = &value.instruction;
    heading(&mut out, "VALUE", &value.piece);
    what_if(&mut out, value.what_if.as_ref());
    if let Some(client) = &asked.client {
        line(&mut out, "for", client);
    }
    line(&mut out, "purpose", &asked.purpose);
    line(&mut out, "users", &asked.users);
    line(&mut out, "value as of", &asked.effective);
    let inspected = format!(
        "{}, {}, by {}",
        asked.inspected,
        asked.seen.words(),
        asked.inspector
    );
    line(&mut out, "inspected", &inspected);
    line(&mut out, "interest", &asked.interest);
    for assumption in &asked.assumptions {
        line(&mut out, "assumed", assumption);
    }
    line(&mut out, "definition", &value.definition);
    match value.definition_is_verbatim {
        true => {
            wrapped(&mut out, INDENT, &format!("“{}”", value.definition_words));
            wrapped(
                &mut out,
                INDENT,
                &format!("source: {}", value.definition_source),
            );
        }
        false => {
            wrapped(&mut out, INDENT, &value.definition_words);
            let ours = format!("in our words; source: {}", value.definition_source);
            wrapped(&mut out, INDENT, &ours);
        }
    }
    if let Some(taken_as) = &value.definition_taken_as {
        wrapped(&mut out, INDENT, &format!("taken here as: {taken_as}"));
    }
    let price = format!(
        "{}, {}, {}",
        value.currency,
        value.price.words(),
        value.sale
    );
    line(&mut out, "price", &price);
    line(&mut out, "verdict", &value.verdict);
    if let Some(mark) = &value.mark_not_accepted {
        wrapped(
            &mut out,
            "  mark        ",
            &format!("{mark}: it is not valued as marked"),
        );
    }
    if let Some(size) = &value.size {
        line(&mut out, "size", size);
    }
    line(&mut out, "condition", &value.condition);
    wrapped(
        &mut out,
        INDENT,
        &format!("grades: {}", value.grades.join(" / ")),
    );

    let _ = writeln!(out);
    for estimate in &value.estimates {
        one(&mut out, value, estimate);
    }
    if let Some(first) = value.estimates.first() {
        grid(&mut out, value, first);
    }
    if !value.left_out.is_empty() {
        let _ = writeln!(out, "\nNot counted");
        for left in &value.left_out {
            wrapped(
                &mut out,
                &format!("  {}: ", left.id),
                &format!("{}: {}", left.catalogued, left.why),
            );
        }
    }
    if let Some(first) = value.estimates.first() {
        let (now, alone) = (&first.band, &first.beliefs_alone);
        let _ = writeln!(out, "\nWhat the value rests on");
        let with_sales = format!(
            "stated beliefs and {} sales: {}; one sale in two between {} and {}",
            first.adjusted.len(),
            money(now.median),
            money(now.low),
            money(now.high)
        );
        wrapped(&mut out, "  ", &with_sales);
        let without = format!(
            "stated beliefs alone: {}; one sale in two between {} and {}",
            money(alone.median),
            money(alone.low),
            money(alone.high)
        );
        wrapped(&mut out, "  ", &without);
        let scatter = format!(
            "single prices scatter by x{:.2} (stated: x{:.2})",
            value.scatter, value.scatter_stated
        );
        wrapped(&mut out, "  ", &scatter);
    }
    let _ = writeln!(out);
    for note in &value.notes {
        wrapped(&mut out, "- ", note);
    }
    line(
        &mut out,
        "pack",
        &format!("{}, sha256 {}", value.pack, short(&value.pack_sha256)),
    );
    line(
        &mut out,
        "market",
        &format!("sha256 {}", short(&value.market_sha256)),
    );
    for caution in &value.cautions {
        wrapped(&mut out, "! ", caution);
    }
    out
}

/// One wording with its estimate.
fn one(out: &mut String, value: &Value, estimate: &Estimate) {
    let figures: Vec<String> = estimate.rounded.iter().map(|price| money(*price)).collect();
    let figures = format!("{} {}", value.currency, figures.join(" to "));
    let head = if estimate.is_the_value {
        format!("Catalogued as “{}”: {figures}", estimate.catalogued)
    } else {
        format!(
            "If the market accepted “{}”: {figures}",
            estimate.catalogued
        )
    };
    let _ = writeln!(out, "{head}");
    let support = &estimate.support;
    let mut words = match (support.is_supported, support.needs > 0.0) {
        (true, false) => "supported: it claims nothing".to_owned(),
        (false, false) => "not supported by the verdict".to_owned(),
        (is_supported, _) => format!(
            "{}: needs {:.2}, has {}",
            if is_supported {
                "supported"
            } else {
                "not supported"
            },
            support.needs,
            has(support)
        ),
    };
    if let Some(because) = &support.because {
        let _ = write!(words, "; {because}");
    }
    if estimate.is_the_value {
        words += "; how the pack catalogues this verdict: this is the value";
    }
    wrapped(out, "  ", &words);
    let band = &estimate.band;
    let spread = format!(
        "median {}; one sale in two between {} and {}, nine in ten between {} and {}",
        money(band.median),
        money(band.low),
        money(band.high),
        money(band.lowest),
        money(band.highest)
    );
    wrapped(out, "  ", &spread);
    let direct = match estimate.direct.len() {
        0 => "no sale in this very wording".to_owned(),
        count => format!(
            "{count} in this very wording: {}",
            estimate.direct.join(", ")
        ),
    };
    wrapped(out, "  ", &direct);
}

/// What a wording has, with the digits that tell it from what it needs.
fn has(support: &Support) -> String {
    let short = chance(support.has);
    if support.has >= support.needs || short != chance(support.needs) {
        return short;
    }
    let digits = (3..=6).map(|digits| format!("{:.digits$}", support.has));
    let needs = |digits: usize| format!("{:.digits$}", support.needs);
    let mut told = digits.filter(|text| *text != needs(text.len() - 2));
    told.next().unwrap_or_else(|| "just less".to_owned())
}

/// The sales, each brought to the piece.
fn grid(out: &mut String, value: &Value, estimate: &Estimate) {
    if estimate.adjusted.is_empty() {
        return;
    }
    let _ = writeln!(out, "\nThe sales, brought to “{}”", estimate.catalogued);
    let factor = |factor: f64| {
        let text = format!("x{factor:.2}");
        if text == "x1.00" {
            "·".to_owned()
        } else {
            text
        }
    };
    let row = |sale: &Adjusted| {
        vec![
            sale.id.clone(),
            sale.sold.clone(),
            money(sale.hammer),
            factor(sale.who),
            factor(sale.wording),
            factor(sale.size),
            factor(sale.condition),
            factor(sale.sale),
            factor(sale.years),
            money(sale.adjusted),
            format!("{:.2}", sale.weight),
        ]
    };
    let mut rows: Vec<Vec<String>> = estimate.adjusted.iter().map(row).collect();
    let mut header = vec![
        ("", Align::Left),
        ("sold", Align::Left),
        ("hammer", Align::Right),
        ("maker", Align::Right),
        ("wording", Align::Right),
        ("size", Align::Right),
        ("condition", Align::Right),
        ("sale", Align::Right),
        ("years", Align::Right),
        ("brought", Align::Right),
        ("weight", Align::Right),
    ];
    // Hammer prices need no bringing to the hammer.
    if value.price != PriceKind::Hammer {
        header.insert(PRICE_COLUMN, (value.price.words(), Align::Right));
        for (row, sale) in rows.iter_mut().zip(&estimate.adjusted) {
            row.insert(PRICE_COLUMN, factor(sale.price));
        }
    }
    out.push_str(&table(&header, rows));
    for sale in &estimate.adjusted {
        wrapped(
            out,
            &format!("  {}: ", sale.id),
            &format!("{}; {}", sale.catalogued, sale.source),
        );
    }
    wrapped(
        out,
        "  ",
        "weight: by how many per cent the estimate would rise if that price were 1% higher (below 0 for a sale that tells more of a difference than of the piece); the rest is what the beliefs say. A factor may be off as its belief may: the bands above hold all of that.",
    );
}

/// A price without needless digits: whole from 10, else with two.
pub(super) fn money(price: f64) -> String {
    if price >= 10.0 || price.fract() == 0.0 {
        format!("{price:.0}")
    } else {
        format!("{price:.2}")
    }
}

pub(super) fn short(hash: &str) -> &str {
    hash.get(..16).unwrap_or(hash)
}
