//! Charts as plain data: what is drawn of a result, in full precision. Chosen from results; nothing is computed here.
//!
//! [`text`] draws a chart in characters for a terminal, [`svg`] as a picture.

mod number;
mod of_result;
mod scale;
pub mod svg;
pub mod text;

pub use of_result::WITH_CHART;

use serde::{Serialize, Serializer};

/// A picture of one result: one or more panels below one another.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Chart {
    /// What is shown.
    pub title: String,
    /// Of which piece; empty for plain figures.
    #[serde(skip_serializing_if = "String::is_empty")]
    pub piece: String,
    /// The panels.
    pub panels: Vec<Panel>,
    /// What has to be known to read it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<String>,
}

/// One set of figures on one scale.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Panel {
    /// What these figures are.
    pub heading: String,
    /// Their unit.
    pub unit: Unit,
    /// The figures and how they are drawn.
    #[serde(flatten)]
    pub figures: Figures,
}

/// Figures by how they are drawn.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case", tag = "drawn_as")]
pub enum Figures {
    /// Lying bars from zero, in their order.
    Bars {
        /// The bars.
        bars: Vec<Bar>,
    },
    /// Standing bars from zero, along something that has an order, as time.
    Columns {
        /// The bars.
        bars: Vec<Bar>,
    },
    /// From a lower to an upper end, with a value between.
    Spans {
        /// A value that all are seen against.
        #[serde(skip_serializing_if = "Option::is_none")]
        stated: Option<f64>,
        /// The spans.
        bars: Vec<Bar>,
    },
    /// A line, with a band if there are ends.
    Line {
        /// What runs across, with its unit.
        across: String,
        /// The points, from left to right.
        points: Vec<Point>,
    },
    /// A table whose cells are shaded.
    Grid {
        /// Headings of the columns.
        columns: Vec<String>,
        /// The rows.
        rows: Vec<GridRow>,
    },
}

/// A figure with its label.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Bar {
    /// What it is of.
    pub label: String,
    /// The figure; none if it has no finite one, which `beside` then says.
    pub value: Option<f64>,
    /// A lower end: of an interval, or one standard error below.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub low: Option<f64>,
    /// An upper end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub high: Option<f64>,
    /// What stands beside the number.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub beside: Option<String>,
}

impl Panel {
    /// The heading with the unit, unless that says the same again.
    #[must_use]
    pub fn title(&self) -> String {
        let unit = self.unit.words();
        if unit.is_empty() || self.heading.contains(unit) {
            self.heading.clone()
        } else {
            format!("{} ({unit})", self.heading)
        }
    }
}

impl Bar {
    /// A figure; one that is not finite is said in words.
    #[must_use]
    pub fn new(label: impl Into<String>, value: f64) -> Self {
        let beside = match value {
            f64::INFINITY => Some("beyond any bound".to_owned()),
            f64::NEG_INFINITY => Some("below any bound".to_owned()),
            _ if value.is_nan() => Some("not known".to_owned()),
            _ => None,
        };
        Self {
            label: label.into(),
            value: Some(value).filter(|v| v.is_finite()),
            low: None,
            high: None,
            beside,
        }
    }

    /// No figure, with the reason.
    #[must_use]
    pub fn none(label: impl Into<String>, why: impl Into<String>) -> Self {
        Self {
            label: label.into(),
            value: None,
            low: None,
            high: None,
            beside: Some(why.into()),
        }
    }

    /// With ends.
    #[must_use]
    pub fn within(mut self, low: f64, high: f64) -> Self {
        self.low = Some(low).filter(|v| v.is_finite());
        self.high = Some(high).filter(|v| v.is_finite());
        self
    }
}

/// A point of a line.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Point {
    /// Where it stands.
    pub across: f64,
    /// How high.
    pub up: f64,
    /// Lower end of the band.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub low: Option<f64>,
    /// Upper end of the band.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub high: Option<f64>,
}

/// A row of a shaded table.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GridRow {
    /// Its heading.
    pub label: String,
    /// One for each column; none where there is no figure.
    pub cells: Vec<Option<f64>>,
}

/// What a figure counts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Unit {
    /// A probability.
    Probability,
    /// A sampled share of a variance, which may stray a little beyond 0 and 1.
    ShareOfVariance,
    /// A sampled share of all draws, from 0 to 1.
    ShareOfDraws,
    /// Decibans, to both sides of zero.
    Decibans,
    /// Bits.
    Bits,
    /// Minutes.
    Minutes,
    /// Draws, counted.
    Draws,
    /// Anything else, in the words of whoever gave it.
    Other(String),
}

impl Unit {
    /// In words.
    #[must_use]
    pub fn words(&self) -> &str {
        match self {
            Self::Probability => "probability",
            Self::ShareOfDraws => "share",
            Self::ShareOfVariance => "share of the variance",
            Self::Decibans => "decibans",
            Self::Bits => "bits",
            Self::Minutes => "minutes",
            Self::Draws => "draws",
            Self::Other(words) => words,
        }
    }
}

impl From<String> for Unit {
    fn from(words: String) -> Self {
        let known = [Self::Probability, Self::Decibans, Self::Bits, Self::Minutes];
        let known = known.into_iter().find(|unit| unit.words() == words);
        known.unwrap_or(Self::Other(words))
    }
}

impl Serialize for Unit {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(self.words())
    }
}
