//! Dates and what dates a piece: EDTF texts, soft-ended distributions over bins of years, rules of law and record.
//!
//! Knows no pack and no network: [`crate::pack`] reads the files, [`crate::check`] makes rules of them, and
//! [`crate::piece`] enters what follows from a finding as a likelihood over the period.

pub mod edtf;
pub mod event;
pub mod registration;
pub mod rules;
pub mod soft;
pub mod terminus;

pub use edtf::{Bound, Date, Edtf, EdtfError, End, Qualifier};
pub use event::{Happened, OpenEnd};
pub use rules::{Rule, RuleBook};
pub use soft::{Bin, OutsidePeriods, Softness};
pub use terminus::{Strength, Term};
