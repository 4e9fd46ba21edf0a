//! The errors of the library as faults of a script, with the places of the script that they speak of.

use super::{Cause, Fault};
use crate::appraisal::AppraisalError;
use crate::model::pooled::PoolError;
use crate::model::supposed::SupposeError;
use crate::piece::PieceError;
use crate::query::AskError;
use crate::rewrite::RewriteError;
use crate::stress::StressError;
use crate::units::UnitError;
use crate::value::ValueError;
use crate::vary::VaryError;

impl From<PieceError> for Fault {
    fn from(error: PieceError) -> Self {
        let fault = Self::with_remedy(&error.to_string());
        match error {
            PieceError::AlreadyNoted {
                said, entered_at, ..
            }
            | PieceError::Contradicts {
                first: said,
                entered_at,
                ..
            } => fault.also(entered_at, format!("noted here: {said}")),
            _ => fault,
        }
    }
}

impl From<UnitError> for Fault {
    fn from(error: UnitError) -> Self {
        let text = error.to_string();
        let figures = text.as_bytes().windows(3);
        let is_comma = |w: &[u8]| w[0].is_ascii_digit() && w[1] == b',' && w[2].is_ascii_digit();
        if figures.into_iter().any(is_comma) {
            let written = text.split('`').nth(1).unwrap_or_default();
            return Self::new(format!("`{written}` has a comma in its number"))
                .hint("decimals stand behind a point, 0.76 kg; thousands have no sign, 1345 g");
        }
        Self::with_remedy(&text)
    }
}

impl From<AskError> for Fault {
    fn from(error: AskError) -> Self {
        let text = error.to_string();
        match error {
            AskError::Piece(error) => error.into(),
            AskError::Contradiction { conflicting } => {
                let mut fault = Self::with_remedy(&text).of(Cause::Contradiction);
                for finding in conflicting {
                    fault = fault.also(finding.entered_at, finding.words);
                }
                fault
            }
            AskError::Belief {
                said, entered_at, ..
            } => Self::with_remedy(&text)
                .of(Cause::Contradiction)
                .also(entered_at, said),
            _ => Self::with_remedy(&text),
        }
    }
}

impl From<ValueError> for Fault {
    fn from(error: ValueError) -> Self {
        match error {
            ValueError::Ask(error) => error.into(),
            other => Self::with_remedy(&other.to_string()),
        }
    }
}

impl From<SupposeError> for Fault {
    fn from(error: SupposeError) -> Self {
        Self::with_remedy(&error.to_string())
    }
}

impl From<RewriteError> for Fault {
    fn from(error: RewriteError) -> Self {
        Self::with_remedy(&error.to_string())
    }
}

impl From<PoolError> for Fault {
    fn from(error: PoolError) -> Self {
        Self::with_remedy(&error.to_string())
    }
}

impl From<VaryError> for Fault {
    fn from(error: VaryError) -> Self {
        match error {
            VaryError::Ask(error) => error.into(),
            other => Self::with_remedy(&other.to_string()),
        }
    }
}

impl From<AppraisalError> for Fault {
    fn from(error: AppraisalError) -> Self {
        match error {
            AppraisalError::Ask(error) => error.into(),
            AppraisalError::Stress(error) => error.into(),
            AppraisalError::Value(error) => error.into(),
        }
    }
}

impl From<StressError> for Fault {
    fn from(error: StressError) -> Self {
        match error {
            StressError::Ask(error) => error.into(),
            StressError::Stopped => Self::out_of_time(),
            other => Self::with_remedy(&other.to_string()),
        }
    }
}
