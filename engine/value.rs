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
pub mod regression;
pub mod sales;
mod wordings;

use serde::Serialize;

pub use error::ValueError;
pub use sales::LeftOut;
pub use wordings::{Asked, Support};

use crate::instruction::{Instruction, Seen};
use crate::model::market::{Definition, Market, PriceKind};
use crate::model::{ClueKind, CompiledModel, Model};
use crate::nearest_name::nearest;
use crate::piece::{Look, Piece};
use crate::verdict::opinion::{Grounds, makers_of_full_mark, opinion};
use design::{Described, Design, Difference};
use regression::Fit;
use sales::Used;
use wordings::{Candidate, Ground};

/// A date of value so many years after the last sale is pointed out. Our own choice.
const FAR: f64 = 2.0;

/// A date of value further than this, in years, from the year of the usual piece's price is refused: what prices do in a year was
/// never meant to be carried so far. Our own choice.
const FARTHEST: f64 = 50.0;

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
    /// What was asked.
    pub instruction: Instruction,
    /// The definition's name.
    pub definition: String,
    /// Its words.
    pub definition_words: String,
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
    pub cautions: [&'static str; 4],
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
        let answer = self.ask(piece)?;
        let verdict = self.verdict_of(piece, &answer)?;
        let grounds = Grounds::of(model, &answer.posterior);
        let marked_by = makers_of_full_mark(model, piece).unwrap_or_default();
        let in_conflict = verdict.surprise.conflict_decibans > 0.0;
        let ground = Ground {
            model,
            market,
            grounds: &grounds,
            opinion: opinion(
                model,
                &grounds,
                |maker| marked_by.contains(&maker),
                in_conflict,
            ),
            marked_by: &marked_by,
            in_conflict,
        };
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
        let (fit, alone) = (design.fit(&sold)?, design.fit(&[])?);
        let means = fit.means();
        let estimate = |candidate: Candidate| {
            let wanted = Described {
                who: candidate.who,
                wording: candidate.wording,
                size: size.unwrap_or(0),
                grade: condition.grade,
                sale: definition.sale,
                years: effective,
                price: definition.price,
            };
            let direct = used.iter().filter(|sale| {
                sale.piece.wording == candidate.wording && sale.piece.who == candidate.who
            });
            let band = band(&fit, &design, &wanted);
            Estimate {
                catalogued: ground.words(candidate),
                wording: market.wordings[candidate.wording].id.clone(),
                support: ground.support(candidate),
                is_the_value: candidate == ground.own(),
                direct: direct.map(|sale| sale.line.id.clone()).collect(),
                rounded: rounded(&band, definition.is_band),
                beliefs_alone: self::band(&alone, &design, &wanted),
                grid_error: grid_error(&fit, &design, &wanted),
                adjusted: used
                    .iter()
                    .map(|sale| adjusted(sale, &wanted, &design, &fit, &means))
                    .collect(),
                band,
            }
        };
        let estimates: Vec<Estimate> = ground.offered(asked)?.into_iter().map(estimate).collect();
        Ok(Value {
            piece: piece.title.clone(),
            instruction: instruction.clone(),
            definition: definition.name.clone(),
            definition_words: definition.words.clone(),
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
            size: size.map(|size| model.catalogue.sizes[size].id.clone()),
            condition: condition.said(),
            notes: notes(&used, instruction, &estimates, effective),
            estimates,
            left_out,
            scatter: fit.scatter().exp(),
            scatter_stated: market.scatter.ln_factor.exp(),
            grades: market
                .grades
                .iter()
                .map(|grade| format!("{} {}", grade.grade, grade.words))
                .collect(),
            pack: model.name.clone(),
            pack_sha256: model.hash.clone(),
            market_sha256: market.hash.clone(),
            cautions: CAUTIONS,
        })
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

/// Median and bands of one price, in the definition's kind.
fn band(fit: &Fit, design: &Design<'_>, wanted: &Described) -> Band {
    let predicted = fit.predict(&design.row(wanted));
    let added = design.added(wanted);
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
fn grid_error(fit: &Fit, design: &Design<'_>, wanted: &Described) -> f64 {
    let predicted = fit.predict(&design.row(wanted));
    let coarser = predicted.coarser();
    let off = |chance: f64| (predicted.quantile(chance) - coarser.quantile(chance)).abs();
    [0.05, 0.25, 0.5, 0.75, 0.95]
        .map(off)
        .into_iter()
        .fold(0.0, f64::max)
}

fn adjusted(
    sale: &Used<'_>,
    wanted: &Described,
    design: &Design<'_>,
    fit: &Fit,
    means: &[f64],
) -> Adjusted {
    let factor = |what: Difference| design.difference(what, means, &sale.piece, wanted).exp();
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

fn notes(
    used: &[Used<'_>],
    instruction: &Instruction,
    estimates: &[Estimate],
    effective: f64,
) -> Vec<String> {
    let mut notes = Vec::new();
    let latest = used
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
