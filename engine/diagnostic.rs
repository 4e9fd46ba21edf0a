//! Messages about what a person wrote: what is wrong, where, what was expected, how to mend it.
//!
//! Code that finds a defect builds a [`Diagnostic`]; only [`render`] turns it into text.

pub mod render;

use serde::Serialize;

use crate::source::Span;

/// How much a diagnostic matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// The text cannot be used until it is mended.
    Error,
    /// The text can be used; an expert should look.
    Warning,
}

/// A place in a text with a few words about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Label {
    /// The place.
    pub span: Span,
    /// What is said of it; may be empty.
    pub text: String,
}

/// One finding about a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// Error or warning.
    pub severity: Severity,
    /// A stable short name, such as `pack::row-sum`.
    pub code: &'static str,
    /// What is wrong, by how much; lower case, no full stop.
    pub message: String,
    /// The place at fault.
    pub place: Label,
    /// Other places that bear on it (the first use of a duplicated name, say).
    pub others: Vec<Label>,
    /// How to mend it.
    pub hints: Vec<String>,
}

impl Diagnostic {
    /// An error at a place.
    #[must_use]
    pub fn error(code: &'static str, message: impl Into<String>, span: Span) -> Self {
        Self {
            severity: Severity::Error,
            code,
            message: message.into(),
            place: Label {
                span,
                text: String::new(),
            },
            others: Vec::new(),
            hints: Vec::new(),
        }
    }

    /// A warning at a place.
    #[must_use]
    pub fn warning(code: &'static str, message: impl Into<String>, span: Span) -> Self {
        Self {
            severity: Severity::Warning,
            ..Self::error(code, message, span)
        }
    }

    /// Words beside the underlined text.
    #[must_use]
    pub fn label(mut self, text: impl Into<String>) -> Self {
        self.place.text = text.into();
        self
    }

    /// A second place that bears on the finding.
    #[must_use]
    pub fn also(mut self, span: Span, text: impl Into<String>) -> Self {
        self.others.push(Label {
            span,
            text: text.into(),
        });
        self
    }

    /// How to mend it.
    #[must_use]
    pub fn hint(mut self, text: impl Into<String>) -> Self {
        self.hints.push(text.into());
        self
    }

    /// The hint `did you mean …`, where a known name is near.
    #[must_use]
    pub fn did_you_mean(self, nearest: Option<&str>) -> Self {
        match nearest {
            Some(name) => self.hint(format!("did you mean `{name}`?")),
            None => self,
        }
    }
}

/// Whether any of the diagnostics is an error.
#[must_use]
pub fn has_errors(diagnostics: &[Diagnostic]) -> bool {
    diagnostics.iter().any(|d| d.severity == Severity::Error)
}

/// A text cut to a length fit for a message.
#[must_use]
pub fn shorten(text: &str) -> String {
    const LONGEST: usize = 60;
    if text.chars().count() <= LONGEST {
        return text.to_owned();
    }
    text.chars().take(LONGEST).chain(['…']).collect()
}
