//! From a draft to a checked network: the same for every format.

mod cells;

use std::collections::{BTreeSet, HashMap};
use std::ops::Range;

use nalgebra::DMatrix;

use super::draft::{Defects, Draft, DraftTable, DraftVariable, Word};
use super::{MAX_CELLS, MAX_STATES, PublicNetwork, circle};
use crate::diagnostic::{Diagnostic, shorten};
use crate::nearest_name::nearest;
use crate::network::{Cpt, Network, Role, Variable, VariableId};

/// Checks everything that a network needs and builds it.
pub(super) fn assemble(
    draft: Draft<'_>,
    mut defects: Defects,
) -> Result<PublicNetwork, Vec<Diagnostic>> {
    let by_name = index_variables(&draft.variables, &mut defects);
    let states: Vec<HashMap<&str, usize>> = draft
        .variables
        .iter()
        .map(|v| index_states(v, &mut defects))
        .collect();
    let n_states = states.iter().map(HashMap::len).sum::<usize>();
    if n_states > MAX_STATES {
        let message =
            format!("the variables have {n_states} states; at most {MAX_STATES} are read");
        defects.error("network::too-large", message, 0..0);
    }

    let mut tables: Vec<Option<(Cpt, &DraftTable<'_>)>> =
        draft.variables.iter().map(|_| None).collect();
    let mut defined: Vec<Option<Range<usize>>> = vec![None; draft.variables.len()];
    let mut n_cells = 0;
    for table in &draft.tables {
        if defects.is_full() {
            break;
        }
        let Some(child) = find(&table.child, &by_name, draft.lacks_variables, &mut defects) else {
            continue;
        };
        if let Some(first) = &defined[child] {
            let name = shorten(&table.child.text);
            let twice = Diagnostic::error(
                "network::duplicate-table",
                format!("the table of `{name}` is given twice"),
                defects.span(table.child.place()),
            )
            .also(defects.span(first.clone()), "first given here");
            defects.push(twice);
            continue;
        }
        defined[child] = Some(table.child.place());
        let Some(parents) =
            find_parents(table, child, &by_name, draft.lacks_variables, &mut defects)
        else {
            continue;
        };
        let unreadable = |v: &usize| draft.variables[*v].broken || states[*v].is_empty();
        if table.broken || unreadable(&child) || parents.iter().any(unreadable) {
            continue;
        }
        let family = cells::Family {
            child: &draft.variables[child],
            parents: parents.iter().map(|&p| &draft.variables[p]).collect(),
            parent_states: parents.iter().map(|&p| &states[p]).collect(),
        };
        if !admit(&family, table, &mut n_cells, &mut defects) {
            continue;
        }
        if let Some(columns) = cells::fill(&family, table, &mut defects) {
            let cpt = Cpt {
                parents: parents.iter().map(|&p| VariableId::new(p as u32)).collect(),
                table: DMatrix::from_vec(
                    family.n_states(),
                    columns.len() / family.n_states(),
                    columns,
                ),
            };
            tables[child] = Some((cpt, table));
        }
    }
    for (variable, place) in draft.variables.iter().zip(&defined) {
        // A second variable of one name has no table of its own; that it is there twice has been said.
        let is_first = by_name
            .get(variable.name.text.as_ref())
            .is_some_and(|&v| draft.variables[v].name.place() == variable.name.place());
        if place.is_none() && is_first && !draft.lacks_tables {
            let name = shorten(&variable.name.text);
            defects.error(
                "network::missing-table",
                format!("there is no table for `{name}`"),
                variable.name.place(),
            );
        }
    }
    if defects.has_errors() {
        return Err(defects.into_sorted());
    }

    let (cpts, table_properties): (Vec<Cpt>, Vec<Vec<String>>) = tables
        .into_iter()
        .flatten()
        .map(|(cpt, table)| (cpt, table.properties.clone()))
        .unzip();
    let places: Vec<Range<usize>> = draft.variables.iter().map(|v| v.name.place()).collect();
    drop((by_name, states));
    let (variables, variable_properties): (Vec<Variable>, Vec<Vec<String>>) = draft
        .variables
        .into_iter()
        .map(|v| {
            let variable = Variable {
                name: v.name.text.into_owned(),
                states: v.states.into_iter().map(|s| s.text.into_owned()).collect(),
                role: Role::Chance,
            };
            (variable, v.properties)
        })
        .unzip();
    let names: Vec<String> = variables.iter().map(|v| v.name.clone()).collect();
    match Network::new(variables, cpts, Vec::new()) {
        Ok(network) => Ok(PublicNetwork {
            name: draft.name,
            network,
            properties: draft.properties,
            variable_properties,
            table_properties,
            warnings: defects.into_sorted(),
        }),
        Err(error) => {
            let on_circle = circle(&error).and_then(|names| names.first());
            let place = on_circle
                .and_then(|name| names.iter().position(|n| n == name))
                .map_or(0..0, |v| defined[v].clone().unwrap_or(places[v].clone()));
            defects.error("network::circle", shorten_long(&error.to_string()), place);
            Err(defects.into_sorted())
        }
    }
}

/// A circle may run through thousands of variables.
fn shorten_long(message: &str) -> String {
    const LONGEST: usize = 1000;
    match message.char_indices().nth(LONGEST) {
        Some((at, _)) => format!("{}…", &message[..at]),
        None => message.to_owned(),
    }
}

/// Place of each variable; of several of one name, the first.
fn index_variables<'v>(
    variables: &'v [DraftVariable<'_>],
    defects: &mut Defects,
) -> HashMap<&'v str, usize> {
    let mut by_name: HashMap<&str, usize> = HashMap::with_capacity(variables.len());
    for (v, variable) in variables.iter().enumerate() {
        let name = variable.name.text.as_ref();
        if let Some(&first) = by_name.get(name) {
            let twice = Diagnostic::error(
                "network::duplicate-variable",
                format!("the variable `{}` is there twice", shorten(name)),
                defects.span(variable.name.place()),
            )
            .also(defects.span(variables[first].name.place()), "first here");
            defects.push(twice);
        } else {
            by_name.insert(name, v);
        }
    }
    by_name
}

fn index_states<'v>(
    variable: &'v DraftVariable<'_>,
    defects: &mut Defects,
) -> HashMap<&'v str, usize> {
    let mut by_name: HashMap<&str, usize> = HashMap::with_capacity(variable.states.len());
    if variable.states.is_empty() && !variable.broken {
        let name = shorten(&variable.name.text);
        defects.error(
            "network::no-states",
            format!("the variable `{name}` has no states"),
            variable.name.place(),
        );
    }
    for (s, state) in variable.states.iter().enumerate() {
        if let Some(&first) = by_name.get(state.text.as_ref()) {
            let twice = Diagnostic::error(
                "network::duplicate-state",
                format!(
                    "`{}` has the state `{}` twice",
                    shorten(&variable.name.text),
                    shorten(&state.text)
                ),
                defects.span(state.place()),
            )
            .also(defects.span(variable.states[first].place()), "first here");
            defects.push(twice);
        } else {
            by_name.insert(state.text.as_ref(), s);
        }
    }
    by_name
}

/// Looks a name up. If the draft `lacks` variables, one that is not there need not be said again.
fn find(
    word: &Word<'_>,
    by_name: &HashMap<&str, usize>,
    lacks: bool,
    defects: &mut Defects,
) -> Option<usize> {
    let found = by_name.get(word.text.as_ref()).copied();
    if found.is_none() && !lacks {
        let names: BTreeSet<&str> = by_name.keys().copied().collect();
        let unknown = Diagnostic::error(
            "network::unknown-variable",
            format!("there is no variable `{}`", shorten(&word.text)),
            defects.span(word.place()),
        )
        .did_you_mean(nearest(&word.text, names));
        defects.push(unknown);
    }
    found
}

fn find_parents(
    table: &DraftTable<'_>,
    child: usize,
    by_name: &HashMap<&str, usize>,
    lacks: bool,
    defects: &mut Defects,
) -> Option<Vec<usize>> {
    let mut parents = Vec::with_capacity(table.parents.len());
    let mut seen = BTreeSet::new();
    for word in &table.parents {
        let parent = find(word, by_name, lacks, defects)?;
        let name = shorten(&word.text);
        if parent == child {
            let message = format!("`{name}` depends on itself");
            defects.error("network::circle", message, word.place());
            return None;
        }
        if !seen.insert(parent) {
            let message = format!("the parent `{name}` is named twice");
            defects.error("network::duplicate-parent", message, word.place());
            return None;
        }
        parents.push(parent);
    }
    Some(parents)
}

/// Whether the table fits with those before it; its size is known before any of it is made.
fn admit(
    family: &cells::Family<'_, '_>,
    table: &DraftTable<'_>,
    n_cells: &mut usize,
    defects: &mut Defects,
) -> bool {
    let cells = family
        .parents
        .iter()
        .fold(family.n_states() as u128, |n, p| {
            n.saturating_mul(p.states.len() as u128)
        });
    if cells + *n_cells as u128 > MAX_CELLS as u128 {
        let name = shorten(&table.child.text);
        let too_large = Diagnostic::error(
            "network::too-large",
            format!("the table of `{name}` has {cells} cells"),
            defects.span(table.child.place()),
        )
        .hint(format!(
            "the tables of a file may have {MAX_CELLS} cells together; those before this one have {n_cells}"
        ));
        defects.push(too_large);
        return false;
    }
    *n_cells += cells as usize;
    true
}
