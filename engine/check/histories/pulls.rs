//! From chains to chances: what a maker has at hand, year by year, and how old it is.

use std::collections::BTreeMap;

use super::Names;
use super::chain::Chain;
use crate::check::dating;
use crate::dating::edtf::{WithinYear, Year};
use crate::dating::{Bin, Date, Edtf, End};
use crate::pack::text::Maker;
use crate::source::Span;

/// More states of what is at hand in one year than this are too many to be gone through.
const MOST_STATES: usize = 1 << 10;

/// Engravings at hand together, by position and rising, with the chance of it.
pub type AtHand = BTreeMap<Vec<usize>, f64>;

/// Wear: the state counted from, years since, and the weight of it.
pub type Ages = BTreeMap<(usize, i64), f64>;

/// Lines of a history by their places, with the weight of each.
pub type Lines = BTreeMap<(usize, usize), (Span, f64)>;

/// What histories say of one maker and period.
#[derive(Clone, Debug, Default)]
pub struct Pulls {
    /// What is at hand; sums to 1.
    pub at_hand: AtHand,
    /// For each engraving at hand: within each set, how its plate has worn. Weights sum to that of the set.
    pub wear: BTreeMap<usize, BTreeMap<Vec<usize>, Ages>>,
    /// For each engraving at hand, the lines that brought it and how likely each is.
    pub lines: BTreeMap<usize, Lines>,
}

/// Too many histories are open in one year.
#[derive(Clone, Copy, Debug)]
pub struct TooMany {
    /// The year.
    pub year: i64,
}

/// A maker as histories see it.
struct Puller {
    maker: usize,
    works: Option<usize>,
    reproduction: bool,
}

/// What follows for each maker and period, periods fastest; `None` where none of the maker's years lies in the period.
pub fn pulls(
    names: &Names<'_>,
    chains: &[Chain],
    bins: &[Bin],
) -> Result<Vec<Option<Pulls>>, TooMany> {
    let mut all = Vec::new();
    for maker in 0..names.pack.makers.len() {
        let years = years_of(names, maker, bins);
        let puller = puller(names, maker);
        for &(first, last) in bins {
            let of_period = || {
                years
                    .iter()
                    .filter(|(year, _)| (first..=last).contains(year))
            };
            let sum: f64 = of_period().map(|(_, chance)| chance).sum();
            if sum <= 0.0 {
                all.push(None);
                continue;
            }
            let mut pulls = Pulls::default();
            for &(year, chance) in of_period().filter(|(_, chance)| *chance > 0.0) {
                pulls.add_year(chains, &puller, year, chance / sum)?;
            }
            all.push(Some(pulls));
        }
    }
    Ok(all)
}

/// For each year, the chance that a maker can pull from an engraving.
pub fn chance_by_year(
    names: &Names<'_>,
    chains: &[Chain],
    maker: usize,
    engraving: usize,
    bins: &[Bin],
) -> Vec<(i64, f64)> {
    let puller = puller(names, maker);
    years_of(names, maker, bins)
        .into_iter()
        .filter(|(_, chance)| *chance > 0.0)
        .map(|(year, _)| {
            let at_hand = |chain: &Chain| {
                let outcomes = outcomes(chain, &puller, year);
                let of_it = outcomes.iter().filter(|(e, _)| **e == Some(engraving));
                of_it.map(|(_, p)| p).sum::<f64>()
            };
            (year, chains.iter().map(at_hand).sum())
        })
        .collect()
}

fn puller(names: &Names<'_>, maker: usize) -> Puller {
    let role = names.pack.makers[maker].role.as_ref();
    Puller {
        maker,
        works: names.works_of(maker),
        reproduction: role.is_some_and(|role| role.value == "reproduction"),
    }
}

/// The years of the periods with the chance that a piece of the maker is of that year.
fn years_of(names: &Names<'_>, maker: usize, bins: &[Bin]) -> Vec<(i64, f64)> {
    let years: Vec<i64> = bins
        .iter()
        .flat_map(|&(first, last)| first..=last)
        .collect();
    let single: Vec<Bin> = years.iter().map(|&year| (year, year)).collect();
    let chances = worked(&names.pack.makers[maker]).and_then(|date| {
        dating::softness(names.pack)
            .distribution(&date, &single)
            .ok()
    });
    chances.map_or_else(Vec::new, |chances| years.into_iter().zip(chances).collect())
}

/// When a maker worked: the years of its output where they are given, else its years.
fn worked(maker: &Maker) -> Option<Edtf> {
    if let Some(years) = &maker.output_years {
        return Some(years.value);
    }
    let years = maker.years.as_ref()?.value;
    let end = |year: i32, qualifier| {
        End::Date(Date {
            year: Year::Known(year.into()),
            within: WithinYear::Nothing,
            qualifier,
        })
    };
    Some(Edtf::Interval(
        end(years.first, years.first_qualifier),
        end(years.last, years.last_qualifier),
    ))
}

/// The chance that each step of a chain is the last that has happened by a year; what is missing from one: none has.
fn standing(chain: &Chain, year: i64) -> Vec<f64> {
    let mut so_far = 1.0;
    let reached: Vec<f64> = chain
        .steps
        .iter()
        .map(|step| {
            so_far *= step.happened.by(year);
            so_far
        })
        .collect();
    let next = |index: usize| {
        chain
            .steps
            .get(index + 1)
            .map_or(0.0, |next| next.happened.by(year))
    };
    reached
        .iter()
        .enumerate()
        .map(|(index, chance)| chance * (1.0 - next(index)))
        .collect()
}

/// Which engraving of a chain is at hand in a year, or none.
fn outcomes(chain: &Chain, puller: &Puller, year: i64) -> BTreeMap<Option<usize>, f64> {
    let mut outcomes = BTreeMap::new();
    let mut none = 1.0;
    for (step, chance) in chain.steps.iter().zip(standing(chain, year)) {
        if chance <= 0.0 || !can_pull(step, puller) {
            continue;
        }
        *outcomes.entry(step.engraving).or_default() += chance;
        none -= chance;
    }
    // What rounding leaves of certainties is no chance.
    if none > 1e-12 {
        outcomes.insert(None, none);
    }
    outcomes
}

fn can_pull(step: &super::chain::Step, puller: &Puller) -> bool {
    step.engraving.is_some()
        && step
            .held
            .iter()
            .any(|h| h.by(puller.maker, puller.works, puller.reproduction))
}

/// How a plate has worn in a year, where this maker pulls `engraving` from it: the state counted from, years since, chance.
fn ages(chain: &Chain, puller: &Puller, engraving: usize, year: i64) -> Ages {
    let mut ages = Ages::new();
    for (index, step) in chain.steps.iter().enumerate() {
        if step.engraving != Some(engraving) || !can_pull(step, puller) {
            continue;
        }
        let steps = &chain.steps[..=index];
        let set = steps.iter().rposition(|step| step.plate.is_some());
        let Some((clock, from)) = set.and_then(|at| Some((at, steps[at].plate?))) else {
            continue;
        };
        let later: f64 = steps[clock + 1..]
            .iter()
            .map(|step| step.happened.by(year))
            .product();
        let next = chain
            .steps
            .get(index + 1)
            .map_or(0.0, |next| next.happened.by(year));
        let rest = later * (1.0 - next);
        if rest <= 0.0 {
            continue;
        }
        // No sooner than the events before it: all of them have happened by its year.
        let by = |at: i64| {
            steps[..=clock]
                .iter()
                .map(|step| step.happened.by(at))
                .product::<f64>()
        };
        let mut years: Vec<i64> = steps[..=clock]
            .iter()
            .flat_map(|step| step.happened.years())
            .filter(|at| *at <= year)
            .collect();
        years.sort_unstable();
        years.dedup();
        let mut before = 0.0;
        for at in years {
            let so_far = by(at);
            if so_far > before {
                *ages.entry((from, year - at)).or_default() += (so_far - before) * rest;
            }
            before = so_far;
        }
    }
    ages
}

impl Pulls {
    /// The same, for pieces that some of the engravings were not cut for.
    pub fn within(&self, cut_for: &[bool]) -> Self {
        let kept =
            |set: &[usize]| -> Vec<usize> { set.iter().copied().filter(|&e| cut_for[e]).collect() };
        let mut within = Self::default();
        for (set, chance) in &self.at_hand {
            *within.at_hand.entry(kept(set)).or_default() += chance;
        }
        for (&engraving, by_set) in self.wear.iter().filter(|(e, _)| cut_for[**e]) {
            let own = within.wear.entry(engraving).or_default();
            for (set, ages) in by_set {
                let merged = own.entry(kept(set)).or_default();
                for (age, weight) in ages {
                    *merged.entry(*age).or_default() += weight;
                }
            }
        }
        within.lines = self
            .lines
            .iter()
            .filter(|(e, _)| cut_for[**e])
            .map(|(e, l)| (*e, l.clone()))
            .collect();
        within
    }

    fn add_year(
        &mut self,
        chains: &[Chain],
        puller: &Puller,
        year: i64,
        chance: f64,
    ) -> Result<(), TooMany> {
        let by_chain: Vec<BTreeMap<Option<usize>, f64>> = chains
            .iter()
            .map(|chain| outcomes(chain, puller, year))
            .collect();
        for (set, p) in sets(&by_chain, None, year)? {
            *self.at_hand.entry(set).or_default() += chance * p;
        }
        for (index, chain) in chains.iter().enumerate() {
            for engraving in by_chain[index].keys().flatten() {
                let ages = ages(chain, puller, *engraving, year);
                for (others, p) in sets(&by_chain, Some(index), year)? {
                    let mut set = others;
                    set.push(*engraving);
                    set.sort_unstable();
                    let wear = self
                        .wear
                        .entry(*engraving)
                        .or_default()
                        .entry(set)
                        .or_default();
                    for (age, weight) in &ages {
                        *wear.entry(*age).or_default() += chance * p * weight;
                    }
                }
                self.add_lines(chain, puller, *engraving, year, chance);
            }
        }
        Ok(())
    }

    fn add_lines(
        &mut self,
        chain: &Chain,
        puller: &Puller,
        engraving: usize,
        year: i64,
        chance: f64,
    ) {
        let lines = self.lines.entry(engraving).or_default();
        for (step, p) in chain.steps.iter().zip(standing(chain, year)) {
            if p <= 0.0 || step.engraving != Some(engraving) || !can_pull(step, puller) {
                continue;
            }
            let held = step
                .held
                .iter()
                .find(|h| h.by(puller.maker, puller.works, puller.reproduction));
            let mut spans: Vec<Span> = held.iter().map(|h| h.line).chain([step.origin]).collect();
            spans.dedup();
            for span in spans {
                let line = lines.entry((span.start, span.end)).or_insert((span, 0.0));
                line.1 += chance * p;
            }
        }
    }
}

/// The sets of engravings that chains leave together, one chain aside if asked.
fn sets(
    by_chain: &[BTreeMap<Option<usize>, f64>],
    without: Option<usize>,
    year: i64,
) -> Result<AtHand, TooMany> {
    let mut sets: AtHand = [(Vec::new(), 1.0)].into();
    for (index, outcomes) in by_chain.iter().enumerate() {
        if Some(index) == without {
            continue;
        }
        let mut next = AtHand::new();
        for (set, chance) in &sets {
            for (engraving, p) in outcomes {
                let mut set = set.clone();
                set.extend(engraving);
                set.sort_unstable();
                *next.entry(set).or_default() += chance * p;
            }
        }
        if next.len() > MOST_STATES {
            return Err(TooMany { year });
        }
        sets = next;
    }
    Ok(sets)
}
