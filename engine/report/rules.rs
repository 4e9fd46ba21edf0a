//! What law and record say: rules with their sources, and decoded registrations.

use serde::Serialize;

use super::table::{Align, table};
use super::text::layout::{heading, line, wrapped};
use crate::dating::registration::{Decoded, Registers};
use crate::dating::rules::{CAUTION, RuleBook};
use crate::dating::terminus::{Binding, Strength, Term, Together, together as terms_together};

/// A rule as it is shown.
#[derive(Clone, Debug, Serialize)]
pub struct RuleShown {
    /// Short name.
    pub id: String,
    /// The feature in words.
    pub feature: String,
    /// What it says about the year of making.
    pub term: String,
    /// What it rests on, and how far that was checked.
    pub source: String,
    /// What else should be known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
}

/// The answer to a question about law and record.
#[derive(Clone, Debug, Serialize)]
pub struct RulesShown {
    /// What was asked.
    pub asked: String,
    /// The rules that apply.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub rules: Vec<RuleShown>,
    /// What they leave together.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub together: Option<Together>,
    /// A decoded registration.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub registration: Option<RegistrationShown>,
    /// Caution.
    pub caution: &'static str,
}

/// A decoded registration as it is shown.
#[derive(Clone, Debug, Serialize)]
pub struct RegistrationShown {
    /// What it can mean.
    #[serde(flatten)]
    pub decoded: Decoded,
    /// For each candidate, what it says about the year of making.
    pub terms: Vec<String>,
    /// What the date means.
    pub meaning: String,
}

/// Rules that apply together.
#[must_use]
pub fn together(asked: String, book: &RuleBook, places: &[usize]) -> RulesShown {
    let terms: Vec<Term> = places.iter().map(|&place| book.rules[place].term).collect();
    RulesShown {
        asked,
        together: Some(terms_together(&terms)),
        ..list(book, places)
    }
}

/// Rules one by one.
#[must_use]
pub fn list(book: &RuleBook, places: &[usize]) -> RulesShown {
    let shown = |&place: &usize| {
        let rule = &book.rules[place];
        RuleShown {
            id: rule.id.clone(),
            feature: format!("{}: {}", rule.feature, rule.name),
            term: rule.term.to_string(),
            source: rule.source_checked(),
            note: rule.note.clone(),
        }
    };
    RulesShown {
        asked: format!("the rules of {}", book.name),
        rules: places.iter().map(shown).collect(),
        together: None,
        registration: None,
        caution: CAUTION,
    }
}

/// A registration.
#[must_use]
pub fn decoded(registers: &Registers, decoded: Decoded) -> RulesShown {
    let candidates = decoded.candidates.iter();
    RulesShown {
        asked: decoded.read.clone(),
        rules: Vec::new(),
        together: None,
        registration: Some(RegistrationShown {
            terms: candidates
                .map(|c| registers.term(&c.registered).to_string())
                .collect(),
            meaning: registers.meaning.clone(),
            decoded,
        }),
        caution: CAUTION,
    }
}

/// As text.
pub(super) fn text(shown: &RulesShown) -> String {
    let mut out = String::new();
    heading(&mut out, "RULES", &shown.asked);
    if let Some(registration) = &shown.registration {
        registration_text(&mut out, registration);
    }
    if !shown.rules.is_empty() {
        let rows = shown.rules.iter();
        let rows = rows.map(|rule| vec![rule.id.clone(), rule.term.clone(), rule.feature.clone()]);
        let header = [
            ("rule", Align::Left),
            ("made", Align::Left),
            ("feature", Align::Left),
        ];
        out += &table(&header, rows.collect());
        out.push('\n');
        for rule in &shown.rules {
            let note = rule
                .note
                .as_ref()
                .map_or_else(String::new, |n| format!(". {n}"));
            wrapped(
                &mut out,
                "  ",
                &format!("{}: {}{note}", rule.id, rule.source),
            );
        }
        out.push('\n');
    }
    if let Some(together) = &shown.together {
        line(&mut out, "together", &left(together));
    }
    wrapped(&mut out, "! ", shown.caution);
    out
}

fn left(together: &Together) -> String {
    let binding = |words: &str, binding: Option<Binding>| {
        binding.map(|b| format!("{words} {} ({})", b.year, b.strength))
    };
    let limits = [
        binding("not before", together.earliest),
        binding("not after", together.latest),
    ];
    let limits: Vec<String> = limits.into_iter().flatten().collect();
    let limits = limits.join(", ");
    match together.conflict {
        None => limits,
        Some(Strength::Hard) => format!(
            "{limits}: these cannot stand together; look again, and think of a copy or a later addition"
        ),
        Some(Strength::Usual) => {
            format!("{limits}: these stand together only as an exception; look again")
        }
    }
}

fn registration_text(out: &mut String, shown: &RegistrationShown) {
    for (candidate, term) in shown.decoded.candidates.iter().zip(&shown.terms) {
        let words = format!("{}  [{}]", candidate.registered, candidate.series);
        line(out, "registered", &words);
        for why in &candidate.why {
            line(out, "", why);
        }
        line(out, "made", term);
        wrapped(out, "  ", &format!("source: {}", candidate.source));
    }
    if shown.decoded.candidates.len() > 1 {
        line(out, "note", "the mark does not tell these apart");
    }
    for refused in &shown.decoded.refused {
        line(out, "not", refused);
    }
    if let Some(class) = &shown.decoded.class {
        line(out, "class", class);
    }
    wrapped(out, "  ", &format!("what it means: {}", shown.meaning));
}
