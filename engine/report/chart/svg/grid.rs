//! A table whose cells are shaded, each with its figure.

use maud::html;

use super::{LETTERS, LINE, MARGIN, Page, WIDTH, clean, letters_in, place, pointed_at};
use crate::report::chart::number::figure;
use crate::report::chart::scale::Scale;
use crate::report::chart::text::folded;
use crate::report::chart::{GridRow, Unit};

const LABEL_WIDTH: f64 = 150.0;
const CELL_HEIGHT: f64 = 24.0;

impl Page {
    /// The darker a cell, the larger its figure; zero is white.
    pub(super) fn grid(&mut self, unit: &Unit, columns: &[String], rows: &[GridRow]) {
        let cells = rows.iter().flat_map(|row| &row.cells).flatten();
        let scale = Scale::of(cells.copied(), unit, true);
        let from = MARGIN + LABEL_WIDTH + 8.0;
        let width = ((WIDTH - MARGIN - from) / columns.len().max(1) as f64).min(96.0);
        let headings: Vec<Vec<String>> = columns
            .iter()
            .map(|column| folded(&clean(column), letters_in(width - 4.0, LETTERS)))
            .collect();
        let n_lines = headings.iter().map(Vec::len).max().unwrap_or(0);
        for (n, heading) in headings.iter().enumerate() {
            let middle = from + (n as f64 + 0.5) * width;
            // Short headings stand on the row below, as long ones end there.
            let first = self.below + 12.0 + (n_lines - heading.len()) as f64 * LINE;
            self.lines(heading, middle, first, "middle");
        }
        self.below += n_lines as f64 * LINE + 4.0;
        for row in rows {
            let label = folded(&clean(&row.label), letters_in(LABEL_WIDTH, LETTERS));
            self.lines(&label, MARGIN, self.below + 16.0, "start");
            let height = CELL_HEIGHT.max(label.len() as f64 * LINE + 8.0);
            for (n, (cell, column)) in row.cells.iter().zip(columns).enumerate() {
                let x = from + n as f64 * width;
                let (y, middle) = (self.below, x + width / 2.0);
                let (shade, ink, text) = match cell {
                    Some(value) => {
                        let dark = scale.place(*value);
                        let ink = if dark > 0.55 { "#ffffff" } else { "#000000" };
                        (shade(dark), ink, figure(unit, *value))
                    }
                    None => ("#ffffff".to_owned(), "#000000", "none".to_owned()),
                };
                let label = format!("{}, {column}", row.label);
                self.put(html! {
                    rect x=(place(x)) y=(place(y)) width=(place(width)) height=(place(height)) fill=(shade) stroke="#808080"
                        stroke-width="0.75" {
                        (pointed_at(&label, &text))
                    }
                    text x=(place(middle)) y=(place(y + height / 2.0 + 4.0)) text-anchor="middle" fill=(ink) { (text) }
                });
            }
            self.below += height;
        }
        self.below += 4.0;
    }
}

/// From white to Okabe & Ito's blue.
fn shade(dark: f64) -> String {
    let part = |full: f64| (255.0 + (full - 255.0) * dark).round() as u8;
    format!("#{:02x}{:02x}{:02x}", part(0.0), part(114.0), part(178.0))
}
