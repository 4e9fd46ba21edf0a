//! A pack with other numbers written to a new folder: only the numbers that differ change, comments and order stay.
//!
//! Every changed belief is found by the line it was read from, and its row gets the new numbers. What was written is then read
//! back and compared number by number, so that a form of row this does not know is refused, not garbled.

mod homes;
mod numbers;

use std::path::{Path, PathBuf};

use toml_edit::{Document, DocumentMut};

use crate::check;
use crate::model::{Belief, BeliefId, Model, Spread};
use crate::pack::PackError;
use crate::source::Sources;
use homes::Homes;
use numbers::put;

/// How far a number read back may lie from the one that was meant: `1 - 0.675` is not `0.325` to the last digit.
const ROUNDING: f64 = 1e-14;

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
    let homes = Homes::of(&placed);
    for (id, line) in lines {
        let way = homes.on(line).ok_or_else(|| refuse(id))?;
        put(&mut document, way, stated, changed, id).ok_or_else(|| refuse(id))?;
    }
    Ok(document.to_string())
}

/// Whether what was written says what was meant.
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
            && is_alike(&written.spread, &meant.spread)
            && written.seen == meant.seen;
        if !is_the_same {
            return Err(not_the_same(format!("“{}” differs", meant.about)));
        }
    }
    Ok(())
}

fn is_alike(written: &Spread, meant: &Spread) -> bool {
    let near = |a: f64, b: f64| (a - b).abs() <= ROUNDING * b.abs().max(1.0);
    match (written, meant) {
        (Spread::Categorical { say: a }, Spread::Categorical { say: b }) => {
            a.len() == b.len() && a.iter().zip(b).all(|(&a, &b)| near(a, b))
        }
        (Spread::Normal { mean: a, sd: s }, Spread::Normal { mean: b, sd: t }) => {
            near(*a, *b) && near(*s, *t)
        }
        (written, meant) => written == meant,
    }
}
