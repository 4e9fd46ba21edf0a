//! Findings that date a piece: rules of law and record, registrations, dates on or with it; each a likelihood over period.

use super::{Look, PieceError, shorten};
use crate::dating::Edtf;
use crate::dating::registration::{Decoded, Diamond};
use crate::model::{Clue, ClueKind, MeasureRules, Model, Values};
use crate::nearest_name::nearest;
use crate::network::MeasureId;

/// The likelihood of a finding for each period, up to a common factor.
///
/// - A rule: [`Term::likelihood`](crate::dating::Term::likelihood), its exceptions as `values` have them.
/// - A registration: the same for each date it can mean, all of them equally likely.
/// - A date: with the chance that such a date is right, the date's own distribution spread evenly over the years of each
///   period; else any year is as likely as another.
pub(super) fn likelihood(
    model: &Model,
    clue: &Clue,
    look: &Look,
    measure: MeasureId,
    values: &Values,
) -> Result<Vec<f64>, PieceError> {
    let catalogue = &model.catalogue;
    let bins = catalogue.bins();
    let exceptions = match model.measures[measure.index()] {
        MeasureRules::Dating { exceptions } => values.of(exceptions)[0],
        _ => 0.0,
    };
    let softness = catalogue.softness;
    Ok(match (look, &clue.kind) {
        (Look::Dated(date), _) => {
            let right = softness.distribution(date, &bins)?;
            let years = |&(first, last): &(i64, i64)| (last - first + 1) as f64;
            let all: f64 = bins.iter().map(years).sum();
            bins.iter()
                .zip(right)
                .map(|(bin, right)| (1.0 - exceptions) * right / years(bin) + exceptions / all)
                .collect()
        }
        (Look::Registered(dates), ClueKind::Registration { book }) => {
            let mut mean = vec![0.0; bins.len()];
            if let Some(registers) = &catalogue.rules[*book].registers {
                for date in dates {
                    let term = registers.term(date);
                    let likelihood = term.likelihood(&bins, softness, exceptions);
                    for (sum, likelihood) in mean.iter_mut().zip(likelihood) {
                        *sum += likelihood / dates.len() as f64;
                    }
                }
            }
            mean
        }
        (_, ClueKind::Rule { book, rule }) => {
            let term = &catalogue.rules[*book].rules[*rule].term;
            term.likelihood(&bins, softness, exceptions)
        }
        _ => vec![1.0; bins.len()],
    })
}

/// Why a clue of these kinds has no states; `None` for other clues.
pub(super) fn no_states(clue: &Clue) -> Option<PieceError> {
    let with = match &clue.kind {
        ClueKind::Date => format!("dated(\"{}\", \"1846~\")", clue.id),
        ClueKind::Rule { .. } => {
            let rule = clue.id.split_once(' ').map_or("", |(_, rule)| rule);
            format!("found(\"{rule}\")")
        }
        ClueKind::Registration { .. } => "registration(…)".to_owned(),
        _ => return None,
    };
    Some(PieceError::NoStates {
        clue: clue.id.clone(),
        with,
    })
}

/// The clue of a rule by the rule's name, and the finding in words.
///
/// # Errors
/// [`PieceError::UnknownRule`], with the nearest known one.
pub fn found(model: &Model, rule: &str) -> Result<(usize, String), PieceError> {
    let rules = rules(model);
    match rules.iter().find(|(_, id, _)| *id == rule) {
        Some((clue, _, said)) => Ok((*clue, said.clone())),
        None => Err(PieceError::UnknownRule {
            rule: shorten(rule),
            nearest: nearest(rule, rules.iter().map(|(_, id, _)| *id)).map(str::to_owned),
            known: rules.iter().map(|(_, id, _)| (*id).to_owned()).collect(),
        }),
    }
}

/// The clues of the rules that a wording shows, each with the finding in words.
///
/// # Errors
/// [`PieceError::UnknownWording`] if it shows none.
pub fn wording(model: &Model, wording: &str) -> Result<Vec<(usize, String)>, PieceError> {
    let books = &model.catalogue.rules;
    let read: Vec<Vec<usize>> = books.iter().map(|book| book.read(wording)).collect();
    let of_kind = |(clue, described): (usize, &Clue)| match described.kind {
        ClueKind::Rule { book, rule } if read[book].contains(&rule) => Some((
            clue,
            format!("“{}”, {}", shorten(wording), books[book].rules[rule].term),
        )),
        _ => None,
    };
    let clues = model.catalogue.clues.iter().enumerate();
    let found: Vec<(usize, String)> = clues.filter_map(of_kind).collect();
    if found.is_empty() {
        return Err(PieceError::UnknownWording {
            wording: shorten(wording),
        });
    }
    Ok(found)
}

/// What is read of a registration: a number, or a diamond.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Registered {
    /// A registered number.
    Number(u32),
    /// A diamond.
    Diamond(Diamond),
}

/// The clue of registrations, what one can mean, and the finding in words.
///
/// # Errors
/// [`PieceError::NoRegisters`] or [`PieceError::Registration`].
pub fn registration(model: &Model, read: &Registered) -> Result<(usize, Look, String), PieceError> {
    let mut clues = model.catalogue.clues.iter().enumerate();
    let (clue, registers) = clues
        .find_map(|(clue, described)| match described.kind {
            ClueKind::Registration { book } => {
                Some((clue, model.catalogue.rules[book].registers.as_ref()?))
            }
            _ => None,
        })
        .ok_or(PieceError::NoRegisters)?;
    let decoded = match read {
        Registered::Number(number) => registers.number(*number)?,
        Registered::Diamond(diamond) => registers.diamond(diamond)?,
    };
    let said = in_words(&decoded);
    let dates: Vec<Edtf> = decoded.candidates.iter().map(|c| c.registered).collect();
    Ok((clue, Look::Registered(dates), said))
}

fn in_words(decoded: &Decoded) -> String {
    let dates = decoded.candidates.iter().map(|c| c.registered.to_string());
    let dates: Vec<String> = dates.collect();
    format!("{}: registered {}", decoded.read, dates.join(" or "))
}

/// Every rule: its clue, its name, and the finding in words.
fn rules(model: &Model) -> Vec<(usize, &str, String)> {
    let clues = model.catalogue.clues.iter().enumerate();
    clues
        .filter_map(|(clue, described)| match described.kind {
            ClueKind::Rule { book, rule } => {
                let rule = &model.catalogue.rules[book].rules[rule];
                Some((clue, rule.id.as_str(), format!("found, {}", rule.term)))
            }
            _ => None,
        })
        .collect()
}

/// A date for a clue of kind `date`.
///
/// # Errors
/// [`PieceError::NotADate`] for another clue, [`PieceError::Date`] for a text that is none, [`PieceError::Outside`] for
/// one outside all periods.
pub fn dated(model: &Model, clue: &Clue, text: &str) -> Result<(Look, String), PieceError> {
    let catalogue = &model.catalogue;
    if clue.kind != ClueKind::Date {
        let dates = catalogue.clues.iter().filter(|c| c.kind == ClueKind::Date);
        let known: Vec<&str> = dates.map(|c| c.id.as_str()).collect();
        return Err(PieceError::NotADate {
            clue: clue.id.clone(),
            known: known.join(", "),
        });
    }
    let date = Edtf::parse(text)?;
    catalogue.softness.distribution(&date, &catalogue.bins())?;
    Ok((Look::Dated(date), date.to_string()))
}
