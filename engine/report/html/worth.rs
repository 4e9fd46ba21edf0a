//! What the piece is worth, with what it rests on; only for a stated definition.

use maud::{Markup, html};

use super::{clean, pairs, section, table};
use crate::appraisal::Appraisal;
use crate::value::Value;

pub(super) fn value(appraisal: &Appraisal) -> Markup {
    html! { @if let Some(value) = &appraisal.value { (section("value", "Value", &of(value))) } }
}

fn of(value: &Value) -> Markup {
    let estimates: Vec<Vec<String>> = value
        .estimates
        .iter()
        .map(|estimate| {
            let rounded = estimate.rounded.iter().map(|price| format!("{price}"));
            let band = &estimate.band;
            let stands = match (estimate.is_the_value, estimate.support.is_supported) {
                (true, _) => "the value: how the pack catalogues this verdict",
                (false, true) => "supported by the verdict",
                (false, false) => "not supported by the verdict; only if the market accepts it",
            };
            let because = estimate.support.because.as_ref();
            let stands =
                because.map_or_else(|| stands.to_owned(), |why| format!("{stands}; {why}"));
            vec![
                estimate.catalogued.clone(),
                rounded.collect::<Vec<_>>().join("–"),
                format!("{:.0}–{:.0}", band.lowest, band.highest),
                stands,
            ]
        })
        .collect();
    let adjusted = value.estimates.first().map(|estimate| &estimate.adjusted);
    let sales: Vec<Vec<String>> = adjusted
        .into_iter()
        .flatten()
        .map(|sale| {
            vec![
                format!("{}: {}", sale.id, sale.catalogued),
                sale.sold.clone(),
                format!("{}", sale.hammer),
                format!("{:.0}", sale.adjusted),
                format!("{:.3}", sale.weight),
                sale.source.clone(),
            ]
        })
        .collect();
    let words = &value.definition_words;
    let words = match value.definition_is_verbatim {
        true => format!("“{words}” ({})", value.definition_source),
        false => format!(
            "{words} (in our words; source: {})",
            value.definition_source
        ),
    };
    let definition = format!("{}: {words}", value.definition);
    let taken_as = value.definition_taken_as.clone();
    let taken_as = taken_as.unwrap_or_else(|| "as it stands".to_owned());
    html! {
        (pairs(&[
            ("definition", definition),
            ("taken here as", taken_as),
            ("kind of price", value.price.words().to_owned()),
            ("kind of sale", value.sale.clone()),
            ("currency", value.currency.clone()),
            ("verdict it rests on", value.verdict.clone()),
            ("condition", value.condition.clone()),
            ("market files, SHA-256", value.market_sha256.clone()),
        ]))
        (table(
            "One row for each wording that the market might accept; no average over makers.",
            &["catalogued as", "estimate", "nine sales in ten", "standing"],
            &[false, true, true, false],
            &estimates,
        ))
        (table(
            "Comparables behind the first row, each brought to this piece. Weight: by how many per cent the estimate would rise were this price 1% higher.",
            &["sale", "sold", "hammer", "brought to the piece", "weight", "source"],
            &[false, false, true, true, true, false],
            &sales,
        ))
        @for sale in &value.left_out {
            p { "Does not count: " (clean(&sale.id)) " (" (clean(&sale.catalogued)) "): " (clean(&sale.why)) "." }
        }
        @for note in &value.notes { p { (clean(note)) } }
        ul { @for caution in &value.cautions { li { (caution) } } }
    }
}
