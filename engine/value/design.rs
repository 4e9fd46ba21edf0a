//! What a price hangs on, as columns of the regression.

use super::regression::{Coefficient, Fit, RegressionError, ScatterBelief};
use crate::model::Model;
use crate::model::market::{Market, PriceKind, Who};

/// What a piece is sold as, and how.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Described {
    /// Whom the catalogue names.
    pub who: Who,
    /// In which wording, by position.
    pub wording: usize,
    /// Size, by position; for a ware without sizes 0.
    pub size: usize,
    /// Grade of condition.
    pub grade: i64,
    /// Kind of sale, by position.
    pub sale: usize,
    /// When, in years.
    pub years: f64,
    /// What price is meant.
    pub price: PriceKind,
}

/// What differs between two pieces, as the adjustment grid tells it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Difference {
    /// What all prices have in common.
    Level,
    /// Whose work it is.
    Who,
    /// Size.
    Size,
    /// Wording.
    Wording,
    /// Condition.
    Condition,
    /// Kind of sale.
    Sale,
    /// Years.
    Years,
    /// Hammer, with premium, retail.
    Price,
}

/// The columns, each with its belief.
pub struct Design<'a> {
    market: &'a Market,
    /// The works of each maker.
    works_of: Vec<Option<usize>>,
    columns: Vec<(Difference, Column, Coefficient)>,
}

#[derive(Clone, Copy, PartialEq)]
enum Column {
    Level,
    Works(usize),
    Maker(usize),
    Size,
    Wording(usize),
    Condition,
    Sale(usize),
    Years,
    Retail,
}

impl<'a> Design<'a> {
    /// The columns of a market.
    #[must_use]
    pub fn new(model: &Model, market: &'a Market) -> Self {
        let makers = &model.catalogue.makers;
        let works_of: Vec<Option<usize>> = makers.iter().map(|maker| maker.works).collect();
        let n_works = model
            .catalogue
            .works
            .map_or(0, |id| model.network.variable(id).states.len());
        let believed = |factor: &crate::model::market::Factor| Coefficient {
            mean: factor.ln_median,
            sd: Some(factor.ln_sd),
        };
        let around_one = |sd: f64| Coefficient {
            mean: 0.0,
            sd: Some(sd),
        };
        let mut columns = vec![(
            Difference::Level,
            Column::Level,
            believed(&market.usual.price),
        )];
        for works in 0..n_works {
            columns.push((
                Difference::Who,
                Column::Works(works),
                around_one(market.works_apart),
            ));
        }
        for maker in 0..makers.len() {
            columns.push((
                Difference::Who,
                Column::Maker(maker),
                around_one(market.makers_apart),
            ));
        }
        if let Some(step) = &market.size_step {
            columns.push((Difference::Size, Column::Size, believed(step)));
        }
        for (place, wording) in market.wordings.iter().enumerate() {
            if let Some(factor) = &wording.factor {
                columns.push((
                    Difference::Wording,
                    Column::Wording(place),
                    believed(factor),
                ));
            }
        }
        columns.push((
            Difference::Condition,
            Column::Condition,
            believed(&market.condition_step),
        ));
        for (place, sale) in market.sales.iter().enumerate() {
            if let Some(factor) = &sale.factor {
                columns.push((Difference::Sale, Column::Sale(place), believed(factor)));
            }
        }
        columns.push((Difference::Years, Column::Years, believed(&market.year)));
        columns.push((Difference::Price, Column::Retail, believed(&market.retail)));
        Self {
            market,
            works_of,
            columns,
        }
    }

    /// A piece's numbers in the columns.
    #[must_use]
    pub fn row(&self, piece: &Described) -> Vec<f64> {
        let usual = &self.market.usual;
        let works = match piece.who {
            Who::Maker(maker) => self.works_of.get(maker).copied().flatten(),
            Who::Works(works) => Some(works),
            Who::Nobody => None,
        };
        let one_if = |is_so: bool| f64::from(u8::from(is_so));
        let cell = |column: &Column| match *column {
            Column::Level => 1.0,
            Column::Works(place) => one_if(works == Some(place)),
            Column::Maker(place) => one_if(piece.who == Who::Maker(place)),
            Column::Size => piece.size as f64 - usual.size.unwrap_or(0) as f64,
            Column::Wording(place) => one_if(piece.wording == place),
            Column::Condition => (piece.grade - usual.grade) as f64,
            Column::Sale(place) => one_if(piece.sale == place),
            Column::Years => piece.years - usual.years,
            Column::Retail => one_if(piece.price == PriceKind::Retail),
        };
        self.columns
            .iter()
            .map(|(_, column, _)| cell(column))
            .collect()
    }

    /// What is added to the logarithm of a price for certain: the premium.
    #[must_use]
    pub fn added(&self, piece: &Described) -> f64 {
        match piece.price {
            PriceKind::WithPremium => self.market.sales[piece.sale].premium.unwrap_or(0.0).ln_1p(),
            PriceKind::Hammer | PriceKind::Retail => 0.0,
        }
    }

    /// The fit to hammer prices; to none of them, what the beliefs alone say.
    ///
    /// # Errors
    /// [`RegressionError`], in practice none: every belief of a market is proper.
    pub fn fit(&self, sold: &[(Described, f64)]) -> Result<Fit, RegressionError> {
        let rows: Vec<Vec<f64>> = sold.iter().map(|(piece, _)| self.row(piece)).collect();
        let prices: Vec<f64> = sold.iter().map(|(_, hammer)| hammer.ln()).collect();
        let beliefs: Vec<Coefficient> = self.columns.iter().map(|(.., belief)| *belief).collect();
        let scatter = ScatterBelief {
            scale: self.market.scatter.ln_factor,
            seen: self.market.scatter.seen,
        };
        Fit::new(&rows, &prices, &beliefs, scatter)
    }

    /// The logarithm of the factor that brings one piece's price to another's, for one difference.
    #[must_use]
    pub fn difference(
        &self,
        what: Difference,
        means: &[f64],
        from: &Described,
        to: &Described,
    ) -> f64 {
        let (from_row, to_row) = (self.row(from), self.row(to));
        let columns = self
            .columns
            .iter()
            .zip(means)
            .zip(to_row.iter().zip(&from_row));
        let parts = columns.filter(|(((kind, ..), _), _)| *kind == what);
        let sum: f64 = parts
            .map(|((_, mean), (to, from))| mean * (to - from))
            .sum();
        match what {
            Difference::Price => sum + self.added(to) - self.added(from),
            _ => sum,
        }
    }
}
