//! Numbers: 3 and 3.0 are the same, `7 / 2` is 3.5, and what is no number is an error where it arises.

use std::any::TypeId;

use rhai::{Dynamic, Engine, EvalAltResult, FuncRegistration, Position};

use super::fault::Fault;

/// A number, whole or not; else a word for what was given.
pub(super) fn number(value: &Dynamic) -> Result<f64, &'static str> {
    let number = value.as_float();
    number
        .or_else(|_| value.as_int().map(|i| i as f64))
        .map_err(|_| in_words(value))
}

/// What a value is, in a word.
pub(super) fn in_words(value: &Dynamic) -> &'static str {
    kind_in_words(value.type_name())
}

/// A type by a word for it. Types of our own come with the path they have in Rust.
fn kind_in_words(kind: &'static str) -> &'static str {
    match kind.rsplit("::").next().unwrap_or(kind) {
        "Quantity" => "a quantity",
        "Odds" => "odds",
        "Dates" => "dates",
        "Rows" => "the rows of a table",
        "PackHandle" => "a pack",
        "PieceHandle" => "a piece",
        "ClaimHandle" => "a claim",
        "QuestionHandle" => "a question",
        "VerdictHandle" => "a verdict",
        "PlansHandle" => "a plan of looks",
        "AuditHandle" => "an audit",
        "NextLookHandle" => "a next look",
        "OverturnHandle" => "overturning readings",
        "RankingHandle" => "a ranking of marks",
        "ComparisonHandle" => "a comparison",
        "ContrastsHandle" => "contrasts",
        "WhyNotHandle" => "reasons against a maker",
        "InstructionHandle" => "an instruction",
        "AppraisalHandle" => "a report",
        "ValueHandle" => "a value",
        "PlotHandle" => "a chart",
        result if result.ends_with("Handle") => "a result",
        "i64" => "a whole number",
        "f64" => "a number",
        "Fn" => "a function",
        "string" => "a text",
        "bool" => "true or false",
        "char" => "a letter",
        "()" => "nothing",
        "array" => "a list",
        "map" => "a map",
        other => other,
    }
}

/// Functions of one number, for whole ones too; Rhai has them for the others alone, and lets the result be no number.
type OfOne = (&'static str, fn(f64) -> f64, &'static str);
/// The same of two numbers.
type OfTwo = (&'static str, fn(f64, f64) -> f64, &'static str);
const OF_ONE: [OfOne; 13] = [
    ("sqrt", f64::sqrt, "The square root: `sqrt(2)`."),
    ("exp", f64::exp, "e to the power of it: `exp(1)`."),
    ("ln", f64::ln, "The natural logarithm: `ln(2)`."),
    ("log", f64::log10, "The logarithm to base 10: `log(1000)`."),
    (
        "sin",
        f64::sin,
        "The sine of an angle in radians: `sin(1)`.",
    ),
    (
        "cos",
        f64::cos,
        "The cosine of an angle in radians: `cos(1)`.",
    ),
    (
        "tan",
        f64::tan,
        "The tangent of an angle in radians: `tan(1)`.",
    ),
    (
        "asin",
        f64::asin,
        "The angle of a sine, in radians: `asin(1)`.",
    ),
    (
        "acos",
        f64::acos,
        "The angle of a cosine, in radians: `acos(1)`.",
    ),
    (
        "atan",
        f64::atan,
        "The angle of a tangent, in radians: `atan(1)`.",
    ),
    (
        "floor",
        f64::floor,
        "The whole number below or at it: `floor(2.7)`.",
    ),
    (
        "ceiling",
        f64::ceil,
        "The whole number above or at it: `ceiling(2.2)`.",
    ),
    (
        "round",
        f64::round,
        "The nearest whole number: `round(2.5)`.",
    ),
];

/// Registers division and the functions of numbers. The engine must look for overloads of `/` (`set_fast_operators`).
pub(super) fn register(engine: &mut Engine) {
    for (name, function, text) in OF_ONE {
        let comment = format!("/// {text}");
        FuncRegistration::new(name)
            .with_params_info(["number: f64", "Raw<f64>"])
            .with_comments([comment.as_str()])
            .register_into_engine(engine, move |x: f64| {
                finite(function(x), || format!("{name}({x})"))
            });
        FuncRegistration::new(name)
            .with_params_info(["number: i64", "Raw<f64>"])
            .with_comments([comment.as_str()])
            .register_into_engine(engine, move |x: i64| {
                finite(function(x as f64), || format!("{name}({x})"))
            });
    }
    let logarithm = "/// The logarithm to a base: `log(8, 2)`.";
    FuncRegistration::new("log")
        .with_params_info(["number: Number", "base: Number", "Raw<f64>"])
        .with_comments([logarithm])
        .register_into_engine(engine, |x: Dynamic, base: Dynamic| {
            let (x, base) = (operand(&x)?, operand(&base)?);
            finite(x.ln() / base.ln(), || format!("log({x}, {base})"))
        });
    let division = "/// Division: of whole numbers too, `7 / 2` is 3.5 and `6 / 2` is 3; `7 % 2` is what is left over, and `/=` divides a variable just so.";
    FuncRegistration::new("/")
        .with_params_info(["number: i64", "divisor: i64", "Raw<f64>"])
        .with_comments([division])
        .register_into_engine(engine, |a: i64, b: i64| match a.checked_rem(b) {
            Some(0) => Ok(Dynamic::from(a / b)),
            _ => quotient(a as f64, b as f64),
        });
    for_floats(engine, "/", division, quotient);
    let power = "/// A power: `2 ** 10`, and `2 ** -1` is 0.5.";
    FuncRegistration::new("**")
        .with_params_info(["number: i64", "exponent: i64", "Raw<f64>"])
        .with_comments([power])
        .register_into_engine(engine, |a: i64, b: i64| {
            match u32::try_from(b).ok().and_then(|b| a.checked_pow(b)) {
                Some(power) => Ok(Dynamic::from(power)),
                None => to_the_power(a as f64, b as f64),
            }
        });
    for_floats(engine, "**", power, to_the_power);
    let sums: [OfTwo; 3] = [
        ("+", |a, b| a + b, "/// A sum: `0.5 + 1`."),
        ("-", |a, b| a - b, "/// A difference: `1 - 0.5`."),
        ("*", |a, b| a * b, "/// A product: `0.5 * 3`."),
    ];
    for (name, function, comment) in sums {
        let worked_out = move |a: f64, b: f64| {
            finite(function(a, b), || format!("{a} {name} {b}")).map(Dynamic::from)
        };
        for_floats(engine, name, comment, worked_out);
    }
    for name in ["+=", "-=", "*=", "/=", "**="] {
        assigning(engine, name);
    }
}

/// An operator that assigns, and declines: Rhai then works out the operator without the `=` and assigns what comes of it, whole
/// or not. Its own would keep a whole number whole. (It also reads `n = n / 2` as `n /= 2`.)
fn assigning(engine: &mut Engine, name: &'static str) {
    let numbers = [TypeId::of::<i64>(), TypeId::of::<f64>()];
    for pair in numbers
        .iter()
        .flat_map(|one| numbers.map(|other| [*one, other]))
    {
        // A raw function leaves its arguments where they are, for the operator that is to use them.
        engine.register_raw_fn(name, pair, move |_, _| -> Result<(), _> {
            Err(EvalAltResult::ErrorFunctionNotFound(name.to_owned(), Position::NONE).into())
        });
    }
}

/// An operator for two numbers of which at least one is not whole.
fn for_floats(
    engine: &mut Engine,
    name: &str,
    comment: &str,
    function: impl Fn(f64, f64) -> Result<Dynamic, Box<EvalAltResult>> + Copy + Send + Sync + 'static,
) {
    FuncRegistration::new(name)
        .with_params_info(["number: f64", "other: f64", "Raw<f64>"])
        .with_comments([comment])
        .register_into_engine(engine, move |a: f64, b: f64| function(a, b));
    FuncRegistration::new(name)
        .with_params_info(["number: i64", "other: f64", "Raw<f64>"])
        .with_comments([comment])
        .register_into_engine(engine, move |a: i64, b: f64| function(a as f64, b));
    FuncRegistration::new(name)
        .with_params_info(["number: f64", "other: i64", "Raw<f64>"])
        .with_comments([comment])
        .register_into_engine(engine, move |a: f64, b: i64| function(a, b as f64));
}

fn quotient(a: f64, b: f64) -> Result<Dynamic, Box<EvalAltResult>> {
    if b == 0.0 {
        return Err(Fault::new(format!("{a} / {b} is a division by zero")).raise());
    }
    finite(a / b, || format!("{a} / {b}")).map(Dynamic::from)
}

fn to_the_power(a: f64, b: f64) -> Result<Dynamic, Box<EvalAltResult>> {
    finite(a.powf(b), || format!("{a} ** {b}")).map(Dynamic::from)
}

fn operand(value: &Dynamic) -> Result<f64, Box<EvalAltResult>> {
    number(value).map_err(|kind| Fault::new(format!("a number is expected, not {kind}")).raise())
}

/// The result, or an error that says what has none.
fn finite(result: f64, what: impl Fn() -> String) -> Result<f64, Box<EvalAltResult>> {
    if result.is_finite() {
        Ok(result)
    } else {
        Err(Fault::new(format!("`{}` is no finite number", what())).raise())
    }
}
