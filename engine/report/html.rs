//! A written opinion as one HTML file: no scripts, no network, made to be printed on A4 in grey as well.

mod evidence;
mod front;
mod style;
mod worth;

use maud::{DOCTYPE, Markup, html};

use super::chart::svg::clean;
use crate::appraisal::Appraisal;

/// The file.
#[must_use]
pub fn appraisal(appraisal: &Appraisal) -> String {
    let title = clean(&appraisal.title);
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { @if appraisal.what_if.is_some() { "What-if: " } (title) }
                style { (style::STYLE) }
            }
            body {
                main {
                    h1 { (title) }
                    @if let Some(what_if) = &appraisal.what_if { p class="what-if" { strong { (clean(&what_if.words)) } } }
                    (front::instruction(appraisal))
                    (front::opinion(appraisal))
                    (front::alternatives(appraisal))
                    (front::dates(appraisal))
                    (front::object(appraisal))
                    (front::looked_at(appraisal))
                    (evidence::audit(appraisal))
                    (evidence::strength(appraisal))
                    (evidence::stress(appraisal))
                    (evidence::leads_away(appraisal))
                    (evidence::would_change(appraisal))
                    (front::condition(appraisal))
                    (worth::value(appraisal))
                    (evidence::questions(appraisal))
                    (front::limits(appraisal))
                    (front::again(appraisal))
                    (front::signature(appraisal))
                }
            }
        }
    };
    format!("{}\n", page.into_string())
}

/// A section with its heading.
fn section(id: &str, heading: &str, content: &Markup) -> Markup {
    html! { section id=(id) { h2 { (heading) } (content) } }
}

/// A table: headings above, the first cell of each row a heading, the cells after it numbers where `numbers` says so.
fn table(caption: &str, headings: &[&str], numbers: &[bool], rows: &[Vec<String>]) -> Markup {
    let class = |place: usize| match numbers.get(place) {
        Some(true) => "number",
        _ => "text",
    };
    // A day is not broken at its hyphens.
    let is_day = |cell: &str| {
        cell.len() >= 10
            && cell
                .bytes()
                .all(|b| b.is_ascii_digit() || b"-T:".contains(&b))
    };
    let of_cell = |place: usize, cell: &str| if is_day(cell) { "day" } else { class(place) };
    html! {
        table {
            caption { (clean(caption)) }
            thead {
                tr { @for (place, heading) in headings.iter().enumerate() { th scope="col" class=(class(place)) { (clean(heading)) } } }
            }
            tbody {
                @for row in rows {
                    tr {
                        @for (place, cell) in row.iter().enumerate() {
                            @if place == 0 { th scope="row" { (clean(cell)) } }
                            @else { td class=(of_cell(place, cell)) { (clean(cell)) } }
                        }
                    }
                }
            }
        }
    }
}

/// Names with what is said of each.
fn pairs(rows: &[(&str, String)]) -> Markup {
    html! {
        dl { @for (name, said) in rows { dt { (clean(name)) } dd { (clean(said)) } } }
    }
}
