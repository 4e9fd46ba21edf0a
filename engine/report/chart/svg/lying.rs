//! Lying bars and spans, one row each: label, number, and what is drawn.

use maud::{Markup, html};

use super::{
    BLUE, INK, LETTER_WIDTH, LETTERS, LINE, MARGIN, Page, VERMILION, WIDTH, clean, fill,
    letters_in, place, pointed_at,
};
use crate::report::chart::number::{beside, figure};
use crate::report::chart::scale::Scale;
use crate::report::chart::text::folded;
use crate::report::chart::{Bar, Unit};

/// Labels, numbers and drawing stand in three columns.
const LABEL_WIDTH: f64 = 236.0;
/// Numbers take as much as the longest needs, and are folded beyond so much.
const MOST_NUMBER_WIDTH: f64 = 150.0;
const THICK: f64 = 13.0;

/// Where figures lie.
struct Drawn {
    scale: Scale,
    from: f64,
    width: f64,
    /// What numbers have room for, in letters.
    letters: usize,
}

impl Drawn {
    fn new(scale: Scale, unit: &Unit, bars: &[Bar]) -> Self {
        let lengths = bars.iter().map(|bar| beside(unit, bar).chars().count());
        let longest = lengths.max().unwrap_or(0);
        let letters = longest.min(letters_in(MOST_NUMBER_WIDTH, LETTERS)).max(1);
        let from = MARGIN + LABEL_WIDTH + letters as f64 * LETTERS * LETTER_WIDTH + 24.0;
        Self {
            scale,
            from,
            width: WIDTH - MARGIN - 12.0 - from,
            letters,
        }
    }

    /// Where a figure lies in the picture.
    fn at(&self, figure: f64) -> f64 {
        self.from + self.scale.place(figure) * self.width
    }
}

/// A row whose place is known.
struct Row<'a> {
    bar: &'a Bar,
    text: String,
    /// The middle of its first line.
    middle: f64,
}

impl Page {
    /// Bars from zero.
    pub(super) fn bars(&mut self, unit: &Unit, bars: &[Bar]) {
        let drawn = Drawn::new(Scale::of(Scale::figures(bars), unit, true), unit, bars);
        let id = self.id.clone();
        self.rows(unit, bars, &drawn, |row| {
            let Some(value) = row.bar.value else {
                return html! {};
            };
            let (zero, end) = (drawn.at(0.0), drawn.at(value));
            // What is more than nothing gets a hairline.
            let width = (end - zero).abs().max(if value == 0.0 { 0.0 } else { 0.75 });
            let from = if value < 0.0 { zero - width } else { zero };
            let outline = if value < 0.0 { VERMILION } else { BLUE };
            html! {
                rect x=(place(from)) y=(place(row.middle - THICK / 2.0)) width=(place(width)) height=(place(THICK))
                    fill=(fill(&id, value)) stroke=(outline) stroke-width="0.75" {
                    (pointed_at(&row.bar.label, &row.text))
                }
                @if let (Some(low), Some(high)) = (row.bar.low, row.bar.high) {
                    (ends(&drawn, low, high, row.middle, INK))
                }
            }
        });
    }

    /// Spans between two ends, with the figure between and a line at what all are seen against.
    pub(super) fn spans(&mut self, unit: &Unit, stated: Option<f64>, bars: &[Bar]) {
        let drawn = Drawn::new(
            Scale::of(Scale::figures(bars).chain(stated), unit, false),
            unit,
            bars,
        );
        let top = self.below;
        self.rows(unit, bars, &drawn, |row| {
            html! {
                @if let (Some(low), Some(high)) = (row.bar.low, row.bar.high) {
                    @let (from, to) = (drawn.at(low), drawn.at(high));
                    rect x=(place(from)) y=(place(row.middle - THICK / 2.0)) width=(place((to - from).max(0.75)))
                        height=(place(THICK)) fill=(BLUE) fill-opacity="0.45" stroke=(BLUE) stroke-width="0.75" {
                        (pointed_at(&row.bar.label, &row.text))
                    }
                }
                @if let Some(value) = row.bar.value {
                    circle cx=(place(drawn.at(value))) cy=(place(row.middle)) r="4" fill=(INK) {
                        (pointed_at(&row.bar.label, &row.text))
                    }
                }
            }
        });
        if let Some(stated) = stated {
            let x = drawn.at(stated);
            let bottom = self.below - 18.0;
            let text = format!("as stated {}", figure(unit, stated));
            self.below += 14.0;
            // Near an end the words lean inwards.
            let anchor = match drawn.scale.place(stated) {
                share if share < 0.25 => "start",
                share if share > 0.75 => "end",
                _ => "middle",
            };
            let y = place(self.below - 4.0);
            self.put(html! {
                line x1=(place(x)) y1=(place(top)) x2=(place(x)) y2=(place(bottom)) stroke=(VERMILION) stroke-width="1.5"
                    stroke-dasharray="4 3" {}
                text x=(place(x)) y=(y) text-anchor=(anchor) font-size="11" { (text) }
            });
        }
    }

    /// Labels and numbers, with an axis behind what is drawn.
    fn rows(
        &mut self,
        unit: &Unit,
        bars: &[Bar],
        drawn: &Drawn,
        paint: impl Fn(&Row<'_>) -> Markup,
    ) {
        let top = self.below;
        let mut below = top + 3.0;
        let mut rows = Vec::with_capacity(bars.len());
        let mut texts = Vec::with_capacity(bars.len());
        for bar in bars {
            let text = beside(unit, bar);
            let label = folded(&clean(&bar.label), letters_in(LABEL_WIDTH, LETTERS));
            let number = folded(&clean(&text), drawn.letters);
            let n_lines = label.len().max(number.len());
            texts.push((label, number, below + 12.0));
            rows.push(Row {
                bar,
                text,
                middle: below + 8.0,
            });
            below += n_lines as f64 * LINE + 4.0;
        }
        self.axis(&drawn.scale, drawn.from, drawn.width, top, below);
        for (label, number, baseline) in texts {
            self.lines(&label, MARGIN, baseline, "start");
            self.lines(&number, MARGIN + LABEL_WIDTH + 8.0, baseline, "start");
        }
        for row in &rows {
            self.put(paint(row));
        }
        self.below = below + 18.0;
    }
}

/// A thin line between two ends, with a stroke at each.
fn ends(drawn: &Drawn, low: f64, high: f64, middle: f64, colour: &str) -> Markup {
    let (from, to) = (drawn.at(low), drawn.at(high));
    html! {
        path d={
            "M" (place(from)) " " (place(middle)) "H" (place(to))
            "M" (place(from)) " " (place(middle - 4.0)) "V" (place(middle + 4.0))
            "M" (place(to)) " " (place(middle - 4.0)) "V" (place(middle + 4.0))
        } stroke=(colour) stroke-width="1.25" fill="none" {}
    }
}
