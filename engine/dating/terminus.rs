//! Years before or after which a feature does not occur: *terminus post quem* and *ante quem*.

use std::fmt;

use serde::Serialize;

use super::edtf::Date;
use super::soft::{Bin, Softness};

/// How strongly a limit binds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Strength {
    /// Nearly always; exceptions are known.
    Usual,
    /// By law, or by the nature of the thing: no exceptions.
    Hard,
}

impl fmt::Display for Strength {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Usual => "usual",
            Self::Hard => "hard",
        })
    }
}

/// One limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// The year (or more) at which it lies.
    pub date: Date,
    /// How strongly it binds.
    pub strength: Strength,
}

/// What a feature says about the year of making.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Term {
    /// Not made before the beginning of this.
    pub not_before: Option<Limit>,
    /// Not made after the end of this.
    pub not_after: Option<Limit>,
}

impl Term {
    /// How likely the feature is on a piece made in each bin, beside one made when nothing speaks against it.
    ///
    /// Within a bin, the mean over its years. A year outside a `usual` limit counts as `exceptions`, outside a `hard` one
    /// as 0; outside both limits the factors multiply. A limit marked `~` or `?` is soft as [`Softness`] says.
    ///
    /// # Shape
    /// One number from 0 to 1 for each bin: likelihoods up to a common factor, which need not sum to 1.
    #[must_use]
    pub fn likelihood(&self, bins: &[Bin], softness: Softness, exceptions: f64) -> Vec<f64> {
        let factor = |limit: &Limit, past: i64| {
            let right = softness.reached(past, &limit.date);
            let doubt = if limit.date.qualifier.is_uncertain() {
                softness.wrong
            } else {
                0.0
            };
            let inside = (1.0 - doubt) * right + doubt;
            let outside = match limit.strength {
                Strength::Hard => 0.0,
                Strength::Usual => exceptions,
            };
            inside + (1.0 - inside) * outside
        };
        let of_year = |year: i64| {
            let after = self.not_before.as_ref();
            let before = self.not_after.as_ref();
            after.map_or(1.0, |l| factor(l, year - l.date.earliest_year()))
                * before.map_or(1.0, |l| factor(l, l.date.latest_year() - year))
        };
        bins.iter()
            .map(|&(first, last)| {
                (first..=last).map(of_year).sum::<f64>() / (last - first + 1) as f64
            })
            .collect()
    }
}

impl fmt::Display for Term {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut separator = "";
        for (words, limit) in [
            ("not before", self.not_before),
            ("not after", self.not_after),
        ] {
            let Some(limit) = limit else { continue };
            write!(f, "{separator}{words} {} ({})", limit.date, limit.strength)?;
            separator = ", ";
        }
        Ok(())
    }
}

/// A limit that is left when several terms apply: the year and how strongly it binds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Binding {
    /// The year.
    pub year: i64,
    /// Its strength; of several limits at one year, the strongest.
    pub strength: Strength,
}

/// What several terms leave together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Together {
    /// The latest of the years not before.
    pub earliest: Option<Binding>,
    /// The earliest of the years not after.
    pub latest: Option<Binding>,
    /// If nothing is left between them: hard if both limits are, so that no piece can bear all of it; else usual, an
    /// exception or a mistake.
    pub conflict: Option<Strength>,
}

/// The span that several terms leave, qualifiers aside.
#[must_use]
pub fn together(terms: &[Term]) -> Together {
    let after = terms.iter().filter_map(|term| {
        term.not_before.map(|limit| Binding {
            year: limit.date.earliest_year(),
            strength: limit.strength,
        })
    });
    let before = terms.iter().filter_map(|term| {
        term.not_after.map(|limit| Binding {
            year: limit.date.latest_year(),
            strength: limit.strength,
        })
    });
    let earliest = after.max_by_key(|b| (b.year, b.strength));
    let latest = before.max_by_key(|b| (-b.year, b.strength));
    let conflict = match (earliest, latest) {
        (Some(after), Some(before)) if after.year > before.year => {
            Some(after.strength.min(before.strength))
        }
        _ => None,
    };
    Together {
        earliest,
        latest,
        conflict,
    }
}

#[cfg(test)]
mod tests {
    use super::super::edtf::Qualifier;
    use super::*;

    fn limit(year: i64, strength: Strength, qualifier: Qualifier) -> Option<Limit> {
        Some(Limit {
            date: Date {
                qualifier,
                ..Date::of_year(year)
            },
            strength,
        })
    }

    /// Worked by hand: of 1890 to 1899 one year in ten lies before 1891.
    #[test]
    fn likelihoods_counted_by_hand() {
        let bins = [(1880, 1889), (1890, 1899), (1920, 1929)];
        let usual = Term {
            not_before: limit(1891, Strength::Usual, Qualifier::Exact),
            not_after: limit(1921, Strength::Usual, Qualifier::Exact),
        };
        let found = usual.likelihood(&bins, Softness::default(), 0.05);
        for (found, expected) in found.iter().zip([0.05, 0.905, 0.2 + 0.8 * 0.05]) {
            assert!((found - expected).abs() < 1e-12, "{found}");
        }
        let hard = Term {
            not_before: limit(1891, Strength::Hard, Qualifier::Exact),
            not_after: None,
        };
        assert_eq!(
            hard.likelihood(&bins, Softness::default(), 0.05),
            [0.0, 0.9, 1.0]
        );
    }

    /// About 1891, five years either way: 1886 + k counts (k + 1)/11.
    #[test]
    fn a_limit_may_be_soft() {
        let term = Term {
            not_before: limit(1891, Strength::Hard, Qualifier::Approximate),
            not_after: None,
        };
        let found = term.likelihood(
            &[(1885, 1885), (1886, 1886), (1896, 1896)],
            Softness::default(),
            0.0,
        );
        assert_eq!(found, [0.0, 1.0 / 11.0, 1.0]);
        let doubted = Term {
            not_before: limit(1891, Strength::Hard, Qualifier::Uncertain),
            not_after: None,
        };
        assert_eq!(
            doubted.likelihood(&[(1880, 1880)], Softness::default(), 0.0),
            [0.2]
        );
    }

    #[test]
    fn in_words() {
        let term = Term {
            not_before: limit(1801, Strength::Hard, Qualifier::Exact),
            not_after: limit(1837, Strength::Usual, Qualifier::Approximate),
        };
        assert_eq!(
            term.to_string(),
            "not before 1801 (hard), not after 1837~ (usual)"
        );
    }
}
