//! The cells of one table, from whatever the file gives: the whole, rows, or a default.

use std::collections::HashMap;
use std::ops::Range;

use crate::diagnostic::{Diagnostic, shorten};
use crate::interchange::draft::{Defects, DraftTable, DraftVariable, EntryKind, Number, Word};
use crate::interchange::{ROUNDING, SUM_TOLERANCE};
use crate::nearest_name::nearest;

/// A variable with its parents.
pub(super) struct Family<'d, 'a> {
    pub child: &'d DraftVariable<'a>,
    pub parents: Vec<&'d DraftVariable<'a>>,
    /// Place of each state of each parent.
    pub parent_states: Vec<&'d HashMap<&'d str, usize>>,
}

impl Family<'_, '_> {
    pub fn n_states(&self) -> usize {
        self.child.states.len()
    }

    /// Admitted tables are small, so the product does not overflow.
    fn n_configurations(&self) -> usize {
        self.parents.iter().map(|p| p.states.len()).product()
    }

    fn name(&self) -> String {
        shorten(&self.child.name.text)
    }

    /// `a = x, b = y` for a configuration.
    fn describe(&self, configuration: usize) -> String {
        let mut rest = configuration;
        let mut words: Vec<String> = self
            .parents
            .iter()
            .rev()
            .map(|parent| {
                let state = &parent.states[rest % parent.states.len()].text;
                rest /= parent.states.len();
                format!("{} = {}", shorten(&parent.name.text), shorten(state))
            })
            .collect();
        words.reverse();
        words.join(", ")
    }

    /// The configuration that a row names; `None` if it names none, which has then been said.
    fn configuration(
        &self,
        words: &[Word<'_>],
        place: &Range<usize>,
        defects: &mut Defects,
    ) -> Option<usize> {
        if words.len() != self.parents.len() {
            let message = format!(
                "the row names {}, but `{}` has {}",
                counted(words.len(), "state"),
                self.name(),
                counted(self.parents.len(), "parent")
            );
            let wrong = Diagnostic::error("network::row", message, defects.span(place.clone()))
                .hint("a name with a comma or a space in it must stand in double quotes");
            defects.push(wrong);
            return None;
        }
        let mut index = 0;
        for ((word, parent), states) in words.iter().zip(&self.parents).zip(&self.parent_states) {
            let Some(&state) = states.get(word.text.as_ref()) else {
                let message = format!(
                    "`{}` has no state `{}`",
                    shorten(&parent.name.text),
                    shorten(&word.text)
                );
                let known = parent.states.iter().map(|s| s.text.as_ref());
                let unknown = Diagnostic::error(
                    "network::unknown-state",
                    message,
                    defects.span(word.place()),
                )
                .did_you_mean(nearest(&word.text, known));
                defects.push(unknown);
                return None;
            };
            index = index * parent.states.len() + state;
        }
        Some(index)
    }
}

/// All cells, column by column, the last parent fastest among the columns; `None` if something is wrong.
pub(super) fn fill(
    family: &Family<'_, '_>,
    table: &DraftTable<'_>,
    defects: &mut Defects,
) -> Option<Vec<f64>> {
    let mut sums = Sums::default();
    let whole = table
        .entries
        .iter()
        .position(|e| matches!(e.kind, EntryKind::Whole { .. }));
    let columns = match whole {
        Some(_) if table.entries.len() > 1 => {
            let second = &table.entries[1];
            let twice = Diagnostic::error(
                "network::table",
                format!(
                    "the table of `{}` is given as a whole and again",
                    family.name()
                ),
                defects.span(second.place.clone()),
            )
            .also(
                defects.span(table.entries[0].place.clone()),
                "first given here",
            );
            defects.push(twice);
            None
        }
        Some(at) => whole_table(family, table, at, &mut sums, defects),
        None => rows(family, table, &mut sums, defects),
    };
    sums.warn(family, defects);
    columns
}

fn whole_table(
    family: &Family<'_, '_>,
    table: &DraftTable<'_>,
    at: usize,
    sums: &mut Sums,
    defects: &mut Defects,
) -> Option<Vec<f64>> {
    let entry = &table.entries[at];
    let (n_states, n_columns) = (family.n_states(), family.n_configurations());
    if entry.numbers.len() != n_states * n_columns {
        let message = format!(
            "the table of `{}` has {} instead of {} ({} times {} of the parents)",
            family.name(),
            counted(entry.numbers.len(), "number"),
            n_states * n_columns,
            counted(n_states, "state"),
            counted(n_columns, "configuration"),
        );
        defects.error("network::table-size", message, entry.place.clone());
        return None;
    }
    let child_fastest = matches!(
        entry.kind,
        EntryKind::Whole {
            child_fastest: true
        }
    );
    let cell = |column: usize, state: usize, child_fastest: bool| {
        if child_fastest {
            entry.numbers[column * n_states + state]
        } else {
            entry.numbers[state * n_columns + column]
        }
    };
    let adds_up = |child_fastest: bool| {
        (0..n_columns).all(|c| {
            let sum: f64 = (0..n_states).map(|s| cell(c, s, child_fastest).value).sum();
            (sum - 1.0).abs() <= SUM_TOLERANCE
        })
    };
    // A program that got the order wrong makes every sum wrong; one message then says more than a hundred.
    if n_columns > 1 && !adds_up(child_fastest) && adds_up(!child_fastest) {
        let order = |fastest: bool| if fastest { "fastest" } else { "slowest" };
        let turned = Diagnostic::error(
            "network::table-order",
            format!(
                "the table of `{}` sums to 1 only if its own states turn {}; in this format they turn {}",
                family.name(),
                order(!child_fastest),
                order(child_fastest)
            ),
            defects.span(entry.place.clone()),
        )
        .hint("write one row for each configuration of the parents, or put the numbers in the order of the format");
        defects.push(turned);
        return None;
    }
    let mut columns = Vec::with_capacity(entry.numbers.len());
    let mut is_right = true;
    let mut numbers = Vec::with_capacity(n_states);
    for column in 0..n_columns {
        numbers.clear();
        numbers.extend((0..n_states).map(|s| cell(column, s, child_fastest)));
        match sums.distribution(family, Some(column), &numbers, &entry.place, defects) {
            Some(values) => columns.extend(values),
            None => is_right = false,
        }
        if defects.is_full() {
            return None;
        }
    }
    is_right.then_some(columns)
}

fn rows(
    family: &Family<'_, '_>,
    table: &DraftTable<'_>,
    sums: &mut Sums,
    defects: &mut Defects,
) -> Option<Vec<f64>> {
    let (n_states, n_columns) = (family.n_states(), family.n_configurations());
    let default = table
        .entries
        .iter()
        .position(|e| matches!(e.kind, EntryKind::Default));
    let n_rows = table.entries.len() - usize::from(default.is_some());
    if default.is_none() && n_rows < n_columns {
        // Nothing is made for a table of which most is missing: a few words can promise millions of cells.
        say_missing(family, table, sums, defects);
        return None;
    }
    let mut is_right = true;
    /// Stands for no row; there are far fewer rows than this.
    const NONE: u32 = u32::MAX;
    let mut given = vec![NONE; n_columns];
    let mut columns = vec![0.0; n_states * n_columns];
    if let Some(at) = default {
        let entry = &table.entries[at];
        match sums.distribution(family, None, &entry.numbers, &entry.place, defects) {
            Some(values) => columns
                .chunks_exact_mut(n_states)
                .for_each(|column| column.copy_from_slice(&values)),
            None => is_right = false,
        }
    }
    for (at, entry) in table.entries.iter().enumerate() {
        if defects.is_full() {
            return None;
        }
        let words: &[Word<'_>] = match &entry.kind {
            EntryKind::Row(words) => words,
            EntryKind::Default if Some(at) == default => continue,
            _ => {
                let message = format!("the table of `{}` has a second default", family.name());
                defects.error("network::table", message, entry.place.clone());
                is_right = false;
                continue;
            }
        };
        let Some(column) = family.configuration(words, &entry.place, defects) else {
            is_right = false;
            continue;
        };
        if given[column] != NONE {
            let first = table.entries[given[column] as usize].place.clone();
            let twice = Diagnostic::error(
                "network::duplicate-row",
                format!(
                    "the row {} of `{}` is given twice",
                    family.describe(column),
                    family.name()
                ),
                defects.span(entry.place.clone()),
            )
            .also(defects.span(first), "first given here");
            defects.push(twice);
            is_right = false;
            continue;
        }
        given[column] = at as u32;
        match sums.distribution(family, Some(column), &entry.numbers, &entry.place, defects) {
            Some(values) => columns[column * n_states..][..n_states].copy_from_slice(&values),
            None => is_right = false,
        }
    }
    // Every row named something known and nothing twice, so that there are enough of them means that all are there.
    is_right.then_some(columns)
}

fn say_missing(
    family: &Family<'_, '_>,
    table: &DraftTable<'_>,
    sums: &mut Sums,
    defects: &mut Defects,
) {
    if family.parents.is_empty() {
        let message = format!("the table of `{}` is empty", family.name());
        defects.error("network::missing-row", message, table.child.place());
        return;
    }
    let mut given = std::collections::BTreeSet::new();
    for entry in &table.entries {
        if let EntryKind::Row(words) = &entry.kind {
            match family.configuration(words, &entry.place, defects) {
                Some(column) => {
                    given.insert(column);
                    sums.distribution(family, Some(column), &entry.numbers, &entry.place, defects);
                }
                None => return,
            }
        }
    }
    let n_columns = family.n_configurations();
    let first = (0..n_columns).find(|c| !given.contains(c)).unwrap_or(0);
    let missing = n_columns - given.len();
    let others = match missing {
        0 | 1 => String::new(),
        n => format!(" and {} more", n - 1),
    };
    let message = format!(
        "the table of `{}` has no row for {}{others}",
        family.name(),
        family.describe(first)
    );
    defects.error("network::missing-row", message, table.child.place());
}

/// Distributions that were divided by their sums.
#[derive(Default)]
struct Sums {
    n_divided: usize,
    first: Option<(f64, Range<usize>)>,
}

impl Sums {
    /// The numbers as a distribution, if they are one.
    fn distribution(
        &mut self,
        family: &Family<'_, '_>,
        column: Option<usize>,
        numbers: &[Number],
        place: &Range<usize>,
        defects: &mut Defects,
    ) -> Option<Vec<f64>> {
        let of_whom = || match column {
            Some(column) if !family.parents.is_empty() => {
                format!("`{}` given {}", family.name(), family.describe(column))
            }
            Some(_) => format!("`{}`", family.name()),
            None => format!("`{}` by default", family.name()),
        };
        if numbers.len() != family.n_states() {
            let message = format!(
                "{} for {}, which has {}",
                counted(numbers.len(), "number"),
                of_whom(),
                counted(family.n_states(), "state")
            );
            defects.error("network::row-size", message, place.clone());
            return None;
        }
        if let Some(bad) = numbers
            .iter()
            .find(|n| !n.value.is_finite() || n.value < 0.0)
        {
            let message = format!(
                "{} in the table of {} is no probability",
                bad.value,
                of_whom()
            );
            defects.error("network::not-a-probability", message, bad.place());
            return None;
        }
        let sum: f64 = numbers.iter().map(|n| n.value).sum();
        let off = (sum - 1.0).abs();
        if off <= ROUNDING {
            return Some(numbers.iter().map(|n| n.value).collect());
        }
        let first_to_last = match numbers {
            [first, .., last] if first.place().start <= last.place().start => {
                first.place().start..last.place().end
            }
            _ => place.clone(),
        };
        if off <= SUM_TOLERANCE {
            self.n_divided += 1;
            self.first.get_or_insert((sum, first_to_last));
            return Some(numbers.iter().map(|n| n.value / sum).collect());
        }
        let (more_or_less, by) = if sum < 1.0 {
            ("missing", 1.0 - sum)
        } else {
            ("too much", sum - 1.0)
        };
        let message = format!("the probabilities of {} sum to {sum}", of_whom());
        let wrong = Diagnostic::error("network::row-sum", message, defects.span(first_to_last))
            .label(format!("{} {more_or_less}", short(by)))
            .hint(format!("they must sum to 1 within {SUM_TOLERANCE}"));
        defects.push(wrong);
        None
    }

    fn warn(self, family: &Family<'_, '_>, defects: &mut Defects) {
        let Some((sum, place)) = self.first else {
            return;
        };
        let message = match self.n_divided {
            1 => format!(
                "a distribution of `{}` sums to {sum}; it was divided by its sum",
                family.name()
            ),
            n => format!(
                "{n} distributions of `{}` do not sum to 1 exactly (this one to {sum}); each was divided by its sum",
                family.name()
            ),
        };
        let warning = Diagnostic::warning("network::row-sum", message, defects.span(place));
        defects.push(warning);
    }
}

/// Enough digits of a difference to see its size, without those that rounding made.
fn short(difference: f64) -> String {
    let rounded = format!("{difference:.3e}").parse().unwrap_or(difference);
    format!("{rounded:?}")
}

fn counted(n: usize, what: &str) -> String {
    if n == 1 {
        format!("1 {what}")
    } else {
        format!("{n} {what}s")
    }
}
