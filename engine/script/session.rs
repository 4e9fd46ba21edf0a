//! A session: entries one after another, in one engine, with the variables and functions of all before.

use std::collections::BTreeMap;
use std::sync::Arc;

use rhai::{AST, Dynamic, Engine, EvalAltResult, Expr, Scope, Stmt};

use super::fault::Fault;
use super::handles::PieceHandle;
use super::reference::{self, Topic};
use super::{Run, ScriptFailure, Settings, complete, error, host, lock, on_a_large_stack, results};
use crate::diagnostic::Diagnostic;
use crate::piece::Piece;
use crate::report::Shown;
use crate::source::{SourceId, Sources};
use crate::verdict::standing::Standing as Figures;

/// Entries of a script, one after another. See [`with_session`].
pub struct Session {
    engine: Engine,
    run: Arc<Run>,
    scope: Scope<'static>,
    /// Functions of all entries so far.
    functions: AST,
    n_entries: usize,
    /// The pieces as they were after the last entry, by variable.
    pieces: BTreeMap<String, Piece>,
    topics: Vec<Topic>,
}

/// What came of an entry.
#[derive(Debug)]
pub struct Entered {
    /// Why it failed, if it did.
    pub failure: Option<ScriptFailure>,
    /// What its value has to show.
    pub value: Vec<Shown>,
    /// Where the piece stands that it assigned or changed, if any.
    pub standing: Option<Standing>,
    /// Warnings about packs it opened.
    pub warnings: Vec<Diagnostic>,
}

/// Where a piece stands after an entry.
#[derive(Debug)]
pub struct Standing {
    /// The variable that holds the piece; none if nothing does.
    pub variable: Option<String>,
    /// Leader and date, or why there are none.
    pub figures: Result<Figures, String>,
}

/// Opens a session, on a thread of its own with a stack for the deepest values, and does `work` with it. `show` gets each
/// result as it is shown.
///
/// # Errors
/// If the system gives no thread.
pub fn with_session<R: Send>(
    settings: Settings,
    show: impl Fn(Shown) + Send + Sync + 'static,
    work: impl FnOnce(&mut Session) -> R + Send,
) -> std::io::Result<R> {
    let run = Run::new(settings, Sources::default(), show);
    on_a_large_stack(|| {
        let mut session = Session {
            engine: host::engine(&run),
            scope: host::scope(&run),
            run,
            functions: AST::empty(),
            n_entries: 0,
            pieces: BTreeMap::new(),
            topics: reference::topics(),
        };
        work(&mut session)
    })
}

impl Session {
    /// Opens a pack and puts it into the variable `pack`.
    ///
    /// # Errors
    /// The pack's defects, as for a script that opens it.
    pub fn open(&mut self, name: &str) -> Result<Vec<Diagnostic>, ScriptFailure> {
        let entered = self.enter(&format!("let pack = open_pack({});", quoted(name)));
        match entered.failure {
            Some(failure) => Err(failure),
            None => Ok(entered.warnings),
        }
    }

    /// Runs an entry. It has its own limits of steps, time and what it may show; what it did before it failed stays done.
    pub fn enter(&mut self, text: &str) -> Entered {
        self.run.settings.asked_to_end.take_back();
        self.n_entries += 1;
        let name = format!("entry {}", self.n_entries);
        self.enter_named(&name, text)
    }

    /// The same under a name of its own, such as that of the file it was read from.
    pub fn enter_named(&mut self, name: &str, text: &str) -> Entered {
        self.run.begin();
        let source = lock(&self.run.sources).add(name, text);
        lock(&self.run.entries).push(source);
        if let Some(failure) = error::unclosed(text, source) {
            return Entered {
                failure: Some(failure),
                value: Vec::new(),
                standing: None,
                warnings: Vec::new(),
            };
        }
        let outcome = self.evaluate(text, source);
        // A variable declared again hides the one before, which nobody can reach any more.
        self.scope = self.scope.clone_visible();
        let mut entered = Entered {
            failure: None,
            value: Vec::new(),
            standing: self.changed(),
            warnings: std::mem::take(&mut *lock(&self.run.warnings)),
        };
        match outcome {
            Ok(value) => {
                if entered.standing.is_none()
                    && let Some(piece) = value.read_lock::<PieceHandle>()
                    && !self.pieces.values().any(|known| *known == piece.piece)
                {
                    entered.standing = standing(None, &piece);
                } else {
                    entered.value = results::everything(&value);
                }
            }
            Err(error) => {
                entered.failure = Some(error::failure(&error, source, &self.run, &self.engine));
            }
        }
        entered
    }

    fn evaluate(&mut self, text: &str, source: SourceId) -> Result<Dynamic, Box<EvalAltResult>> {
        let ast = self.engine.compile_with_scope(&self.scope, text)?;
        for function in ast.iter_functions() {
            lock(&self.run.functions).insert(function.name.to_owned(), source);
        }
        let whole = self.functions.merge(&ast);
        self.functions = whole.clone_functions_only();
        let value = self
            .engine
            .eval_ast_with_scope::<Dynamic>(&mut self.scope, &whole)?;
        self.keep_imports(&ast)?;
        Ok(value)
    }

    /// Lets the entries that follow use what this one imported, which Rhai forgets at its end.
    fn keep_imports(&mut self, ast: &AST) -> Result<(), Box<EvalAltResult>> {
        for statement in ast.statements() {
            if let Stmt::Import(import, _) = statement
                && let (Expr::StringConstant(path, at), alias) = &**import
            {
                // It is there already: nothing is read or run again.
                let resolver = self.engine.module_resolver();
                let module = resolver.resolve(&self.engine, None, path, *at)?;
                self.engine.register_static_module(&alias.name, module);
            }
        }
        Ok(())
    }

    /// Every text so far, for rendering diagnostics.
    #[must_use]
    pub fn sources(&self) -> Sources {
        lock(&self.run.sources).clone()
    }

    /// What may stand at the end of a line: where the word begins, and what it may become.
    #[must_use]
    pub fn complete(&self, line: &str) -> (usize, Vec<String>) {
        complete::candidates(line, &self.scope, &self.topics)
    }

    /// The piece that the last entry assigned or changed: the one declared last, if there are several.
    fn changed(&mut self) -> Option<Standing> {
        let mut changed = None;
        let mut pieces = BTreeMap::new();
        for (name, _, value) in self.scope.iter_raw() {
            let Some(piece) = value.read_lock::<PieceHandle>() else {
                continue;
            };
            if self.pieces.get(name) != Some(&piece.piece) {
                changed = Some((name.to_owned(), piece.clone()));
            }
            pieces.insert(name.to_owned(), piece.piece.clone());
        }
        self.pieces = pieces;
        let (name, piece) = changed?;
        standing(Some(name), &piece)
    }
}

/// Where a piece stands; nothing for one of which nothing is noted.
fn standing(variable: Option<String>, piece: &PieceHandle) -> Option<Standing> {
    if piece.piece.findings().is_empty() {
        return None;
    }
    let figures = piece.pack.compiled.standing(&piece.piece);
    Some(Standing {
        variable,
        figures: figures.map_err(|error| Fault::from(error).message().to_owned()),
    })
}

/// A text as a script writes it.
#[must_use]
pub fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}
