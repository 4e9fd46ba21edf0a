//! The checked model: a network whose tables are written by beliefs.
//!
//! [`crate::check`] builds it and guarantees that it is whole. A [`Model`] has three layers:
//! the [`Network`] (variables, parents, tables at the stated beliefs), the [`Beliefs`] an expert gave, each with its
//! place in a file and the pieces behind it, and a [`ColumnRule`] for every column of every table that says how beliefs
//! become probabilities. So a stress run can draw beliefs and rewrite the tables by the same rules.

pub mod belief;
pub mod catalogue;
pub mod chance_names;
pub mod column;
pub mod histories;
pub mod lettering;
pub mod looks;
pub mod market;
pub mod pooled;
pub mod supposed;
pub mod together;
mod weights;
pub mod wording;

use std::sync::Arc;

pub use belief::{Belief, BeliefId, Beliefs, SetTogether, Spread, Values};
pub use catalogue::{
    Catalogue, Clue, ClueGroup, ClueKind, ClueTarget, HiddenQuality, LeftOut, Maker, MakerRole,
    Observer, Period, Region, Size, Weighing,
};
pub use column::ColumnRule;
pub use histories::Histories;
pub use lettering::{LetteringRules, MarkFragment, NoteError};
pub use wording::{Scale, Wording};

use crate::cielab::{self, Lab};
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
    /// A quantity: a weight, a colour.
    Quantity {
        /// For each parent configuration, the belief about location and spread.
        belief_of_configuration: Vec<BeliefId>,
        /// What the belief is about.
        family: MeasureFamily,
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
            Self::Quantity {
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

/// The family of distributions of a measure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum MeasureFamily {
    /// A normal quantity.
    Normal,
    /// A quantity whose logarithm is normal.
    Lognormal,
    /// A colour in CIELAB.
    Colour {
        /// The instrument's standard deviations of L*, a* and b*, where a finding gives none.
        instrument: [f64; 3],
    },
}

/// How a model differs from what its pack's files say: nothing, unless beliefs were supposed or packs pooled.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Altered {
    /// Beliefs that were supposed, in words.
    pub supposed: Vec<String>,
    /// Packs that were pooled, each with its weight, in words.
    pub pooled: Vec<String>,
}

/// A checked pack, ready to be compiled.
#[derive(Clone, Debug)]
pub struct Model {
    /// The pack's name.
    pub name: String,
    /// SHA-256 of the pack's files.
    pub hash: String,
    /// How it differs from what the pack's files say.
    pub altered: Altered,
    /// The network at the stated beliefs.
    pub network: Network,
    /// What the expert believes.
    pub beliefs: Beliefs,
    /// Beliefs that were set together: whoever is wrong about one is wrong about the others in the same way.
    pub set_together: Vec<SetTogether>,
    /// How each variable's table is written, in the order of the network's variables; `None` for an input.
    pub tables: Vec<Option<TableRules>>,
    /// How each measure's densities are written, in the order of the network's measures.
    pub measures: Vec<MeasureRules>,
    /// How the lettering of marks is read, if the pack says so.
    pub lettering: Option<LetteringRules>,
    /// What became of the engravings, if the pack tells their histories.
    pub histories: Option<Histories>,
    /// Makers, periods, clues and words.
    pub catalogue: Catalogue,
    /// What was sold, how prices differ and what value means, if the pack says so.
    pub market: Option<Arc<market::Market>>,
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

    /// The density of a measured value for every parent configuration of a measure; of a value known only to lie between
    /// two bounds, the mean of the density between them. None for a measure of another kind.
    #[must_use]
    pub fn densities(
        &self,
        measure: MeasureId,
        value: f64,
        within: Option<(f64, f64)>,
        values: &Values,
    ) -> Vec<f64> {
        let MeasureRules::Quantity {
            belief_of_configuration,
            family,
        } = &self.measures[measure.index()]
        else {
            return Vec::new();
        };
        let logarithmic = *family == MeasureFamily::Lognormal;
        let density = |&belief: &BeliefId| {
            let (location, scale) = values.normal(belief);
            match within {
                None => column::weight::density(value, location, scale, logarithmic),
                Some((low, high)) => {
                    column::weight::mean_density(low, high, location, scale, logarithmic)
                }
            }
        };
        belief_of_configuration.iter().map(density).collect()
    }

    /// The density of a measured colour for every parent configuration of a measure; `spread` is the instrument's, if the
    /// finding gives it. None for any other measure.
    #[must_use]
    pub fn colour_densities(
        &self,
        measure: MeasureId,
        lab: Lab,
        spread: Option<[f64; 3]>,
        values: &Values,
    ) -> Vec<f64> {
        let MeasureRules::Quantity {
            belief_of_configuration,
            family: MeasureFamily::Colour { instrument },
        } = &self.measures[measure.index()]
        else {
            return Vec::new();
        };
        let instrument = spread.unwrap_or(*instrument);
        let density =
            |&belief: &BeliefId| column::colour::density(lab, values.of(belief), instrument);
        belief_of_configuration.iter().map(density).collect()
    }

    /// The row about colours whose mean looks nearest to a measured one, with the difference ΔE₀₀.
    #[must_use]
    pub fn nearest_colour(&self, measure: MeasureId, lab: Lab) -> Option<(&Belief, f64)> {
        let MeasureRules::Quantity {
            belief_of_configuration,
            ..
        } = &self.measures[measure.index()]
        else {
            return None;
        };
        let off = |belief: &Belief| match belief.spread {
            Spread::Trivariate {
                mean: [l, a, b], ..
            } => Some(cielab::delta_e_2000(lab, Lab { l, a, b })),
            _ => None,
        };
        belief_of_configuration
            .iter()
            .map(|&id| self.beliefs.get(id))
            .filter_map(|belief| Some((belief, off(belief)?)))
            .min_by(|one, other| one.1.total_cmp(&other.1))
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
