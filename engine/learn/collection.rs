//! A table of pieces, as comma-separated values with a line of column names.

use std::ops::Range;

/// A table as read.
#[derive(Clone, Debug, Default)]
pub struct Collection {
    /// Names of the columns.
    pub columns: Vec<String>,
    /// Rows, each with as many cells as there are columns.
    pub rows: Vec<Row>,
}

/// One row.
#[derive(Clone, Debug)]
pub struct Row {
    /// Its cells.
    pub cells: Vec<String>,
    /// Where it stands in the text, in bytes.
    pub range: Range<usize>,
}

/// What is wrong with a table, and where.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{message}")]
pub struct CollectionError {
    /// What is wrong.
    pub message: String,
    /// Where, in bytes.
    pub range: Range<usize>,
}

impl Collection {
    /// Reads a table.
    ///
    /// ```
    /// use saggar::learn::collection::Collection;
    /// let table = Collection::parse("ID,Kiln\nT11,\"Islands, Thorns\"\n").unwrap();
    /// assert_eq!(table.rows[0].cells[1], "Islands, Thorns");
    /// assert!(Collection::parse("ID,Kiln\nT11\n").is_err());
    /// ```
    ///
    /// # Errors
    /// [`CollectionError`] if there is no row, a column has no name or the name of another, or a row has more or fewer
    /// cells than there are columns.
    pub fn parse(text: &str) -> Result<Self, CollectionError> {
        let fails = |message: String, range: Range<usize>| Err(CollectionError { message, range });
        let first_line = 0..text.find('\n').unwrap_or(text.len());
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .trim(csv::Trim::All)
            .from_reader(text.as_bytes());
        let mut table = Self::default();
        let mut record = csv::StringRecord::new();
        loop {
            let start = usize::try_from(reader.position().byte()).unwrap_or(text.len());
            match reader.read_record(&mut record) {
                Ok(true) => {}
                Ok(false) => break,
                Err(error) => return fails(error.to_string(), start..start),
            }
            // The reader skips empty lines before it finds the row.
            let start = record
                .position()
                .and_then(|p| usize::try_from(p.byte()).ok())
                .unwrap_or(start);
            let end = usize::try_from(reader.position().byte()).unwrap_or(text.len());
            let skipped = text.get(start..end).unwrap_or_default();
            let start = start + (skipped.len() - skipped.trim_start().len());
            let end = start + text.get(start..end).unwrap_or_default().trim_end().len();
            let cells: Vec<String> = record.iter().map(str::to_owned).collect();
            if table.columns.is_empty() {
                for (place, name) in cells.iter().enumerate() {
                    if name.is_empty() {
                        let message = format!("column {} has no name", place + 1);
                        return fails(message, first_line);
                    }
                    if cells[..place].contains(name) {
                        return fails(format!("two columns are named `{name}`"), first_line);
                    }
                }
                table.columns = cells;
                continue;
            }
            if cells.len() != table.columns.len() {
                let message = format!(
                    "this row has {} cells, and there are {} columns",
                    cells.len(),
                    table.columns.len()
                );
                return fails(message, start..end);
            }
            table.rows.push(Row {
                cells,
                range: start..end,
            });
        }
        if table.rows.is_empty() {
            return fails("the table has no rows".to_owned(), first_line);
        }
        Ok(table)
    }

    /// The position of a column.
    #[must_use]
    pub fn column(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|column| column == name)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn check(text: &str, message: &str, underlined: &str) {
        let error = Collection::parse(text).unwrap_err();
        assert_eq!(error.message, message);
        assert_eq!(&text[error.range], underlined);
    }

    #[test]
    fn defects_with_their_places() {
        check(
            "a,b\n\n1,2\n3\n",
            "this row has 1 cells, and there are 2 columns",
            "3",
        );
        check("a,a\n1,2\n", "two columns are named `a`", "a,a");
        check("a,\n1,2\n", "column 2 has no name", "a,");
        check("a,b\n", "the table has no rows", "a,b");
    }

    #[test]
    fn places_of_rows() {
        let text = "a,b\r\n\r\n1,\"x, y\"\r\n2,z";
        let table = Collection::parse(text).unwrap();
        let rows: Vec<&str> = table.rows.iter().map(|r| &text[r.range.clone()]).collect();
        assert_eq!(rows, ["1,\"x, y\"", "2,z"]);
    }
}
