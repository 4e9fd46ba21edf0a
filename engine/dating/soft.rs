//! Dates with soft ends as distributions over bins of years.
//!
//! The rule, in three steps:
//! 1. An end that is a plain date lies in that year: the earliest year it can mean if it begins an interval, the latest if
//!    it ends one. An end marked `~` is equally likely to lie in any year from [`Softness::about`] years before to as many
//!    years after. An open end (`..`) lies beyond the periods; an unknown one (nothing written) is equally likely to lie in
//!    any year between the other end and the edge of the periods.
//! 2. A year counts with the chance that the date covers it: P(start ≤ year) × P(end ≥ year); the years of the periods are
//!    then brought to sum to one, and summed within each bin.
//! 3. An end marked `?` is, with chance [`Softness::wrong`], wrong, and then open. A date that stands alone is wrong or
//!    right as a whole: with that chance every year of the periods is equally likely. The distribution is the mixture.
//!
//! Both numbers are house defaults that a pack can set (*common practice, no source*).

use super::edtf::{Bound, Date, Edtf, End};

/// How soft `~` and `?` are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Softness {
    /// `~`: an end may lie up to so many years before or after.
    pub about: u32,
    /// `?`: the chance that the date or end is wrong.
    pub wrong: f64,
}

impl Default for Softness {
    /// Five years either way for `~`, a chance of 0.2 for `?`: common practice, no source.
    fn default() -> Self {
        Self {
            about: 5,
            wrong: 0.2,
        }
    }
}

/// A date that no period covers.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "{date} lies outside all periods of the pack, which run from {first} to {last}; give it a date within them, or the pack a period for it"
)]
pub struct OutsidePeriods {
    /// The date.
    pub date: String,
    /// First year of the periods.
    pub first: i64,
    /// Last year of the periods.
    pub last: i64,
}

/// A bin: first and last year, both counted.
pub type Bin = (i64, i64);

impl Softness {
    /// The chance of each bin, by the rule of this module. Bins rise and do not overlap.
    ///
    /// # Shape
    /// One chance for each bin; they sum to 1.
    ///
    /// # Errors
    /// [`OutsidePeriods`] if the date, taken as right, covers no year of any bin.
    pub fn distribution(&self, date: &Edtf, bins: &[Bin]) -> Result<Vec<f64>, OutsidePeriods> {
        let (Some(&(first, _)), Some(&(_, last))) = (bins.first(), bins.last()) else {
            return Ok(Vec::new());
        };
        let doubt = |date: &Date| {
            if date.qualifier.is_uncertain() {
                self.wrong
            } else {
                0.0
            }
        };
        // The chance of each of (start wrong, end wrong).
        let cases: Vec<(bool, bool, f64)> = match date {
            Edtf::Date(date) => {
                let wrong = doubt(date);
                vec![(false, false, 1.0 - wrong), (true, true, wrong)]
            }
            Edtf::Interval(start, end) => {
                let of = |end: &End| match end {
                    End::Date(date) => doubt(date),
                    End::Open | End::Unknown => 0.0,
                };
                let (start, end) = (of(start), of(end));
                vec![
                    (false, false, (1.0 - start) * (1.0 - end)),
                    (true, false, start * (1.0 - end)),
                    (false, true, (1.0 - start) * end),
                    (true, true, start * end),
                ]
            }
        };
        let mut chances = vec![0.0; bins.len()];
        for (start_wrong, end_wrong, chance) in cases {
            if chance == 0.0 && (start_wrong || end_wrong) {
                continue;
            }
            let weight = |year: i64| {
                let begun = if start_wrong {
                    1.0
                } else {
                    self.begun(date, year, first)
                };
                let not_over = if end_wrong {
                    1.0
                } else {
                    self.not_over(date, year, last)
                };
                begun * not_over
            };
            let by_bin: Vec<f64> = bins
                .iter()
                .map(|&(first, last)| (first..=last).map(weight).sum())
                .collect();
            let sum: f64 = by_bin.iter().sum();
            if sum <= 0.0 {
                return Err(OutsidePeriods {
                    date: date.to_string(),
                    first,
                    last,
                });
            }
            for (total, weight) in chances.iter_mut().zip(by_bin) {
                *total += chance * weight / sum;
            }
        }
        Ok(chances)
    }

    /// P(start ≤ year), the start taken as right. `first` is the first year of the periods.
    fn begun(&self, date: &Edtf, year: i64, first: i64) -> f64 {
        match (date, date.earliest()) {
            (Edtf::Date(start) | Edtf::Interval(End::Date(start), _), Bound::Year(at)) => {
                self.reached(year - at, start)
            }
            (_, Bound::Unknown) => match date.latest() {
                Bound::Year(end) => up_to(year - first, end - first),
                _ => 1.0,
            },
            _ => 1.0,
        }
    }

    /// P(end ≥ year), the end taken as right. `last` is the last year of the periods.
    fn not_over(&self, date: &Edtf, year: i64, last: i64) -> f64 {
        match (date, date.latest()) {
            (Edtf::Date(end) | Edtf::Interval(_, End::Date(end)), Bound::Year(at)) => {
                self.reached(at - year, end)
            }
            (_, Bound::Unknown) => match date.earliest() {
                Bound::Year(start) => up_to(last - year, last - start),
                _ => 1.0,
            },
            _ => 1.0,
        }
    }

    /// The chance that an end has been reached `past` years after the year it is given as.
    pub(super) fn reached(&self, past: i64, end: &Date) -> f64 {
        let about = if end.qualifier.is_approximate() {
            i64::from(self.about)
        } else {
            0
        };
        up_to(past + about, 2 * about)
    }
}

/// P(X ≤ x) for a whole number X that is equally likely to be any of 0, …, `most`.
fn up_to(x: i64, most: i64) -> f64 {
    if x < 0 {
        0.0
    } else if x >= most {
        1.0
    } else {
        (x + 1) as f64 / (most + 1) as f64
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const DECADES: [Bin; 5] = [
        (1820, 1829),
        (1830, 1839),
        (1840, 1849),
        (1850, 1859),
        (1860, 1869),
    ];

    #[track_caller]
    fn check(text: &str, expected: [f64; 5]) {
        let date = Edtf::parse(text).unwrap();
        let found = Softness::default().distribution(&date, &DECADES).unwrap();
        for (found, expected) in found.iter().zip(expected) {
            assert!(
                (found - expected).abs() < 1e-12,
                "{text}: {found}, not {expected}"
            );
        }
    }

    /// Worked by hand from the rule.
    #[test]
    fn years_counted_by_hand() {
        check("1836/1844", [0.0, 4.0 / 9.0, 5.0 / 9.0, 0.0, 0.0]);
        check("184X", [0.0, 0.0, 1.0, 0.0, 0.0]);
        check("1845/..", [0.0, 0.0, 0.2, 0.4, 0.4]);
        check("../1839", [0.5, 0.5, 0.0, 0.0, 0.0]);
        // Four in five for the date, one in five spread over five decades.
        check("184X?", [0.04, 0.04, 0.84, 0.04, 0.04]);
        // Wrong only at the end: then 30 years of three decades from 1840.
        let (right, open) = (0.8, 0.2);
        check(
            "1840/1859?",
            [
                0.0,
                0.0,
                right / 2.0 + open / 3.0,
                right / 2.0 + open / 3.0,
                open / 3.0,
            ],
        );
        // The start lies in any of 1835 to 1845: year 1835 + k counts (k + 1)/11.
        let thirties = (1..=5).sum::<i32>() as f64 / 11.0;
        let forties = (6..=11).sum::<i32>() as f64 / 11.0 + 4.0;
        let sum = thirties + forties;
        check("1840~/1849", [0.0, thirties / sum, forties / sum, 0.0, 0.0]);
        // An unknown end: any year of 1860 to 1869 is equally likely to be the last.
        check("1860/", [0.0, 0.0, 0.0, 0.0, 1.0]);
    }

    #[test]
    fn an_unknown_end_falls_off_where_an_open_one_does_not() {
        let late = |text| {
            let date = Edtf::parse(text).unwrap();
            Softness::default().distribution(&date, &DECADES).unwrap()[4]
        };
        // 1820 to 1869: P(end ≥ 1820 + k) = (50 − k)/50; the sixties hold 55 of 1275.
        assert!((late("1820/") - 55.0 / 1275.0).abs() < 1e-12);
        assert!((late("1820/..") - 0.2).abs() < 1e-12);
    }

    #[test]
    fn outside_is_an_error_even_where_the_date_may_be_wrong() {
        for text in ["1750", "1750?", "1900/1950", "1869-05/1869-04"] {
            let Ok(date) = Edtf::parse(text) else {
                continue;
            };
            let error = Softness::default()
                .distribution(&date, &DECADES)
                .unwrap_err();
            assert_eq!((error.first, error.last), (1820, 1869));
        }
    }

    proptest! {
        #[test]
        fn sums_to_one_and_softer_never_loses_ground(
            start in 1815_i64..1865, length in 0_i64..40, about in 0_u32..20, wrong in 0.0_f64..=1.0, step in prop::sample::select(vec![1_i64, 2, 5, 10]),
        ) {
            let bins: Vec<Bin> = (0..50 / step).map(|b| (1820 + b * step, 1820 + b * step + step - 1)).collect();
            let softness = Softness { about, wrong };
            let exact = Edtf::parse(&format!("{start}/{}", start + length)).unwrap();
            let soft = Edtf::parse(&format!("{start}%/{}~", start + length)).unwrap();
            if let Ok(hard) = softness.distribution(&exact, &bins) {
                prop_assert!((hard.iter().sum::<f64>() - 1.0).abs() < 1e-12);
                let soft = softness.distribution(&soft, &bins).unwrap();
                prop_assert!((soft.iter().sum::<f64>() - 1.0).abs() < 1e-12);
                for (hard, soft) in hard.iter().zip(&soft) {
                    prop_assert!(*hard == 0.0 || *soft > 0.0);
                }
            }
        }

        /// The bins of ten years hold what their years hold one by one, with whatever step in between.
        #[test]
        fn the_step_changes_nothing_but_the_grain(start in 1815_i64..1865, length in 0_i64..40, sign in prop::sample::select(vec!["", "?", "~", "%"])) {
            let date = Edtf::parse(&format!("{start}{sign}/{}{sign}", start + length)).unwrap();
            let years: Vec<Bin> = (1820..1870).map(|y| (y, y)).collect();
            let softness = Softness::default();
            if let Ok(by_year) = softness.distribution(&date, &years) {
                for step in [2_usize, 5, 10] {
                    let bins: Vec<Bin> = years.chunks(step).map(|c| (c[0].0, c[step - 1].0)).collect();
                    let coarse = softness.distribution(&date, &bins).unwrap();
                    for (bin, years) in coarse.iter().zip(by_year.chunks(step)) {
                        prop_assert!((bin - years.iter().sum::<f64>()).abs() < 1e-12);
                    }
                }
            }
        }
    }
}
