//! All that a written opinion holds, gathered from the results: plain data, which `report` prints.
//!
//! Nothing here is judged anew. What could not be answered is named with its reason, so that a reader sees what is missing.

mod object;
mod questions;

use serde::Serialize;

use crate::audit::Audit;
use crate::contrast::Contrasts;
use crate::instruction::{Instruction, Seen};
use crate::model::wording::OWN_WORDS;
use crate::model::{ClueKind, CompiledModel, MakerRole};
use crate::next_look::overturn::Overturn;
use crate::next_look::{NextLook, Options};
use crate::piece::Piece;
use crate::query::AskError;
use crate::sensitivity::Sensitivity;
use crate::stress::{Stress, StressError, StressPlan};
use crate::value::{Asked, Value, ValueError};
use crate::verdict::Verdict;
use crate::what_if::WhatIf;
pub use object::{FIELDS, ObjectField};
pub use questions::Answered;

/// Answers less probable than this are weighed together, except makers not listed and later copies.
const WEIGHED_FROM: f64 = 0.005;
/// Numbers of the pack that are looked at one by one.
const MOVED: usize = 12;

/// What the expert adds to the results.
#[derive(Clone, Debug, Default)]
pub struct Added {
    /// Title of the report; the piece's own if none.
    pub title: Option<String>,
    /// Fields of the Object ID record, by position in [`FIELDS`].
    pub object: Vec<(usize, String)>,
    /// Condition, in words.
    pub condition: Option<String>,
    /// Name of the script.
    pub script: Option<String>,
}

/// A written opinion.
#[derive(Clone, Debug, Serialize)]
pub struct Appraisal {
    /// Its title.
    pub title: String,
    /// What is supposed, so that it is no opinion on the piece as it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub what_if: Option<WhatIf>,
    /// The version of the program.
    pub version: &'static str,
    /// The script that describes the piece, if it has a name.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub script: Option<String>,
    /// What was asked.
    pub instruction: Instruction,
    /// The verdict.
    pub verdict: Verdict,
    /// The house's ladder of words, whole.
    pub ladder: Vec<Rung>,
    /// Makers weighed.
    pub alternatives: Vec<Alternative>,
    /// Years of the engravings that may have been used.
    pub engravings: Vec<EngravingYears>,
    /// The Object ID record.
    pub object: Vec<ObjectField>,
    /// Condition, as the expert put it or noted it of the piece.
    pub condition: Option<String>,
    /// What grade and defects leave in doubt.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub condition_doubt: Option<String>,
    /// What it is worth, if the instruction names a definition of value.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub value: Option<Value>,
    /// The evidence.
    pub audit: Audit,
    /// Doubt of the priors.
    pub stress: Stress,
    /// Other assumptions.
    pub contrasts: Contrasts,
    /// One belief at a time.
    pub sensitivity: Sensitivity,
    /// What to look at next, if that can be said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub next_look: Option<NextLook>,
    /// What would overturn the opinion, if that can be said.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub overturn: Option<Overturn>,
    /// What a hostile reader asks, answered.
    pub questions: Vec<Answered>,
    /// What is not in this report, with the reason.
    pub missing: Vec<Missing>,
    /// What is odd about the days of the instruction.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub doubts: Vec<String>,
    /// Cautions that apply besides those of the verdict.
    pub cautions: Vec<&'static str>,
}

/// A rung of the house's ladder.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Rung {
    /// Its words.
    pub words: String,
    /// The least probability it needs; none for the lowest.
    pub at_least: Option<f64>,
    /// What else it needs.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub also: Option<&'static str>,
}

/// A maker weighed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Alternative {
    /// Short code.
    pub id: String,
    /// Name.
    pub name: String,
    /// Probability.
    pub probability: f64,
    /// The firm's years, where the pack has them.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub years: Option<String>,
}

/// An engraving and who had it when.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EngravingYears {
    /// Name.
    pub name: String,
    /// Probability that the piece was printed from it.
    pub probability: f64,
    /// Makers with the years in which they can have pulled from it.
    pub had_by: Vec<(String, Vec<(i64, i64)>)>,
}

/// A part that is not there.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Missing {
    /// Which.
    pub part: &'static str,
    /// Why.
    pub why: String,
}

/// What is said besides the cautions of every verdict. Common practice of the trade, no single source.
const HANDLING: &str = "Lift with both hands over a padded surface, never by handle or rim; no tape or labels on the glaze.";
const TITLE: &str =
    "This report holds no opinion on ownership or provenance, which are as told by the owner.";
const PRIVACY: &str =
    "Names and addresses of clients do not belong into prior files or data that is handed on.";
const SOUNDNESS: &str =
    "A good ring, no glow under a lamp or no mark do not prove a piece sound, old or by anyone.";
const PHOTOGRAPHS: &str = "Seen in photographs only: base, weight, wear and restoration were not examined unless they are noted above.";
const DESCRIPTION: &str =
    "Judged from a description alone: nothing was seen, and all findings are as told.";

/// Why there is no report.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum AppraisalError {
    /// The piece cannot be judged.
    #[error(transparent)]
    Ask(#[from] AskError),
    /// The stress run failed.
    #[error(transparent)]
    Stress(#[from] StressError),
    /// A value is asked for, and cannot be given.
    #[error(transparent)]
    Value(#[from] ValueError),
}

impl CompiledModel {
    /// The written opinion on a piece, for an instruction.
    ///
    /// # Errors
    /// As for [`CompiledModel::verdict`] and [`CompiledModel::stress`]. Parts without which an opinion still stands (next looks)
    /// are named as missing instead.
    pub fn appraisal(
        &self,
        piece: &Piece,
        instruction: &Instruction,
        added: &Added,
        plan: &StressPlan<'_>,
    ) -> Result<Appraisal, AppraisalError> {
        let verdict = self.verdict(piece)?;
        let audit = self.audit(piece)?;
        let stress = self.stress(piece, plan)?;
        let contrasts = self.contrasts(piece)?;
        let sensitivity = self.sensitivity(piece, MOVED)?;
        let mut missing = Vec::new();
        let mut tell = |part, why: String| missing.push(Missing { part, why });
        let options = || Options {
            stop: plan.stop.cloned().unwrap_or_default(),
            ..Options::default()
        };
        let next_look = self.next_look(piece, &options());
        let next_look = next_look
            .map_err(|error| tell("what to look at next", error.to_string()))
            .ok();
        let overturn = self.overturn(piece, &options());
        let overturn = overturn
            .map_err(|error| tell("what would overturn the opinion", error.to_string()))
            .ok();
        let noted = piece.condition().map(crate::piece::Condition::said);
        let condition = added.condition.clone().or(noted);
        if condition.is_none() {
            tell("condition", "not noted".to_owned());
        }
        let value = match &instruction.definition {
            Some(_) => Some(self.value(piece, instruction, &Asked::default())?),
            None => {
                tell("value", "not asked".to_owned());
                None
            }
        };
        tell(
            "certification",
            "for the signatory to add, in the words that the law or the profession asks for"
                .to_owned(),
        );
        let mut cautions = vec![HANDLING, SOUNDNESS, TITLE, PRIVACY];
        match instruction.seen {
            Seen::InHand => {}
            Seen::FromPhotographs => cautions.insert(0, PHOTOGRAPHS),
            Seen::FromADescription => cautions.insert(0, DESCRIPTION),
        }
        let mut appraisal = Appraisal {
            title: added
                .title
                .clone()
                .unwrap_or_else(|| crate::what_if::title(&self.model, piece)),
            what_if: verdict.what_if.clone(),
            version: env!("CARGO_PKG_VERSION"),
            script: added.script.clone(),
            instruction: instruction.clone(),
            ladder: self.ladder(),
            alternatives: self.alternatives(&verdict),
            engravings: self.engraving_years(&verdict),
            object: object::object(&self.model, piece, &verdict, &added.object),
            condition,
            condition_doubt: piece
                .condition()
                .zip(self.model.market.as_deref())
                .and_then(|(condition, market)| condition.doubt(market)),
            value,
            verdict,
            audit,
            stress,
            contrasts,
            sensitivity,
            next_look,
            overturn,
            questions: Vec::new(),
            missing,
            doubts: instruction.doubts(),
            cautions,
        };
        let clues = self.model.catalogue.clues.iter();
        let codings = clues.filter(|clue| clue.kind == ClueKind::Coding);
        let codings: Vec<&str> = codings.map(|clue| clue.id.as_str()).collect();
        appraisal.questions = questions::answered(&appraisal, &codings);
        Ok(appraisal)
    }

    fn ladder(&self) -> Vec<Rung> {
        let wording = &self.model.catalogue.wording;
        let also = |rung: &str| match rung {
            "marked" => {
                Some("the firm's own full mark, with findings that do not pull against each other")
            }
            "works" => Some("a second of its partnerships that is a serious answer"),
            "either" => Some("the two together"),
            _ => None,
        };
        let at_least = |rung: &str| match rung {
            "marked" => Some(wording.marked),
            "attributed" | "unlisted" => Some(wording.attributed),
            "works" => Some(wording.works),
            "probably" => Some(wording.probably),
            "either" => Some(wording.either),
            "region" => Some(wording.region),
            "copy" => Some(wording.copy),
            _ => None,
        };
        let rung = |&(rung, words): &(&str, &str)| Rung {
            words: in_brackets(wording.words.get(rung).map_or(words, String::as_str)),
            at_least: at_least(rung),
            also: also(rung),
        };
        let mut ladder: Vec<Rung> = OWN_WORDS.iter().map(rung).collect();
        // It stands on the lowest rung but one, and has no words of its own to replace.
        if self.model.catalogue.engraving.is_some() {
            let engraving = Rung {
                words: "maker not identified; printed from the [engraving]".to_owned(),
                at_least: Some(wording.engraving),
                also: None,
            };
            ladder.insert(ladder.len().saturating_sub(1), engraving);
        }
        ladder
    }

    fn alternatives(&self, verdict: &Verdict) -> Vec<Alternative> {
        let makers = &self.model.catalogue.makers;
        let weighed = verdict.makers.iter().filter_map(|share| {
            let maker = makers.iter().find(|maker| maker.id == share.id)?;
            let is_weighed = share.probability >= WEIGHED_FROM || maker.role != MakerRole::Listed;
            is_weighed.then(|| Alternative {
                id: share.id.clone(),
                name: share.name.clone(),
                probability: share.probability,
                years: maker.years.map(|years| years.to_string()),
            })
        });
        weighed.collect()
    }

    fn engraving_years(&self, verdict: &Verdict) -> Vec<EngravingYears> {
        let Some(engravings) = self.engravings() else {
            return Vec::new();
        };
        let shares = verdict.engravings.iter();
        let shown = shares.filter(|share| share.probability >= WEIGHED_FROM);
        let years = shown.filter_map(|share| {
            let told = engravings.engravings.iter().find(|e| e.id == share.id)?;
            let had_by = told.at_hand.iter();
            let had_by = had_by.map(|had| {
                let spells = had.spells.iter().map(|spell| spell.possible);
                (had.maker.clone(), spells.collect())
            });
            Some(EngravingYears {
                name: told.name.clone(),
                probability: share.probability,
                had_by: had_by.collect(),
            })
        });
        years.collect()
    }
}

/// `{maker}` as `[maker]`: what stands there is filled in, in each opinion.
fn in_brackets(words: &str) -> String {
    words.replace('{', "[").replace('}', "]")
}
