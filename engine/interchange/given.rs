//! Evidence in words: `NAME=STATE`, or JSON objects of names and states.

use std::collections::BTreeSet;
use std::fmt;

use serde::de::{self, Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};
use thiserror::Error;

use crate::nearest_name::nearest;
use crate::network::{Evidence, Structure, VariableId};

/// What was found of one variable, in words.
#[derive(Clone, Debug, PartialEq)]
pub enum Given {
    /// Name of its state.
    State(String),
    /// One likelihood for each of its states, in their order, up to a common factor.
    Likelihoods(Vec<f64>),
}

/// Names of variables and what was found of them, each name once.
///
/// In JSON an object: `{"smoke": "yes", "xray": [0.9, 0.2]}`.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct GivenSet(Vec<(String, Given)>);

/// Reads a JSON text that holds one evidence set or a list of them.
///
/// # Errors
/// What is wrong with the JSON, with line and column: not JSON, another form, a name twice in one set.
pub fn parse_given(text: &str) -> Result<Vec<GivenSet>, serde_json::Error> {
    if text.trim_start().starts_with('[') {
        serde_json::from_str(text)
    } else {
        serde_json::from_str(text).map(|set| vec![set])
    }
}

/// Splits `NAME=STATE`. Name and state may hold `=` themselves: the split is taken that gives a variable and one of its
/// states, and there must be only one.
///
/// # Errors
/// [`GivenError`] if there is no `=`, no such variable or state, or more than one way to read it.
pub fn split_given(text: &str, network: &Structure) -> Result<(VariableId, usize), GivenError> {
    let mut found = Vec::new();
    let mut known_variable = None;
    for (at, _) in text.match_indices('=') {
        let (name, state) = (&text[..at], &text[at + 1..]);
        let Some(id) = network.find(name) else {
            continue;
        };
        known_variable.get_or_insert((id, state));
        if let Some(state_idx) = state_of(network, id, state) {
            found.push((id, state_idx));
        }
    }
    match (found[..].first(), found.len()) {
        (Some(&one), 1) => Ok(one),
        (Some(_), _) => Err(GivenError::Ambiguous {
            text: text.to_owned(),
        }),
        (None, _) => Err(match known_variable {
            Some((id, state)) => unknown_state(network, id, state),
            None => match text.split_once('=') {
                Some((name, _)) => unknown_variable(network, name),
                None => GivenError::NoEqualsSign {
                    text: text.to_owned(),
                },
            },
        }),
    }
}

impl GivenSet {
    /// Enters the set into `evidence`, which must not yet have findings about the same variables.
    ///
    /// # Errors
    /// The first of: no such variable, no such state, a wrong number of likelihoods, a likelihood that is none, all of
    /// them 0, a finding about the variable already there.
    pub fn enter(&self, evidence: &mut Evidence, network: &Structure) -> Result<(), GivenError> {
        for (name, given) in &self.0 {
            let id = network
                .find(name)
                .ok_or_else(|| unknown_variable(network, name))?;
            if evidence.finding(id).is_some() {
                return Err(GivenError::Twice { name: name.clone() });
            }
            match given {
                Given::State(state) => {
                    let state_idx = state_of(network, id, state)
                        .ok_or_else(|| unknown_state(network, id, state))?;
                    evidence.observe(id, state_idx);
                }
                Given::Likelihoods(values) => {
                    check_likelihoods(name, values, network.n_states(id))?;
                    evidence.likelihood(id, values.clone());
                }
            }
        }
        Ok(())
    }
}

fn check_likelihoods(name: &str, values: &[f64], n_states: usize) -> Result<(), GivenError> {
    let wrong = |what: String| GivenError::Likelihoods {
        name: name.to_owned(),
        what,
    };
    if values.len() != n_states {
        return Err(wrong(format!(
            "{} likelihoods for {n_states} states",
            values.len()
        )));
    }
    if let Some(value) = values.iter().find(|v| !v.is_finite() || **v < 0.0) {
        return Err(wrong(format!("{value} is no likelihood")));
    }
    if values.iter().all(|&v| v == 0.0) {
        return Err(wrong("all likelihoods are 0".to_owned()));
    }
    Ok(())
}

fn state_of(network: &Structure, id: VariableId, state: &str) -> Option<usize> {
    network.variable(id).states.iter().position(|s| s == state)
}

fn unknown_variable(network: &Structure, name: &str) -> GivenError {
    let names: BTreeSet<&str> = network
        .variables()
        .iter()
        .map(|v| v.name.as_str())
        .collect();
    GivenError::UnknownVariable {
        name: name.to_owned(),
        nearest: nearest(name, names).map(str::to_owned),
    }
}

fn unknown_state(network: &Structure, id: VariableId, state: &str) -> GivenError {
    let variable = network.variable(id);
    GivenError::UnknownState {
        name: variable.name.clone(),
        state: state.to_owned(),
        states: variable.states.clone(),
    }
}

/// Why evidence in words does not fit a network.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum GivenError {
    /// Not of the form NAME=STATE.
    #[error("`{text}` is not of the form NAME=STATE")]
    NoEqualsSign {
        /// What was given.
        text: String,
    },
    /// More than one `=` splits it into a variable and its state.
    #[error("`{text}` can be read in more than one way; give it as JSON")]
    Ambiguous {
        /// What was given.
        text: String,
    },
    /// No such variable.
    #[error("the network has no variable `{name}`{}",
        nearest.as_ref().map_or_else(String::new, |n| format!("; did you mean `{n}`?")))]
    UnknownVariable {
        /// The name.
        name: String,
        /// A known name like it.
        nearest: Option<String>,
    },
    /// No such state.
    #[error("`{name}` has no state `{state}`; its states are {}", list(states))]
    UnknownState {
        /// The variable.
        name: String,
        /// The state.
        state: String,
        /// The states it has.
        states: Vec<String>,
    },
    /// Two findings about one variable.
    #[error("`{name}` is given twice")]
    Twice {
        /// The variable.
        name: String,
    },
    /// Likelihoods that cannot be used.
    #[error("`{name}`: {what}")]
    Likelihoods {
        /// The variable.
        name: String,
        /// What is wrong with them.
        what: String,
    },
}

fn list(states: &[String]) -> String {
    const MOST: usize = 20;
    let mut names: Vec<String> = states.iter().take(MOST).map(|s| format!("`{s}`")).collect();
    if states.len() > MOST {
        names.push("…".to_owned());
    }
    names.join(", ")
}

impl<'de> Deserialize<'de> for GivenSet {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Object;
        impl<'de> Visitor<'de> for Object {
            type Value = GivenSet;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("an object of names and states, or a list of such objects")
            }

            // A map would keep the last of two equal names without a word.
            fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<GivenSet, A::Error> {
                let mut names = BTreeSet::new();
                let mut set = Vec::new();
                while let Some(name) = map.next_key::<String>()? {
                    if !names.insert(name.clone()) {
                        return Err(de::Error::custom(format!("`{name}` is given twice")));
                    }
                    set.push((name, map.next_value()?));
                }
                Ok(GivenSet(set))
            }
        }
        deserializer.deserialize_map(Object)
    }
}

impl<'de> Deserialize<'de> for Given {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct StateOrLikelihoods;
        impl<'de> Visitor<'de> for StateOrLikelihoods {
            type Value = Given;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("the name of a state, or a list with one likelihood for each state")
            }

            fn visit_str<E: de::Error>(self, state: &str) -> Result<Given, E> {
                Ok(Given::State(state.to_owned()))
            }

            fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Given, A::Error> {
                let mut values = Vec::new();
                while let Some(value) = list.next_element()? {
                    values.push(value);
                }
                Ok(Given::Likelihoods(values))
            }
        }
        deserializer.deserialize_any(StateOrLikelihoods)
    }
}

#[cfg(test)]
mod tests {
    use nalgebra::DMatrix;

    use super::*;
    use crate::network::{Cpt, Network, Role, Variable};

    fn network() -> Network {
        let variable = |name: &str, states: [&str; 2]| Variable {
            name: name.to_owned(),
            states: states.map(str::to_owned).to_vec(),
            role: Role::Chance,
        };
        let cpt = Cpt {
            parents: Vec::new(),
            table: DMatrix::from_element(2, 1, 0.5),
        };
        let variables = vec![
            variable("a", ["yes", "b=yes"]),
            variable("a=b", ["yes", "no"]),
            variable("<7.5", [">=7.5", "="]),
        ];
        Network::new(variables, vec![cpt; 3], Vec::new()).unwrap()
    }

    #[test]
    fn an_equals_sign_may_be_part_of_name_and_state() {
        let network = network();
        let split = |text: &str| {
            split_given(text, &network)
                .map(|(id, s)| (id.index(), s))
                .map_err(|e| e.to_string())
        };
        assert_eq!(split("a=yes"), Ok((0, 0)));
        assert_eq!(split("a=b=no"), Ok((1, 1)));
        assert_eq!(split("<7.5=>=7.5"), Ok((2, 0)));
        assert_eq!(split("<7.5=="), Ok((2, 1)));
        let refused = [
            (
                "a=b=yes",
                "`a=b=yes` can be read in more than one way; give it as JSON",
            ),
            ("a", "`a` is not of the form NAME=STATE"),
            ("bottle=yes", "the network has no variable `bottle`"),
            (
                "<7,5=x",
                "the network has no variable `<7,5`; did you mean `<7.5`?",
            ),
            (
                "a=maybe",
                "`a` has no state `maybe`; its states are `yes`, `b=yes`",
            ),
        ];
        for (text, message) in refused {
            assert_eq!(split(text), Err(message.to_owned()));
        }
    }

    #[test]
    fn json_is_checked() {
        let network = network();
        let enter = |text: &str| -> Result<usize, String> {
            let mut n = 0;
            for set in parse_given(text).map_err(|e| e.to_string())? {
                let mut evidence = Evidence::new();
                set.enter(&mut evidence, &network)
                    .map_err(|e| e.to_string())?;
                evidence.check(&network).map_err(|e| e.to_string())?;
                n += evidence.len();
            }
            Ok(n)
        };
        assert_eq!(enter(r#"{"a": "yes", "a=b": [0, 1e-300]}"#), Ok(2));
        assert_eq!(enter(r#" [{"a": "yes"}, {}, {"a": "b=yes"}]"#), Ok(2));
        let refused = [
            (
                r#"{"a": "yes", "a": "yes"}"#,
                "`a` is given twice at line 1 column 16",
            ),
            (
                r#"{"a": 1}"#,
                "invalid type: integer `1`, expected the name of a state, or a list with one likelihood for each state at line 1 column 7",
            ),
            (r#"{"a": [1]}"#, "`a`: 1 likelihoods for 2 states"),
            (r#"{"a": [1, -1]}"#, "`a`: -1 is no likelihood"),
            (r#"{"a": [0, 0]}"#, "`a`: all likelihoods are 0"),
            (
                r#"{"bottle": "yes"}"#,
                "the network has no variable `bottle`",
            ),
        ];
        for (text, message) in refused {
            assert_eq!(enter(text), Err(message.to_owned()), "{text}");
        }
    }
}
