//! Notes: first looks, second looks that replace them, and blind codings by another observer.

use super::{Compared, Earlier, Finding, HowSeen, Look, Piece, PieceError};
use crate::model::{ClueKind, Model};
use crate::nearest_name::nearest;
use crate::source::Place;

/// A finding to be noted.
struct Note {
    clue: usize,
    look: Look,
    said: String,
    compared: Option<Compared>,
}

impl Piece {
    /// The same piece, the findings that follow come by in this way.
    #[must_use]
    pub fn looked_at(&self, how: HowSeen) -> Self {
        let mut piece = self.clone();
        piece.how = how;
        piece
    }

    /// How the findings that follow are come by.
    #[must_use]
    pub fn how(&self) -> &HowSeen {
        &self.how
    }

    /// The same piece, its next finding written down at this place of a text.
    #[must_use]
    pub fn entering_at(&self, place: Option<Place>) -> Self {
        let mut piece = self.clone();
        piece.entering_at = place;
        piece
    }

    /// Where its next finding is written down.
    #[must_use]
    pub fn next_entered_at(&self) -> Option<Place> {
        self.entering_at
    }

    /// Notes a first look.
    ///
    /// # Errors
    /// - [`PieceError::AlreadyNoted`] or [`PieceError::Contradicts`] if the clue has a finding
    /// - [`PieceError::UnknownObserver`], [`PieceError::NotAsked`] for an observer the pack says nothing of
    /// - [`PieceError::OtherSizeClass`] if a coding and the size of the piece no longer agree
    pub fn note(
        &self,
        clue: usize,
        look: Look,
        said: String,
        model: &Model,
    ) -> Result<Self, PieceError> {
        self.first(
            Note {
                clue,
                look,
                said,
                compared: None,
            },
            model,
        )
    }

    /// Notes a coding that was made for the pieces of one size class, or is loosely compared with them.
    ///
    /// # Errors
    /// As for [`note`](Self::note); [`PieceError::NotACoding`] for any other clue.
    pub fn note_for_class(
        &self,
        clue: usize,
        look: Look,
        said: String,
        compared: Compared,
        model: &Model,
    ) -> Result<Self, PieceError> {
        super::require_coding(model, clue)?;
        self.first(
            Note {
                clue,
                look,
                said,
                compared: Some(compared),
            },
            model,
        )
    }

    fn first(&self, note: Note, model: &Model) -> Result<Self, PieceError> {
        let earlier = self.findings.iter().find(|f| f.clue == note.clue);
        let weighed = matches!(note.look, Look::Weighed { .. });
        // One mass is one witness, whatever it is divided by.
        if let Some(earlier) = earlier.or(self.weighed().filter(|_| weighed)) {
            let clue = model.catalogue.clues[earlier.clue].id.clone();
            let said = earlier.said.clone();
            let entered_at = earlier.entered_at;
            return Err(if earlier.look == note.look {
                PieceError::AlreadyNoted {
                    clue,
                    said,
                    entered_at,
                }
            } else {
                PieceError::Contradicts {
                    clue,
                    first: said,
                    second: note.said,
                    entered_at,
                }
            });
        }
        self.with(note, false, Vec::new(), None, model)
    }

    /// Notes what another observer made of a clue without knowing the first coding. Both are kept: they are two readings of
    /// one state, each as reliable as the pack says of its observer.
    ///
    /// # Errors
    /// - [`PieceError::NotNoted`] without a first coding
    /// - [`PieceError::BlindAlone`] if the pack lists no observers, both are by one, or one of them is taken at his word, so
    ///   that another could add nothing
    /// - as for [`note`](Self::note)
    pub fn note_blind(
        &self,
        clue: usize,
        look: Look,
        said: String,
        model: &Model,
    ) -> Result<Self, PieceError> {
        let id = &model.catalogue.clues[clue].id;
        let observer = self.observer(clue, model)?;
        let mut earlier = self.findings.iter().filter(|f| f.clue == clue).peekable();
        if earlier.peek().is_none() {
            return Err(PieceError::NotNoted { clue: id.clone() });
        }
        let alone = |why: String| PieceError::BlindAlone {
            clue: id.clone(),
            why,
        };
        let Some(observer) = observer else {
            return Err(alone(
                "this pack lists no observers; say in an observers.toml how reliable each is"
                    .to_owned(),
            ));
        };
        let observers = &model.catalogue.observers;
        let kind = &model.catalogue.clues[clue].kind;
        if !matches!(kind, ClueKind::Mark | ClueKind::Coding | ClueKind::Choice) {
            return Err(alone(
                "it is not coded by eye, and two measurements are not two readings of a coder; note the better one"
                    .to_owned(),
            ));
        }
        let own = model.catalogue.clues[clue].target;
        let mut taken_at_his_word =
            (model.catalogue.target(clue, Some(observer)) == own).then_some(observer);
        for finding in earlier {
            if finding.observer == Some(observer) {
                return Err(alone(format!(
                    "{} has coded it already; a second look of one observer replaces the first: use look_again",
                    observers[observer].name
                )));
            }
            if !matches!(
                finding.look,
                Look::Seen(_) | Look::Uncertain(_) | Look::CannotTell(_)
            ) {
                return Err(alone(format!(
                    "the first finding ({}) is no coding; code both, or keep one of them",
                    finding.said
                )));
            }
            if model.catalogue.target(clue, finding.observer) == own {
                taken_at_his_word = finding.observer.or(taken_at_his_word);
            }
        }
        if let Some(observer) = taken_at_his_word {
            return Err(alone(format!(
                "what {} reads is taken as the tables say, so that another reading could add nothing; give `{}` a chance \
                 of a right reading of it in observers.toml",
                observers[observer].name, observers[observer].id
            )));
        }
        let note = Note {
            clue,
            look,
            said,
            compared: None,
        };
        self.with(note, true, Vec::new(), None, model)
    }

    /// Notes a second look, which replaces the first; the record keeps both. Where several observers have coded the clue, it
    /// replaces the coding of the one who looks.
    ///
    /// # Errors
    /// - [`PieceError::NotNoted`] if the clue has no finding that could be replaced
    /// - [`PieceError::EarlierThanFirst`] if it is dated before the look it is to replace
    /// - as for [`note`](Self::note)
    pub fn note_again(
        &self,
        clue: usize,
        look: Look,
        said: String,
        model: &Model,
    ) -> Result<Self, PieceError> {
        let observer = self.observer(clue, model)?;
        let of_clue = || {
            self.findings
                .iter()
                .enumerate()
                .filter(|(_, f)| f.clue == clue)
        };
        let own = of_clue().find(|(_, f)| f.observer == observer);
        let only = || of_clue().next().filter(|_| of_clue().count() == 1);
        let Some((place, first)) = own.or_else(only) else {
            return Err(PieceError::NotNoted {
                clue: model.catalogue.clues[clue].id.clone(),
            });
        };
        if let (Some(before), Some(now)) = (&first.how.when, &self.how.when)
            && now < before
            // A date without a time is the whole day.
            && !before.starts_with(now.as_str())
        {
            return Err(PieceError::EarlierThanFirst {
                clue: model.catalogue.clues[clue].id.clone(),
                first: before.clone(),
                second: now.clone(),
            });
        }
        let mut replaced = first.replaced.clone();
        replaced.push(Earlier {
            observer: first.observer,
            said: first.said.clone(),
            how: first.how.clone(),
        });
        let note = Note {
            clue,
            look,
            said,
            compared: None,
        };
        self.with(note, first.blind, replaced, Some(place), model)
    }

    /// The piece with a finding more, or with one in another's place.
    fn with(
        &self,
        note: Note,
        blind: bool,
        replaced: Vec<Earlier>,
        place: Option<usize>,
        model: &Model,
    ) -> Result<Self, PieceError> {
        let observer = self.observer(note.clue, model)?;
        let finding = Finding {
            clue: note.clue,
            observer,
            look: note.look,
            said: note.said,
            how: self.how.clone(),
            blind,
            compared: note.compared,
            replaced,
            entered_at: self.entering_at,
            supposed: None,
        };
        let mut piece = self.entering_at(None);
        match place {
            Some(place) => piece.findings[place] = finding,
            None => piece.findings.push(finding),
        }
        super::size_class::check(&piece, model)?;
        super::weighing::check(&piece, model)?;
        Ok(piece)
    }

    /// Who codes: the observer named, else the pack's default; none where the pack lists none.
    fn observer(&self, clue: usize, model: &Model) -> Result<Option<usize>, PieceError> {
        let observers = &model.catalogue.observers;
        if observers.is_empty() {
            return Ok(None);
        }
        let index = match &self.how.who {
            None => model.catalogue.default_observer,
            Some(who) => Some(
                observers
                    .iter()
                    .position(|o| o.id == *who || o.name == *who)
                    .ok_or_else(|| PieceError::UnknownObserver {
                        name: who.clone(),
                        nearest: nearest(who, observers.iter().map(|o| o.id.as_str()))
                            .map(str::to_owned),
                        known: observers.iter().map(|o| o.id.clone()).collect(),
                    })?,
            ),
        };
        let (kind, id) = (
            &model.catalogue.clues[clue].kind,
            &model.catalogue.clues[clue].id,
        );
        let is_coded = matches!(kind, ClueKind::Mark | ClueKind::Coding | ClueKind::Choice);
        if let Some(observer) = index.map(|i| &observers[i])
            && is_coded
            && !observer.asked(clue)
        {
            return Err(PieceError::NotAsked {
                observer: observer.id.clone(),
                clue: id.clone(),
            });
        }
        Ok(index)
    }
}
