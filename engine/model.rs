//! The checked model: a network whose tables are written by beliefs.
//!
//! [`crate::check`] builds it and guarantees that it is whole. A [`Model`] has three layers:
//! the [`Network`] (variables, parents, tables at the stated beliefs), the [`Beliefs`] an expert gave, each with its
//! place in a file and the pieces behind it, and a [`ColumnRule`] for every column of every table that says how beliefs
//! become probabilities. So a stress run can draw beliefs and rewrite the tables by the same rules.

pub mod belief;
pub mod catalogue;
pub mod column;
pub mod lettering;
pub mod together;

use std::sync::Arc;

pub use belief::{Belief, BeliefId, Beliefs, Spread, Values};
pub use catalogue::{
    Catalogue, Clue, ClueKind, ClueTarget, LeftOut, Maker, MakerRole, Observer, Period, Region,
    Size, Weighing, Wording,
};
pub use column::ColumnRule;
pub use lettering::{LetteringRules, MarkFragment, NoteError};

use crate::circuit::{Circuit, CompileError};
use crate::network::{MeasureId, Network, Parameters, VariableId};

/// How the table of one variable is written.
#[derive(Clone, Debug)]
pub struct TableRules {
    /// The distinct rules.
    pub rules: Vec<ColumnRule>,
    /// For each rule, the lines of the prior files it comes from.
    pub citations: Vec<Vec<String>>,
    /// For each parent configuration (last parent fastest) the rule that writes its column.
    pub rule_of_configuration: Vec<usize>,
}

/// How the density of one measure is written.
#[derive(Clone, Debug)]
pub enum MeasureRules {
    /// A weight.
    Weight {
        /// For each parent configuration, the belief about location and spread.
        belief_of_configuration: Vec<BeliefId>,
        /// Whether the belief is about the logarithm of the measured value.
        logarithmic: bool,
    },
    /// A fragment of a mark: written by [`Model::lettering`].
    Fragment {
        /// For each parent configuration, the line of the mark's entry.
        citation_of_configuration: Vec<Option<String>>,
    },
    /// What dates a piece, whose likelihood depends on the period alone: written where the finding is entered.
    Dating {
        /// How often a usual limit is broken, or a date wrong: the first cell of two.
        exceptions: BeliefId,
    },
    /// Quantities measured together. What is learned has no beliefs to be doubted: the density of the next piece already
    /// holds all doubt about means and scatter.
    Learned(Arc<together::Together>),
}

impl MeasureRules {
    /// The line of the prior files that speaks for a parent configuration.
    #[must_use]
    pub fn citation<'a>(&'a self, configuration: usize, beliefs: &'a Beliefs) -> Option<&'a str> {
        match self {
            Self::Weight {
                belief_of_configuration,
                ..
            } => {
                let belief = *belief_of_configuration.get(configuration)?;
                Some(&beliefs.get(belief).citation)
            }
            Self::Fragment {
                citation_of_configuration,
            } => citation_of_configuration.get(configuration)?.as_deref(),
            Self::Learned(together) => Some(&together.citation),
            Self::Dating { exceptions } => Some(&beliefs.get(*exceptions).citation),
        }
    }
}

/// A checked pack, ready to be compiled.
#[derive(Clone, Debug)]
pub struct Model {
    /// The pack's name.
    pub name: String,
    /// SHA-256 of the pack's files.
    pub hash: String,
    /// The network at the stated beliefs.
    pub network: Network,
    /// What the expert believes.
    pub beliefs: Beliefs,
    /// How each variable's table is written, in the order of the network's variables; `None` for an input.
    pub tables: Vec<Option<TableRules>>,
    /// How each measure's densities are written, in the order of the network's measures.
    pub measures: Vec<MeasureRules>,
    /// How the lettering of marks is read, if the pack says so.
    pub lettering: Option<LetteringRules>,
    /// Makers, periods, clues and words.
    pub catalogue: Catalogue,
}

/// A model with its compiled circuit: what every question is put to.
#[derive(Clone, Debug)]
pub struct CompiledModel {
    /// The model.
    pub model: Arc<Model>,
    /// Its circuit.
    pub circuit: Circuit,
    /// The tables at the stated beliefs.
    pub parameters: Parameters,
}

impl Model {
    /// Writes every table from the given values of the beliefs.
    ///
    /// `parameters` must belong to this model's network.
    pub fn write_tables(&self, values: &Values, parameters: &mut Parameters) {
        for (variable, table) in self.network.variable_ids().zip(&self.tables) {
            let Some(table) = table else { continue };
            write_table(variable, table, values, parameters);
        }
    }

    /// The density of a measured weight for every parent configuration of a measure; none for one of another kind.
    #[must_use]
    pub fn densities(&self, measure: MeasureId, value: f64, values: &Values) -> Vec<f64> {
        let MeasureRules::Weight {
            belief_of_configuration,
            logarithmic,
        } = &self.measures[measure.index()]
        else {
            return Vec::new();
        };
        let density = |&belief: &BeliefId| {
            let (location, scale) = values.normal(belief);
            column::weight::density(value, location, scale, *logarithmic)
        };
        belief_of_configuration.iter().map(density).collect()
    }

    /// Compiles the network.
    ///
    /// # Errors
    /// [`CompileError`] if the predicted tables are too large to be worked with.
    pub fn compile(self) -> Result<CompiledModel, CompileError> {
        let circuit = Circuit::compile(&self.network)?;
        let parameters = self.network.parameters();
        Ok(CompiledModel {
            model: Arc::new(self),
            circuit,
            parameters,
        })
    }
}

fn write_table(
    variable: VariableId,
    table: &TableRules,
    values: &Values,
    parameters: &mut Parameters,
) {
    // Many configurations share a rule (a row that names only the region speaks for every period): each rule is worked
    // out once, where it is first met, and copied from there.
    let mut first_use = vec![None; table.rules.len()];
    for (configuration, &rule) in table.rule_of_configuration.iter().enumerate() {
        match first_use[rule] {
            None => {
                table.rules[rule].write(values, parameters.column_mut(variable, configuration));
                first_use[rule] = Some(configuration);
            }
            Some(earlier) => parameters.copy_column(variable, earlier, configuration),
        }
    }
}
