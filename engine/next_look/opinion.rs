//! The chance that a look changes the opinion in words.

use super::foreseen::Foreseen;
use super::worlds::Worlds;
use super::{Asked, Weighed};
use crate::network::{EvidenceItem, Finding};
use crate::piece::Piece;
use crate::verdict::Attribution;
use crate::verdict::surprise::{believed, conflict};
use crate::verdict::wording::attribution;

/// The rung of the house's ladder that needs findings without conflict.
pub(crate) const NEEDS_NO_CONFLICT: &str = "marked";

impl Asked<'_> {
    /// The chance that the opinion reads otherwise after a look. None if that cannot be said: see [`Asked::foresee`].
    pub(super) fn opinion_changes(
        &self,
        piece: &Piece,
        weighed: &Weighed<'_>,
        worlds: &Worlds,
    ) -> Option<f64> {
        let now = self.opinion(piece, &self.as_it_is(piece))?;
        let opinions = self.foresee(piece, weighed, worlds, |foreseen| {
            self.opinion(piece, &foreseen)
        })?;
        let others = opinions.into_iter().filter(|(opinion, _)| *opinion != now);
        Some(others.fold(0.0, |sum, (_, chance)| sum + chance))
    }

    /// All that is known before any further look.
    pub(crate) fn as_it_is<'a>(&'a self, piece: &'a Piece) -> Foreseen<'a> {
        Foreseen {
            piece,
            evidence: self.evidence(),
            posterior: &self.answer.posterior,
        }
    }

    /// The conflict of what is found then, in decibans; the beliefs stated of the piece as it is are left out.
    pub(crate) fn conflict(&self, piece: &Piece, foreseen: &Foreseen<'_>) -> Option<f64> {
        let mut found = foreseen.evidence.clone();
        for item in believed(piece, &self.answer) {
            // What was believed of the clue that is looked at gives way to the reading.
            let is_read = matches!(item, EvidenceItem::Variable(id)
                if matches!(found.finding(id), Some(Finding::State(_))));
            if !is_read {
                found.remove(item);
            }
        }
        conflict(&self.subject.compiled, &found).ok()
    }

    /// The rung and words of the opinion, without the numbers in them.
    fn opinion(&self, piece: &Piece, foreseen: &Foreseen<'_>) -> Option<(&'static str, String)> {
        let model = self.model();
        let said = |conflict| attribution(model, foreseen.piece, foreseen.posterior, conflict);
        let mut so = said(0.0);
        if so.rung == NEEDS_NO_CONFLICT {
            so = said(self.conflict(piece, foreseen)?);
        }
        Some((so.rung, without_number(&so)))
    }
}

/// `printed from the Quayend copy (0.93)` without its number.
fn without_number(said: &Attribution) -> String {
    match said.words.rsplit_once(" (") {
        Some((words, _)) if said.words.contains("; printed from the ") => words.to_owned(),
        _ => said.words.clone(),
    }
}
