//! The figures of a result for a script: `rows`, its table as a list of maps, and `figures`, all that it holds. Both have the
//! names and the full precision of the JSON document, but for words that the language keeps for itself; nothing is computed here.

use rhai::plugin::FuncRegistration;
use rhai::{Array, Dynamic, Engine, Map};
use serde_json::Value;

use super::fault::Fault;
use super::handles::{
    AppraisalHandle, AuditHandle, ComparisonHandle, ContrastsHandle, ExplainedHandle,
    InstructionHandle, NextLookHandle, OverturnHandle, PaysHandle, PieceHandle, PlansHandle,
    RankingHandle, Raw, SensitivityHandle, StressHandle, ValueHandle, VariedHandle, VerdictHandle,
    WhyNotHandle,
};
use super::limits::LONGEST_TEXT;
use super::results::shown;
use crate::report::Shown;

/// Characters that a figure or an entry counts for, beside those of texts: a script holds only so much.
const ENTRY: usize = 8;

/// Results about one piece, whose title they have.
const TITLED: [&str; 14] = [
    "VerdictHandle",
    "AuditHandle",
    "StressHandle",
    "ExplainedHandle",
    "ContrastsHandle",
    "VariedHandle",
    "WhyNotHandle",
    "SensitivityHandle",
    "NextLookHandle",
    "PlansHandle",
    "OverturnHandle",
    "ValueHandle",
    "PaysHandle",
    "AppraisalHandle",
];

/// Registers both for every result, with what its rows are and an example.
pub(super) fn register(engine: &mut Engine) {
    rows::<VerdictHandle>(
        engine,
        "VerdictHandle",
        "The makers, the most probable first: `id`, `name`, `probability`: `for maker in jug.verdict().rows { print(maker.name); }`.",
    );
    rows::<AuditHandle>(
        engine,
        "AuditHandle",
        "One for each finding, weights in decibans: `clue`, `name`, `said`, `in_order`, `probability_after`, `left_out`, `alone`, `share`: `show(jug.audit().rows, [\"name\", \"share\"])`.",
    );
    rows::<StressHandle>(
        engine,
        "StressHandle",
        "The probability of the claim over all draws, and the share in which it leads: `figure`, `value`, `standard_error`: `show(jug.stress(1000).rows)`.",
    );
    rows::<ExplainedHandle>(
        engine,
        "ExplainedHandle",
        "One for each belief, the one that explains most first: `about`, `first`, `first_error`, `total`, `total_error`: `show(jug.stress_explained(1000).rows[0])`.",
    );
    rows::<ContrastsHandle>(
        engine,
        "ContrastsHandle",
        "One for each set of assumptions: `assumption`, and lists of `makers`, `periods` and `engravings`: `for row in jug.contrasts().rows { print(row.assumption); }`.",
    );
    rows::<VariedHandle>(
        engine,
        "VariedHandle",
        "One for each state: `states`, `chance`, `claim`, `leader`, `leader_probability` and `words`: `for row in jug.vary(\"size\").rows { print(row.leader); }`.",
    );
    rows::<ComparisonHandle>(
        engine,
        "ComparisonHandle",
        "One for each clue noted of either, the largest difference first: `clue`, `first` and `second` (each with `said` and `share`), `decibans`: `print(compare(jug, jug.without(\"tint\")).rows[0].decibans)`.",
    );
    rows::<WhyNotHandle>(
        engine,
        "WhyNotHandle",
        "One for each finding: `clue`, `said`, `share`, `from_maker`, `from_leader`, `expected`: `show(jug.why_not(\"K11\").rows, [\"clue\", \"share\"])`.",
    );
    rows::<SensitivityHandle>(
        engine,
        "SensitivityHandle",
        "One for each number of the pack, the one that moves the answer most first: `about`, `number`, `citation`, `stated`, `low`, `high`, `range`: `print(jug.sensitivity().rows[0].about)`.",
    );
    rows::<RankingHandle>(
        engine,
        "RankingHandle",
        "One for each mark, the best first: `mark`, `text`, `likelihood_ratio`, `decibans`, `users`: `show(pack.rank_marks(\"?ROW? & S\").rows, [\"mark\", \"decibans\"])`.",
    );
    rows::<NextLookHandle>(
        engine,
        "NextLookHandle",
        "One for each look, the one that tells most for its minutes first: `clue`, `name`, `bits`, `minutes` and more: `print(jug.next_look().rows[0].clue)`.",
    );
    rows::<PlansHandle>(
        engine,
        "PlansHandle",
        "The looks of the fixed list in their order: `clue`, `name`, `bits`, `minutes`: `for look in jug.plan(2).rows { print(look.name); }`.",
    );
    rows::<OverturnHandle>(
        engine,
        "OverturnHandle",
        "Readings that would change the leader, the most probable first: `clue`, `name`, `reading`, `chance`, `leader`, `probability`: `for row in jug.overturn().rows { print(row.name); }`.",
    );
    rows::<ValueHandle>(
        engine,
        "ValueHandle",
        "One for each wording, the value first: `catalogued`, `is_the_value`, `supported`, `median`, `low` and `high` (one sale in two lies between), and `rounded`, a list of one or two: `jug.in_condition(4, []).value(asked).rows`.",
    );
    rows::<PaysHandle>(
        engine,
        "PaysHandle",
        "The looks, the largest gain after costs first: `clue`, `name`, `minutes`, `cost`, `gain` (expected), `rises` and `falls` (the chance that the price does), and `pays`: `jug.in_condition(4, []).pays(asked, #{ per_hour: 60 }).rows`.",
    );
    rows::<AppraisalHandle>(
        engine,
        "AppraisalHandle",
        "The alternatives: `id`, `name`, `probability` and, where known, `years`: `let makers = jug.report(instruction(#{ purpose: \"sale\", users: \"the owner\", effective: \"2024-03-31\", inspected: \"2024-03-02\", inspector: \"E. Rowan\", seen: \"in hand\", interest: \"none\" })).rows;`.",
    );
    rows::<PieceHandle>(
        engine,
        "PieceHandle",
        "What was found, in the order noted: `clue`, `name`, `said` and how: `for found in jug.rows { print(found.said); }`.",
    );
    figures::<InstructionHandle>(engine);
}

/// Registers `rows` and `figures` of a kind of result.
fn rows<T: Clone + Send + Sync + 'static>(engine: &mut Engine, kind: &str, about: &str) {
    if TITLED.contains(&kind) {
        title::<T>(engine);
    }
    FuncRegistration::new_getter("rows")
        .with_params_info([format!("result: &mut {kind}"), "Raw<Array>".to_owned()])
        .with_comments([format!("/// Its rows, each a map. {about}")])
        .register_into_engine(engine, |result: &mut T| -> Raw<Array> {
            let result = shown(&Dynamic::from(result.clone()));
            result
                .map_or_else(|| Ok(Array::new()), |result| table(&result))
                .map_err(Fault::raise)
        });
    figures::<T>(engine);
}

fn title<T: Clone + Send + Sync + 'static>(engine: &mut Engine) {
    let comment =
        "/// What the piece is called that a result is about: `print(jug.verdict().title)`.";
    FuncRegistration::new_getter("title")
        .with_params_info(["result: &mut Result", "String"])
        .with_comments([comment])
        .register_into_engine(engine, |result: &mut T| -> String {
            let whole = shown(&Dynamic::from(result.clone())).map(|result| as_json(&result));
            let title = whole.as_ref().and_then(|whole| {
                let given = whole.get("piece").or_else(|| whole.get("title"));
                given.and_then(Value::as_str)
            });
            title.unwrap_or_default().to_owned()
        });
}

fn figures<T: Clone + Send + Sync + 'static>(engine: &mut Engine) {
    let comment = "/// All that a result holds, as a map with the names of the JSON document (`share` for `shared`, `assuming` for `with` and `leads_then` for `then`, which are words of the language): `print(jug.audit().figures.posterior)`.";
    FuncRegistration::new_getter("figures")
        .with_params_info(["result: &mut Result", "Raw<Map>"])
        .with_comments([comment])
        .register_into_engine(engine, |result: &mut T| -> Raw<Map> {
            let result = shown(&Dynamic::from(result.clone()));
            let whole = result.map_or(Value::Null, |result| as_json(&result));
            let whole = within_limits(whole).map_err(Fault::raise)?;
            Ok(whole.try_cast::<Map>().unwrap_or_default())
        });
}

fn as_json(result: &Shown) -> Value {
    let mut whole = serde_json::to_value(result).unwrap_or_default();
    if let Some(map) = whole.as_object_mut() {
        map.remove("kind");
    }
    whole
}

/// The table that a result is about.
fn table(result: &Shown) -> Result<Array, Fault> {
    let mut whole = as_json(result);
    let mut take = |key: &str| {
        let list = whole.get_mut(key).map(Value::take);
        match list {
            Some(Value::Array(rows)) => rows,
            _ => Vec::new(),
        }
    };
    let rows = match result {
        Shown::Verdict(_) => take("makers"),
        Shown::Audit(_) | Shown::WhyNot(_) | Shown::Record(_) => take("findings"),
        Shown::Explained(_) => take("beliefs"),
        Shown::Contrasts(_) | Shown::Varied(_) => take("rows"),
        Shown::Comparison(_) => take("clues"),
        Shown::Sensitivity(_) => take("moved"),
        Shown::Marks(_) => take("marks"),
        Shown::NextLook(_) => take("looks"),
        Shown::Overturn(_) => take("overturning"),
        Shown::Appraisal(_) => take("alternatives"),
        Shown::Value(worth) => return Ok(worth.estimates.iter().map(of_estimate).collect()),
        Shown::Pays(pays) => return Ok(pays.looks.iter().map(of_look).collect()),
        Shown::Stress(stress) => {
            let figure = |(name, estimate): (&str, crate::stress::Estimate)| {
                serde_json::json!({
                    "figure": name, "value": estimate.value, "standard_error": estimate.standard_error,
                })
            };
            let figures = [
                ("mean", stress.mean),
                ("low", stress.low),
                ("median", stress.median),
                ("high", stress.high),
                ("holds", stress.holds),
            ];
            figures.into_iter().map(figure).collect()
        }
        Shown::Plan(_) => take("plans").into_iter().flat_map(fixed_list).collect(),
        _ => Vec::new(),
    };
    let rows = rows.into_iter().map(side_by_side).collect();
    let rows = within_limits(Value::Array(rows))?;
    Ok(rows.try_cast::<Array>().unwrap_or_default())
}

/// The looks of a plan's fixed list.
fn fixed_list(mut plan: Value) -> Vec<Value> {
    match plan.pointer_mut("/fixed/looks").map(Value::take) {
        Some(Value::Array(looks)) => looks,
        _ => Vec::new(),
    }
}

/// A row whose parts stand beside one another: what a figure and its standard error are part of is no map of its own, nor is
/// what a look is or what a reading leads to.
fn side_by_side(row: Value) -> Value {
    let Value::Object(row) = row else { return row };
    let mut flat = serde_json::Map::new();
    for (key, value) in row {
        match value {
            Value::Object(mut part) if part.contains_key("standard_error") => {
                let error = part.remove("standard_error").unwrap_or_default();
                let figure = part.into_iter().next().map(|(_, value)| value);
                flat.insert(format!("{}_error", spoken(&key)), error);
                flat.insert(key, figure.unwrap_or_default());
            }
            Value::Object(part) if matches!(key.as_str(), "look" | "after") => flat.extend(part),
            value => {
                flat.insert(key, value);
            }
        }
    }
    Value::Object(flat)
}

fn within_limits(value: Value) -> Result<Dynamic, Fault> {
    let mut left = LONGEST_TEXT;
    dynamic(value, &mut left).ok_or_else(|| {
        Fault::limit("the result has more rows than a script can hold")
            .hint("`show` prints them all; or ask for less at once")
    })
}

/// Names that Rhai keeps for itself, so that they could not stand behind a dot, and what stands for them.
const KEPT: [(&str, &str); 3] = [
    ("shared", "share"),
    ("with", "assuming"),
    ("then", "leads_then"),
];

fn spoken(key: &str) -> &str {
    let kept = KEPT.iter().find(|(kept, _)| *kept == key);
    kept.map_or(key, |(_, other)| other)
}

/// A value of JSON as scripts hold it; nothing if it is larger than a script may hold. What is beyond any bound is a text in
/// JSON, which has no such numbers.
fn dynamic(value: Value, left: &mut usize) -> Option<Dynamic> {
    let size = match &value {
        Value::String(text) => text.len(),
        _ => ENTRY,
    };
    *left = left.checked_sub(size)?;
    Some(match value {
        Value::Null => Dynamic::UNIT,
        Value::Bool(truth) => truth.into(),
        Value::Number(number) => match number.as_i64() {
            Some(whole) => whole.into(),
            None => number.as_f64()?.into(),
        },
        Value::String(text) if text == "+inf" => f64::INFINITY.into(),
        Value::String(text) if text == "-inf" => f64::NEG_INFINITY.into(),
        Value::String(text) => text.into(),
        Value::Array(list) => {
            let list = list.into_iter().map(|entry| dynamic(entry, left));
            list.collect::<Option<Array>>()?.into()
        }
        Value::Object(map) => {
            let pairs = map.into_iter();
            let pairs =
                pairs.map(|(key, entry)| Some((spoken(&key).into(), dynamic(entry, left)?)));
            pairs.collect::<Option<Map>>()?.into()
        }
    })
}

fn of_estimate(estimate: &crate::value::Estimate) -> Dynamic {
    let mut row = Map::new();
    row.insert("catalogued".into(), estimate.catalogued.clone().into());
    row.insert("is_the_value".into(), estimate.is_the_value.into());
    row.insert("supported".into(), estimate.support.is_supported.into());
    row.insert("median".into(), estimate.band.median.into());
    row.insert("low".into(), estimate.band.low.into());
    row.insert("high".into(), estimate.band.high.into());
    // Steps are whole, and 120 reads better than 120.0.
    #[allow(clippy::cast_possible_truncation, reason = "a whole number of a price")]
    let whole = |price: &f64| Dynamic::from(price.round() as i64);
    let rounded: Array = estimate.rounded.iter().map(whole).collect();
    row.insert("rounded".into(), rounded.into());
    row.into()
}

fn of_look(look: &crate::pays::LookPays) -> Dynamic {
    let mut row = Map::new();
    row.insert("clue".into(), look.clue.clone().into());
    row.insert("name".into(), look.name.clone().into());
    row.insert("minutes".into(), look.minutes.into());
    row.insert("cost".into(), look.cost.into());
    row.insert("gain".into(), look.gain.into());
    row.insert("rises".into(), look.rises.into());
    row.insert("falls".into(), look.falls.into());
    row.insert("pays".into(), look.pays.into());
    row.into()
}
