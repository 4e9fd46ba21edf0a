//! Standing bars and lines: figures along something that has an order.

use maud::html;

use super::{
    BLUE, FAINT, INK, LETTERS, LINE, MARGIN, Page, VERMILION, WIDTH, clean, fill, letters_in,
    place, pointed_at,
};
use crate::report::chart::number::{beside, figure, plain};
use crate::report::chart::scale::Scale;
use crate::report::chart::text::folded;
use crate::report::chart::{Bar, Point, Unit};

const FROM: f64 = MARGIN + 44.0;
const ACROSS: f64 = WIDTH - 2.0 * MARGIN - 56.0;
const HIGH: f64 = 150.0;
/// Room that a label below a column needs at least.
const LABEL_WIDTH: f64 = 58.0;
/// Room that a number above a column needs.
const NUMBER_WIDTH: f64 = 40.0;

impl Page {
    /// Bars from zero, side by side. Where they stand too close for all labels, every second, third and so on is named.
    pub(super) fn columns(&mut self, unit: &Unit, bars: &[Bar]) {
        let scale = Scale::of(Scale::figures(bars), unit, true);
        let top = self.below + LINE;
        let bottom = top + HIGH;
        self.levels(&scale, top, bottom);
        let step = ACROSS / bars.len().max(1) as f64;
        let every = (LABEL_WIDTH / step).ceil().max(1.0) as usize;
        let has_numbers = step >= NUMBER_WIDTH * 0.75;
        let id = self.id.clone();
        let mut n_lines = 0;
        for (n, bar) in bars.iter().enumerate() {
            let middle = FROM + (n as f64 + 0.5) * step;
            let text = beside(unit, bar);
            if let Some(value) = bar.value {
                let zero = upright(&scale, 0.0, top);
                let end = upright(&scale, value, top);
                let height = (zero - end)
                    .abs()
                    .max(if value == 0.0 { 0.0 } else { 0.75 });
                let from = if value < 0.0 { zero } else { zero - height };
                let width = (step * 0.72).max(0.5);
                let outline = if value < 0.0 { VERMILION } else { BLUE };
                self.put(html! {
                    rect x=(place(middle - width / 2.0)) y=(place(from)) width=(place(width)) height=(place(height))
                        fill=(fill(&id, value)) stroke=(outline) stroke-width="0.75" {
                        (pointed_at(&bar.label, &text))
                    }
                    @if has_numbers && value != 0.0 {
                        text x=(place(middle)) y=(place(from - 4.0)) text-anchor="middle" font-size="11" { (figure(unit, value)) }
                    }
                });
            }
            if n % every == 0 {
                let room = (step * every as f64 - 4.0).max(LABEL_WIDTH - 4.0);
                let lines = folded(&clean(&bar.label), letters_in(room, LETTERS - 1.0));
                n_lines = n_lines.max(lines.len());
                for (place_of, line) in lines.iter().enumerate() {
                    let y = place(bottom + 14.0 + place_of as f64 * LINE);
                    self.put(html! {
                        text x=(place(middle)) y=(y) text-anchor="middle" font-size="11" { (line) }
                    });
                }
            }
        }
        self.below = bottom + 6.0 + n_lines as f64 * LINE;
    }

    /// A line with a band.
    pub(super) fn line(&mut self, unit: &Unit, across: &str, points: &[Point]) {
        let figures = points.iter().flat_map(|p| [Some(p.up), p.low, p.high]);
        let scale = Scale::of(figures.flatten(), unit, false);
        let along = Scale::of(points.iter().map(|p| p.across), &Unit::Minutes, false);
        let top = self.below + 6.0;
        let bottom = top + HIGH;
        self.levels(&scale, top, bottom);
        let x = |point: &Point| FROM + along.place(point.across) * ACROSS;
        let path = |figures: &mut dyn Iterator<Item = (f64, f64)>| {
            let mut path = String::new();
            for (x, y) in figures {
                path += if path.is_empty() { "M" } else { "L" };
                path += &format!("{} {}", place(x), place(upright(&scale, y, top)));
            }
            path
        };
        let ends = |point: &Point| Some((x(point), point.low?, point.high?));
        let ends: Vec<(f64, f64, f64)> = points.iter().filter_map(ends).collect();
        let there = ends.iter().map(|&(x, low, _)| (x, low));
        let back = ends.iter().rev().map(|&(x, _, high)| (x, high));
        let band = path(&mut there.chain(back));
        let line = path(&mut points.iter().map(|point| (x(point), point.up)));
        self.put(html! {
            @if !band.is_empty() { path d={ (band) "Z" } fill=(BLUE) fill-opacity="0.2" {} }
            path d=(line) stroke=(BLUE) stroke-width="2" fill="none" {}
        });
        for point in points {
            let bar = Bar {
                label: plain(point.across),
                value: Some(point.up),
                low: point.low,
                high: point.high,
                beside: None,
            };
            self.put(html! {
                circle cx=(place(x(point))) cy=(place(upright(&scale, point.up, top))) r="3.5" fill=(BLUE) {
                    (pointed_at(&bar.label, &beside(unit, &bar)))
                }
            });
        }
        self.numbers(unit, points, &scale, &along, top);
        for tick in along.ticks() {
            let x = FROM + along.place(tick) * ACROSS;
            self.put(html! {
                line x1=(place(x)) y1=(place(bottom)) x2=(place(x)) y2=(place(bottom + 4.0)) stroke=(INK) {}
                text x=(place(x)) y=(place(bottom + 16.0)) text-anchor="middle" font-size="11" { (along.tick_text(tick)) }
            });
        }
        self.below = bottom + 20.0;
        let words = folded(&clean(across), letters_in(ACROSS, LETTERS));
        if !across.is_empty() {
            self.lines(&words, FROM + ACROSS / 2.0, self.below + 12.0, "middle");
            self.below += words.len() as f64 * LINE;
        }
    }

    /// The figure above every point that is far enough from the last one named.
    fn numbers(&mut self, unit: &Unit, points: &[Point], scale: &Scale, along: &Scale, top: f64) {
        let mut free_from = f64::NEG_INFINITY;
        for point in points {
            let x = FROM + along.place(point.across) * ACROSS;
            if x < free_from {
                continue;
            }
            free_from = x + NUMBER_WIDTH;
            let y = (upright(scale, point.up, top) - 7.0).max(top + 8.0);
            self.put(html! {
                text x=(place(x)) y=(place(y)) text-anchor="middle" font-size="11" { (figure(unit, point.up)) }
            });
        }
    }

    /// Thin level lines at the numbers of the axis.
    fn levels(&mut self, scale: &Scale, top: f64, bottom: f64) {
        for tick in scale.ticks() {
            let y = place(upright(scale, tick, top));
            let is_base = tick == 0.0 || upright(scale, tick, top) >= bottom;
            let colour = if is_base { INK } else { FAINT };
            self.put(html! {
                line x1=(place(FROM)) y1=(y) x2=(place(FROM + ACROSS)) y2=(y) stroke=(colour) stroke-width="1" {}
                text x=(place(FROM - 6.0)) y=(y) dy="4" text-anchor="end" font-size="11" { (scale.tick_text(tick)) }
            });
        }
    }
}

/// The height of a figure in the picture.
fn upright(scale: &Scale, figure: f64, top: f64) -> f64 {
    top + (1.0 - scale.place(figure)) * HIGH
}
