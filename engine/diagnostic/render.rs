//! Diagnostics as text with the offending place underlined.

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};

use super::{Diagnostic, Label, Severity};
use crate::source::{Sources, floor_char_boundary};

/// Lines longer than this many bytes are shown in part, so that a 10 MB line does not fill the screen.
const LONGEST_LINE: usize = 400;

/// One diagnostic as text; `colour` adds terminal styles.
///
/// ```text
/// error[pack::row-sum]: the row sums to 0.97
///  --> priors/tidewheel/clues.toml:14:7
/// ```
#[must_use]
pub fn render(diagnostic: &Diagnostic, sources: &Sources, colour: bool) -> String {
    let level = match diagnostic.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
    };
    let mut group = level
        .clone()
        .primary_title(diagnostic.message.as_str())
        .id(diagnostic.code)
        .element(snippet(&diagnostic.place, sources, AnnotationKind::Primary));
    for other in &diagnostic.others {
        group = group.element(snippet(other, sources, AnnotationKind::Context));
    }
    for hint in &diagnostic.hints {
        group = group.element(Level::NOTE.with_name("hint").message(hint.as_str()));
    }
    let renderer = if colour {
        Renderer::styled()
    } else {
        Renderer::plain()
    };
    let report: &[Group<'_>] = &[group];
    renderer.render(report)
}

/// The line (or the few lines) of a label, cut to a readable width.
fn snippet<'a>(
    label: &'a Label,
    sources: &'a Sources,
    kind: AnnotationKind,
) -> Snippet<'a, annotate_snippets::Annotation<'a>> {
    let file = sources.file(label.span.source);
    let text = file.text.as_str();
    let start = floor_char_boundary(text, label.span.start);
    let end = floor_char_boundary(text, label.span.end.max(start));
    let line_start = text[..start].rfind('\n').map_or(0, |p| p + 1);
    // Only the first line of a long span is underlined: a whole table as an underline helps nobody.
    let line_end = text[start..].find('\n').map_or(text.len(), |p| start + p);
    let end = end.min(line_end);
    let from = if start - line_start > LONGEST_LINE / 2 {
        floor_char_boundary(text, start - LONGEST_LINE / 4)
    } else {
        line_start
    };
    let to = floor_char_boundary(text, line_end.min(from + LONGEST_LINE));
    let end = end.clamp(start, to);
    let shown = &text[from..to];
    let line = sources.line_column(label.span).line;
    Snippet::source(shown)
        .path(file.name.as_str())
        .line_start(line)
        .annotation(
            kind.span(start - from..end - from)
                .label((!label.text.is_empty()).then_some(label.text.as_str())),
        )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::Span;

    #[test]
    fn a_long_line_is_cut_and_the_place_kept() {
        let mut sources = Sources::default();
        let text = format!("a = \"{}\"", "x".repeat(10_000_000));
        let source = sources.add("p.toml", text);
        let span = Span {
            source,
            start: 9_000_000,
            end: 9_000_010,
        };
        let shown = render(
            &Diagnostic::error("test::long", "too long", span),
            &sources,
            false,
        );
        assert!(shown.len() < 2_000, "{} bytes", shown.len());
    }
}
