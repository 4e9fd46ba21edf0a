//! One belief at a time: where the answer would stand if one number of the pack were another, exactly.
//!
//! Every joint state uses one entry of one table, so P(state, evidence) is linear in the entries of any one table. One
//! upward and downward pass for each state asked about ([`JointDerivatives`](crate::circuit::JointDerivatives)) gives the
//! answer under *every* change of *every* belief that feeds one table or one measured value: a ratio of linear functions
//! of a chance, a curve through the table's own formula of a mean or a standard deviation. A belief that feeds several
//! tables (one coder's eye on all codings) is evaluated anew at as many values as its polynomial needs.
//!
//! What is told of each number: the answer at both ends of its credible interval, its derivative, how far it would have to
//! move before another state leads (its *tipping point*), and how far the move goes at all ([`distance`]). Two beliefs
//! together: the answer over the box of both intervals.
//!
//! [`of_cell`] does the same for one entry of any network's table.
//!
//! Sources: [`LinearFraction`] and [`distance`].

mod assess;
pub mod cell;
pub mod covary;
pub mod credible;
mod curve;
pub mod distance;
mod entry;
pub mod fraction;
mod pairs;
mod probe;
mod terms;

use serde::Serialize;

use crate::circuit::{JointDerivatives, QueryError};
use crate::model::CompiledModel;
use crate::network::EvidenceItem;
use crate::piece::Piece;
use crate::query::{Answer, AskError, marginal};
use crate::question::{Asked, Posed, Question};

pub use cell::{Cell, of_cell};
pub use fraction::LinearFraction;

use assess::Assessment;
use probe::Probe;
use terms::Terms;

/// How many numbers are told of unless more are asked for.
pub const TOP: usize = 12;
/// How many beliefs are paired with each other.
const PAIRED: usize = 5;

/// What an answer hangs on, one belief at a time.
#[derive(Clone, Debug, Serialize)]
pub struct Sensitivity {
    /// The piece's title.
    pub piece: String,
    /// What is weighed against what.
    pub question: Asked,
    /// Probability of the claim, as stated; against one other claim, of the two alone: what is neither has no say.
    pub probability: f64,
    /// Whether claim and alternative leave out something that is possible.
    pub of_two_alone: bool,
    /// Its log-odds, in decibans.
    pub decibans: f64,
    /// What leads as stated: a maker, the claim, or the alternative.
    pub leads: String,
    /// Beliefs that the answer can depend on.
    pub beliefs: usize,
    /// Beliefs of the pack.
    pub all_beliefs: usize,
    /// Numbers of those beliefs that were moved.
    pub numbers: usize,
    /// How many of them change the lead by themselves within their interval.
    pub change_lead: usize,
    /// The interval of each number holds what lies between these shares of its doubt.
    pub levels: [f64; 2],
    /// The numbers that move the answer most within their intervals, the widest first.
    pub moved: Vec<Moved>,
    /// Every two of the beliefs that move it most.
    pub pairs: Vec<Pair>,
}

/// One number of one belief, moved by itself.
#[derive(Clone, Debug, Serialize)]
pub struct Moved {
    /// What the belief is about.
    pub about: String,
    /// Its position among the beliefs of the pack.
    pub belief: usize,
    /// Position of the number among those of the belief: chances in the order of the row; or means, then standard deviations.
    pub cell: usize,
    /// Which of its numbers: a state, "right", "mean", "sd".
    pub number: String,
    /// `file:line` of the belief.
    pub citation: String,
    /// Pieces behind it.
    pub seen: f64,
    /// The number as stated.
    pub stated: f64,
    /// The lower end of its credible interval.
    pub low: End,
    /// The upper end.
    pub high: End,
    /// The least and the largest probability within the interval.
    pub range: [f64; 2],
    /// Change of the probability for each unit of the number, at the stated value. None at the edge of a curve, where it has
    /// only one side.
    pub derivative: Option<f64>,
    /// The nearest value below the stated one at which something else leads.
    pub tips_below: Option<TippingPoint>,
    /// The nearest value above.
    pub tips_above: Option<TippingPoint>,
    /// Between which values tipping points were looked for: of a chance all there are.
    pub searched: [f64; 2],
    /// How the answer follows the number.
    pub follows: Follows,
}

/// The answer at one value of a number.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct End {
    /// The value.
    pub value: f64,
    /// Probability of the claim there.
    pub probability: f64,
    /// How far its log-odds moved from those stated, in decibans.
    pub decibans: f64,
    /// How far the change goes: the Chan–Darwiche distance, in nats; where several tables change, at most so far. None if
    /// something impossible becomes possible or the other way about, which bounds nothing.
    pub distance: Option<f64>,
    /// Between which probabilities that distance alone would hold the answer, whatever is asked.
    pub bounds: [f64; 2],
}

/// Where something else takes the lead.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TippingPoint {
    /// The value of the number.
    pub value: f64,
    /// What leads beyond it.
    pub then: String,
    /// How far that is from the number as stated: the Chan–Darwiche distance, in nats, as for [`End::distance`].
    pub distance: Option<f64>,
}

/// How the answer follows a number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case", tag = "form")]
pub enum Follows {
    /// A ratio of linear functions: all figures are exact.
    Linear,
    /// A ratio of polynomials, of one degree for each table that the chance feeds; exact as well, tables evaluated anew.
    Polynomial {
        /// The degree.
        degree: usize,
    },
    /// The table's or density's own formula: exact at each value; extremes within the interval and tipping points are looked
    /// for step by step.
    Curve,
}

/// Two beliefs moved together, each by the number that moves the answer most.
#[derive(Clone, Debug, Serialize)]
pub struct Pair {
    /// One belief and its number.
    pub first: String,
    /// The other.
    pub second: String,
    /// The least probability over both intervals.
    pub low: Corner,
    /// The largest.
    pub high: Corner,
    /// Least and largest with the first moved alone.
    pub first_alone: [f64; 2],
    /// With the second moved alone.
    pub second_alone: [f64; 2],
    /// Whether what leads as stated leads everywhere in the box.
    pub lead_holds: bool,
    /// Whether extremes lie at the corners, so that they are exact; else they are the extremes over a grid.
    pub exact: bool,
}

/// The answer at a value of each of two numbers.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Corner {
    /// Probability of the claim.
    pub probability: f64,
    /// Value of the first number.
    pub first: f64,
    /// Value of the second.
    pub second: f64,
}

/// Claim and alternative, and who could take the lead from whom.
struct Contest {
    claim: Vec<usize>,
    alternative: Vec<usize>,
    /// What leads as stated.
    leading: Side,
    /// What could lead instead.
    rivals: Vec<Side>,
}

/// Some states together, by a name.
#[derive(Clone)]
struct Side {
    name: String,
    states: Vec<usize>,
}

impl Contest {
    /// Masses of the claim and of the alternative.
    fn sides(&self, masses: &[f64]) -> (f64, f64) {
        (sum(masses, &self.claim), sum(masses, &self.alternative))
    }

    fn probability(&self, masses: &[f64]) -> f64 {
        let (claim, alternative) = self.sides(masses);
        claim / (claim + alternative)
    }

    fn decibans(&self, masses: &[f64]) -> f64 {
        let (claim, alternative) = self.sides(masses);
        10.0 * (claim.log10() - alternative.log10())
    }

    /// By how much what leads as stated is ahead of a rival.
    fn lead(&self, rival: usize, masses: &[f64]) -> f64 {
        sum(masses, &self.leading.states) - sum(masses, &self.rivals[rival].states)
    }

    /// The rival furthest ahead of what leads as stated, if any is.
    fn overtaken_by(&self, masses: &[f64]) -> Option<usize> {
        let leads = (0..self.rivals.len()).map(|rival| self.lead(rival, masses));
        let (rival, lead) = leads.enumerate().min_by(|a, b| a.1.total_cmp(&b.1))?;
        (lead < 0.0).then_some(rival)
    }
}

fn sum(masses: &[f64], states: &[usize]) -> f64 {
    let of = states.iter().filter_map(|&state| masses.get(state));
    of.sum()
}

impl CompiledModel {
    /// What the lead of the leading maker hangs on: the `top` numbers of the pack that move it most.
    ///
    /// The alternative is all other makers together; the lead goes to another maker where that one alone is more probable.
    ///
    /// # Errors
    /// As for [`CompiledModel::ask`]; [`AskError::MakerNotAsked`] for a pack that leaves makers out.
    pub fn sensitivity(&self, piece: &Piece, top: usize) -> Result<Sensitivity, AskError> {
        let answer = self.ask(piece)?;
        let leader = self.leader(&answer)?;
        let makers = &self.model.catalogue.makers;
        let posed = self.pose(&self.question_of_leader(&answer)?)?;
        let others = (0..makers.len()).filter(|&maker| maker != leader);
        let rivals = others.map(|maker| Side {
            name: makers[maker].id.clone(),
            states: vec![maker],
        });
        let contest = Contest {
            claim: posed.hypothesis.clone(),
            alternative: posed.alternative.clone(),
            leading: Side {
                name: format!("{} {}", makers[leader].id, makers[leader].name),
                states: vec![leader],
            },
            rivals: rivals.collect(),
        };
        self.sensitivity_posed(piece, &answer, &posed, &contest, top)
    }

    /// What the odds of one claim against another hang on.
    ///
    /// The lead changes where the one of the two that is less probable as stated becomes the more probable.
    ///
    /// # Errors
    /// As for [`CompiledModel::ask`]; also if the question cannot be put to the pack.
    pub fn sensitivity_on(
        &self,
        piece: &Piece,
        question: &Question,
        top: usize,
    ) -> Result<Sensitivity, AskError> {
        let answer = self.ask(piece)?;
        let posed = self.pose(question)?;
        let posterior =
            posed
                .compiled
                .evaluate(&answer.entered.evidence, piece, &answer.entered)?;
        let side = |words: &str, states: &[usize]| Side {
            name: words.to_owned(),
            states: states.to_vec(),
        };
        let claim = side(&posed.hypothesis_words, &posed.hypothesis);
        let alternative = side(&posed.alternative_words, &posed.alternative);
        let (p, q) = posed.of(marginal(&posterior, posed.variable));
        let (leading, rival) = if q > p {
            (alternative, claim)
        } else {
            (claim, alternative)
        };
        let contest = Contest {
            claim: posed.hypothesis.clone(),
            alternative: posed.alternative.clone(),
            leading,
            rivals: vec![rival],
        };
        posed
            .compiled
            .sensitivity_posed(piece, &answer, &posed, &contest, top)
    }

    fn sensitivity_posed(
        &self,
        piece: &Piece,
        answer: &Answer,
        posed: &Posed<'_>,
        contest: &Contest,
        top: usize,
    ) -> Result<Sensitivity, AskError> {
        let model = &self.model;
        let evidence = &answer.entered.evidence;
        let joint: JointDerivatives = self
            .circuit
            .joint_derivatives(&self.parameters, evidence, posed.variable)
            .map_err(|error| self.cannot_be_asked(error, piece, answer, posed))?;
        let stated = model.beliefs.stated();
        let terms = Terms::new(model, &joint, evidence, posed.variable, &stated);
        let mut probe = Probe::new(self, piece, answer, posed.variable, &terms);
        let masses = joint.probabilities();
        let mut assessed = Vec::new();
        for &belief in terms.places.keys() {
            for entry in entry::entries(model, belief) {
                assessed.push(Assessment::new(model, &mut probe, contest, entry)?);
            }
        }
        assessed.sort_by(|a, b| b.span().total_cmp(&a.span()));
        let pairs = pairs::of(model, &mut probe, contest, &assessed, PAIRED)?;
        let numbers = assessed.len();
        let change_lead = assessed.iter().filter(|a| !a.lead_holds).count();
        assessed.truncate(top);
        let mut moved = Vec::with_capacity(assessed.len());
        for assessment in &assessed {
            moved.push(assessment.told(model, &mut probe, contest, masses)?);
        }
        Ok(Sensitivity {
            piece: crate::what_if::title(&self.model, piece),
            question: posed.asked(),
            probability: contest.probability(masses),
            of_two_alone: sum(masses, &posed.hypothesis) + sum(masses, &posed.alternative)
                < 1.0 - 1e-12,
            decibans: contest.decibans(masses),
            leads: contest.leading.name.clone(),
            beliefs: terms.places.len(),
            all_beliefs: model.beliefs.len(),
            numbers,
            change_lead,
            levels: credible::LEVELS,
            moved,
            pairs,
        })
    }

    /// A question about something that depends on a circumstance which is not noted names the claim, not a variable.
    fn cannot_be_asked(
        &self,
        error: QueryError,
        piece: &Piece,
        answer: &Answer,
        posed: &Posed<'_>,
    ) -> AskError {
        match error {
            QueryError::InputNotGiven { input, needed_by }
                if needed_by == EvidenceItem::Variable(posed.variable) =>
            {
                let input = self.model.network.variable(input);
                AskError::CircumstanceNotGiven {
                    circumstance: input.name.clone(),
                    needed_by: posed.hypothesis_words.clone(),
                    states: input.states.clone(),
                }
            }
            error => self.explain(error, piece, &answer.entered),
        }
    }
}
