//! When long work has to end before it is done.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Instant;

/// Says that work is to end: as soon as a time has come, or somebody has asked for it.
///
/// ```
/// use saggar::stop::{Asked, Stop};
/// let asked = Asked::default();
/// let stop = Stop { at: None, asked: Some(asked.clone()) };
/// assert!(!stop.is_due());
/// asked.ask();
/// assert!(stop.is_due());
/// ```
#[derive(Clone, Debug, Default)]
pub struct Stop {
    /// When at the latest.
    pub at: Option<Instant>,
    /// Whoever may ask.
    pub asked: Option<Asked>,
}

impl Stop {
    /// Whether to end now.
    #[must_use]
    pub fn is_due(&self) -> bool {
        self.asked.as_ref().is_some_and(Asked::is_asked)
            || self.at.is_some_and(|at| Instant::now() >= at)
    }
}

/// A wish to end, which one thread may have and all others see.
#[derive(Clone, Debug, Default)]
pub struct Asked(Arc<AtomicBool>);

impl Asked {
    /// Asks to end.
    pub fn ask(&self) {
        self.0.store(true, Ordering::Relaxed);
    }

    /// Takes the wish back.
    pub fn take_back(&self) {
        self.0.store(false, Ordering::Relaxed);
    }

    /// Whether somebody has asked.
    #[must_use]
    pub fn is_asked(&self) -> bool {
        self.0.load(Ordering::Relaxed)
    }
}
