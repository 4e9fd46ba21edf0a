//! What a piece would fetch in each wording: the stated beliefs, changed by the sales that count.

use super::design::{Described, Design, Difference};
use super::regression::Fit;
use super::sales::{self, LeftOut, Used};
use super::wordings::Candidate;
use super::{Adjusted, Band, ValueError};
use crate::instruction::Instruction;
use crate::model::market::{Definition, Market};
use crate::model::{ClueKind, Model};
use crate::nearest_name::nearest;
use crate::piece::{Condition, Look, Piece};

/// A date of value further than this, in years, from the year of the usual piece's price is refused: what prices do in a year was
/// never meant to be carried so far. Our own choice.
const FARTHEST: f64 = 50.0;

/// The prices of one piece under one instruction.
pub(crate) struct Prices<'a> {
    pub market: &'a Market,
    pub definition: &'a Definition,
    /// By position; none for a ware without sizes.
    pub size: Option<usize>,
    pub condition: Condition,
    /// Date of value, in years.
    pub effective: f64,
    /// Sales that count.
    pub used: Vec<Used<'a>>,
    /// Those that do not.
    pub left_out: Vec<LeftOut>,
    design: Design<'a>,
    fit: Fit,
    /// As `fit`, without any sale.
    beliefs_alone: Fit,
    means: Vec<f64>,
}

impl<'a> Prices<'a> {
    /// # Errors
    /// [`ValueError`]: no market, no definition, size or condition not noted, a date too far.
    pub fn of(
        model: &'a Model,
        piece: &Piece,
        instruction: &Instruction,
    ) -> Result<Self, ValueError> {
        let market = model.market.as_ref().ok_or_else(|| ValueError::NoMarket {
            pack: model.name.clone(),
        })?;
        if model.catalogue.leaves_out("maker") {
            return Err(ValueError::NoMakers);
        }
        let definition = definition(market, instruction)?;
        let size = size(model, market, piece)?;
        let condition = piece.condition().ok_or(ValueError::ConditionNotNoted {
            example: market.usual.grade,
        })?;
        let effective = instruction.effective_in_years()?;
        if (effective - market.usual.years).abs() > FARTHEST {
            return Err(ValueError::TooFar {
                effective: instruction.effective.clone(),
                usual: market.usual.years.floor(),
            });
        }
        let (used, left_out) = sales::sort(market, effective);
        let design = Design::new(model, market);
        let sold: Vec<(Described, f64)> =
            used.iter().map(|sale| (sale.piece, sale.hammer)).collect();
        let (fit, beliefs_alone) = (design.fit(&sold)?, design.fit(&[])?);
        Ok(Self {
            market,
            definition,
            size,
            condition: condition.clone(),
            effective,
            used,
            left_out,
            means: fit.means(),
            design,
            fit,
            beliefs_alone,
        })
    }

    /// The piece in a wording.
    fn described(&self, candidate: Candidate) -> Described {
        Described {
            who: candidate.who,
            wording: candidate.wording,
            size: self.size.unwrap_or(0),
            grade: self.condition.grade,
            sale: self.definition.sale,
            years: self.effective,
            price: self.definition.price,
        }
    }

    /// Sales in the same wording, naming the same.
    pub fn direct(&self, candidate: Candidate) -> Vec<String> {
        let is_same = |sale: &&Used<'_>| {
            sale.piece.wording == candidate.wording && sale.piece.who == candidate.who
        };
        let direct = self.used.iter().filter(is_same);
        direct.map(|sale| sale.line.id.clone()).collect()
    }

    /// Median and bands of one price, in the definition's kind.
    pub fn band(&self, candidate: Candidate) -> Band {
        self.band_by(&self.fit, candidate)
    }

    /// The same as the stated beliefs alone have it.
    pub fn band_of_beliefs_alone(&self, candidate: Candidate) -> Band {
        self.band_by(&self.beliefs_alone, candidate)
    }

    fn band_by(&self, fit: &Fit, candidate: Candidate) -> Band {
        let wanted = self.described(candidate);
        let predicted = fit.predict(&self.design.row(&wanted));
        let added = self.design.added(&wanted);
        let at = |chance: f64| (predicted.quantile(chance) + added).exp();
        Band {
            median: at(0.5),
            low: at(0.25),
            high: at(0.75),
            lowest: at(0.05),
            highest: at(0.95),
        }
    }

    /// How far the ends of the band move if every second point of the grid is left out.
    pub fn grid_error(&self, candidate: Candidate) -> f64 {
        let predicted = self
            .fit
            .predict(&self.design.row(&self.described(candidate)));
        let coarser = predicted.coarser();
        let off = |chance: f64| (predicted.quantile(chance) - coarser.quantile(chance)).abs();
        [0.05, 0.25, 0.5, 0.75, 0.95]
            .map(off)
            .into_iter()
            .fold(0.0, f64::max)
    }

    /// The factor by which single prices scatter, as the sales have it.
    pub fn scatter(&self) -> f64 {
        self.fit.scatter().exp()
    }

    /// Every sale that counts, brought to the piece in a wording.
    pub fn adjusted(&self, candidate: Candidate) -> Vec<Adjusted> {
        let wanted = self.described(candidate);
        let adjusted = |sale| self.one_adjusted(sale, &wanted);
        self.used.iter().map(adjusted).collect()
    }

    fn one_adjusted(&self, sale: &Used<'_>, wanted: &Described) -> Adjusted {
        let (design, fit) = (&self.design, &self.fit);
        let factor = |what: Difference| {
            design
                .difference(what, &self.means, &sale.piece, wanted)
                .exp()
        };
        let [who, wording, size, condition, kind, years, price] = [
            Difference::Who,
            Difference::Wording,
            Difference::Size,
            Difference::Condition,
            Difference::Sale,
            Difference::Years,
            Difference::Price,
        ]
        .map(factor);
        Adjusted {
            id: sale.line.id.clone(),
            catalogued: sale.line.catalogued.clone(),
            sold: sale.line.sold.clone(),
            hammer: sale.hammer,
            who,
            wording,
            size,
            condition,
            sale: kind,
            years,
            price,
            adjusted: sale.hammer * who * wording * size * condition * kind * years * price,
            weight: fit.leverage(&design.row(wanted), &design.row(&sale.piece)),
            source: sale.line.source.clone(),
        }
    }
}

fn definition<'a>(
    market: &'a Market,
    instruction: &Instruction,
) -> Result<&'a Definition, ValueError> {
    let known = || {
        market
            .definitions
            .iter()
            .map(|definition| definition.id.clone())
            .collect()
    };
    let Some(name) = &instruction.definition else {
        return Err(ValueError::NoDefinition { known: known() });
    };
    let found = market
        .definitions
        .iter()
        .find(|definition| definition.id == *name);
    found.ok_or_else(|| ValueError::UnknownDefinition {
        name: crate::diagnostic::shorten(name),
        nearest: nearest(name, market.definitions.iter().map(|d| d.id.as_str())).map(str::to_owned),
        known: known(),
    })
}

/// The size for sure; none for a ware without sizes.
fn size(model: &Model, market: &Market, piece: &Piece) -> Result<Option<usize>, ValueError> {
    let Some(usual) = market.usual.size else {
        return Ok(None);
    };
    let clues = &model.catalogue.clues;
    let noted = piece.findings().iter().find_map(|finding| {
        match (&clues[finding.clue].kind, &finding.look) {
            (ClueKind::Size, Look::Seen(size)) => Some(*size),
            _ => None,
        }
    });
    let clue = || clues.iter().find(|clue| clue.kind == ClueKind::Size);
    noted.map(Some).ok_or_else(|| ValueError::SizeNotNoted {
        clue: clue().map_or_else(|| "size".to_owned(), |clue| clue.id.clone()),
        example: model.catalogue.sizes[usual].id.clone(),
    })
}
