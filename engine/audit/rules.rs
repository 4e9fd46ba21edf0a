//! The rules of law and record behind a piece's findings.

use serde::Serialize;

use crate::model::{ClueKind, Model};
use crate::piece::{Look, Piece};

/// A rule that a finding rests on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RuleCited {
    /// The rule's name, or that of the registers.
    pub rule: String,
    /// The feature in words.
    pub feature: String,
    /// What it says about the year of making.
    pub term: String,
    /// Statute, table or study.
    pub source: String,
}

impl RuleCited {
    /// All of it in one line.
    #[must_use]
    pub fn in_words(&self) -> String {
        let Self {
            rule,
            feature,
            term,
            source,
        } = self;
        format!("{rule} ({feature}): {term}; {source}")
    }
}

/// The rules behind the findings that make a claim, in the order noted.
pub(super) fn cited(piece: &Piece, model: &Model) -> Vec<RuleCited> {
    let catalogue = &model.catalogue;
    let mut cited = Vec::new();
    for finding in piece.findings() {
        match (&finding.look, &catalogue.clues[finding.clue].kind) {
            (Look::Found, ClueKind::Rule { book, rule }) => {
                let rule = &catalogue.rules[*book].rules[*rule];
                cited.push(RuleCited {
                    rule: rule.id.clone(),
                    feature: rule.name.clone(),
                    term: rule.term.to_string(),
                    source: rule.source_checked(),
                });
            }
            (Look::Registered(dates), ClueKind::Registration { book }) => {
                let Some(registers) = &catalogue.rules[*book].registers else {
                    continue;
                };
                cited.extend(dates.iter().map(|date| RuleCited {
                    rule: "registration".to_owned(),
                    feature: format!("registered {date}"),
                    term: registers.term(date).to_string(),
                    source: registers.meaning.clone(),
                }));
            }
            _ => {}
        }
    }
    cited
}
