//! The reference in the form that editors for Rhai read.

use super::registered::idle;
use super::type_names::type_names;
use crate::script::host;

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
