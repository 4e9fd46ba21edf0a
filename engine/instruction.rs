//! What an opinion is asked for: purpose, users, dates, who looked, what was seen, whose interest.
//!
//! A report or a value stands on it, so that nothing is printed for an unknown use or an unstated date. Plain data and its
//! checks; a definition of value is named here and looked up in the pack ([`crate::model::market`]).
//!
//! What must be stated: USPAP, Standard 7 and 8 (personal property): intended use and users, type of value with its source,
//! effective date, scope of work, assumptions, signed certification (from memory).

use serde::Serialize;

use crate::dating::edtf::{Date, Edtf, Qualifier, WithinYear, Year};
use crate::nearest_name::nearest;

/// What of the piece was there to be looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum Seen {
    /// The piece itself.
    #[serde(rename = "in hand")]
    InHand,
    /// Pictures of it.
    #[serde(rename = "from photographs")]
    FromPhotographs,
    /// Words about it.
    #[serde(rename = "from a description")]
    FromADescription,
}

impl Seen {
    /// Every way, with its words.
    pub const ALL: [(&'static str, Self); 3] = [
        ("in hand", Self::InHand),
        ("from photographs", Self::FromPhotographs),
        ("from a description", Self::FromADescription),
    ];

    /// Its words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::InHand => "in hand",
            Self::FromPhotographs => "from photographs",
            Self::FromADescription => "from a description",
        }
    }
}

/// What an opinion is asked for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Instruction {
    /// Who asks; may be left out of what is handed on.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub client: Option<String>,
    /// What the opinion is for.
    pub purpose: String,
    /// Who may rely on it.
    pub users: String,
    /// Short name of the definition of value in the pack; none if no value is asked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub definition: Option<String>,
    /// The day the opinion holds for, as `2024-03-31`.
    pub effective: String,
    /// The day the piece was looked at.
    pub inspected: String,
    /// Who looked.
    pub inspector: String,
    /// What was there to be looked at.
    pub seen: Seen,
    /// The inspector's interest in the piece or its price; `none` if there is none.
    pub interest: String,
    /// What is taken as true without being looked into.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub assumptions: Vec<String>,
}

/// What an instruction says of one thing, as it was written.
#[derive(Clone, Debug, PartialEq)]
pub enum Said {
    /// A text.
    Text(String),
    /// A list of texts.
    List(Vec<String>),
    /// Something else: what it is, in words.
    Other(String),
}

/// What must be stated, and why.
const NEEDED: [(&str, &str); 7] = [
    (
        "purpose",
        "a figure for one purpose misleads in another: insurance is not probate",
    ),
    ("users", "nobody else may rely on the opinion"),
    ("effective", "an opinion holds for one day"),
    ("inspected", "the piece may have changed since it was seen"),
    ("inspector", "somebody must stand for what was seen"),
    (
        "seen",
        "what cannot be seen in a photograph was not looked at; say \"in hand\", \"from photographs\" or \"from a description\"",
    ),
    (
        "interest",
        "whoever may buy or sell the piece must say so; say \"none\" if there is none",
    ),
];

/// Everything an instruction can say.
pub const NAMES: [&str; 10] = [
    "client",
    "purpose",
    "users",
    "definition",
    "effective",
    "inspected",
    "inspector",
    "seen",
    "interest",
    "assumptions",
];

/// Why an instruction does not stand.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum InstructionError {
    /// Things that must be stated are missing or blank; all of them at once.
    #[error("the instruction does not say: {}; {}", names(.0), reasons(.0))]
    Missing(Vec<&'static str>),
    /// A name that is none of an instruction's.
    #[error("an instruction says nothing of `{name}`; {}", meant(.name))]
    Unknown {
        /// The name.
        name: String,
    },
    /// A value of another kind.
    #[error("`{name}` of the instruction is {given}; write {expected}")]
    Kind {
        /// Which.
        name: &'static str,
        /// What it is.
        given: String,
        /// What it should be.
        expected: &'static str,
    },
    /// A day that is none.
    #[error(
        "`{name}` of the instruction is `{given}`, which is not one day; write year, month and day, such as \"2024-03-31\"{why}"
    )]
    NotADay {
        /// Which.
        name: &'static str,
        /// What is written.
        given: String,
        /// What is wrong with it, if more can be said.
        why: String,
    },
    /// A way of seeing that is none of the three.
    #[error(
        "a piece is not seen `{given}`; say \"in hand\", \"from photographs\" or \"from a description\""
    )]
    Seen {
        /// What is written.
        given: String,
    },
}

fn names(missing: &[&str]) -> String {
    missing.join(", ")
}

fn reasons(missing: &[&str]) -> String {
    let reason = |name: &&str| {
        let (name, why) = NEEDED.iter().find(|(known, _)| known == name)?;
        Some(format!("{name}: {why}"))
    };
    let reasons: Vec<String> = missing.iter().filter_map(reason).collect();
    reasons.join(". ")
}

fn meant(name: &str) -> String {
    match nearest(name, NAMES) {
        Some(near) => format!("did you mean `{near}`?"),
        None => format!("it can say {}", NAMES.join(", ")),
    }
}

impl Instruction {
    /// An instruction from what is said, name by name.
    ///
    /// ```
    /// use saggar::instruction::{Instruction, InstructionError, Said};
    /// let said = [("purpose", Said::Text("probate".to_owned())), ("users", Said::Text(" ".to_owned()))];
    /// let error = Instruction::new(said).unwrap_err();
    /// let InstructionError::Missing(missing) = error else { panic!() };
    /// assert_eq!(missing, ["users", "effective", "inspected", "inspector", "seen", "interest"]);
    /// ```
    ///
    /// # Errors
    /// [`InstructionError`]: a name it cannot have, a value of another kind, a date that is not one day; else all that is
    /// missing or blank, at once.
    pub fn new<'a>(
        said: impl IntoIterator<Item = (&'a str, Said)>,
    ) -> Result<Self, InstructionError> {
        let mut texts: [Option<String>; NAMES.len()] = Default::default();
        let mut assumptions = Vec::new();
        for (name, value) in said {
            let Some(place) = NAMES.iter().position(|known| *known == name) else {
                return Err(InstructionError::Unknown {
                    name: crate::diagnostic::shorten(name),
                });
            };
            let name = NAMES[place];
            let kind = |given: &str, expected| InstructionError::Kind {
                name,
                given: given.to_owned(),
                expected,
            };
            match value {
                Said::List(list) if name == "assumptions" => assumptions = list,
                Said::Text(text) if name == "assumptions" => assumptions = vec![text],
                Said::Text(text) => texts[place] = Some(text.trim().to_owned()),
                Said::List(_) => return Err(kind("a list", "a text, in quotes")),
                Said::Other(given) if name == "assumptions" => {
                    return Err(kind(
                        &given,
                        "a list of texts, such as [\"the handle is original\"]",
                    ));
                }
                Said::Other(given) => return Err(kind(&given, "a text, in quotes")),
            }
        }
        assumptions.retain(|text| !text.trim().is_empty());
        let mut take = |name: &str| {
            let place = NAMES.iter().position(|known| *known == name)?;
            texts[place].take().filter(|text| !text.is_empty())
        };
        let needed = NEEDED.map(|(name, _)| take(name));
        let (client, definition) = (take("client"), take("definition"));
        let [
            Some(purpose),
            Some(users),
            Some(effective),
            Some(inspected),
            Some(inspector),
            Some(seen),
            Some(interest),
        ] = needed
        else {
            let missing = NEEDED.iter().zip(&needed);
            let missing = missing.filter(|(_, said)| said.is_none());
            return Err(InstructionError::Missing(
                missing.map(|((name, _), _)| *name).collect(),
            ));
        };
        day("effective", &effective)?;
        day("inspected", &inspected)?;
        let seen = match Seen::ALL.iter().find(|(words, _)| *words == seen) {
            Some((_, seen)) => *seen,
            None => return Err(InstructionError::Seen { given: seen }),
        };
        Ok(Self {
            client,
            purpose,
            users,
            definition,
            effective,
            inspected,
            inspector,
            seen,
            interest,
            assumptions,
        })
    }

    /// What is odd about its days, told and not refused: a look long before the day it holds for, or after it.
    #[must_use]
    pub fn doubts(&self) -> Vec<String> {
        let (effective, inspected) = (
            day("effective", &self.effective),
            day("inspected", &self.inspected),
        );
        let (Ok(effective), Ok(inspected)) = (effective, inspected) else {
            return Vec::new();
        };
        let mut doubts = Vec::new();
        if effective > inspected + LONG {
            doubts.push(format!(
                "it is to hold for {}, and the piece was looked at on {}: what happens in between is not known",
                self.effective, self.inspected
            ));
        }
        if inspected > effective {
            doubts.push(format!(
                "the piece was looked at on {}, after {}, the day this holds for: what happened to it in between is not known",
                self.inspected, self.effective
            ));
        }
        doubts
    }

    /// The effective date in years: 2024.5 is the middle of 2024.
    ///
    /// # Errors
    /// [`InstructionError::NotADay`] if it is not one day; one that [`new`](Self::new) let pass is.
    pub fn effective_in_years(&self) -> Result<f64, InstructionError> {
        day("effective", &self.effective)
    }
}

/// Years between a look and the day an opinion holds for that are pointed out. Our own choice.
const LONG: f64 = 1.0;

/// One day, in years.
fn day(name: &'static str, text: &str) -> Result<f64, InstructionError> {
    let wrong = |why: String| InstructionError::NotADay {
        name,
        given: crate::diagnostic::shorten(text),
        why,
    };
    let date = Edtf::parse(text).map_err(|error| wrong(format!(" ({error})")))?;
    match date {
        Edtf::Date(
            date @ Date {
                year: Year::Known(_),
                within: WithinYear::Day(Some(_), Some(_)),
                qualifier: Qualifier::Exact,
            },
        ) => Ok(in_years(&date)),
        _ => Err(wrong(String::new())),
    }
}

/// The middle of a date, in years; months are counted alike, as twelfths.
#[must_use]
pub fn in_years(date: &Date) -> f64 {
    let year = (date.earliest_year() + date.latest_year()) as f64 / 2.0;
    let within = match date.within {
        WithinYear::Month(Some(month)) | WithinYear::Day(Some(month), None) => {
            (f64::from(month) - 0.5) / 12.0
        }
        WithinYear::Day(Some(month), Some(day)) => {
            (f64::from(month) - 1.0 + (f64::from(day) - 0.5) / 31.0) / 12.0
        }
        WithinYear::Season(season @ 21..=24) => (f64::from(season - 21) * 3.0 + 4.0) / 12.0,
        _ => 0.5,
    };
    year + within
}

#[cfg(test)]
mod tests {
    use super::*;

    fn whole() -> Vec<(&'static str, Said)> {
        let text = |text: &str| Said::Text(text.to_owned());
        vec![
            ("purpose", text("probate")),
            ("users", text("the executors")),
            ("definition", text("probate")),
            ("effective", text("2024-03-31")),
            ("inspected", text("2024-03-02")),
            ("inspector", text("E. Rowan")),
            ("seen", text("in hand")),
            ("interest", text("none")),
            (
                "assumptions",
                Said::List(vec!["the handle is original".to_owned()]),
            ),
        ]
    }

    #[test]
    fn a_whole_one_stands() {
        let instruction = Instruction::new(whole()).unwrap();
        assert_eq!(instruction.definition.as_deref(), Some("probate"));
        assert_eq!(instruction.assumptions.len(), 1);
        let years = instruction.effective_in_years().unwrap();
        assert!((years - 2024.249).abs() < 0.01, "{years}");
    }

    #[test]
    fn what_does_not_stand() {
        let with = |name: &'static str, said: Said| {
            let mut all = whole();
            all.retain(|(known, _)| *known != name);
            all.push((name, said));
            Instruction::new(all).unwrap_err().to_string()
        };
        let text = |text: &str| Said::Text(text.to_owned());
        assert!(with("purpos", text("x")).contains("did you mean `purpose`?"));
        assert!(with("effective", text("2024-03")).contains("not one day"));
        assert!(with("effective", text("2024-02-30")).contains("29 days"));
        assert!(with("seen", text("at a glance")).contains("in hand"));
        assert!(with("users", Said::Other("a number".to_owned())).contains("a text"));
        let blank = with("interest", text("  "));
        assert!(blank.contains("does not say: interest"), "{blank}");
    }
}
