//! The condition of a piece: a grade on the pack's own scale, and its defects in words. It says nothing of who made it.

use super::{FindingShown, HowSeen, Piece, PieceError};
use crate::model::Model;
use crate::model::market::Market;

/// The condition as noted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Condition {
    /// The grade.
    pub grade: i64,
    /// What the grade means, in the pack's words.
    pub words: String,
    /// Defects in words, with millimetres.
    pub defects: Vec<String>,
    /// How it was come by.
    pub how: HowSeen,
}

impl Condition {
    /// Grade, meaning and defects in one line.
    #[must_use]
    pub fn said(&self) -> String {
        let defects = if self.defects.is_empty() {
            "no defect noted".to_owned()
        } else {
            self.defects.join("; ")
        };
        format!("{} ({}): {defects}", self.grade, self.words)
    }

    /// What grade and defects leave in doubt: the best grade with a defect, or a grade of the lower half, the middle one
    /// included, with none. Which half it is: our own choice.
    #[must_use]
    pub fn doubt(&self, market: &Market) -> Option<String> {
        let place = market
            .grades
            .iter()
            .position(|grade| grade.grade == self.grade)?;
        let graded = format!("the condition is graded {} ({})", self.grade, self.words);
        if place == 0 && market.grades.len() > 1 && !self.defects.is_empty() {
            return Some(format!(
                "{graded}, the best there is, and yet a defect is noted: {}; one of the two is wrong unless it is a fault of the making",
                self.defects.join("; ")
            ));
        }
        let is_low = place > 0 && 2 * place + 1 >= market.grades.len();
        (is_low && self.defects.is_empty()).then(|| {
            format!("{graded}, and no defect is noted: note what is damaged, with its millimetres, or grade it higher")
        })
    }
}

impl Piece {
    /// The piece in a condition.
    ///
    /// # Errors
    /// [`PieceError::NoGrades`] if the pack has no scale, [`PieceError::UnknownGrade`] for a grade that is not on it,
    /// [`PieceError::ConditionNoted`] if the condition is noted already.
    pub fn in_condition(
        &self,
        grade: i64,
        defects: Vec<String>,
        model: &Model,
    ) -> Result<Self, PieceError> {
        let market = model.market.as_ref().ok_or(PieceError::NoGrades)?;
        if let Some(noted) = &self.condition {
            return Err(PieceError::ConditionNoted { said: noted.said() });
        }
        let known = market.grades.iter().find(|known| known.grade == grade);
        let known = known.ok_or_else(|| PieceError::UnknownGrade {
            grade,
            known: market
                .grades
                .iter()
                .map(|grade| format!("{} {}", grade.grade, grade.words))
                .collect(),
        })?;
        let mut piece = self.clone();
        piece.condition = Some(Condition {
            grade,
            words: known.words.clone(),
            defects,
            how: self.how.clone(),
        });
        Ok(piece)
    }

    /// The condition, if it is noted.
    #[must_use]
    pub fn condition(&self) -> Option<&Condition> {
        self.condition.as_ref()
    }
}

/// The condition as part of the record.
pub(super) fn shown(piece: &Piece) -> Option<FindingShown> {
    Some(FindingShown {
        clue: "condition".to_owned(),
        name: "condition".to_owned(),
        said: piece.condition()?.said(),
        observer: None,
        how: piece.condition()?.how.clone(),
        blind: false,
        replaced: Vec::new(),
    })
}
