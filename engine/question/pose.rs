//! A question put to a model.

use std::borrow::Cow;

use nalgebra::DMatrix;

use super::resolve::{Resolved, resolve};
use super::{Posed, Question, QuestionError};
use crate::model::{CompiledModel, Model};
use crate::network::{Cpt, Network, Role, Variable, VariableId};

/// States that the variables of one question may have together.
const WIDEST: usize = 1 << 18;

/// States of the variable that a question about several becomes.
const STATES: [&str; 3] = ["so", "the alternative", "neither"];

impl CompiledModel {
    /// Finds the names of a question in the pack.
    ///
    /// # Errors
    /// [`QuestionError`] for names that the pack does not know, claims that overlap, and claims that are settled beforehand.
    pub fn pose(&self, question: &Question) -> Result<Posed<'_>, QuestionError> {
        let (hypothesis, hypothesis_words) = resolve(&self.model, &question.hypothesis)?;
        let alternative = question.alternative.as_ref();
        let alternative = alternative.map(|claim| resolve(&self.model, claim));
        let (alternative, alternative_words) = match alternative.transpose()? {
            Some((claim, words)) => (claim, words),
            None => (
                Resolved::Not(Box::new(hypothesis.clone())),
                self.all_else(&hypothesis),
            ),
        };
        let mut variables = Vec::new();
        hypothesis.variables(&mut variables);
        alternative.variables(&mut variables);

        let network = &self.model.network;
        let states = |&id: &VariableId| network.n_states(id);
        let n_cases = variables.iter().map(states).try_fold(1_usize, |n, states| {
            n.checked_mul(states).filter(|n| *n <= WIDEST)
        });
        let Some(n_cases) = n_cases else {
            let name = |&id: &VariableId| network.variable(id).name.clone();
            return Err(QuestionError::TooWide {
                about: variables.iter().map(name).collect(),
            });
        };
        let mut state_in_case = Vec::with_capacity(n_cases);
        let mut n_possible = 0;
        for case in 0..n_cases {
            let state_of = |id: VariableId| {
                // The last variable turns fastest, as in a table.
                let place = variables.iter().position(|&v| v == id).unwrap_or(0);
                let below: usize = variables[place + 1..].iter().map(states).product();
                case / below % network.n_states(id)
            };
            if !self.can_be(&variables, &state_of) {
                state_in_case.push(2);
                continue;
            }
            n_possible += 1;
            let state = match (hypothesis.holds(&state_of), alternative.holds(&state_of)) {
                (true, true) => {
                    return Err(QuestionError::Overlap {
                        claim: hypothesis_words,
                        alternative: alternative_words,
                    });
                }
                (true, false) => 0,
                (false, true) => 1,
                (false, false) => 2,
            };
            state_in_case.push(state);
        }
        for (state, words) in [(0, &hypothesis_words), (1, &alternative_words)] {
            let n = state_in_case.iter().filter(|&&s| s == state).count();
            if n == 0 || n == n_possible {
                return Err(QuestionError::Settled {
                    claim: words.clone(),
                    always: n != 0,
                });
            }
        }
        let posed = |compiled, variable, states: &[usize]| {
            let of = |wanted| (0..states.len()).filter(move |&s| states[s] == wanted);
            Posed {
                compiled,
                variable,
                hypothesis: of(0).collect(),
                alternative: of(1).collect(),
                hypothesis_words: hypothesis_words.clone(),
                alternative_words: alternative_words.clone(),
            }
        };
        if let [variable] = variables[..] {
            return Ok(posed(Cow::Borrowed(self), variable, &state_in_case));
        }
        let (extended, variable) = self.with_question(variables, &state_in_case)?;
        Ok(posed(Cow::Owned(extended), variable, &[0, 1, 2]))
    }

    /// Whether variables can be in these states together: a maker's region is one, and no maker works in another.
    fn can_be(&self, variables: &[VariableId], state_of: &impl Fn(VariableId) -> usize) -> bool {
        let network = &self.model.network;
        variables.iter().all(|&id| {
            let parents = network.parents(id);
            if !parents.iter().all(|parent| variables.contains(parent)) {
                return true;
            }
            let configuration = network.configuration(id, state_of);
            self.parameters.column(id, configuration)[state_of(id)] > 0.0
        })
    }

    fn all_else(&self, hypothesis: &Resolved) -> String {
        let Resolved::Is { variable, .. } = hypothesis else {
            return "that it is not so".to_owned();
        };
        let catalogue = &self.model.catalogue;
        let others = if *variable == catalogue.maker || Some(*variable) == catalogue.works {
            "all other makers"
        } else if *variable == catalogue.region {
            "all other regions"
        } else if *variable == catalogue.period {
            "all other periods"
        } else if Some(*variable) == catalogue.engraving {
            "all other engravings"
        } else {
            return "all other states".to_owned();
        };
        format!("{others} together")
    }

    /// The model with one variable more, whose state follows from those of others. All tables stay as they are, and so do
    /// the ids of variables and measures.
    fn with_question(
        &self,
        parents: Vec<VariableId>,
        state_in_case: &[usize],
    ) -> Result<(Self, VariableId), QuestionError> {
        let old = &self.model.network;
        let mut variables = old.variables().to_vec();
        let variable = VariableId::new(u32::try_from(variables.len()).unwrap_or(u32::MAX));
        variables.push(Variable {
            name: "what is asked".to_owned(),
            states: STATES.map(str::to_owned).to_vec(),
            role: Role::Chance,
        });
        let mut cpts: Vec<Cpt> = old.variable_ids().map(|id| old.cpt(id).clone()).collect();
        let mut table = DMatrix::zeros(STATES.len(), state_in_case.len());
        for (case, &state) in state_in_case.iter().enumerate() {
            table[(state, case)] = 1.0;
        }
        cpts.push(Cpt { parents, table });
        let network = Network::new(variables, cpts, old.measures().to_vec())?;
        let mut tables = self.model.tables.clone();
        tables.push(None);
        let model = Model {
            network,
            tables,
            ..(*self.model).clone()
        };
        Ok((model.compile()?, variable))
    }
}
