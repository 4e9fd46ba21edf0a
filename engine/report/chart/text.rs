//! Charts in characters, at most 80 across; readable without colour.

use super::number::{beside, figure, plain};
use super::scale::Scale;
use super::{Bar, Chart, Figures, GridRow, Panel, Unit};
use crate::report::text::layout::heading;

const WIDTH: usize = 80;
/// Labels take at most so much; longer ones are folded.
const LABEL: usize = 32;
/// What is drawn takes at least so much.
const LEAST_DRAWN: usize = 16;

/// A chart.
#[must_use]
pub fn text(chart: &Chart) -> String {
    let mut out = String::new();
    let title = if chart.piece.is_empty() {
        chart.title.clone()
    } else {
        format!("{}: {}", chart.piece, chart.title)
    };
    heading(&mut out, "CHART", &title);
    for panel in &chart.panels {
        out.push('\n');
        fold(&mut out, 2, &panel.title());
        draw(&mut out, panel);
    }
    if !chart.notes.is_empty() {
        out.push('\n');
    }
    for note in &chart.notes {
        fold(&mut out, 2, note);
    }
    out
}

fn draw(out: &mut String, panel: &Panel) {
    let unit = &panel.unit;
    match &panel.figures {
        Figures::Bars { bars } | Figures::Columns { bars } => {
            let scale = Scale::of(Scale::figures(bars), unit, true);
            rows(out, unit, bars, &|bar, width| lying(bar, &scale, width));
        }
        Figures::Spans { stated, bars } => {
            let figures = Scale::figures(bars).chain(*stated);
            let scale = Scale::of(figures, unit, false);
            rows(out, unit, bars, &|bar, width| {
                span(bar, *stated, &scale, width)
            });
            if let Some(stated) = stated {
                fold(out, 2, &format!("┊ as stated: {}", figure(unit, *stated)));
            }
        }
        Figures::Line { across, points } => {
            let bars: Vec<Bar> = points
                .iter()
                .map(|point| Bar {
                    label: plain(point.across),
                    value: Some(point.up),
                    low: point.low,
                    high: point.high,
                    beside: None,
                })
                .collect();
            let scale = Scale::of(Scale::figures(&bars), unit, false);
            if !across.is_empty() {
                fold(out, 2, &format!("by {across}"));
            }
            rows(out, unit, &bars, &|bar, width| {
                span(bar, None, &scale, width)
            });
        }
        Figures::Grid { columns, rows } => grid(out, unit, columns, rows),
    }
}

/// Label, number and drawing of every bar.
fn rows(out: &mut String, unit: &Unit, bars: &[Bar], drawn: &dyn Fn(&Bar, usize) -> String) {
    let labels: Vec<Vec<String>> = bars.iter().map(|bar| folded(&bar.label, LABEL)).collect();
    let numbers: Vec<String> = bars.iter().map(|bar| beside(unit, bar)).collect();
    let longest = |lines: &mut dyn Iterator<Item = usize>| lines.max().unwrap_or(0);
    let label = longest(&mut labels.iter().flatten().map(|line| length(line)));
    let number = longest(&mut numbers.iter().map(|text| length(text)));
    let number = number.min(WIDTH - label - LEAST_DRAWN - 6);
    let width = WIDTH - label - number - 6;
    for ((bar, lines), text) in bars.iter().zip(&labels).zip(&numbers) {
        let numbers = folded(text, number);
        for place in 0..lines.len().max(numbers.len()) {
            let line = lines.get(place).map_or("", String::as_str);
            let text = numbers.get(place).map_or("", String::as_str);
            let drawn = if place == 0 {
                drawn(bar, width)
            } else {
                String::new()
            };
            let row = format!(
                "  {}  {}  {drawn}",
                padded(line, label),
                padded(text, number)
            );
            out.push_str(row.trim_end());
            out.push('\n');
        }
    }
}

/// A bar from zero, to either side.
fn lying(bar: &Bar, scale: &Scale, width: usize) -> String {
    let Some(value) = bar.value else {
        return String::new();
    };
    if scale.least >= 0.0 {
        return rightwards(scale.place(value) * width as f64, width, value > 0.0);
    }
    // One place is the line at zero.
    let width = width - 1;
    let left = (scale.place(0.0) * width as f64).round() as usize;
    let right = width - left;
    let share = value.abs()
        / if value < 0.0 {
            -scale.least
        } else {
            scale.most
        };
    if value < 0.0 {
        let halves = ((share * left as f64 * 2.0).round() as usize).max(1);
        let mut cells = "█".repeat(halves / 2);
        if halves % 2 == 1 {
            cells.insert(0, '▐');
        }
        let before = left.saturating_sub(length(&cells));
        format!("{}{cells}│", " ".repeat(before))
    } else {
        let bar = if right == 0 {
            String::new()
        } else {
            rightwards(share * right as f64, right, value > 0.0)
        };
        format!("{}│{bar}", " ".repeat(left))
    }
}

/// So many cells, in eighths; what is more than nothing gets a hairline.
fn rightwards(cells: f64, most: usize, is_some: bool) -> String {
    let eighths = ((cells * 8.0).round() as usize).min(most * 8);
    let eighths = eighths.max(usize::from(is_some));
    let mut bar = "█".repeat(eighths / 8);
    let parts = ['▏', '▎', '▍', '▌', '▋', '▊', '▉'];
    if let Some(part) = (eighths % 8).checked_sub(1).and_then(|i| parts.get(i)) {
        bar.push(*part);
    }
    bar
}

/// `├──●──┤`, with `┊` at what is stated.
fn span(bar: &Bar, stated: Option<f64>, scale: &Scale, width: usize) -> String {
    let cell = |figure: f64| (scale.place(figure) * (width - 1) as f64).round() as usize;
    let mut cells = vec![' '; width];
    if let (Some(low), Some(high)) = (bar.low, bar.high) {
        let (low, high) = (cell(low), cell(high));
        for place in &mut cells[low..=high.max(low)] {
            *place = '─';
        }
        cells[low] = '├';
        cells[high] = if low == high { '│' } else { '┤' };
    }
    if let Some(stated) = stated {
        cells[cell(stated)] = '┊';
    }
    if let Some(value) = bar.value {
        cells[cell(value)] = '●';
    }
    cells.into_iter().collect()
}

/// Every row of a table as bars under its heading.
fn grid(out: &mut String, unit: &Unit, columns: &[String], table: &[GridRow]) {
    let cells = table.iter().flat_map(|row| &row.cells).flatten().copied();
    let scale = Scale::of(cells, unit, true);
    for row in table {
        fold(out, 2, &row.label);
        let bar = |(column, cell): (&String, &Option<f64>)| match cell {
            Some(value) => Bar::new(format!("  {column}"), *value),
            None => Bar::none(format!("  {column}"), "none"),
        };
        let bars: Vec<Bar> = columns.iter().zip(&row.cells).map(bar).collect();
        rows(out, unit, &bars, &|bar, width| lying(bar, &scale, width));
    }
}

fn length(text: &str) -> usize {
    text.chars().count()
}

fn padded(text: &str, width: usize) -> String {
    format!("{text}{}", " ".repeat(width.saturating_sub(length(text))))
}

/// A paragraph folded at the width of the terminal.
fn fold(out: &mut String, indent: usize, text: &str) {
    for line in folded(text, WIDTH - indent) {
        out.push_str(&" ".repeat(indent));
        out.push_str(&line);
        out.push('\n');
    }
}

/// A text in lines of at most so many characters, broken between words, and within one that is too long by itself. The
/// spaces it begins with stay.
pub(super) fn folded(text: &str, width: usize) -> Vec<String> {
    let width = width.max(1);
    let indent: String = text.chars().take_while(|c| *c == ' ').collect();
    let mut lines = Vec::new();
    let mut line = indent.clone();
    let mut is_empty = true;
    for word in text.split_whitespace() {
        let mut word: Vec<char> = word.chars().collect();
        if !is_empty && length(&line) + 1 + word.len() > width {
            lines.push(std::mem::replace(&mut line, indent.clone()));
            is_empty = true;
        }
        if !is_empty {
            line.push(' ');
        }
        while length(&line) + word.len() > width {
            let room = (width - length(&line).min(width - 1)).min(word.len());
            line.extend(word.drain(..room));
            lines.push(std::mem::take(&mut line));
            if word.is_empty() {
                break;
            }
        }
        is_empty = word.is_empty();
        line.extend(word);
    }
    if !is_empty || lines.is_empty() {
        lines.push(line);
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drawn(unit: Unit, figures: Figures) -> String {
        text(&Chart {
            title: "a trial".to_owned(),
            piece: String::new(),
            panels: vec![Panel {
                heading: "figures".to_owned(),
                unit,
                figures,
            }],
            notes: Vec::new(),
        })
    }

    fn cells(line: &str) -> f64 {
        let part = |c: char| match c {
            '█' => 1.0,
            '▉'..='▏' => f64::from('▏' as u32 + 1 - c as u32) / 8.0,
            '▐' => 0.5,
            _ => 0.0,
        };
        line.chars().map(part).sum()
    }

    #[test]
    fn bars_are_as_long_as_their_figures_say() {
        let bars = vec![
            Bar::new("one", 0.5),
            Bar::new("two", 0.25),
            Bar::new("three", 1e-9),
        ];
        let out = drawn(Unit::Probability, Figures::Bars { bars });
        let lines: Vec<&str> = out.lines().skip(3).collect();
        assert!(
            (cells(lines[0]) - 2.0 * cells(lines[1])).abs() <= 0.25,
            "{out}"
        );
        assert!(
            lines[2].contains("< 0.01") && cells(lines[2]) > 0.0,
            "{out}"
        );
    }

    #[test]
    fn both_sides_of_zero_are_drawn_on_one_scale() {
        let bars = vec![Bar::new("for", 10.0), Bar::new("against", -5.0)];
        let out = drawn(Unit::Decibans, Figures::Bars { bars });
        let lines: Vec<&str> = out.lines().skip(3).collect();
        assert!(
            (cells(lines[0]) - 2.0 * cells(lines[1])).abs() <= 1.5,
            "{out}"
        );
        let line_at = |line: &str| line.chars().position(|c| c == '│');
        assert_eq!(line_at(lines[0]), line_at(lines[1]), "{out}");
    }

    #[test]
    fn no_line_is_wider_than_the_terminal() {
        let label = "a clue with a name that goes on and on, and a wordthatcannotbebrokenanywherewithoutbreakingit";
        let bars = vec![
            Bar::new(label, -1e6).within(-2e6, 3.0),
            Bar::none(
                label,
                "the findings rule out the claim, so that no figure can be given",
            ),
        ];
        for figures in [
            Figures::Bars { bars: bars.clone() },
            Figures::Spans {
                stated: Some(4.0),
                bars,
            },
        ] {
            let out = drawn(Unit::Decibans, figures);
            assert!(out.lines().all(|line| length(line) <= WIDTH), "{out}");
        }
    }

    #[test]
    fn folded_text_loses_nothing() {
        for width in 1..12 {
            let lines = folded("a few words and oneverylongword", width);
            assert!(lines.iter().all(|line| length(line) <= width), "{lines:?}");
            let all: String = lines.concat().replace(' ', "");
            assert_eq!(all, "afewwordsandoneverylongword");
        }
    }
}
