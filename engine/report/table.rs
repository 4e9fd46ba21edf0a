//! Plain tables: a header, aligned columns, no borders.

use comfy_table::presets::NOTHING;
use comfy_table::{Cell, CellAlignment, Table};

/// How a column is aligned.
#[derive(Clone, Copy)]
pub enum Align {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

/// Text of a table, indented by two.
pub fn table(header: &[(&str, Align)], rows: Vec<Vec<String>>) -> String {
    let mut table = Table::new();
    table.load_style(NOTHING);
    let aligned = |text: String, align: Align| {
        Cell::new(text).set_alignment(match align {
            Align::Left => CellAlignment::Left,
            Align::Right => CellAlignment::Right,
        })
    };
    table.set_header(
        header
            .iter()
            .map(|&(text, align)| aligned(text.to_owned(), align)),
    );
    for row in rows {
        table.add_row(
            row.into_iter()
                .zip(header)
                .map(|(text, &(_, align))| aligned(text, align)),
        );
    }
    let lines = table.to_string();
    lines
        .lines()
        .map(|line| format!(" {}\n", line.trim_end()))
        .collect()
}
