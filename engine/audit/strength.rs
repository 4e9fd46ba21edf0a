//! The strength of evidence in words: likelihood ratios on published verbal scales for evaluative reporting.
//!
//! A scale speaks of how much better one claim explains the findings than another. It says nothing of how probable either
//! is: that is the verdict's ladder, which also weighs what was known before any finding.

use serde::Serialize;

use crate::model::Scale;

/// A band of a verbal scale: from a likelihood ratio, counted in, to the next.
struct Band {
    from: f64,
    words: &'static str,
}

/// Source: European Network of Forensic Science Institutes 2015, *ENFSI guideline for evaluative reporting in forensic
/// science*, verbal equivalents of likelihood ratios (*from memory*; the bands 10 to 100 and 100 to 1000 also read in a
/// glossary of forensic statistics). The guideline names 1 and then 2 to 10; a ratio between is below its lowest band.
const ENFSI_2015: [Band; 6] = [
    band(2.0, "weak support"),
    band(10.0, "moderate support"),
    band(100.0, "moderately strong support"),
    band(1000.0, "strong support"),
    band(10_000.0, "very strong support"),
    band(1_000_000.0, "extremely strong support"),
];

/// Source: Association of Forensic Science Providers 2009, "Standards for the formulation of evaluative forensic science
/// expert opinion", Science & Justice 49:161–164 (*from memory*).
const AFSP_2009: [Band; 6] = [
    band(1.0, "weak (or limited) support"),
    band(10.0, "moderate support"),
    band(100.0, "moderately strong support"),
    band(1000.0, "strong support"),
    band(10_000.0, "very strong support"),
    band(1_000_000.0, "extremely strong support"),
];

const fn band(from: f64, words: &'static str) -> Band {
    Band { from, words }
}

fn bands(scale: Scale) -> &'static [Band] {
    match scale {
        Scale::Enfsi2015 => &ENFSI_2015,
        Scale::Afsp2009 => &AFSP_2009,
    }
}

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
    /// use saggar::model::Scale;
    /// let strength = Strength::of(-25.0, Scale::Enfsi2015); // 1 to 316
    /// assert_eq!((strength.supports, strength.words), (Supported::Alternative, "moderately strong support"));
    /// assert_eq!((strength.from, strength.to), (Some(100.0), Some(1000.0)));
    /// ```
    #[must_use]
    pub fn of(decibans: f64, scale: Scale) -> Self {
        let bands = bands(scale);
        let ratio = 10_f64.powf(decibans.abs() / 10.0);
        // A ratio of exactly ten times a power must not fall below its band by rounding.
        let place = bands
            .iter()
            .rposition(|band| ratio >= band.from * (1.0 - 1e-12));
        let says = |supports, words, likelihood_ratio| Self {
            supports,
            likelihood_ratio,
            words,
            from: place.map(|p| bands[p].from),
            to: bands.get(place.map_or(0, |p| p + 1)).map(|b| b.from),
            scale: scale.name(),
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
        if decibans == 0.0 {
            return says(Supported::Neither, "no support for either", Some(ratio));
        }
        let supports = if decibans > 0.0 {
            Supported::Claim
        } else {
            Supported::Alternative
        };
        if !ratio.is_finite() {
            return Self {
                from: None,
                to: None,
                ..says(supports, "the other is ruled out", None)
            };
        }
        says(supports, bands[place].words, Some(ratio))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: `verbal_scales.csv` in tests/reference/02-weight-of-evidence (from memory, see there).
    #[test]
    fn the_bands_are_those_of_the_published_scales() {
        let table = include_str!("../../tests/reference/02-weight-of-evidence/verbal_scales.csv");
        let mut reader = csv::Reader::from_reader(table.as_bytes());
        let mut checked = 0;
        for row in reader.records().map(Result::unwrap) {
            let Some(scale) = Scale::ALL.into_iter().find(|s| s.name() == &row[0]) else {
                continue;
            };
            let low: f64 = row[1].parse().unwrap();
            let high: Option<f64> = row[2].parse().ok();
            if high == Some(low) {
                continue;
            }
            for (ratio, is_in) in [
                (low * 1.0001, true),
                (low * 1.5, true),
                (low * 0.999, false),
                (high.unwrap_or(1e200), high.is_none()),
            ] {
                if ratio <= 1.0 {
                    continue;
                }
                for sign in [1.0, -1.0] {
                    let strength = Strength::of(sign * 10.0 * ratio.log10(), scale);
                    assert_eq!(strength.words == &row[3], is_in, "{ratio}: {strength:?}");
                }
            }
            checked += 1;
        }
        assert_eq!(checked, 12);
        for scale in Scale::ALL {
            assert_eq!(Strength::of(20.0, scale).words, "moderately strong support");
            assert_eq!(Strength::of(0.0, scale).supports, Supported::Neither);
            let rules_out = Strength::of(f64::INFINITY, scale);
            assert_eq!(rules_out.words, "the other is ruled out");
            assert_eq!((rules_out.likelihood_ratio, rules_out.from), (None, None));
            assert_eq!(Strength::of(f64::NAN, scale).words, "no statement");
        }
    }
}
