//! How far a long run is, for whoever watches.

use std::io::IsTerminal;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use saggar::script::Progress;

/// Runs that are over sooner show no bar.
const BEFORE_A_BAR: Duration = Duration::from_millis(700);

/// A bar on the terminal for runs that take their time; none if nobody watches.
pub(super) fn bar() -> Option<Progress> {
    if !std::io::stderr().is_terminal() {
        return None;
    }
    let style = ProgressStyle::with_template("{wide_bar} {pos} of {len} draws, {percent} %");
    let bar =
        ProgressBar::new(0).with_style(style.unwrap_or_else(|_| ProgressStyle::default_bar()));
    bar.set_draw_target(ProgressDrawTarget::hidden());
    let begun: Mutex<Option<Instant>> = Mutex::default();
    Some(Progress(Arc::new(move |done, all| {
        let mut begun = begun.lock().unwrap_or_else(PoisonError::into_inner);
        let since = begun.get_or_insert_with(Instant::now).elapsed();
        if done >= all {
            bar.finish_and_clear();
            *begun = None;
        } else if since > BEFORE_A_BAR {
            if bar.is_hidden() {
                bar.reset();
                bar.set_draw_target(ProgressDrawTarget::stderr());
            }
            bar.set_length(all as u64);
            bar.set_position(done as u64);
        }
    })))
}
