//! Why not a named maker: which findings speak against it and for the leader, and what would have been expected of it.

use serde::Serialize;

use crate::audit::strength::Strength;
use crate::model::CompiledModel;
use crate::network::{Evidence, EvidenceItem, ItemContent, VariableId};
use crate::piece::Piece;
use crate::query::{Answer, AskError, marginal, most_probable};
use crate::question::{Asked, Claim, Question, QuestionError};

/// The leader weighed against the maker asked about.
#[derive(Clone, Debug, Serialize)]
pub struct WhyNot {
    /// The piece's title.
    pub piece: String,
    /// The leader against the maker asked about.
    pub question: Asked,
    /// Whether the maker asked about is the leader itself; what follows is then about the next one behind it.
    pub asked_leads: bool,
    /// Probability of the maker asked about, given all findings.
    pub probability: f64,
    /// Log-odds of the leader against it before any finding, in decibans.
    pub prior_decibans: f64,
    /// The same given all findings: what would have to be made up for.
    pub posterior_decibans: f64,
    /// The strength of all findings together.
    pub strength: Strength,
    /// What speaks for the leader and against the maker, the weightiest first; what speaks for the maker last.
    pub findings: Vec<Against>,
}

/// One finding between the two.
#[derive(Clone, Debug, Serialize)]
pub struct Against {
    /// The clue, for people.
    pub clue: String,
    /// The finding.
    pub said: String,
    /// Its share of the shift towards the leader (Shapley value), in decibans; none if the findings rule one of the two out.
    pub shared: Option<f64>,
    /// How probable the finding was from the maker asked about, given all other findings; none for a measured value, or if
    /// the others rule the maker out.
    pub from_maker: Option<f64>,
    /// How probable it was from the leader.
    pub from_leader: Option<f64>,
    /// The state most to be expected from the maker asked about, with its probability, given all other findings.
    pub expected: Option<(String, f64)>,
}

/// The chance of a finding, and the state that was most to be expected with its own.
type Expected = (f64, (String, f64));

impl CompiledModel {
    /// Why the leading maker and not another one; asked about the leader, why not the one behind it.
    ///
    /// # Errors
    /// As for [`CompiledModel::ask`]; [`QuestionError`] for a maker that the pack does not know, or that leads with nobody behind.
    pub fn why_not(&self, piece: &Piece, maker: &str) -> Result<WhyNot, AskError> {
        let catalogue = &self.model.catalogue;
        let asked = self.pose(&Question::of(Claim::maker(maker)))?;
        let [of_whom] = asked.hypothesis[..] else {
            unreachable!("a claim about a maker is about one");
        };
        let answer = self.ask(piece)?;
        let p = marginal(&answer.posterior, catalogue.maker);
        let leader = self.leader(&answer)?;
        let asked_leads = leader == of_whom;
        let other = match asked_leads {
            false => of_whom,
            true => {
                let others = (0..p.len()).filter(|&maker| maker != leader);
                // Of several the first, as in a verdict.
                let behind = others.rev().max_by(|&a, &b| p[a].total_cmp(&p[b]));
                behind.ok_or(QuestionError::Leads {
                    maker: asked.hypothesis_words,
                })?
            }
        };
        let other_maker = Claim::maker(&catalogue.makers[other].id);
        let question = self.question_of_leader(&answer)?.against(other_maker);
        let audit = self.audit_on(piece, &question)?;
        let claims = answer.entered.items.iter();
        let claims = claims.filter(|(item, _)| !self.is_circumstance(*item));
        let mut findings = Vec::new();
        for (weight, &(item, _)) in audit.findings.iter().zip(claims) {
            let from_leader = self.expected(piece, &answer, item, leader)?;
            let from_maker = self.expected(piece, &answer, item, other)?;
            findings.push(Against {
                clue: weight.name.clone(),
                said: weight.said.clone(),
                shared: weight.shared.map(|s| s.decibans),
                from_leader: from_leader.map(|(found, _)| found),
                from_maker: from_maker.as_ref().map(|(found, _)| *found),
                expected: from_maker.map(|(_, expected)| expected),
            });
        }
        findings.sort_by(|a, b| {
            let size = |f: &Against| f.shared.unwrap_or(0.0);
            size(b).total_cmp(&size(a))
        });
        Ok(WhyNot {
            piece: crate::what_if::title(&self.model, piece),
            question: audit.question,
            asked_leads,
            probability: p[of_whom],
            prior_decibans: audit.prior_decibans,
            posterior_decibans: audit.posterior_decibans,
            strength: audit.strength,
            findings,
        })
    }

    /// The chance of a finding from a maker given all other findings, and what was most to be expected instead. None for a
    /// measured value, or if the others rule the maker out.
    fn expected(
        &self,
        piece: &Piece,
        answer: &Answer,
        item: EvidenceItem,
        maker: usize,
    ) -> Result<Option<Expected>, AskError> {
        let EvidenceItem::Variable(variable) = item else {
            return Ok(None);
        };
        let mut others = answer.entered.evidence.clone();
        let found = likelihood(&others, variable, self.model.network.n_states(variable));
        others.remove(item);
        others.observe(self.model.catalogue.maker, maker);
        let posterior = match self.evaluate(&others, piece, &answer.entered) {
            Ok(posterior) => posterior,
            Err(AskError::Contradiction { .. }) => return Ok(None),
            Err(error) => return Err(error),
        };
        let p = marginal(&posterior, variable);
        let chance = found.iter().zip(p).map(|(weight, p)| weight * p).sum();
        let Some(first) = most_probable(p) else {
            return Ok(None);
        };
        let states = &self.model.network.variable(variable).states;
        Ok(Some((chance, (states[first].clone(), p[first]))))
    }
}

/// What was found of a variable as likelihoods, the largest of which is 1.
fn likelihood(evidence: &Evidence, variable: VariableId, n_states: usize) -> Vec<f64> {
    let item = EvidenceItem::Variable(variable);
    let content = evidence.items().find(|(i, _)| *i == item);
    match content.map(|(_, content)| content) {
        Some(ItemContent::State(state)) => {
            let is_it = |s| f64::from(u8::from(s == state));
            (0..n_states).map(is_it).collect()
        }
        Some(ItemContent::Likelihood(weights)) => {
            let most = weights.iter().copied().fold(0.0, f64::max);
            weights.iter().map(|w| w / most).collect()
        }
        _ => vec![1.0; n_states],
    }
}
