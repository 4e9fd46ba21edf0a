//! What is read of a mark's lettering, scored against what the mark says.
//!
//! A reading of a mark is a [`Fragment`]: letters known, letters in doubt, gaps where an unknown number of letters is
//! lost. [`ln_probability`] is P(fragment | lettering of the mark, quality of the strike): the sum over every way in which
//! letters can have been lost, misread or read into the clay ([`alignment`]), letter by letter, with the chances of
//! [`StrikeChances`] and the look-alikes of [`Reading`]. No mark is ever ruled out by a spelling rule.
//!
//! The chances of all fragments sum to 1 whatever the length of the mark, so a likelihood under a long mark can be set
//! against one under a short mark: nothing is divided by a length.
//!
//! This module knows no packs: the chances come from [`crate::model`].

pub mod alignment;
pub mod device;
pub mod fragment;
pub mod lettering;
pub mod strike;

pub use alignment::{Aligned, Alignment, best_alignment, ln_probability};
pub use device::{Presence, Report};
pub use fragment::{Fragment, FragmentError, Token};
pub use lettering::{Encoded, Lettering, Reading, ReadingError};
pub use strike::{StrikeChances, StrikeError, StrikeQuality};

#[cfg(test)]
mod laws;
