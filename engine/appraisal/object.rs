//! The Object ID record: what the expert says of the object, and what the findings say.

use serde::Serialize;

use crate::model::{ClueKind, Model};
use crate::piece::Piece;
use crate::verdict::Verdict;

/// The fields: name in scripts, name for people. Source: *Introduction to Object ID*, International Council of Museums (ICOM).
pub const FIELDS: [(&str, &str); 11] = [
    ("photographs", "photographs"),
    ("type", "type of object"),
    ("measurements", "measurements"),
    ("materials", "materials and techniques"),
    ("inscriptions", "inscriptions and markings"),
    ("features", "distinguishing features"),
    ("title", "title"),
    ("subject", "subject"),
    ("date", "date or period"),
    ("maker", "maker"),
    ("description", "description"),
];

/// Fields that hold the opinion: what the expert notes of them stands beside it, never in its place.
const OPINIONS: [&str; 2] = ["date", "maker"];

/// A field of the record.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ObjectField {
    /// Its name for people.
    pub field: &'static str,
    /// What is said; none if it was not noted.
    pub text: Option<String>,
    /// Whether the program filled it, from findings and verdict.
    pub from_findings: bool,
    /// What the expert notes beside the opinion.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub told: Option<String>,
}

/// The record: the expert's words first, where there are none the findings'; of maker and date the opinion first.
pub(super) fn object(
    model: &Model,
    piece: &Piece,
    verdict: &Verdict,
    added: &[(usize, String)],
) -> Vec<ObjectField> {
    let clues = &model.catalogue.clues;
    let found = |wanted: fn(&ClueKind) -> bool| {
        let kinds = piece.findings().iter();
        let ids: Vec<&str> = kinds
            .filter(|finding| wanted(&clues[finding.clue].kind))
            .map(|finding| clues[finding.clue].id.as_str())
            .collect();
        let said = verdict.findings.iter();
        let said = said.filter(|finding| ids.contains(&finding.clue.as_str()));
        let said: Vec<String> = said
            .map(|finding| format!("{}: {}", finding.name, finding.said))
            .collect();
        (!said.is_empty()).then(|| said.join("; "))
    };
    let from_findings = |name: &str| match name {
        "measurements" => found(|kind| matches!(kind, ClueKind::Size | ClueKind::Weight { .. })),
        "inscriptions" => found(|kind| {
            matches!(
                kind,
                ClueKind::Mark | ClueKind::Date | ClueKind::Registration { .. }
            )
        }),
        "date" => (!verdict.periods.is_empty()).then(|| verdict.dating.in_words()),
        "maker" => Some(verdict.attribution.words.clone()),
        _ => None,
    };
    let field = |(place, &(name, field)): (usize, &(&str, &'static str))| {
        let said = added.iter().find(|(of, _)| *of == place);
        let said = said.map(|(_, text)| text.clone());
        let own = OPINIONS
            .contains(&name)
            .then(|| from_findings(name))
            .flatten();
        if own.is_some() {
            return ObjectField {
                field,
                from_findings: true,
                text: own,
                told: said,
            };
        }
        ObjectField {
            field,
            from_findings: said.is_none(),
            text: said.or_else(|| from_findings(name)),
            told: None,
        }
    };
    FIELDS.iter().enumerate().map(field).collect()
}
