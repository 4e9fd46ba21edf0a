//! How well the findings fit together: the conflict of all of them, how probable each was given the others, and whether
//! a maker that is not listed explains them better than the best of the list.

use serde::Serialize;

use crate::circuit::{Posterior, QueryError};
use crate::model::{CompiledModel, MakerRole};
use crate::network::{Evidence, EvidenceItem, ItemContent, Role};
use crate::piece::{Look, Piece};
use crate::query::{Answer, AskError, marginal};

/// Conflict above this many decibans is called out. Common practice, no source.
pub const CONFLICT_CALLED_OUT: f64 = 5.0;
/// A reading less probable than this given all the others, and made less probable by them, is called odd. Common practice,
/// no source.
pub const ODD_READING: f64 = 0.05;
/// A measured value is called odd if the others make its density this many decibans smaller than it is alone. Common
/// practice, no source.
pub const ODD_MEASURE: f64 = -10.0;

/// How surprising the findings are together.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Surprise {
    /// 10 log₁₀ of the product of the findings' single probabilities over their joint probability, in decibans. Above 0
    /// the findings are less likely together than if they had nothing to do with each other.
    ///
    /// Source: Jensen, Chamberlain, Nordahl & Jensen 1990, "Analysis in HUGIN of data conflict", UAI-6 (from memory).
    pub conflict_decibans: f64,
    /// What that means.
    pub words: &'static str,
    /// The finding with the smallest probability given all the others.
    pub oddest: Option<Predicted>,
    /// Every finding that makes a claim with how expected it was given all the others, in the order noted.
    pub predicted: Vec<Predicted>,
    /// The best of the list against a maker not listed; none for a pack without one of the two, or where nothing was found.
    pub open_world: Option<OpenWorld>,
}

/// A finding and how expected it was: a predictive check that leaves it out.
///
/// Source: Dawid 1992, "Applications of a general propagation algorithm for probabilistic expert systems", Statistics and
/// Computing 2 (all findings retracted one at a time in one pass); Gelman et al. 2013, *Bayesian Data Analysis* (3rd ed.),
/// ch. 6 (predictive checks).
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Predicted {
    /// The clue.
    pub clue: String,
    /// The finding.
    pub said: String,
    /// Probability of this finding given all the others; of an uncertain one, the mean of its likelihood, the largest of
    /// which counts as 1. None for a measured value, which has a density.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub probability_given_others: Option<f64>,
    /// The same with no other finding.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub probability_alone: Option<f64>,
    /// 10 log₁₀ of the first over the second (for a measured value, of its densities), in decibans: below 0 the other
    /// findings made it less expected than it was.
    pub decibans: f64,
    /// Whether it is called odd: see [`ODD_READING`] and [`ODD_MEASURE`].
    pub odd: bool,
}

/// The most probable listed maker against a maker that is not listed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OpenWorld {
    /// The listed maker's short code.
    pub maker: String,
    /// Its name.
    pub maker_name: String,
    /// 10 log₁₀ of P(findings | this maker) over P(findings | a maker not listed), in decibans: below 0 a maker not listed
    /// explains the findings better. None if the findings rule out one of the two.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub decibans: Option<f64>,
    /// What that means.
    pub words: String,
}

/// Works out the surprise of a piece's findings. Circumstances are given throughout; stated beliefs, which were made from
/// all the others, are left out.
///
/// # Errors
/// As for [`CompiledModel::ask`].
pub fn surprise(
    compiled: &CompiledModel,
    piece: &Piece,
    answer: &Answer,
) -> Result<Surprise, AskError> {
    let entered = &answer.entered;
    let explained = |error| compiled.explain(error, piece, entered);
    let mut all = entered.evidence.clone();
    for item in believed(piece, answer) {
        all.remove(item);
    }
    let without_beliefs = (all.len() < entered.evidence.len())
        .then(|| compiled.evaluate(&all, piece, entered))
        .transpose()?;
    let posterior = without_beliefs.as_ref().unwrap_or(&answer.posterior);

    let before = Before::new(compiled, &all).map_err(explained)?;
    let mut sum_of_logs = 0.0;
    let mut predicted = Vec::new();
    for &(item, position) in &entered.items {
        let Some((_, content)) = all.items().find(|(i, _)| *i == item) else {
            continue;
        };
        if before.is_given(item) {
            continue;
        }
        let log_alone = before.ln_alone(item, content).map_err(explained)?;
        sum_of_logs += log_alone;
        let finding = &piece.findings()[position];
        let (probabilities, decibans) = match given_others(posterior, item, content) {
            Some((given_others, scale)) => {
                let alone = log_alone.exp() / scale;
                let decibans = 10.0 * (given_others.log10() - alone.log10());
                (Some((given_others, alone)), decibans)
            }
            None => {
                let mut others = all.clone();
                others.remove(item);
                let log_others = compiled.circuit.log_evidence(&compiled.parameters, &others);
                let log_given_others = posterior.log_evidence() - log_others.map_err(explained)?;
                (None, decibans_of(log_given_others - log_alone))
            }
        };
        predicted.push(Predicted {
            clue: compiled.model.catalogue.clues[finding.clue].name.clone(),
            said: piece.said(position, &compiled.model),
            probability_given_others: probabilities.map(|(given_others, _)| given_others),
            probability_alone: probabilities.map(|(_, alone)| alone),
            decibans,
            odd: match probabilities {
                Some((given_others, _)) => given_others < ODD_READING && decibans < 0.0,
                None => decibans < ODD_MEASURE,
            },
        });
    }
    let conflict_decibans = decibans_of(sum_of_logs - posterior.log_evidence());
    let probability = |p: &&Predicted| p.probability_given_others.unwrap_or(f64::INFINITY);
    let oddest = predicted
        .iter()
        .filter(|p| p.probability_given_others.is_some())
        .min_by(|a, b| probability(a).total_cmp(&probability(b)))
        .cloned();
    Ok(Surprise {
        conflict_decibans,
        words: if conflict_decibans > CONFLICT_CALLED_OUT {
            "the findings pull against each other: look again, and think of a copy, a marriage or a maker not listed"
        } else if conflict_decibans > 0.0 {
            "the findings fit together no better than unrelated ones"
        } else {
            "the findings support each other"
        },
        oddest,
        // Where nothing was found there is nothing to explain.
        open_world: match predicted.is_empty() {
            true => None,
            false => open_world(compiled, &before.posterior, &answer.posterior),
        },
        predicted,
    })
}

/// Nats in decibans.
fn decibans_of(nats: f64) -> f64 {
    10.0 * nats / std::f64::consts::LN_10
}

/// What beliefs were stated of.
pub fn believed<'a>(piece: &'a Piece, answer: &'a Answer) -> impl Iterator<Item = EvidenceItem> {
    let items = answer.entered.items.iter();
    let believed = items
        .filter(|&&(_, position)| matches!(piece.findings()[position].look, Look::Believed(_)));
    believed.map(|&(item, _)| item)
}

/// The conflict of evidence that holds no stated belief, in decibans: see [`Surprise::conflict_decibans`].
///
/// # Errors
/// [`QueryError`] for evidence that cannot be or does not suit the model.
pub fn conflict(compiled: &CompiledModel, evidence: &Evidence) -> Result<f64, QueryError> {
    let before = Before::new(compiled, evidence)?;
    let claims = evidence.items().filter(|(item, _)| !before.is_given(*item));
    let mut sum_of_logs = 0.0;
    for (item, content) in claims {
        sum_of_logs += before.ln_alone(item, content)?;
    }
    let together = compiled
        .circuit
        .log_evidence(&compiled.parameters, evidence)?;
    Ok(decibans_of(sum_of_logs - together))
}

/// What is to be expected of each finding before all of them, the circumstances given.
struct Before<'a> {
    compiled: &'a CompiledModel,
    circumstances: Evidence,
    posterior: Posterior,
}

impl<'a> Before<'a> {
    fn new(compiled: &'a CompiledModel, evidence: &Evidence) -> Result<Self, QueryError> {
        let network = &compiled.model.network;
        let mut circumstances = Evidence::new();
        for (item, content) in evidence.items() {
            if matches!(item, EvidenceItem::Variable(id) if network.variable(id).role == Role::Input)
            {
                circumstances.enter(item, content);
            }
        }
        let posterior = compiled
            .circuit
            .evaluate(&compiled.parameters, &circumstances)?;
        Ok(Self {
            compiled,
            circumstances,
            posterior,
        })
    }

    /// Whether it is a circumstance, which makes no claim.
    fn is_given(&self, item: EvidenceItem) -> bool {
        self.circumstances.items().any(|(i, _)| i == item)
    }

    /// ln P(finding) with nothing else found: from the marginals where it has one.
    fn ln_alone(&self, item: EvidenceItem, content: ItemContent<'_>) -> Result<f64, QueryError> {
        let p = match item {
            EvidenceItem::Variable(id) => self.posterior.marginal(id),
            EvidenceItem::Measure(_) => None,
        };
        let p = match (p, content) {
            (Some(p), ItemContent::State(state)) => p[state],
            (Some(p), ItemContent::Likelihood(weights)) => {
                p.iter().zip(weights).map(|(p, w)| p * w).sum()
            }
            _ => {
                let mut alone = self.circumstances.clone();
                alone.enter(item, content);
                let compiled = self.compiled;
                return compiled.circuit.log_evidence(&compiled.parameters, &alone);
            }
        };
        Ok(self.posterior.log_evidence() + p.ln())
    }
}

/// Probability of a finding given all the others, from one downward pass, with the scale it is stated in (the largest
/// likelihood); none for a measured value.
fn given_others(
    posterior: &Posterior,
    item: EvidenceItem,
    content: ItemContent<'_>,
) -> Option<(f64, f64)> {
    let EvidenceItem::Variable(id) = item else {
        return None;
    };
    let expected = posterior.marginal_without_own_evidence(id)?;
    match content {
        ItemContent::State(state) => Some((expected[state], 1.0)),
        ItemContent::Likelihood(weights) => {
            let scale = weights.iter().copied().fold(0.0, f64::max);
            let terms = expected.iter().zip(weights).map(|(p, w)| p * w / scale);
            Some((terms.sum(), scale))
        }
        ItemContent::Densities(_) => None,
    }
}

/// Explanations this near to each other, in decibans, are told as equal: it is what the figure beside them shows.
const EQUAL: f64 = 0.005;

/// P(findings | maker) is in proportion to P(maker | findings) / P(maker).
fn open_world(
    compiled: &CompiledModel,
    before: &Posterior,
    after: &Posterior,
) -> Option<OpenWorld> {
    let catalogue = &compiled.model.catalogue;
    let (before, after) = (
        marginal(before, catalogue.maker),
        marginal(after, catalogue.maker),
    );
    let unlisted = catalogue.maker_of_role(MakerRole::Unlisted)?;
    let is_listed = |&m: &usize| catalogue.makers[m].role == MakerRole::Listed;
    let best = (0..catalogue.makers.len())
        .filter(is_listed)
        .max_by(|&a, &b| after[a].total_cmp(&after[b]).then(b.cmp(&a)))?;
    let explains = |m: usize| after[m].log10() - before[m].log10();
    let decibans = 10.0 * (explains(best) - explains(unlisted));
    let name = &catalogue.makers[best].name;
    let words = if after[best] == 0.0 {
        "the findings rule out every maker of the list".to_owned()
    } else if before[unlisted] == 0.0 {
        "the prior files rule out a maker not listed, whatever is found".to_owned()
    } else if after[unlisted] == 0.0 {
        "under these prior files the findings rule out a maker not listed".to_owned()
    } else if decibans.abs() < EQUAL {
        format!("{name} and a maker not listed explain the findings equally well")
    } else if decibans >= 0.0 {
        format!("{name} explains the findings better than a maker not listed")
    } else {
        format!("a maker not listed explains the findings better than {name}")
    };
    Some(OpenWorld {
        maker: catalogue.makers[best].id.clone(),
        maker_name: name.clone(),
        decibans: Some(decibans).filter(|decibans| decibans.is_finite()),
        words,
    })
}
