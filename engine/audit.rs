//! How far each finding moved the verdict: weights of evidence in decibans for one claim against another, the leading maker
//! against all others if nothing else is asked.
//!
//! The weight of evidence of `e` for `H` is 10 log₁₀ of P(e|H)/P(e|not H), which is the shift of the log-odds of `H`.
//! Source: Good 1950, *Probability and the Weighing of Evidence*, ch. 6; Good 1979, Biometrika 66:393–396.
//!
//! "Not H" is as a rule a mixture (of all other makers, say), so weights taken one finding at a time do not add up; weights taken in order,
//! each given the findings before it, do, and so do Shapley values, which do not depend on the order. The figures stand
//! side by side, each under its own name. All of them are read from the posteriors of every subset of the findings, which
//! one pass gives; of more than twenty findings, shares are estimated.

mod coalitions;
mod histories;
mod rules;
pub mod shapley;
mod shares;
pub mod strength;

use serde::Serialize;

use crate::circuit::Posterior;
use crate::model::{Clue, ClueKind, ClueTarget, CompiledModel};
use crate::network::{EvidenceItem, Role, VariableId};
use crate::piece::{FindingShown, Piece, PieceEvidence, record};
use crate::query::AskError;
use crate::question::{Asked, Posed, Question};
use crate::what_if::WhatIf;

use coalitions::Coalitions;
pub use histories::HistoryCited;
pub use rules::RuleCited;
use shares::Shares;
use strength::Strength;

/// Rows of prior files are cited while they carry at least this share of the weight.
const ROW_SHARE: f64 = 0.1;

/// The audit of one verdict.
#[derive(Clone, Debug, Serialize)]
pub struct Audit {
    /// The piece's title.
    pub piece: String,
    /// What is supposed, so that it is no opinion on the piece as it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub what_if: Option<WhatIf>,
    /// What is weighed against what.
    pub question: Asked,
    /// Probability of the claim before any finding.
    pub prior: f64,
    /// Probability of the claim given all findings.
    pub posterior: f64,
    /// Log-odds before any finding, in decibans.
    #[serde(serialize_with = "weight")]
    pub prior_decibans: f64,
    /// Log-odds given all findings, in decibans.
    #[serde(serialize_with = "weight")]
    pub posterior_decibans: f64,
    /// Sum of the weights in order; equals the shift of the log-odds.
    #[serde(serialize_with = "weight")]
    pub total_decibans: f64,
    /// The strength of all findings together, in the words of a published scale. It says nothing of how probable the claim is.
    pub strength: Strength,
    /// One line for each finding that makes a claim, in the order noted.
    pub findings: Vec<FindingWeight>,
    /// All that was noted, with who, when, how and what was replaced.
    pub record: Vec<FindingShown>,
    /// Findings that hang together (all codings of one print), left out together.
    pub groups: Vec<GroupWeight>,
    /// Pairs of findings that change each other's weight most, the strongest first.
    pub pairs: Vec<PairWeight>,
    /// The lines of the engravings' histories by which the maker had what was printed from.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub histories: Vec<HistoryCited>,
    /// The rules of law and record behind the findings, each with its source.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub rules: Vec<RuleCited>,
}

/// What one finding did.
#[derive(Clone, Debug, Serialize)]
pub struct FindingWeight {
    /// The clue's name in scripts.
    pub clue: String,
    /// The clue's name for people.
    pub name: String,
    /// The finding.
    pub said: String,
    /// Weight given the findings noted before it, in decibans.
    #[serde(serialize_with = "weight")]
    pub in_order: f64,
    /// Probability of the claim after it, in order.
    pub probability_after: f64,
    /// Weight given all other findings (how much the log-odds would fall without it), in decibans.
    #[serde(serialize_with = "weight")]
    pub left_out: f64,
    /// Weight on its own, with no other finding, in decibans.
    #[serde(serialize_with = "weight")]
    pub alone: f64,
    /// Its share of the shift over all orders: the Shapley value, in decibans. None if some findings rule the claim, or
    /// the alternative, out: then there is no finite shift to share.
    pub shared: Option<Shared>,
    /// Lines of the prior files that speak for the claim here, most weighty first.
    pub rows: Vec<String>,
}

/// What a group of findings did together.
#[derive(Clone, Debug, Serialize)]
pub struct GroupWeight {
    /// Name of the group.
    pub name: String,
    /// How many findings it holds.
    pub n_findings: usize,
    /// Weight given all other findings, in decibans.
    #[serde(serialize_with = "weight")]
    pub left_out: f64,
    /// Weight on their own, in decibans.
    #[serde(serialize_with = "weight")]
    pub alone: f64,
    /// Their share of the shift if they come as one, in decibans.
    pub shared: Option<Shared>,
}

/// A share of the shift, in decibans.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Shared {
    /// The Shapley value.
    pub decibans: f64,
    /// Its standard error if it was estimated; none if it is exact.
    pub standard_error: Option<f64>,
}

/// How two findings change each other's weight.
#[derive(Clone, Debug, Serialize)]
pub struct PairWeight {
    /// One finding's clue, for people.
    pub first: String,
    /// The other's.
    pub second: String,
    /// What both are worth together beyond what they are worth apart: the interaction index, in decibans. Below 0 for two
    /// findings for the claim, they say in part the same thing.
    pub decibans: f64,
}

/// A weight as JSON, which has no infinite numbers: `"+inf"` rules the alternative out, `"-inf"` the claim, null is what
/// neither has.
fn weight<S: serde::Serializer>(decibans: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    match *decibans {
        f64::INFINITY => serializer.serialize_str("+inf"),
        f64::NEG_INFINITY => serializer.serialize_str("-inf"),
        weight if weight.is_nan() => serializer.serialize_none(),
        weight => serializer.serialize_f64(weight),
    }
}

/// Probability of the claim and of the alternative.
#[derive(Clone, Copy, Debug)]
struct Odds {
    claim: f64,
    alternative: f64,
}

impl Odds {
    fn of(posed: &Posed<'_>, probabilities: &[f64]) -> Self {
        let (claim, alternative) = posed.of(probabilities);
        Self { claim, alternative }
    }

    fn decibans(self) -> f64 {
        10.0 * (self.claim.log10() - self.alternative.log10())
    }
}

impl CompiledModel {
    /// The audit for the leading maker against all others.
    ///
    /// # Errors
    /// As for [`CompiledModel::ask`].
    pub fn audit(&self, piece: &Piece) -> Result<Audit, AskError> {
        let question = self.question_of_leader(&self.ask(piece)?)?;
        self.audit_on(piece, &question)
    }

    /// The audit for any question.
    ///
    /// # Errors
    /// As for [`CompiledModel::ask`]; also if the question cannot be put to the pack.
    pub fn audit_on(&self, piece: &Piece, question: &Question) -> Result<Audit, AskError> {
        let answer = self.ask(piece)?;
        let posed = self.pose(question)?;
        posed.compiled.audit_posed(piece, &answer.entered, &posed)
    }

    fn audit_posed(
        &self,
        piece: &Piece,
        entered: &PieceEvidence,
        posed: &Posed<'_>,
    ) -> Result<Audit, AskError> {
        let claims: Vec<(EvidenceItem, usize)> = entered
            .items
            .iter()
            .copied()
            .filter(|&(item, _)| !self.is_circumstance(item))
            .collect();
        let items = claims.iter().map(|&(item, _)| item).collect();
        let coalitions = Coalitions::new(posed, piece, entered, items)?;
        let prior = coalitions.odds(|_| false)?;
        let posterior = coalitions.odds(|_| true)?;
        let given = self.given(piece, entered, posed)?;
        let rows = self.rows_for(given.as_ref());
        let mut before = prior;
        let mut findings = Vec::new();
        for (step, &(item, position)) in claims.iter().enumerate() {
            let after = coalitions.odds(|i| i <= step)?;
            let finding = &piece.findings()[position];
            let clue = &self.model.catalogue.clues[finding.clue];
            findings.push(FindingWeight {
                clue: clue.id.clone(),
                name: clue.name.clone(),
                said: piece.said(position, &self.model),
                in_order: after.decibans() - before.decibans(),
                probability_after: after.claim,
                left_out: posterior.decibans() - coalitions.odds(|i| i != step)?.decibans(),
                alone: coalitions.odds(|i| i == step)?.decibans() - prior.decibans(),
                shared: None,
                rows: rows(item),
            });
            before = after;
        }
        let codings = claims
            .iter()
            .map(|&(_, position)| self.is_coding(piece, position));
        let together = std::iter::once(("all codings of the print".to_owned(), codings.collect()))
            .chain(self.readings_of_one_clue(piece, &claims))
            .chain(self.told_of_one_quality(piece, &claims))
            .chain(self.groups_of_the_pack(piece, &claims));
        let together: Vec<(String, Vec<bool>)> = together
            .filter(|(_, is_in)| is_in.iter().filter(|&&is| is).count() > 1)
            .collect();
        let members = together.iter().map(|(_, is_in)| is_in.as_slice());
        let shares = Shares::of(&coalitions, &members.collect::<Vec<_>>())?;
        for (finding, shared) in findings.iter_mut().zip(shares.findings) {
            finding.shared = shared;
        }
        let mut groups = Vec::new();
        for ((name, is_in), shared) in together.iter().zip(shares.groups) {
            groups.push(GroupWeight {
                name: name.clone(),
                n_findings: is_in.iter().filter(|&&is| is).count(),
                left_out: posterior.decibans() - coalitions.odds(|i| !is_in[i])?.decibans(),
                alone: coalitions.odds(|i| is_in[i])?.decibans() - prior.decibans(),
                shared,
            });
        }
        let pairs = shares.pairs.into_iter().map(|(a, b, decibans)| PairWeight {
            first: findings[a].name.clone(),
            second: findings[b].name.clone(),
            decibans,
        });
        let pairs = pairs.collect();
        Ok(Audit {
            piece: crate::what_if::title(&self.model, piece),
            what_if: WhatIf::of(&self.model, piece),
            question: posed.asked(),
            prior: prior.claim,
            posterior: posterior.claim,
            prior_decibans: prior.decibans(),
            posterior_decibans: posterior.decibans(),
            total_decibans: findings.iter().map(|f| f.in_order).sum(),
            strength: Strength::of(
                posterior.decibans() - prior.decibans(),
                self.model.catalogue.wording.scale,
            ),
            findings,
            record: record(piece, &self.model).0,
            groups,
            pairs,
            histories: match &given {
                Some(given) if claims.iter().any(|&(_, p)| self.is_coding(piece, p)) => {
                    histories::cited(&self.model, given)
                }
                _ => Vec::new(),
            },
            rules: rules::cited(piece, &self.model),
        })
    }

    pub(crate) fn is_circumstance(&self, item: EvidenceItem) -> bool {
        matches!(item, EvidenceItem::Variable(id) if self.model.network.variable(id).role == Role::Input)
    }

    /// Clues that several observers have coded, with their readings.
    fn readings_of_one_clue(
        &self,
        piece: &Piece,
        claims: &[(EvidenceItem, usize)],
    ) -> impl Iterator<Item = (String, Vec<bool>)> {
        let clue_of = |position: usize| piece.findings()[position].clue;
        let clues = self.model.catalogue.clues.iter().enumerate();
        clues.map(move |(clue, about)| {
            let is_of_it = claims
                .iter()
                .map(|&(_, position)| clue_of(position) == clue);
            (format!("readings of {}", about.name), is_of_it.collect())
        })
    }

    /// Hidden qualities that several findings tell of.
    fn told_of_one_quality(
        &self,
        piece: &Piece,
        claims: &[(EvidenceItem, usize)],
    ) -> impl Iterator<Item = (String, Vec<bool>)> {
        let catalogue = &self.model.catalogue;
        let tells_of = |position: usize| catalogue.clues[piece.findings()[position].clue].tells_of;
        catalogue
            .hidden
            .iter()
            .enumerate()
            .map(move |(index, quality)| {
                let is_of_it = claims
                    .iter()
                    .map(|&(_, position)| tells_of(position) == Some(index));
                let name = format!("all that tells of the {}", quality.name);
                (name, is_of_it.collect())
            })
    }

    /// Clues that the pack wants weighed as one.
    fn groups_of_the_pack(
        &self,
        piece: &Piece,
        claims: &[(EvidenceItem, usize)],
    ) -> impl Iterator<Item = (String, Vec<bool>)> {
        let clue_of = |position: usize| piece.findings()[position].clue;
        let groups = self.model.catalogue.groups.iter();
        groups.map(move |group| {
            let is_of_it = claims
                .iter()
                .map(|&(_, position)| group.clues.contains(&clue_of(position)));
            (group.name.clone(), is_of_it.collect())
        })
    }

    /// The hidden quality between a finding's item and what brings it about, if there is one.
    fn hidden_behind(&self, item: EvidenceItem) -> Option<VariableId> {
        let catalogue = &self.model.catalogue;
        let clue = match item {
            EvidenceItem::Variable(id) => catalogue.read_of(id).or_else(|| {
                let is_it = |clue: &Clue| clue.target == ClueTarget::Variable(id);
                catalogue.clues.iter().position(is_it)
            }),
            EvidenceItem::Measure(id) => {
                let is_it = |clue: &Clue| clue.target == ClueTarget::Measure(id);
                catalogue.clues.iter().position(is_it)
            }
        };
        Some(catalogue.hidden[catalogue.clues[clue?].tells_of?].variable)
    }

    fn is_coding(&self, piece: &Piece, position: usize) -> bool {
        self.model.catalogue.clues[piece.findings()[position].clue].kind == ClueKind::Coding
    }

    /// The posterior in which the claim is given beside all findings; none if the findings rule it out: then no rows speak for
    /// it.
    fn given(
        &self,
        piece: &Piece,
        entered: &PieceEvidence,
        posed: &Posed<'_>,
    ) -> Result<Option<Posterior>, AskError> {
        let mut evidence = entered.evidence.clone();
        let n_states = self.model.network.n_states(posed.variable);
        let holds = (0..n_states).map(|s| f64::from(u8::from(posed.hypothesis.contains(&s))));
        evidence.likelihood(posed.variable, holds.collect());
        match self.evaluate(&evidence, piece, entered) {
            Ok(posterior) => Ok(Some(posterior)),
            Err(AskError::Contradiction { .. }) => Ok(None),
            Err(error) => Err(error),
        }
    }

    /// For each item, the lines of the prior files that speak for the claim that is given.
    fn rows_for<'a>(
        &'a self,
        posterior: Option<&'a Posterior>,
    ) -> impl Fn(EvidenceItem) -> Vec<String> + 'a {
        move |item: EvidenceItem| {
            let mut weights: Vec<(String, f64)> = Vec::new();
            let mut add =
                |citation: &str, weight: f64| match weights.iter_mut().find(|(c, _)| c == citation)
                {
                    Some((_, sum)) => *sum += weight,
                    None => weights.push((citation.to_owned(), weight)),
                };
            let of_item = match item {
                EvidenceItem::Variable(id) => Some(id),
                EvidenceItem::Measure(id) => {
                    let weights_of = posterior.and_then(|p| p.measure_configurations(id));
                    let rules = &self.model.measures[id.index()];
                    for (configuration, &weight) in weights_of.unwrap_or(&[]).iter().enumerate() {
                        if let Some(citation) = rules.citation(configuration, &self.model.beliefs) {
                            add(citation, weight);
                        }
                    }
                    None
                }
            };
            // An observer's reading speaks through the state that was read, and what is seen of a hidden quality through the
            // rows of that quality.
            let catalogue = &self.model.catalogue;
            let read = of_item.and_then(|id| catalogue.read_of(id));
            let state = match read.map(|clue| catalogue.clues[clue].target) {
                Some(ClueTarget::Variable(state)) => Some(state),
                _ => None,
            };
            let spoken_through = state.into_iter().chain(of_item);
            for id in spoken_through.chain(self.hidden_behind(item)) {
                let family = posterior.and_then(|p| p.family(id));
                let (Some(family), Some(table)) = (family, &self.model.tables[id.index()]) else {
                    continue;
                };
                for (column, &rule) in family.column_iter().zip(&table.rule_of_configuration) {
                    for citation in &table.citations[rule] {
                        add(citation, column.sum());
                    }
                }
            }
            weights.sort_by(|a, b| b.1.total_cmp(&a.1));
            weights
                .into_iter()
                .filter(|(_, w)| *w >= ROW_SHARE)
                .map(|(citation, _)| citation)
                .collect()
        }
    }
}
