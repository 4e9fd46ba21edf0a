//! What may have been meant by a name that is not known.

use rhai::Engine;

use super::reference::{self, Call, Function};
use super::{Run, lock};
use crate::diagnostic::Diagnostic;
use crate::nearest_name::nearest;
use crate::source::{Span, floor_char_boundary};

/// Names of a script that are looked through, and bytes of one: a stranger's script may have millions.
const MOST_NAMES: usize = 1000;
const LONGEST_HEAD: usize = 200;

/// Rhai's words for types, in ours.
const TYPES: [(&str, &str); 9] = [
    ("&str | ImmutableString | String", "text"),
    ("string", "text"),
    ("char", "letter"),
    ("i64", "whole number"),
    ("f64", "number"),
    ("bool", "true or false"),
    ("array", "list"),
    ("()", "nothing"),
    ("Fn", "function"),
];

fn in_words(kind: &str) -> &str {
    let known = TYPES.iter().find(|(rhai, _)| *rhai == kind.trim());
    known.map_or(kind.trim(), |(_, words)| words)
}

/// A type of Rhai in words, with its article.
pub(super) fn a(kind: &str) -> String {
    // Types of our own come with the path they have in Rust, where nobody has put them into words.
    let own = kind.rsplit("::").next().filter(|_| kind.contains("::"));
    let own = own.map(|name| name.trim_end_matches("Handle").to_lowercase());
    let kind = own.as_deref().unwrap_or_else(|| in_words(kind));
    match kind {
        "odds" | "dates" | "nothing" | "true or false" | "rows" | "contrasts" | "variants" => {
            kind.to_owned()
        }
        kind if kind.starts_with(['a', 'e', 'i', 'o', 'u']) => format!("an {kind}"),
        kind => format!("a {kind}"),
    }
}

/// What functions are called in other languages.
const ELSEWHERE: [(&str, &str); 9] = [
    ("length", "len"),
    ("size", "len"),
    ("count", "len"),
    ("append", "push"),
    ("add", "push"),
    ("upper", "to_upper"),
    ("lower", "to_lower"),
    ("float", "parse_float"),
    ("str", "to_string"),
];

/// A function that is not there, or not for such values. `signature` is Rhai's: `saw (verdict, map)`.
pub(super) fn function(signature: &str, span: Span, run: &Run, engine: &Engine) -> Diagnostic {
    let (name, given) = signature
        .split_once(" (")
        .map_or((signature, ""), |(name, rest)| {
            (name, rest.strip_suffix(')').unwrap_or(rest))
        });
    let given: Vec<&str> = given
        .split(", ")
        .filter(|kind| !kind.is_empty())
        .map(in_words)
        .collect();
    let topics = reference::topics();
    let functions = topics.iter().flat_map(|topic| &topic.functions);
    let forms: Vec<&Function> = functions.clone().filter(|f| f.name == name).collect();
    let own: Vec<String> = engine.gen_fn_signatures(true);
    let name_of = |signature: &str| {
        let end = signature.find(['(', '<']).unwrap_or(signature.len());
        signature[..end].trim().to_owned()
    };
    let call = |what: String| Diagnostic::error("script::call", what, span);
    if !name.starts_with(|c: char| c.is_alphabetic() || c == '_')
        && let [one, other] = given.as_slice()
    {
        return call(format!(
            "`{name}` cannot stand between {} and {}",
            a(one),
            a(other)
        ));
    }
    if !forms.is_empty() {
        return wrongly_called(name, &given, &forms, span);
    }
    let declared: Vec<(String, String)> = texts(span, run)
        .iter()
        .flat_map(|text| functions_in(text))
        .collect();
    if let Some((_, parameters)) = declared.iter().find(|(known, _)| known == name) {
        let what = format!("`{name}` cannot be called with ({})", given.join(", "));
        return call(what).hint(format!("the script has: fn {name}({parameters})"));
    }
    if name == "print" {
        return call("`print` takes one value".to_owned())
            .hint("put texts together with `+`, or write `… ${value} …` in backticks");
    }
    // What Rhai brings along has no words of ours for its parameters.
    if own.iter().any(|s| name_of(s) == name) {
        return call(format!(
            "`{name}` cannot be called with ({})",
            given.join(", ")
        ));
    }
    let names: Vec<String> = functions
        .filter(|f| f.call != Call::Property)
        .map(|f| f.name.clone())
        .chain(declared.into_iter().map(|(name, _)| name))
        .chain(own.iter().map(|s| name_of(s)))
        .filter(|name| name.starts_with(|c: char| c.is_alphabetic()))
        .collect();
    Diagnostic::error(
        "script::unknown-name",
        format!("there is no function `{name}`"),
        span,
    )
    .did_you_mean(meant(name, &names))
}

fn meant<'n>(name: &str, names: &'n [String]) -> Option<&'n str> {
    let elsewhere = ELSEWHERE.iter().find(|(other, _)| *other == name);
    elsewhere.map_or_else(
        || nearest(name, names.iter().map(String::as_str)),
        |(_, own)| Some(own),
    )
}

/// A function that is there, for other values.
fn wrongly_called(name: &str, given: &[&str], forms: &[&Function], span: Span) -> Diagnostic {
    let receivers = forms.iter().map(|f| match f.call {
        Call::Method | Call::Property => f.parameters.first().map(|(_, kind)| kind.as_str()),
        Call::Function | Call::Operator => None,
    });
    if let Some(first) = given.first()
        && receivers
            .clone()
            .all(|r| r.is_some_and(|r| r != *first && (r, *first) != ("number", "whole number")))
    {
        let mut of: Vec<&str> = receivers.flatten().collect();
        of.dedup();
        let what = format!(
            "`{name}` belongs to {}, not to {}",
            of.iter()
                .map(|kind| a(kind))
                .collect::<Vec<_>>()
                .join(" or "),
            a(first)
        );
        return Diagnostic::error("script::call", what, span)
            .hint(format!("it is called so: {}", forms[0].signature()));
    }
    let mut takes: Vec<String> = forms
        .iter()
        .filter(|f| f.call != Call::Property)
        .map(|f| {
            let skipped = usize::from(f.call == Call::Method);
            let names = f
                .parameters
                .iter()
                .skip(skipped)
                .map(|(name, _)| name.as_str());
            format!("{name}({})", names.collect::<Vec<_>>().join(", "))
        })
        .collect();
    takes.dedup();
    let report = Diagnostic::error(
        "script::call",
        format!("`{name}` cannot be called with ({})", given.join(", ")),
        span,
    );
    let behind_the_piece = given.get(1..).unwrap_or_default();
    let report = match (name, behind_the_piece) {
        ("value" | "report" | "pays", ["map", ..]) => {
            report.hint("an instruction is made first: `let asked = instruction(#{ … });`")
        }
        ("audit" | "probability", ["text", "text"]) => {
            report.hint("one maker against another: maker(\"K07\").against(maker(\"K11\"))")
        }
        _ => report,
    };
    if takes.is_empty() {
        return report.hint(format!(
            "it stands without brackets: {}",
            forms[0].signature()
        ));
    }
    report.hint(format!("it takes: {}", takes.join(" or ")))
}

/// A property that a value does not have. `message` is Rhai's, with the property and the type in quotes.
pub(super) fn property(message: &str, span: Span) -> Diagnostic {
    let quoted: Vec<&str> = message.split('\'').skip(1).step_by(2).collect();
    let (Some(name), Some(kind)) = (quoted.first(), quoted.get(1)) else {
        return Diagnostic::error("script::error", message.to_lowercase(), span);
    };
    let kind = in_words(kind);
    let report = Diagnostic::error(
        "script::unknown-name",
        format!("{} has no property `{name}`", a(kind)),
        span,
    );
    let topics = reference::topics();
    let functions = topics.iter().flat_map(|topic| &topic.functions);
    let of = |function: &Function, kind: &str| {
        matches!(function.call, Call::Method | Call::Property)
            && function.parameters.first().is_some_and(|(_, k)| k == kind)
    };
    let own: Vec<&Function> = functions.clone().filter(|f| of(f, kind)).collect();
    if let Some(method) = own.iter().find(|f| f.name == *name) {
        return report.hint(format!("it is called: {}", method.signature()));
    }
    // What every result has, a table of its figures among it.
    let is_result = own.iter().any(|f| f.name == "rows");
    let shared = functions.filter(|f| is_result && of(f, "result"));
    let mut has: Vec<&str> = own
        .iter()
        .copied()
        .chain(shared)
        .filter(|f| f.call == Call::Property)
        .map(|f| f.name.as_str())
        .collect();
    has.sort_unstable();
    has.dedup();
    match nearest(name, own.iter().map(|f| f.name.as_str())) {
        Some(near) => report.did_you_mean(Some(near)),
        None if has.is_empty() => report,
        None => report.hint(format!("it has: {}", has.join(", "))),
    }
}

/// An entry that a map does not have.
pub(super) fn entry(name: &str, span: Span) -> Diagnostic {
    let what = format!("the map has no entry `{name}`");
    Diagnostic::error("script::unknown-name", what, span)
        .hint("`map.keys()` lists them, and `\"name\" in map` asks for one")
}

/// A variable that is not there: the nearest that the script, or the session, declares.
pub(super) fn variable(name: &str, span: Span, run: &Run) -> Diagnostic {
    let report = Diagnostic::error(
        "script::unknown-name",
        format!("there is no variable `{name}`"),
        span,
    );
    let texts = texts(span, run);
    if let Some(hint) = common_mistake(name, span, &texts[0]) {
        return report.hint(hint);
    }
    let declared: Vec<String> = texts.iter().flat_map(|text| declared_in(text)).collect();
    if declared.iter().any(|known| known == name) && is_in_a_function(span, &texts[0]) {
        return report.hint(format!(
            "a function sees only what it is given: write `fn name({name}, …)`, and give it `{name}` where it is called"
        ));
    }
    let is_function = texts
        .iter()
        .flat_map(|text| functions_in(text))
        .any(|(known, _)| known == name)
        || reference::topics()
            .iter()
            .flat_map(|topic| &topic.functions)
            .any(|f| f.name == name && f.call == Call::Function);
    if is_function {
        return report.hint(format!(
            "`{name}` is a function: it is called as {name}(…), and passed on by its name as Fn(\"{name}\")"
        ));
    }
    match nearest(name, declared.iter().map(String::as_str)) {
        Some(near) if near != name => report.hint(format!("did you mean `{near}`?")),
        _ => report.hint("texts need quotes, and a variable is made with `let`"),
    }
}

/// Words of other languages, a name of an import, and a first value without `let`.
fn common_mistake(name: &str, span: Span, text: &str) -> Option<String> {
    let known = [
        ("Let", "write `let`"),
        ("var", "write `let`"),
        ("Var", "write `let`"),
        ("def", "a function is made by `fn name(x) { … }`"),
        ("function", "a function is made by `fn name(x) { … }`"),
        ("not", "of a condition write `!`, of a claim `not(…)`"),
        ("True", "write `true`"),
        ("False", "write `false`"),
        ("None", "nothing is `()`"),
        ("null", "nothing is `()`"),
    ];
    if let Some((_, hint)) = known.iter().find(|(word, _)| *word == name) {
        return Some((*hint).to_owned());
    }
    let end = floor_char_boundary(text, span.end);
    let after = &text[end..];
    if text.contains(&format!(" as {name};"))
        && let Some(function) = after.strip_prefix('.')
    {
        let function = function
            .split(|c: char| !(c.is_alphanumeric() || c == '_'))
            .next();
        return Some(format!(
            "what is imported is called by `{name}::{}(…)`",
            function.unwrap_or_default()
        ));
    }
    let after = after.trim_start();
    let assigns = after.starts_with('=') && !after.starts_with("==");
    assigns.then(|| format!("the first time a variable gets a value it is `let {name} = …`"))
}

/// Whether a place lies within the `{ … }` of a function.
fn is_in_a_function(span: Span, text: &str) -> bool {
    let before = &text[..floor_char_boundary(text, span.start)];
    super::entry::open_brackets(before).into_iter().any(|at| {
        let line = before[..at].rfind('\n').map_or(0, |line| line + 1);
        before.as_bytes()[at] == b'{' && before[line..at].trim_start().starts_with("fn ")
    })
}

/// The text at hand, and the script or all entries of the session.
fn texts(span: Span, run: &Run) -> Vec<String> {
    let mut ids = lock(&run.entries).clone();
    ids.retain(|id| *id != span.source);
    ids.insert(0, span.source);
    let sources = lock(&run.sources);
    ids.into_iter()
        .map(|id| sources.file(id).text.clone())
        .collect()
}

/// Name and parameters of what stands behind each `fn`.
fn functions_in(text: &str) -> Vec<(String, String)> {
    let heads = text.match_indices("fn ").filter_map(|(at, _)| {
        let behind = &text[at + 3..];
        let head = &behind[..floor_char_boundary(behind, LONGEST_HEAD)];
        let (name, rest) = head.split_once('(')?;
        let (parameters, _) = rest.split_once(')')?;
        Some((name.trim().to_owned(), parameters.trim().to_owned()))
    });
    heads.take(MOST_NAMES).collect()
}

/// Names behind `let`, `const` and `for`, and `args`.
fn declared_in(text: &str) -> Vec<String> {
    let mut names = vec!["args".to_owned()];
    let mut words = text.split(|c: char| !(c.is_alphanumeric() || c == '_'));
    while let Some(word) = words.next() {
        if matches!(word, "let" | "const" | "for")
            && let Some(name) = words.next()
            && name.len() <= LONGEST_HEAD
            && names.len() < MOST_NAMES
        {
            names.push(name.to_owned());
        }
    }
    names
}
