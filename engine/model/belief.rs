//! Beliefs: what an expert says, and how many pieces' worth of experience stands behind it.

mod dirichlet;

pub use dirichlet::{Dirichlet, DirichletError};

use crate::circuit::Lanes;

/// Which belief of [`Beliefs`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BeliefId(u32);

impl BeliefId {
    /// Position among [`Beliefs`].
    #[must_use]
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

/// What a belief is about, and how it is drawn when it is doubted.
#[derive(Clone, Debug, PartialEq)]
pub enum Spread {
    /// Chances of several states. Doubt: a Dirichlet with parameters `seen × say`.
    ///
    /// Source: Heckerman, Geiger & Chickering 1995, "Learning Bayesian networks", sec. 3 (equivalent sample size).
    Categorical {
        /// One chance for each state; sums to 1.
        say: Vec<f64>,
    },
    /// A normal's mean and standard deviation. Doubt: scaled-inverse-χ² for the variance with `seen` degrees of freedom,
    /// then a normal for the mean with variance σ²/`seen`.
    ///
    /// Source: Gelman et al. 2013, *Bayesian Data Analysis* (3rd ed.), sec. 3.3.
    Normal {
        /// Mean.
        mean: f64,
        /// Standard deviation.
        sd: f64,
    },
    /// Mean and covariance of three normal quantities that hang together. Doubt: an inverse Wishart for the covariance with
    /// `seen` degrees of freedom, scaled by them as [`Spread::Normal`] is in one dimension, then a normal for the mean with
    /// that covariance over `seen`.
    ///
    /// Source: Gelman et al. 2013, *Bayesian Data Analysis* (3rd ed.), sec. 3.6.
    Trivariate {
        /// Means.
        mean: [f64; 3],
        /// Covariance, row by row from the diagonal on: six cells, positive definite.
        covariance: [f64; 6],
    },
}

impl Spread {
    /// How many numbers the belief holds.
    #[must_use]
    pub fn len(&self) -> usize {
        match self {
            Self::Categorical { say } => say.len(),
            Self::Normal { .. } => 2,
            Self::Trivariate { .. } => 9,
        }
    }

    /// Never: every belief holds a number.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        false
    }
}

/// One belief of the pack.
#[derive(Clone, Debug)]
pub struct Belief {
    /// What it is about, in words: `glaze tint given region = Quillmarch`.
    pub about: String,
    /// `file:line` it was read from.
    pub citation: String,
    /// What is said.
    pub spread: Spread,
    /// Equivalent sample size, in pieces.
    pub seen: f64,
}

#[cfg(test)]
impl Belief {
    /// Chances of states, on 30 pieces' worth of experience.
    pub fn of_chances(say: Vec<f64>) -> Self {
        Self {
            about: String::new(),
            citation: String::new(),
            spread: Spread::Categorical { say },
            seen: 30.0,
        }
    }
}

/// Beliefs that an expert set together, as one judgement in several rows: they are doubted together.
#[derive(Clone, Debug, PartialEq)]
pub struct SetTogether {
    /// What the pack calls them.
    pub name: String,
    /// The beliefs, in the order of the pack; all with equally many numbers of one kind.
    pub beliefs: Vec<BeliefId>,
    /// How closely the errors go together: 0 not at all, 1 entirely. The correlation of the normals behind the draws.
    pub correlation: f64,
}

/// Every belief of a pack.
#[derive(Clone, Debug, Default)]
pub struct Beliefs {
    list: Vec<Belief>,
    offsets: Vec<usize>,
    n_values: usize,
}

/// One number for every cell of every belief: as stated, or as drawn; or, in lanes, the numbers of several draws.
#[derive(Clone, Debug, PartialEq)]
pub struct Values<T = f64> {
    cells: Vec<T>,
    offsets: std::sync::Arc<[usize]>,
}

impl Beliefs {
    /// Takes in a belief.
    pub fn add(&mut self, belief: Belief) -> BeliefId {
        let id = BeliefId(u32::try_from(self.list.len()).unwrap_or(u32::MAX));
        self.offsets.push(self.n_values);
        self.n_values += belief.spread.len();
        self.list.push(belief);
        id
    }

    /// The belief behind an id.
    #[must_use]
    pub fn get(&self, id: BeliefId) -> &Belief {
        &self.list[id.index()]
    }

    /// Puts another belief in the place of one, of the same form.
    pub(super) fn replace(&mut self, id: BeliefId, spread: Spread, seen: f64) {
        let belief = &mut self.list[id.index()];
        debug_assert_eq!(belief.spread.len(), spread.len());
        belief.spread = spread;
        belief.seen = seen;
    }

    /// All beliefs with their ids, in the order of the pack.
    pub fn iter(&self) -> impl Iterator<Item = (BeliefId, &Belief)> {
        (0..).map(BeliefId).zip(&self.list)
    }

    /// How many beliefs there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.list.len()
    }

    /// Whether there is none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.list.is_empty()
    }

    /// The beliefs as stated.
    #[must_use]
    pub fn stated(&self) -> Values {
        let mut cells = Vec::with_capacity(self.n_values);
        for belief in &self.list {
            match &belief.spread {
                Spread::Categorical { say } => cells.extend(say),
                Spread::Normal { mean, sd } => cells.extend([mean, sd]),
                Spread::Trivariate { mean, covariance } => {
                    cells.extend(mean);
                    cells.extend(covariance);
                }
            }
        }
        let offsets = self
            .offsets
            .iter()
            .copied()
            .chain([self.n_values])
            .collect();
        Values { cells, offsets }
    }
}

impl<T> Values<T> {
    /// The cells of one belief.
    #[must_use]
    pub fn of(&self, id: BeliefId) -> &[T] {
        &self.cells[self.offsets[id.index()]..self.offsets[id.index() + 1]]
    }

    /// The cells of one belief, to be overwritten by a draw.
    pub fn of_mut(&mut self, id: BeliefId) -> &mut [T] {
        &mut self.cells[self.offsets[id.index()]..self.offsets[id.index() + 1]]
    }
}

impl Values<Lanes> {
    /// The same values in every lane.
    #[must_use]
    pub fn in_lanes(values: &Values) -> Self {
        Self {
            cells: values.cells.iter().copied().map(Lanes::all).collect(),
            offsets: std::sync::Arc::clone(&values.offsets),
        }
    }

    /// The values of one lane.
    pub fn copy_lane(&self, lane: usize, into: &mut Values) {
        for (value, lanes) in into.cells.iter_mut().zip(&self.cells) {
            *value = lanes.0[lane];
        }
    }
}

impl Values {
    /// Mean and standard deviation of a normal belief.
    #[must_use]
    pub fn normal(&self, id: BeliefId) -> (f64, f64) {
        let cells = self.of(id);
        (cells[0], cells[1])
    }
}
