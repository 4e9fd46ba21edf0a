//! What a piece is worth: an opinion for one purpose, users, definition, market and day, on the wording that the market accepts.
//!
//! A value is never a mean over makers: the piece is catalogued in one wording, and the price is of that wording. Each wording
//! that the market might accept has a row of its own, with whether the verdict supports it; the one that the house's own verdict
//! comes to stands first and is *the* value.
//!
//! Model: ln hammer = the usual piece's + works + maker + size + wording + condition + kind of sale + years + scatter, each a
//! belief of `market.toml` changed by the sales that count ([`design`], [`regression`]).

pub mod design;
mod error;
mod prices;
pub mod regression;
pub mod sales;
mod wordings;

use serde::Serialize;

pub use error::ValueError;
pub use sales::LeftOut;
pub use wordings::{Asked, Support};

use crate::instruction::{Instruction, Seen};
use crate::model::CompiledModel;
use crate::model::market::PriceKind;
use crate::piece::Piece;
use crate::what_if::{self, WhatIf};
pub(crate) use prices::Prices;
pub(crate) use wordings::{Candidate, Ground};

/// A date of value so many years after the last sale is pointed out. Our own choice.
const FAR: f64 = 2.0;

/// Cautions under every value. Value: 26 CFR 20.2031-1(b), IHTA 1984 s. 160 and the standards speak of one purpose, day and
/// market; export: Arts Council England, UK export licensing for cultural goods (2016).
pub const CAUTIONS: [&str; 4] = [
    "A value is an opinion for one purpose, one date and one market, on the wording shown; it is not an offer, and it is no average over possible makers.",
    "For tax, court or insurance get a qualified appraiser or valuer, who answers for it. Check the definition with its source.",
    "Figures are before fees, commission and taxes, unless the definition says otherwise.",
    "Export and heritage law may ask for a licence, by age and value, also for a time abroad: ask the authority. No opinion on title.",
];

/// Median and bands of one price.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Band {
    /// As likely more as less.
    pub median: f64,
    /// One sale in four comes below.
    pub low: f64,
    /// One sale in four comes above.
    pub high: f64,
    /// One in twenty comes below.
    pub lowest: f64,
    /// One in twenty comes above.
    pub highest: f64,
}

/// A sale brought to the piece.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Adjusted {
    /// Its short name.
    pub id: String,
    /// The catalogue's words.
    pub catalogued: String,
    /// When it was sold.
    pub sold: String,
    /// The hammer price.
    pub hammer: f64,
    /// Factor for whose work it is.
    pub who: f64,
    /// Factor for the wording.
    pub wording: f64,
    /// Factor for the size.
    pub size: f64,
    /// Factor for the condition.
    pub condition: f64,
    /// Factor for the kind of sale.
    pub sale: f64,
    /// Factor for the years between.
    pub years: f64,
    /// Factor from the hammer to the price that the definition means.
    pub price: f64,
    /// The price brought to the piece.
    pub adjusted: f64,
    /// By how many per cent the estimate would rise if this price were 1% higher.
    pub weight: f64,
    /// Where it is told.
    pub source: String,
}

/// The estimate for one wording.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Estimate {
    /// What it would be catalogued as.
    pub catalogued: String,
    /// The wording's name in the pack.
    pub wording: String,
    /// Whether the verdict supports it.
    pub support: Support,
    /// Whether this is the value: the wording that the verdict comes to.
    pub is_the_value: bool,
    /// Sales in the same wording, naming the same.
    pub direct: Vec<String>,
    /// One price of the definition's kind.
    pub band: Band,
    /// Low and high, or one figure, as they are given to a client.
    pub rounded: Vec<f64>,
    /// What the stated beliefs alone would say.
    pub beliefs_alone: Band,
    /// How far the band's ends may be off by the grid of the integration, as a share.
    pub grid_error: f64,
    /// Every sale that counts, brought to the piece.
    pub adjusted: Vec<Adjusted>,
}

/// What a piece is worth.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Value {
    /// The piece's title.
    pub piece: String,
    /// What is supposed, so that it is no opinion on the piece as it is.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub what_if: Option<WhatIf>,
    /// What was asked.
    pub instruction: Instruction,
    /// The definition's name.
    pub definition: String,
    /// Its words.
    pub definition_words: String,
    /// Whether they are the source's own, to be quoted; else they are ours, after the source.
    pub definition_is_verbatim: bool,
    /// What the pack takes the definition as.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub definition_taken_as: Option<String>,
    /// Where it stands.
    pub definition_source: String,
    /// What price it means.
    pub price: PriceKind,
    /// At which kind of sale.
    pub sale: String,
    /// ISO 4217.
    pub currency: String,
    /// The verdict that the wordings rest on.
    pub verdict: String,
    /// A mark that the opinion does not accept.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mark_not_accepted: Option<String>,
    /// The piece's size.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub size: Option<String>,
    /// The piece's condition.
    pub condition: String,
    /// The estimates, the value first.
    pub estimates: Vec<Estimate>,
    /// Sales that do not count, with the reasons.
    pub left_out: Vec<LeftOut>,
    /// The factor by which single prices scatter, as the sales have it.
    pub scatter: f64,
    /// The same as stated.
    pub scatter_stated: f64,
    /// What should be known.
    pub notes: Vec<String>,
    /// The grades of condition.
    pub grades: Vec<String>,
    /// The pack.
    pub pack: String,
    /// Its hash.
    pub pack_sha256: String,
    /// The hash of the market's files.
    pub market_sha256: String,
    /// Cautions.
    pub cautions: Vec<String>,
}

impl CompiledModel {
    /// What a piece is worth, for the wording that the verdict comes to and those that the market might accept, or the one asked
    /// for.
    ///
    /// # Errors
    /// [`ValueError`]: no market, no definition, size or condition not noted, or no verdict.
    pub fn value(
        &self,
        piece: &Piece,
        instruction: &Instruction,
        asked: &Asked,
    ) -> Result<Value, ValueError> {
        let model = &*self.model;
        let prices = Prices::of(model, piece, instruction)?;
        let answer = self.ask(piece)?;
        let verdict = self.verdict_of(piece, &answer)?;
        let Prices {
            market, definition, ..
        } = prices;
        let ground = Ground::new(
            model,
            market,
            piece,
            &answer.posterior,
            verdict.surprise.conflict_decibans,
        );
        let estimate = |candidate: Candidate| {
            let band = prices.band(candidate);
            Estimate {
                catalogued: ground.words(candidate),
                wording: market.wordings[candidate.wording].id.clone(),
                support: ground.support(candidate),
                is_the_value: candidate == ground.own(),
                direct: prices.direct(candidate),
                rounded: rounded(&band, definition.is_band),
                beliefs_alone: prices.band_of_beliefs_alone(candidate),
                grid_error: prices.grid_error(candidate),
                adjusted: prices.adjusted(candidate),
                band,
            }
        };
        let estimates: Vec<Estimate> = ground.offered(asked)?.into_iter().map(estimate).collect();
        let what_if = WhatIf::of(model, piece);
        Ok(Value {
            piece: crate::what_if::title(&self.model, piece),
            instruction: instruction.clone(),
            definition: definition.name.clone(),
            definition_words: definition.words.clone(),
            definition_is_verbatim: definition.is_verbatim,
            definition_taken_as: definition.taken_as.clone(),
            definition_source: definition.source.clone(),
            price: definition.price,
            sale: market.sales[definition.sale].id.clone(),
            currency: market.currency.clone(),
            mark_not_accepted: verdict
                .attribution
                .beside
                .iter()
                .find(|words| words.starts_with("bears a mark of"))
                .cloned(),
            verdict: verdict.attribution.words.clone(),
            size: prices
                .size
                .map(|size| model.catalogue.sizes[size].id.clone()),
            condition: prices.condition.said(),
            notes: notes(&prices, instruction, &estimates, &ground),
            estimates,
            scatter: prices.scatter(),
            scatter_stated: market.scatter.ln_factor.exp(),
            grades: market
                .grades
                .iter()
                .map(|grade| format!("{} {}", grade.grade, grade.words))
                .collect(),
            left_out: prices.left_out,
            pack: model.name.clone(),
            pack_sha256: model.hash.clone(),
            market_sha256: market.hash.clone(),
            cautions: what_if::with_caution(what_if.as_ref(), &CAUTIONS),
            what_if,
        })
    }
}

/// Steps in which estimates are usually given, by the price from which each holds. Common practice, no source.
const STEPS: [(f64, f64); 9] = [
    (0.0, 1.0),
    (5.0, 5.0),
    (50.0, 10.0),
    (200.0, 20.0),
    (500.0, 50.0),
    (1000.0, 100.0),
    (2000.0, 200.0),
    (5000.0, 500.0),
    (10_000.0, 1000.0),
];

/// The middle half as low and high, or the median, in usual steps.
fn rounded(band: &Band, is_band: bool) -> Vec<f64> {
    let round = |price: f64| {
        let step = STEPS.iter().rev().find(|(from, _)| price >= *from);
        let step = step.map_or(1.0, |(_, step)| *step);
        (price / step).round() * step
    };
    if !is_band {
        return vec![round(band.median)];
    }
    vec![round(band.low), round(band.high)]
}

/// A purpose that another definition of the pack is meant for, and not the one asked for.
fn does_not_suit(prices: &Prices<'_>, instruction: &Instruction) -> Option<String> {
    let purpose = instruction.purpose.to_lowercase();
    let word = |definition: &crate::model::market::Definition| {
        let mut words = definition.suits.iter();
        words
            .find(|word| purpose.contains(&word.to_lowercase()))
            .cloned()
    };
    if word(prices.definition).is_some() {
        return None;
    }
    let mut others = prices.market.definitions.iter();
    let (id, word) = others.find_map(|other| Some((&other.id, word(other)?)))?;
    Some(format!(
        "the purpose, “{}”, speaks of “{word}”, for which the pack means the definition `{id}`; the figures are by `{}`",
        instruction.purpose, prices.definition.id
    ))
}

fn notes(
    prices: &Prices<'_>,
    instruction: &Instruction,
    estimates: &[Estimate],
    ground: &Ground<'_>,
) -> Vec<String> {
    let mut notes = instruction.doubts();
    notes.extend(prices.condition.doubt(prices.market));
    notes.extend(does_not_suit(prices, instruction));
    let copy = ground.chance_of_copy();
    if copy >= wordings::SERIOUS && ground.rung() != "copy" {
        notes.push(format!(
            "a later reproduction is possible at {copy:.2}: whatever it is catalogued as, that must be said with it"
        ));
    }
    let effective = prices.effective;
    let latest = prices
        .used
        .iter()
        .max_by(|a, b| a.line.years.total_cmp(&b.line.years));
    match latest {
        None => notes.push("no sale counts: the estimates are the stated beliefs alone".to_owned()),
        Some(sale) if effective - sale.line.years > FAR => notes.push(format!(
            "the last sale that counts is of {}, {:.1} years before the date of value",
            sale.line.sold,
            effective - sale.line.years
        )),
        Some(_) => {}
    }
    if let Some(first) = estimates.first().filter(|first| first.direct.is_empty()) {
        notes.push(format!(
            "no sale in the wording “{}” counts: the estimate rests on other wordings and the stated beliefs",
            first.catalogued
        ));
    }
    if instruction.seen != Seen::InHand {
        notes.push(format!(
            "the piece was seen {}: base, weight, wear and restoration were not examined in hand",
            instruction.seen.words()
        ));
    }
    if instruction.interest.trim() != "none" {
        notes.push(format!(
            "the inspector has an interest in the piece: {}",
            instruction.interest
        ));
    }
    notes
}
