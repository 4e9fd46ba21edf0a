//! Where the rows of a prior file stand, by line.

use std::collections::BTreeMap;

use toml_edit::{Array, Document, DocumentMut, Item, TableLike, Value};

/// Words of which a row or table has at least one if it says what an expert believes.
const SAYS: [&str; 6] = [
    "say",
    "mean",
    "median",
    "share",
    "kinds",
    "of_reproductions",
];

/// A step on the way to a row.
#[derive(Clone, Debug)]
enum Step {
    Key(String),
    Place(usize),
}

/// The way from a document to a row.
#[derive(Clone, Debug)]
pub(super) struct Way(Vec<Step>);

/// The rows of a file by the line they begin on, and the tables by every line on which they say something.
pub(super) struct Homes {
    rows: BTreeMap<usize, Vec<Way>>,
    tables: BTreeMap<usize, Vec<Way>>,
    line_starts: Vec<usize>,
}

impl Homes {
    /// Of a document that knows its places.
    pub(super) fn of<S: AsRef<str>>(document: &Document<S>) -> Self {
        let breaks = document.raw().match_indices('\n').map(|(at, _)| at + 1);
        let mut homes = Self {
            rows: BTreeMap::new(),
            tables: BTreeMap::new(),
            line_starts: std::iter::once(0).chain(breaks).collect(),
        };
        homes.look_into(document.as_table(), &mut Vec::new());
        homes
    }

    /// The one row that begins on a line, or else the one table that says something there.
    pub(super) fn on(&self, line: usize) -> Option<&Way> {
        let found = self.rows.get(&line).or_else(|| self.tables.get(&line))?;
        // Of several on one line none can be told from the other.
        match &found[..] {
            [way] => Some(way),
            _ => None,
        }
    }

    fn line(&self, at: usize) -> usize {
        self.line_starts.partition_point(|&start| start <= at)
    }

    fn look_into(&mut self, table: &dyn TableLike, way: &mut Vec<Step>) {
        for (key, item) in table.iter() {
            way.push(Step::Key(key.to_owned()));
            match item {
                Item::Table(inner) => self.table(inner, way),
                Item::ArrayOfTables(tables) => {
                    for (place, inner) in tables.iter().enumerate() {
                        way.push(Step::Place(place));
                        self.table(inner, way);
                        way.pop();
                    }
                }
                Item::Value(value) => self.value(value, way),
                Item::None => {}
            }
            way.pop();
        }
    }

    fn table(&mut self, table: &dyn TableLike, way: &mut Vec<Step>) {
        if says(table) {
            let keys = table.iter().filter_map(|(key, _)| table.key(key)?.span());
            let mut lines: Vec<usize> = keys.map(|span| self.line(span.start)).collect();
            lines.dedup();
            for line in lines {
                let way = Way(way.clone());
                self.tables.entry(line).or_default().push(way);
            }
        }
        self.look_into(table, way);
    }

    fn value(&mut self, value: &Value, way: &mut Vec<Step>) {
        match value {
            Value::InlineTable(row) => {
                if let Some(span) = row.span().filter(|_| says(row)) {
                    let line = self.line(span.start);
                    self.rows.entry(line).or_default().push(Way(way.clone()));
                }
                self.look_into(row, way);
            }
            Value::Array(array) => self.array(array, way),
            _ => {}
        }
    }

    fn array(&mut self, array: &Array, way: &mut Vec<Step>) {
        for (place, value) in array.iter().enumerate() {
            way.push(Step::Place(place));
            self.value(value, way);
            way.pop();
        }
    }
}

fn says(table: &dyn TableLike) -> bool {
    SAYS.iter().any(|word| table.contains_key(word))
}

impl Way {
    /// The row or table at its end.
    pub(super) fn end<'d>(&self, document: &'d mut DocumentMut) -> Option<&'d mut dyn TableLike> {
        let mut here: &mut dyn TableLike = document.as_table_mut();
        let mut steps = self.0.iter();
        while let Some(step) = steps.next() {
            let Step::Key(key) = step else {
                return None;
            };
            here = match here.get_mut(key)? {
                Item::Table(table) => table,
                Item::ArrayOfTables(tables) => match steps.next()? {
                    Step::Place(place) => tables.get_mut(*place)?,
                    Step::Key(_) => return None,
                },
                Item::Value(value) => within(value, &mut steps)?,
                Item::None => return None,
            };
        }
        Some(here)
    }
}

/// The inline table that follows, through as many arrays as stand around it.
fn within<'d, 's>(
    mut value: &'d mut Value,
    steps: &mut impl Iterator<Item = &'s Step>,
) -> Option<&'d mut dyn TableLike> {
    loop {
        value = match value {
            Value::InlineTable(row) => return Some(row),
            Value::Array(array) => match steps.next()? {
                Step::Place(place) => array.get_mut(*place)?,
                Step::Key(_) => return None,
            },
            _ => return None,
        };
    }
}
