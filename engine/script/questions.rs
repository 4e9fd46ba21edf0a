//! Claims and questions as values: `jug.audit(maker("K07").against(maker("K11")))`.

use rhai::plugin::export_module;
use rhai::{Dynamic, Engine};

use super::fault::{Fault, raise};
use super::handles::{PieceHandle, Raw};
use crate::question::{Claim, Question, QuestionError};

/// Something that may be true of a piece.
#[derive(Clone)]
pub(super) struct ClaimHandle(pub Claim);
/// A claim against another.
#[derive(Clone)]
pub(super) struct QuestionHandle(pub Question);

/// Registers the words for claims and questions.
pub(super) fn register(engine: &mut Engine) {
    engine.register_type_with_name::<ClaimHandle>("claim");
    engine.register_type_with_name::<QuestionHandle>("question");
    let module = rhai::exported_module!(question_functions);
    engine.register_global_module(module.into());
}

/// A claim or a question given as an argument.
pub(super) fn question(value: &Dynamic) -> Result<Question, Fault> {
    if let Some(question) = value.read_lock::<QuestionHandle>() {
        return Ok(question.0.clone());
    }
    match value.read_lock::<ClaimHandle>() {
        Some(claim) => Ok(Question::of(claim.0.clone())),
        None => Err(Fault::new("a claim or a question is wanted here")
            .hint("such as `region(\"Saltharrow\")` or `maker(\"K07\").against(maker(\"K11\"))`")),
    }
}

/// Claims that one may be put together from: put together with itself, a claim doubles with every step.
const MOST_PARTS: usize = 500;

fn bounded(n_parts: usize) -> Raw<()> {
    if n_parts <= MOST_PARTS {
        return Ok(());
    }
    let what = format!("a claim may be put together from {MOST_PARTS} others");
    Err(Fault::limit(what).raise())
}

/// The claim that a text makes: a maker, by short code or name, or a works.
pub(super) fn maker_or_works(piece: &PieceHandle, name: &str) -> Claim {
    let maker = Claim::maker(name);
    let is_works = |error: &QuestionError| {
        matches!(error, QuestionError::UnknownState { .. })
            && piece
                .pack
                .compiled
                .pose(&Question::of(Claim::works(name)))
                .is_ok()
    };
    match piece.pack.compiled.pose(&Question::of(maker.clone())) {
        Err(error) if is_works(&error) => Claim::works(name),
        _ => maker,
    }
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod question_functions {

    use crate::script::handles::AuditHandle;
    use crate::script::looks::state_name;
    use crate::script::values::DatesGiven;

    /// The claim that a maker made the piece, by short code or name: `jug.audit(maker("K07"))`.
    pub fn maker(name: &str) -> ClaimHandle {
        ClaimHandle(Claim::maker(name))
    }

    /// The claim that it was made at a works, under any of its partnerships: `jug.audit(works("Quayend"))`.
    pub fn works(name: &str) -> ClaimHandle {
        ClaimHandle(Claim::works(name))
    }

    /// The claim that it was made in a region: `jug.audit(region("Saltharrow"))`.
    pub fn region(name: &str) -> ClaimHandle {
        ClaimHandle(Claim::region(name))
    }

    /// The claim that it was made in a period of the pack: `jug.audit(period("P4"))`.
    pub fn period(id: &str) -> ClaimHandle {
        ClaimHandle(Claim::is("period", id))
    }

    /// The claim that it was made in one of the periods from the first to the last: `jug.audit(between("P3", "P5"))`.
    pub fn between(first: &str, last: &str) -> ClaimHandle {
        ClaimHandle(Claim::Between {
            first: first.to_owned(),
            last: last.to_owned(),
        })
    }

    /// The claim that it was made in these years, which begin and end with periods of the pack:
    /// `jug.audit(years("1850/1869"))`.
    pub fn years(years: DatesGiven) -> ClaimHandle {
        ClaimHandle(Claim::Years(state_name(&years)))
    }

    /// The claim that it was printed from an engraving: `jug.audit(engraving("C"))`.
    pub fn engraving(id: &str) -> ClaimHandle {
        ClaimHandle(Claim::is("engraving", id))
    }

    /// The claim that a clue or hidden quality is in truth in a state, however it was read:
    /// `jug.probability(state("foot", "recessed"))`.
    pub fn state(about: &str, state: &str) -> ClaimHandle {
        ClaimHandle(Claim::is(about, state))
    }

    /// Both claims: `jug.audit(region("Saltharrow").and(between("P3", "P5")))`.
    #[rhai_fn(return_raw)]
    pub fn and(claim: ClaimHandle, other: ClaimHandle) -> Raw<ClaimHandle> {
        bounded(claim.0.n_parts() + other.0.n_parts())?;
        Ok(ClaimHandle(claim.0.and(other.0)))
    }

    /// One claim or the other, or both: `jug.audit(maker("K06").or(maker("K07")))`.
    #[rhai_fn(return_raw)]
    pub fn or(claim: ClaimHandle, other: ClaimHandle) -> Raw<ClaimHandle> {
        bounded(claim.0.n_parts() + other.0.n_parts())?;
        Ok(ClaimHandle(claim.0.or(other.0)))
    }

    /// The claim that another is not so: `jug.probability(not(maker("K07")))`.
    #[rhai_fn(return_raw)]
    pub fn not(claim: ClaimHandle) -> Raw<ClaimHandle> {
        bounded(1 + claim.0.n_parts())?;
        Ok(ClaimHandle(claim.0.negated()))
    }

    /// A claim weighed against one other, instead of against all else: `jug.audit(maker("K07").against(maker("K11")))`.
    pub fn against(claim: ClaimHandle, other: ClaimHandle) -> QuestionHandle {
        QuestionHandle(Question::of(claim.0).against(other.0))
    }

    /// How probable a claim is, given all findings: `jug.probability(region("Saltharrow").and(years("1850/1869")))`.
    #[rhai_fn(return_raw, pure)]
    pub fn probability(piece: &mut PieceHandle, claim: ClaimHandle) -> Raw<f64> {
        let compiled = &piece.pack.compiled;
        compiled.probability(&piece.piece, &claim.0).map_err(raise)
    }

    /// The same for a maker, by short code or name, or a works: `jug.probability("K07")`.
    #[rhai_fn(return_raw, pure, name = "probability")]
    pub fn probability_of(piece: &mut PieceHandle, maker_or_works: &str) -> Raw<f64> {
        let claim = super::maker_or_works(piece, maker_or_works);
        let compiled = &piece.pack.compiled;
        compiled.probability(&piece.piece, &claim).map_err(raise)
    }

    /// The same for one claim against another: the probability of the first if it is one of the two, without all else:
    /// `jug.probability(maker("K07").against(maker("K11")))`.
    #[rhai_fn(return_raw, pure, name = "probability")]
    pub fn probability_against(piece: &mut PieceHandle, question: QuestionHandle) -> Raw<f64> {
        let compiled = &piece.pack.compiled;
        let probability = compiled.probability_against(&piece.piece, &question.0);
        probability.map_err(raise)
    }

    /// The audit for any claim against all else: `jug.audit(region("Saltharrow"))`.
    #[rhai_fn(return_raw, pure, name = "audit")]
    pub fn audit_claim(piece: &mut PieceHandle, claim: ClaimHandle) -> Raw<AuditHandle> {
        audit_question(piece, QuestionHandle(Question::of(claim.0)))
    }

    /// The audit for one claim against another: `jug.audit(maker("K07").against(maker("K11")))`.
    #[rhai_fn(return_raw, pure, name = "audit")]
    pub fn audit_question(piece: &mut PieceHandle, question: QuestionHandle) -> Raw<AuditHandle> {
        let compiled = &piece.pack.compiled;
        let audit = compiled
            .audit_on(&piece.piece, &question.0)
            .map_err(raise)?;
        Ok(AuditHandle(audit.into()))
    }
}
