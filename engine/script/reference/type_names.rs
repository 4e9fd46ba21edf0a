//! What the types of parameters and results are called in words.

use std::collections::BTreeMap;

use serde::Deserialize;

use super::function::Topic;
use super::registered::idle;
use crate::script::host;

/// Rust's names of types in words, in all topics.
pub(super) fn in_words_everywhere(topics: &mut [Topic]) {
    let names = type_names();
    for function in topics.iter_mut().flat_map(|topic| &mut topic.functions) {
        for (_, kind) in &mut function.parameters {
            *kind = in_words(kind, &names);
        }
        function.gives = in_words(&function.gives, &names);
    }
}

/// The types of scripts by the last part of their Rust name, as they were registered.
pub(super) fn type_names() -> BTreeMap<String, String> {
    #[derive(Default, Deserialize)]
    #[serde(rename_all = "camelCase", default)]
    struct Types {
        custom_types: Vec<Type>,
    }
    #[derive(Default, Deserialize)]
    #[serde(rename_all = "camelCase", default)]
    struct Type {
        type_name: String,
        display_name: String,
    }
    let json = host::engine(&idle()).gen_fn_metadata_to_json(false);
    let types: Types = serde_json::from_str(&json.unwrap_or_default()).unwrap_or_default();
    let last = |path: &str| path.rsplit("::").next().unwrap_or(path).to_owned();
    types
        .custom_types
        .into_iter()
        .map(|t| (last(&t.type_name), t.display_name))
        .collect()
}

/// A Rust type as people say it.
fn in_words(rust: &str, names: &BTreeMap<String, String>) -> String {
    let mut kind = rust.trim().trim_start_matches('&').trim();
    kind = kind.strip_prefix("mut ").unwrap_or(kind);
    for wrapper in ["Raw<", "RhaiResultOf<", "Result<"] {
        if let Some(inner) = kind.strip_prefix(wrapper) {
            kind = inner
                .trim_end_matches('>')
                .split(',')
                .next()
                .unwrap_or(inner);
        }
    }
    let kind = kind.trim().rsplit("::").next().unwrap_or(kind);
    if let Some(name) = names.get(kind) {
        return name.clone();
    }
    let words = match kind {
        "" | "()" | "Result" if rust.contains("()") => "",
        "str" | "String" | "ImmutableString" | "string" => "text",
        "f64" | "FLOAT" | "float" | "Number" => "number",
        "i64" | "INT" | "int" | "WholeNumber" => "whole number",
        "bool" => "true or false",
        "Map" | "map" => "map",
        "Array" | "array" => "list",
        "FnPtr" => "function",
        "StateGiven" => "text or number",
        "Found" => "text, number or map",
        "ChanceGiven" => "chance",
        "MassGiven" => "mass",
        "SizeGiven" => "capacity or area",
        "StressOptions" => "whole number or map",
        "VariedOver" => "text, list or map",
        "AboutGiven" => "claim or question",
        "CapacityGiven" => "capacity",
        "AreaGiven" => "area",
        "Year" => "whole number or nothing",
        "LengthGiven" => "length",
        "DatesGiven" => "dates or text",
        "Registration" => "number or map",
        "PlotGiven" => "result or map",
        "Result" => "result",
        "Dynamic" | "?" => "anything",
        other => other,
    };
    words.to_owned()
}
