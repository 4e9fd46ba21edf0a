//! Two pieces, or one piece under two packs, side by side: what is found of each, and how far each clue makes them differ.
//!
//! The log-odds of a claim are the log-odds before any finding and the share of each finding (its Shapley value). So the
//! difference between two log-odds is the difference of the priors and of the shares, clue by clue, to the last digit.

use serde::Serialize;

use crate::audit::{Audit, FindingWeight};
use crate::model::CompiledModel;
use crate::piece::Piece;
use crate::query::AskError;
use crate::question::{Asked, Question};

/// Two verdicts on one question.
#[derive(Clone, Debug, Serialize)]
pub struct Comparison {
    /// The question, as the first pack words it.
    pub question: Asked,
    /// The first.
    pub first: Side,
    /// The second.
    pub second: Side,
    /// Log-odds of the second less those of the first, before any finding, in decibans.
    pub prior_decibans: f64,
    /// The same given all findings.
    pub posterior_decibans: f64,
    /// One line for each clue that was noted of either, the largest difference first.
    pub clues: Vec<ClueDifference>,
}

/// One of the two.
#[derive(Clone, Debug, Serialize)]
pub struct Side {
    /// The piece's title.
    pub piece: String,
    /// The pack's name.
    pub pack: String,
    /// SHA-256 of the pack's files.
    pub pack_sha256: String,
    /// Probability of the claim before any finding.
    pub prior: f64,
    /// Probability of the claim given all findings.
    pub posterior: f64,
    /// The verdict in words.
    pub words: String,
}

/// One clue in both.
#[derive(Clone, Debug, Serialize)]
pub struct ClueDifference {
    /// The clue, for people.
    pub clue: String,
    /// What was found of the first; none if nothing was noted.
    pub first: Option<Found>,
    /// What was found of the second.
    pub second: Option<Found>,
    /// Share in the second less share in the first, in decibans; none if one of them has no finite share.
    pub decibans: Option<f64>,
}

/// A finding and its share of the shift.
#[derive(Clone, Debug, Serialize)]
pub struct Found {
    /// The finding.
    pub said: String,
    /// Its share, in decibans; none if the findings rule out the claim or its alternative.
    pub shared: Option<f64>,
}

/// A piece and the model it is judged by.
pub type Judged<'a> = (&'a CompiledModel, &'a Piece);

/// Puts two verdicts side by side; without a question, for the maker that leads in the first.
///
/// # Errors
/// As for [`CompiledModel::ask`]; also if the question cannot be put to one of the packs.
pub fn compare(
    first: Judged<'_>,
    second: Judged<'_>,
    question: Option<&Question>,
) -> Result<Comparison, AskError> {
    let question = match question {
        Some(question) => question.clone(),
        None => first.0.question_of_leader(&first.0.ask(first.1)?)?,
    };
    let audit = |(compiled, piece): Judged<'_>| compiled.audit_on(piece, &question);
    let (one, other) = (audit(first)?, audit(second)?);
    let clues = one.findings.iter().chain(&other.findings);
    let mut ids: Vec<&str> = Vec::new();
    for finding in clues {
        if !ids.contains(&finding.clue.as_str()) {
            ids.push(&finding.clue);
        }
    }
    let mut clues: Vec<ClueDifference> = ids
        .into_iter()
        .map(|id| difference(id, &one, &other))
        .collect();
    clues.sort_by(|a, b| {
        let size = |c: &ClueDifference| c.decibans.unwrap_or(f64::INFINITY).abs();
        size(b).total_cmp(&size(a))
    });
    Ok(Comparison {
        prior_decibans: other.prior_decibans - one.prior_decibans,
        posterior_decibans: other.posterior_decibans - one.posterior_decibans,
        clues,
        first: side(first, &one)?,
        second: side(second, &other)?,
        question: one.question,
    })
}

fn side((compiled, piece): Judged<'_>, audit: &Audit) -> Result<Side, AskError> {
    Ok(Side {
        piece: crate::what_if::title(&compiled.model, piece),
        pack: compiled.model.name.clone(),
        pack_sha256: compiled.model.hash.clone(),
        prior: audit.prior,
        posterior: audit.posterior,
        words: compiled.verdict(piece)?.attribution.words,
    })
}

/// Several readings of one clue count together.
fn difference(id: &str, one: &Audit, other: &Audit) -> ClueDifference {
    let of = |audit: &Audit| {
        let findings = audit.findings.iter().filter(|f| f.clue == id);
        let findings: Vec<&FindingWeight> = findings.collect();
        let said: Vec<&str> = findings.iter().map(|f| f.said.as_str()).collect();
        let shared = findings.iter().map(|f| f.shared.map(|s| s.decibans)).sum();
        let found = Found {
            said: said.join("; "),
            shared,
        };
        (!findings.is_empty()).then_some(found)
    };
    let (first, second) = (of(one), of(other));
    let share = |found: &Option<Found>| found.as_ref().map_or(Some(0.0), |found| found.shared);
    let decibans = share(&second).zip(share(&first)).map(|(b, a)| b - a);
    let mut names = one.findings.iter().chain(&other.findings);
    let name = names.find(|f| f.clue == id).map(|f| f.name.clone());
    ClueDifference {
        clue: name.unwrap_or_default(),
        first,
        second,
        decibans,
    }
}
