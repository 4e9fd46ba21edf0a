//! What an engine tells of the functions registered in it.

use std::sync::Arc;

use rhai::Engine;
use serde::Deserialize;

use super::examples::{examples, prose, without_examples};
use super::function::{Call, Function};
use crate::script::{Run, Settings};
use crate::source::Sources;

/// A run that nothing runs in, for engines that are only looked at.
pub(super) fn idle() -> Arc<Run> {
    Run::new(Settings::default(), Sources::default(), |_| {})
}

/// What Rhai tells of the functions of an engine.
#[derive(Default, Deserialize)]
#[serde(rename_all = "camelCase", default)]
struct Registered {
    functions: Vec<RegisteredFunction>,
}

#[derive(Default, Deserialize)]
#[serde(rename_all = "camelCase", default)]
struct RegisteredFunction {
    name: String,
    params: Vec<Parameter>,
    return_type: String,
    doc_comments: Vec<String>,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Parameter {
    name: Option<String>,
    #[serde(rename = "type")]
    kind: Option<String>,
}

/// The functions of an engine, types still as Rust names them. What stands behind `[…]`, operators that assign, and the text that
/// Rhai itself asks for when it debugs, are left out.
pub(super) fn functions(engine: &Engine) -> Vec<Function> {
    let json = engine.gen_fn_metadata_to_json(false).unwrap_or_default();
    let registered: Registered = serde_json::from_str(&json).unwrap_or_default();
    let mut registered: Vec<Function> = registered
        .functions
        .into_iter()
        .filter(|f| {
            // What refuses to compare unlike values has nothing to tell of itself.
            let refuses = matches!(f.name.as_str(), "==" | "!=" | "<" | "<=" | ">" | ">=")
                && f.doc_comments.is_empty();
            let assigns = matches!(f.name.as_str(), "+=" | "-=" | "*=" | "/=" | "**=");
            f.name != "to_debug" && !f.name.starts_with("index$") && !assigns && !refuses
        })
        .map(function)
        .collect();
    // Rhai keeps its functions in no fixed order.
    registered.sort_by_cached_key(|f| {
        let n = f.parameters.len();
        (f.name.clone(), n, f.text.clone(), f.parameters.clone())
    });
    let mut functions: Vec<Function> = Vec::new();
    for function in registered {
        // The same for whole numbers and for others is one function to people.
        match functions.iter_mut().find(|known| is_same(known, &function)) {
            Some(known) => {
                for (one, other) in known.parameters.iter_mut().zip(function.parameters) {
                    if one.1 != other.1 {
                        one.1 = "f64".to_owned();
                    }
                }
            }
            None => functions.push(function),
        }
    }
    functions
}

/// Whether two functions differ at most in taking whole numbers or others.
fn is_same(one: &Function, other: &Function) -> bool {
    let is_number = |kind: &str| matches!(kind.trim_start_matches("&mut "), "f64" | "i64");
    one.name == other.name
        && one.call == other.call
        && one.text == other.text
        && one.parameters.len() == other.parameters.len()
        && one
            .parameters
            .iter()
            .zip(&other.parameters)
            .all(|((_, a), (_, b))| a == b || (is_number(a) && is_number(b)))
}

fn function(registered: RegisteredFunction) -> Function {
    let parameters: Vec<(String, String)> = registered
        .params
        .iter()
        .map(|p| {
            let kind = p.kind.clone().unwrap_or_default();
            (p.name.clone().unwrap_or_default(), kind)
        })
        .collect();
    let (name, call) = if let Some(property) = registered.name.strip_prefix("get$") {
        (property.to_owned(), Call::Property)
    } else if !registered
        .name
        .starts_with(|c: char| c.is_alphabetic() || c == '_')
    {
        (registered.name.clone(), Call::Operator)
    } else if parameters
        .first()
        .is_some_and(|(_, kind)| kind.starts_with("&mut"))
    {
        (registered.name.clone(), Call::Method)
    } else {
        (registered.name.clone(), Call::Function)
    };
    let doc = prose(&registered.doc_comments);
    let examples = examples(&doc, &name, call);
    Function {
        text: without_examples(&doc),
        name,
        call,
        parameters,
        gives: registered.return_type,
        examples,
    }
}
