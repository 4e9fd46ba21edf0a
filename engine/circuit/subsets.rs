//! One question under every subset of the evidence at once.
//!
//! Each group of evidence gets a switch: a variable of two states that is never summed out. The table of what was found
//! then holds 1 while its switch is off and the likelihood while it is on, and the plan is that of any other network. The
//! posteriors of 2^n subsets share all that depends on fewer than n groups, so that most tables are far smaller than 2^n;
//! and since switches are the fastest dimensions of every table, the innermost loops run over subsets.
//!
//! Measured on public networks with 12 observations: see `benches/README.md`.

use std::sync::Arc;

use thiserror::Error;

use crate::network::{
    Evidence, EvidenceItem, ItemContent, Measure, MeasureId, Parameters, Role, Structure, Variable,
    VariableId,
};

use super::checks::{Inputs, check_parameters};
use super::evaluate::NEVER_LEFT;
use super::number::{Extended, Number};
use super::passes::{LeftRange, Tables, evidence_exponent};
use super::plan::{Part, Plan};
use super::{CELL_LIMIT, Cost, QueryError};

/// Groups that may be told apart: 2^24 posteriors are more than anybody waits for.
pub const MOST_GROUPS: usize = 24;

/// One variable, asked for given every subset of some groups of evidence.
///
/// ```
/// use nalgebra::DMatrix;
/// use saggar::circuit::Subsets;
/// use saggar::network::{Cpt, Evidence, Network, Role, Variable, VariableId};
///
/// let variable = |name: &str| Variable {
///     name: name.to_owned(),
///     states: ["yes", "no"].map(str::to_owned).to_vec(),
///     role: Role::Chance,
/// };
/// let rain = VariableId::new(0);
/// let reading = Cpt { parents: vec![rain], table: DMatrix::from_column_slice(2, 2, &[0.9, 0.1, 0.2, 0.8]) };
/// let cpts = vec![
///     Cpt { parents: vec![], table: DMatrix::from_column_slice(2, 1, &[0.3, 0.7]) },
///     reading.clone(),
///     reading,
/// ];
/// let variables = ["rain", "first gauge", "second gauge"].map(variable).to_vec();
/// let network = Network::new(variables, cpts, vec![])?;
/// // The first gauge says yes, the second no.
/// let groups = [(1, 0), (2, 1)].map(|(gauge, state_idx)| {
///     let mut group = Evidence::new();
///     group.observe(VariableId::new(gauge), state_idx);
///     group
/// });
/// let subsets = Subsets::compile(network.structure(), &Evidence::new(), &groups, rain)?;
/// let posteriors = subsets.evaluate(&network.parameters())?;
/// let given = |subset| posteriors.probability(subset, 0);
/// assert_eq!(given(0b00), Some(0.3));
/// assert!((given(0b01).ok_or("possible")? - 0.27 / 0.41).abs() < 1e-15);
/// assert!((given(0b11).ok_or("possible")? - 0.027 / 0.139).abs() < 1e-15);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Debug)]
pub struct Subsets {
    given: Arc<Structure>,
    /// The same with a switch for each group.
    switched: Structure,
    plan: Plan,
    evidence: Evidence,
    exponent: i64,
    n_states: usize,
    places: Places,
}

/// Where the cells of each subset lie in the last table.
#[derive(Clone, Debug)]
struct Places {
    /// Groups that the first of the two halves answers for.
    n_low: usize,
    low: Vec<u32>,
    high: Vec<u32>,
}

/// Memory for evaluations, used again and again.
#[derive(Clone, Debug)]
pub struct SubsetsWorkspace {
    fast: Tables<f64>,
    /// Stays empty until an evaluation leaves the range of `f64`.
    wide: Tables<Extended>,
    answer: SubsetPosteriors,
}

/// The posterior of one variable given every subset of the groups.
///
/// A subset is a number whose bit g says whether group g is taken; what was fixed always is.
#[derive(Clone, Debug)]
pub struct SubsetPosteriors {
    places: Places,
    /// P(state | subset): for each state, one entry for each subset. Not a number where the subset is impossible.
    posteriors: Vec<f64>,
    /// ln P(subset), negative infinity where it is impossible.
    log_evidence: Vec<f64>,
}

/// Why subsets cannot be asked about.
#[derive(Clone, Debug, PartialEq, Error)]
#[non_exhaustive]
pub enum SubsetsError {
    /// Every group doubles the work.
    #[error(
        "{found} groups of evidence have 2^{found} subsets; at most {MOST_GROUPS} can be told apart: join some, or sample"
    )]
    TooManyGroups {
        /// How many were given.
        found: usize,
    },
    /// What is in a group is taken or left out with it, and with nothing else.
    #[error("{item} is in two groups, or in one and in what is fixed")]
    Repeated {
        /// The item.
        item: EvidenceItem,
    },
    /// The question cannot be asked.
    #[error(transparent)]
    Query(#[from] QueryError),
}

impl Subsets {
    /// Compiles the question: the posterior of `target` given `fixed` and any of the groups.
    ///
    /// # Errors
    /// - [`SubsetsError::TooManyGroups`], [`SubsetsError::Repeated`]
    /// - [`QueryError::Evidence`] if the evidence does not fit the network
    /// - [`QueryError::InputNotGiven`] if an input is needed that is not fixed: without it there is no posterior
    /// - [`QueryError::TooLarge`] if the tables would have too many cells; known before any of them is made
    pub fn compile(
        structure: &Arc<Structure>,
        fixed: &Evidence,
        groups: &[Evidence],
        target: VariableId,
    ) -> Result<Self, SubsetsError> {
        let n_groups = groups.len();
        if n_groups > MOST_GROUPS {
            return Err(SubsetsError::TooManyGroups { found: n_groups });
        }
        fixed.check(structure).map_err(QueryError::from)?;
        // All that is asked for or may be taken together, for checks.
        let mut asked = fixed.clone();
        if fixed.finding(target).is_none() {
            asked.likelihood(target, vec![1.0; structure.n_states(target)]);
        }
        let mut seen: Vec<EvidenceItem> = fixed.items().map(|(item, _)| item).collect();
        for group in groups {
            group.check(structure).map_err(QueryError::from)?;
            for (item, content) in without_inputs(structure, group) {
                if seen.contains(&item) {
                    return Err(SubsetsError::Repeated { item });
                }
                seen.push(item);
                asked.enter(item, content);
            }
        }
        Inputs::new(structure).check(structure, &asked)?;

        let (switched, evidence) = with_switches(structure, fixed, groups);
        let n = structure.variables().len();
        let switch = |g: usize| VariableId::new((n + g) as u32);
        let mut part = Part::about(&switched, &evidence, target);
        part.kept.extend((0..n_groups).map(switch));
        // A group of nothing still has its place.
        for g in 0..n_groups {
            let is_used = switched
                .measures()
                .iter()
                .any(|m| m.parents.contains(&switch(g)));
            part.likelihoods[switch(g).index()] = !is_used;
        }
        let plan = Plan::with_blocks(&switched, &mut part, target, CELL_LIMIT.into())
            .map_err(QueryError::from)?;
        let mut bits = vec![0; n_groups];
        for (i, id) in part.kept.iter().rev().take(n_groups).enumerate() {
            bits[id.index() - n] = 1 << i;
        }
        Ok(Self {
            exponent: evidence_exponent(&evidence),
            given: Arc::clone(structure),
            plan,
            evidence,
            n_states: structure.n_states(target),
            places: Places::new(&bits),
            switched,
        })
    }

    /// What an evaluation costs, all subsets together.
    pub fn cost(&self) -> Cost {
        self.plan.cost
    }

    /// Memory for evaluations.
    pub fn workspace(&self) -> SubsetsWorkspace {
        let n_subsets = self.places.n_subsets();
        SubsetsWorkspace {
            fast: Tables::new(),
            wide: Tables::new(),
            answer: SubsetPosteriors {
                places: self.places.clone(),
                posteriors: vec![0.0; n_subsets * self.n_states],
                log_evidence: vec![0.0; n_subsets],
            },
        }
    }

    /// The posteriors given every subset. A subset that is impossible has none; that is no error.
    ///
    /// # Errors
    /// [`QueryError::ForeignParameters`], [`QueryError::NotAProbability`] if the parameters do not fit.
    pub fn evaluate(&self, parameters: &Parameters) -> Result<SubsetPosteriors, QueryError> {
        let mut workspace = self.workspace();
        self.evaluate_in(&mut workspace, parameters)?;
        Ok(workspace.answer)
    }

    /// As [`evaluate`](Self::evaluate), in memory of this question used before. The result lies in the workspace until the
    /// next evaluation.
    ///
    /// # Errors
    /// As for [`evaluate`](Self::evaluate).
    pub fn evaluate_in<'w>(
        &self,
        workspace: &'w mut SubsetsWorkspace,
        parameters: &Parameters,
    ) -> Result<&'w SubsetPosteriors, QueryError> {
        check_parameters(&self.given, parameters)?;
        let SubsetsWorkspace { fast, wide, answer } = workspace;
        let (plan, switched) = (&self.plan, &self.switched);
        if fast
            .upward_pass(plan, switched, parameters, &self.evidence)
            .and_then(|_| self.read(fast, answer))
            .is_err()
        {
            wide.upward_pass(plan, switched, parameters, &self.evidence)
                .and_then(|_| self.read(wide, answer))
                .expect(NEVER_LEFT);
        }
        Ok(&workspace.answer)
    }

    fn read<N: Number>(
        &self,
        tables: &Tables<N>,
        answer: &mut SubsetPosteriors,
    ) -> Result<(), LeftRange> {
        let root = tables.values(self.plan.nodes[self.plan.root.index()]);
        if root.iter().any(|v| v.left_range() && !v.is_zero()) {
            return Err(LeftRange);
        }
        let n_subsets = self.places.n_subsets();
        let shift = self.exponent as f64 * std::f64::consts::LN_2;
        let totals = (0..n_subsets).map(|place| {
            let states = root[place..].iter().step_by(n_subsets);
            states.fold(N::ZERO, |sum, &v| sum.plus(v))
        });
        for (place, total) in totals.enumerate() {
            answer.log_evidence[place] = total.ln() + shift;
            let states = root[place..].iter().step_by(n_subsets);
            let posteriors = answer.posteriors[place..].iter_mut().step_by(n_subsets);
            for (posterior, &value) in posteriors.zip(states) {
                *posterior = value.ratio(total);
            }
        }
        Ok(())
    }
}

impl SubsetPosteriors {
    /// How many subsets there are: 2 to the number of groups.
    pub fn n_subsets(&self) -> usize {
        self.places.n_subsets()
    }

    /// P(state | subset); `None` if the subset is impossible.
    ///
    /// # Panics
    /// If there is no such subset or state.
    pub fn probability(&self, subset: usize, state_idx: usize) -> Option<f64> {
        let place = self.places.of(subset);
        let p = self.posteriors[state_idx * self.n_subsets() + place];
        // 0/0: nothing is possible.
        (!p.is_nan()).then_some(p)
    }

    /// ln P(subset) in nats, up to the common factors that likelihoods have; negative infinity if it is impossible.
    ///
    /// # Panics
    /// If there is no such subset.
    pub fn log_evidence(&self, subset: usize) -> f64 {
        self.log_evidence[self.places.of(subset)]
    }
}

impl Places {
    /// `bits` holds for each group the bit that stands for it in the last table.
    fn new(bits: &[u32]) -> Self {
        let (low, high) = bits.split_at(bits.len() / 2);
        let sums = |bits: &[u32]| {
            let mut sums = vec![0];
            for &bit in bits {
                sums.extend_from_within(..);
                let half = sums.len() / 2;
                sums[half..].iter_mut().for_each(|sum| *sum |= bit);
            }
            sums
        };
        Self {
            n_low: low.len(),
            low: sums(low),
            high: sums(high),
        }
    }

    fn n_subsets(&self) -> usize {
        self.low.len() * self.high.len()
    }

    fn of(&self, subset: usize) -> usize {
        let low = self.low[subset & (self.low.len() - 1)];
        (low | self.high[subset >> self.n_low]) as usize
    }
}

/// The items of a group but for inputs, which have no probability that could be taken or left out.
fn without_inputs<'a>(
    structure: &'a Structure,
    group: &'a Evidence,
) -> impl Iterator<Item = (EvidenceItem, ItemContent<'a>)> {
    group.items().filter(|(item, _)| match item {
        EvidenceItem::Variable(id) => structure.variable(*id).role == Role::Chance,
        EvidenceItem::Measure(_) => true,
    })
}

/// The structure with a switch for each group, behind the other variables, and the evidence in which each likelihood
/// depends on the switch of its group.
fn with_switches(
    structure: &Structure,
    fixed: &Evidence,
    groups: &[Evidence],
) -> (Structure, Evidence) {
    let n = structure.variables().len();
    let switch = |g: usize| VariableId::new((n + g) as u32);
    let mut evidence = fixed.clone();
    let mut measures = structure.measures().to_vec();
    for (g, group) in groups.iter().enumerate() {
        for (item, content) in without_inputs(structure, group) {
            let (mut parents, likelihoods) = match (item, content) {
                (EvidenceItem::Variable(id), ItemContent::State(state_idx)) => {
                    let mut indicator = vec![0.0; structure.n_states(id)];
                    indicator[state_idx] = 1.0;
                    (vec![id], indicator)
                }
                (EvidenceItem::Variable(id), ItemContent::Likelihood(values)) => {
                    (vec![id], values.to_vec())
                }
                (EvidenceItem::Measure(id), ItemContent::Densities(values)) => {
                    (structure.measure(id).parents.clone(), values.to_vec())
                }
                _ => continue,
            };
            parents.push(switch(g));
            evidence.measured(
                MeasureId::new(measures.len() as u32),
                likelihoods.into_iter().flat_map(|l| [1.0, l]).collect(),
            );
            measures.push(Measure {
                name: unused(structure, &format!("{item} or not")),
                parents,
            });
        }
    }
    let switches = (0..groups.len()).map(|g| Variable {
        name: unused(structure, &format!("group {g}")),
        states: vec!["left out".to_owned(), "taken".to_owned()],
        role: Role::Input,
    });
    let switched = structure
        .extended(switches, measures)
        .expect("names that are not used, and parents that there are");
    (switched, evidence)
}

/// A name that no variable or measure has: the given one, with as many apostrophes as it takes.
fn unused(structure: &Structure, name: &str) -> String {
    let mut name = name.to_owned();
    while structure.find(&name).is_some() || structure.find_measure(&name).is_some() {
        name.push('\'');
    }
    name
}
