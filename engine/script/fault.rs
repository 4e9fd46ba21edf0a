//! What our functions raise: the message, its remedies, and the other places that bear on it.

mod of_library;

use rhai::{Dynamic, EvalAltResult, Position};

use super::limits::{GROWS, LONGER, OUT_OF_TIME, TOO_MUCH_MEMORY};
use crate::diagnostic::Diagnostic;
use crate::nearest_name::nearest;
use crate::source::Place;

/// What kind of failure ended a script.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// The script itself.
    Script,
    /// Findings that cannot stand together.
    Contradiction,
    /// A pack that is missing or has defects.
    Pack,
}

/// An error raised by one of our functions; it travels through Rhai and gets its place in the script there.
#[derive(Clone, Debug)]
pub struct Fault {
    pub(super) message: String,
    pub(super) hints: Vec<String>,
    pub(super) cause: Cause,
    pub(super) is_limit: bool,
    /// Other places of the script that bear on it.
    pub(super) others: Vec<(Place, String)>,
    pub(super) diagnostics: Vec<Diagnostic>,
}

impl Fault {
    /// What went wrong, for a script that caught it.
    pub(super) fn message(&self) -> &str {
        &self.message
    }

    /// A fault of the script.
    pub fn new(message: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            hints: Vec::new(),
            cause: Cause::Script,
            is_limit: false,
            others: Vec::new(),
            diagnostics: Vec::new(),
        }
    }

    /// A script that would go too far.
    pub(super) fn limit(message: impl Into<String>) -> Self {
        Self {
            is_limit: true,
            ..Self::new(message)
        }
    }

    pub(super) fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hints.push(hint.into());
        self
    }

    /// Another place of the script that bears on it; nothing where it is not known.
    pub(super) fn also(mut self, place: Option<Place>, text: impl Into<String>) -> Self {
        if let Some(place) = place {
            self.others.push((place, text.into()));
        }
        self
    }

    /// The nearest of the known names as a hint; if none is near, all of them.
    pub(super) fn nearest_or_known<'a>(
        self,
        name: &str,
        known: impl Iterator<Item = &'a str> + Clone,
    ) -> Self {
        match nearest(name, known.clone()) {
            Some(near) => self.hint(format!("did you mean `{near}`?")),
            None => self.hint(format!("known: {}", known.collect::<Vec<_>>().join(", "))),
        }
    }

    /// The script's time is up.
    pub(super) fn out_of_time() -> Self {
        Self {
            is_limit: true,
            ..Self::new(OUT_OF_TIME).hint(LONGER)
        }
    }

    /// The script takes more memory than it may.
    pub(super) fn too_much_memory() -> Self {
        Self {
            is_limit: true,
            ..Self::new(TOO_MUCH_MEMORY).hint(GROWS)
        }
    }

    /// A message with its remedy, which stands after a semicolon; as a hint it gets a line of its own.
    pub(super) fn with_remedy(text: &str) -> Self {
        match text.split_once("; ") {
            Some((message, hint)) => Self::new(message).hint(hint),
            None => Self::new(text),
        }
    }

    pub(super) fn of(mut self, cause: Cause) -> Self {
        self.cause = cause;
        self
    }

    pub(super) fn with_diagnostics(mut self, diagnostics: Vec<Diagnostic>) -> Self {
        self.diagnostics = diagnostics;
        self
    }

    /// The fault as Rhai carries it.
    pub(super) fn raise(self) -> Box<EvalAltResult> {
        Box::new(EvalAltResult::ErrorRuntime(
            Dynamic::from(self),
            Position::NONE,
        ))
    }
}

/// An error of the library as Rhai carries it.
pub(super) fn raise(error: impl Into<Fault>) -> Box<EvalAltResult> {
    error.into().raise()
}
