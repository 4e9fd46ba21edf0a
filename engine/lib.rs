//! Saggar tells an expert appraiser who made a piece of antique printed ceramics, when, how sure that is, which clue
//! carried it, and whether the verdict would survive being a little wrong about the priors.
//!
//! One way through the house:
//!
//! ```text
//! priors/*.toml ──pack──► pack as written ──check──► model ──compile──► circuit ──evaluate──► posterior
//!                                                      ▲                   ▲                     │
//! scripts/*.rhai ──script──► piece ──────────────── evidence ──────────────┘                     ▼
//!                                       verdict, audit, stress, next look, value, appraisal ──report──► text, JSON, HTML, SVG
//! ```
//!
//! ```
//! use saggar::piece::{Look, Piece, find_clue, find_state};
//! use saggar::{check, source::Sources};
//!
//! let (mut sources, mut found) = (Sources::default(), Vec::new());
//! let folder = std::path::Path::new("priors/tidewheel");
//! let model = check::load(folder, &mut sources, &mut found)?.ok_or("defects")?;
//! let compiled = model.compile()?;
//!
//! let mut jug = Piece::new("a jug");
//! for (clue, state) in [("size", "VI"), ("search", "full"), ("mark", "none found"), ("tint", "blue")] {
//!     let index = find_clue(&compiled.model, clue)?;
//!     let seen = find_state(&compiled.model.catalogue.clues[index], state)?;
//!     jug = jug.note(index, Look::Seen(seen), state.to_owned(), &compiled.model)?;
//! }
//! let verdict = compiled.verdict(&jug)?;
//! assert!((verdict.makers.iter().map(|m| m.probability).sum::<f64>() - 1.0).abs() < 1e-12);
//! let audit = compiled.audit(&jug)?;
//! assert!((audit.posterior_decibans - audit.prior_decibans - audit.total_decibans).abs() < 1e-9);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

#![cfg_attr(test, allow(clippy::unwrap_used, reason = "a test may panic"))]

// Texts and what is said about them.
pub mod cielab;
pub mod dating;
pub mod diagnostic;
pub mod instruction;
pub mod nearest_name;
pub mod printable;
pub mod source;
pub mod stop;
pub mod units;
// Prior files → pack → model.
pub mod check;
pub mod model;
pub mod pack;
pub mod rewrite;
// Pieces of known origin → beliefs.
pub mod learn;
// Model → circuit → posterior.
pub mod circuit;
pub mod interchange;
pub mod mark;
pub mod network;
pub mod piece;
pub mod query;
pub mod question;
// What is made of a posterior.
pub mod appraisal;
pub mod audit;
pub mod compare;
pub mod contrast;
pub mod engravings;
pub mod next_look;
pub mod pays;
pub mod ranking;
pub mod sensitivity;
pub mod stress;
pub mod value;
pub mod vary;
pub mod verdict;
pub mod what_if;
pub mod why_not;
// How it is asked for and told.
pub mod report;
pub mod script;
