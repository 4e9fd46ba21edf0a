//! Histories in words, for people.

use super::Names;
use super::chain::Chain;
use super::pulls::chance_by_year;
use crate::check::draft::Draft;
use crate::dating::Bin;
use crate::model::histories::{AtHand, HistoryLine, Spell};
use crate::pack::text::Engraving;
use crate::pack::text::histories::{Event, What};

/// For each engraving its history, in order.
pub fn lines(names: &Names<'_>, draft: &Draft<'_>) -> Vec<Vec<HistoryLine>> {
    let line = |said: String, span| HistoryLine {
        said,
        line: draft.citation(span),
    };
    let mut all: Vec<Vec<HistoryLine>> = Vec::new();
    for engraving in &names.text.engravings {
        let history = &engraving.history;
        let cut = history.cut.iter().map(|cut| {
            let whom = match &history.by {
                Some(by) => format!("by {}", by.value),
                None => "for sale".to_owned(),
            };
            line(
                format!("cut {} {whom}{}", cut.value, sizes(engraving)),
                cut.span,
            )
        });
        let events = history.events.iter();
        all.push(
            cut.chain(events.map(|event| line(said(event), event.span)))
                .collect(),
        );
    }
    // What an engraving came of stands first.
    let came_of = names.text.engravings.iter().flat_map(|source| {
        let events = source.history.events.iter();
        events.filter_map(move |event| Some((source, event, event.becomes.as_ref()?)))
    });
    for (source, event, target) in came_of {
        let place = names
            .text
            .engravings
            .iter()
            .position(|e| e.id.value == target.value);
        let said = match (event.what, &event.by) {
            (What::Copied, Some(by)) => format!(
                "copied {} from {} by {}",
                event.date.value, source.id.value, by.value
            ),
            (what, _) => format!(
                "{} {} from {}",
                name(what),
                event.date.value,
                source.id.value
            ),
        };
        let sizes = place.map(|place| sizes(&names.text.engravings[place]));
        let said = said + sizes.as_deref().unwrap_or_default();
        if let Some(lines) = place.and_then(|place| all.get_mut(place)) {
            lines.insert(0, line(said, event.span));
        }
    }
    all
}

/// What sizes it was cut for, if not for all.
fn sizes(engraving: &Engraving) -> String {
    let classes = &engraving.history.size_classes;
    let classes: Vec<&str> = classes.iter().map(|class| class.value.as_str()).collect();
    if classes.is_empty() {
        return String::new();
    }
    format!(", for {} pieces only", classes.join(" and "))
}

fn name(what: What) -> &'static str {
    match what {
        What::Recut => "re-cut",
        What::Stock => "stock",
        other => other.key(),
    }
}

fn said(event: &Event) -> String {
    let mut text = format!("{} {}", name(event.what), event.date.value);
    if let Some(by) = &event.by {
        text += &format!(" by {}", by.value);
    }
    let to: Vec<&str> = event.to.iter().map(|to| to.value.as_str()).collect();
    match (event.what, to.is_empty()) {
        (What::Stock, true) => text += " to anyone",
        (What::Shared, false) => text += &format!(" with {}", to.join(", ")),
        (_, false) => text += &format!(" to {}", to.join(", ")),
        _ => {}
    }
    if let Some(becomes) = &event.becomes {
        text += &format!(" as {}", becomes.value);
    }
    if let Some(plate) = &event.plate {
        text += &format!(", the plate {}", plate.value);
    }
    text
}

/// Who could pull from what, when.
pub fn at_hand(names: &Names<'_>, chains: &[Chain], bins: &[Bin]) -> Vec<AtHand> {
    let mut all = Vec::new();
    for maker in 0..names.pack.makers.len() {
        for engraving in 0..names.text.engravings.len() {
            let spells = spells(&chance_by_year(names, chains, maker, engraving, bins));
            if !spells.is_empty() {
                all.push(AtHand {
                    maker,
                    engraving,
                    spells,
                });
            }
        }
    }
    all
}

fn spells(chances: &[(i64, f64)]) -> Vec<Spell> {
    let mut spells: Vec<Spell> = Vec::new();
    for &(year, chance) in chances.iter().filter(|(_, chance)| *chance > 0.0) {
        let follows = spells
            .last()
            .is_some_and(|spell| spell.possible.1 + 1 == year);
        if !follows {
            spells.push(Spell {
                possible: (year, year),
                likely: None,
            });
        }
        if let Some(spell) = spells.last_mut() {
            spell.possible.1 = year;
            if chance >= 0.5 {
                let first = spell.likely.map_or(year, |(first, _)| first);
                spell.likely = Some((first, year));
            }
        }
    }
    spells
}
