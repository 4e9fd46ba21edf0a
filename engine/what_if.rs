//! What stands under a result besides what was found and what the pack's files say: findings supposed or left out, prior files
//! changed for one run or pooled. Whoever is shown the result must not be able to miss it.

use serde::Serialize;

use crate::model::Model;
use crate::piece::Piece;

/// Clues named in a title; of more, the number is given.
const NAMED: usize = 3;

/// A finding with the clue's name.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Told {
    /// The clue's name for people.
    pub name: String,
    /// The finding in words.
    pub said: String,
    /// What was found of the clue in truth, if something else is supposed of it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub found: Option<String>,
}

/// Everything that makes a result a what-if.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct WhatIf {
    /// All of it in one line.
    pub words: String,
    /// Whether it is no opinion at all; else it is one on pooled prior files.
    pub is_no_opinion: bool,
    /// Findings that were supposed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub supposed: Vec<Told>,
    /// Findings that were left out.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub left_out: Vec<Told>,
    /// Changes of the prior files.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub prior_files: Vec<String>,
    /// Packs that were pooled, each with its weight.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub pooled: Vec<String>,
}

impl WhatIf {
    /// What is supposed of a piece and of the model that judges it; none if nothing is.
    #[must_use]
    pub fn of(model: &Model, piece: &Piece) -> Option<Self> {
        let supposed = supposed(model, piece);
        let left_out = left_out(model, piece);
        let (prior_files, pooled) = (model.altered.supposed.clone(), model.altered.pooled.clone());
        let is_no_opinion = !(supposed.is_empty() && left_out.is_empty() && prior_files.is_empty());
        if !is_no_opinion && pooled.is_empty() {
            return None;
        }
        let mut parts = Vec::new();
        let mut part = |what: &str, all: Vec<String>| {
            if !all.is_empty() {
                parts.push(format!("{what}: {}", all.join(", ")));
            }
        };
        let named = |told: &Told| match &told.found {
            Some(found) => format!("{} {} (found: {found})", told.name, told.said),
            None => format!("{} {}", told.name, told.said),
        };
        part("supposed", supposed.iter().map(named).collect());
        let aside = |told: &Told| format!("{} (found: {})", told.name, told.said);
        part("left out", left_out.iter().map(aside).collect());
        part("prior files changed", prior_files.clone());
        part("prior files pooled", pooled.clone());
        let head = match is_no_opinion {
            true => "what-if, not an opinion",
            false => "on pooled prior files, no single expert's",
        };
        Some(Self {
            words: format!("{head}: {}", parts.join("; ")),
            is_no_opinion,
            supposed,
            left_out,
            prior_files,
            pooled,
        })
    }

    /// The caution that goes first.
    #[must_use]
    pub fn caution(&self) -> String {
        let rests = match self.is_no_opinion {
            true => {
                "It shows what would follow, and may not be given to anybody as an opinion on the piece, or as its value."
            }
            false => {
                "Whoever relies on it must know whose prior files were pooled, and by which weights."
            }
        };
        format!("{}. {rests}", capital(&self.words))
    }
}

/// The cautions of a result, with what is supposed first.
#[must_use]
pub fn with_caution(what_if: Option<&WhatIf>, cautions: &[&str]) -> Vec<String> {
    let first = what_if.map(WhatIf::caution);
    let all = cautions.iter().map(|caution| (*caution).to_owned());
    first.into_iter().chain(all).collect()
}

/// A piece's title, with what is supposed of it.
#[must_use]
pub fn title(model: &Model, piece: &Piece) -> String {
    let clue = |clue: usize| model.catalogue.clues.get(clue).map(|clue| clue.id.as_str());
    let mut parts = Vec::new();
    let mut part = |ids: Vec<&str>, what: &str| match ids.len() {
        0 => {}
        more if more > NAMED => parts.push(format!("{more} findings {what}")),
        _ => parts.push(format!("{} {what}", ids.join(", "))),
    };
    let findings = piece.findings().iter();
    let supposed = findings.filter(|finding| finding.supposed.is_some());
    part(
        supposed.filter_map(|finding| clue(finding.clue)).collect(),
        "supposed",
    );
    let aside = piece
        .left_out()
        .iter()
        .filter(|left| is_out(piece, left.clue, &left.said));
    part(
        aside.filter_map(|left| clue(left.clue)).collect(),
        "left out",
    );
    if !model.altered.supposed.is_empty() {
        parts.push("prior files changed".to_owned());
    }
    let title = &piece.title;
    match (parts.is_empty(), model.altered.pooled.is_empty()) {
        (true, true) => title.clone(),
        (true, false) => format!("{title} [prior files pooled]"),
        (false, _) => format!("{title} [what-if: {}]", parts.join("; ")),
    }
}

fn supposed(model: &Model, piece: &Piece) -> Vec<Told> {
    let told = piece.findings().iter().filter_map(|finding| {
        let said = finding.supposed.clone()?;
        let found = piece.left_out().iter();
        let mut found = found.filter(|left| left.clue == finding.clue);
        Some(Told {
            name: model.catalogue.clues.get(finding.clue)?.name.clone(),
            said,
            found: found.next().map(|left| left.said.clone()),
        })
    });
    told.collect()
}

fn left_out(model: &Model, piece: &Piece) -> Vec<Told> {
    let aside = piece
        .left_out()
        .iter()
        .filter(|left| is_out(piece, left.clue, &left.said));
    let told = aside.filter_map(|left| {
        Some(Told {
            name: model.catalogue.clues.get(left.clue)?.name.clone(),
            said: left.said.clone(),
            found: None,
        })
    });
    told.collect()
}

/// Whether a finding that was left out has neither come back as it was nor something supposed in its place.
fn is_out(piece: &Piece, clue: usize, said: &str) -> bool {
    let mut findings = piece.findings().iter();
    !findings.any(|f| f.clue == clue && (f.supposed.is_some() || f.said == said))
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().collect::<String>() + letters.as_str()
    })
}
