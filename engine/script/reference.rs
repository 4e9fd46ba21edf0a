//! The reference of the language, drawn up from the functions as they are registered: their own doc comments, parameters and
//! types. There is no second list: `saggar reference`, `help` and completion in the console, and the test that runs every
//! example all read this one.

use std::collections::BTreeMap;
use std::sync::Arc;

use rhai::Engine;
use serde::Deserialize;

use super::host::{self, TOPICS};
use super::{Run, Settings};
use crate::source::Sources;

/// A group of functions.
#[derive(Clone, Debug)]
pub struct Topic {
    /// Its heading.
    pub title: &'static str,
    /// What it is for.
    pub about: &'static str,
    /// Its functions by name, the form with fewest parameters first.
    pub functions: Vec<Function>,
}

/// One form of a function, property or operator.
#[derive(Clone, Debug, PartialEq)]
pub struct Function {
    /// Its name.
    pub name: String,
    /// How it is called.
    pub call: Call,
    /// Name and type of each parameter, the value before the dot included; types in words.
    pub parameters: Vec<(String, String)>,
    /// Type of what comes back, in words; empty for nothing.
    pub gives: String,
    /// What it does, in Markdown, without the examples behind it.
    pub text: String,
    /// Scripts that call it, which run after the [`SUPPOSED`] lines.
    pub examples: Vec<String>,
}

/// How a function is called.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Call {
    /// `name(…)`.
    Function,
    /// `value.name(…)`.
    Method,
    /// `value.name`.
    Property,
    /// `one + other`.
    Operator,
}

/// What the examples suppose: a name that they use, and the script that makes it.
pub const SUPPOSED: [(&str, &str); 8] = [
    ("pack", "let pack = open_pack(\"tidewheel\");"),
    (
        "jug",
        "let jug = open_pack(\"tidewheel\").piece(\"a jug\").saw(\"size\", \"IV\").saw(\"search\", \"full\").saw(\"print\", \"clear\");",
    ),
    (
        "asked",
        "let asked = instruction(#{ purpose: \"sale\", users: \"the owner\", definition: \"auction estimate\", effective: \"2024-03-31\", inspected: \"2024-03-02\", inspector: \"E. Rowan\", seen: \"in hand\", interest: \"none\" });",
    ),
    (
        "mug",
        "let mug = open_pack(\"moor_ware\").piece(\"a mug\");",
    ),
    (
        "dish",
        "let dish = open_pack(\"moor_ware\").piece(\"a dish\");",
    ),
    (
        "plate",
        "let plate = open_pack(\"dated_ware\").piece(\"a plate\");",
    ),
    ("kilns", "let kilns = open_pack(\"romano_british_kilns\");"),
    (
        "pot",
        "let pot = open_pack(\"romano_british_kilns\").piece(\"a pot\");",
    ),
];

/// Where the packs of [`SUPPOSED`] are.
const PACKS: &str = "`tidewheel` is in `priors`, `moor_ware` and `dated_ware` are in `tests/packs`, `romano_british_kilns` is in \
    `shared/pottery`: `--priors FOLDER` says where a script finds its packs.";

/// What Rhai brings along, in short.
const RHAI: &str = include_str!("reference/rhai.md");

/// What editors are told a parameter takes that takes several types.
const FOR_EDITORS: [(&str, &str); 17] = [
    ("StateGiven", "?"),
    ("Found", "?"),
    ("ChanceGiven", "?"),
    ("MassGiven", "?"),
    ("SizeGiven", "?"),
    ("StressOptions", "?"),
    ("VariedOver", "?"),
    ("AboutGiven", "?"),
    ("CapacityGiven", "?"),
    ("AreaGiven", "?"),
    ("LengthGiven", "?"),
    ("DatesGiven", "?"),
    ("Registration", "?"),
    ("PlotGiven", "?"),
    ("Result", "?"),
    ("WholeNumber", "int"),
    ("Number", "float"),
];

/// Every function of the language, by topic.
#[must_use]
pub fn topics() -> Vec<Topic> {
    let run = idle();
    let topic = |topic: &host::Topic| {
        let mut engine = Engine::new_raw();
        (topic.register)(&mut engine, &run);
        Topic {
            title: topic.title,
            about: topic.about,
            functions: functions(&engine),
        }
    };
    let mut topics: Vec<Topic> = TOPICS.iter().map(topic).collect();
    in_words_everywhere(&mut topics);
    topics
}

/// A run that nothing runs in, for engines that are only looked at.
fn idle() -> Arc<Run> {
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
fn functions(engine: &Engine) -> Vec<Function> {
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

/// Doc comments as Markdown: lines of one paragraph joined, so that no example is broken.
fn prose(comments: &[String]) -> String {
    let mut text = String::new();
    for line in comments.iter().flat_map(|comment| comment.lines()) {
        let line = line.trim().trim_start_matches("///").trim();
        if line.is_empty() {
            text.push_str("\n\n");
        } else {
            if !text.is_empty() && !text.ends_with('\n') {
                text.push(' ');
            }
            text.push_str(line);
        }
    }
    text.trim().to_owned()
}

/// Places of the code between backticks.
fn code_spans(text: &str) -> Vec<std::ops::Range<usize>> {
    let ticks: Vec<usize> = text.match_indices('`').map(|(at, _)| at).collect();
    ticks
        .chunks_exact(2)
        .map(|pair| pair[0] + 1..pair[1])
        .collect()
}

/// The code of a text that is an example of a function: a call that stands behind a colon, and whatever calls the function.
fn examples(text: &str, name: &str, call: Call) -> Vec<String> {
    let called = match call {
        Call::Function | Call::Method => format!("{name}("),
        Call::Property => format!(".{name}"),
        Call::Operator => format!(" {name} "),
    };
    let spans = code_spans(text).into_iter();
    let is_example = |span: &std::ops::Range<usize>| {
        let code = &text[span.clone()];
        let behind_a_colon = text[..span.start - 1].ends_with(": ") && code.contains('(');
        behind_a_colon || code.contains(&called)
    };
    spans
        .filter(is_example)
        .map(|span| text[span].to_owned())
        .collect()
}

/// The text up to the colon behind which there are only examples.
fn without_examples(text: &str) -> String {
    for span in code_spans(text) {
        let before = &text[..span.start - 1];
        let Some(before) = before.strip_suffix(": ") else {
            continue;
        };
        let mut rest = text[before.len() + 2..].to_owned();
        for inner in code_spans(&rest.clone()).into_iter().rev() {
            rest.replace_range(inner.start - 1..inner.end + 1, "");
        }
        if rest.chars().all(|c| matches!(c, ',' | '.' | ' ')) {
            return format!("{before}.");
        }
    }
    text.to_owned()
}

/// Rust's names of types in words, in all topics.
fn in_words_everywhere(topics: &mut [Topic]) {
    let names = type_names();
    for function in topics.iter_mut().flat_map(|topic| &mut topic.functions) {
        for (_, kind) in &mut function.parameters {
            *kind = in_words(kind, &names);
        }
        function.gives = in_words(&function.gives, &names);
    }
}

/// The types of scripts by the last part of their Rust name, as they were registered.
fn type_names() -> BTreeMap<String, String> {
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

impl Function {
    /// How it is written, with types in words: `piece.saw(clue: text, state: text or number) -> piece`.
    #[must_use]
    pub fn signature(&self) -> String {
        let receiver = self
            .parameters
            .first()
            .map_or("", |(_, kind)| kind.as_str());
        let shown = |(name, kind): &(String, String)| match (name.as_str(), kind.as_str()) {
            ("", kind) => kind.to_owned(),
            (name, kind) if name == kind => name.to_owned(),
            (name, kind) => format!("{name}: {kind}"),
        };
        let listed = |parameters: &[(String, String)]| {
            parameters.iter().map(shown).collect::<Vec<_>>().join(", ")
        };
        let written = match self.call {
            Call::Function => format!("{}({})", self.name, listed(&self.parameters)),
            Call::Method => format!(
                "{receiver}.{}({})",
                self.name,
                listed(&self.parameters[1..])
            ),
            Call::Property => format!("{receiver}.{}", self.name),
            Call::Operator => {
                let kinds: Vec<&str> = self.parameters.iter().map(|(_, k)| k.as_str()).collect();
                kinds.join(&format!(" {} ", self.name))
            }
        };
        if self.gives.is_empty() {
            written
        } else {
            format!("{written} -> {}", self.gives)
        }
    }
}

/// The whole reference as Markdown.
#[must_use]
pub fn markdown() -> String {
    let mut out = String::from(
        "# Script reference\n\nDrawn up by `saggar reference` from the functions themselves. Scripts are written in Rhai.\n\n\
         The examples suppose\n\n```rhai\n",
    );
    for (_, line) in SUPPOSED {
        out += &format!("{line}\n");
    }
    out += &format!("```\n\n{PACKS}\n\n");
    for topic in topics() {
        out += &format!("## {}\n\n{}\n\n", topic.title, topic.about);
        for function in topic.functions {
            out += &format!("### `{}`\n\n{}\n\n", function.signature(), function.text);
            if !function.examples.is_empty() {
                out += &format!("```rhai\n{}\n```\n\n", function.examples.join("\n"));
            }
        }
    }
    out += RHAI;
    out
}

/// The functions in the form that editors for Rhai read, Rhai's own included.
#[must_use]
pub fn definitions() -> String {
    // Rust's names for what a parameter takes mean nothing to an editor.
    let mut text = host::engine(&idle()).definitions().single_file();
    while let Some(at) = text.find("Raw<") {
        let end = text[at..].find('>').map_or(text.len(), |end| at + end + 1);
        let inner = text[at + 4..end - 1].to_owned();
        text.replace_range(at..end, &inner);
    }
    for (name, editors) in FOR_EDITORS {
        text = text.replace(&format!(": {name}"), &format!(": {editors}"));
    }
    for (rust, name) in type_names() {
        text = with_word(&text, &rust, &name.replace(' ', "_"));
    }
    text
}

/// A text with one word put in the place of another.
fn with_word(text: &str, word: &str, other: &str) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some(at) = rest.find(word) {
        let (before, after) = (&rest[..at], &rest[at + word.len()..]);
        let is_part = |c: char| c.is_alphanumeric() || c == '_';
        let is_word = !before.ends_with(is_part) && !after.starts_with(is_part);
        out += before;
        out += if is_word { other } else { word };
        rest = after;
    }
    out + rest
}

/// Help on a name: every form of it; `None` if there is no such function. Without a name, the names of all.
#[must_use]
pub fn help(name: Option<&str>) -> Option<String> {
    let topics = topics();
    let Some(name) = name else {
        let mut out = String::from(
            "`help NAME` explains one of these; `name(…)` is called, `.name` stands behind a value\n\n",
        );
        for topic in &topics {
            let mut names: Vec<String> = topic.functions.iter().map(listed).collect();
            names.dedup();
            out += &format!("{}\n    {}\n", topic.title, names.join("  "));
        }
        return Some(out);
    };
    let name = name.trim().trim_start_matches('.').trim_end_matches("()");
    let forms = topics.iter().flat_map(|topic| &topic.functions);
    let mut out = String::new();
    for function in forms.filter(|function| function.name == name) {
        out += &format!("{}\n    {}\n", function.signature(), function.text);
        for example in &function.examples {
            out += &format!("    example: {example}\n");
        }
    }
    (!out.is_empty()).then_some(out)
}

/// A name as the overview lists it.
fn listed(function: &Function) -> String {
    match function.call {
        Call::Method | Call::Property => format!(".{}", function.name),
        Call::Function | Call::Operator => function.name.clone(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_function_says_what_it_does_and_shows_it() {
        for topic in topics() {
            assert!(!topic.functions.is_empty(), "{}", topic.title);
            for function in topic.functions {
                let signature = function.signature();
                assert!(!function.text.is_empty(), "{signature} has no doc comment");
                assert!(!function.examples.is_empty(), "{signature} has no example");
                for (name, kind) in &function.parameters {
                    assert!(!name.is_empty(), "{signature}: a parameter without a name");
                    assert!(
                        kind.chars()
                            .all(|c| c.is_lowercase() || matches!(c, ' ' | ',' | '-')),
                        "{signature}: `{kind}` is no word for a type"
                    );
                }
            }
        }
    }

    #[test]
    fn every_function_has_a_topic() {
        let all = functions(&host::engine(&idle()));
        let topics = topics();
        // What replaces a function of Rhai for its safety alone.
        let replaced = ["replace", "sleep", "timestamp"];
        for function in all.iter().filter(|f| !replaced.contains(&f.name.as_str())) {
            let known = topics.iter().flat_map(|t| &t.functions);
            assert!(
                known.clone().any(|f| f.name == function.name),
                "{} is registered outside the topics",
                function.name
            );
        }
    }

    #[test]
    fn examples_are_taken_out_of_the_text() {
        let text = "Notes it, `1.kg` or so: `jug.saw(\"a\", 1)`, `jug.saw(\"b\", 2)`.";
        assert_eq!(without_examples(text), "Notes it, `1.kg` or so.");
        assert_eq!(
            examples(text, "saw", Call::Method),
            ["jug.saw(\"a\", 1)", "jug.saw(\"b\", 2)"]
        );
        let text = "Takes `x(1)`: `x(2)`; and more.";
        assert_eq!(without_examples(text), text);
    }
}
