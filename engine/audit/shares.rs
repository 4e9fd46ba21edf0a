//! The shift of the odds shared out among the findings.

use super::Shared;
use super::coalitions::Coalitions;
use super::shapley::{Estimated, interaction, sampled, shapley};
use crate::query::AskError;

/// Standard error at which an estimate is good enough, in decibans.
const PRECISION: f64 = 0.05;
/// Pairs of orders drawn at most.
const MOST_ORDERS: usize = 2000;
/// The draws are the same in every run.
const SEED: u64 = 1;
/// Pairs shown, and from which change on, in decibans.
const MOST_PAIRS: usize = 5;
const WORTH_TELLING: f64 = 0.5;

/// Shares of the findings, of the findings that hang together taken as one, and what pairs do to each other.
pub(super) struct Shares {
    pub findings: Vec<Option<Shared>>,
    /// One for each group, if it came as one while all others come one by one.
    pub groups: Vec<Option<Shared>>,
    pub pairs: Vec<(usize, usize, f64)>,
}

impl Shares {
    pub(super) fn of(coalitions: &Coalitions<'_>, groups: &[&[bool]]) -> Result<Self, AskError> {
        let n = coalitions.len();
        if !coalitions.are_all_known() {
            return Self::estimated(coalitions, groups);
        }
        let worth = (0..1_usize << n).map(|subset| {
            let odds = coalitions.odds(|i| subset >> i & 1 == 1)?;
            Ok(odds.decibans())
        });
        let worth: Vec<f64> = worth.collect::<Result<_, AskError>>()?;
        if !worth.iter().all(|w| w.is_finite()) {
            return Ok(Self::none(n, groups.len()));
        }
        let exact = |decibans| {
            Some(Shared {
                decibans,
                standard_error: None,
            })
        };
        let mut pairs: Vec<(usize, usize, f64)> = (0..n)
            .flat_map(|a| (a + 1..n).map(move |b| (a, b)))
            .map(|(a, b)| (a, b, interaction(&worth, a, b)))
            .filter(|(_, _, decibans)| decibans.abs() >= WORTH_TELLING)
            .collect();
        pairs.sort_by(|a, b| b.2.abs().total_cmp(&a.2.abs()));
        pairs.truncate(MOST_PAIRS);
        let groups = groups.iter().map(|in_group| {
            // The group as one player, behind all others.
            let alone: Vec<usize> = (0..n).filter(|&i| !in_group[i]).collect();
            let group: usize = (0..n).filter(|&i| in_group[i]).map(|i| 1 << i).sum();
            let joined: Vec<f64> = (0..1_usize << (alone.len() + 1))
                .map(|subset| {
                    let bits = alone.iter().enumerate();
                    let taken: usize = bits.map(|(k, &i)| (subset >> k & 1) << i).sum();
                    let has_group = subset >> alone.len() & 1 == 1;
                    worth[if has_group { taken | group } else { taken }]
                })
                .collect();
            exact(shapley(&joined)[alone.len()])
        });
        Ok(Self {
            findings: shapley(&worth).into_iter().map(exact).collect(),
            groups: groups.collect(),
            pairs,
        })
    }

    fn none(n: usize, n_groups: usize) -> Self {
        Self {
            findings: vec![None; n],
            groups: vec![None; n_groups],
            pairs: Vec::new(),
        }
    }

    fn estimated(coalitions: &Coalitions<'_>, groups: &[&[bool]]) -> Result<Self, AskError> {
        let n = coalitions.len();
        let estimate = |players: usize, player_of: &dyn Fn(usize) -> usize| {
            let worth = |come: &[bool]| {
                let odds = coalitions.odds(|i| come[player_of(i)])?;
                Ok::<_, AskError>(odds.decibans())
            };
            sampled(players, worth, PRECISION, MOST_ORDERS, SEED)
        };
        let shared = |found: &Estimated| {
            found.value.is_finite().then_some(Shared {
                decibans: found.value,
                standard_error: Some(found.standard_error),
            })
        };
        let findings = estimate(n, &|i| i)?;
        let groups = groups.iter().map(|in_group| {
            let n_alone = in_group.iter().filter(|&&is| !is).count();
            let player = |i: usize| match in_group[i] {
                true => n_alone,
                false => in_group[..i].iter().filter(|&&is| !is).count(),
            };
            Ok::<_, AskError>(shared(&estimate(n_alone + 1, &player)?[n_alone]))
        });
        Ok(Self {
            groups: groups.collect::<Result<_, _>>()?,
            findings: findings.iter().map(shared).collect(),
            pairs: Vec::new(),
        })
    }
}
