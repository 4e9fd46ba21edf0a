//! A piece put to a compiled model: evidence in, posterior out, and failures in the appraiser's words.

pub mod stated_belief;

use crate::circuit::{CompileError, Posterior, QueryError};
use crate::model::CompiledModel;
use crate::network::{Evidence, EvidenceItem, NetworkError, VariableId};
use crate::piece::{Piece, PieceError, PieceEvidence};
use crate::question::{Claim, Question, QuestionError};
use crate::source::Place;
use stated_belief::{BeliefError, StatedBelief};

/// Why a piece could not be judged.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AskError {
    /// A finding cannot be turned into evidence.
    #[error(transparent)]
    Piece(#[from] PieceError),
    /// The findings have probability 0 together.
    #[error(
        "these findings cannot stand together under this pack: {}; look at them again, or give the rows concerned a small chance",
        conflicting.iter().map(|finding| finding.words.as_str()).collect::<Vec<_>>().join(" and ")
    )]
    Contradiction {
        /// A smallest set of findings that contradict each other.
        conflicting: Vec<Conflicting>,
    },
    /// A circumstance of the look is needed and not noted.
    #[error(
        "`{needed_by}` cannot be judged without `{circumstance}`; note it: {}",
        example(circumstance, states)
    )]
    CircumstanceNotGiven {
        /// The circumstance.
        circumstance: String,
        /// The clue that needs it.
        needed_by: String,
        /// Its states.
        states: Vec<String>,
    },
    /// The question cannot be put to this pack.
    #[error(transparent)]
    Question(#[from] QuestionError),
    /// A stated belief cannot be made true.
    #[error("the stated belief about {clue} ({said}) {what}")]
    Belief {
        /// The clue.
        clue: String,
        /// The belief in words.
        said: String,
        /// Why not, and how to mend it.
        what: String,
        /// Where it was written down, if in a text.
        entered_at: Option<Place>,
    },
    /// A question about makers, put to a pack that leaves them out.
    #[error(
        "this pack leaves out who made a piece, so nothing can be said about a maker; ask for the verdict"
    )]
    MakerNotAsked,
    /// A claim against another, of which the findings leave neither.
    #[error(
        "the findings rule out {claim} as well as {alternative}, so neither can be weighed against the other; ask for each on its own"
    )]
    NeitherOfTwo {
        /// The claim.
        claim: String,
        /// Its alternative.
        alternative: String,
    },
    /// Another pack has no place for a finding.
    #[error(
        "the pack {pack} has no place for {clue}: {said} ({why}); take it out first, with `without`"
    )]
    NotCarried {
        /// The pack.
        pack: String,
        /// The clue.
        clue: String,
        /// The finding.
        said: String,
        /// Why.
        why: String,
    },
    /// The network is too large.
    #[error(transparent)]
    Compile(#[from] CompileError),
    /// The network with a changed structure cannot be made.
    #[error(transparent)]
    Network(NetworkError),
    /// Anything else the circuit reports.
    #[error("{0}")]
    Query(QueryError),
}

/// A finding that cannot stand together with others.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflicting {
    /// The clue, by position in the catalogue.
    pub clue: usize,
    /// The finding as `clue: finding`.
    pub words: String,
    /// Where it was written down, if in a text.
    pub entered_at: Option<Place>,
}

fn example(circumstance: &str, states: &[String]) -> String {
    let one = |state: &String| format!("saw(\"{circumstance}\", \"{state}\")");
    states.iter().map(one).collect::<Vec<_>>().join(" or ")
}

/// The answer to one piece.
#[derive(Clone, Debug)]
pub struct Answer {
    /// All marginals and the log probability of the evidence.
    pub posterior: Posterior,
    /// What was entered.
    pub entered: PieceEvidence,
}

impl CompiledModel {
    /// The posterior given a piece, at the stated beliefs.
    ///
    /// # Errors
    /// [`AskError`] if the findings contradict each other, a circumstance is missing, or a weight cannot be judged.
    pub fn ask(&self, piece: &Piece) -> Result<Answer, AskError> {
        let mut entered = piece.evidence(&self.model, &self.model.beliefs.stated())?;
        let beliefs = piece.stated_beliefs(&self.model);
        if beliefs.is_empty() {
            let posterior = self.evaluate(&entered.evidence, piece, &entered)?;
            return Ok(Answer { posterior, entered });
        }
        let stated = |&(_, variable, probabilities)| StatedBelief {
            variable,
            probabilities,
        };
        let stated: Vec<StatedBelief<'_>> = beliefs.iter().map(stated).collect();
        let positions: Vec<usize> = beliefs.iter().map(|(position, ..)| *position).collect();
        let fitted =
            stated_belief::fit(&self.circuit, &self.parameters, &entered.evidence, &stated)
                .map_err(|error| self.explain_belief(error, piece, &entered, &positions))?;
        for (position, variable, _) in beliefs {
            let item = EvidenceItem::Variable(variable);
            entered.items.push((item, position));
        }
        entered.items.sort_by_key(|&(_, position)| position);
        entered.evidence = fitted.evidence;
        Ok(Answer {
            posterior: fitted.posterior,
            entered,
        })
    }

    /// The maker that leads in an answer, by position in the catalogue.
    ///
    /// # Errors
    /// [`AskError::MakerNotAsked`] if the pack leaves makers out.
    pub fn leader(&self, answer: &Answer) -> Result<usize, AskError> {
        let catalogue = &self.model.catalogue;
        if catalogue.leaves_out("maker") {
            return Err(AskError::MakerNotAsked);
        }
        Ok(most_probable(marginal(&answer.posterior, catalogue.maker)).unwrap_or(0))
    }

    /// The question that is asked if no other is: whether the maker that leads made it, or another.
    ///
    /// # Errors
    /// [`AskError::MakerNotAsked`] if the pack leaves makers out.
    pub fn question_of_leader(&self, answer: &Answer) -> Result<Question, AskError> {
        let leader = self.leader(answer)?;
        Ok(Question::of(Claim::maker(
            &self.model.catalogue.makers[leader].id,
        )))
    }

    /// The probability of a claim given a piece.
    ///
    /// # Errors
    /// As for [`CompiledModel::ask`]; also if the claim cannot be put to the pack.
    pub fn probability(&self, piece: &Piece, claim: &Claim) -> Result<f64, AskError> {
        let posed = self.pose(&Question::of(claim.clone()))?;
        let answer = self.ask(piece)?;
        let posterior =
            posed
                .compiled
                .evaluate(&answer.entered.evidence, piece, &answer.entered)?;
        Ok(posed.of(marginal(&posterior, posed.variable)).0)
    }

    /// The probability of a question's claim given a piece, if either it or its alternative is so: of "all else" the whole, of one
    /// other claim what is left when everything else is ruled out.
    ///
    /// # Errors
    /// As for [`CompiledModel::ask`]; also if the question cannot be put to the pack, and [`AskError::NeitherOfTwo`] if the
    /// findings rule out the claim and its alternative.
    pub fn probability_against(&self, piece: &Piece, question: &Question) -> Result<f64, AskError> {
        let posed = self.pose(question)?;
        let answer = self.ask(piece)?;
        let posterior =
            posed
                .compiled
                .evaluate(&answer.entered.evidence, piece, &answer.entered)?;
        let (claim, alternative) = posed.of(marginal(&posterior, posed.variable));
        if claim + alternative > 0.0 {
            return Ok(claim / (claim + alternative));
        }
        Err(AskError::NeitherOfTwo {
            claim: posed.hypothesis_words.clone(),
            alternative: posed.alternative_words.clone(),
        })
    }

    fn explain_belief(
        &self,
        error: BeliefError,
        piece: &Piece,
        entered: &PieceEvidence,
        positions: &[usize],
    ) -> AskError {
        let (belief, what) = match error {
            BeliefError::Query(error) => return self.explain(error, piece, entered),
            BeliefError::ContradictsCertainty {
                belief,
                state_idx,
                probability,
            } => {
                let finding = &piece.findings()[positions[belief]];
                let state = &self.model.catalogue.clues[finding.clue].states[state_idx];
                (
                    belief,
                    format!(
                        "gives {probability} to {state}, which the other findings rule out; take the belief back, look at \
                         them again, or give the rows concerned a small chance"
                    ),
                )
            }
            BeliefError::NotReached { gap, .. } => (
                0,
                format!(
                    "and the others stated do not go together under this pack, and are missed by {gap:.1e}; state fewer, or \
                     note what was seen instead of what is believed"
                ),
            ),
            BeliefError::AlreadyFound { belief } => (
                belief,
                "stands beside a finding of the same clue; keep one of them".to_owned(),
            ),
            BeliefError::NotADistribution { belief } => (
                belief,
                "does not fit the clue's states; give each its probability".to_owned(),
            ),
        };
        let finding = &piece.findings()[positions[belief]];
        AskError::Belief {
            clue: self.model.catalogue.clues[finding.clue].name.clone(),
            said: finding.said.clone(),
            what,
            entered_at: finding.entered_at,
        }
    }

    /// The posterior given part of a piece's evidence, or more than it.
    ///
    /// # Errors
    /// As for [`CompiledModel::ask`]; items that come from no finding are named by their variable.
    pub fn evaluate(
        &self,
        evidence: &Evidence,
        piece: &Piece,
        entered: &PieceEvidence,
    ) -> Result<Posterior, AskError> {
        self.circuit
            .evaluate(&self.parameters, evidence)
            .map_err(|error| self.explain(error, piece, entered))
    }

    /// A circuit's error in the appraiser's words.
    #[must_use]
    pub fn explain(&self, error: QueryError, piece: &Piece, entered: &PieceEvidence) -> AskError {
        let clues = &self.model.catalogue.clues;
        let finding = |item: EvidenceItem| {
            entered
                .items
                .iter()
                .find(|(i, _)| *i == item)
                .map(|&(_, position)| &piece.findings()[position])
        };
        match error {
            QueryError::ImpossibleEvidence { conflicting } => {
                let in_order = entered
                    .items
                    .iter()
                    .filter(|(item, _)| conflicting.contains(item));
                let named = in_order.filter_map(|&(item, _)| finding(item));
                let conflicting = named.map(|f| Conflicting {
                    clue: f.clue,
                    words: format!("{}: {}", clues[f.clue].name, f.said),
                    entered_at: f.entered_at,
                });
                AskError::Contradiction {
                    conflicting: conflicting.collect(),
                }
            }
            QueryError::InputNotGiven { input, needed_by } => {
                let variable = self.model.network.variable(input);
                AskError::CircumstanceNotGiven {
                    circumstance: variable.name.clone(),
                    needed_by: finding(needed_by)
                        .map_or_else(|| needed_by.to_string(), |f| clues[f.clue].id.clone()),
                    states: variable.states.clone(),
                }
            }
            other => AskError::Query(other),
        }
    }
}

/// The place of the largest probability, the first of equals; `None` of an empty slice.
#[must_use]
pub fn most_probable(p: &[f64]) -> Option<usize> {
    (0..p.len()).max_by(|&a, &b| p[a].total_cmp(&p[b]).then(b.cmp(&a)))
}

/// P(states) of a variable; an empty slice for one that has no distribution (below a circumstance that is not noted).
#[must_use]
pub fn marginal(posterior: &Posterior, id: VariableId) -> &[f64] {
    posterior.marginal(id).unwrap_or(&[])
}
