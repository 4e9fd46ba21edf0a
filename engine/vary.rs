//! What if: the verdict under every state of one clue or several, all else as it was found.

use rayon::prelude::*;
use serde::Serialize;

use crate::model::{ClueKind, CompiledModel};
use crate::piece::{Look, Piece, PieceError, has_no_states};
use crate::query::{AskError, marginal, most_probable};
use crate::question::{Asked, Question};

/// Rows that one table may have.
pub const MOST_ROWS: usize = 10_000;

/// The verdict under every state.
#[derive(Clone, Debug, Serialize)]
pub struct Varied {
    /// The piece's title.
    pub piece: String,
    /// What is asked.
    pub question: Asked,
    /// Probability of the claim with none of the varied clues looked at.
    pub without: f64,
    /// The varied clues, for people.
    pub clues: Vec<String>,
    /// One row for each combination of states, in the pack's order, the last clue turning fastest.
    pub rows: Vec<Variant>,
}

/// The verdict under one combination.
#[derive(Clone, Debug, Serialize)]
pub struct Variant {
    /// The states, one for each varied clue.
    pub states: Vec<String>,
    /// How probable it was to find them, given all other findings. None if a circumstance is among them, which has no chance.
    pub chance: Option<f64>,
    /// Probability of the claim; none if the findings cannot stand together so.
    pub claim: Option<f64>,
    /// The maker that leads.
    pub leader: Option<String>,
    /// Its probability.
    pub leader_probability: Option<f64>,
    /// The verdict in words.
    pub words: Option<String>,
}

/// A clue to be varied over some of its states.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Over {
    /// Position among the catalogue's clues.
    pub clue: usize,
    /// Positions of the states; none: all of them.
    pub states: Option<Vec<usize>>,
}

/// Why a what-if was not played.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum VaryError {
    /// Nothing to vary.
    #[error("nothing is varied; name a clue, such as `vary(\"tint\")`")]
    Nothing,
    /// A clue named twice.
    #[error("`{0}` is varied twice; name each clue once")]
    Twice(String),
    /// Too many combinations.
    #[error(
        "these clues have {rows} combinations of states, and a table has at most {MOST_ROWS}; vary fewer clues, or over fewer states"
    )]
    TooMany {
        /// How many there would be.
        rows: usize,
    },
    /// The piece could not be judged.
    #[error(transparent)]
    Ask(#[from] AskError),
}

impl CompiledModel {
    /// The verdict under every combination of states of some clues; without a question, for the maker that leads as found.
    ///
    /// # Errors
    /// [`VaryError`] for no clue, one named twice, one without states, or too many combinations; as for
    /// [`CompiledModel::ask`] with none of the clues looked at.
    pub fn vary(
        &self,
        piece: &Piece,
        over: &[Over],
        question: Option<&Question>,
    ) -> Result<Varied, VaryError> {
        let catalogue = &self.model.catalogue;
        let ask = |error: PieceError| VaryError::Ask(error.into());
        let mut n_rows = 1_usize;
        let mut states = Vec::new();
        for (place, varied) in over.iter().enumerate() {
            let clue = &catalogue.clues[varied.clue];
            if over[..place].iter().any(|other| other.clue == varied.clue) {
                return Err(VaryError::Twice(clue.id.clone()));
            }
            if clue.states.is_empty() {
                return Err(ask(has_no_states(clue)));
            }
            let all = || (0..clue.states.len()).collect();
            states.push(varied.states.clone().unwrap_or_else(all));
            n_rows = n_rows.saturating_mul(states[place].len());
        }
        if over.is_empty() || n_rows == 0 {
            return Err(VaryError::Nothing);
        }
        if n_rows > MOST_ROWS {
            return Err(VaryError::TooMany { rows: n_rows });
        }
        let question = match question {
            Some(question) => question.clone(),
            None => self.question_of_leader(&self.ask(piece)?)?,
        };
        let posed = self.pose(&question).map_err(AskError::from)?;
        let is_circumstance =
            |varied: &Over| catalogue.clues[varied.clue].kind == ClueKind::Circumstance;
        let has_circumstance = over.iter().any(is_circumstance);
        // A circumstance cannot be taken out where other findings need it: its clue's rows are then judged as they are.
        let others = over
            .iter()
            .filter(|varied| !is_circumstance(varied))
            .fold(piece.clone(), |piece, varied| piece.without(varied.clue));
        let without = posed.compiled.ask(&others)?.posterior;
        let claim_without = posed.of(marginal(&without, posed.variable)).0;
        let row = |row: usize| {
            let mut below = n_rows;
            let mut rest = row;
            let mut chosen = Vec::with_capacity(over.len());
            for states in &states {
                below /= states.len();
                chosen.push(states[rest / below]);
                rest %= below;
            }
            let mut variant = others.clone();
            let mut names = Vec::new();
            for (varied, &state) in over.iter().zip(&chosen) {
                let name = catalogue.clues[varied.clue].states[state].clone();
                let said = format!("supposed: {name}");
                variant = variant
                    .without(varied.clue)
                    .note(varied.clue, Look::Seen(state), said, &self.model)
                    .map_err(ask)?;
                names.push(name);
            }
            match posed.compiled.ask(&variant) {
                Ok(answer) => {
                    let p = marginal(&answer.posterior, catalogue.maker);
                    let leader = most_probable(p).unwrap_or(0);
                    let ratio = answer.posterior.log_evidence() - without.log_evidence();
                    let verdict = posed.compiled.verdict_of(&variant, &answer)?;
                    Ok(Variant {
                        states: names,
                        chance: (!has_circumstance).then(|| ratio.exp()),
                        claim: Some(posed.of(marginal(&answer.posterior, posed.variable)).0),
                        leader: Some(catalogue.makers[leader].id.clone()),
                        leader_probability: Some(p[leader]),
                        words: Some(verdict.attribution.words),
                    })
                }
                Err(AskError::Contradiction { .. }) => Ok(Variant {
                    states: names,
                    chance: (!has_circumstance).then_some(0.0),
                    claim: None,
                    leader: None,
                    leader_probability: None,
                    words: None,
                }),
                Err(error) => Err(error.into()),
            }
        };
        let rows: Result<Vec<Variant>, VaryError> = (0..n_rows).into_par_iter().map(row).collect();
        let name = |varied: &Over| catalogue.clues[varied.clue].name.clone();
        Ok(Varied {
            piece: crate::what_if::title(&self.model, piece),
            question: posed.asked(),
            without: claim_without,
            clues: over.iter().map(name).collect(),
            rows: rows?,
        })
    }
}
