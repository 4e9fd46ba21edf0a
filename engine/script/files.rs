//! Files that a script may read and write: below the folders granted, and nowhere else.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::Ordering;

use rhai::plugin::export_module;
use rhai::{Array, Dynamic, Engine, FuncRegistration, Map};

use super::fault::Fault;
use super::handles::Raw;
use super::values::WholeNumber;
use super::whole_numbers::whole_number;
use super::{Run, granted, lock};
use crate::printable::steering;
use crate::source::Sources;

/// Bytes of a table that is read.
const LARGEST_TABLE: u64 = 16 << 20;
/// Columns of a table, each of which is an entry of the map of every row.
const MOST_COLUMNS: usize = 1000;
/// Tables kept in case they are read again.
const MOST_TABLES_KEPT: usize = 4;
/// Bytes that a script may write in all.
const MOST_WRITTEN: u64 = 64 << 20;
/// What a file counts as, however little is in it.
const WRITTEN_AT_LEAST: u64 = 16 << 10;

/// The rows of a table. They stand outside the limits of lists and maps, of which a script gets one row at a time.
#[derive(Clone)]
pub(super) struct Rows(Arc<Table>);

struct Table {
    columns: Vec<String>,
    /// All cells behind one another, without the spaces around them.
    text: String,
    /// Where each cell ends, row by row.
    ends: Vec<u32>,
}

impl Rows {
    fn len(&self) -> usize {
        self.0.ends.len() / self.0.columns.len().max(1)
    }

    fn row(&self, index: usize) -> Option<Map> {
        let table = &*self.0;
        let first = index.checked_mul(table.columns.len())?;
        let ends = table.ends.get(first..first + table.columns.len())?;
        let mut start = match first {
            0 => 0,
            first => table.ends[first - 1] as usize,
        };
        let cells = table.columns.iter().zip(ends).map(|(name, &end)| {
            let cell = &table.text[start..end as usize];
            start = end as usize;
            (name.as_str().into(), cell.to_owned().into())
        });
        Some(cells.collect())
    }
}

/// A table that was read, and what the system said of its file then: length, and when it was last written.
pub(super) type TableRead = ((u64, Option<std::time::SystemTime>), Rows);

/// Registers the functions.
pub(super) fn register(engine: &mut Engine, run: &Arc<Run>) {
    engine.register_type_with_name::<Rows>("rows");
    engine.register_iterator::<Rows>();
    FuncRegistration::new_index_getter()
        .with_params_info(["rows: &mut Rows", "place: i64", "Raw<Map>"])
        .register_into_engine(engine, |rows: &mut Rows, place: i64| one_row(rows, place));
    let shared = Arc::clone(run);
    FuncRegistration::new("read_csv")
        .with_params_info(["name: &str", "Raw<Rows>"])
        .with_comments([
            "/// The rows of a table with a line of headings (CSV), as maps from heading to text; an empty cell is `\"\"`. The file",
            "/// lies in a folder granted with `--read`, or else beside the script or among the packs:",
            "/// `for row in read_csv(\"pieces.csv\") { print(row.title); }`.",
        ])
        .register_into_engine(engine, move |name: &str| -> Raw<Rows> {
            read_csv(name, &shared).map_err(Fault::raise)
        });
    let shared = Arc::clone(run);
    FuncRegistration::new("write_text")
        .with_params_info(["name: &str", "text: &str", "()"])
        .with_comments([
            "/// Writes a text file, in the place of one that is there, whole or not at all. The folder must be granted with",
            "/// `--write FOLDER`; those below it are made as needed: `write_text(\"lots/out.md\", jug.verdict().words)`.",
        ])
        .register_into_engine(engine, move |name: &str, text: &str| -> Raw<()> {
            write_text(name, text, &shared).map_err(Fault::raise)
        });
    let module = rhai::exported_module!(row_functions);
    engine.register_global_module(module.into());
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod row_functions {
    /// How many rows there are: `read_csv("pieces.csv").len()`.
    #[rhai_fn(name = "len", get = "len", pure)]
    pub fn len(rows: &mut Rows) -> i64 {
        i64::try_from(Rows::len(rows)).unwrap_or(i64::MAX)
    }

    /// The headings: `read_csv("pieces.csv").columns`.
    #[rhai_fn(get = "columns", pure)]
    pub fn columns(rows: &mut Rows) -> Array {
        let names = rows.0.columns.iter();
        names.map(|name| Dynamic::from(name.clone())).collect()
    }

    /// One row, the first being 0: `read_csv("pieces.csv").row(0)`, or `read_csv("pieces.csv")[0]`.
    #[rhai_fn(return_raw, pure)]
    pub fn row(rows: &mut Rows, place: WholeNumber) -> Raw<Map> {
        let place = whole_number(&place, "the place of a row").map_err(Fault::raise)?;
        one_row(rows, place)
    }
}

fn one_row(rows: &Rows, place: i64) -> Raw<Map> {
    let row = usize::try_from(place)
        .ok()
        .and_then(|place| rows.row(place));
    row.ok_or_else(|| {
        let n = rows.len();
        Fault::new(format!("there is no row {place}: the table has {n}"))
            .hint("the first row is 0")
            .raise()
    })
}

impl IntoIterator for Rows {
    type Item = Map;
    type IntoIter = Box<dyn Iterator<Item = Map>>;

    fn into_iter(self) -> Self::IntoIter {
        Box::new((0..).map_while(move |index| self.row(index)))
    }
}

/// The rows of a table; of one that was read before and not written since, the same rows.
fn read_csv(name: &str, run: &Run) -> Result<Rows, Fault> {
    let file = file_to_read(name, &run.settings.read)?;
    // A script may read in a loop, and takes few steps in between.
    if run.is_to_end() {
        return Err(Fault::out_of_time());
    }
    if run.has_grown_too_large() {
        return Err(Fault::too_much_memory());
    }
    let metadata = std::fs::metadata(&file).ok();
    let state = metadata.map(|m| (m.len(), m.modified().ok()));
    if let Some((then, rows)) = lock(&run.tables).get(&file)
        && state == Some(*then)
    {
        return Ok(rows.clone());
    }
    let mut source = Sources::default();
    let id = source
        .read_within(&file, LARGEST_TABLE)
        .map_err(|error| Fault::new(error.to_string()))?;
    let rows = Rows(Arc::new(table(name, &source.file(id).text)?));
    if let Some(state) = state {
        let mut tables = lock(&run.tables);
        // Many tables are kept no longer than the script keeps them.
        if tables.len() >= MOST_TABLES_KEPT {
            tables.clear();
        }
        tables.insert(file, (state, rows.clone()));
    }
    Ok(rows)
}

fn table(name: &str, text: &str) -> Result<Table, Fault> {
    let mut reader = csv::ReaderBuilder::new()
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let wrong = |error: csv::Error| {
        let place = error
            .position()
            .map(|place| format!(", line {}", place.line()));
        let what = match error.kind() {
            csv::ErrorKind::UnequalLengths {
                expected_len, len, ..
            } => {
                let cells = if *len == 1 { "cell" } else { "cells" };
                format!("{len} {cells} where the headings are {expected_len}")
            }
            other => format!("{other:?}"),
        };
        Fault::new(format!("`{name}`{}: {what}", place.unwrap_or_default()))
            .hint("cells are divided by commas; one that holds a comma stands in quotes")
    };
    // Within a quoted cell a quote stands twice, so that a whole table has an even number of them.
    if !text.matches('"').count().is_multiple_of(2) {
        return Err(Fault::new(format!("`{name}`: a \" is not closed"))
            .hint("a cell in quotes begins and ends with \"; a quote within it stands twice: \"a \"\"crisp\"\" strike\""));
    }
    if text.trim().is_empty() {
        return Err(Fault::new(format!("`{name}` is empty"))
            .hint("the first line of a table holds its headings, divided by commas"));
    }
    let columns: Vec<String> = reader
        .headers()
        .map_err(wrong)?
        .iter()
        .map(str::to_owned)
        .collect();
    if let [only] = &columns[..]
        && let Some(divider) = [';', '\t']
            .into_iter()
            .find(|divider| only.contains(*divider))
    {
        let by = if divider == ';' { "semicolons" } else { "tabs" };
        return Err(Fault::new(format!("`{name}` is divided by {by}"))
            .hint("save it with commas between the cells (CSV, comma separated)"));
    }
    if columns.len() > MOST_COLUMNS {
        return Err(Fault::new(format!(
            "`{name}` has {} columns; {MOST_COLUMNS} are read",
            columns.len()
        )));
    }
    for (place, column) in columns.iter().enumerate() {
        if column.is_empty() {
            return Err(Fault::new(format!(
                "`{name}`: column {} has no heading",
                place + 1
            )));
        }
        if columns[..place].contains(column) {
            return Err(Fault::new(format!(
                "`{name}`: two columns are called `{column}`"
            )));
        }
    }
    let (mut cells, mut ends) = (String::new(), Vec::new());
    for record in reader.records() {
        for cell in &record.map_err(wrong)? {
            cells.push_str(cell);
            // A table is smaller than four gigabytes: see `LARGEST_TABLE`.
            ends.push(u32::try_from(cells.len()).unwrap_or(u32::MAX));
        }
    }
    Ok(Table {
        columns,
        text: cells,
        ends,
    })
}

/// The file of that name in the first folder that has it.
fn file_to_read(name: &str, folders: &[PathBuf]) -> Result<PathBuf, Fault> {
    let path = plain(name)?;
    if folders.is_empty() {
        return Err(
            Fault::new("no folder to read from is granted").hint("grant one: --read FOLDER")
        );
    }
    let found = granted::find(path, folders).map_err(|granted::Outside| outside(name))?;
    found.ok_or_else(|| {
        let folders = granted::shown(folders);
        Fault::new(format!("there is no file `{name}` in {folders}"))
            .hint("--read FOLDER grants another folder")
    })
}

/// Writes a text below the folder granted, whole or not at all.
pub(super) fn write_text(name: &str, text: &str, run: &Run) -> Result<(), Fault> {
    let path = plain(name)?;
    let Some(folder) = run.settings.write.first() else {
        return Err(
            Fault::new("a script writes only where it may").hint("grant a folder: --write FOLDER")
        );
    };
    let unwritable =
        |error: std::io::Error| Fault::new(format!("`{name}` cannot be written: {error}"));
    let root = granted::real(folder).map_err(unwritable)?;
    count_writing(text.len() as u64, run)?;
    let mut within = root.clone();
    for part in path.parent().unwrap_or(Path::new("")) {
        within = folder_below(&within.join(part), run).map_err(|error| match error {
            NoFolder::Io(error) => unwritable(error),
            NoFolder::Limit(fault) => fault,
        })?;
        if !within.starts_with(&root) {
            return Err(outside(name));
        }
    }
    let file_name = path.file_name().unwrap_or_default();
    if within.join(file_name).is_dir() {
        return Err(Fault::new(format!("`{name}` is a folder")));
    }
    // A reader sees the old file or the new one, and a crash leaves one of them.
    let mut unfinished = std::ffi::OsString::from(".");
    unfinished.push(file_name);
    unfinished.push(format!(".{}.unfinished", std::process::id()));
    let unfinished = within.join(unfinished);
    let put = || {
        let mut file = std::fs::OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&unfinished)?;
        file.write_all(text.as_bytes())?;
        file.sync_all()?;
        std::fs::rename(&unfinished, within.join(file_name))
    };
    put().map_err(|error| {
        // What went wrong is told; that the rest could not be cleared away would say less.
        let _ = std::fs::remove_file(&unfinished);
        unwritable(error)
    })
}

/// Why there is no folder to write to.
enum NoFolder {
    Io(std::io::Error),
    Limit(Fault),
}

/// A folder without links; made if there is nothing of its name. The folder around it is there, and within what is granted.
fn folder_below(folder: &Path, run: &Run) -> Result<PathBuf, NoFolder> {
    match granted::real(folder) {
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {}
        found => return found.map_err(NoFolder::Io),
    }
    count_writing(0, run).map_err(NoFolder::Limit)?;
    // A link that leads nowhere is there, so that nothing is made where it points.
    std::fs::create_dir(folder).map_err(NoFolder::Io)?;
    granted::real(folder).map_err(NoFolder::Io)
}

/// Counts what is about to be written: a script may write only so much. Even an empty file takes room.
pub(super) fn count_writing(bytes: u64, run: &Run) -> Result<(), Fault> {
    let bytes = bytes + WRITTEN_AT_LEAST;
    let written = run.written.fetch_add(bytes, Ordering::Relaxed) + bytes;
    if written > MOST_WRITTEN {
        let most = MOST_WRITTEN >> 20;
        return Err(Fault::limit(format!(
            "a script may write {most} megabytes in all"
        )));
    }
    Ok(())
}

/// A name as a path below a granted folder.
fn plain(name: &str) -> Result<&Path, Fault> {
    if let Some(held) = steering(name) {
        return Err(Fault::new(format!(
            "a name of a file stands in one line, and this one holds {held}"
        ))
        .hint("take it out, such as in \"pieces.csv\""));
    }
    granted::plain(name).ok_or_else(|| {
        Fault::new("a file is named without `..` and without a leading `/`")
            .hint("it is looked for below the folder granted, such as \"pieces.csv\"")
    })
}

fn outside(name: &str) -> Fault {
    Fault::new(format!("`{name}` leads outside the folder granted"))
        .hint("put a copy of the file there, or grant another folder")
}
