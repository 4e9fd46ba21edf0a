//! Whether a further look pays: what the piece would be catalogued as after each reading, and what that wording fetches.
//!
//! After every reading that a look may give, the house's own wording is worked out anew and takes the middle price of
//! [`crate::value`]. The mean over the readings, less the price as things stand, is what the look is expected to bring
//! (the expected value of sample information: Raiffa & Schlaifer 1961, *Applied Statistical Decision Theory*, sec. 4.5, from
//! memory); it pays if that is more than its minutes and fees cost. The wording is set by the pack's thresholds and not chosen
//! for its price, so a look may also be expected to lose.
//!
//! Means of prices stand here alone, to decide about looking: they are never a value.

use serde::Serialize;

use crate::instruction::Instruction;
use crate::model::CompiledModel;
use crate::model::market::PriceKind;
use crate::network::Evidence;
use crate::next_look::candidates::NotOffered;
use crate::next_look::foreseen::Foreseen;
use crate::next_look::opinion::NEEDS_NO_CONFLICT;
use crate::next_look::{About, Asked, NextLookError, Options, With};
use crate::piece::Piece;
use crate::query::marginal;
use crate::value::{Candidate, Ground, Prices, ValueError};
use crate::what_if::{self, WhatIf};

/// Why a look is not weighed.
const SEVERAL: &str =
    "gives several quantities at once, or readings that the piece as described would not take";

/// Cautions under every answer.
pub const CAUTIONS: [&str; 3] = [
    "A mean over what a look may show serves to decide whether to look. It is no value of the piece, and no price that anybody pays.",
    "What a look shows is told whichever way it turns out. That it may lower the price is no reason not to look.",
    "Prices are the middle ones of each wording, before fees, commission and taxes unless the definition says otherwise.",
];

/// What looking costs.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Costs {
    /// Of an hour of whoever looks, in the market's currency.
    pub per_hour: f64,
    /// What is paid beside, such as to a laboratory, by the clue's position.
    pub fees: Vec<(usize, f64)>,
    /// Clues of which it was noted that one cannot tell, to be looked at again all the same, by position.
    pub again: Vec<usize>,
}

/// Why it cannot be said whether a look pays.
#[derive(Clone, Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PaysError {
    /// The piece cannot be valued as it is.
    #[error(transparent)]
    Value(#[from] ValueError),
    /// The looks cannot be weighed.
    #[error(transparent)]
    NextLook(#[from] NextLookError),
    /// A cost that is none.
    #[error("{what} is a finite sum of money, 0 or more, not {found}")]
    Cost {
        /// What it is said of.
        what: String,
        /// As said.
        found: f64,
    },
    /// Nothing can be said of the piece as it is.
    #[error("the verdict on the piece as it is cannot be put into a wording of the market")]
    NoWording,
}

/// What the piece may come to be catalogued as.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Becomes {
    /// The catalogue's words.
    pub catalogued: String,
    /// Chance of it.
    pub chance: f64,
    /// Middle price in this wording.
    pub price: f64,
}

/// What one look is expected to bring.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LookPays {
    /// The clue's name in scripts.
    pub clue: String,
    /// The clue's name for people.
    pub name: String,
    /// Circumstances assumed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub with: Vec<With>,
    /// The uncertain finding that its reading would replace.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub replaces: Option<String>,
    /// Minutes, with those until its tools are at hand.
    pub minutes: f64,
    /// What minutes and fees cost.
    pub cost: f64,
    /// Mean of the middle prices over the readings.
    pub mean_price: f64,
    /// How much that is more than the price now.
    pub gain: f64,
    /// Chance that the wording after it fetches more.
    pub rises: f64,
    /// Chance that the wording after it fetches less.
    pub falls: f64,
    /// Whether the gain is more than the cost.
    pub pays: bool,
    /// What the piece may come to be catalogued as, the most probable first.
    pub becomes: Vec<Becomes>,
}

/// Whether a further look pays.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pays {
    /// The piece's title.
    pub piece: String,
    /// What is supposed, so that it is no opinion on the piece as it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub what_if: Option<WhatIf>,
    /// What was asked.
    pub instruction: Instruction,
    /// The definition's name.
    pub definition: String,
    /// What price it means.
    pub price: PriceKind,
    /// At which kind of sale.
    pub sale: String,
    /// ISO 4217.
    pub currency: String,
    /// What an hour costs.
    pub per_hour: f64,
    /// The wording as things stand, with its middle price.
    pub now: Becomes,
    /// Looks, the largest gain after costs first.
    pub looks: Vec<LookPays>,
    /// What it would be catalogued as if the maker were known for certain, the most probable first.
    pub if_known: Vec<Becomes>,
    /// Mean of those prices.
    pub mean_if_known: f64,
    /// Clues that are not weighed.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub not_offered: Vec<NotOffered>,
    /// The pack.
    pub pack: String,
    /// Its hash.
    pub pack_sha256: String,
    /// The hash of the market's files.
    pub market_sha256: String,
    /// Cautions.
    pub cautions: Vec<String>,
}

/// Mean worth of what may come, each with its chance.
///
/// Of worths that are each the best that can be done after one result this is the expected value with the result, and less
/// the best without it the expected value of sample information (Raiffa 1968, *Decision Analysis*, ch. 2, from memory).
///
/// ```
/// // A toss-up between 100 and nothing.
/// assert_eq!(saggar::pays::mean_worth([(0.5, 100.0), (0.5, 0.0)]), 50.0);
/// ```
#[must_use]
pub fn mean_worth(outcomes: impl IntoIterator<Item = (f64, f64)>) -> f64 {
    let terms = outcomes.into_iter();
    terms.fold(0.0, |sum, (chance, worth)| sum + chance * worth)
}

impl CompiledModel {
    /// Whether a further look at the piece pays, under an instruction that names a definition of value.
    ///
    /// # Errors
    /// [`PaysError`]: as for [`CompiledModel::value`] and [`CompiledModel::next_look`]; costs that are none.
    pub fn pays(
        &self,
        piece: &Piece,
        instruction: &Instruction,
        costs: &Costs,
    ) -> Result<Pays, PaysError> {
        let model = &*self.model;
        check_costs(self, costs)?;
        let prices = Prices::of(model, piece, instruction)?;
        let options = Options {
            about: About::Maker,
            again: costs.again.clone(),
            ..Options::default()
        };
        let asked = Asked::new(self, piece, &options)?;
        let ground = |foreseen: &Foreseen<'_>| -> Option<Ground<'_>> {
            let with = |conflict| {
                let (piece, posterior) = (foreseen.piece, foreseen.posterior);
                Ground::new(model, prices.market, piece, posterior, conflict)
            };
            let ground = with(0.0);
            if ground.rung() == NEEDS_NO_CONFLICT {
                return Some(with(asked.conflict(piece, foreseen)?));
            }
            Some(ground)
        };
        let own = |foreseen: Foreseen<'_>| {
            let ground = ground(&foreseen)?;
            let own = ground.own();
            Some((own, ground.words(own)))
        };
        let becomes = |((candidate, catalogued), chance): ((Candidate, String), f64)| Becomes {
            catalogued,
            chance,
            price: prices.band(candidate).median,
        };
        let priced = |chances: Vec<((Candidate, String), f64)>| {
            let mut all: Vec<Becomes> = chances.into_iter().map(becomes).collect();
            all.sort_by(|a, b| b.chance.total_cmp(&a.chance));
            all
        };

        let as_it_is = own(asked.as_it_is(piece)).ok_or(PaysError::NoWording)?;
        let now = becomes((as_it_is, 1.0));
        let mut not_offered = asked.offer.not_offered.clone();
        let mut looks = Vec::new();
        for (weighed, worlds) in &asked.single_looks()? {
            let worth = asked.look_worth(piece, weighed, worlds);
            let Some(after) = asked.foresee(piece, weighed, worlds, own) else {
                not_offered.push(NotOffered {
                    what: vec![worth.name],
                    why: SEVERAL.to_owned(),
                });
                continue;
            };
            let fees = costs.fees.iter();
            let fee = fees.filter(|(clue, _)| *clue == weighed.candidate.clue);
            let cost = costs.per_hour * worth.minutes / 60.0 + fee.map(|(_, fee)| fee).sum::<f64>();
            let becomes = priced(after);
            let gain = mean_worth(becomes.iter().map(|b| (b.chance, b.price - now.price)));
            let chance_of = |is: &dyn Fn(f64) -> bool| {
                let those = becomes.iter().filter(|b| is(b.price));
                those.fold(0.0, |sum, b| sum + b.chance)
            };
            looks.push(LookPays {
                clue: worth.clue,
                name: worth.name,
                with: worth.with,
                replaces: worth.replaces,
                minutes: worth.minutes,
                cost,
                mean_price: now.price + gain,
                gain,
                rises: chance_of(&|price| price > now.price),
                falls: chance_of(&|price| price < now.price),
                pays: gain > cost,
                becomes,
            });
        }
        looks.sort_by(|a, b| (b.gain - b.cost).total_cmp(&(a.gain - a.cost)));

        let mut known: Vec<((Candidate, String), f64)> = Vec::new();
        let chances = marginal(&asked.answer.posterior, model.catalogue.maker);
        for (maker, &chance) in chances.iter().enumerate().filter(|(_, p)| **p > 0.0) {
            let mut evidence: Evidence = asked.answer.entered.evidence.clone();
            evidence.observe(model.catalogue.maker, maker);
            let posterior = self
                .evaluate(&evidence, piece, &asked.answer.entered)
                .map_err(NextLookError::Ask)?;
            let foreseen = Foreseen {
                posterior: &posterior,
                ..asked.as_it_is(piece)
            };
            let so = own(foreseen).ok_or(PaysError::NoWording)?;
            match known.iter_mut().find(|(known, _)| *known == so) {
                Some((_, sum)) => *sum += chance,
                None => known.push((so, chance)),
            }
        }
        let if_known = priced(known);
        let what_if = WhatIf::of(model, piece);
        Ok(Pays {
            piece: crate::what_if::title(&self.model, piece),
            instruction: instruction.clone(),
            definition: prices.definition.name.clone(),
            price: prices.definition.price,
            sale: prices.market.sales[prices.definition.sale].id.clone(),
            currency: prices.market.currency.clone(),
            per_hour: costs.per_hour,
            mean_if_known: mean_worth(if_known.iter().map(|b| (b.chance, b.price))),
            if_known,
            now,
            looks,
            not_offered,
            pack: model.name.clone(),
            pack_sha256: model.hash.clone(),
            market_sha256: prices.market.hash.clone(),
            cautions: what_if::with_caution(what_if.as_ref(), &CAUTIONS),
            what_if,
        })
    }
}

fn check_costs(compiled: &CompiledModel, costs: &Costs) -> Result<(), PaysError> {
    let clues = &compiled.model.catalogue.clues;
    let fees = costs.fees.iter();
    let fees = fees.map(|(clue, fee)| (format!("the fee for `{}`", clues[*clue].id), *fee));
    let hour = ("what an hour costs".to_owned(), costs.per_hour);
    for (what, found) in std::iter::once(hour).chain(fees) {
        if !found.is_finite() || found < 0.0 {
            return Err(PaysError::Cost { what, found });
        }
    }
    Ok(())
}
