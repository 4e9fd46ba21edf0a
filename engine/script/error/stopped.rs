//! What is said of a script that is stopped, by its own functions and by Rhai alike.

pub(super) const TOO_MUCH_MEMORY: &str = "the script takes too much memory";
pub(super) const GROWS: &str = "it may take a gigabyte; does a list or map grow without end?";
pub(super) const OUT_OF_TIME: &str = "the time limit is up";
pub(super) const LONGER: &str = "--time-limit SECONDS gives it longer";
