//! Imports of other scripts: from the folders granted and nowhere else, in no circle, and not without end.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use rhai::{
    Engine, EvalAltResult, GlobalRuntimeState, Module, ModuleResolver, Position, Scope, Shared,
};

use super::fault::Fault;
use super::limits::MOST_IMPORTS;
use super::{Run, granted, lock};

/// How many files may import one another in a row: each stands on the machine's own stack.
const DEEPEST_IMPORTS: usize = 16;
const ENDING: &str = "rhai";

type Imported = Result<Shared<Module>, Box<EvalAltResult>>;

/// Finds imported scripts.
pub(super) struct Imports {
    run: Arc<Run>,
    seen: Mutex<Seen>,
}

#[derive(Default)]
struct Seen {
    loaded: BTreeMap<PathBuf, Shared<Module>>,
    /// The files that are being read, each imported by the one before, and their names.
    loading: Vec<(PathBuf, String)>,
}

impl Imports {
    pub(super) fn new(run: &Arc<Run>) -> Self {
        Self {
            run: Arc::clone(run),
            seen: Mutex::default(),
        }
    }

    fn import(&self, engine: &Engine, global: &mut GlobalRuntimeState, name: &str) -> Imported {
        let file = self.file(name).map_err(Fault::raise)?;
        {
            let mut seen = lock(&self.seen);
            if let Some(module) = seen.loaded.get(&file) {
                return Ok(Shared::clone(module));
            }
            if let Some(first) = seen.loading.iter().position(|(known, _)| *known == file) {
                let circle = seen.loading[first..]
                    .iter()
                    .map(|(_, name)| format!("`{name}`"));
                let circle: Vec<String> = circle.chain([format!("`{name}`")]).collect();
                let message = format!("imports go round in a circle: {}", circle.join(" imports "));
                return Err(Fault::new(message)
                    .hint("put what both need into a third file")
                    .raise());
            }
            if seen.loading.len() >= DEEPEST_IMPORTS {
                let message =
                    format!("more than {DEEPEST_IMPORTS} files import one another in a row");
                return Err(Fault::limit(message).raise());
            }
            if seen.loaded.len() >= MOST_IMPORTS {
                let message = format!("a script may import {MOST_IMPORTS} files");
                return Err(Fault::limit(message).raise());
            }
            seen.loading.push((file.clone(), name.to_owned()));
        }
        let module = self.load(engine, global, &file);
        let mut seen = lock(&self.seen);
        seen.loading.pop();
        let module = module?;
        seen.loaded.insert(file, Shared::clone(&module));
        Ok(module)
    }

    fn load(&self, engine: &Engine, global: &mut GlobalRuntimeState, file: &Path) -> Imported {
        let (shown, text) = {
            let mut sources = lock(&self.run.sources);
            let id = sources
                .read(file)
                .map_err(|error| Fault::new(error.to_string()).raise())?;
            let read = sources.file(id);
            (read.name.clone(), read.text.clone())
        };
        let within = |error: Box<EvalAltResult>| {
            // Limits end the whole script, wherever they are met.
            if error.is_system_exception() && !matches!(*error, EvalAltResult::ErrorParsing(..)) {
                return error;
            }
            Box::new(EvalAltResult::ErrorInModule(
                shown.clone(),
                error,
                Position::NONE,
            ))
        };
        let mut ast = engine
            .compile(&text)
            .map_err(|error| within(error.into()))?;
        ast.set_source(shown.as_str());
        // The steps of the imported file count among those of the script.
        let mut module =
            Module::eval_ast_as_new_raw(engine, &mut Scope::new(), global, &ast).map_err(within)?;
        module.build_index();
        Ok(module.into())
    }

    /// The file of that name in the first folder that has it.
    fn file(&self, name: &str) -> Result<PathBuf, Fault> {
        let folders = &self.run.settings.imports;
        if folders.is_empty() {
            return Err(Fault::new("scripts cannot import other files here"));
        }
        let path = granted::plain(name).ok_or_else(|| {
            Fault::new("an imported script is named without `..` and without a leading `/`")
                .hint(format!("it lies in {}", granted::shown(folders)))
        })?;
        let path = match path.extension() {
            Some(ending) if ending == ENDING => path.to_owned(),
            _ => PathBuf::from(format!("{name}.{ENDING}")),
        };
        let outside = |granted::Outside| {
            Fault::new(format!("`{name}` leads outside the folder of scripts"))
                .hint("put a copy of the script there")
        };
        if let Some(file) = granted::find(&path, folders).map_err(outside)? {
            return Ok(file);
        }
        let folders_there = folders
            .iter()
            .filter_map(|folder| granted::real(folder).ok());
        let known: Vec<String> = folders_there
            .flat_map(|folder| scripts_in(&folder))
            .collect();
        let fault = Fault::new(format!(
            "there is no script `{}` in {}",
            path.display(),
            granted::shown(folders)
        ));
        if known.is_empty() {
            return Err(fault);
        }
        Err(fault.nearest_or_known(name, known.iter().map(String::as_str)))
    }
}

/// Names that can be imported from a folder.
fn scripts_in(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).into_iter().flatten();
    let paths = entries.filter_map(Result::ok).map(|entry| entry.path());
    let scripts = paths.filter(|path| path.extension().is_some_and(|ending| ending == ENDING));
    let mut names: Vec<String> = scripts
        .filter_map(|path| Some(path.file_stem()?.to_str()?.to_owned()))
        .collect();
    names.sort();
    names.truncate(20);
    names
}

impl ModuleResolver for Imports {
    fn resolve(&self, engine: &Engine, _: Option<&str>, path: &str, at: Position) -> Imported {
        let mut global = engine.new_global_runtime_state();
        self.import(engine, &mut global, path)
            .map_err(|error| placed(error, at))
    }

    fn resolve_raw(
        &self,
        engine: &Engine,
        global: &mut GlobalRuntimeState,
        _: &mut Scope,
        path: &str,
        at: Position,
    ) -> Imported {
        self.import(engine, global, path)
            .map_err(|error| placed(error, at))
    }
}

/// An error with the place of the import, if it has none of its own.
fn placed(mut error: Box<EvalAltResult>, at: Position) -> Box<EvalAltResult> {
    match error.as_mut() {
        EvalAltResult::ErrorRuntime(value, place) if place.is_none() && value.is::<Fault>() => {
            *place = at
        }
        EvalAltResult::ErrorInModule(_, _, place) if place.is_none() => *place = at,
        _ => {}
    }
    error
}
