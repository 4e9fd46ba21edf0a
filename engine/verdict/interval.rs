//! The shortest interval of whole periods that holds a share of the posterior.

use serde::Serialize;

use crate::model::Period;
use crate::pack::years::Years;
use crate::query::most_probable;

/// A dating in years, with what it holds.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PeriodInterval {
    /// First year; `None` for periods known by their order alone.
    pub first_year: Option<i32>,
    /// Last year; `None` for periods known by their order alone.
    pub last_year: Option<i32>,
    /// First and last year of each stretch of it in which somebody may have worked, in order of time; empty for periods known by
    /// their order alone. Years of no period, and periods with no chance, lie in none.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub stretches: Vec<(i32, i32)>,
    /// The first and the last period, for periods known by their order alone.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_and_last: Option<(String, String)>,
    /// Posterior probability of the interval.
    pub probability: f64,
    /// The share that was asked for.
    pub at_least: f64,
    /// The single most probable period.
    pub mode: String,
    /// Its years.
    pub mode_years: String,
    /// Its probability.
    pub mode_probability: f64,
}

/// The interval of fewest years, from the start of one period to the end of a later one, that holds at least `coverage`;
/// of intervals equally short, the more probable.
///
/// Where a period has no years, the interval of fewest periods.
///
/// Years between two periods that belong to neither count as part of an interval that spans them.
#[must_use]
pub fn shortest(periods: &[Period], probabilities: &[f64], coverage: f64) -> PeriodInterval {
    // Rounding may leave the whole span at 1 − 1e-16; the whole span always holds everything.
    let enough = |p: f64, whole: bool| whole || p >= coverage;
    let n = probabilities.len();
    let dated = periods.iter().all(|period| period.years.is_some());
    let mut best: Option<(i32, f64, usize, usize)> = None;
    for from in 0..n {
        let mut held = 0.0;
        for to in from..n {
            held += probabilities[to];
            if !enough(held, from == 0 && to == n - 1) {
                continue;
            }
            let years = match (dated, periods[from].years, periods[to].years) {
                (true, Some(first), Some(last)) => last.last - first.first + 1,
                _ => i32::try_from(to - from).unwrap_or(i32::MAX),
            };
            if best.is_none_or(|(fewest, p, ..)| years < fewest || (years == fewest && held > p)) {
                best = Some((years, held, from, to));
            }
            break;
        }
    }
    let (_, probability, from, to) = best.unwrap_or((0, 0.0, 0, 0));
    let mode = most_probable(probabilities).unwrap_or(0);
    let held = periods
        .iter()
        .zip(probabilities)
        .skip(from)
        .take(to - from + 1);
    PeriodInterval {
        first_year: periods[from]
            .years
            .filter(|_| dated)
            .map(|years| years.first),
        last_year: periods[to].years.filter(|_| dated).map(|years| years.last),
        stretches: match dated {
            true => stretches(
                held.filter(|(_, p)| **p > 0.0)
                    .filter_map(|(period, _)| period.years),
            ),
            false => Vec::new(),
        },
        first_and_last: (!dated).then(|| (periods[from].id.clone(), periods[to].id.clone())),
        probability,
        at_least: coverage,
        mode: periods[mode].id.clone(),
        mode_years: periods[mode].in_words(),
        mode_probability: probabilities.get(mode).copied().unwrap_or(0.0),
    }
}

/// Years that follow on each other, as one.
fn stretches(years: impl Iterator<Item = Years>) -> Vec<(i32, i32)> {
    let mut stretches: Vec<(i32, i32)> = Vec::new();
    for years in years {
        match stretches.last_mut() {
            Some((_, last)) if *last + 1 >= years.first => *last = years.last,
            _ => stretches.push((years.first, years.last)),
        }
    }
    stretches
}

impl PeriodInterval {
    /// `1830–1890 or 1950–1989`; periods without years by their names.
    #[must_use]
    pub fn in_words(&self) -> String {
        let stretch = |(first, last): &(i32, i32)| format!("{first}–{last}");
        if !self.stretches.is_empty() {
            let all: Vec<String> = self.stretches.iter().map(stretch).collect();
            return all.join(" or ");
        }
        match (self.first_year, self.last_year, &self.first_and_last) {
            (Some(first), Some(last), _) => stretch(&(first, last)),
            (_, _, Some((first, last))) if first == last => first.clone(),
            (_, _, Some((first, last))) => format!("{first} to {last}"),
            _ => self.mode.clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn periods() -> Vec<Period> {
        ["1810/1829", "1830/1839", "1840/1849", "1950/1989"]
            .iter()
            .enumerate()
            .map(|(i, years)| Period {
                id: format!("P{i}"),
                years: Some(Years::parse(years).unwrap()),
            })
            .collect()
    }

    #[track_caller]
    fn check(probabilities: [f64; 4], expected: (i32, i32)) {
        let interval = shortest(&periods(), &probabilities, 0.9);
        let (first, last) = expected;
        assert_eq!(
            (interval.first_year, interval.last_year),
            (Some(first), Some(last))
        );
    }

    #[test]
    fn fewest_years_not_fewest_periods() {
        check([0.0, 0.5, 0.5, 0.0], (1830, 1849));
        check([0.91, 0.0, 0.09, 0.0], (1810, 1829));
        // Both ends of the gap are needed, so the gap's years count.
        check([0.0, 0.0, 0.5, 0.5], (1840, 1989));
        // 1810–1839 and 1830–1849 both hold 0.9; the second is shorter.
        check([0.05, 0.85, 0.05, 0.05], (1830, 1849));
    }

    /// 1830–1849 follow on each other, 1850–1949 are of no period; a period without a chance is passed over.
    #[test]
    fn years_in_which_nobody_worked_lie_in_no_stretch() {
        let said = |p: [f64; 4]| shortest(&periods(), &p, 0.9).in_words();
        assert_eq!(said([0.0, 0.3, 0.3, 0.4]), "1830–1849 or 1950–1989");
        assert_eq!(said([0.5, 0.0, 0.5, 0.0]), "1810–1829 or 1840–1849");
        assert_eq!(said([0.0, 0.5, 0.5, 0.0]), "1830–1849");
    }

    #[test]
    fn equally_short_ones_by_probability() {
        let even = ["1830/1839", "1840/1849"].map(|y| Period {
            id: y.to_owned(),
            years: Some(Years::parse(y).unwrap()),
        });
        let interval = shortest(&even, &[0.4, 0.6], 0.3);
        assert_eq!(interval.first_year, Some(1840));
        assert_eq!(interval.mode, "1840/1849");
    }
}
