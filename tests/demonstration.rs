//! The demonstration pieces: invented data, so these tests hold the engine to the pack's own arithmetic, found in other
//! ways, and claim nothing about real jugs.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "demonstration/audit.rs"]
mod audit;
#[path = "demonstration/depth_first.rs"]
mod depth_first;
#[path = "demonstration/edited_pack.rs"]
mod edited_pack;
#[path = "demonstration/enumeration.rs"]
mod enumeration;
#[path = "demonstration/findings.rs"]
mod findings;
#[path = "demonstration/looks_enumerated.rs"]
mod looks_enumerated;
#[path = "demonstration/looks_in_turn.rs"]
mod looks_in_turn;
#[path = "demonstration/next_look.rs"]
mod next_look;
#[path = "demonstration/printed.rs"]
mod printed;
#[path = "demonstration/questions.rs"]
mod questions;
#[path = "demonstration/recomputed.rs"]
mod recomputed;
#[path = "demonstration/refused.rs"]
mod refused;
#[path = "demonstration/side_by_side.rs"]
mod side_by_side;
#[path = "demonstration/stress.rs"]
mod stress;
#[path = "demonstration/what_if.rs"]
mod what_if;
#[path = "demonstration/world.rs"]
mod world;
