//! The marks' lettering in a model: how likely a fragment is under every mark, from the pack's beliefs.
//!
//! A fragment is a finer word for "found, and it reads so": it enters the network below the same parents as the pack's own
//! reading of a mark (mark, strike, stray initials, the circumstances of the look), as one density for each of their
//! configurations:
//!
//! P(found | parents) × Σ_quality P(quality | strike) P(letters | text, quality) Π P(report of a device | mark, quality),
//!
//! where P(found) is 1 less the chance of the reading that means nothing was found, so that fragments and the absent mark
//! share out one probability between them. A quality that the reader states takes the place of the sum. Stray initials
//! are read as a lettering nobody knows, struck in full.

mod note;

pub use note::{MarkFragment, NoteError};

use super::{BeliefId, Model, Values};
use crate::mark::{
    Lettering, Presence, Reading, Report, StrikeChances, StrikeQuality, ln_probability,
};
use crate::network::{MeasureId, VariableId};
use crate::pack::years::Years;

/// States of the strike variable under which something of a mark can be seen.
pub const N_STRIKES: usize = 3;

/// A mark of the registry.
#[derive(Clone, Debug)]
pub struct RegisteredMark {
    /// Its name.
    pub id: String,
    /// Its text as written in the pack; `None` for a device alone.
    pub text: Option<String>,
    /// What it says.
    pub lettering: Lettering,
    /// Printed, impressed, incised, painted.
    pub method: String,
    /// What it has to do with each thing of [`LetteringRules::things`].
    pub presence: Vec<Presence>,
    /// Who used it, by position among the makers, with the years of use where narrower than the maker's.
    pub makers: Vec<(usize, Option<Years>)>,
    /// `file:line` of its entry.
    pub citation: String,
}

/// The beliefs about reading.
#[derive(Clone, Debug)]
pub struct LetteringBeliefs {
    /// Chance of each step by quality: cells `[yes, no]`.
    pub letters: [[BeliefId; 7]; 4],
    /// The look of the strike, by strike full, partial, lost: a cell for each quality.
    pub quality: [BeliefId; N_STRIKES],
    /// What a letter is taken for: a cell for each other character of the alphabet, in order.
    pub look_alikes: Vec<(char, BeliefId)>,
    /// What is noted of a device, by presence and quality: cells seen, partly seen, not seen.
    pub reports: [[BeliefId; 4]; 4],
}

/// Where the parents of the fragment stand.
#[derive(Clone, Debug)]
pub struct LetteringParents {
    /// The pack's reading of the mark; its parents come first among the fragment's, in the same order.
    pub reading: VariableId,
    /// State of the reading that means nothing was found.
    pub absent: Option<usize>,
    /// Number of states of each parent.
    pub sizes: Vec<usize>,
    /// How many parents the reading has.
    pub n_of_reading: usize,
    /// Position of the mark.
    pub mark: usize,
    /// Position of the strike.
    pub strike: usize,
    /// Position of stray initials, if the pack has them.
    pub stray: Option<usize>,
    /// The strike variable.
    pub strike_variable: VariableId,
}

/// How a fragment's densities are written.
#[derive(Clone, Debug)]
pub struct LetteringRules {
    /// What a fragment is entered on.
    pub measure: MeasureId,
    /// The parents.
    pub parents: LetteringParents,
    /// The alphabet; look-alikes come from the beliefs.
    pub alphabet: Reading,
    /// A lettering nobody knows.
    pub unknown: Lettering,
    /// The registry, in the order of the mark variable's states after `unmarked`.
    pub marks: Vec<RegisteredMark>,
    /// Devices, then companions.
    pub things: Vec<String>,
    /// The beliefs.
    pub beliefs: LetteringBeliefs,
}

/// ln P(letters and devices | quality), by quality; without the chance of the quality itself.
pub type ByQuality = [f64; 4];

impl LetteringRules {
    /// Every belief a fragment's densities are written from, those of the reading's table apart.
    pub fn own_beliefs(&self) -> impl Iterator<Item = BeliefId> + '_ {
        let b = &self.beliefs;
        let letters = b.letters.iter().flatten();
        let reports = b.reports.iter().flatten();
        let look_alikes = b.look_alikes.iter().map(|(_, id)| id);
        letters
            .chain(&b.quality)
            .chain(look_alikes)
            .chain(reports)
            .copied()
    }

    /// The alphabet with its look-alikes, and the chances by quality, at some values of the beliefs.
    #[must_use]
    pub fn at(&self, values: &Values) -> (Reading, [StrikeChances; 4]) {
        let mut reading = self.alphabet.clone();
        for &(letter, belief) in &self.beliefs.look_alikes {
            reading.set_look_alikes(letter, values.of(belief));
        }
        let chances = self
            .beliefs
            .letters
            .map(|steps| StrikeChances::from_list(steps.map(|step| values.of(step)[0])));
        (reading, chances)
    }

    /// For each mark, and last for a stranger's, how likely the letters and devices are by quality.
    #[must_use]
    pub fn ln_likelihoods(&self, fragment: &MarkFragment, values: &Values) -> Vec<ByQuality> {
        let (reading, chances) = self.at(values);
        let absent = vec![Presence::Absent; self.things.len()];
        let registered = self
            .marks
            .iter()
            .map(|mark| (&mark.lettering, &mark.presence));
        registered
            .chain([(&self.unknown, &absent)])
            .map(|(lettering, presence)| {
                StrikeQuality::ALL.map(|quality| {
                    let asked = fragment.quality.is_none_or(|stated| stated == quality);
                    if !asked {
                        return f64::NEG_INFINITY;
                    }
                    let chances = &chances[quality.index()];
                    let letters = ln_probability(&reading, lettering, &fragment.encoded, chances);
                    letters + self.ln_reports(fragment, presence, quality, values)
                })
            })
            .collect()
    }

    fn ln_reports(
        &self,
        fragment: &MarkFragment,
        presence: &[Presence],
        quality: StrikeQuality,
        values: &Values,
    ) -> f64 {
        let report = |&(thing, report): &(usize, Report)| {
            let beliefs = self.beliefs.reports[presence[thing] as usize];
            values.of(beliefs[quality.index()])[report as usize].ln()
        };
        fragment.reports.iter().map(report).sum()
    }

    /// P(quality) of a mark struck so: full, partial or lost.
    #[must_use]
    pub fn quality_given<'v>(&self, strike: usize, values: &'v Values) -> &'v [f64] {
        values.of(self.beliefs.quality[strike])
    }
}

/// Below this the largest of several likelihoods is taken out as a common factor, which changes P(findings) by that factor
/// and no posterior: plain numbers hold nothing below 1e-308.
const LEAST_LN_LIKELIHOOD: f64 = -600.0;

impl Model {
    /// P(fragment | configuration) for every configuration of the parents, the last parent fastest.
    #[must_use]
    pub fn fragment_densities(
        &self,
        rules: &LetteringRules,
        fragment: &MarkFragment,
        values: &Values,
    ) -> Vec<f64> {
        let p = &rules.parents;
        let ln = rules.ln_likelihoods(fragment, values);
        let largest = ln.iter().flatten().copied().fold(f64::MIN, f64::max);
        let factor = if largest < LEAST_LN_LIKELIHOOD {
            largest
        } else {
            0.0
        };
        let of = |mark: usize, strike: usize| -> f64 {
            let quality = rules.quality_given(strike, values);
            let terms = ln[mark].iter().zip(quality);
            terms.map(|(ln, q)| q * (ln - factor).exp()).sum()
        };
        let stranger = rules.marks.len();
        let table = self.tables[p.reading.index()].as_ref();
        let mut column = vec![0.0; self.network.n_states(p.reading)];
        let n: usize = p.sizes.iter().product();
        let slower: usize = p.sizes[p.n_of_reading..].iter().product();
        let state = |configuration: usize, parent: usize| {
            let faster: usize = p.sizes[parent + 1..].iter().product();
            configuration / faster % p.sizes[parent]
        };
        (0..n)
            .map(|configuration| {
                let found = match (table, p.absent) {
                    (Some(table), Some(absent)) => {
                        let rule = table.rule_of_configuration[configuration / slower];
                        table.rules[rule].write(values, &mut column);
                        1.0 - column[absent]
                    }
                    _ => 1.0,
                };
                let mark = state(configuration, p.mark);
                let strike = state(configuration, p.strike);
                let is_stray = p
                    .stray
                    .is_some_and(|stray| state(configuration, stray) == 0);
                if is_stray {
                    found * of(stranger, 0)
                } else if mark == 0 || strike >= N_STRIKES {
                    0.0
                } else {
                    found * of(mark - 1, strike)
                }
            })
            .collect()
    }

    /// P(strike full, partial, lost) of a mark, by its position in the registry.
    #[must_use]
    pub fn strike_of(&self, rules: &LetteringRules, mark: usize, values: &Values) -> Vec<f64> {
        let variable = rules.parents.strike_variable;
        let mut column = vec![0.0; self.network.n_states(variable)];
        if let Some(table) = &self.tables[variable.index()] {
            let rule = table.rule_of_configuration[mark + 1];
            table.rules[rule].write(values, &mut column);
        }
        column.truncate(N_STRIKES);
        column
    }
}
