//! Sensitivity to one parameter: published functions, distances and bounds; random networks; the packs with one number
//! changed, evaluated anew.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "../shared/networks/published.rs"]
mod published;
#[path = "oracle/random.rs"]
mod random;

#[path = "sensitivity/changed_pack.rs"]
mod changed_pack;
#[path = "sensitivity/networks.rs"]
mod networks;
#[path = "sensitivity/reference.rs"]
mod reference;
