//! Where a piece stands: leader and date alone, for a line that follows every note.

use serde::Serialize;

use super::interval::{PeriodInterval, shortest};
use super::{DATE_COVERAGE, Share, makers};
use crate::model::CompiledModel;
use crate::piece::Piece;
use crate::query::{AskError, marginal};
use crate::what_if::WhatIf;

/// What leads, and when.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Standing {
    /// The most probable maker; none if the pack leaves makers out.
    pub leader: Option<Share>,
    /// The shortest interval of whole periods that holds [`DATE_COVERAGE`]; none if the pack leaves periods out.
    pub dating: Option<PeriodInterval>,
    /// Whether it is no opinion: something is supposed, left out or changed.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub is_what_if: bool,
}

impl CompiledModel {
    /// Leader and date of a piece: the same figures as in its verdict.
    ///
    /// # Errors
    /// As for [`CompiledModel::ask`].
    pub fn standing(&self, piece: &Piece) -> Result<Standing, AskError> {
        let answer = self.ask(piece)?;
        let catalogue = &self.model.catalogue;
        let leader = if catalogue.leaves_out("maker") {
            None
        } else {
            makers(&self.model, &answer.posterior).into_iter().next()
        };
        let dating = (!catalogue.leaves_out("period")).then(|| {
            let periods = marginal(&answer.posterior, catalogue.period);
            shortest(&catalogue.periods, periods, DATE_COVERAGE)
        });
        let what_if = WhatIf::of(&self.model, piece);
        Ok(Standing {
            leader,
            dating,
            is_what_if: what_if.is_some_and(|what_if| what_if.is_no_opinion),
        })
    }
}
