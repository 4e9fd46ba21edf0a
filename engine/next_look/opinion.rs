//! The chance that a look changes the opinion in words.

use super::channel::Channel;
use super::{Asked, Weighed};
use crate::circuit::Posterior;
use crate::model::{ClueKind, ClueTarget};
use crate::network::Evidence;
use crate::piece::{Look, Piece};
use crate::verdict::Attribution;
use crate::verdict::surprise::surprise;
use crate::verdict::wording::attribution;

use super::candidates::assuming;

/// The rung of the house's ladder that needs findings without conflict.
const NEEDS_NO_CONFLICT: &str = "marked";

impl Asked<'_> {
    /// The chance that the opinion reads otherwise after a look at a clue with states. `chances` are those of its readings.
    /// None if a reading cannot be put into words: the piece as described would not take it.
    pub(super) fn opinion_changes(
        &self,
        piece: &Piece,
        weighed: &Weighed<'_>,
        channel: &Channel,
        chances: &[f64],
    ) -> Option<f64> {
        let ClueTarget::Variable(target) = weighed.candidate.target else {
            return None;
        };
        let now = self.opinion(piece, &self.answer.posterior, &self.answer.entered.evidence)?;
        let clue = &self.model().catalogue.clues[weighed.candidate.clue];
        let assumed = assuming(
            self.model(),
            &self.answer.entered.evidence,
            &weighed.setting,
        );
        let compiled = &self.subject.compiled;
        let mut workspace = compiled.circuit.workspace();
        let mut changes = 0.0;
        for (reading, &chance) in channel.readings.iter().zip(chances) {
            if chance == 0.0 {
                continue;
            }
            let state = clue.states.iter().position(|state| state == reading)?;
            let mut evidence = assumed.clone();
            evidence.observe(target, state);
            let circuit = &compiled.circuit;
            let posterior = circuit.evaluate_in(&mut workspace, &compiled.parameters, &evidence);
            let then = match clue.kind {
                // What the words say of a mark depends on its reading.
                ClueKind::Mark => self.read(piece, weighed, state, reading)?,
                _ => piece.clone(),
            };
            if self.opinion(&then, posterior.ok()?, &evidence)? != now {
                changes += chance;
            }
        }
        Some(changes)
    }

    /// The piece with a reading noted, under the circumstances assumed.
    fn read(
        &self,
        piece: &Piece,
        weighed: &Weighed<'_>,
        state: usize,
        reading: &str,
    ) -> Option<Piece> {
        let model = self.model();
        let mut then = piece.clone();
        for &(circumstance, state) in &weighed.setting {
            let said = model.catalogue.clues[circumstance].states[state].clone();
            then = then
                .note(circumstance, Look::Seen(state), said, model)
                .ok()?;
        }
        let (clue, seen, said) = (
            weighed.candidate.clue,
            Look::Seen(state),
            reading.to_owned(),
        );
        let is_noted = piece.findings().iter().any(|finding| finding.clue == clue);
        let noted = match is_noted {
            true => then.note_again(clue, seen, said, model),
            false => then.note(clue, seen, said, model),
        };
        noted.ok()
    }

    /// The rung and words of the opinion, without the numbers in them.
    fn opinion(
        &self,
        piece: &Piece,
        posterior: &Posterior,
        evidence: &Evidence,
    ) -> Option<(&'static str, String)> {
        let model = self.model();
        let mut said = attribution(model, piece, posterior, 0.0);
        if said.rung == NEEDS_NO_CONFLICT {
            let mut answer = self.answer.clone();
            answer.posterior = posterior.clone();
            if *evidence != answer.entered.evidence {
                answer = self.subject.compiled.ask(piece).ok()?;
            }
            let conflict = surprise(&self.subject.compiled, piece, &answer).ok()?;
            said = attribution(model, piece, posterior, conflict.conflict_decibans);
        }
        Some((said.rung, without_number(&said)))
    }
}

/// `printed from the Quayend copy (0.93)` without its number.
fn without_number(said: &Attribution) -> String {
    match said.words.rsplit_once(" (") {
        Some((words, _)) if said.words.contains("; printed from the ") => words.to_owned(),
        _ => said.words.clone(),
    }
}
