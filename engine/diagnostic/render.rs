//! Diagnostics as text with the offending place underlined.

use annotate_snippets::{AnnotationKind, Group, Level, Origin, Renderer, Snippet};

use super::{Diagnostic, Label, Severity};
use crate::source::{SourceId, Sources, floor_char_boundary};

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
    let title = level
        .clone()
        .primary_title(diagnostic.message.as_str())
        .id(diagnostic.code);
    let mut group = Group::with_title(title);
    for (labels, excerpt) in excerpts(diagnostic, sources) {
        let file = sources.file(excerpt.source);
        if excerpt.is_whole_file {
            group = group.element(Origin::path(file.name.as_str()).line(1).char_column(1));
            continue;
        }
        // The renderer counts columns from the beginning of what it is given, so a cut line has its place below it.
        let cut = excerpt.from > excerpt.line_start;
        let place = sources.line_column(labels[0].span);
        let annotations = labels.iter().map(|label| {
            let kind = if std::ptr::eq(*label, &diagnostic.place) {
                AnnotationKind::Primary
            } else {
                AnnotationKind::Context
            };
            let range = excerpt.range_of(label, &file.text);
            kind.span(range)
                .label((!label.text.is_empty()).then_some(label.text.as_str()))
        });
        group = group.element(
            Snippet::source(&file.text[excerpt.from..excerpt.to])
                .path((!cut).then_some(file.name.as_str()))
                .line_start(place.line)
                .annotations(annotations),
        );
        if cut {
            let place = format!("{}:{}:{}", file.name, place.line, place.column);
            group = group.element(Level::NOTE.with_name("place").message(place));
        }
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

/// The part of a line that is shown.
struct Excerpt {
    source: SourceId,
    line_start: usize,
    from: usize,
    to: usize,
    /// An empty place at the very beginning stands for the file as a whole: no line of it is to blame.
    is_whole_file: bool,
}

/// What is shown, with the labels that point into it: those on the line of an earlier one share its excerpt.
fn excerpts<'d>(diagnostic: &'d Diagnostic, sources: &Sources) -> Vec<(Vec<&'d Label>, Excerpt)> {
    let mut excerpts: Vec<(Vec<&Label>, Excerpt)> = Vec::new();
    for label in std::iter::once(&diagnostic.place).chain(&diagnostic.others) {
        let shares = |excerpt: &Excerpt| {
            excerpt.source == label.span.source
                && (excerpt.from..excerpt.to).contains(&label.span.start)
        };
        match excerpts.iter_mut().find(|(_, excerpt)| shares(excerpt)) {
            Some((labels, _)) => labels.push(label),
            None => excerpts.push((vec![label], Excerpt::around(label, sources))),
        }
    }
    excerpts
}

impl Excerpt {
    /// The line on which a label begins, cut to a readable width.
    fn around(label: &Label, sources: &Sources) -> Self {
        let text = sources.file(label.span.source).text.as_str();
        let start = floor_char_boundary(text, label.span.start);
        let line_start = text[..start].rfind('\n').map_or(0, |p| p + 1);
        let line_end = text[start..].find('\n').map_or(text.len(), |p| start + p);
        let from = if start - line_start > LONGEST_LINE / 2 {
            floor_char_boundary(text, start - LONGEST_LINE / 4)
        } else {
            line_start
        };
        Self {
            source: label.span.source,
            line_start,
            from,
            to: floor_char_boundary(text, line_end.min(from + LONGEST_LINE)),
            is_whole_file: label.span.start == 0 && label.span.end == 0,
        }
    }

    /// Where in the excerpt a label points. Only the first line of a long place is underlined: a whole table as an
    /// underline helps nobody.
    fn range_of(&self, label: &Label, text: &str) -> std::ops::Range<usize> {
        let start = floor_char_boundary(text, label.span.start).clamp(self.from, self.to);
        let end = floor_char_boundary(text, label.span.end).clamp(start, self.to);
        start - self.from..end - self.from
    }
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
        assert!(shown.contains("p.toml:1:9000001"), "{shown}");
    }
}
