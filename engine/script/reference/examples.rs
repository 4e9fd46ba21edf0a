//! The examples: what they suppose, and how they are taken out of the words of a function.

use super::function::Call;

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

/// Doc comments as Markdown: lines of one paragraph joined, so that no example is broken.
pub(super) fn prose(comments: &[String]) -> String {
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
pub(super) fn examples(text: &str, name: &str, call: Call) -> Vec<String> {
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
pub(super) fn without_examples(text: &str) -> String {
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

#[cfg(test)]
mod tests {
    use super::*;

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
