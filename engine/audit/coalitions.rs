//! The odds of the claim in question under any part of the findings.

use super::Odds;
use super::shapley::MOST_EXACT;
use crate::circuit::{QueryError, SubsetPosteriors, Subsets, SubsetsError};
use crate::network::{Evidence, EvidenceItem};
use crate::piece::{Piece, PieceEvidence};
use crate::query::{AskError, marginal};
use crate::question::Posed;

/// The findings that make a claim, taken or left out one by one.
pub(super) struct Coalitions<'a> {
    posed: &'a Posed<'a>,
    piece: &'a Piece,
    entered: &'a PieceEvidence,
    items: Vec<EvidenceItem>,
    /// The posteriors of every subset, if there are not too many.
    all: Option<SubsetPosteriors>,
}

impl<'a> Coalitions<'a> {
    pub(super) fn new(
        posed: &'a Posed<'a>,
        piece: &'a Piece,
        entered: &'a PieceEvidence,
        items: Vec<EvidenceItem>,
    ) -> Result<Self, AskError> {
        let mut coalitions = Self {
            posed,
            piece,
            entered,
            items,
            all: None,
        };
        if coalitions.items.len() <= MOST_EXACT {
            coalitions.all = coalitions.every_subset()?;
        }
        Ok(coalitions)
    }

    /// `None` if the tables would be too large.
    fn every_subset(&self) -> Result<Option<SubsetPosteriors>, AskError> {
        let compiled = &self.posed.compiled;
        let fixed = self.evidence(|_| false);
        let groups = self.items.iter().map(|&item| {
            let mut group = Evidence::new();
            let contents = self.entered.evidence.items();
            for (item, content) in contents.filter(|(i, _)| *i == item) {
                group.enter(item, content);
            }
            group
        });
        let groups: Vec<Evidence> = groups.collect();
        let structure = compiled.model.network.structure();
        let asked = Subsets::compile(structure, &fixed, &groups, self.posed.variable)
            .and_then(|subsets| Ok(subsets.evaluate(&compiled.parameters)?));
        match asked {
            Ok(all) => Ok(Some(all)),
            Err(
                SubsetsError::Query(QueryError::TooLarge(_)) | SubsetsError::TooManyGroups { .. },
            ) => Ok(None),
            Err(SubsetsError::Query(error)) => {
                Err(compiled.explain(error, self.piece, self.entered))
            }
            Err(error @ SubsetsError::Repeated { .. }) => {
                unreachable!("each item is in one group: {error}")
            }
        }
    }

    /// How many findings there are.
    pub(super) fn len(&self) -> usize {
        self.items.len()
    }

    /// Whether the odds of all subsets are at hand.
    pub(super) fn are_all_known(&self) -> bool {
        self.all.is_some()
    }

    /// The circumstances and the findings taken.
    fn evidence(&self, taken: impl Fn(usize) -> bool) -> Evidence {
        let mut evidence = self.entered.evidence.clone();
        for (i, &item) in self.items.iter().enumerate() {
            if !taken(i) {
                evidence.remove(item);
            }
        }
        evidence
    }

    /// The odds given the findings taken.
    pub(super) fn odds(&self, taken: impl Fn(usize) -> bool) -> Result<Odds, AskError> {
        if let Some(all) = &self.all {
            let bits = (0..self.len()).map(|i| usize::from(taken(i)) << i);
            let subset = bits.sum();
            let states = 0..self
                .posed
                .compiled
                .model
                .network
                .n_states(self.posed.variable);
            // A part of what is possible is possible.
            let p = states.map(|state| all.probability(subset, state).unwrap_or(f64::NAN));
            return Ok(Odds::of(self.posed, &p.collect::<Vec<_>>()));
        }
        let compiled = &self.posed.compiled;
        let posterior = compiled.evaluate(&self.evidence(taken), self.piece, self.entered)?;
        Ok(Odds::of(
            self.posed,
            marginal(&posterior, self.posed.variable),
        ))
    }
}
