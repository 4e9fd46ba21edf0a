//! What a look tells, against published networks, brute force and other ways to search for plans.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "next_look/information.rs"]
mod information;
#[path = "next_look/measures.rs"]
mod measures;
#[allow(dead_code, reason = "shared with other tests")]
mod oracle;
#[path = "next_look/plans.rs"]
mod plans;
#[path = "../shared/networks/published.rs"]
mod published;
#[path = "oracle/random.rs"]
mod random;
