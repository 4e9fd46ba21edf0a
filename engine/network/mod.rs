//! The checked model: discrete variables with conditional probability tables, continuous measures, and
//! evidence about them.
//!
//! A [`Network`] is always valid: no circles, every table of the right shape, every column a probability
//! distribution. It knows no files and answers no queries; [`crate::circuit`] compiles and evaluates it.

mod averaged_over;
mod cpt;
mod dag;
mod error;
mod evidence;
mod parameters;
mod structure;
mod variable;

use std::ops::Deref;
use std::sync::Arc;

pub use cpt::{Cpt, ROW_SUM_TOLERANCE};
pub use error::NetworkError;
pub use evidence::{Evidence, EvidenceError, EvidenceItem, Finding, ItemContent};
pub use parameters::Parameters;
pub use structure::Structure;
pub use variable::{Measure, MeasureId, Role, Variable, VariableId};

/// A Bayesian network over discrete variables, with continuous measures as leaves.
///
/// It dereferences to its [`Structure`], where variables, parents and orders are looked up.
#[derive(Clone, Debug, PartialEq)]
pub struct Network {
    structure: Arc<Structure>,
    cpts: Vec<Cpt>,
}

impl Network {
    /// A network with one table for each variable, in the same order.
    ///
    /// # Errors
    /// The first defect found: different lengths, a name used twice (among variables and measures, or
    /// among the states of a variable), a variable without states, a parent that does not exist or is
    /// repeated, an input with parents, a table of the wrong shape, an entry that is negative or not
    /// finite, a column that does not sum to 1 within [`ROW_SUM_TOLERANCE`], a circle (the error lists it).
    pub fn new(
        variables: Vec<Variable>,
        cpts: Vec<Cpt>,
        measures: Vec<Measure>,
    ) -> Result<Self, NetworkError> {
        if variables.len() != cpts.len() {
            return Err(NetworkError::TableCount {
                n_variables: variables.len(),
                n_cpts: cpts.len(),
            });
        }
        let parents = cpts.iter().map(|cpt| cpt.parents.clone()).collect();
        let structure = Structure::new(variables, parents, measures)?;
        for (id, cpt) in structure.variable_ids().zip(&cpts) {
            let variable = structure.variable(id);
            let shape = (structure.n_states(id), structure.n_configurations(id));
            if cpt.table.shape() != shape {
                return Err(NetworkError::TableShape {
                    variable: variable.name.clone(),
                    rows: shape.0,
                    columns: shape.1,
                    found_rows: cpt.table.nrows(),
                    found_columns: cpt.table.ncols(),
                });
            }
            if variable.role == Role::Chance {
                cpt.check_columns(&variable.name)?;
            }
        }
        Ok(Self {
            structure: Arc::new(structure),
            cpts,
        })
    }

    /// The network without its numbers.
    pub fn structure(&self) -> &Arc<Structure> {
        &self.structure
    }

    /// The table of one variable.
    ///
    /// # Panics
    /// If `id` belongs to a larger network.
    pub fn cpt(&self, id: VariableId) -> &Cpt {
        &self.cpts[id.index()]
    }

    /// The same network with the tables of some parameters made for it.
    pub(crate) fn with_tables(&self, parameters: &Parameters) -> Self {
        let cpts = self.variable_ids().map(|id| {
            let cpt = self.cpt(id);
            let (rows, columns) = cpt.table.shape();
            Cpt {
                parents: cpt.parents.clone(),
                table: nalgebra::DMatrix::from_column_slice(rows, columns, parameters.table(id)),
            }
        });
        Self {
            structure: Arc::clone(&self.structure),
            cpts: cpts.collect(),
        }
    }

    /// The entries of all tables in one vector, to be passed to a circuit or to be changed.
    pub fn parameters(&self) -> Parameters {
        Parameters::new(Arc::clone(&self.structure), &self.cpts)
    }
}

impl Deref for Network {
    type Target = Structure;

    fn deref(&self) -> &Structure {
        &self.structure
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test may panic")]
mod tests {
    use nalgebra::DMatrix;

    use super::*;

    fn variable(name: &str, n_states: usize) -> Variable {
        Variable {
            name: name.to_owned(),
            states: (0..n_states).map(|s| format!("s{s}")).collect(),
            role: Role::Chance,
        }
    }

    fn cpt(n_states: usize, n_columns: usize, parents: &[u32]) -> Cpt {
        Cpt {
            parents: parents.iter().map(|&p| VariableId::new(p)).collect(),
            table: DMatrix::from_element(n_states, n_columns, 1.0 / n_states as f64),
        }
    }

    fn refused(variables: Vec<Variable>, cpts: Vec<Cpt>, expected: &str) {
        let error = Network::new(variables, cpts, Vec::new()).unwrap_err();
        assert_eq!(error.to_string(), expected);
    }

    #[test]
    fn a_circle_is_listed() {
        refused(
            ["a", "b", "c", "d"].map(|name| variable(name, 2)).to_vec(),
            vec![
                cpt(2, 1, &[]),
                cpt(2, 4, &[0, 3]),
                cpt(2, 2, &[1]),
                cpt(2, 2, &[2]),
            ],
            "dependence runs in a circle: c -> d -> b -> c",
        );
        refused(
            vec![variable("a", 2)],
            vec![cpt(2, 2, &[0])],
            "dependence runs in a circle: a -> a",
        );
    }

    #[test]
    fn names_and_parents_are_checked() {
        let two = || vec![variable("a", 2), variable("b", 3)];
        refused(
            two(),
            vec![cpt(2, 1, &[])],
            "2 variables but 1 probability tables",
        );
        refused(
            vec![variable("a", 2), variable("a", 2)],
            vec![cpt(2, 1, &[]), cpt(2, 1, &[])],
            "the name `a` is used twice",
        );
        refused(
            two(),
            vec![cpt(2, 1, &[]), cpt(3, 2, &[7])],
            "`b` names parent 7, but there are only 2 variables",
        );
        refused(
            two(),
            vec![cpt(2, 1, &[]), cpt(3, 4, &[0, 0])],
            "`b` names the parent `a` twice",
        );
        refused(
            vec![variable("a", 0)],
            vec![cpt(0, 1, &[])],
            "`a` has no states",
        );
        let mut twice = variable("a", 2);
        twice.states[1] = "s0".to_owned();
        refused(
            vec![twice],
            vec![cpt(2, 1, &[])],
            "`a` has the state `s0` twice",
        );
        let mut input = two();
        input[1].role = Role::Input;
        refused(
            input,
            vec![cpt(2, 1, &[]), cpt(3, 2, &[0])],
            "`b` is an input and cannot have parents",
        );
    }

    #[test]
    fn tables_are_checked() {
        let two = || vec![variable("a", 2), variable("b", 3)];
        refused(
            two(),
            vec![cpt(2, 1, &[]), cpt(3, 3, &[0])],
            "the table of `b` has 3 rows and 3 columns instead of 3 states and 2 parent configurations",
        );
        let mut negative = cpt(3, 2, &[0]);
        negative.table[(1, 1)] = -0.5;
        refused(
            two(),
            vec![cpt(2, 1, &[]), negative],
            "the table of `b` holds -0.5 for state 1 in column 1",
        );
        let mut short = cpt(3, 2, &[0]);
        short
            .table
            .column_mut(1)
            .copy_from_slice(&[0.5, 0.25, 0.125]);
        refused(
            two(),
            vec![cpt(2, 1, &[]), short],
            "the probabilities of `b` in column 1 sum to 0.875, not to 1 within 0.000000001",
        );
        let parents: Vec<u32> = (0..70).collect();
        let mut variables: Vec<_> = (0..70).map(|i| variable(&format!("v{i}"), 2)).collect();
        variables.push(variable("child", 2));
        let mut cpts = vec![cpt(2, 1, &[]); 70];
        cpts.push(cpt(2, 1, &parents));
        refused(
            variables,
            cpts,
            "the parents of `child` have too many configurations",
        );
    }

    #[test]
    fn the_last_parent_turns_fastest() {
        let names = [variable("a", 2), variable("b", 3), variable("c", 2)];
        let cpts = vec![cpt(2, 1, &[]), cpt(3, 1, &[]), cpt(2, 6, &[1, 0])];
        let network = Network::new(names.to_vec(), cpts, Vec::new()).unwrap();
        let c = VariableId::new(2);
        assert_eq!(network.parent_states(c, 5), [2, 1]);
        assert_eq!(network.parent_states(c, 2), [1, 0]);
        for column in 0..6 {
            let states = network.parent_states(c, column);
            let state_of = |v: VariableId| if v.index() == 1 { states[0] } else { states[1] };
            assert_eq!(network.configuration(c, state_of), column);
        }
        let mut parameters = network.parameters();
        parameters.column_mut(c, 4).copy_from_slice(&[0.25, 0.75]);
        assert_eq!(parameters.column(c, 4), [0.25, 0.75]);
        assert_eq!(&parameters.table(c)[8..10], [0.25, 0.75]);
        assert_eq!(parameters.column(c, 3), [0.5, 0.5]);
    }

    #[test]
    fn evidence_is_checked() {
        let measure = Measure {
            name: "m".to_owned(),
            parents: vec![VariableId::new(0)],
        };
        let network =
            Network::new(vec![variable("a", 2)], vec![cpt(2, 1, &[])], vec![measure]).unwrap();
        let (a, m) = (VariableId::new(0), MeasureId::new(0));
        let check = |enter: &dyn Fn(&mut Evidence), expected: &str| {
            let mut evidence = Evidence::new();
            enter(&mut evidence);
            let error = evidence.check(&network).unwrap_err();
            assert_eq!(error.to_string(), expected);
        };
        check(
            &|e| _ = e.observe(a, 2),
            "state 2 of variable 0, which has 2 states",
        );
        check(
            &|e| _ = e.observe(VariableId::new(1), 0),
            "evidence about variable 1, which the network does not have",
        );
        check(
            &|e| _ = e.measured(MeasureId::new(9), vec![1.0]),
            "evidence about measure 9, which the network does not have",
        );
        check(
            &|e| _ = e.likelihood(a, vec![1.0]),
            "1 likelihoods for variable 0 instead of 2",
        );
        check(
            &|e| _ = e.measured(m, vec![0.5, f64::INFINITY]),
            "likelihood inf in place 1 for measure 0",
        );
        check(
            &|e| _ = e.likelihood(a, vec![-1.0, 1.0]),
            "likelihood -1 in place 0 for variable 0",
        );
        check(
            &|e| _ = e.measured(m, vec![0.0, 0.0]),
            "all likelihoods for measure 0 are 0",
        );
        let mut evidence = Evidence::new();
        evidence.observe(a, 1).likelihood(a, vec![0.5, 2.0]);
        assert_eq!(evidence.len(), 1);
        assert_eq!(evidence.check(&network), Ok(()));
        assert!(evidence.remove(EvidenceItem::Variable(a)) && evidence.is_empty());
    }
}
