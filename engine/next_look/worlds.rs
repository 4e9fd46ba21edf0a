//! The joint states of the variables that separate the looks, with what each look would show in each of them.

use crate::circuit::{Circuit, Posterior, QueryError, Workspace};
use crate::model::ClueTarget;
use crate::network::{Evidence, Parameters, VariableId};

/// Everything that can be the case, as far as it matters to the looks.
#[derive(Clone, Debug, Default)]
pub struct Worlds {
    /// P(world | evidence), each above 0; they sum to 1.
    pub weights: Vec<f64>,
    /// The state of the question in each world.
    pub states: Vec<usize>,
    /// What each look shows in each world.
    pub looks: Vec<Outcomes>,
}

/// Chances of what one look shows.
#[derive(Clone, Debug, Default)]
pub struct Outcomes {
    /// How many outcomes: states of a variable, or configurations of a measure's parents.
    pub n: usize,
    /// P(outcome | world, evidence): for each world one chance for each outcome.
    pub chances: Vec<f64>,
}

impl Outcomes {
    /// The chances in one world.
    #[must_use]
    pub fn in_world(&self, world: usize) -> &[f64] {
        &self.chances[world * self.n..(world + 1) * self.n]
    }
}

impl Worlds {
    /// The mean of what holds in each world.
    #[must_use]
    pub fn mean(&self, in_each: &[f64]) -> f64 {
        in_each.iter().zip(&self.weights).map(|(x, w)| x * w).sum()
    }
}

/// Why the worlds cannot be listed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum WorldsError {
    /// There are too many.
    #[error(
        "the looks hang together through more than {most} joint states; ask about fewer looks at a time"
    )]
    TooMany {
        /// The limit.
        most: usize,
    },
    /// The evidence cannot be evaluated.
    #[error(transparent)]
    Query(#[from] QueryError),
}

/// Walks through the joint states of the variables that separate the looks, those that are possible.
pub struct Walk<'a> {
    /// The circuit.
    pub circuit: &'a Circuit,
    /// Its tables.
    pub parameters: &'a Parameters,
    /// The question; one of `order`, or observed.
    pub question: VariableId,
    /// The variables to go through, each after its parents.
    pub order: &'a [VariableId],
    /// The looks.
    pub looks: &'a [ClueTarget],
    /// Worlds that are not too many.
    pub most: usize,
}

impl Walk<'_> {
    /// Lists the worlds. One evaluation for each partial state with more than one way on.
    ///
    /// # Errors
    /// [`WorldsError::TooMany`]; [`WorldsError::Query`] as for [`Circuit::evaluate`].
    pub fn worlds(&self, evidence: &Evidence) -> Result<Worlds, WorldsError> {
        let mut worlds = Worlds {
            looks: vec![Outcomes::default(); self.looks.len()],
            ..Worlds::default()
        };
        let mut so_far = evidence.clone();
        self.step(
            0,
            1.0,
            &mut so_far,
            &mut self.circuit.workspace(),
            &mut worlds,
        )?;
        Ok(worlds)
    }

    fn step(
        &self,
        depth: usize,
        weight: f64,
        evidence: &mut Evidence,
        workspace: &mut Workspace,
        worlds: &mut Worlds,
    ) -> Result<(), WorldsError> {
        let posterior = self
            .circuit
            .evaluate_in(workspace, self.parameters, evidence)?;
        // What is certain already needs no evaluation of its own.
        let undecided = (depth..self.order.len()).find_map(|depth| {
            let p = posterior.marginal(self.order[depth]).unwrap_or(&[]);
            let n_possible = p.iter().filter(|&&p| p > 0.0).count();
            (n_possible > 1).then(|| (depth, p.to_vec()))
        });
        let Some((depth, p)) = undecided else {
            return self.add(weight, posterior, worlds);
        };
        let id = self.order[depth];
        let before = evidence.finding(id).cloned();
        for (state_idx, p) in p.into_iter().enumerate().filter(|(_, p)| *p > 0.0) {
            evidence.observe(id, state_idx);
            self.step(depth + 1, weight * p, evidence, workspace, worlds)?;
        }
        match before {
            Some(finding) => evidence.restore(id, finding),
            None => {
                evidence.remove(crate::network::EvidenceItem::Variable(id));
            }
        }
        Ok(())
    }

    fn add(
        &self,
        weight: f64,
        posterior: &Posterior,
        worlds: &mut Worlds,
    ) -> Result<(), WorldsError> {
        if worlds.weights.len() == self.most {
            return Err(WorldsError::TooMany { most: self.most });
        }
        worlds.weights.push(weight);
        let question = posterior.marginal(self.question).unwrap_or(&[]);
        let state = question.iter().position(|&p| p > 0.0).unwrap_or(0);
        worlds.states.push(state);
        for (&look, outcomes) in self.looks.iter().zip(&mut worlds.looks) {
            let chances = match look {
                ClueTarget::Variable(id) => posterior.marginal(id),
                ClueTarget::Measure(id) => posterior.measure_configurations(id),
            };
            let chances = chances.unwrap_or(&[]);
            outcomes.n = chances.len();
            outcomes.chances.extend_from_slice(chances);
        }
        Ok(())
    }
}
