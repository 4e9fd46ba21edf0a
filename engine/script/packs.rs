//! `open_pack` and what a pack can be asked.

use std::collections::BTreeMap;
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

use rhai::plugin::export_module;
use rhai::{Array, Dynamic, Engine, FuncRegistration, Map};

use super::fault::{Cause, Fault};
use super::fragments;
use super::handles::{PackHandle, PieceHandle, Raw};
use super::values::WholeNumber;
use super::whole_numbers::whole_number;
use super::{Run, lock};
use crate::check;
use crate::diagnostic::Severity;
use crate::learn::odd::OddCell;
use crate::model::{ClueTarget, CompiledModel, MeasureRules};
use crate::piece::{Piece, PieceError, find_clue};

/// Packs opened so far, by name.
pub(super) type Opened = BTreeMap<String, Arc<CompiledModel>>;

/// Registers `open_pack` and the functions of a pack.
pub(super) fn register(engine: &mut Engine, run: &Arc<Run>) {
    engine.register_type_with_name::<PackHandle>("pack");
    let shared = Arc::clone(run);
    FuncRegistration::new("open_pack")
        .with_params_info(["name: &str", "Raw<PackHandle>"])
        .with_comments(["/// Opens a pack by the name of its folder: `open_pack(\"tidewheel\")`."])
        .register_into_engine(engine, move |name: &str| -> Raw<PackHandle> {
            handle(name, &shared)
        });
    let module = rhai::exported_module!(pack_functions);
    engine.register_global_module(module.into());
}

/// A pack, opened by name.
pub(super) fn handle(name: &str, run: &Arc<Run>) -> Raw<PackHandle> {
    Ok(PackHandle {
        name: name.into(),
        compiled: open(name, run).map_err(Fault::raise)?,
        run: Arc::clone(run),
    })
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod pack_functions {
    use crate::script::handles::RankingHandle;
    use crate::script::one_line;

    /// A new piece to be judged by this pack, nothing noted yet: `pack.piece("the jug from the sale")`.
    #[rhai_fn(return_raw, pure)]
    pub fn piece(pack: &mut PackHandle, title: &str) -> Raw<PieceHandle> {
        Ok(PieceHandle {
            pack: pack.clone(),
            piece: Piece::new(one_line::title(title).map_err(Fault::raise)?),
        })
    }

    /// The pack's marks, ranked by how well each explains what was read: `show(pack.rank_marks("?ROW? & S"))`.
    #[rhai_fn(return_raw, pure)]
    pub fn rank_marks(pack: &mut PackHandle, letters: &str) -> Raw<RankingHandle> {
        fragments::rank(pack, letters, &Map::new())
    }

    /// The same with strike and devices, as for `mark_fragment`: `pack.rank_marks("T?", #{ strike: "faint" })`.
    #[rhai_fn(return_raw, pure, name = "rank_marks")]
    pub fn rank_marks_with(
        pack: &mut PackHandle,
        letters: &str,
        details: Map,
    ) -> Raw<RankingHandle> {
        fragments::rank(pack, letters, &details)
    }

    /// The names of the pack's clues: `for clue in pack.clues() { print(clue); }`.
    #[rhai_fn(pure)]
    pub fn clues(pack: &mut PackHandle) -> Array {
        texts(pack.compiled.model.catalogue.clues.iter().map(|c| &c.id))
    }

    /// The short names of the pack's observers; none if it does not tell them apart: `pack.observers()`.
    #[rhai_fn(pure)]
    pub fn observers(pack: &mut PackHandle) -> Array {
        texts(
            pack.compiled
                .model
                .catalogue
                .observers
                .iter()
                .map(|o| &o.id),
        )
    }

    /// The states of a clue: `pack.states("tint")`.
    #[rhai_fn(return_raw, pure)]
    pub fn states(pack: &mut PackHandle, clue: &str) -> Raw<Array> {
        let model = &pack.compiled.model;
        let clue = find_clue(model, clue).map_err(|e| Fault::from(e).raise())?;
        Ok(texts(model.catalogue.clues[clue].states.iter()))
    }

    /// What every belief of the pack is about, in the order of the files: `pack.beliefs()`.
    #[rhai_fn(pure)]
    pub fn beliefs(pack: &mut PackHandle) -> Array {
        texts(
            pack.compiled
                .model
                .beliefs
                .iter()
                .map(|(_, belief)| &belief.about),
        )
    }

    /// The short codes of the pack's makers: `pack.makers()`.
    #[rhai_fn(pure)]
    pub fn makers(pack: &mut PackHandle) -> Array {
        texts(pack.compiled.model.catalogue.makers.iter().map(|m| &m.id))
    }

    /// The short codes of the pack's periods, in order of time: `pack.periods()`.
    #[rhai_fn(pure)]
    pub fn periods(pack: &mut PackHandle) -> Array {
        texts(pack.compiled.model.catalogue.periods.iter().map(|p| &p.id))
    }

    /// The readings of the pack's collection that are oddest given all others of the same piece, oddest first. Each has
    /// `piece`, `quantity`, `value`, `expected` and `chance`, of a value at least as far out:
    /// `for odd in kilns.odd_readings("oxides", 5) { print(odd.piece); }`.
    #[rhai_fn(return_raw, pure, name = "odd_readings")]
    pub fn odd_readings_of(pack: &mut PackHandle, clue: &str, most: WholeNumber) -> Raw<Array> {
        let most = whole_number(&most, "the number of readings").map_err(Fault::raise)?;
        odd_readings(pack, clue, most).map_err(Fault::raise)
    }
}

fn texts<'a>(names: impl Iterator<Item = &'a String>) -> Array {
    names.map(|name| Dynamic::from(name.clone())).collect()
}

fn odd_readings(pack: &PackHandle, clue: &str, most: i64) -> Result<Array, Fault> {
    let model = &pack.compiled.model;
    let clue = &model.catalogue.clues[find_clue(model, clue)?];
    let learned = match clue.target {
        ClueTarget::Measure(id) => match &model.measures[id.index()] {
            MeasureRules::Learned(learned) => Some(learned),
            _ => None,
        },
        ClueTarget::Variable(_) => None,
    };
    let not_measured = || {
        Fault::from(PieceError::NotMeasuredTogether {
            clue: clue.id.clone(),
        })
    };
    let learned = learned.ok_or_else(not_measured)?;
    let cells = learned
        .odd_cells()
        .map_err(|error| Fault::new(error.to_string()))?;
    let shown = cells.iter().take(usize::try_from(most).unwrap_or(0));
    let entry = |cell: &OddCell| {
        let mut map = rhai::Map::new();
        let piece = learned.names.get(cell.row).cloned().unwrap_or_default();
        map.insert("piece".into(), piece.into());
        map.insert(
            "quantity".into(),
            learned.columns[cell.column].clone().into(),
        );
        map.insert("value".into(), cell.value.into());
        map.insert("expected".into(), cell.expected.into());
        map.insert("chance".into(), cell.ln_tail.exp().into());
        Dynamic::from(map)
    };
    Ok(shown.map(entry).collect())
}

fn open(name: &str, run: &Run) -> Result<Arc<CompiledModel>, Fault> {
    if let Some(opened) = lock(&run.packs).get(name) {
        return Ok(Arc::clone(opened));
    }
    let folder = folder(name, &run.settings.priors)?;
    let mut found = Vec::new();
    let model = check::load(&folder, &mut lock(&run.sources), &mut found)
        .map_err(|error| Fault::new(error.to_string()).of(Cause::Pack))?;
    let Some(model) = model else {
        let defects = found
            .iter()
            .filter(|d| d.severity == Severity::Error)
            .count();
        let defects = match defects {
            1 => "a defect".to_owned(),
            n => format!("{n} defects"),
        };
        return Err(Fault::new(format!("pack `{name}` has {defects}"))
            .hint(format!("`saggar check {}` tells more", folder.display()))
            .of(Cause::Pack)
            .with_diagnostics(found));
    };
    lock(&run.warnings).extend(found);
    let compiled = model
        .compile()
        .map_err(|error| Fault::new(error.to_string()).of(Cause::Pack))?;
    let compiled = Arc::new(compiled);
    lock(&run.packs).insert(name.to_owned(), Arc::clone(&compiled));
    Ok(compiled)
}

/// The folder of a pack. A name is a plain path below the granted folder: no `..`, no absolute path, no link that
/// leads outside.
fn folder(name: &str, priors: &Path) -> Result<PathBuf, Fault> {
    let path = Path::new(name);
    let plain = !name.is_empty() && path.components().all(|c| matches!(c, Component::Normal(_)));
    if !plain {
        return Err(
            Fault::new("a pack is named by its folder, without `..` or a leading `/`")
                .hint("such as open_pack(\"tidewheel\")"),
        );
    }
    let folder = priors.join(path);
    let missing = || {
        let known = known_packs(priors);
        let fault = Fault::new(format!(
            "there is no pack `{}` in `{}`",
            name,
            priors.display()
        ))
        .of(Cause::Pack);
        if known.is_empty() {
            return fault.hint("name the folder that holds your packs: --priors FOLDER");
        }
        fault.nearest_or_known(name, known.iter().map(String::as_str))
    };
    let (Ok(real), Ok(root)) = (folder.canonicalize(), priors.canonicalize()) else {
        return Err(missing());
    };
    if !real.is_dir() {
        return Err(missing());
    }
    let outside = |what: &str| {
        Fault::new(format!("`{what}` leads outside the folder of packs"))
            .hint("put a copy of the pack there, or grant another folder with --priors")
    };
    if !real.starts_with(&root) {
        return Err(outside(name));
    }
    // A message about a defect shows the line at fault, so a linked file would be read out to whoever wrote the script.
    let entries = std::fs::read_dir(&real)
        .map_err(|error| Fault::new(format!("cannot read `{name}`: {error}")).of(Cause::Pack))?;
    // The rules files beside the pack are read with it.
    let beside = folder.parent().map(|parent| parent.join("rules"));
    let rules = beside.and_then(|beside| std::fs::read_dir(beside).ok());
    let mut files: Vec<PathBuf> = entries
        .chain(rules.into_iter().flatten())
        .filter_map(Result::ok)
        .map(|e| e.path())
        .collect();
    files.sort();
    for file in files {
        if !file
            .canonicalize()
            .is_ok_and(|real| real.starts_with(&root))
        {
            // The folder by its own name: the pack's, or `rules`.
            let within = file.parent().and_then(Path::file_name).unwrap_or_default();
            let within = if file.starts_with(&real) {
                name.into()
            } else {
                within.to_string_lossy()
            };
            let file = file.file_name().unwrap_or_default().to_string_lossy();
            return Err(outside(&format!("{within}/{file}")));
        }
    }
    Ok(folder)
}

fn known_packs(priors: &Path) -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(priors) else {
        return Vec::new();
    };
    let folders = entries
        .filter_map(Result::ok)
        .filter(|entry| entry.path().join("pack.toml").is_file());
    let mut names: Vec<String> = folders
        .filter_map(|entry| entry.file_name().into_string().ok())
        .collect();
    names.sort();
    names
}
