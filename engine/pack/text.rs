//! A pack as written: names, beliefs and rows with their places, before anything is checked against anything else.
//!
//! Everything here is faithful to the files; [`crate::check`] alone turns it into a model. An `Option` that the format
//! does not allow to be left out is `None` where the file has nothing readable: that is reported already, and the entry
//! is kept so that its name is still known to the rest of the pack.

pub mod histories;
mod lettering;
pub mod looks;
pub mod market;
pub mod rules;

pub use lettering::Lettering;

use super::belief::Chance;
use super::years::Years;
use crate::dating::edtf::Edtf;
use crate::source::{SourceId, Span};

/// A value with the place it was written at.
#[derive(Clone, Debug)]
pub struct Placed<T> {
    /// The value.
    pub value: T,
    /// Its place.
    pub span: Span,
}

/// A word with its place.
pub type Word = Placed<String>;

/// How what is left of a row is shared out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Remainder {
    /// The states not named cannot happen.
    Impossible,
    /// What is left is spread evenly over the states not named.
    Evenly,
}

/// `say = { … }`: beliefs over states.
#[derive(Clone, Debug)]
pub struct Say {
    /// State and belief, in the order of the file; `None` if the belief was unreadable (already reported).
    pub entries: Vec<(Word, Option<Placed<Chance>>)>,
    /// `otherwise = …`, if given.
    pub otherwise: Option<Placed<Remainder>>,
    /// Whether all of it could be read, the beliefs of the entries apart; if not, that is reported already.
    pub readable: bool,
    /// The whole map.
    pub span: Span,
}

/// `parent = value`, `parent = [values]` or `parent = "from..to"` in a row.
#[derive(Clone, Debug)]
pub struct Condition {
    /// The parent variable.
    pub parent: Word,
    /// The values the row speaks of; each may be a range `from..to`.
    pub values: Vec<Word>,
}

/// What a row says.
#[derive(Clone, Debug)]
pub enum RowBody {
    /// A belief for each state.
    States(Say),
    /// One belief, for the first of two states.
    Single(Placed<Chance>),
    /// `mean` and `sd` of a normal.
    Normal {
        /// Mean.
        mean: Placed<f64>,
        /// Standard deviation.
        sd: Placed<f64>,
    },
    /// `median` and `factor` of a lognormal.
    Lognormal {
        /// Median.
        median: Placed<f64>,
        /// Geometric standard deviation.
        factor: Placed<f64>,
    },
    /// `mean`, `sd` and `correlation` of a colour.
    Colour {
        /// Means.
        mean: Triple,
        /// Standard deviations.
        sd: Triple,
        /// Correlations.
        correlation: Triple,
    },
}

/// Three numbers of a colour, in the order L*, a*, b* (correlations: L*–a*, L*–b*, a*–b*).
#[derive(Clone, Debug)]
pub struct Triple {
    /// The numbers.
    pub values: [f64; 3],
    /// The list.
    pub span: Span,
}

/// One row of a table.
#[derive(Clone, Debug)]
pub struct Row {
    /// The cases it speaks of; no condition at all needs `otherwise = true`.
    pub conditions: Vec<Condition>,
    /// `otherwise = true`.
    pub otherwise: bool,
    /// What it says; `None` if that was missing or unreadable (already reported).
    pub body: Option<RowBody>,
    /// Equivalent sample size of this row.
    pub seen: Option<Placed<f64>>,
    /// Whether all of it could be read; if not, that is reported already.
    pub readable: bool,
    /// The whole row.
    pub span: Span,
}

/// A table of beliefs.
#[derive(Clone, Debug)]
pub struct Table {
    /// Parents.
    pub depends_on: Vec<Word>,
    /// Equivalent sample size of rows that give none.
    pub seen: Option<Placed<f64>>,
    /// Rows, in the order of the file.
    pub rows: Vec<Row>,
    /// Whether all of it could be read; if not, that is reported already.
    pub readable: bool,
    /// The table's place.
    pub span: Span,
}

/// A belief with its own `seen`.
#[derive(Clone, Debug)]
pub struct SeenSay {
    /// What is said.
    pub say: Option<Say>,
    /// Equivalent sample size.
    pub seen: Option<Placed<f64>>,
}

/// One bin of years.
#[derive(Clone, Debug)]
pub struct Period {
    /// Name.
    pub id: Word,
    /// Its years.
    pub years: Option<Placed<Years>>,
}

/// Something the appraiser states about the look itself, which has no chance of its own.
#[derive(Clone, Debug)]
pub struct Circumstance {
    /// Name.
    pub id: Word,
    /// Name for people.
    pub name: Option<Word>,
    /// States.
    pub states: Vec<Word>,
    /// How to judge it.
    pub look: Option<Word>,
}

/// Thresholds of the ladder of words.
#[derive(Clone, Debug)]
pub struct Wording {
    /// `marked`, `attributed`, … with its threshold, in the order of the file.
    pub rungs: Vec<(Word, Option<Placed<Chance>>)>,
    /// Their table.
    pub span: Span,
    /// The house's own words for some of them.
    pub words: Vec<(Word, Option<Word>)>,
    /// The verbal scale for the strength of evidence.
    pub scale: Option<Word>,
}

/// A maker of the list, or one of the two that stand for what no list holds.
#[derive(Clone, Debug)]
pub struct Maker {
    /// Short code.
    pub id: Word,
    /// Name.
    pub name: Option<Word>,
    /// The works, if known.
    pub works: Option<Word>,
    /// Region.
    pub region: Option<Word>,
    /// Active years.
    pub years: Option<Placed<Years>>,
    /// Share of what survives.
    pub share: Option<Placed<Chance>>,
    /// Share of its output by period.
    pub output: Option<SeenSay>,
    /// Years of its output, where they are given instead.
    pub output_years: Option<Placed<Edtf>>,
    /// `unlisted` or `reproduction`.
    pub role: Option<Word>,
}

/// A nominal size of a shape.
#[derive(Clone, Debug)]
pub struct Size {
    /// Name.
    pub id: Word,
    /// The shape it is a size of.
    pub shape: Option<Word>,
    /// The class within which prints can be compared.
    pub class: Option<Word>,
    /// Usual mass in grams.
    pub usual_weight: Option<Placed<f64>>,
}

/// A shape of vessel.
#[derive(Clone, Debug)]
pub struct Shape {
    /// Name.
    pub id: Word,
    /// `hollow` (judged per litre) or `flat` (judged per area).
    pub ware: Option<Word>,
}

/// Everything about sizes.
#[derive(Clone, Debug)]
pub struct Sizes {
    /// Shapes.
    pub shapes: Vec<Shape>,
    /// Sizes, smallest first.
    pub sizes: Vec<Size>,
    /// Size given maker.
    pub share: Table,
}

/// A mark of the registry.
#[derive(Clone, Debug)]
pub struct Mark {
    /// Name.
    pub id: Word,
    /// Printed, impressed, incised, painted.
    pub method: Option<Word>,
    /// What it says; `?` if nobody knows.
    pub text: Option<Word>,
    /// Crown, anchor, shield …
    pub devices: Vec<Word>,
    /// What usually stands beside it: a size number, a pattern name.
    pub companions: Vec<Word>,
}

/// One mark among those a maker used.
#[derive(Clone, Debug)]
pub struct Kind {
    /// The mark.
    pub mark: Word,
    /// Its base share among the maker's marked pieces.
    pub say: Option<Placed<Chance>>,
    /// Years of use, where narrower than the maker's.
    pub years: Option<Placed<Years>>,
}

/// The marks a maker used.
#[derive(Clone, Debug)]
pub struct MarkedBy {
    /// The maker.
    pub maker: Word,
    /// Its marks.
    pub kinds: Vec<Kind>,
    /// Equivalent sample size of the shares.
    pub seen: Option<Placed<f64>>,
    /// The whole entry.
    pub span: Span,
}

/// Initials that are not the maker's: a retailer's, a workman's.
#[derive(Clone, Debug)]
pub struct Stray {
    /// Chance per marked piece.
    pub say: Option<Placed<Chance>>,
    /// Equivalent sample size.
    pub seen: Option<Placed<f64>>,
    /// Makers to whom it does not apply.
    pub except: Vec<Word>,
    /// The whole entry.
    pub span: Span,
}

/// Everything about marks.
#[derive(Clone, Debug)]
pub struct Marks {
    /// The registry.
    pub marks: Vec<Mark>,
    /// How well a mark that is there came out, by method.
    pub strike: Table,
    /// Chance of being marked, by maker and period.
    pub rate: Table,
    /// Which marks each maker used.
    pub marked_by: Vec<MarkedBy>,
    /// Initials that are not the maker's.
    pub stray: Option<Stray>,
    /// What is read.
    pub reading: Clue,
}

/// A hidden engraved copper (or family of coppers).
#[derive(Clone, Debug)]
pub struct Engraving {
    /// Short code.
    pub id: Word,
    /// Name.
    pub name: Option<Word>,
    /// Stands for an engraving never seen.
    pub unseen: bool,
    /// Where it came from and what became of it; nothing where rows say who used it.
    pub history: histories::History,
}

/// A motif with agreed states, fixed by the engraving.
#[derive(Clone, Debug)]
pub struct Coding {
    /// Name and states, as for any clue (without a table of its own).
    pub clue: Clue,
    /// What is read under the engraving never seen.
    pub unseen: Option<SeenSay>,
    /// How well it is read, where it has a table of its own.
    pub right: Option<Table>,
    /// What a worn plate makes of it.
    pub worn_looks: Vec<histories::WornLook>,
}

/// What one engraving shows in one size class.
#[derive(Clone, Debug)]
pub struct Shows {
    /// The engraving.
    pub engraving: Word,
    /// The size class.
    pub size_class: Word,
    /// Coding and its usual state; `None` if that was unreadable (already reported).
    pub states: Vec<(Word, Option<Word>)>,
    /// The whole entry.
    pub span: Span,
}

/// Everything about engravings.
#[derive(Clone, Debug)]
pub struct Engravings {
    /// The engravings.
    pub engravings: Vec<Engraving>,
    /// Which engraving, by maker and period; none where histories say it.
    pub used: Option<Table>,
    /// Where histories say it: the chance of an engraving never seen, how the engravings at hand are shared, wear.
    pub from_histories: histories::FromHistories,
    /// Chance that a coding is read right.
    pub right: Table,
    /// The codings.
    pub codings: Vec<Coding>,
    /// What each engraving shows.
    pub shows: Vec<Shows>,
    /// The file.
    pub span: Span,
}

/// How a weight is judged.
#[derive(Clone, Debug)]
pub struct Weighing {
    /// `usual weight`, `per litre`, `per square centimetre`, `as it is`.
    pub judged: Word,
    /// `normal` or `lognormal`.
    pub family: Word,
    /// Edges of bands; none: the measured value itself is the evidence.
    pub bands: Option<Vec<Placed<f64>>>,
    /// What a reading of the scale may be off by, in grams, either way; none: read exactly.
    pub tolerance: Option<Placed<f64>>,
}

/// A state put on to deceive, beside the states that the rows speak of.
#[derive(Clone, Debug)]
pub struct Simulated {
    /// Its name.
    pub state: Word,
    /// Its chance on a later reproduction.
    pub of_reproductions: Option<Placed<Chance>>,
    /// Its chance on any other piece.
    pub of_others: Option<Placed<Chance>>,
    /// Equivalent sample size of both.
    pub seen: Option<Placed<f64>>,
}

/// A clue.
#[derive(Clone, Debug)]
pub struct Clue {
    /// Name in scripts.
    pub id: Word,
    /// Name for people.
    pub name: Option<Word>,
    /// `choice`, `graded`, `count`, `weight` or `date`.
    pub kind: Word,
    /// States, as agreed.
    pub states: Vec<Word>,
    /// The state that means: looked, and there was nothing.
    pub absent: Option<Word>,
    /// How to look.
    pub look: Option<Word>,
    /// The measurement it is taken from, so that one measurement is not entered twice.
    pub taken_from: Option<Word>,
    /// How a weight is judged.
    pub weighing: Option<Weighing>,
    /// How often a date is wrong.
    pub wrong: Option<Placed<Chance>>,
    /// The hidden quality whose grade is read.
    pub reads: Option<Word>,
    /// The state put on to deceive.
    pub simulated: Option<Simulated>,
    /// Standard deviations of the instrument that a colour is measured with.
    pub instrument: Option<Triple>,
    /// Its table.
    pub table: Table,
}

/// How well an observer reads some clues.
#[derive(Clone, Debug)]
pub struct Reads {
    /// The clues.
    pub clues: Vec<Word>,
    /// Chance of a right reading, or of each record given the state.
    pub table: Table,
    /// The whole entry.
    pub span: Span,
}

/// Somebody who codes.
#[derive(Clone, Debug)]
pub struct Observer {
    /// Short name.
    pub id: Word,
    /// Name for people.
    pub name: Option<Word>,
    /// What becomes of the clues not named: `as the tables say` or `not asked`.
    pub otherwise: Option<Word>,
    /// What is read, and how well.
    pub reads: Vec<Reads>,
}

/// Everybody who codes.
#[derive(Clone, Debug)]
pub struct Observers {
    /// Whose the findings are that name nobody.
    pub default: Option<Word>,
    /// The observers.
    pub observers: Vec<Observer>,
    /// The file.
    pub span: Span,
}

impl Clue {
    /// Whether what is noted of it is a date.
    #[must_use]
    pub fn is_date(&self) -> bool {
        self.kind.value == "date"
    }
}

/// What a pack takes from elsewhere to date by, and how soft its dates are.
#[derive(Clone, Debug, Default)]
pub struct Included {
    /// Names of rules files.
    pub rules: Vec<Word>,
    /// `[dating] about`: years either way of a date marked `~`.
    pub about: Option<Placed<f64>>,
    /// `[dating] wrong`: chance that a date marked `?` is wrong.
    pub wrong: Option<Placed<Chance>>,
}

/// A way of learning from the collection.
#[derive(Clone, Debug)]
pub struct Learned {
    /// Name: of the clue, for quantities measured together; else of what is coded.
    pub id: Word,
    /// Name for people.
    pub name: Option<Word>,
    /// `measured together` or `present or absent`.
    pub kind: Word,
    /// What the columns depend on: `maker` or `period`.
    pub given: Word,
    /// Columns of the collection.
    pub columns: Vec<Word>,
    /// How to look.
    pub look: Option<Word>,
}

/// Pieces of known origin, and what is learned from them.
#[derive(Clone, Debug)]
pub struct Collection {
    /// Where the table was published.
    pub published: Option<Word>,
    /// The column that names each piece.
    pub piece: Option<Word>,
    /// The column that says who made it.
    pub maker: Option<Word>,
    /// The column that says its period.
    pub period: Option<Word>,
    /// What is learned.
    pub learned: Vec<Learned>,
    /// The table, if it could be read; if not, that is reported already.
    pub table: Option<crate::learn::collection::Collection>,
    /// The table's text.
    pub source: SourceId,
    /// The table `[collection]`.
    pub span: Span,
}

/// A question that the pack leaves out, with the reason.
#[derive(Clone, Debug)]
pub struct LeftOut {
    /// `maker`, `period`, `unlisted` or `reproduction`.
    pub what: Word,
    /// Why.
    pub why: Option<Word>,
}

/// Clues that are weighed as one, besides one by one.
#[derive(Clone, Debug)]
pub struct ClueGroup {
    /// What they are called.
    pub name: Word,
    /// The clues.
    pub clues: Vec<Word>,
}

/// Beliefs that an expert set together.
#[derive(Clone, Debug)]
pub struct SetTogether {
    /// What they are called.
    pub name: Word,
    /// How the descriptions of the beliefs begin.
    pub beliefs: Vec<Word>,
    /// How closely their errors go together.
    pub correlation: Option<Placed<Chance>>,
}

/// A whole pack as written.
#[derive(Clone, Debug)]
pub struct PackText {
    /// Name.
    pub name: Word,
    /// What ware it is about.
    pub ware: Option<Word>,
    /// Bins of years.
    pub periods: Vec<Period>,
    /// Circumstances of the look.
    pub circumstances: Vec<Circumstance>,
    /// Words for the verdict.
    pub wording: Option<Wording>,
    /// Clues that are weighed as one.
    pub groups: Vec<ClueGroup>,
    /// Beliefs that were set together.
    pub set_together: Vec<SetTogether>,
    /// Regions.
    pub regions: Vec<Word>,
    /// Works.
    pub works: Vec<Word>,
    /// Equivalent sample size of the makers' shares.
    pub shares_seen: Option<Placed<f64>>,
    /// The table `[shares]`, if it is there.
    pub shares_span: Option<Span>,
    /// Makers.
    pub makers: Vec<Maker>,
    /// Sizes, for wares that have them.
    pub sizes: Option<Sizes>,
    /// Marks, for wares that carry them.
    pub marks: Option<Marks>,
    /// How lettering is read, for wares whose marks are scored letter by letter.
    pub lettering: Option<Lettering>,
    /// Engravings, for printed wares.
    pub engravings: Option<Engravings>,
    /// Hidden qualities, which clues tell of.
    pub hidden: Vec<Clue>,
    /// Other clues.
    pub clues: Vec<Clue>,
    /// Who codes, where it is told apart.
    pub observers: Option<Observers>,
    /// What a look costs, where the pack says.
    pub looks: Option<looks::Looks>,
    /// What was sold and what value means, where the pack says.
    pub market: Option<market::Market>,
    /// Rules files and the softness of dates.
    pub included: Included,
    /// The rules files, as far as they could be read.
    pub rules: Vec<rules::RulesText>,
    /// Pieces of known origin to learn from.
    pub collection: Option<Collection>,
    /// What the pack leaves out on purpose.
    pub leaves_out: Vec<LeftOut>,
    /// The files, for the content hash.
    pub sources: Vec<SourceId>,
    /// Files that are not whole: unreadable, or not valid TOML (already reported). Names and rows may be missing from
    /// them.
    pub not_whole: Vec<SourceId>,
    /// Whether all of it could be read: only then can it become a model.
    pub readable: bool,
    /// SHA-256 of names and texts of the files.
    pub hash: String,
}

impl PackText {
    /// Whether the pack leaves out a question, or one of the two makers that are otherwise always there.
    #[must_use]
    pub fn leaves_out(&self, what: &str) -> bool {
        self.leaves_out.iter().any(|left| left.what.value == what)
    }
}
