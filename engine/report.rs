//! Results as text or JSON. Formats; computes nothing.

pub mod chart;
pub mod html;
mod plain;
pub mod rules;
mod table;
pub mod text;
mod value;

use std::borrow::Cow;
use std::fmt::Write as _;

use serde::Serialize;

use crate::appraisal::Appraisal;
use crate::audit::Audit;
use crate::compare::Comparison;
use crate::contrast::Contrasts;
use crate::engravings::Engravings;
use crate::instruction::Instruction;
use crate::next_look::NextLook;
use crate::next_look::overturn::Overturn;
use crate::next_look::plan::Plans;
use crate::pays::Pays;
use crate::piece::FindingShown;
use crate::printable::{printable, steers};
use crate::ranking::MarkRanking;
use crate::sensitivity::Sensitivity;
use crate::stress::{Explained, Stress};
use crate::value::Value;
use crate::vary::Varied;
use crate::verdict::Verdict;
use crate::what_if::WhatIf;
use crate::why_not::WhyNot;

/// The record of a piece on its own.
#[derive(Clone, Debug, Serialize)]
pub struct Record {
    /// The piece's title.
    pub piece: String,
    /// What is supposed of it or left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub what_if: Option<WhatIf>,
    /// What was found.
    pub findings: Vec<FindingShown>,
    /// What was not looked at.
    pub not_looked: Vec<String>,
}

/// Anything a script or the command line can show.
#[derive(Clone, Debug, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Shown {
    /// A verdict.
    Verdict(Box<Verdict>),
    /// An audit.
    Audit(Audit),
    /// A stress run.
    Stress(Stress),
    /// Which beliefs explain a stress run's spread.
    Explained(Explained),
    /// What an answer hangs on, one belief at a time.
    Sensitivity(Box<Sensitivity>),
    /// A verdict beside its contrasts.
    Contrasts(Contrasts),
    /// A clue varied over its states.
    Varied(Varied),
    /// Two verdicts side by side.
    Comparison(Box<Comparison>),
    /// Why not a named maker.
    WhyNot(WhyNot),
    /// What to look at next.
    NextLook(Box<NextLook>),
    /// Plans of several looks.
    Plan(Box<Plans>),
    /// Readings that would overturn the verdict.
    Overturn(Box<Overturn>),
    /// The marks of a registry against a fragment.
    Marks(MarkRanking),
    /// The engravings of a pack.
    Engravings(Engravings),
    /// A piece's record.
    Record(Record),
    /// What law and record say.
    Rules(rules::RulesShown),
    /// A list or map.
    Plain {
        /// Its entries.
        value: serde_json::Value,
        /// The columns of a table, where they were asked for, in order; otherwise all, by name.
        #[serde(skip_serializing_if = "Option::is_none")]
        columns: Option<Vec<String>>,
    },
    /// A written opinion.
    Appraisal(Box<Appraisal>),
    /// A chart of a result, or of plain figures.
    Plot(Box<chart::Chart>),
    /// What a piece is worth.
    Value(Box<Value>),
    /// Whether a further look pays.
    Pays(Box<Pays>),
    /// What an opinion is asked for.
    Instruction(Instruction),
    /// Plain text.
    Text {
        /// The text.
        text: String,
    },
}

impl Shown {
    /// The result as text for a terminal; what would steer the terminal is shown by its sign.
    #[must_use]
    pub fn to_text(&self) -> String {
        let text = self.laid_out();
        match printable(&text) {
            Cow::Borrowed(_) => text,
            Cow::Owned(shown) => shown,
        }
    }

    fn laid_out(&self) -> String {
        match self {
            Self::Verdict(verdict) => text::verdict(verdict),
            Self::Audit(audit) => text::audit(audit),
            Self::Stress(stress) => text::stress(stress),
            Self::Explained(explained) => text::explained(explained),
            Self::Sensitivity(sensitivity) => text::sensitivity(sensitivity),
            Self::Contrasts(contrasts) => text::contrasts(contrasts),
            Self::Varied(varied) => text::varied(varied),
            Self::Comparison(comparison) => text::comparison(comparison),
            Self::WhyNot(why_not) => text::why_not(why_not),
            Self::NextLook(next) => text::next_look(next),
            Self::Plan(plans) => text::plans(plans),
            Self::Overturn(overturn) => text::overturn(overturn),
            Self::Marks(ranking) => text::marks(ranking),
            Self::Engravings(engravings) => text::engravings(engravings),
            Self::Record(record) => text::record(record),
            Self::Rules(rules) => rules::text(rules),
            Self::Plain { value, columns } => plain::text(value, columns.as_deref()),
            Self::Appraisal(appraisal) => text::appraisal(appraisal),
            Self::Plot(chart) => chart::text::text(chart),
            Self::Value(worth) => value::text(worth),
            Self::Pays(pays) => text::pays(pays),
            Self::Instruction(asked) => text::instruction(asked),
            Self::Text { text } => format!("{text}\n"),
        }
    }
}

/// Every result of one run as a JSON document, numbers in full precision (shortest text that reads back the same). What would
/// steer a terminal stands in it by its number, `\u009b`, as JSON allows of any character.
///
/// # Errors
/// None in practice: every result is plain data.
pub fn to_json(results: &[Shown]) -> Result<String, serde_json::Error> {
    #[derive(Serialize)]
    struct Document<'a> {
        program: &'static str,
        version: &'static str,
        results: &'a [Shown],
    }
    let document = serde_json::to_string_pretty(&Document {
        program: "saggar",
        version: env!("CARGO_PKG_VERSION"),
        results,
    })?;
    // Line breaks are the document's own; any other character that steers stands within a text.
    let escaped = |c: char| steers(c) && c != '\n';
    if !document.contains(escaped) {
        return Ok(document);
    }
    let mut whole = String::with_capacity(document.len());
    for c in document.chars() {
        if escaped(c) {
            let _ = write!(whole, "\\u{:04x}", u32::from(c));
        } else {
            whole.push(c);
        }
    }
    Ok(whole)
}
