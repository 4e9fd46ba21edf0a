//! Observers: how well each reads which clue.
//!
//! The variable of a clue holds the state itself. An observer who reads it with a stated reliability gets a variable of the
//! reading below it, so that two observers' codings are two noisy readings of one state: they hang together through it,
//! and through the engraving or whatever else the state depends on.

use super::draft::{Draft, DraftId, DraftRule, DraftTable, Gaps, report_few_pieces};
use super::names;
use super::rows::{self, say};
use crate::diagnostic::Diagnostic;
use crate::model::belief::{BeliefId, Spread};
use crate::model::column::ColumnRule;
use crate::model::column::misreading::Misreading;
use crate::network::Role;
use crate::pack::text::{
    Observer as ObserverText, Observers as ObserversText, PackText, Placed, Reads, RowBody, Word,
};

/// Other clues than those an observer reads with a stated reliability.
const OTHERWISE: [&str; 2] = ["as the tables say", "not asked"];

/// What the check declared of the observers.
pub struct Observers {
    /// Whose the findings are that name nobody.
    pub default: Option<usize>,
    /// For each observer, the clues read with a stated reliability and the variable of the reading.
    pub readings: Vec<Vec<(String, DraftId)>>,
}

/// Declares the readings and their tables. Everything that is read is declared before.
pub fn tables(
    text: &ObserversText,
    pack: &PackText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Observers {
    names::report_duplicates("observer", text.observers.iter().map(|o| &o.id), out);
    let ids = || text.observers.iter().map(|o| o.id.value.as_str());
    let default = text
        .default
        .as_ref()
        .and_then(|word| names::find("observer", word, ids(), out));
    if text.observers.is_empty() {
        out.push(
            Diagnostic::error(
                "pack::missing",
                "observers.toml names no observer",
                text.span,
            )
            .hint("add an `[[observer]]`, or take the file out"),
        );
    }
    let coded = coded_clues(pack);
    let mut readings = Vec::new();
    for observer in &text.observers {
        if let Some(word) = &observer.otherwise {
            names::find(
                "way to take an observer's other readings",
                word,
                OTHERWISE,
                out,
            );
        }
        let clues = || observer.reads.iter().flat_map(|reads| &reads.clues);
        names::report_duplicates("clue of this observer", clues(), out);
        let mut own = Vec::new();
        for reads in &observer.reads {
            own.extend(read_by(observer, reads, &coded, draft, out));
        }
        readings.push(own);
    }
    Observers { default, readings }
}

/// The clues that are coded by eye. A circumstance and a size must be known for sure, and a measured value errs as its
/// instrument does.
fn coded_clues(pack: &PackText) -> Vec<&str> {
    let marks = pack.marks.iter().map(|m| &m.reading);
    let codings = pack.engravings.iter().flat_map(|e| &e.codings);
    let clues = pack.clues.iter().filter(|clue| clue.weighing.is_none());
    marks
        .chain(codings.map(|c| &c.clue))
        .chain(clues)
        .map(|clue| clue.id.value.as_str())
        .collect()
}

/// A row of a table of readings.
enum RowRule {
    /// One chance of reading right, whatever the state, and its citation.
    Right(BeliefId, String),
    /// Right for certain.
    Exact(String),
    /// What is recorded, state by state.
    Recorded(DraftRule),
}

fn read_by(
    observer: &ObserverText,
    reads: &Reads,
    coded: &[&str],
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Vec<(String, DraftId)> {
    if reads.clues.is_empty() {
        out.push(
            Diagnostic::error(
                "pack::missing",
                format!("nothing says which clues `{}` reads so", observer.id.value),
                reads.span,
            )
            .hint("add `clues = [\"…\", \"…\"]`"),
        );
    }
    let parents = draft.parents(&reads.table.depends_on, out);
    report_few_pieces("these rows rest", reads.table.seen.as_ref(), out);
    let mut clues: Vec<(DraftId, &Word)> = Vec::new();
    for word in &reads.clues {
        if names::find(
            "clue that is coded by eye",
            word,
            coded.iter().copied(),
            out,
        )
        .is_some()
            && let Some(id) = draft.find(&word.value)
            && draft.variables[id].role == Role::Chance
        {
            clues.push((id, word));
        }
    }
    let n_reports = out.len();
    let rows = row_rules(observer, reads, &clues, draft, out);
    rows::merge_seen_left_out(n_reports, out);
    let mut read = Vec::new();
    for (place, &(clue, word)) in clues.iter().enumerate() {
        let mut all = vec![clue];
        all.extend(parents.iter().copied().filter(|&p| p != clue));
        if draft.n_configurations(&all).is_none() {
            out.push(rows::too_many_cases(&word.value, &reads.table));
            continue;
        }
        // What is wrong with the rows is the same for every clue of the list.
        let mut said = Vec::new();
        let fit = rows::first_fit(&reads.table, &rows::parent_views(draft, &all), &mut said);
        if place == 0 {
            out.extend(said);
        }
        let sound = fit.sound && rows.iter().all(Option::is_some);
        let n_states = draft.variables[clue].states.len();
        let faster: usize = all[1..]
            .iter()
            .map(|&p| draft.variables[p].states.len())
            .product();
        let mut rules = Vec::new();
        let mut rule_of = std::collections::BTreeMap::new();
        let rule_of_configuration = fit
            .row_of_configuration
            .iter()
            .enumerate()
            .map(|(configuration, row)| {
                let row = (*row)?;
                let state = configuration / faster.max(1);
                let rule = rows[row].as_ref()?;
                Some(*rule_of.entry((row, state)).or_insert_with(|| {
                    rules.push(rule.of_state(state, n_states, draft));
                    rules.len() - 1
                }))
            })
            .collect();
        let name = Placed {
            value: format!("{} read by {}", word.value, observer.id.value),
            span: word.span,
        };
        // An observer need not use every word there is.
        let states = draft.variables[clue].states.iter().map(|state| Placed {
            value: state.value.clone(),
            span: word.span,
        });
        let states = states.collect();
        let about = format!(
            "{} as {} reads it",
            draft.variables[clue].about, observer.id.value
        );
        let id = draft.declare(name, &about, states, false);
        let table = DraftTable {
            rules,
            rule_of_configuration,
            place: reads.span,
            gaps: Gaps::Report.if_sound(sound),
        };
        draft.set_table(id, all, table);
        read.push((word.value.clone(), id));
    }
    read
}

fn row_rules(
    observer: &ObserverText,
    reads: &Reads,
    clues: &[(DraftId, &Word)],
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Vec<Option<RowRule>> {
    let names: Vec<&str> = reads.clues.iter().map(|c| c.value.as_str()).collect();
    let about = format!(
        "right reading by {} of {}",
        observer.id.value,
        names.join(", ")
    );
    let mut rules = Vec::new();
    for row in &reads.table.rows {
        rules.push(match &row.body {
            None => None,
            Some(RowBody::Single(chance)) => {
                say::single(chance, 2, out).map(|say| {
                    let citation = draft.citation(row.span);
                    if say[0] == 1.0 {
                        return RowRule::Exact(citation);
                    }
                    let seen = rows::row_seen(row, &reads.table, out);
                    let about = rows::describe(&about, row);
                    let spread = Spread::Categorical { say };
                    RowRule::Right(draft.belief(about, spread, seen, row.span), citation)
                })
            }
            Some(RowBody::States(said)) if reads.clues.len() == 1 => clues.first().and_then(|&(clue, word)| {
                let states = draft.variables[clue].states.clone();
                let say = say::say_chances(said, &states, out)?;
                let seen = rows::row_seen(row, &reads.table, out);
                let about = format!("{} as {} reads it", word.value, observer.id.value);
                let about = rows::describe(&about, row);
                Some(RowRule::Recorded(draft.categorical(about, say, seen, row.span)))
            }),
            Some(_) => {
                out.push(
                    Diagnostic::error(
                        "pack::row-form",
                        "how well several clues are read is one chance of a right reading",
                        row.span,
                    )
                    .hint("write `say = \"92%\"`, or give each clue an entry of its own to say which states are confused"),
                );
                None
            }
        });
    }
    rules
}

impl RowRule {
    /// The column P(recorded | this state).
    fn of_state(&self, state: usize, n_states: usize, draft: &Draft<'_>) -> DraftRule {
        match self {
            Self::Exact(citation) => DraftRule {
                citations: vec![citation.clone()],
                ..super::draft::certain(state, n_states)
            },
            Self::Recorded(rule) => rule.clone(),
            Self::Right(right, citation) => {
                let Spread::Categorical { say } = &draft.beliefs.get(*right).spread else {
                    return super::draft::certain(state, n_states);
                };
                DraftRule {
                    possible: (0..n_states)
                        .map(|s| n_states == 1 || say[usize::from(s != state)] > 0.0)
                        .collect(),
                    rule: ColumnRule::Misreading(Misreading {
                        usual: state,
                        right: *right,
                    }),
                    citations: vec![citation.clone()],
                }
            }
        }
    }
}
