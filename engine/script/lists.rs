//! Lists in order. Rhai's own sorting passes over whatever goes wrong in a comparison, limits among them, and leaves the list
//! as it comes.

use std::cmp::Ordering;

use rhai::plugin::{Dynamic, NativeCallContext, export_module};
use rhai::{Array, Engine, FnPtr};

use super::fault::Fault;
use super::handles::Raw;
use super::numbers::in_words;
use super::values;

/// Registers the functions.
pub(super) fn register(engine: &mut Engine) {
    let module = rhai::exported_module!(list_functions);
    engine.register_global_module(module.into());
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod list_functions {
    /// Puts a list in order, the least first: numbers, texts, quantities of one kind, odds, or lists of these by their entries:
    /// `let chances = [0.3, 1, 0.2]; chances.sort();`.
    #[rhai_fn(return_raw)]
    pub fn sort(list: &mut Array) -> Raw<()> {
        *list = sorted(std::mem::take(list), &mut in_order)?;
        Ok(())
    }

    /// The same, the greatest first: `let chances = [0.3, 1, 0.2]; chances.sort_desc();`.
    #[rhai_fn(return_raw)]
    pub fn sort_desc(list: &mut Array) -> Raw<()> {
        *list = sorted(std::mem::take(list), &mut |a, b| in_order(b, a))?;
        Ok(())
    }

    /// Puts a list in order by a function of two entries that gives a number, below 0 if the first is to stand before the
    /// second, or true if it is: `fn by_length(a, b) { a.len() - b.len() } let names = ["bell", "hi"]; names.sort(by_length);`.
    #[rhai_fn(name = "sort", name = "sort_by", return_raw)]
    pub fn sort_by(context: NativeCallContext, list: &mut Array, before: FnPtr) -> Raw<()> {
        let mut compare = |a: &Dynamic, b: &Dynamic| {
            let answer: Dynamic = before.call_within_context(&context, (a.clone(), b.clone()))?;
            if let Ok(is_before) = answer.as_bool() {
                return Ok(if is_before {
                    Ordering::Less
                } else {
                    Ordering::Greater
                });
            }
            let number = answer
                .as_float()
                .or_else(|_| answer.as_int().map(|i| i as f64));
            let order = number.ok().and_then(|number| number.partial_cmp(&0.0));
            order.ok_or_else(|| {
                let given = in_words(&answer);
                Fault::new(format!(
                    "a function to sort by gives a number or true or false, not {given}"
                ))
                .hint("such as: fn by_chance(a, b) { b.chance - a.chance }")
                .raise()
            })
        };
        *list = sorted(std::mem::take(list), &mut compare)?;
        Ok(())
    }

    /// Leaves out every entry that a function says is the same as the one before it:
    /// `fn alike(a, b) { a == b } let states = ["bell", "bell", "dot"]; states.dedup(alike);`.
    #[rhai_fn(name = "dedup", return_raw)]
    pub fn dedup_by(context: NativeCallContext, list: &mut Array, same: FnPtr) -> Raw<()> {
        let mut kept = Array::with_capacity(list.len());
        for entry in std::mem::take(list) {
            if let Some(last) = kept.last() {
                let given = (entry.clone(), Dynamic::clone(last));
                let answer: Dynamic = same.call_within_context(&context, given)?;
                let is_same = answer.as_bool().map_err(|_| {
                    let given = in_words(&answer);
                    let what = "a function that finds equal entries gives true or false";
                    Fault::new(format!("{what}, not {given}")).raise()
                })?;
                if is_same {
                    continue;
                }
            }
            kept.push(entry);
        }
        *list = kept;
        Ok(())
    }
}

/// A merge sort, which keeps equal entries as they stood and ends with the first error. The library's own may panic if a
/// comparison contradicts itself, as one written in a script may.
fn sorted(list: Array, compare: &mut dyn FnMut(&Dynamic, &Dynamic) -> Raw<Ordering>) -> Raw<Array> {
    let mut runs: Vec<Array> = list.into_iter().map(|entry| vec![entry]).collect();
    while runs.len() > 1 {
        let mut merged = Vec::with_capacity(runs.len().div_ceil(2));
        let mut rest = runs.into_iter();
        while let Some(first) = rest.next() {
            merged.push(match rest.next() {
                Some(second) => merge(first, second, compare)?,
                None => first,
            });
        }
        runs = merged;
    }
    Ok(runs.pop().unwrap_or_default())
}

fn merge(
    first: Array,
    second: Array,
    compare: &mut dyn FnMut(&Dynamic, &Dynamic) -> Raw<Ordering>,
) -> Raw<Array> {
    let mut merged = Array::with_capacity(first.len() + second.len());
    let (mut first, mut second) = (first.into_iter().peekable(), second.into_iter().peekable());
    while let (Some(a), Some(b)) = (first.peek(), second.peek()) {
        // Asked so that neither of two equal entries comes first, by a number or by true and false alike.
        let next = match compare(b, a)? {
            Ordering::Less => second.next(),
            Ordering::Equal | Ordering::Greater => first.next(),
        };
        merged.extend(next);
    }
    merged.extend(first);
    merged.extend(second);
    Ok(merged)
}

/// The order of two values of one kind.
fn in_order(a: &Dynamic, b: &Dynamic) -> Raw<Ordering> {
    let number = |value: &Dynamic| {
        let odds = values::chance_of_odds(value);
        odds.or_else(|| super::numbers::number(value).ok())
    };
    if let (Some(a), Some(b)) = (number(a), number(b)) {
        return Ok(a.total_cmp(&b));
    }
    if let Some(order) = values::compare_quantities(a, b) {
        return order;
    }
    if let (Some(a), Some(b)) = (a.read_lock::<Array>(), b.read_lock::<Array>()) {
        for (a, b) in a.iter().zip(b.iter()) {
            let order = in_order(a, b)?;
            if order != Ordering::Equal {
                return Ok(order);
            }
        }
        return Ok(a.len().cmp(&b.len()));
    }
    if let (Ok(a), Ok(b)) = (a.as_immutable_string_ref(), b.as_immutable_string_ref()) {
        return Ok(a.as_str().cmp(b.as_str()));
    }
    if let (Ok(a), Ok(b)) = (a.as_bool(), b.as_bool()) {
        return Ok(a.cmp(&b));
    }
    if let (Ok(a), Ok(b)) = (a.as_char(), b.as_char()) {
        return Ok(a.cmp(&b));
    }
    Err(Fault::new(format!(
        "{} and {} have no order",
        in_words(a),
        in_words(b)
    ))
    .hint("give a function that says which comes first: fn first(a, b) { a.chance > b.chance } list.sort(first);")
    .raise())
}
