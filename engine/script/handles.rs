//! What scripts hold: packs, pieces and results, behind types of their own.

use std::sync::Arc;

use rhai::EvalAltResult;

use super::Run;
use crate::appraisal::Appraisal;
use crate::audit::Audit;
use crate::compare::Comparison;
use crate::contrast::Contrasts;
use crate::instruction::Instruction;
use crate::model::CompiledModel;
use crate::next_look::NextLook;
use crate::next_look::overturn::Overturn;
use crate::next_look::plan::Plans;
use crate::pays::Pays;
use crate::piece::Piece;
use crate::ranking::MarkRanking;
use crate::report::chart::Chart;
use crate::sensitivity::Sensitivity;
use crate::stress::{Explained, Stress};
use crate::value::Value;
use crate::vary::Varied;
use crate::verdict::Verdict;
use crate::why_not::WhyNot;

/// What a function that can fail gives back to Rhai.
pub(super) type Raw<T> = Result<T, Box<EvalAltResult>>;

/// A pack.
#[derive(Clone)]
pub(super) struct PackHandle {
    /// The folder it was opened by, below the folder of packs.
    pub name: Arc<str>,
    pub compiled: Arc<CompiledModel>,
    pub run: Arc<Run>,
}

/// A piece, with the pack it is judged by.
#[derive(Clone)]
pub(super) struct PieceHandle {
    pub pack: PackHandle,
    pub piece: Piece,
}

/// A verdict.
#[derive(Clone)]
pub(super) struct VerdictHandle(pub Arc<Verdict>);
/// An audit.
#[derive(Clone)]
pub(super) struct AuditHandle(pub Arc<Audit>);
/// A stress run.
#[derive(Clone)]
pub(super) struct StressHandle(pub Arc<Stress>);
/// Which beliefs explain a stress run's spread.
#[derive(Clone)]
pub(super) struct ExplainedHandle(pub Arc<Explained>);
/// The marks of a pack against a fragment.
#[derive(Clone)]
pub(super) struct RankingHandle(pub Arc<MarkRanking>);
/// Contrasts.
#[derive(Clone)]
pub(super) struct ContrastsHandle(pub Arc<Contrasts>);
/// A clue varied over its states.
#[derive(Clone)]
pub(super) struct VariedHandle(pub Arc<Varied>);
/// Two verdicts side by side.
#[derive(Clone)]
pub(super) struct ComparisonHandle(pub Arc<Comparison>);
/// Why not a named maker.
#[derive(Clone)]
pub(super) struct WhyNotHandle(pub Arc<WhyNot>);
/// What an answer hangs on.
#[derive(Clone)]
pub(super) struct SensitivityHandle(pub Arc<Sensitivity>);
/// What to look at next.
#[derive(Clone)]
pub(super) struct NextLookHandle(pub Arc<NextLook>);
/// Plans of several looks.
#[derive(Clone)]
pub(super) struct PlansHandle(pub Arc<Plans>);
/// A written opinion.
#[derive(Clone)]
pub(super) struct AppraisalHandle(pub Arc<Appraisal>);
/// A chart.
#[derive(Clone)]
pub(super) struct PlotHandle(pub Arc<Chart>);
/// Readings that would overturn the verdict.
#[derive(Clone)]
pub(super) struct OverturnHandle(pub Arc<Overturn>);
/// What an opinion is asked for.
#[derive(Clone)]
pub(super) struct InstructionHandle(pub Arc<Instruction>);
/// What a piece is worth.
#[derive(Clone)]
pub(super) struct ValueHandle(pub Arc<Value>);
/// Whether a further look pays.
#[derive(Clone)]
pub(super) struct PaysHandle(pub Arc<Pays>);
