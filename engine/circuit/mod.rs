//! A network compiled for many queries.
//!
//! [`Circuit::compile`] decides once, from the structure alone, in which order variables are summed out
//! and where each table lies. An evaluation then runs through that plan: the upward pass gives
//! P(evidence), the downward pass the derivatives from which all posteriors follow. Numbers (parameters
//! and evidence) come with each query.
//!
//! Results are exact up to rounding. Arithmetic is in `f64`; when a product of numbers other than 0 would
//! leave its range, the evaluation is repeated with an exponent that cannot run out, so that nothing
//! underflows and an exact 0 always means impossible.
//!
//! The circuit knows no names, files or wording, and does not sample.
//!
//! ```
//! use nalgebra::DMatrix;
//! use saggar::circuit::Circuit;
//! use saggar::network::{Cpt, Evidence, Network, Role, Variable};
//!
//! let variable = |name: &str, states: [&str; 2]| Variable {
//!     name: name.to_owned(),
//!     states: states.map(str::to_owned).to_vec(),
//!     role: Role::Chance,
//! };
//! let variables = vec![
//!     variable("cab", ["blue", "green"]),
//!     variable("witness", ["blue", "green"]),
//! ];
//! let cab = saggar::network::VariableId::new(0);
//! // Tversky and Kahneman 1982: 15 % of cabs are blue, the witness is right 80 % of the time.
//! let cpts = vec![
//!     Cpt { parents: vec![], table: DMatrix::from_column_slice(2, 1, &[0.15, 0.85]) },
//!     Cpt { parents: vec![cab], table: DMatrix::from_column_slice(2, 2, &[0.8, 0.2, 0.2, 0.8]) },
//! ];
//! let network = Network::new(variables, cpts, vec![])?;
//! let circuit = Circuit::compile(&network)?;
//!
//! let witness = network.find("witness").ok_or("no witness")?;
//! let mut evidence = Evidence::new();
//! evidence.observe(witness, 0);
//! let posterior = circuit.evaluate(&network.parameters(), &evidence)?;
//! let blue = posterior.marginal(cab).ok_or("no posterior")?[0];
//! assert!((blue - 12.0 / 29.0).abs() < 1e-12);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod checks;
mod conflict;
mod contract;
mod derivatives;
mod error;
mod evaluate;
mod lanes;
mod marginals;
mod number;
mod order;
mod passes;
mod plan;
mod posterior;
mod propagator;
mod spare;
mod specialised;
mod subsets;

use std::sync::Arc;

use crate::network::{Network, Structure};

pub use derivatives::JointDerivatives;
pub use error::{CompileError, QueryError};
pub use evaluate::Workspace;
pub use lanes::{LANES, Lanes};
pub use marginals::Marginals;
pub use posterior::Posterior;
pub use propagator::{Propagator, PropagatorWorkspace, WORK_LIMIT};
pub use specialised::{LaneAnswer, LaneWorkspace, ParameterLanes, Specialised};
pub use subsets::{MOST_GROUPS, SubsetPosteriors, Subsets, SubsetsError, SubsetsWorkspace};

use checks::Inputs;
use plan::{Part, Plan};

/// Cells that the tables of a circuit may have together: half a gibibyte in `f64`, and as much again for
/// derivatives.
pub const CELL_LIMIT: usize = 1 << 26;

/// A compiled network: elimination order, loops and memory plan, but no numbers.
#[derive(Clone, Debug)]
pub struct Circuit {
    structure: Arc<Structure>,
    plan: Plan,
    inputs: Inputs,
    spare: spare::Spare,
}

/// What an evaluation costs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cost {
    /// Cells of the largest cluster, whether or not it is ever stored as a whole.
    pub largest_table: usize,
    /// Cells that one upward pass runs through, the given tables included. A downward pass takes about
    /// twice as many.
    pub total_cells: usize,
    /// Variables in the widest cluster, less one.
    pub induced_width: usize,
}

impl Circuit {
    /// Compiles the structure of a network; its numbers are not looked at.
    ///
    /// The cheapest of several elimination orders is taken; if it is still expensive, more are tried. The
    /// result depends on nothing but the structure.
    ///
    /// # Errors
    /// [`CompileError::TooLarge`] if a pass would run through more than [`CELL_LIMIT`] cells. This is
    /// known before any table is made.
    /// # Source
    /// Dechter, "Bucket elimination: a unifying framework for reasoning", Artificial Intelligence 113,
    /// 1999.
    pub fn compile(network: &Network) -> Result<Self, CompileError> {
        Self::compile_within(network, CELL_LIMIT)
    }

    /// Compiles with another limit on the cells of a pass; limits above 2^32 - 1 count as 2^32 - 1.
    ///
    /// # Errors
    /// [`CompileError::TooLarge`] as for [`compile`](Self::compile).
    pub fn compile_within(network: &Network, cell_limit: usize) -> Result<Self, CompileError> {
        let structure = Arc::clone(network.structure());
        let plan = Plan::new(&structure, &Part::whole(&structure), cell_limit.into())?;
        Ok(Self {
            inputs: Inputs::new(&structure),
            structure,
            plan,
            spare: spare::Spare::default(),
        })
    }

    /// What an evaluation costs.
    pub fn cost(&self) -> Cost {
        self.plan.cost
    }

    /// The structure that was compiled.
    pub fn structure(&self) -> &Arc<Structure> {
        &self.structure
    }
}
