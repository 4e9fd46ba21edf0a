//! The verdict's words under a draw.

use crate::model::{CompiledModel, Model};
use crate::piece::Piece;
use crate::query::{Answer, AskError};
use crate::verdict::opinion::{Grounds, Opinion, makers_of_full_mark, opinion};
use crate::verdict::surprise;

/// What decides a verdict's wording besides probabilities; the same in every draw.
pub(super) struct Ladder<'a> {
    model: &'a Model,
    /// Makers whose full mark the piece bears.
    makers_of_mark: Vec<usize>,
    in_conflict: bool,
}

impl<'a> Ladder<'a> {
    pub fn new(
        compiled: &'a CompiledModel,
        piece: &Piece,
        answer: &Answer,
    ) -> Result<Self, AskError> {
        let surprise = surprise::surprise(compiled, piece, answer)?;
        Ok(Self {
            model: &compiled.model,
            makers_of_mark: makers_of_full_mark(&compiled.model, piece).unwrap_or_default(),
            in_conflict: surprise.conflict_decibans > 0.0,
        })
    }

    /// The opinion given the chances of makers and engravings. A maker's region is the same in every draw.
    pub fn opinion(&self, maker: Vec<f64>, engraving: Vec<f64>) -> Opinion {
        let catalogue = &self.model.catalogue;
        let table = &self.model.network.cpt(catalogue.region).table;
        let in_region = |region: usize| {
            maker
                .iter()
                .enumerate()
                .map(move |(m, p)| p * table[(region, m)])
        };
        let n_works = catalogue
            .works
            .map_or(0, |id| self.model.network.n_states(id));
        let mut works = vec![0.0; n_works];
        for (about, p) in catalogue.makers.iter().zip(&maker) {
            if let Some(place) = about.works {
                works[place] += p;
            }
        }
        let grounds = Grounds {
            works,
            region: (0..table.nrows()).map(|r| in_region(r).sum()).collect(),
            maker,
            engraving,
        };
        let has_own_mark = |maker| self.makers_of_mark.contains(&maker);
        opinion(self.model, &grounds, has_own_mark, self.in_conflict)
    }
}
