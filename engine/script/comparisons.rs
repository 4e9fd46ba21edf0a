//! Comparing values of different kinds. Rhai's answer is always false, so that a condition would take the wrong branch without a
//! word: what can be compared is, and what cannot is an error.

use std::any::TypeId;
use std::cmp::Ordering;

use rhai::{Dynamic, Engine, EvalAltResult, FuncRegistration, ImmutableString};

use super::fault::Fault;
use super::handles::{PieceHandle, VerdictHandle};
use super::numbers::in_words;
use super::values::{self, Dates, Odds, Quantity};

/// An operator, and the orders of which it is true; none: it asks for no order, but whether both are the same.
type Operator = (&'static str, &'static [Ordering]);
const OPERATORS: [Operator; 6] = [
    ("==", &[Ordering::Equal]),
    ("!=", &[Ordering::Less, Ordering::Greater]),
    ("<", &[Ordering::Less]),
    ("<=", &[Ordering::Less, Ordering::Equal]),
    (">", &[Ordering::Greater]),
    (">=", &[Ordering::Greater, Ordering::Equal]),
];

/// Registers the operators.
pub(super) fn register(engine: &mut Engine) {
    let comment = "/// Odds beside odds, or beside a chance as a number or a text: `odds(3, 1) > 0.5`, `odds(3, 1) == \"75%\"`.";
    for (name, _) in OPERATORS {
        FuncRegistration::new(name)
            .with_params_info(["odds: Odds", "other: Odds", "Raw<bool>"])
            .with_comments([comment])
            .register_into_engine(engine, move |a: Odds, b: Odds| {
                compared(name, &Dynamic::from(a), &Dynamic::from(b))
            });
    }
    let plain = [
        TypeId::of::<i64>(),
        TypeId::of::<f64>(),
        TypeId::of::<ImmutableString>(),
        TypeId::of::<bool>(),
        TypeId::of::<()>(),
    ];
    let own = [
        TypeId::of::<Odds>(),
        TypeId::of::<Quantity>(),
        TypeId::of::<Dates>(),
        TypeId::of::<VerdictHandle>(),
        TypeId::of::<PieceHandle>(),
    ];
    for (name, _) in OPERATORS {
        for one in own {
            for other in plain {
                raw(engine, name, [one, other]);
                raw(engine, name, [other, one]);
            }
            for other in own.into_iter().filter(|other| *other != one) {
                raw(engine, name, [one, other]);
            }
        }
        // A text is never less than a number.
        if !matches!(name, "==" | "!=") {
            let [whole, float, text, ..] = plain;
            for number in [whole, float] {
                raw(engine, name, [text, number]);
                raw(engine, name, [number, text]);
            }
            raw(engine, name, [TypeId::of::<Dates>(), TypeId::of::<Dates>()]);
        }
    }
}

fn raw(engine: &mut Engine, name: &'static str, types: [TypeId; 2]) {
    engine.register_raw_fn(name, types, move |_, arguments| {
        compared(name, arguments[0], arguments[1])
    });
}

fn compared(name: &'static str, a: &Dynamic, b: &Dynamic) -> Result<bool, Box<EvalAltResult>> {
    // Whether something is there at all may be asked of anything.
    if a.is_unit() || b.is_unit() {
        match name {
            "==" => return Ok(false),
            "!=" => return Ok(true),
            _ => {}
        }
    }
    let order = order(a, b)?;
    let (_, holds) = OPERATORS
        .iter()
        .find(|(known, _)| *known == name)
        .unwrap_or(&OPERATORS[0]);
    Ok(holds.contains(&order))
}

fn order(a: &Dynamic, b: &Dynamic) -> Result<Ordering, Box<EvalAltResult>> {
    if a.is::<Odds>() || b.is::<Odds>() {
        let chance = |value: &Dynamic| {
            let odds = values::chance_of_odds(value);
            odds.map_or_else(|| super::chances::chance_given(value), Ok)
        };
        if let (Ok(a), Ok(b)) = (chance(a), chance(b)) {
            return Ok(a.total_cmp(&b));
        }
    }
    if let Some(order) = values::compare_quantities(a, b) {
        return order;
    }
    let fault = Fault::new(format!(
        "{} and {} cannot be compared",
        in_words(a),
        in_words(b)
    ));
    let of = |kind: fn(&Dynamic) -> bool| kind(a) || kind(b);
    let hint = if of(Dynamic::is::<Dates>) {
        "compare years: dates(\"1836~/1871\").first_year < 1840"
    } else if of(Dynamic::is::<Quantity>) {
        "give the other its unit: jug_weight > 0.5.kg"
    } else if of(Dynamic::is::<VerdictHandle>) {
        "compare one of its figures: jug.verdict().maker(\"K07\") > 0.5"
    } else if of(Dynamic::is::<PieceHandle>) {
        "compare a figure: jug.probability(maker(\"K07\")) > 0.5"
    } else {
        "a text that stands for a number becomes one by parse_float(\"3\")"
    };
    Err(fault.hint(hint).raise())
}
