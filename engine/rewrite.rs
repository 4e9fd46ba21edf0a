//! A pack with other numbers written to a new folder: only the numbers that differ change, comments and order stay.
//!
//! Every changed belief is found by the line it was read from, and its row gets the new numbers. What was written is then read
//! back and compared number by number, so that a form of row this does not know is refused, not garbled.

use std::path::{Path, PathBuf};

use toml_edit::{Array, Document, DocumentMut, InlineTable, Item, Table, Value};

use crate::check;
use crate::model::chance_names::chance_names;
use crate::model::{Belief, BeliefId, Model, Spread};
use crate::pack::PackError;
use crate::source::Sources;

/// Why a pack was not written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RewriteError {
    /// The folder is there already.
    #[error("`{0}` is there already; save under another name, or take it away first")]
    Exists(String),
    /// A file could not be read or written.
    #[error("`{path}`: {cause}")]
    File {
        /// The file.
        path: String,
        /// What the system says.
        cause: std::io::Error,
    },
    /// A row in a form that cannot be written by a program.
    #[error(
        "“{about}” ({citation}) is written in a form that only a person can change; change it by hand"
    )]
    Form {
        /// What the belief is about.
        about: String,
        /// Where it stands.
        citation: String,
    },
    /// The pack that was written does not say what was meant.
    #[error(
        "the pack as written does not come out as it was meant ({what}); change the prior files by hand"
    )]
    NotTheSame {
        /// The first difference.
        what: String,
    },
    /// The pack that was written cannot be read.
    #[error(transparent)]
    Pack(#[from] PackError),
}

/// Writes the pack of a folder anew, with the numbers of a changed model, to a folder that is not there yet.
///
/// # Errors
/// [`RewriteError`]; then nothing is left behind.
pub fn save(stated: &Model, changed: &Model, from: &Path, to: &Path) -> Result<(), RewriteError> {
    if to.exists() {
        return Err(RewriteError::Exists(to.display().to_string()));
    }
    let name = to.file_name().unwrap_or_default().to_string_lossy();
    let unfinished = to.with_file_name(format!(".{name}.{}.unfinished", std::process::id()));
    let done = write(stated, changed, from, &unfinished)
        .and_then(|()| compare(changed, &unfinished))
        .and_then(|()| std::fs::rename(&unfinished, to).map_err(|cause| told(to, cause)));
    if done.is_err() {
        // What went wrong is told; that the rest could not be cleared away would say less.
        let _ = std::fs::remove_dir_all(&unfinished);
    }
    done
}

fn told(path: &Path, cause: std::io::Error) -> RewriteError {
    RewriteError::File {
        path: path.display().to_string(),
        cause,
    }
}

fn write(stated: &Model, changed: &Model, from: &Path, to: &Path) -> Result<(), RewriteError> {
    std::fs::create_dir(to).map_err(|cause| told(to, cause))?;
    let entries = std::fs::read_dir(from).map_err(|cause| told(from, cause))?;
    let mut paths: Vec<PathBuf> = entries.filter_map(Result::ok).map(|e| e.path()).collect();
    paths.sort();
    for path in paths.iter().filter(|path| path.is_file()) {
        let name = path.file_name().unwrap_or_default();
        let target = to.join(name);
        if path.extension().is_none_or(|ending| ending != "toml") {
            std::fs::copy(path, &target).map_err(|cause| told(path, cause))?;
            continue;
        }
        let text = std::fs::read_to_string(path).map_err(|cause| told(path, cause))?;
        let text = rewritten(stated, changed, &name.to_string_lossy(), text)?;
        std::fs::write(&target, text).map_err(|cause| told(&target, cause))?;
    }
    Ok(())
}

/// One file with its changed beliefs.
fn rewritten(
    stated: &Model,
    changed: &Model,
    file: &str,
    text: String,
) -> Result<String, RewriteError> {
    let differs = |(id, belief): &(BeliefId, &Belief)| {
        let now = changed.beliefs.get(*id);
        now.spread != belief.spread || now.seen != belief.seen
    };
    let lines = stated
        .beliefs
        .iter()
        .filter(differs)
        .filter_map(|(id, belief)| {
            let (path, line) = belief.citation.rsplit_once(':')?;
            let is_here = Path::new(path).file_name().is_some_and(|name| name == file);
            Some((id, is_here.then(|| line.parse::<usize>().ok()).flatten()?))
        });
    let lines: Vec<(BeliefId, usize)> = lines.collect();
    if lines.is_empty() {
        return Ok(text);
    }
    let refuse = |id: BeliefId| {
        let belief = stated.beliefs.get(id);
        RewriteError::Form {
            about: belief.about.clone(),
            citation: belief.citation.clone(),
        }
    };
    let first = lines[0].0;
    let (Ok(placed), Ok(mut document)) =
        (Document::parse(text.as_str()), text.parse::<DocumentMut>())
    else {
        return Err(refuse(first));
    };
    for (id, line) in lines {
        let mut found = Vec::new();
        rows(placed.as_table(), &text, line, &mut Vec::new(), &mut found);
        // Of rows on one line none can be told from the other.
        let [path] = &found[..] else {
            return Err(refuse(id));
        };
        let row = at(document.as_table_mut(), path).ok_or_else(|| refuse(id))?;
        put(row, stated, changed, id).ok_or_else(|| refuse(id))?;
    }
    Ok(document.to_string())
}

/// A step on the way to a row.
#[derive(Clone, Debug)]
enum Step {
    Key(String),
    Place(usize),
}

/// The ways to rows that begin on a line: inline tables that say something.
fn rows(table: &Table, text: &str, line: usize, way: &mut Vec<Step>, found: &mut Vec<Vec<Step>>) {
    for (key, item) in table.iter() {
        way.push(Step::Key(key.to_owned()));
        match item {
            Item::Table(inner) => rows(inner, text, line, way, found),
            Item::ArrayOfTables(tables) => {
                for (place, inner) in tables.iter().enumerate() {
                    way.push(Step::Place(place));
                    rows(inner, text, line, way, found);
                    way.pop();
                }
            }
            Item::Value(Value::Array(array)) => rows_of(array, text, line, way, found),
            Item::Value(Value::InlineTable(row)) if is_row(row, text, line) => {
                found.push(way.clone());
            }
            _ => {}
        }
        way.pop();
    }
}

fn rows_of(array: &Array, text: &str, line: usize, way: &[Step], found: &mut Vec<Vec<Step>>) {
    for (place, value) in array.iter().enumerate() {
        if let Value::InlineTable(row) = value
            && is_row(row, text, line)
        {
            let mut way = way.to_vec();
            way.push(Step::Place(place));
            found.push(way);
        }
    }
}

fn is_row(row: &InlineTable, text: &str, line: usize) -> bool {
    let says = row.contains_key("say") || row.contains_key("mean");
    let begins = row
        .span()
        .map(|span| 1 + text[..span.start].matches('\n').count());
    says && begins == Some(line)
}

fn at<'a>(table: &'a mut Table, way: &[Step]) -> Option<&'a mut InlineTable> {
    let (Step::Key(key), rest) = way.split_first()? else {
        return None;
    };
    match (table.get_mut(key)?, rest) {
        (Item::Table(inner), rest) => at(inner, rest),
        (Item::ArrayOfTables(tables), [Step::Place(place), rest @ ..]) => {
            at(tables.get_mut(*place)?, rest)
        }
        (Item::Value(Value::Array(array)), [Step::Place(place)]) => {
            array.get_mut(*place)?.as_inline_table_mut()
        }
        (Item::Value(value), []) => value.as_inline_table_mut(),
        _ => None,
    }
}

/// Puts the changed numbers of a belief into its row.
fn put(row: &mut InlineTable, stated: &Model, changed: &Model, id: BeliefId) -> Option<()> {
    let (was, now) = (stated.beliefs.get(id), changed.beliefs.get(id));
    match (&was.spread, &now.spread) {
        (Spread::Categorical { say: was }, Spread::Categorical { say: now }) => {
            let names = chance_names(stated, id);
            match row.get_mut("say") {
                Some(Value::InlineTable(say)) => {
                    let cells = names.iter().zip(was).zip(now);
                    for ((name, _), now) in cells.filter(|((_, was), now)| was != now) {
                        set(say, name, *now);
                    }
                }
                Some(_) if was != now => set(row, "say", *now.first()?),
                Some(_) => {}
                None => return None,
            }
        }
        (Spread::Normal { mean, sd }, Spread::Normal { mean: m, sd: s }) => {
            if mean != m {
                set(row, "mean", *m);
            }
            if sd != s {
                set(row, "sd", *s);
            }
        }
        (was, now) if was == now => {}
        _ => return None,
    }
    if was.seen != now.seen {
        set(row, "seen", now.seen);
    }
    Some(())
}

/// Sets a number, with the blanks and comments around the old one; a new one goes to the end of the row.
fn set(row: &mut InlineTable, key: &str, number: f64) {
    let mut value = Value::from(number);
    if let Some(old) = row.get_mut(key) {
        *value.decor_mut() = old.decor().clone();
        *old = value;
        return;
    }
    // The blank before the bracket belongs behind what is now the last.
    let last = row.iter().last().map(|(key, _)| key.to_owned());
    let blank = last.and_then(|last| {
        let decor = row.get_mut(&last)?.decor_mut();
        let blank = decor.suffix().cloned();
        decor.set_suffix("");
        blank
    });
    value.decor_mut().set_prefix(" ");
    if let Some(blank) = blank {
        value.decor_mut().set_suffix(blank);
    }
    row.insert(key, value);
}

/// Whether what was written says what was meant, to the last digit.
fn compare(changed: &Model, folder: &Path) -> Result<(), RewriteError> {
    let (mut sources, mut found) = (Sources::default(), Vec::new());
    let model = check::load(folder, &mut sources, &mut found)?;
    let not_the_same = |what: String| RewriteError::NotTheSame { what };
    let Some(model) = model else {
        let first = found.first().map(|d| d.message.clone());
        return Err(not_the_same(first.unwrap_or_default()));
    };
    if model.beliefs.len() != changed.beliefs.len() {
        return Err(not_the_same("it holds other beliefs".to_owned()));
    }
    for ((_, written), (_, meant)) in model.beliefs.iter().zip(changed.beliefs.iter()) {
        let is_the_same = written.about == meant.about
            && written.spread == meant.spread
            && written.seen == meant.seen;
        if !is_the_same {
            return Err(not_the_same(format!("“{}” differs", meant.about)));
        }
    }
    Ok(())
}
