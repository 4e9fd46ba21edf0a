//! Results as scripts hold them: shown with `show`, or asked for single figures.

use std::sync::Arc;

use rhai::plugin::{Dynamic, FuncRegistration, export_module};
use rhai::{Array, Engine};
use serde_json::Value;

use super::fault::Fault;
use super::handles::{
    AppraisalHandle, AuditHandle, ComparisonHandle, ContrastsHandle, ExplainedHandle,
    InstructionHandle, NextLookHandle, OverturnHandle, PackHandle, PaysHandle, PieceHandle,
    PlansHandle, PlotHandle, RankingHandle, Raw, SensitivityHandle, StressHandle, ValueHandle,
    VariedHandle, VerdictHandle, WhyNotHandle,
};
use super::numbers::number;
use super::questions::{ClaimHandle, QuestionHandle};
use super::values::{self, Number, WholeNumber, Year};
use super::whole_numbers::whole_number;
use super::{Run, figures};
use crate::nearest_name::nearest;
use crate::piece::record;
use crate::report::{Record, Shown};
use crate::verdict::Share;
use crate::what_if::{WhatIf, title};

/// Registers `show` and the figures of a result.
pub(super) fn register(engine: &mut Engine, run: &Arc<Run>) {
    engine.register_type_with_name::<VerdictHandle>("verdict");
    engine.register_type_with_name::<AuditHandle>("audit");
    engine.register_type_with_name::<ContrastsHandle>("contrasts");
    engine.register_type_with_name::<SensitivityHandle>("sensitivity");
    engine.register_type_with_name::<RankingHandle>("ranking of marks");
    engine.register_type_with_name::<Fault>("error");
    figures::register(engine);
    register_text::<VerdictHandle>(engine);
    register_text::<AuditHandle>(engine);
    register_text::<StressHandle>(engine);
    register_text::<ContrastsHandle>(engine);
    register_text::<RankingHandle>(engine);
    register_text::<ExplainedHandle>(engine);
    register_text::<VariedHandle>(engine);
    register_text::<ComparisonHandle>(engine);
    register_text::<WhyNotHandle>(engine);
    register_text::<SensitivityHandle>(engine);
    register_text::<NextLookHandle>(engine);
    register_text::<PlansHandle>(engine);
    register_text::<OverturnHandle>(engine);
    register_text::<PlotHandle>(engine);
    register_text::<ValueHandle>(engine);
    register_text::<PaysHandle>(engine);
    register_text::<AppraisalHandle>(engine);
    register_text::<PieceHandle>(engine);
    register_text::<PackHandle>(engine);
    register_text::<ClaimHandle>(engine);
    register_text::<QuestionHandle>(engine);
    register_text::<InstructionHandle>(engine);
    FuncRegistration::new("to_string")
        .with_params_info(["error: &mut Fault", "String"])
        .with_comments(["/// What an error that was caught says: `try { jug.saw(\"tnt\", 1); } catch (error) { print(error.to_string()); }`."])
        .register_into_engine(engine, |fault: &mut Fault| fault.message().to_owned());
    let module = rhai::exported_module!(result_functions);
    engine.register_global_module(module.into());
    let shared = Arc::clone(run);
    let run = Arc::clone(run);
    FuncRegistration::new("show")
        .with_params_info(["result: Result", "()"])
        .with_comments([
            "/// Shows any result, a piece's record, or a plain value; of a list all that is in it. A list of maps is shown as a table:",
            "/// `show(jug.verdict())`, `show([#{ maker: \"K07\", chance: 0.77 }, #{ maker: \"K11\", chance: 0.23 }])`.",
        ])
        .register_into_engine(engine, move |value: Dynamic| {
            let shown = everything(&value);
            shown.into_iter().for_each(|shown| run.show(shown));
        });
    let run = Arc::clone(&shared);
    FuncRegistration::new("show")
        .with_params_info(["rows: Array", "columns: Array", "Raw<()>"])
        .with_comments([
            "/// A list of maps as a table of these columns, in this order; figures are shown in at most four significant digits, and",
            "/// `digits` gives more: `show(jug.verdict().rows, [\"name\", \"probability\"])`.",
        ])
        .register_into_engine(engine, move |rows: Array, columns: Array| -> Raw<()> {
            let columns = columns_of(&rows, &columns).map_err(Fault::raise)?;
            let value = entries(&Dynamic::from(rows), DEEPEST);
            run.show(Shown::Plain {
                value,
                columns: Some(columns),
            });
            Ok(())
        });
}

/// The columns that a table is to have: texts, each a key of one row at least.
fn columns_of(rows: &Array, columns: &Array) -> Result<Vec<String>, Fault> {
    const SUCH_AS: &str = "such as show(jug.verdict().rows, [\"name\", \"probability\"])";
    let mut known: Vec<String> = Vec::new();
    for row in rows {
        let row = row.read_lock::<rhai::Map>().ok_or_else(|| {
            let given = super::numbers::in_words(row);
            Fault::new(format!(
                "a table with columns is made of maps, not of {given}"
            ))
            .hint(SUCH_AS)
        })?;
        for key in row.keys().map(ToString::to_string) {
            if !known.contains(&key) {
                known.push(key);
            }
        }
    }
    let mut wanted: Vec<String> = Vec::new();
    for column in columns {
        let column = values::text(column)
            .ok_or_else(|| Fault::new("a column is named by a text, in quotes").hint(SUCH_AS))?;
        if !rows.is_empty() && !known.contains(&column) {
            let fault = Fault::new(format!("no row has an entry `{column}`"));
            return Err(fault.nearest_or_known(&column, known.iter().map(String::as_str)));
        }
        wanted.push(column);
    }
    if wanted.is_empty() {
        return Err(Fault::new("a table needs one column at least").hint(SUCH_AS));
    }
    Ok(wanted)
}

/// Lets `print`, text with `${…}` and text put together with `+` show what `show` shows.
fn register_text<T: Clone + Send + Sync + 'static>(engine: &mut Engine) {
    let comment = "/// Any result as text, as it is shown; within other text it turns into it by itself: `print(jug.verdict())`, `print(\"Noted: \" + jug)`.";
    FuncRegistration::new("to_string")
        .with_params_info(["result: &mut Result", "String"])
        .with_comments([comment])
        .register_into_engine(engine, |value: &mut T| {
            let shown = shown(&Dynamic::from(value.clone()));
            let text = shown.map(|shown| shown.to_text().trim_end().to_owned());
            text.unwrap_or_else(|| in_a_line(&Dynamic::from(value.clone())))
        });
    // Within a list or map, where a whole result would bury all that stands beside it.
    FuncRegistration::new("to_debug").register_into_engine(engine, |value: &mut T| {
        let value = Dynamic::from(value.clone());
        let text = shown(&value).map(|shown| shown.to_text());
        let first = text.as_deref().and_then(|text| text.lines().next());
        first.map_or_else(
            || in_a_line(&value),
            |line| line.replace("──", "").trim().to_owned(),
        )
    });
}

/// How deep lists and maps are shown entry by entry: nobody reads deeper, and whoever writes them out recurses.
const DEEPEST: usize = 16;

/// All that a value has to show: a result, each of a list of results, or a plain value; nothing of `()`.
pub(super) fn everything(value: &Dynamic) -> Vec<Shown> {
    if value.is_unit() {
        return Vec::new();
    }
    if let Some(shown) = shown(value) {
        return vec![shown];
    }
    if let Some(list) = value.read_lock::<Array>()
        && list.iter().any(|entry| shown(entry).is_some())
    {
        let entries = list
            .iter()
            .map(|entry| shown(entry).unwrap_or_else(|| plain(entry)));
        return entries.collect();
    }
    vec![plain(value)]
}

fn plain(value: &Dynamic) -> Shown {
    if value.is_array() || value.is_map() {
        let value = entries(value, DEEPEST);
        return Shown::Plain {
            value,
            columns: None,
        };
    }
    Shown::Text {
        text: in_a_line(value),
    }
}

/// A plain value in a line.
fn in_a_line(value: &Dynamic) -> String {
    if let Some(pack) = value.read_lock::<PackHandle>() {
        let model = &pack.compiled.model;
        let hash = model.hash.get(..12).unwrap_or(&model.hash);
        return format!("the pack {} (SHA-256 {hash}…)", model.name);
    }
    if let Some(claim) = value.read_lock::<ClaimHandle>() {
        return claim.0.to_string();
    }
    if let Some(question) = value.read_lock::<QuestionHandle>() {
        return question.0.to_string();
    }
    values::text(value).unwrap_or_else(|| value.to_string())
}

/// A value with its entries; below `depth`, and for whatever has none, its text.
fn entries(value: &Dynamic, depth: usize) -> Value {
    if value.is_unit() {
        return Value::Null;
    }
    if let Ok(truth) = value.as_bool() {
        return truth.into();
    }
    if let Ok(number) = value.as_int() {
        return number.into();
    }
    if let Some(number) = value.as_float().ok().and_then(serde_json::Number::from_f64) {
        return number.into();
    }
    if let Some(list) = value.read_lock::<Array>().filter(|_| depth > 0) {
        return list.iter().map(|entry| entries(entry, depth - 1)).collect();
    }
    if let Some(map) = value.read_lock::<rhai::Map>().filter(|_| depth > 0) {
        let pairs = map.iter();
        return pairs
            .map(|(key, entry)| (key.to_string(), entries(entry, depth - 1)))
            .collect();
    }
    let text = shown(value).map(|shown| shown.to_text().trim_end().to_owned());
    text.unwrap_or_else(|| in_a_line(value)).into()
}

/// A value as a result to be shown; `None` for plain values.
pub(super) fn shown(value: &Dynamic) -> Option<Shown> {
    if let Some(verdict) = value.read_lock::<VerdictHandle>() {
        return Some(Shown::Verdict(Box::new((*verdict.0).clone())));
    }
    if let Some(audit) = value.read_lock::<AuditHandle>() {
        return Some(Shown::Audit((*audit.0).clone()));
    }
    if let Some(stress) = value.read_lock::<StressHandle>() {
        return Some(Shown::Stress((*stress.0).clone()));
    }
    if let Some(explained) = value.read_lock::<ExplainedHandle>() {
        return Some(Shown::Explained((*explained.0).clone()));
    }
    if let Some(contrasts) = value.read_lock::<ContrastsHandle>() {
        return Some(Shown::Contrasts((*contrasts.0).clone()));
    }
    if let Some(varied) = value.read_lock::<VariedHandle>() {
        return Some(Shown::Varied((*varied.0).clone()));
    }
    if let Some(comparison) = value.read_lock::<ComparisonHandle>() {
        return Some(Shown::Comparison(Box::new((*comparison.0).clone())));
    }
    if let Some(why) = value.read_lock::<WhyNotHandle>() {
        return Some(Shown::WhyNot((*why.0).clone()));
    }
    if let Some(sensitivity) = value.read_lock::<SensitivityHandle>() {
        return Some(Shown::Sensitivity(Box::new((*sensitivity.0).clone())));
    }
    if let Some(ranking) = value.read_lock::<RankingHandle>() {
        return Some(Shown::Marks((*ranking.0).clone()));
    }
    if let Some(next) = value.read_lock::<NextLookHandle>() {
        return Some(Shown::NextLook(Box::new((*next.0).clone())));
    }
    if let Some(plans) = value.read_lock::<PlansHandle>() {
        return Some(Shown::Plan(Box::new((*plans.0).clone())));
    }
    if let Some(overturn) = value.read_lock::<OverturnHandle>() {
        return Some(Shown::Overturn(Box::new((*overturn.0).clone())));
    }
    if let Some(report) = value.read_lock::<AppraisalHandle>() {
        return Some(Shown::Appraisal(Box::new((*report.0).clone())));
    }
    if let Some(chart) = value.read_lock::<PlotHandle>() {
        return Some(Shown::Plot(Box::new((*chart.0).clone())));
    }
    if let Some(pays) = value.read_lock::<PaysHandle>() {
        return Some(Shown::Pays(Box::new((*pays.0).clone())));
    }
    if let Some(worth) = value.read_lock::<ValueHandle>() {
        return Some(Shown::Value(Box::new((*worth.0).clone())));
    }
    if let Some(asked) = value.read_lock::<InstructionHandle>() {
        return Some(Shown::Instruction((*asked.0).clone()));
    }
    let piece = value.read_lock::<PieceHandle>()?;
    let model = &piece.pack.compiled.model;
    let (findings, not_looked) = record(&piece.piece, model);
    Some(Shown::Record(Record {
        piece: title(model, &piece.piece),
        what_if: WhatIf::of(model, &piece.piece),
        findings,
        not_looked,
    }))
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod result_functions {
    /// The opinion in words: `jug.verdict().words`.
    #[rhai_fn(get = "words", pure)]
    pub fn words(verdict: &mut VerdictHandle) -> String {
        verdict.0.attribution.words.clone()
    }

    /// The short code of the leading maker: `jug.verdict().leader`.
    #[rhai_fn(get = "leader", pure)]
    pub fn leader(verdict: &mut VerdictHandle) -> String {
        verdict
            .0
            .makers
            .first()
            .map_or_else(String::new, |maker| maker.id.clone())
    }

    /// The first year of the verdict's date; nothing, `()`, for periods without years: `jug.verdict().first_year`.
    #[rhai_fn(get = "first_year", pure)]
    pub fn first_year(verdict: &mut VerdictHandle) -> Year {
        year(verdict.0.dating.first_year)
    }

    /// The last year of the verdict's date; nothing, `()`, for periods without years: `jug.verdict().last_year`.
    #[rhai_fn(get = "last_year", pure)]
    pub fn last_year(verdict: &mut VerdictHandle) -> Year {
        year(verdict.0.dating.last_year)
    }

    /// The probability of a maker, by its short code or name: `jug.verdict().maker("K07")`.
    #[rhai_fn(return_raw, pure)]
    pub fn maker(verdict: &mut VerdictHandle, id: &str) -> Raw<f64> {
        probability(&verdict.0.makers, "maker", id)
    }

    /// The probability of a period, by its short code or name: `jug.verdict().period("P4")`.
    #[rhai_fn(return_raw, pure)]
    pub fn period(verdict: &mut VerdictHandle, id: &str) -> Raw<f64> {
        probability(&verdict.0.periods, "period", id)
    }

    /// The probability of a region: `jug.verdict().region("Saltharrow")`.
    #[rhai_fn(return_raw, pure)]
    pub fn region(verdict: &mut VerdictHandle, id: &str) -> Raw<f64> {
        probability(&verdict.0.regions, "region", id)
    }

    /// The probability of a works: `jug.verdict().works("Lantern Works")`.
    #[rhai_fn(return_raw, pure)]
    pub fn works(verdict: &mut VerdictHandle, id: &str) -> Raw<f64> {
        probability(&verdict.0.works, "works", id)
    }

    /// The probability of an engraving, by its short code or name: `jug.verdict().engraving("C")`.
    #[rhai_fn(return_raw, pure)]
    pub fn engraving(verdict: &mut VerdictHandle, id: &str) -> Raw<f64> {
        probability(&verdict.0.engravings, "engraving", id)
    }

    /// The natural logarithm of the probability of all findings: `jug.verdict().log_evidence`.
    #[rhai_fn(get = "log_evidence", pure)]
    pub fn log_evidence(verdict: &mut VerdictHandle) -> f64 {
        verdict.0.log_evidence
    }

    /// How much the findings pull against each other, in decibans: `jug.verdict().conflict`.
    #[rhai_fn(get = "conflict", pure)]
    pub fn conflict(verdict: &mut VerdictHandle) -> f64 {
        verdict.0.surprise.conflict_decibans
    }

    /// The share of draws in which the leader still leads: `jug.stress(1000).holds`.
    #[rhai_fn(get = "holds", pure)]
    pub fn holds(stress: &mut StressHandle) -> f64 {
        stress.0.holds.value
    }

    /// The share of draws in which the verdict would be worded alike: `jug.stress(1000).wording_holds`.
    #[rhai_fn(get = "wording_holds", return_raw, pure)]
    pub fn wording_holds(stress: &mut StressHandle) -> Raw<f64> {
        match &stress.0.wording {
            Some(wording) => Ok(wording.holds.value),
            None => Err(Fault::new(
                "this run was not about the verdict's maker, so its words were not looked at",
            )
            .raise()),
        }
    }

    /// The least and the largest probability of the claim, in nine draws of ten: `jug.stress(1000).span`.
    #[rhai_fn(get = "span", pure)]
    pub fn span(stress: &mut StressHandle) -> rhai::Array {
        vec![stress.0.low.value.into(), stress.0.high.value.into()]
    }

    /// The probability of the claim that half of the draws lie below: `jug.stress(1000).median`.
    #[rhai_fn(get = "median", pure)]
    pub fn median(stress: &mut StressHandle) -> f64 {
        stress.0.median.value
    }

    /// A number with so many digits after the point, as text: `digits(0.76845, 2)`.
    #[rhai_fn(return_raw)]
    pub fn digits(value: Number, n: WholeNumber) -> Raw<String> {
        let value = number(&value)
            .map_err(|kind| Fault::new(format!("`digits` takes a number, not {kind}")).raise())?;
        let n = whole_number(&n, "the number of digits").map_err(Fault::raise)?;
        let n = usize::try_from(n).ok().filter(|n| *n <= 17);
        let n = n.ok_or_else(|| Fault::new("`digits` gives from 0 to 17 digits").raise())?;
        Ok(format!("{value:.n$}"))
    }
}

fn year(year: Option<i32>) -> Dynamic {
    year.map_or(Dynamic::UNIT, |year| i64::from(year).into())
}

fn probability(shares: &[Share], what: &str, id: &str) -> Raw<f64> {
    let found = shares.iter().find(|share| share.id == id);
    if let Some(share) = found.or_else(|| shares.iter().find(|share| share.name == id)) {
        return Ok(share.probability);
    }
    let fault = Fault::new(format!("there is no {what} `{id}` in this verdict"));
    if shares.is_empty() {
        return Err(fault.hint(format!("the pack has no {what} at all")).raise());
    }
    let near = nearest(
        id,
        shares.iter().flat_map(|s| [s.id.as_str(), s.name.as_str()]),
    );
    Err(match near {
        Some(near) => fault.hint(format!("did you mean `{near}`?")),
        None => {
            let known = shares.iter().map(|s| match s.id == s.name {
                true => s.id.clone(),
                false => format!("{} ({})", s.id, s.name),
            });
            fault.hint(format!("known: {}", known.collect::<Vec<_>>().join(", ")))
        }
    }
    .raise())
}
