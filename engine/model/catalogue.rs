//! The trade's side of a model: makers, periods, clues and the ladder of words, each tied to the network's variables.

use std::collections::BTreeMap;

use super::looks::Looks;
use super::wording::Wording;
use crate::dating::{Bin, RuleBook, Softness};
use crate::network::{MeasureId, VariableId};
use crate::pack::years::Years;

/// State of the works variable for a maker whose works is not known.
pub const WORKS_NOT_KNOWN: &str = "works not known";

/// What a maker stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum MakerRole {
    /// A firm of the list.
    Listed,
    /// Any maker that is not on the list.
    Unlisted,
    /// A later reproduction.
    Reproduction,
}

/// One answer to the question who made it.
#[derive(Clone, Debug)]
pub struct Maker {
    /// Short code.
    pub id: String,
    /// Name.
    pub name: String,
    /// Index of its works among the states of the works variable, if known.
    pub works: Option<usize>,
    /// Active years, unless the pack leaves out the period.
    pub years: Option<Years>,
    /// What it stands for.
    pub role: MakerRole,
}

/// A bin of years.
#[derive(Clone, Debug)]
pub struct Period {
    /// Short code.
    pub id: String,
    /// Its years; `None` for a period known by its place in the order alone.
    pub years: Option<Years>,
}

impl Period {
    /// Its years, or its short code if it has none.
    #[must_use]
    pub fn in_words(&self) -> String {
        self.years
            .map_or_else(|| self.id.clone(), |years| years.to_string())
    }
}

/// A region, with its place among the states of the region variable.
#[derive(Clone, Debug)]
pub struct Region {
    /// Name.
    pub id: String,
}

/// A nominal size.
#[derive(Clone, Debug)]
pub struct Size {
    /// Name.
    pub id: String,
    /// Usual mass in grams, if the pack gives one.
    pub usual_weight: Option<f64>,
}

/// What a weight is divided by before it is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weighing {
    /// The usual mass of the piece's size: a ratio.
    UsualWeight,
    /// Its capacity: grams per litre.
    PerLitre,
    /// Its area: grams per square centimetre.
    PerSquareCentimetre,
    /// Nothing: grams.
    AsItIs,
}

impl Weighing {
    /// What a judged weight is counted in.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Self::UsualWeight => "of the usual",
            Self::PerLitre => "g per litre",
            Self::PerSquareCentimetre => "g per square centimetre",
            Self::AsItIs => "g",
        }
    }
}

/// What kind of clue.
#[derive(Clone, Debug, PartialEq)]
pub enum ClueKind {
    /// A circumstance of the look: no chance of its own.
    Circumstance,
    /// The nominal size.
    Size,
    /// The reading of a mark.
    Mark,
    /// A coding fixed by the engraving.
    Coding,
    /// One of several states.
    Choice,
    /// A date on the piece or with it.
    Date,
    /// A feature that a rule dates.
    Rule {
        /// Which of the catalogue's rules files.
        book: usize,
        /// Which of its rules.
        rule: usize,
    },
    /// A registered design.
    Registration {
        /// Which of the catalogue's rules files decodes it.
        book: usize,
    },
    /// A colour measured in CIELAB.
    Colour,
    /// A weight, cut at the edges (none: the value itself).
    Weight {
        /// What it is divided by.
        weighing: Weighing,
        /// Edges of the bands, if banded.
        edges: Vec<f64>,
        /// What a mass noted without a tolerance may be off by, in grams, either way.
        tolerance: Option<f64>,
    },
    /// Quantities measured together.
    Together {
        /// Their names.
        columns: Vec<String>,
    },
}

/// What a finding of a clue is entered on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ClueTarget {
    /// A discrete variable.
    Variable(VariableId),
    /// A continuous measure.
    Measure(MeasureId),
}

/// Something that can be looked at.
#[derive(Clone, Debug)]
pub struct Clue {
    /// Name in scripts.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// What kind.
    pub kind: ClueKind,
    /// Where a finding goes.
    pub target: ClueTarget,
    /// States, in order.
    pub states: Vec<String>,
    /// The state that means: looked, and there was nothing.
    pub absent: Option<usize>,
    /// How to look.
    pub look: Option<String>,
    /// The hidden quality it tells of, if any, by position in [`Catalogue::hidden`].
    pub tells_of: Option<usize>,
}

/// A quality of the piece that is only known through clues: its true tint, behind a judged grade and a measured colour.
#[derive(Clone, Debug)]
pub struct HiddenQuality {
    /// Name for people.
    pub name: String,
    /// Its variable.
    pub variable: VariableId,
}

/// Clues that are weighed as one, besides one by one.
#[derive(Clone, Debug)]
pub struct ClueGroup {
    /// Its name.
    pub name: String,
    /// Positions of its clues.
    pub clues: Vec<usize>,
}

/// Somebody who codes, and what the pack says of the readings.
#[derive(Clone, Debug)]
pub struct Observer {
    /// Short name, used in scripts.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Whether a clue without a reliability of its own is taken as the tables say; if not, the observer is not asked about it.
    pub as_the_tables_say: bool,
    /// Clues that the observer reads with a stated reliability, by position, and the variable of that reading: a child of
    /// the clue's own variable, which holds the state itself.
    pub readings: BTreeMap<usize, VariableId>,
}

impl Observer {
    /// Whether the pack says how the observer reads this clue.
    #[must_use]
    pub fn asked(&self, clue: usize) -> bool {
        self.as_the_tables_say || self.readings.contains_key(&clue)
    }
}

/// A question that a pack leaves out, with its reason.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct LeftOut {
    /// `maker`, `period`, `unlisted` or `reproduction`.
    pub what: String,
    /// Why.
    pub why: String,
}

/// Everything a verdict needs to be put in the trade's words.
#[derive(Clone, Debug)]
pub struct Catalogue {
    /// The ware the pack is about.
    pub ware: Option<String>,
    /// Makers, in the order of the maker variable's states.
    pub makers: Vec<Maker>,
    /// Periods, in the order of the period variable's states.
    pub periods: Vec<Period>,
    /// Sizes, in the order of the size variable's states.
    pub sizes: Vec<Size>,
    /// Names for people of engravings, in the order of the engraving variable's states; empty without engravings.
    pub engravings: Vec<String>,
    /// Clues, in the order in which a piece is described.
    pub clues: Vec<Clue>,
    /// Who codes; empty for a pack whose tables hold the errors of whoever reads.
    pub observers: Vec<Observer>,
    /// Whose the findings are that name nobody; none without observers.
    pub default_observer: Option<usize>,
    /// Rules of law and record that the pack includes.
    pub rules: Vec<RuleBook>,
    /// How soft dates marked `~` and `?` are.
    pub softness: Softness,
    /// Clues that the pack wants weighed as one.
    pub groups: Vec<ClueGroup>,
    /// Hidden qualities, in the order of the pack.
    pub hidden: Vec<HiddenQuality>,
    /// Readings of a mark that name one mark in full: state of the reading → makers who used that mark.
    pub full_readings: BTreeMap<usize, Vec<usize>>,
    /// The ladder of words.
    pub wording: Wording,
    /// What it costs to look.
    pub looks: Looks,
    /// Maker.
    pub maker: VariableId,
    /// Region.
    pub region: VariableId,
    /// Names for people of regions and works that have another than their short one.
    pub place_names: BTreeMap<String, String>,
    /// Period.
    pub period: VariableId,
    /// Works, if any maker's is known.
    pub works: Option<VariableId>,
    /// Engraving, for printed wares.
    pub engraving: Option<VariableId>,
    /// How far the plate of the engraving has worn, if the pack says how plates wear.
    pub plate: Option<VariableId>,
    /// What the pack leaves out.
    pub leaves_out: Vec<LeftOut>,
}

impl Catalogue {
    /// The name for people of a region or works.
    #[must_use]
    pub fn place_name<'a>(&'a self, id: &'a str) -> &'a str {
        self.place_names.get(id).map_or(id, String::as_str)
    }

    /// The clue of a name.
    #[must_use]
    pub fn clue(&self, id: &str) -> Option<&Clue> {
        self.clues.iter().find(|clue| clue.id == id)
    }

    /// What a finding by an observer is entered on: the observer's own reading, or the clue itself.
    #[must_use]
    pub fn target(&self, clue: usize, observer: Option<usize>) -> ClueTarget {
        let reading = observer.and_then(|o| self.observers[o].readings.get(&clue));
        reading.map_or(self.clues[clue].target, |&id| ClueTarget::Variable(id))
    }

    /// The clue that a variable is some observer's reading of; none for any other variable.
    #[must_use]
    pub fn read_of(&self, reading: VariableId) -> Option<usize> {
        let readings = self.observers.iter().flat_map(|o| &o.readings);
        readings
            .filter(|(_, id)| **id == reading)
            .map(|(clue, _)| *clue)
            .next()
    }

    /// First and last year of each period; a period without years holds none, so that no date falls into it.
    #[must_use]
    pub fn bins(&self) -> Vec<Bin> {
        let bin = |p: &Period| {
            p.years.map_or((1, 0), |years| {
                (i64::from(years.first), i64::from(years.last))
            })
        };
        self.periods.iter().map(bin).collect()
    }

    /// Whether the pack leaves out a question, or one of the makers that are otherwise always there.
    #[must_use]
    pub fn leaves_out(&self, what: &str) -> bool {
        self.leaves_out.iter().any(|left| left.what == what)
    }

    /// The maker of a role other than [`MakerRole::Listed`].
    #[must_use]
    pub fn maker_of_role(&self, role: MakerRole) -> Option<usize> {
        self.makers.iter().position(|maker| maker.role == role)
    }
}
