//! The market of a ware: what was sold, how prices differ, and what "value" means.
//!
//! Nothing here moves a verdict, and none of it enters the pack's hash: a new sale leaves the verdict as it is. The market
//! has a hash of its own.

/// What a price of a kind is of: how a definition counts it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize)]
pub enum PriceKind {
    /// What is bid, before commission and premium.
    #[serde(rename = "hammer")]
    Hammer,
    /// What the buyer pays at auction.
    #[serde(rename = "with premium")]
    WithPremium,
    /// What a dealer asks and gets.
    #[serde(rename = "retail")]
    Retail,
}

impl PriceKind {
    /// Every kind, with its words.
    pub const ALL: [(&'static str, Self); 3] = [
        ("hammer", Self::Hammer),
        ("with premium", Self::WithPremium),
        ("retail", Self::Retail),
    ];

    /// Its words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Hammer => "hammer",
            Self::WithPremium => "with premium",
            Self::Retail => "retail",
        }
    }
}

/// A belief about a price or a factor between prices: its logarithm is normal.
#[derive(Clone, Debug, PartialEq)]
pub struct Factor {
    /// Natural logarithm of the median.
    pub ln_median: f64,
    /// Standard deviation of the natural logarithm.
    pub ln_sd: f64,
    /// The line it stands in.
    pub citation: String,
}

/// How much one price scatters around what is expected of it.
#[derive(Clone, Debug, PartialEq)]
pub struct Scatter {
    /// Natural logarithm of the factor: about two prices in three lie within it.
    pub ln_factor: f64,
    /// How many sales' worth of experience stand behind it.
    pub seen: f64,
}

/// A kind of sale.
#[derive(Clone, Debug, PartialEq)]
pub struct SaleKind {
    /// Its name.
    pub id: String,
    /// What it fetches beside the usual one; none for that one.
    pub factor: Option<Factor>,
    /// The buyer's premium, as a share of the hammer; none where there is none to add.
    pub premium: Option<f64>,
}

/// Whom a wording names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Named {
    /// A maker.
    Maker,
    /// A works.
    Works,
    /// Nobody.
    Nobody,
}

impl Named {
    /// Every answer, with its word.
    pub const ALL: [(&'static str, Self); 3] = [
        ("maker", Self::Maker),
        ("works", Self::Works),
        ("nobody", Self::Nobody),
    ];
}

/// What a piece may be catalogued as.
#[derive(Clone, Debug, PartialEq)]
pub struct MarketWording {
    /// Its name.
    pub id: String,
    /// The words, with `{maker}` or `{works}` in them.
    pub words: String,
    /// Whom it names.
    pub names: Named,
    /// The rungs of the house's ladder that support it; the first is the one whose threshold it needs.
    pub rungs: Vec<String>,
    /// Findings without which it would be false of the piece: clue and state, by name.
    pub only_where: Vec<(String, String)>,
    /// What it fetches beside the usual one; none for that one.
    pub factor: Option<Factor>,
}

/// A grade of condition.
#[derive(Clone, Debug, PartialEq)]
pub struct Grade {
    /// The number; a higher one is better.
    pub grade: i64,
    /// What it means.
    pub words: String,
}

/// A definition of value.
#[derive(Clone, Debug, PartialEq)]
pub struct Definition {
    /// Its short name.
    pub id: String,
    /// Its name.
    pub name: String,
    /// The definition.
    pub words: String,
    /// Whether those are the source's own words, to be quoted; else they are ours, after the source.
    pub is_verbatim: bool,
    /// What the pack takes it as.
    pub taken_as: Option<String>,
    /// Words of purposes that it suits.
    pub suits: Vec<String>,
    /// Where it stands.
    pub source: String,
    /// What price it means.
    pub price: PriceKind,
    /// At which kind of sale.
    pub sale: usize,
    /// Whether it is given as a band, low to high, in place of a figure.
    pub is_band: bool,
}

/// Whom a sale named.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Who {
    /// A maker, by position.
    Maker(usize),
    /// A works, by position among the states of the works.
    Works(usize),
    /// Nobody.
    Nobody,
}

/// A line of the comparables.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparable {
    /// Its short name.
    pub id: String,
    /// When it was sold, in years.
    pub years: f64,
    /// When, as written.
    pub sold: String,
    /// At which kind of sale.
    pub sale: usize,
    /// Whether the price is what was asked, not paid.
    pub is_asked: bool,
    /// The catalogue's words.
    pub catalogued: String,
    /// Whom they name.
    pub who: Who,
    /// What they come to.
    pub wording: usize,
    /// Size, by position; none if not told.
    pub size: Option<usize>,
    /// Grade of condition; none if not told.
    pub grade: Option<i64>,
    /// The hammer price.
    pub hammer: Option<f64>,
    /// What the buyer paid.
    pub with_premium: Option<f64>,
    /// The currency.
    pub currency: String,
    /// The line that goes back to the same source or set, by position.
    pub same_as: Option<usize>,
    /// Where it is told.
    pub source: String,
    /// The line it stands in.
    pub citation: String,
}

/// The piece that the other prices are measured from.
#[derive(Clone, Debug, PartialEq)]
pub struct Usual {
    /// Its price.
    pub price: Factor,
    /// When, in years.
    pub years: f64,
    /// Its size, by position; none for a ware without sizes.
    pub size: Option<usize>,
    /// Its grade.
    pub grade: i64,
    /// Its wording.
    pub wording: usize,
    /// The kind of sale.
    pub sale: usize,
}

/// Everything a pack says about prices.
#[derive(Clone, Debug, PartialEq)]
pub struct Market {
    /// SHA-256 of the two files.
    pub hash: String,
    /// ISO 4217 code.
    pub currency: String,
    /// Sales longer ago than this, in years, are left out.
    pub oldest: f64,
    /// The usual piece.
    pub usual: Usual,
    /// How far works differ: one standard deviation of the natural logarithm.
    pub works_apart: f64,
    /// How far makers of one works, or without, differ.
    pub makers_apart: f64,
    /// What each size larger fetches beside the one before; none for a ware without sizes.
    pub size_step: Option<Factor>,
    /// What each better grade fetches beside the one below.
    pub condition_step: Factor,
    /// How prices move in a year.
    pub year: Factor,
    /// A dealer's price over the hammer at the kind of sale named.
    pub retail: Factor,
    /// Scatter of single prices.
    pub scatter: Scatter,
    /// Kinds of sale.
    pub sales: Vec<SaleKind>,
    /// Wordings, the strongest first.
    pub wordings: Vec<MarketWording>,
    /// Grades of condition, best first.
    pub grades: Vec<Grade>,
    /// Definitions of value.
    pub definitions: Vec<Definition>,
    /// Sold pieces.
    pub comparables: Vec<Comparable>,
}
