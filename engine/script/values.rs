//! Quantities, odds and dates as values of their own, and what a parameter takes in words.
//!
//! Each holds the text a person would write for it and is read by the reader of that text (`units`, `pack::belief`,
//! `dating::edtf`), so that `1.84.kg` and `"1.84 kg"` cannot differ.

use std::cmp::Ordering;

use rhai::plugin::{Dynamic, FuncRegistration, export_module};
use rhai::{Engine, EvalAltResult};

use super::fault::{Fault, raise};
use super::handles::Raw;
use super::numbers::number;
use crate::dating::edtf::{Bound, Edtf};
use crate::pack::belief::chance_from_text;
use crate::units::{AREA, CAPACITY, Kind, LENGTH, MASS, Reading};

// What parameters take. The name of each stands in the reference in words: see `reference::type_names`.

/// A state: a text, or a number for a count.
pub(super) type StateGiven = Dynamic;
/// What is found of a clue: a state, or a map of likelihoods or readings.
pub(super) type Found = Dynamic;
/// A number, whole or not.
pub(super) type Number = Dynamic;
/// A number without a fraction.
pub(super) type WholeNumber = Dynamic;
/// A chance: a number, a text such as `"80%"`, or odds.
pub(super) type ChanceGiven = Dynamic;
/// A mass as text or quantity.
pub(super) type MassGiven = Dynamic;
/// A capacity or area as text or quantity.
pub(super) type SizeGiven = Dynamic;
/// A seed, or a map of what a stress run is to be like.
pub(super) type StressOptions = Dynamic;
/// The clue that is varied, a list of several, or a map of clues and states.
pub(super) type VariedOver = Dynamic;
/// A claim or a question.
pub(super) type AboutGiven = Dynamic;
/// A capacity as text or quantity.
pub(super) type CapacityGiven = Dynamic;
/// An area as text or quantity.
pub(super) type AreaGiven = Dynamic;
/// A year; `()` if there is none.
pub(super) type Year = Dynamic;
/// A length as text or quantity.
pub(super) type LengthGiven = Dynamic;
/// Dates, or a text in EDTF.
pub(super) type DatesGiven = Dynamic;
/// A registered number, or a map of the corners of a diamond.
pub(super) type Registration = Dynamic;

/// A mass, length, capacity or area.
#[derive(Clone, Debug)]
pub(super) struct Quantity {
    of: usize,
    text: String,
    reading: Reading,
}

/// Odds on something.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Odds {
    text: String,
    chance: f64,
}

/// A date or an interval of dates.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Dates(Edtf);

/// The kinds of quantity: its name, its units, and the unit it is kept in.
const KINDS: [(&str, Kind, &str); 4] = [
    ("mass", MASS, "g"),
    ("length", LENGTH, "cm"),
    ("capacity", CAPACITY, "l"),
    ("area", AREA, "cm2"),
];

/// `in` is a word of the language itself.
const INCH: (&str, &str) = ("in", "inch");

impl Quantity {
    fn read(of: usize, text: String) -> Raw<Self> {
        let reading = KINDS[of].1.read(&text).map_err(raise)?;
        Ok(Self { of, text, reading })
    }

    /// So much in the unit that its kind is kept in; the shortest text of a number reads back as the same number.
    fn of_value(of: usize, value: f64, tolerance: Option<f64>) -> Raw<Self> {
        let unit = KINDS[of].2;
        let text = match tolerance {
            Some(tolerance) => format!("{value} {unit} ± {tolerance} {unit}"),
            None => format!("{value} {unit}"),
        };
        Self::read(of, text)
    }

    fn same_kind(&self, other: &Self, doing: &str) -> Result<(), Box<EvalAltResult>> {
        if self.of == other.of {
            return Ok(());
        }
        let (one, two) = (KINDS[self.of].0, KINDS[other.of].0);
        Err(Fault::new(format!(
            "`{}` and `{}` cannot be {doing}: the one is a {one}, the other a {two}",
            self.text, other.text
        ))
        .hint("both must be of one kind, such as 8.lb + 13.oz")
        .raise())
    }

    fn plus(&self, other: &Self) -> Raw<Self> {
        self.same_kind(other, "added")?;
        let value = self.reading.value + other.reading.value;
        let tolerance = match (self.reading.tolerance, other.reading.tolerance) {
            (None, None) => {
                // As it is said, if it is said so: 8 lb 13 oz.
                let said = format!("{} {}", self.text, other.text);
                if KINDS[self.of].1.quantity(&said) == Ok(value) {
                    return Self::read(self.of, said);
                }
                None
            }
            (one, other) => Some(one.unwrap_or(0.0) + other.unwrap_or(0.0)),
        };
        Self::of_value(self.of, value, tolerance)
    }

    fn minus(&self, other: &Self) -> Raw<Self> {
        self.same_kind(other, "subtracted")?;
        let tolerance = match (self.reading.tolerance, other.reading.tolerance) {
            (None, None) => None,
            (one, other) => Some(one.unwrap_or(0.0) + other.unwrap_or(0.0)),
        };
        Self::of_value(self.of, self.reading.value - other.reading.value, tolerance)
    }

    fn times(&self, factor: f64) -> Raw<Self> {
        let tolerance = self.reading.tolerance.map(|t| t * factor);
        Self::of_value(self.of, self.reading.value * factor, tolerance)
    }
}

/// The chance that odds stand for; `None` for anything else.
pub(super) fn chance_of_odds(value: &Dynamic) -> Option<f64> {
    value.read_lock::<Odds>().map(|odds| odds.chance)
}

/// The order of two quantities, or of a quantity and a text that says one; `None` if neither is a quantity.
pub(super) fn compare_quantities(
    a: &Dynamic,
    b: &Dynamic,
) -> Option<Result<Ordering, Box<EvalAltResult>>> {
    let (quantity, other, is_first) = match (a.read_lock::<Quantity>(), b.read_lock::<Quantity>()) {
        (Some(quantity), _) => (quantity.clone(), b, true),
        (None, Some(quantity)) => (quantity.clone(), a, false),
        (None, None) => return None,
    };
    let other = match (other.read_lock::<Quantity>(), text(other)) {
        (Some(other), _) => other.clone(),
        (None, Some(text)) => match Quantity::read(quantity.of, text) {
            Ok(other) => other,
            Err(error) => return Some(Err(error)),
        },
        (None, None) => return None,
    };
    let order = quantity.same_kind(&other, "compared").map(|()| {
        let order = quantity.reading.value.total_cmp(&other.reading.value);
        if is_first { order } else { order.reverse() }
    });
    Some(order)
}

/// The text that stands for a quantity, odds, dates, or a text; `None` for anything else.
pub(super) fn text(value: &Dynamic) -> Option<String> {
    if let Some(quantity) = value.read_lock::<Quantity>() {
        return Some(quantity.text.clone());
    }
    if let Some(odds) = value.read_lock::<Odds>() {
        return Some(odds.text.clone());
    }
    if let Some(dates) = value.read_lock::<Dates>() {
        return Some(dates.0.to_string());
    }
    value
        .read_lock::<rhai::ImmutableString>()
        .map(|text| text.to_string())
}

/// The text of a quantity.
pub(super) fn quantity_text(value: &Dynamic, what: &str, example: &str) -> Raw<String> {
    if let Some(quantity) = value.read_lock::<Quantity>()
        && let kind = KINDS[quantity.of].0
        && !what.contains(kind)
    {
        let fault = Fault::new(format!(
            "`{}` is a {kind}, and {what} is wanted here",
            quantity.text
        ));
        return Err(fault.hint(format!("write {example}")).raise());
    }
    text(value).ok_or_else(|| {
        let given = match number(value) {
            Ok(_) => "a number without a unit",
            Err(kind) => kind,
        };
        Fault::new(format!("{what} is a quantity, not {given}"))
            .hint(format!("write {example}"))
            .raise()
    })
}

/// Registers the types and their functions.
pub(super) fn register(engine: &mut Engine) {
    engine
        .register_type_with_name::<Quantity>("quantity")
        .register_type_with_name::<Odds>("odds")
        .register_type_with_name::<Dates>("dates");
    for (of, (name, kind, _)) in KINDS.into_iter().enumerate() {
        for unit in kind.unit_names() {
            let property = if unit == INCH.0 { INCH.1 } else { unit };
            if property.is_ascii() {
                register_unit(engine, of, name, property, unit);
            }
        }
    }
    let module = rhai::exported_module!(value_functions);
    engine.register_global_module(module.into());
}

/// `1.84.kg` and `738.g`: a number, whole or not, with a unit behind it.
fn register_unit(
    engine: &mut Engine,
    of: usize,
    kind: &str,
    property: &'static str,
    unit: &'static str,
) {
    let article = if kind == "area" { "An" } else { "A" };
    let comment = format!("/// {article} {kind} in {unit}: `2.{property}`.");
    FuncRegistration::new_getter(property)
        .with_params_info(["number: &mut f64", "Raw<Quantity>"])
        .with_comments([comment.as_str()])
        .register_into_engine(engine, move |number: &mut f64| {
            Quantity::read(of, format!("{number} {unit}"))
        });
    FuncRegistration::new_getter(property)
        .with_params_info(["number: &mut i64", "Raw<Quantity>"])
        .with_comments([comment.as_str()])
        .register_into_engine(engine, move |number: &mut i64| {
            Quantity::read(of, format!("{number} {unit}"))
        });
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod value_functions {
    /// Both together: `8.lb + 13.oz`.
    #[rhai_fn(return_raw, name = "+")]
    pub fn plus(quantity: Quantity, other: Quantity) -> Raw<Quantity> {
        quantity.plus(&other)
    }

    /// What is left of the one without the other, such as a jug weighed with its box: `1.84.kg - 310.g`.
    #[rhai_fn(return_raw, name = "-")]
    pub fn minus(quantity: Quantity, other: Quantity) -> Raw<Quantity> {
        quantity.minus(&other)
    }

    /// So many times as much: `2.cm * 3`.
    #[rhai_fn(return_raw, name = "*")]
    pub fn times(quantity: Quantity, factor: f64) -> Raw<Quantity> {
        quantity.times(factor)
    }

    /// So many times as much: `2.cm * 3`.
    #[rhai_fn(return_raw, name = "*")]
    pub fn times_whole(quantity: Quantity, factor: i64) -> Raw<Quantity> {
        quantity.times(factor as f64)
    }

    /// So many times as much: `3 * 2.cm`.
    #[rhai_fn(return_raw, name = "*")]
    pub fn times_after(factor: f64, quantity: Quantity) -> Raw<Quantity> {
        quantity.times(factor)
    }

    /// So many times as much: `3 * 2.cm`.
    #[rhai_fn(return_raw, name = "*")]
    pub fn times_after_whole(factor: i64, quantity: Quantity) -> Raw<Quantity> {
        quantity.times(factor as f64)
    }

    /// A part of it: `1.84.kg / 2`.
    #[rhai_fn(return_raw, name = "/")]
    pub fn part(quantity: Quantity, divisor: f64) -> Raw<Quantity> {
        quantity.times(1.0 / divisor)
    }

    /// A part of it: `1.84.kg / 2`.
    #[rhai_fn(return_raw, name = "/")]
    pub fn part_whole(quantity: Quantity, divisor: i64) -> Raw<Quantity> {
        quantity.times(1.0 / divisor as f64)
    }

    /// How many times the other goes into it, a number: `738.g / 780.g`.
    #[rhai_fn(return_raw, name = "/")]
    pub fn ratio(quantity: Quantity, other: Quantity) -> Raw<f64> {
        quantity.same_kind(&other, "divided")?;
        Ok(quantity.reading.value / other.reading.value)
    }

    /// Whether it is less: `738.g < 1.kg`.
    #[rhai_fn(return_raw, name = "<")]
    pub fn less(quantity: Quantity, other: Quantity) -> Raw<bool> {
        quantity.same_kind(&other, "compared")?;
        Ok(quantity.reading.value < other.reading.value)
    }

    /// Whether it is more: `1.kg > 738.g`.
    #[rhai_fn(return_raw, name = ">")]
    pub fn more(quantity: Quantity, other: Quantity) -> Raw<bool> {
        quantity.same_kind(&other, "compared")?;
        Ok(quantity.reading.value > other.reading.value)
    }

    /// Whether it is as much or less: `738.g <= 1.kg`.
    #[rhai_fn(return_raw, name = "<=")]
    pub fn at_most(quantity: Quantity, other: Quantity) -> Raw<bool> {
        quantity.same_kind(&other, "compared")?;
        Ok(quantity.reading.value <= other.reading.value)
    }

    /// Whether it is as much or more: `1.kg >= 738.g`.
    #[rhai_fn(return_raw, name = ">=")]
    pub fn at_least(quantity: Quantity, other: Quantity) -> Raw<bool> {
        quantity.same_kind(&other, "compared")?;
        Ok(quantity.reading.value >= other.reading.value)
    }

    /// Whether both are as much: `1000.g == 1.kg`.
    #[rhai_fn(return_raw, name = "==")]
    pub fn as_much(quantity: Quantity, other: Quantity) -> Raw<bool> {
        quantity.same_kind(&other, "compared")?;
        Ok(quantity.reading.value == other.reading.value)
    }

    /// Whether they differ: `1000.g != 1.lb`.
    #[rhai_fn(return_raw, name = "!=")]
    pub fn not_as_much(quantity: Quantity, other: Quantity) -> Raw<bool> {
        quantity.same_kind(&other, "compared")?;
        Ok(quantity.reading.value != other.reading.value)
    }

    /// The quantity with the tolerance of the instrument: `738.g.give_or_take(1.g)`.
    #[rhai_fn(return_raw, pure)]
    pub fn give_or_take(quantity: &mut Quantity, tolerance: Quantity) -> Raw<Quantity> {
        quantity.same_kind(&tolerance, "put together")?;
        let said = quantity.text.split('±').next().unwrap_or_default();
        let text = format!("{} ± {}", said.trim(), tolerance.text);
        Quantity::read(quantity.of, text)
    }

    /// How much it is in a unit, as a number: `(8.lb + 13.oz).in_unit("g")`.
    #[rhai_fn(return_raw, pure)]
    pub fn in_unit(quantity: &mut Quantity, unit: &str) -> Raw<f64> {
        let kind = KINDS[quantity.of].1;
        let names: Vec<_> = kind.unit_names().collect();
        if !names.contains(&unit) {
            let fault = Fault::new(format!("`{unit}` is no unit of {}", KINDS[quantity.of].0));
            return Err(fault.nearest_or_known(unit, names.into_iter()).raise());
        }
        let one = kind.quantity(&format!("1 {unit}")).map_err(raise)?;
        Ok(quantity.reading.value / one)
    }

    /// A quantity as text: `738.g.to_string()`.
    #[rhai_fn(name = "to_string", name = "to_debug", pure)]
    pub fn quantity_to_string(quantity: &mut Quantity) -> String {
        quantity.text.clone()
    }

    /// Odds on something, taken wherever a chance is; 3 to 1 on is 75%: `jug.sure("tint", "blue", odds(3, 1))`.
    #[rhai_fn(return_raw)]
    pub fn odds(on: Number, against: Number) -> Raw<Odds> {
        let part = |value: &Dynamic| {
            number(value).map_err(|kind| {
                Fault::new(format!("`odds` takes two numbers, not {kind}"))
                    .hint("odds of three to one on are odds(3, 1)")
                    .raise()
            })
        };
        let text = format!("{}:{}", part(&on)?, part(&against)?);
        let chance =
            chance_from_text(&text).map_err(|error| Fault::new(error.to_string()).raise())?;
        Ok(Odds {
            text,
            chance: chance.value,
        })
    }

    /// The chance that odds stand for, from 0 to 1: `odds(3, 1).chance`.
    #[rhai_fn(get = "chance", pure)]
    pub fn chance(odds: &mut Odds) -> f64 {
        odds.chance
    }

    /// Odds as text: `odds(3, 1).to_string()`.
    #[rhai_fn(name = "to_string", name = "to_debug", pure)]
    pub fn odds_to_string(odds: &mut Odds) -> String {
        odds.text.clone()
    }

    /// A date or an interval in EDTF, taken wherever a date is: `plate.dated("inscription", dates("1836~/1871"))`.
    #[rhai_fn(return_raw)]
    pub fn dates(text: &str) -> Raw<Dates> {
        let dates = Edtf::parse(text).map_err(|error| {
            Fault::new(error.to_string())
                .hint("such as dates(\"1836\"), dates(\"1836~\"), dates(\"1836~/1871\"), dates(\"186X\")")
                .raise()
        })?;
        Ok(Dates(dates))
    }

    /// The first year, as written; nothing, `()`, if open or unknown: `dates("1836~/1871").first_year`.
    #[rhai_fn(get = "first_year", pure)]
    pub fn first_year(dates: &mut Dates) -> Year {
        year(dates.0.earliest())
    }

    /// The last year, as written; nothing, `()`, if open or unknown: `dates("1836~/1871").last_year`.
    #[rhai_fn(get = "last_year", pure)]
    pub fn last_year(dates: &mut Dates) -> Year {
        year(dates.0.latest())
    }

    /// Dates as text, in EDTF: `dates("186X").to_string()`.
    #[rhai_fn(name = "to_string", name = "to_debug", pure)]
    pub fn dates_to_string(dates: &mut Dates) -> String {
        dates.0.to_string()
    }

    /// Whether two dates are written the same: `dates("1836~") == dates("1836~")`.
    #[rhai_fn(name = "==")]
    pub fn same_dates(dates: Dates, other: Dates) -> bool {
        dates == other
    }
}

fn year(bound: Bound) -> Dynamic {
    match bound {
        Bound::Year(year) => year.into(),
        Bound::Open | Bound::Unknown => Dynamic::UNIT,
    }
}
