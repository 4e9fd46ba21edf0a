//! Help on one function, and the names of all.

use super::function::{Call, Function};
use super::topics::topics;

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
    // A heading of the overview may be asked for too.
    let topic = topics
        .iter()
        .filter(|_| out.is_empty())
        .find(|topic| topic.title.eq_ignore_ascii_case(name));
    if let Some(topic) = topic {
        let mut names: Vec<String> = topic.functions.iter().map(listed).collect();
        names.dedup();
        out = format!(
            "{}: {}\n    {}\n",
            topic.title,
            topic.about,
            names.join("  ")
        );
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
