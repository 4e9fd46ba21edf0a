//! The strength of evidence in words: likelihood ratios on published verbal scales for evaluative reporting.
//!
//! A scale speaks of how much better one claim explains the findings than another. It says nothing of how probable either
//! is: that is the verdict's ladder, which also weighs what was known before any finding.

use serde::Serialize;

/// A band of a verbal scale: from a likelihood ratio, counted in, to the next.
struct Band {
    from: f64,
    words: &'static str,
}

/// The scale used.
///
/// Source: European Network of Forensic Science Institutes 2015, *ENFSI guideline for evaluative reporting in forensic
/// science*, verbal equivalents of likelihood ratios (*from memory*; the bands 10 to 100 and 100 to 1000 also read in a
/// glossary of forensic statistics). The guideline names 1 and then 2 to 10; a ratio between is below its lowest band.
const ENFSI_2015: [Band; 6] = [
    Band {
        from: 2.0,
        words: "weak support",
    },
    Band {
        from: 10.0,
        words: "moderate support",
    },
    Band {
        from: 100.0,
        words: "moderately strong support",
    },
    Band {
        from: 1000.0,
        words: "strong support",
    },
    Band {
        from: 10_000.0,
        words: "very strong support",
    },
    Band {
        from: 1_000_000.0,
        words: "extremely strong support",
    },
];

/// The scale's name, as it stands beside every word of it.
pub const SCALE: &str = "ENFSI 2015";

/// Which of two claims the findings support.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Supported {
    /// The claim asked about.
    Claim,
    /// What it is weighed against.
    Alternative,
    /// Neither more than the other.
    Neither,
}

/// The strength of findings taken together.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Strength {
    /// What they support.
    pub supports: Supported,
    /// How many times as probable the findings are under what they support; at least 1. None if they rule the other out, or
    /// if nothing can be said.
    pub likelihood_ratio: Option<f64>,
    /// The words.
    pub words: &'static str,
    /// Where the band begins; none below the lowest.
    pub from: Option<f64>,
    /// Where it ends; none for the highest.
    pub to: Option<f64>,
    /// The scale.
    pub scale: &'static str,
}

impl Strength {
    /// The strength of a weight of evidence in decibans for the claim.
    ///
    /// ```
    /// use saggar::audit::strength::{Strength, Supported};
    /// let strength = Strength::of(-25.0); // 1 to 316
    /// assert_eq!((strength.supports, strength.words), (Supported::Alternative, "moderately strong support"));
    /// assert_eq!((strength.from, strength.to), (Some(100.0), Some(1000.0)));
    /// ```
    #[must_use]
    pub fn of(decibans: f64) -> Self {
        let ratio = 10_f64.powf(decibans.abs() / 10.0);
        // A ratio of exactly ten times a power must not fall below its band by rounding.
        let place = ENFSI_2015
            .iter()
            .rposition(|band| ratio >= band.from * (1.0 - 1e-12));
        let says = |supports, words, likelihood_ratio| Self {
            supports,
            likelihood_ratio,
            words,
            from: place.map(|p| ENFSI_2015[p].from),
            to: ENFSI_2015.get(place.map_or(0, |p| p + 1)).map(|b| b.from),
            scale: SCALE,
        };
        if decibans.is_nan() {
            return Self {
                from: None,
                to: None,
                ..says(Supported::Neither, "no statement", None)
            };
        }
        let Some(place) = place else {
            return says(Supported::Neither, "no support for either", Some(ratio));
        };
        let supports = if decibans > 0.0 {
            Supported::Claim
        } else {
            Supported::Alternative
        };
        let finite = ratio.is_finite().then_some(ratio);
        says(supports, ENFSI_2015[place].words, finite)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: `verbal_scales.csv` in tests/reference/02-weight-of-evidence, rows "ENFSI 2015" (from memory, see there).
    #[test]
    fn the_bands_are_those_of_the_published_scale() {
        let table = include_str!("../../tests/reference/02-weight-of-evidence/verbal_scales.csv");
        let mut reader = csv::Reader::from_reader(table.as_bytes());
        let mut checked = 0;
        for row in reader.records().map(Result::unwrap) {
            if &row[0] != SCALE || &row[1] == "1" {
                continue;
            }
            let low: f64 = row[1].parse().unwrap();
            let high: Option<f64> = row[2].parse().ok();
            for (ratio, is_in) in [
                (low, true),
                (low * 1.5, true),
                (low * 0.999, false),
                (high.unwrap_or(1e300), high.is_none()),
            ] {
                for sign in [1.0, -1.0] {
                    let strength = Strength::of(sign * 10.0 * ratio.log10());
                    assert_eq!(strength.words == &row[3], is_in, "{ratio}: {strength:?}");
                }
            }
            checked += 1;
        }
        assert_eq!(checked, 6);
        assert_eq!(Strength::of(0.0).supports, Supported::Neither);
        assert_eq!(Strength::of(f64::INFINITY).likelihood_ratio, None);
        assert_eq!(Strength::of(f64::NAN).words, "no statement");
    }
}
