//! What the looks are to tell of: the classes of answers between which it is undecided.

use std::borrow::Cow;

use super::NextLookError;
use crate::model::CompiledModel;
use crate::network::VariableId;
use crate::query::AskError;
use crate::question::Question;

/// One of the answers.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// Short code.
    pub id: String,
    /// Name for people.
    pub name: String,
}

/// A variable whose states fall into classes.
#[derive(Clone, Debug)]
pub struct Subject<'a> {
    /// The model that answers.
    pub compiled: Cow<'a, CompiledModel>,
    /// What is asked, in words.
    pub words: String,
    /// The variable.
    pub variable: VariableId,
    /// The class of each of its states.
    pub class_of: Vec<usize>,
    /// The classes.
    pub answers: Vec<Answer>,
}

/// What to ask about.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum About {
    /// The maker; in a pack that leaves out makers, the period.
    #[default]
    Usual,
    /// The maker.
    Maker,
    /// The works.
    Works,
    /// The region.
    Region,
    /// The period.
    Period,
    /// One claim against another; what is neither is a third answer.
    Question(Question),
}

impl<'a> Subject<'a> {
    /// Finds what is asked about in a model.
    ///
    /// # Errors
    /// [`NextLookError::Ask`] if the pack leaves it out, [`NextLookError::NoWorks`], [`NextLookError::Question`].
    pub fn find(compiled: &'a CompiledModel, about: &About) -> Result<Self, NextLookError> {
        let model = &compiled.model;
        let catalogue = &model.catalogue;
        let has_no_makers = catalogue.leaves_out("maker");
        let has_no_periods = catalogue.leaves_out("period");
        let needs_makers = || match has_no_makers {
            true => Err(NextLookError::Ask(AskError::MakerNotAsked)),
            false => Ok(()),
        };
        let of_variable = |variable, words: &str| {
            let states = &model.network.variable(variable).states;
            let answer = |state: &String| Answer {
                id: state.clone(),
                name: state.clone(),
            };
            Self {
                compiled: Cow::Borrowed(compiled),
                words: words.to_owned(),
                variable,
                class_of: (0..states.len()).collect(),
                answers: states.iter().map(answer).collect(),
            }
        };
        match about {
            About::Usual if !has_no_makers => Self::find(compiled, &About::Maker),
            About::Usual | About::Period => {
                if has_no_periods {
                    return Err(NextLookError::PeriodLeftOut);
                }
                let mut subject = of_variable(catalogue.period, "the period");
                for (answer, period) in subject.answers.iter_mut().zip(&catalogue.periods) {
                    answer.name = period.in_words();
                }
                Ok(subject)
            }
            About::Maker => {
                needs_makers()?;
                let mut subject = of_variable(catalogue.maker, "the maker");
                for (answer, maker) in subject.answers.iter_mut().zip(&catalogue.makers) {
                    answer.name.clone_from(&maker.name);
                }
                Ok(subject)
            }
            About::Works => {
                needs_makers()?;
                let works = catalogue.works.ok_or(NextLookError::NoWorks)?;
                Ok(of_variable(works, "the works"))
            }
            About::Region => {
                needs_makers()?;
                Ok(of_variable(catalogue.region, "the region"))
            }
            About::Question(question) => {
                let posed = compiled.pose(question)?;
                let n_states = posed.compiled.model.network.n_states(posed.variable);
                let class = |state: usize| match state {
                    _ if posed.hypothesis.contains(&state) => 0,
                    _ if posed.alternative.contains(&state) => 1,
                    _ => 2,
                };
                let class_of: Vec<usize> = (0..n_states).map(class).collect();
                let answer = |(id, name): (&str, &str)| Answer {
                    id: id.to_owned(),
                    name: name.to_owned(),
                };
                let named = [
                    ("claim", posed.hypothesis_words.as_str()),
                    ("alternative", posed.alternative_words.as_str()),
                    ("neither", "neither"),
                ];
                let n_answers = if class_of.contains(&2) { 3 } else { 2 };
                let words = format!(
                    "{} against {}",
                    posed.hypothesis_words, posed.alternative_words
                );
                Ok(Self {
                    answers: named.into_iter().take(n_answers).map(answer).collect(),
                    words,
                    variable: posed.variable,
                    class_of,
                    compiled: posed.compiled,
                })
            }
        }
    }
}
