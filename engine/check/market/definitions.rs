//! Definitions of value: whose words they are in.

use super::CODE;
use crate::diagnostic::Diagnostic;
use crate::pack::text::market::Definition;

/// How a source begins that has no words to be quoted.
const NO_SOURCE: &str = "common practice";
/// How glosses begin that have strayed into a quotation.
const GLOSSES: [&str; 3] = ["taken here as", "taken as", "in our words"];

/// The words in quotation marks are the source's own, and nothing else is.
pub(super) fn check(definition: &Definition, out: &mut Vec<Diagnostic>) {
    match (&definition.words, &definition.in_our_words) {
        (None, None) => {
            let message = format!("the definition `{}` has no words", definition.id.value);
            let hint = "quote the source letter by letter in `words`, or say it in your own in `in_our_words`";
            out.push(Diagnostic::error("pack::missing", message, definition.id.span).hint(hint));
        }
        (Some(words), Some(ours)) => {
            let message = format!("the definition `{}` is said twice", definition.id.value);
            let hint = "keep `words`, if it is the source's own text, and move what the pack makes of it to `taken_as`";
            out.push(
                Diagnostic::error(CODE, message, ours.span)
                    .also(words.span, "quoted here")
                    .hint(hint),
            );
        }
        _ => {}
    }
    let Some(words) = &definition.words else {
        return;
    };
    let source = definition.source.as_ref();
    if let Some(source) = source.filter(|source| source.value.starts_with(NO_SOURCE)) {
        let message =
            "these words would be printed as a quotation, and there is no source to quote";
        out.push(
            Diagnostic::error(CODE, message, words.span)
                .also(source.span, "the source")
                .hint("move them to `in_our_words`"),
        );
    }
    let lower = words.value.to_lowercase();
    if let Some(gloss) = GLOSSES.iter().find(|gloss| lower.contains(**gloss)) {
        let message =
            format!("“{gloss}” is hardly the source's own: `words` is printed as a quotation");
        out.push(
            Diagnostic::error(CODE, message, words.span)
                .hint("move what the pack makes of it to `taken_as`"),
        );
    }
}
