//! A network being put together: variables first, then their tables, since a table needs its parents' states.

use crate::diagnostic::Diagnostic;
use crate::model::MeasureFamily;
use crate::model::belief::{Belief, BeliefId, Beliefs, Spread};
use crate::model::column::ColumnRule;
use crate::network::Role;
use crate::pack::text::{Placed, Word};
use crate::source::{Sources, Span};

/// A variable of the draft; its position is the index of the network's variable to be.
#[derive(Clone, Debug)]
pub struct DraftVariable {
    /// Name in rows and scripts, with the place it was declared.
    pub name: Word,
    /// Name for people.
    pub about: String,
    /// States with their places.
    pub states: Vec<Word>,
    /// Whether `from..to` ranges over its states make sense.
    pub ordered: bool,
    /// Chance or input.
    pub role: Role,
    /// Parents, last one fastest.
    pub parents: Vec<usize>,
    /// Its table, once it is read.
    pub table: Option<DraftTable>,
}

/// A table of the draft.
#[derive(Clone, Debug)]
pub struct DraftTable {
    /// Distinct rules.
    pub rules: Vec<DraftRule>,
    /// For each parent configuration the rule that speaks, if any does.
    pub rule_of_configuration: Vec<Option<usize>>,
    /// Where a missing row is reported.
    pub place: Span,
    /// What is said of cases without a row.
    pub gaps: Gaps,
}

/// What is said of cases that can happen and have no row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gaps {
    /// Each is reported, as missing from the table of the variable's name.
    Report,
    /// Each is reported, as missing from the table of this name.
    ReportAs(&'static str),
    /// Nothing: they follow from a defect that is reported already, or are looked for elsewhere.
    Leave,
    /// Nothing: what happens follows from histories, which have no rows.
    FromHistories,
}

impl Gaps {
    /// These, unless a defect of the rows themselves makes gaps likely.
    pub fn if_sound(self, sound: bool) -> Self {
        if sound { self } else { Self::Leave }
    }
}

/// A rule with what the check needs to know of it.
#[derive(Clone, Debug)]
pub struct DraftRule {
    /// The rule.
    pub rule: ColumnRule,
    /// The states it can produce.
    pub possible: Vec<bool>,
    /// The lines of the prior files it comes from, as `file:line`.
    pub citations: Vec<String>,
}

/// Which variable of the draft.
pub type DraftId = usize;

/// Where a clue of the draft went.
#[derive(Clone, Copy, Debug)]
pub enum ClueDraft {
    /// A discrete variable.
    Variable(DraftId),
    /// A measure, by position.
    Measure(usize),
}

/// The network being put together.
pub struct Draft<'s> {
    sources: &'s Sources,
    /// Variables.
    pub variables: Vec<DraftVariable>,
    /// Measures: name, parents, belief for each configuration, family.
    pub measures: Vec<DraftMeasure>,
    /// Beliefs.
    pub beliefs: Beliefs,
}

/// A continuous measure of the draft.
pub struct DraftMeasure {
    /// Name with its place.
    pub name: Word,
    /// Parents, last one fastest.
    pub parents: Vec<DraftId>,
    /// For each parent configuration the belief, if a row speaks.
    pub belief_of_configuration: Vec<Option<BeliefId>>,
    /// What the beliefs are about.
    pub family: MeasureFamily,
    /// Whether it dates a piece, and its one belief is about exceptions.
    pub dates: bool,
    /// What is learned, for quantities measured together; such a measure has no beliefs.
    pub learned: Option<std::sync::Arc<crate::model::together::Together>>,
    /// Where a missing row is reported.
    pub place: Span,
    /// What is said of cases without a row.
    pub gaps: Gaps,
}

impl<'s> Draft<'s> {
    /// An empty draft.
    pub fn new(sources: &'s Sources) -> Self {
        Self {
            sources,
            variables: Vec::new(),
            measures: Vec::new(),
            beliefs: Beliefs::default(),
        }
    }

    /// Declares a variable that has a chance of its own; parents and table come later.
    pub fn declare(
        &mut self,
        name: Word,
        about: &str,
        states: Vec<Word>,
        ordered: bool,
    ) -> DraftId {
        self.variables.push(DraftVariable {
            name,
            about: about.to_owned(),
            states,
            ordered,
            role: Role::Chance,
            parents: Vec::new(),
            table: None,
        });
        self.variables.len() - 1
    }

    /// The variable of a name.
    pub fn find(&self, name: &str) -> Option<DraftId> {
        self.variables.iter().position(|v| v.name.value == name)
    }

    /// The variables that a table depends on; unknown and repeated names are reported and left out.
    pub fn parents(&self, depends_on: &[Word], out: &mut Vec<Diagnostic>) -> Vec<DraftId> {
        super::names::report_duplicates("name in `depends_on`", depends_on, out);
        let known: Vec<&str> = self
            .variables
            .iter()
            .map(|v| v.name.value.as_str())
            .collect();
        let mut parents = Vec::new();
        for word in depends_on {
            if self.measures.iter().any(|m| m.name.value == word.value) {
                out.push(
                    Diagnostic::error(
                        "pack::depends-on-measure",
                        format!(
                            "`{}` is a measured value, and no table can list all of its values",
                            word.value
                        ),
                        word.span,
                    )
                    .hint("give that clue `bands`, or take its name out of `depends_on`"),
                );
            } else if let Some(id) =
                super::names::find("variable or clue", word, known.iter().copied(), out)
                && !parents.contains(&id)
            {
                parents.push(id);
            }
        }
        parents
    }

    /// How many parent configurations there are; `None` if more than can be worked with.
    pub fn n_configurations(&self, parents: &[DraftId]) -> Option<usize> {
        const MOST: usize = 1 << 20;
        parents
            .iter()
            .try_fold(1usize, |n, &p| {
                n.checked_mul(self.variables[p].states.len().max(1))
            })
            .filter(|&n| n <= MOST)
    }

    /// Sets parents and table of a variable.
    pub fn set_table(&mut self, id: DraftId, parents: Vec<DraftId>, table: DraftTable) {
        self.variables[id].parents = parents;
        self.variables[id].table = Some(table);
    }

    /// `file:line` of a place.
    pub fn citation(&self, span: Span) -> String {
        self.sources.citation(span)
    }

    /// Takes in chances of several states as a rule: a belief that can be doubted, or one state for certain.
    pub fn categorical(
        &mut self,
        about: String,
        say: Vec<f64>,
        seen: f64,
        span: Span,
    ) -> DraftRule {
        let possible: Vec<bool> = say.iter().map(|&p| p > 0.0).collect();
        let certain = say
            .iter()
            .position(|&p| p == 1.0)
            .filter(|_| possible.iter().filter(|p| **p).count() == 1);
        let rule = match certain {
            Some(state) => ColumnRule::Certain(state),
            None => ColumnRule::Stated(self.belief(about, Spread::Categorical { say }, seen, span)),
        };
        DraftRule {
            rule,
            possible,
            citations: vec![self.citation(span)],
        }
    }

    /// Takes in a belief.
    pub fn belief(&mut self, about: String, spread: Spread, seen: f64, span: Span) -> BeliefId {
        let citation = self.citation(span);
        self.beliefs.add(Belief {
            about,
            citation,
            spread,
            seen,
        })
    }
}

/// One state for certain.
pub fn certain(state: usize, n_states: usize) -> DraftRule {
    DraftRule {
        rule: ColumnRule::Certain(state),
        possible: (0..n_states).map(|s| s == state).collect(),
        citations: Vec::new(),
    }
}

/// The pieces behind a belief: its own, or its table's; reported if there is neither, or fewer than five.
pub fn seen(
    own: Option<&Placed<f64>>,
    shared: Option<&Placed<f64>>,
    span: Span,
    out: &mut Vec<Diagnostic>,
) -> f64 {
    let Some(seen) = own.or(shared) else {
        out.push(
            Diagnostic::error(
                "pack::seen-left-out",
                "nothing says how much experience is behind this",
                span,
            )
            .hint("add `seen = …` (pieces' worth of experience) here or once for the whole table"),
        );
        return 1.0;
    };
    if own.is_some() {
        report_few_pieces("this rests", own, out);
    }
    seen.value
}

/// The warning about a belief that rests on almost nothing. Below 0 or 0 itself is reported as an error by the reader.
pub fn report_few_pieces(what_rests: &str, seen: Option<&Placed<f64>>, out: &mut Vec<Diagnostic>) {
    let few = seen.filter(|seen| seen.value > 0.0 && seen.value < super::FEWEST_PIECES);
    out.extend(few.map(|seen| {
        let pieces = if seen.value == 1.0 { "piece" } else { "pieces" };
        Diagnostic::warning(
            "pack::few-pieces",
            format!(
                "{what_rests} on {} {pieces}, fewer than {}",
                seen.value,
                super::FEWEST_PIECES
            ),
            seen.span,
        )
        .hint("a stress run will doubt it strongly; say so in the report, or find more pieces")
    }));
}
