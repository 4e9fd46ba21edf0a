//! What the verdict would be under other assumptions: what would change the opinion.
//!
//! Two contrasts show what the model's own structure is worth: the list of makers *closed* (no maker beyond it, no later
//! copy), and the codings *taken as independent* (each averaged over engravings, as if no copper tied them together). The
//! others leave out a group of findings.

use serde::Serialize;

use crate::circuit::{Circuit, Posterior};
use crate::model::{ClueKind, CompiledModel, MakerRole};
use crate::piece::Piece;
use crate::query::{Answer, AskError};
use crate::verdict::{Share, engravings, makers, periods};

/// The verdict as it stands.
pub const FULL_MODEL: &str = "full model";
/// No maker beyond the list, and no later copy.
pub const LIST_CLOSED: &str = "list closed: no unlisted maker, no later copy";

/// How many of the leading answers a contrast shows.
const SHOWN: usize = 4;

/// The verdict beside its contrasts.
#[derive(Clone, Debug, Serialize)]
pub struct Contrasts {
    /// The piece's title.
    pub piece: String,
    /// One for each set of assumptions; the full model first.
    pub rows: Vec<Contrast>,
}

/// The answer under one set of assumptions.
#[derive(Clone, Debug, Serialize)]
pub struct Contrast {
    /// The assumptions, in words.
    pub assumption: String,
    /// Leading makers; empty if the pack leaves them out.
    pub makers: Vec<Share>,
    /// Leading periods, most probable first.
    pub periods: Vec<Share>,
    /// Leading engravings.
    pub engravings: Vec<Share>,
    /// P(evidence), given the circumstances.
    pub probability_of_evidence: f64,
    /// Natural logarithm of P(evidence).
    pub log_evidence: f64,
}

impl CompiledModel {
    /// The verdict beside its contrasts.
    ///
    /// # Errors
    /// As for [`CompiledModel::ask`]; also if the model with independent codings is too large to be worked with.
    pub fn contrasts(&self, piece: &Piece) -> Result<Contrasts, AskError> {
        let answer = self.ask(piece)?;
        let mut rows = vec![self.contrast(FULL_MODEL, &answer.posterior)];
        let asks_maker = !self.model.catalogue.leaves_out("maker");
        if asks_maker {
            rows.push(self.contrast(LIST_CLOSED, &self.list_closed(piece, &answer)?));
        }
        let has = |kind: &ClueKind| {
            piece
                .findings()
                .iter()
                .any(|f| self.model.catalogue.clues[f.clue].kind == *kind)
        };
        if has(&ClueKind::Coding) {
            let independent = self.codings_independent(piece, &answer)?;
            rows.push(self.contrast("codings taken as independent", &independent));
        }
        for (kind, assumption) in [
            (ClueKind::Mark, "mark left out"),
            (ClueKind::Coding, "codings left out"),
        ] {
            if has(&kind) {
                let without = self.without_kind(piece, &kind);
                rows.push(self.contrast(assumption, &self.ask(&without)?.posterior));
            }
        }
        let noted = |clue: &usize| piece.findings().iter().any(|f| f.clue == *clue);
        for group in &self.model.catalogue.groups {
            if group.clues.iter().any(noted) {
                let clues = group.clues.iter();
                let without = clues.fold(piece.clone(), |piece, &clue| piece.without(clue));
                let assumption = format!("{} left out", group.name);
                rows.push(self.contrast(&assumption, &self.ask(&without)?.posterior));
            }
        }
        Ok(Contrasts {
            piece: crate::what_if::title(&self.model, piece),
            rows,
        })
    }

    /// The same, and one row for each other pack: what it makes of the piece.
    ///
    /// # Errors
    /// As for [`CompiledModel::contrasts`], under any of the packs; [`AskError::NotCarried`] if a pack has no place for a
    /// finding.
    pub fn contrasts_with(&self, piece: &Piece, others: &[&Self]) -> Result<Contrasts, AskError> {
        let mut contrasts = self.contrasts(piece)?;
        for other in others {
            let (carried, left) = piece.carried(&self.model, &other.model);
            if let Some(left) = left.first() {
                return Err(AskError::NotCarried {
                    pack: other.model.name.clone(),
                    clue: left.clue.clone(),
                    said: left.said.clone(),
                    why: left.why.clone(),
                });
            }
            let hash = other.model.hash.get(..12).unwrap_or(&other.model.hash);
            let assumption = format!("under the pack {} ({hash})", other.model.name);
            let posterior = other.ask(&carried)?.posterior;
            contrasts.rows.push(other.contrast(&assumption, &posterior));
        }
        Ok(contrasts)
    }

    fn contrast(&self, assumption: &str, posterior: &Posterior) -> Contrast {
        let leading = |mut shares: Vec<Share>| {
            shares.sort_by(|a, b| b.probability.total_cmp(&a.probability));
            shares.truncate(SHOWN);
            shares
        };
        let log_evidence = posterior.log_evidence();
        let asks_maker = !self.model.catalogue.leaves_out("maker");
        Contrast {
            assumption: assumption.to_owned(),
            makers: if asks_maker {
                leading(makers(&self.model, posterior))
            } else {
                Vec::new()
            },
            periods: leading(periods(&self.model, posterior)),
            engravings: leading(engravings(&self.model, posterior)),
            probability_of_evidence: log_evidence.exp(),
            log_evidence,
        }
    }

    /// Unlisted makers and later copies struck out, the prior of the rest not rescaled: so P(evidence) falls by what they
    /// explained.
    fn list_closed(&self, piece: &Piece, answer: &Answer) -> Result<Posterior, AskError> {
        let mut evidence = answer.entered.evidence.clone();
        let listed = self
            .model
            .catalogue
            .makers
            .iter()
            .map(|m| f64::from(u8::from(m.role == MakerRole::Listed)));
        evidence.likelihood(self.model.catalogue.maker, listed.collect());
        self.evaluate(&evidence, piece, &answer.entered)
    }

    /// Every coding averaged over the engravings given their causes, so that no copper ties the codings together.
    fn codings_independent(&self, piece: &Piece, answer: &Answer) -> Result<Posterior, AskError> {
        let Some(engraving) = self.model.catalogue.engraving else {
            return Ok(answer.posterior.clone());
        };
        let mut network = self.model.network.clone();
        for clue in self
            .model
            .catalogue
            .clues
            .iter()
            .filter(|clue| clue.kind == ClueKind::Coding)
        {
            if let crate::model::ClueTarget::Variable(coding) = clue.target {
                // The plate is that of the engraving, and goes with it.
                if let Some(plate) = self.model.catalogue.plate
                    && network.structure().parents(coding).contains(&plate)
                {
                    network = network
                        .averaged_over(coding, plate)
                        .map_err(AskError::Network)?;
                }
                network = network
                    .averaged_over(coding, engraving)
                    .map_err(AskError::Network)?;
            }
        }
        let circuit = Circuit::compile(&network)?;
        circuit
            .evaluate(&network.parameters(), &answer.entered.evidence)
            .map_err(|error| self.explain(error, piece, &answer.entered))
    }

    fn without_kind(&self, piece: &Piece, kind: &ClueKind) -> Piece {
        let clues = &self.model.catalogue.clues;
        let of_kind = (0..clues.len()).filter(|&clue| clues[clue].kind == *kind);
        of_kind.fold(piece.clone(), |piece, clue| piece.without(clue))
    }
}
