//! The year in which something happened, as soft as its date.
//!
//! The rule:
//! 1. A date of one year means that year; `186X` any year of the decade, each equally likely; with `~` any year from
//!    [`Softness::about`] years before the earliest to as many after the latest, each equally likely.
//! 2. An interval means some year of it: a year counts with P(start ≤ year) × P(end ≥ year), as in [`super::soft`].
//! 3. With `?` the date is, with chance [`Softness::wrong`], wrong: then any year of the periods is equally likely (of an
//!    interval, the end that is wrong is open).
//!
//! What lasted from one date to another ([`Softness::lasted`]) has two such years: that in which it began and the first in
//! which it was over. The end of a lasting thing that is wrong is open.

use std::collections::BTreeMap;

use super::edtf::{Bound, Date, Edtf, End};
use super::soft::{Bin, Softness};

/// P(it has happened by a year), for every year.
#[derive(Clone, Debug, PartialEq)]
pub struct Happened {
    /// The chance that it had happened before any year that counts.
    before: f64,
    /// Year and chance that it happened in that year, rising.
    years: Vec<(i64, f64)>,
}

/// A date that says no year in which something happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "what happened once has a year or years between which it happened, and an end of this is open"
)]
pub struct OpenEnd;

impl Happened {
    /// The chance that it has happened by the end of a year.
    #[must_use]
    pub fn by(&self, year: i64) -> f64 {
        let so_far = self.years.iter().take_while(|(at, _)| *at <= year);
        // Rounding of a few dozen fractions must not make a certainty less than one.
        let chance = self.before + so_far.map(|(_, chance)| chance).sum::<f64>();
        if chance > 1.0 - 1e-12 { 1.0 } else { chance }
    }

    /// The years in which it may have happened; none if it had happened before all of them, or never does.
    pub fn years(&self) -> impl Iterator<Item = i64> + '_ {
        self.years.iter().map(|(year, _)| *year)
    }

    fn always() -> Self {
        Self {
            before: 1.0,
            years: Vec::new(),
        }
    }

    fn never() -> Self {
        Self {
            before: 0.0,
            years: Vec::new(),
        }
    }

    fn evenly(first: i64, last: i64, chance: f64) -> Self {
        let n = (last - first + 1) as f64;
        Self {
            before: 0.0,
            years: (first..=last).map(|year| (year, chance / n)).collect(),
        }
    }
}

impl Softness {
    /// When something happened, by the rule of this module. Bins are the periods' years.
    ///
    /// # Errors
    /// [`OpenEnd`] for an interval with an open or unknown end.
    pub fn happened(&self, date: &Edtf, bins: &[Bin]) -> Result<Happened, OpenEnd> {
        let (Bound::Year(earliest), Bound::Year(latest)) = (date.earliest(), date.latest()) else {
            return Err(OpenEnd);
        };
        let (start, end) = match date {
            Edtf::Date(date) => (*date, *date),
            Edtf::Interval(End::Date(start), End::Date(end)) => (*start, *end),
            Edtf::Interval(..) => return Err(OpenEnd),
        };
        let (first, last) = (
            earliest - self.years_of(&start),
            latest + self.years_of(&end),
        );
        let is_interval = matches!(date, Edtf::Interval(..));
        let (of_start, of_end) = (self.doubt(&start), self.doubt(&end));
        let cases = if is_interval {
            vec![
                (false, false, (1.0 - of_start) * (1.0 - of_end)),
                (true, false, of_start * (1.0 - of_end)),
                (false, true, (1.0 - of_start) * of_end),
                (true, true, of_start * of_end),
            ]
        } else {
            vec![(false, false, 1.0 - of_start), (true, true, of_start)]
        };
        let of_periods = || bins.iter().flat_map(|&(first, last)| first..=last);
        let mut years: BTreeMap<i64, f64> = BTreeMap::new();
        for (start_wrong, end_wrong, chance) in cases {
            if chance == 0.0 {
                continue;
            }
            let weight = |year: i64| {
                let begun = self.reached(year - earliest, &start);
                let not_over = self.reached(latest - year, &end);
                match (start_wrong, end_wrong) {
                    (true, true) => 1.0,
                    (true, false) => not_over,
                    (false, true) => begun,
                    (false, false) if is_interval => begun * not_over,
                    (false, false) => 1.0,
                }
            };
            let candidates: Vec<i64> = if start_wrong || end_wrong {
                of_periods().collect()
            } else {
                (first..=last).collect()
            };
            let sum: f64 = candidates.iter().map(|&year| weight(year)).sum();
            if sum == 0.0 {
                // All of the periods lie after its last year, or before its first: that year stands for those not known.
                let year = if start_wrong { latest } else { earliest };
                *years.entry(year).or_default() += chance;
                continue;
            }
            for year in candidates {
                *years.entry(year).or_default() += chance * weight(year) / sum;
            }
        }
        Ok(Happened {
            before: 0.0,
            years: years.into_iter().collect(),
        })
    }

    /// When something that lasted began, and the first year in which it was over. A single date is both: it lasted that year.
    #[must_use]
    pub fn lasted(&self, date: &Edtf) -> (Happened, Happened) {
        let (start, end) = match date {
            Edtf::Date(date) => (End::Date(*date), End::Date(*date)),
            Edtf::Interval(start, end) => (*start, *end),
        };
        let begun = match start {
            End::Date(date) => {
                let (at, about) = (date.earliest_year(), self.years_of(&date));
                let doubt = self.doubt(&date);
                let mut begun = Happened::evenly(at - about, at + about, 1.0 - doubt);
                begun.before = doubt;
                begun
            }
            End::Open | End::Unknown => Happened::always(),
        };
        let over = match end {
            End::Date(date) => {
                let (after, about) = (date.latest_year() + 1, self.years_of(&date));
                Happened::evenly(after - about, after + about, 1.0 - self.doubt(&date))
            }
            End::Open | End::Unknown => Happened::never(),
        };
        (begun, over)
    }

    fn years_of(&self, date: &Date) -> i64 {
        if date.qualifier.is_approximate() {
            i64::from(self.about)
        } else {
            0
        }
    }

    fn doubt(&self, date: &Date) -> f64 {
        if date.qualifier.is_uncertain() {
            self.wrong
        } else {
            0.0
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const PERIODS: [Bin; 2] = [(1820, 1839), (1840, 1859)];

    fn happened(text: &str) -> Happened {
        let date = Edtf::parse(text).unwrap();
        Softness::default().happened(&date, &PERIODS).unwrap()
    }

    #[track_caller]
    fn check(text: &str, expected: &[(i64, f64)]) {
        let happened = happened(text);
        for &(year, expected) in expected {
            let found = happened.by(year);
            assert!((found - expected).abs() < 1e-12, "{text} {year}: {found}");
        }
    }

    /// Source: the rule, counted by hand.
    #[test]
    fn by_hand() {
        check("1836", &[(1835, 0.0), (1836, 1.0), (1900, 1.0)]);
        // Eleven years, 1831 to 1841.
        check(
            "1836~",
            &[
                (1830, 0.0),
                (1831, 1.0 / 11.0),
                (1836, 6.0 / 11.0),
                (1841, 1.0),
            ],
        );
        check("183X", &[(1829, 0.0), (1832, 0.3), (1839, 1.0)]);
        check("1836/1839", &[(1835, 0.0), (1836, 0.25), (1839, 1.0)]);
        // Wrong with 0.2: then one of forty years.
        check(
            "1836?",
            &[
                (1819, 0.0),
                (1820, 0.2 / 40.0),
                (1836, 0.8 + 0.2 * 17.0 / 40.0),
                (1859, 1.0),
            ],
        );
        // The end wrong with 0.2: some year from 1850 on.
        check(
            "1850/1851?",
            &[(1850, 0.8 * 0.5 + 0.2 * 0.1), (1851, 0.8 + 0.2 * 0.2)],
        );
        // Over before the periods begin: if its beginning is wrong, its last year stands.
        check(
            "1791?/1800",
            &[(1790, 0.0), (1791, 0.08), (1799, 0.72), (1800, 1.0)],
        );
    }

    #[test]
    fn what_lasted() {
        let lasted = |text: &str| Softness::default().lasted(&Edtf::parse(text).unwrap());
        let (begun, over) = lasted("1836/1840~");
        assert_eq!((begun.by(1835), begun.by(1836)), (0.0, 1.0));
        assert_eq!(over.by(1835), 0.0);
        assert!((over.by(1841) - 6.0 / 11.0).abs() < 1e-12);
        assert_eq!(over.by(1846), 1.0);
        let (begun, over) = lasted("../1840");
        assert_eq!((begun.by(1), over.by(1840), over.by(1841)), (1.0, 0.0, 1.0));
        let (begun, over) = lasted("1836?/..");
        assert!((begun.by(1835) - 0.2).abs() < 1e-12);
        assert_eq!(over.by(9999), 0.0);
    }

    #[test]
    fn an_open_end_says_no_year() {
        for text in ["1836/..", "../1836", "1836/"] {
            if let Ok(date) = Edtf::parse(text) {
                assert_eq!(Softness::default().happened(&date, &PERIODS), Err(OpenEnd));
            }
        }
    }

    proptest! {
        /// One year more of softness moves no chance by more than the two dates differ: 2 / (2 about + 3).
        #[test]
        fn softness_moves_chances_smoothly(about in 0..40_u32, year in 1780..1900_i64) {
            let by = |about| {
                let softness = Softness { about, wrong: 0.2 };
                softness.happened(&Edtf::parse("1836~").unwrap(), &PERIODS).unwrap().by(year)
            };
            let moved = (by(about) - by(about + 1)).abs();
            prop_assert!(moved <= 2.0 / f64::from(2 * about + 3) + 1e-12, "{}", moved);
        }

        #[test]
        fn it_happens_once(first in 1780..1900_i64, length in 0..30_i64, a in 0..3_usize, b in 0..3_usize) {
            let sign = ["", "~", "%"];
            let text = format!("{first}{}/{}{}", sign[a], first + length, sign[b]);
            let happened = happened(&text);
            let mut before = 0.0;
            for year in 1770..1950 {
                let by = happened.by(year);
                prop_assert!(by >= before && by <= 1.0);
                before = by;
            }
            prop_assert_eq!(before, 1.0, "{}", text);
        }
    }
}
