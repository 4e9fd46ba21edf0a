//! The house's ladder of words: thresholds, words of its own, and the scale for the strength of evidence.

use std::collections::BTreeMap;

/// What the words of a rung can name.
pub const NAMES: [&str; 4] = ["{maker}", "{second}", "{works}", "{region}"];

/// The rungs of the ladder of words that have a threshold, the highest first.
pub const RUNGS: [&str; 8] = [
    "marked",
    "attributed",
    "works",
    "probably",
    "either",
    "region",
    "engraving",
    "copy",
];

/// The rung of a verdict that stands on none of [`RUNGS`].
pub const NOT_IDENTIFIED: &str = "not identified";

/// Words that a house can replace by its own, rung by rung. Common practice of cataloguing, no single source.
pub const OWN_WORDS: [(&str, &str); 9] = [
    ("marked", "{maker}, marked"),
    ("attributed", "attributed to {maker}"),
    ("unlisted", "by none of the listed makers"),
    ("works", "{works}, under one of its partnerships"),
    ("probably", "probably {maker}"),
    ("either", "{maker} or {second}"),
    ("region", "{region}, maker not identified"),
    ("copy", "later copy"),
    (NOT_IDENTIFIED, "maker not identified"),
];

/// A published scale of words for the strength of evidence.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Scale {
    /// European Network of Forensic Science Institutes 2015.
    #[default]
    Enfsi2015,
    /// Association of Forensic Science Providers 2009.
    Afsp2009,
}

impl Scale {
    /// Every scale.
    pub const ALL: [Self; 2] = [Self::Enfsi2015, Self::Afsp2009];

    /// Its name, as it stands beside every word of it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Enfsi2015 => "ENFSI 2015",
            Self::Afsp2009 => "AFSP 2009",
        }
    }
}

/// The verdict's words: thresholds, each a probability; the house's own words; the scale for the strength of evidence.
#[derive(Clone, Debug)]
pub struct Wording {
    /// Words for a rung, where the house has its own: rung → text with `{maker}`, `{second}`, `{works}` or `{region}` in it.
    pub words: BTreeMap<String, String>,
    /// The scale for the strength of evidence.
    pub scale: Scale,
    /// Name alone, for a piece that carries the firm's own full mark.
    pub marked: f64,
    /// "attributed to".
    pub attributed: f64,
    /// A works, under one of its partnerships.
    pub works: f64,
    /// "probably".
    pub probably: f64,
    /// "A or B", for the two together.
    pub either: f64,
    /// A region, maker not identified.
    pub region: f64,
    /// "printed from the … engraving".
    pub engraving: f64,
    /// "later copy".
    pub copy: f64,
}
