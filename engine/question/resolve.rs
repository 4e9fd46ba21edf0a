//! The names of a claim, found in a pack.

use super::{Claim, QuestionError};
use crate::model::catalogue::WORKS_NOT_KNOWN;
use crate::model::{ClueTarget, Model};
use crate::nearest_name::nearest;
use crate::network::{Role, VariableId};
use crate::pack::years::{Years, YearsError};

/// A claim about variables of a network.
#[derive(Clone, Debug)]
pub(super) enum Resolved {
    Is {
        variable: VariableId,
        states: Vec<usize>,
    },
    Both(Box<Resolved>, Box<Resolved>),
    Either(Box<Resolved>, Box<Resolved>),
    Not(Box<Resolved>),
}

impl Resolved {
    /// The variables it is about, each once, in the order of their ids.
    pub(super) fn variables(&self, found: &mut Vec<VariableId>) {
        match self {
            Self::Is { variable, .. } => {
                if let Err(place) = found.binary_search(variable) {
                    found.insert(place, *variable);
                }
            }
            Self::Both(a, b) | Self::Either(a, b) => {
                a.variables(found);
                b.variables(found);
            }
            Self::Not(a) => a.variables(found),
        }
    }

    /// Whether it holds if each variable has the state given.
    pub(super) fn holds(&self, state_of: &impl Fn(VariableId) -> usize) -> bool {
        match self {
            Self::Is { variable, states } => states.contains(&state_of(*variable)),
            Self::Both(a, b) => a.holds(state_of) && b.holds(state_of),
            Self::Either(a, b) => a.holds(state_of) || b.holds(state_of),
            Self::Not(a) => !a.holds(state_of),
        }
    }
}

/// A claim with its names found, and in words.
pub(super) fn resolve(model: &Model, claim: &Claim) -> Result<(Resolved, String), QuestionError> {
    let two =
        |a: &Claim, b: &Claim| Ok::<_, QuestionError>((resolve(model, a)?, resolve(model, b)?));
    match claim {
        Claim::Is { about, states } => is(model, about, states),
        Claim::Between { first, last } => between(model, first, last),
        Claim::Years(years) => made_in(model, years),
        Claim::Both(a, b) => {
            let ((a, a_words), (b, b_words)) = two(a, b)?;
            let words = format!("{a_words}, and {b_words}");
            Ok((Resolved::Both(a.into(), b.into()), words))
        }
        Claim::Either(a, b) => {
            let ((a, a_words), (b, b_words)) = two(a, b)?;
            let words = format!("{a_words}, or {b_words}");
            Ok((Resolved::Either(a.into(), b.into()), words))
        }
        Claim::Not(a) => {
            let (a, words) = resolve(model, a)?;
            Ok((Resolved::Not(a.into()), format!("not ({words})")))
        }
    }
}

fn is(model: &Model, about: &str, states: &[String]) -> Result<(Resolved, String), QuestionError> {
    let variable = variable(model, about)?;
    let mut found = Vec::new();
    let mut words = Vec::new();
    for state in states {
        let (place, word) = find_state(model, about, variable, state)?;
        found.push(place);
        words.push(word);
    }
    let words = words.join(" or ");
    let catalogue = &model.catalogue;
    let words = if variable == catalogue.maker {
        words
    } else if Some(variable) == catalogue.works {
        format!("{words}, under any of its partnerships")
    } else if variable == catalogue.region {
        format!("made in {words}")
    } else if variable == catalogue.period {
        format!("made {words}")
    } else if Some(variable) == catalogue.engraving {
        format!("printed from the {words}")
    } else {
        format!("{about} {words}")
    };
    let states = found;
    Ok((Resolved::Is { variable, states }, words))
}

fn variable(model: &Model, about: &str) -> Result<VariableId, QuestionError> {
    let catalogue = &model.catalogue;
    let questions = [
        ("maker", Some(catalogue.maker)),
        ("works", catalogue.works),
        ("region", Some(catalogue.region)),
        ("period", Some(catalogue.period)),
        ("engraving", catalogue.engraving),
    ];
    if matches!(about, "maker" | "period") && catalogue.leaves_out(about) {
        return Err(QuestionError::LeftOut {
            what: about.to_owned(),
        });
    }
    let question = questions.iter().find(|(name, _)| *name == about);
    if let Some((_, Some(variable))) = question {
        return Ok(*variable);
    }
    let hidden = catalogue.hidden.iter().find(|q| q.name == about);
    if let Some(quality) = hidden {
        return Ok(quality.variable);
    }
    match catalogue.clue(about).map(|clue| clue.target) {
        Some(ClueTarget::Variable(id)) if model.network.variable(id).role == Role::Input => {
            Err(QuestionError::Circumstance {
                about: about.to_owned(),
            })
        }
        Some(ClueTarget::Variable(id)) => Ok(id),
        Some(ClueTarget::Measure(_)) => Err(QuestionError::Measured {
            about: about.to_owned(),
        }),
        None => {
            let questions = questions.iter().filter(|(_, id)| id.is_some());
            let hidden = catalogue.hidden.iter().map(|q| q.name.as_str());
            let clues = catalogue.clues.iter().filter(
                |clue| matches!(clue.target, ClueTarget::Variable(id) if model.network.variable(id).role == Role::Chance),
            );
            let known = questions.map(|(name, _)| *name).chain(hidden);
            let known: Vec<&str> = known.chain(clues.map(|c| c.id.as_str())).collect();
            Err(QuestionError::UnknownAbout {
                about: about.to_owned(),
                nearest: nearest(about, known.iter().copied()).map(str::to_owned),
                known: known.into_iter().map(str::to_owned).collect(),
            })
        }
    }
}

/// The place of a state, and its words.
fn find_state(
    model: &Model,
    about: &str,
    variable: VariableId,
    state: &str,
) -> Result<(usize, String), QuestionError> {
    let catalogue = &model.catalogue;
    let states = &model.network.variable(variable).states;
    let mut known: Vec<&str> = states.iter().map(String::as_str).collect();
    let words = |place: usize| {
        if variable == catalogue.maker {
            let maker = &catalogue.makers[place];
            format!("{} {}", maker.id, maker.name)
        } else if variable == catalogue.period {
            catalogue.periods[place].in_words()
        } else if Some(variable) == catalogue.engraving {
            catalogue.engravings[place].clone()
        } else if variable == catalogue.region || Some(variable) == catalogue.works {
            catalogue.place_name(&states[place]).to_owned()
        } else {
            states[place].clone()
        }
    };
    let named = |name: &str| states.iter().position(|known| known == name);
    let called = |name: &str| {
        states
            .iter()
            .position(|known| catalogue.place_name(known) == name)
    };
    let place = if variable == catalogue.maker {
        let makers = &catalogue.makers;
        known = makers.iter().map(|m| m.id.as_str()).collect();
        makers.iter().position(|m| m.id == state || m.name == state)
    } else if Some(variable) == catalogue.works {
        known.retain(|works| *works != WORKS_NOT_KNOWN);
        let place = named(state).or_else(|| called(state));
        place.filter(|_| state != WORKS_NOT_KNOWN)
    } else if Some(variable) == catalogue.engraving {
        named(state).or_else(|| catalogue.engravings.iter().position(|name| name == state))
    } else if variable == catalogue.region {
        known = states.iter().map(|id| catalogue.place_name(id)).collect();
        named(state).or_else(|| called(state))
    } else {
        named(state)
    };
    match place {
        Some(place) => Ok((place, words(place))),
        None => Err(QuestionError::UnknownState {
            about: about.to_owned(),
            state: state.chars().take(60).collect(),
            nearest: nearest(state, known.iter().copied()).map(str::to_owned),
            known: known.into_iter().map(str::to_owned).collect(),
        }),
    }
}

fn between(model: &Model, first: &str, last: &str) -> Result<(Resolved, String), QuestionError> {
    let variable = variable(model, "period")?;
    let (from, _) = find_state(model, "period", variable, first)?;
    let (to, _) = find_state(model, "period", variable, last)?;
    if from > to {
        return Err(QuestionError::Backwards {
            first: first.to_owned(),
            last: last.to_owned(),
        });
    }
    Ok(periods(model, variable, (from..=to).collect()))
}

fn made_in(model: &Model, text: &str) -> Result<(Resolved, String), QuestionError> {
    let variable = variable(model, "period")?;
    let refuse = |why: String| QuestionError::Years {
        years: text.chars().take(60).collect(),
        why,
    };
    let years = Years::parse(text).map_err(|error| match &error {
        YearsError::Form(date) => refuse(format!("{error}; {}", date.remedy())),
        _ => refuse(error.to_string()),
    })?;
    let mut within = Vec::new();
    for (place, period) in model.catalogue.periods.iter().enumerate() {
        let Some(bin) = period.years else {
            return Err(refuse(
                "the periods of this pack have no years; name them instead".to_owned(),
            ));
        };
        if bin.first >= years.first && bin.last <= years.last {
            within.push(place);
        } else if bin.first <= years.last && bin.last >= years.first {
            return Err(refuse(format!(
                "it cuts the period {} ({bin}); a question about years takes whole periods",
                period.id
            )));
        }
    }
    if within.is_empty() {
        return Err(refuse(
            "no period of this pack lies in it; `saggar check` lists them".to_owned(),
        ));
    }
    Ok(periods(model, variable, within))
}

/// A claim about periods, in the years from the first to the last if they have years.
fn periods(model: &Model, variable: VariableId, states: Vec<usize>) -> (Resolved, String) {
    let periods = &model.catalogue.periods;
    let (Some(&first), Some(&last)) = (states.first(), states.last()) else {
        unreachable!("a claim about periods names one");
    };
    let words = match (periods[first].years, periods[last].years) {
        (Some(from), Some(to)) => format!("made {}–{}", from.first, to.last),
        _ => format!("made {} to {}", periods[first].id, periods[last].id),
    };
    (Resolved::Is { variable, states }, words)
}
