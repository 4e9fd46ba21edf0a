//! Charts as SVG: one picture that stands by itself, without scripts, links or fonts of its own.
//!
//! Colours are two of those that stay apart for colour-blind readers (blue and vermilion of Okabe & Ito 2008, *Color Universal
//! Design*), and nothing is said by colour alone: what is below zero is hatched, every figure stands beside what is drawn, and
//! the description holds all of them for readers who hear the picture.

mod grid;
mod lying;
mod standing;

use maud::{Markup, PreEscaped, html};

use super::number::{beside, figure, plain};
use super::scale::Scale;
use super::text::folded;
use super::{Chart, Figures, Panel};

/// Width of a picture in its own units, which are pixels where nothing else is said.
const WIDTH: f64 = 720.0;
const MARGIN: f64 = 14.0;
/// Size of letters, and from one line to the next.
const LETTERS: f64 = 12.0;
const LINE: f64 = 15.0;
/// Width that a letter is taken to have at most on the average, in parts of its size.
const LETTER_WIDTH: f64 = 0.56;

/// Okabe & Ito's blue.
const BLUE: &str = "#0072B2";
/// Okabe & Ito's vermilion.
const VERMILION: &str = "#D55E00";
const INK: &str = "#1a1a1a";
const FAINT: &str = "#c8c8c8";

/// The chart as a file of its own.
#[must_use]
pub fn svg(chart: &Chart) -> String {
    format!("{}\n", picture(chart, "chart").into_string())
}

/// The chart as an element of a page, on which `id` sets what it names apart from what other pictures name.
#[must_use]
pub fn picture(chart: &Chart, id: &str) -> Markup {
    let mut page = Page {
        id: id.to_owned(),
        below: MARGIN,
        drawn: Vec::new(),
    };
    let title = if chart.piece.is_empty() {
        chart.title.clone()
    } else {
        format!("{}: {}", chart.piece, chart.title)
    };
    page.paragraph(&title, 15.0, true);
    for panel in &chart.panels {
        page.below += 14.0;
        page.paragraph(&panel.title(), LETTERS + 1.0, true);
        page.below += 4.0;
        page.panel(panel);
    }
    if !chart.notes.is_empty() {
        page.below += 12.0;
    }
    for note in &chart.notes {
        page.paragraph(note, LETTERS - 1.0, false);
    }
    let height = (page.below + MARGIN).ceil();
    html! {
        svg xmlns="http://www.w3.org/2000/svg" width=(WIDTH) height=(height) viewBox={ "0 0 " (WIDTH) " " (height) }
            role="img" aria-labelledby={ (id) "-title " (id) "-desc" } font-family="sans-serif" font-size=(LETTERS) fill=(INK) {
            title id={ (id) "-title" } { (clean(&title)) }
            desc id={ (id) "-desc" } { (clean(&described(chart))) }
            defs {
                pattern id={ (id) "-below" } width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)" {
                    rect width="6" height="6" fill=(VERMILION) {}
                    rect width="2" height="6" fill="#ffffff" {}
                }
            }
            rect width=(WIDTH) height=(height) fill="#ffffff" {}
            @for part in &page.drawn { (part) }
        }
    }
}

/// The picture while it is drawn, from top to bottom.
struct Page {
    id: String,
    below: f64,
    drawn: Vec<Markup>,
}

impl Page {
    fn panel(&mut self, panel: &Panel) {
        match &panel.figures {
            Figures::Bars { bars } => self.bars(&panel.unit, bars),
            Figures::Spans { stated, bars } => self.spans(&panel.unit, *stated, bars),
            Figures::Columns { bars } => self.columns(&panel.unit, bars),
            Figures::Line { across, points } => self.line(&panel.unit, across, points),
            Figures::Grid { columns, rows } => self.grid(&panel.unit, columns, rows),
        }
    }

    fn put(&mut self, part: Markup) {
        self.drawn.push(part);
    }

    /// Lines over the whole width.
    fn paragraph(&mut self, text: &str, size: f64, is_bold: bool) {
        let letters = letters_in(
            WIDTH - 2.0 * MARGIN,
            if is_bold { size * 1.08 } else { size },
        );
        for line in folded(&clean(text), letters) {
            self.below += size * 1.25;
            let weight = if is_bold { "bold" } else { "normal" };
            let baseline = place(self.below - size * 0.25);
            self.put(html! {
                text x=(MARGIN) y=(baseline) font-size=(size) font-weight=(weight) { (line) }
            });
        }
    }

    /// Thin upright lines over a panel at the numbers of its axis, and the numbers below.
    fn axis(&mut self, scale: &Scale, from: f64, width: f64, top: f64, bottom: f64) {
        for tick in scale.ticks() {
            let x = place(from + scale.place(tick) * width);
            let colour = if tick == 0.0 { INK } else { FAINT };
            self.put(html! {
                line x1=(x) y1=(place(top)) x2=(x) y2=(place(bottom)) stroke=(colour) stroke-width="1" {}
                text x=(x) y=(place(bottom + 13.0)) text-anchor="middle" font-size="11" { (scale.tick_text(tick)) }
            });
        }
    }

    /// Lines of a text from a place on, the first with its baseline at `y`.
    fn lines(&mut self, lines: &[String], x: f64, y: f64, anchor: &str) {
        for (n, line) in lines.iter().enumerate() {
            let y = place(y + n as f64 * LINE);
            self.put(html! { text x=(place(x)) y=(y) text-anchor=(anchor) { (line) } });
        }
    }
}

/// How many letters surely have room.
fn letters_in(width: f64, size: f64) -> usize {
    (width / (size * LETTER_WIDTH)).floor().max(1.0) as usize
}

/// A place in the picture, to a hundredth.
fn place(figure: f64) -> String {
    format!("{figure:.2}")
}

/// A text without the characters that XML does not allow, which nobody could see anyway.
///
/// Source: W3C, *Extensible Markup Language (XML) 1.0*, 5th edition, production 2 (`Char`).
pub(in crate::report) fn clean(text: &str) -> String {
    let is_allowed = |c: char| matches!(c, '\t' | '\n' | '\r' | '\u{20}'..='\u{d7ff}' | '\u{e000}'..='\u{fffd}' | '\u{10000}'..);
    let allowed = |c: char| if is_allowed(c) { c } else { '\u{fffd}' };
    text.chars().map(allowed).collect()
}

/// All figures in words.
fn described(chart: &Chart) -> String {
    let mut said: Vec<String> = Vec::new();
    for panel in &chart.panels {
        let unit = &panel.unit;
        let figures: Vec<String> = match &panel.figures {
            Figures::Bars { bars } | Figures::Columns { bars } => bars
                .iter()
                .map(|bar| format!("{} {}", bar.label, beside(unit, bar)))
                .collect(),
            Figures::Spans { stated, bars } => {
                let stated = stated.iter();
                let stated = stated.map(|stated| format!("as stated {}", figure(unit, *stated)));
                let bars = bars.iter();
                let bars = bars.map(|bar| format!("{} {}", bar.label, beside(unit, bar)));
                stated.chain(bars).collect()
            }
            Figures::Line { points, .. } => points
                .iter()
                .map(|point| {
                    let bar = super::Bar {
                        label: String::new(),
                        value: Some(point.up),
                        low: point.low,
                        high: point.high,
                        beside: None,
                    };
                    format!("at {} {}", plain(point.across), beside(unit, &bar))
                })
                .collect(),
            Figures::Grid { columns, rows } => rows
                .iter()
                .flat_map(|row| {
                    columns.iter().zip(&row.cells).map(|(column, cell)| {
                        let cell = cell.map_or_else(|| "none".to_owned(), |p| figure(unit, p));
                        format!("{}, {column} {cell}", row.label)
                    })
                })
                .collect(),
        };
        said.push(format!("{}: {}.", panel.title(), figures.join("; ")));
    }
    said.extend(chart.notes.iter().cloned());
    said.join(" ")
}

/// What a bar says when it is pointed at.
fn pointed_at(label: &str, text: &str) -> Markup {
    html! { title { (clean(label)) ": " (clean(text)) } }
}

/// The pattern of what is below zero, or the colour of what is above.
fn fill(id: &str, value: f64) -> Markup {
    if value < 0.0 {
        html! { "url(#" (id) "-below)" }
    } else {
        PreEscaped(BLUE.to_owned())
    }
}
