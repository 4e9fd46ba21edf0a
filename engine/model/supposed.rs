//! A model with some beliefs changed for one run. The prior files stay as they are.

use std::fmt::Write as _;
use std::sync::Arc;

use sha2::{Digest, Sha256};

use super::chance_names::chance_names;
use super::{Altered, BeliefId, CompiledModel, MakerRole, Model, Spread};
use crate::network::ROW_SUM_TOLERANCE;

/// A belief with other numbers.
#[derive(Clone, Debug, PartialEq)]
pub struct Supposed {
    /// Which.
    pub belief: BeliefId,
    /// What is supposed.
    pub spread: Spread,
    /// Pieces behind it.
    pub seen: f64,
}

/// Why a belief cannot be supposed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SupposeError {
    /// No belief begins so.
    #[error("no belief of this pack begins with “{about}”; {hint}")]
    Unknown {
        /// As asked.
        about: String,
        /// The nearest, or where they are listed.
        hint: String,
    },
    /// Several do.
    #[error("{n} beliefs of this pack begin with “{about}”: {}; say more of the one you mean", some.join(", "))]
    Several {
        /// As asked.
        about: String,
        /// How many.
        n: usize,
        /// The first of them.
        some: Vec<String>,
    },
    /// A chance of a state that the belief does not have.
    #[error("“{about}” has no chance called `{name}`; it has: {}", known.join(", "))]
    UnknownChance {
        /// The belief.
        about: String,
        /// As asked.
        name: String,
        /// What it has.
        known: Vec<String>,
    },
    /// States left out.
    #[error(
        "“{about}” needs a chance for {} too; nothing is filled in by itself: write `others: \"in proportion\"` beside `say` to move the rest with it",
        missing.join(", ")
    )]
    Missing {
        /// The belief.
        about: String,
        /// The states.
        missing: Vec<String>,
    },
    /// The chances do not sum to 1.
    #[error(
        "the chances supposed for “{about}” sum to {sum}, not to 1; they are never rescaled by themselves"
    )]
    Sum {
        /// The belief.
        about: String,
        /// Their sum.
        sum: f64,
    },
    /// Another form of belief.
    #[error("“{about}” is {is}; suppose {expected}")]
    Form {
        /// The belief.
        about: String,
        /// What it is.
        is: &'static str,
        /// What can be supposed.
        expected: &'static str,
    },
    /// A number that the belief cannot have.
    #[error("“{about}” cannot have {what} {value}; {expected}")]
    Number {
        /// The belief.
        about: String,
        /// Which number.
        what: &'static str,
        /// The number.
        value: f64,
        /// What is expected.
        expected: &'static str,
    },
}

impl Model {
    /// The one belief whose description is this text, or else begins with it.
    ///
    /// # Errors
    /// [`SupposeError::Unknown`] or [`SupposeError::Several`].
    pub fn find_belief(&self, about: &str) -> Result<BeliefId, SupposeError> {
        let exact = self.beliefs.iter().find(|(_, b)| b.about == about);
        if let Some((id, _)) = exact {
            return Ok(id);
        }
        let begin = self
            .beliefs
            .iter()
            .filter(|(_, b)| b.about.starts_with(about));
        let found: Vec<(BeliefId, &str)> = begin.map(|(id, b)| (id, b.about.as_str())).collect();
        match found[..] {
            [(id, _)] => Ok(id),
            [] => {
                let known = self.beliefs.iter().map(|(_, b)| b.about.as_str());
                let near = crate::nearest_name::nearest(about, known);
                let hint = near.map_or_else(
                    || "`pack.beliefs()` lists them".to_owned(),
                    |near| format!("did you mean “{near}”?"),
                );
                Err(SupposeError::Unknown {
                    about: about.to_owned(),
                    hint,
                })
            }
            _ => Err(SupposeError::Several {
                about: about.to_owned(),
                n: found.len(),
                some: found
                    .iter()
                    .take(3)
                    .map(|(_, b)| format!("“{b}”"))
                    .collect(),
            }),
        }
    }

    /// Other chances for a belief, by the names of its states. With `in_proportion`, states that are not named keep their
    /// shares of what is left.
    ///
    /// # Errors
    /// [`SupposeError`] for a belief of another form, unknown or missing states, or chances that do not sum to 1.
    pub fn suppose_chances(
        &self,
        belief: BeliefId,
        chances: &[(String, f64)],
        in_proportion: bool,
        seen: Option<f64>,
    ) -> Result<Supposed, SupposeError> {
        let stated = self.beliefs.get(belief);
        let about = || stated.about.clone();
        let Spread::Categorical { say } = &stated.spread else {
            return Err(SupposeError::Form {
                about: about(),
                is: "about a measured quantity",
                expected: "its `mean` and `sd`",
            });
        };
        let names = chance_names(self, belief);
        let mut supposed: Vec<Option<f64>> = vec![None; say.len()];
        for (name, chance) in chances {
            let place = names.iter().position(|known| known == name);
            let place = place.ok_or_else(|| SupposeError::UnknownChance {
                about: about(),
                name: name.clone(),
                known: names.clone(),
            })?;
            if !(0.0..=1.0).contains(chance) {
                return Err(SupposeError::Number {
                    about: about(),
                    what: "the chance",
                    value: *chance,
                    expected: "a chance lies from 0 to 1",
                });
            }
            supposed[place] = Some(*chance);
        }
        let named: f64 = supposed.iter().flatten().sum();
        let open: f64 = say
            .iter()
            .zip(&supposed)
            .filter(|(_, s)| s.is_none())
            .map(|(p, _)| p)
            .sum();
        if supposed.iter().any(Option::is_none) && !(in_proportion && open > 0.0 && named <= 1.0) {
            let missing = names.iter().zip(&supposed).filter(|(_, s)| s.is_none());
            return Err(SupposeError::Missing {
                about: about(),
                missing: missing.map(|(name, _)| name.clone()).collect(),
            });
        }
        let cells = supposed.iter().zip(say);
        let say: Vec<f64> = cells
            .map(|(supposed, stated)| supposed.unwrap_or_else(|| stated * (1.0 - named) / open))
            .collect();
        let sum: f64 = say.iter().sum();
        if (sum - 1.0).abs() > ROW_SUM_TOLERANCE {
            return Err(SupposeError::Sum {
                about: about(),
                sum,
            });
        }
        let is_beyond = |name: &String| {
            let makers = self.catalogue.makers.iter();
            let mut beyond = makers.filter(|maker| maker.role != MakerRole::Listed);
            beyond.any(|maker| maker.id == *name)
        };
        let closes = |place: usize| say[place] == 0.0 && is_beyond(&names[place]);
        if (0..say.len()).any(closes) {
            return Err(SupposeError::Number {
                about: about(),
                what: "the chance",
                value: 0.0,
                expected: "a maker not listed and a later copy are always possible: give each a chance, however small",
            });
        }
        Ok(Supposed {
            belief,
            spread: Spread::Categorical { say },
            seen: self.seen_or(belief, seen)?,
        })
    }

    /// Another mean or standard deviation for a belief about a normal quantity.
    ///
    /// # Errors
    /// [`SupposeError`] for a belief of another form, or numbers that are none.
    pub fn suppose_normal(
        &self,
        belief: BeliefId,
        mean: Option<f64>,
        sd: Option<f64>,
        seen: Option<f64>,
    ) -> Result<Supposed, SupposeError> {
        let stated = self.beliefs.get(belief);
        let about = || stated.about.clone();
        let Spread::Normal {
            mean: stated_mean,
            sd: stated_sd,
        } = stated.spread
        else {
            return Err(SupposeError::Form {
                about: about(),
                is: "not about one normal quantity",
                expected: "its chances, as `say: #{ … }`",
            });
        };
        let (mean, sd) = (mean.unwrap_or(stated_mean), sd.unwrap_or(stated_sd));
        let refuse = |what, value, expected| SupposeError::Number {
            about: about(),
            what,
            value,
            expected,
        };
        if !mean.is_finite() {
            return Err(refuse("the mean", mean, "a mean is a finite number"));
        }
        if mean <= 0.0 && self.is_of_plain_weights(belief) {
            return Err(refuse("the mean", mean, "a weight is more than 0"));
        }
        if !(sd.is_finite() && sd > 0.0) {
            return Err(refuse("the sd", sd, "a standard deviation is more than 0"));
        }
        Ok(Supposed {
            belief,
            spread: Spread::Normal { mean, sd },
            seen: self.seen_or(belief, seen)?,
        })
    }

    /// Another number of pieces behind a belief, all else as stated.
    ///
    /// # Errors
    /// [`SupposeError::Number`] for what is no number of pieces.
    pub fn suppose_seen(&self, belief: BeliefId, seen: f64) -> Result<Supposed, SupposeError> {
        Ok(Supposed {
            belief,
            spread: self.beliefs.get(belief).spread.clone(),
            seen: self.seen_or(belief, Some(seen))?,
        })
    }

    fn seen_or(&self, belief: BeliefId, seen: Option<f64>) -> Result<f64, SupposeError> {
        let stated = self.beliefs.get(belief);
        // An inverse Wishart in three dimensions needs more than two degrees of freedom.
        let least = match stated.spread {
            Spread::Trivariate { .. } => 2.0,
            _ => 0.0,
        };
        let seen = seen.unwrap_or(stated.seen);
        if seen.is_finite() && seen > least {
            return Ok(seen);
        }
        Err(SupposeError::Number {
            about: stated.about.clone(),
            what: "seen",
            value: seen,
            expected: "it rests on more than 0 pieces, a colour on more than 2",
        })
    }
}

impl CompiledModel {
    /// The model with some beliefs changed, all else as it is; the circuit is shared. Name and hash say that it is no longer
    /// the pack's.
    #[must_use]
    pub fn supposing(&self, supposed: &[Supposed], what: &str) -> Self {
        let name = format!("{}, {what}", self.model.name);
        let mut altered = self.model.altered.clone();
        altered.supposed.push(what.to_owned());
        self.altered(supposed, name, altered)
    }

    /// The model with other beliefs, under another name.
    pub(super) fn altered(&self, supposed: &[Supposed], name: String, altered: Altered) -> Self {
        let mut beliefs = self.model.beliefs.clone();
        let mut changes = Sha256::new();
        changes.update(&self.model.hash);
        for change in supposed {
            let about = &self.model.beliefs.get(change.belief).about;
            changes.update(format!("{about}: {:?}, {:?}", change.spread, change.seen));
            beliefs.replace(change.belief, change.spread.clone(), change.seen);
        }
        let mut parameters = self.parameters.clone();
        self.model.write_tables(&beliefs.stated(), &mut parameters);
        let mut hash = String::new();
        for byte in changes.finalize() {
            let _ = write!(hash, "{byte:02x}");
        }
        let model = Model {
            name,
            hash,
            altered,
            network: self.model.network.with_tables(&parameters),
            beliefs,
            ..(*self.model).clone()
        };
        Self {
            model: Arc::new(model),
            circuit: self.circuit.clone(),
            parameters,
        }
    }
}
