//! Whether a further look pays, as an appraiser reads it.

use super::layout::{heading, line, what_if, wrapped};
use super::next_look::{how_often, left_out, minutes, named};
use crate::pays::{Becomes, LookPays, Pays};
use crate::report::table::{Align, table};
use crate::report::value::{money, short};
use crate::verdict::wording::chance;

/// Looks that pay whose outcomes are listed.
const LISTED: usize = 3;
/// Wordings rarer than this are summed up.
const SHOWN_FROM: f64 = 0.01;

/// What each look is expected to bring, and what it costs.
#[must_use]
pub fn pays(pays: &Pays) -> String {
    let mut out = String::new();
    heading(&mut out, "DOES A FURTHER LOOK PAY?", &pays.piece);
    what_if(&mut out, pays.what_if.as_ref());
    line(&mut out, "purpose", &pays.instruction.purpose);
    line(&mut out, "value as of", &pays.instruction.effective);
    line(&mut out, "definition", &pays.definition);
    let price = format!("{}, {}, {}", pays.currency, pays.price.words(), pays.sale);
    line(&mut out, "price", &price);
    let now = format!(
        "“{}”, middle price {}",
        pays.now.catalogued,
        money(pays.now.price)
    );
    line(&mut out, "now", &now);
    line(&mut out, "an hour", &money(pays.per_hour));
    out.push('\n');
    if pays.looks.is_empty() {
        line(&mut out, "", "nothing is left to look at");
    } else {
        let header = [
            ("look at", Align::Left),
            ("minutes", Align::Right),
            ("costs", Align::Right),
            ("price rises", Align::Right),
            ("price falls", Align::Right),
            ("expected gain", Align::Right),
            ("pays", Align::Left),
        ];
        out += &table(&header, pays.looks.iter().map(row).collect());
        out.push('\n');
        let best = pays.looks.iter().filter(|look| look.pays);
        let best: Vec<&LookPays> = best.take(LISTED).collect();
        match best.first() {
            Some(first) => line(&mut out, "pays most", &named(&first.name, &first.with)),
            None => line(
                &mut out,
                "pays most",
                "none: no look is expected to bring more than it costs",
            ),
        }
        for look in best {
            let look_at = format!("{}{}", named(&look.name, &look.with), again(look));
            wrapped(
                &mut out,
                "\n",
                &format!("After {look_at}, it would be catalogued as"),
            );
            comes_to(&mut out, &look.becomes);
        }
    }
    out += "\nIf the maker were known for certain, it would be catalogued as\n";
    comes_to(&mut out, &pays.if_known);
    left_out(&mut out, &pays.not_offered);
    out.push('\n');
    let note = "expected gain: the mean, over what the look may show, of the middle price of the wording that the verdict then supports, less the middle price now. It pays if that is more than it costs.";
    wrapped(&mut out, "  ", note);
    let pack = format!("{}, sha256 {}", pays.pack, short(&pays.pack_sha256));
    line(&mut out, "pack", &pack);
    line(
        &mut out,
        "market",
        &format!("sha256 {}", short(&pays.market_sha256)),
    );
    for words in &pays.cautions {
        wrapped(&mut out, "! ", words);
    }
    out
}

fn row(look: &LookPays) -> Vec<String> {
    vec![
        format!("{}{}", named(&look.name, &look.with), again(look)),
        minutes(look.minutes),
        money(look.cost),
        how_often(look.rises),
        how_often(look.falls),
        gain(look.gain),
        if look.pays { "yes" } else { "no" }.to_owned(),
    ]
}

/// The wordings, the rare ones together.
fn comes_to(out: &mut String, becomes: &[Becomes]) {
    let (shown, rare): (Vec<&Becomes>, Vec<&Becomes>) =
        becomes.iter().partition(|one| one.chance >= SHOWN_FROM);
    for one in shown {
        let words = format!("“{}”: {}", one.catalogued, money(one.price));
        wrapped(out, &format!("  {:>6}  ", chance(one.chance)), &words);
    }
    if !rare.is_empty() {
        let together: f64 = rare.iter().map(|one| one.chance).sum();
        let prices = || rare.iter().map(|one| one.price);
        let (low, high) = (
            prices().fold(f64::INFINITY, f64::min),
            prices().fold(0.0, f64::max),
        );
        let words = match rare[..] {
            [one] => format!("“{}”: {}", one.catalogued, money(one.price)),
            _ => format!(
                "{} others together: {} to {}",
                rare.len(),
                money(low),
                money(high)
            ),
        };
        wrapped(out, &format!("  {:>6}  ", chance(together)), &words);
    }
}

/// An expected gain with its sign.
fn gain(gain: f64) -> String {
    match gain.abs() {
        small if small < 0.005 => "0".to_owned(),
        small if small < 10.0 => format!("{gain:+.2}"),
        _ => format!("{gain:+.0}"),
    }
}

fn again(look: &LookPays) -> &'static str {
    match look.replaces {
        Some(_) => " (again)",
        None => "",
    }
}
