//! What a look costs, with its names found among the clues.

use super::names;
use crate::diagnostic::Diagnostic;
use crate::model::Clue;
use crate::model::looks::{LookCost, Looks, Tool};
use crate::pack::text::looks::Looks as LooksText;
use crate::pack::text::{PackText, Placed, Word};

/// Reports what is wrong with the costs.
pub fn check(text: &LooksText, pack: &PackText, out: &mut Vec<Diagnostic>) {
    names::report_duplicates("tool", text.tools.iter().map(|tool| &tool.id), out);
    for tool in &text.tools {
        check_minutes(tool.minutes.as_ref(), true, out);
    }
    check_minutes(text.otherwise.as_ref(), false, out);
    let clues = clue_names(pack);
    for look in &text.looks {
        check_minutes(look.minutes.as_ref(), false, out);
        for word in &look.clues {
            names::find(
                "clue that can be looked at",
                word,
                clues.iter().copied(),
                out,
            );
        }
        for word in &look.tools {
            let tools = text.tools.iter().map(|tool| tool.id.value.as_str());
            names::find("tool", word, tools, out);
        }
        for (word, state) in &look.when {
            let circumstances = pack.circumstances.iter().map(|c| c.id.value.as_str());
            let place = names::find("circumstance of the look", word, circumstances, out);
            let (Some(place), Some(state)) = (place, state) else {
                continue;
            };
            let states = pack.circumstances[place].states.iter();
            let states = states.map(|state| state.value.as_str());
            if !states.clone().any(|known| known == state.value) {
                out.push(names::unknown_state(&word.value, state, states));
            }
        }
    }
    if let Some(least) = text
        .bits_per_minute
        .as_ref()
        .filter(|least| least.value < 0.0)
    {
        out.push(
            Diagnostic::error(
                "pack::looks",
                format!("a look cannot bring {} bits", least.value),
                least.span,
            )
            .label("expected 0 or more")
            .hint("`bits_per_minute = 0` stops at nothing; 0.01 asks for six tenths of a bit in an hour"),
        );
    }
}

fn check_minutes(minutes: Option<&Placed<f64>>, may_be_none: bool, out: &mut Vec<Diagnostic>) {
    let Some(minutes) = minutes else { return };
    if minutes.value < 0.0 || (minutes.value == 0.0 && !may_be_none) {
        let least = if may_be_none { "0 or more" } else { "above 0" };
        out.push(
            Diagnostic::error(
                "pack::looks",
                format!("nothing takes {} minutes", minutes.value),
                minutes.span,
            )
            .label(format!("expected a number {least}"))
            .hint("minutes are plain numbers, such as 3 or 0.5"),
        );
    }
}

/// What can be looked at: every clue that is no circumstance.
fn clue_names(pack: &PackText) -> Vec<&str> {
    let size = pack.sizes.iter().map(|_| "size");
    let marks = pack.marks.iter().map(|marks| &marks.reading.id);
    let codings = pack.engravings.iter().flat_map(|e| &e.codings);
    let clues = pack.clues.iter().map(|clue| &clue.id);
    let learned = pack.collection.iter().flat_map(|c| &c.learned);
    let learned = learned.flat_map(|learned| match learned.kind.value.as_str() {
        "present or absent" => learned.columns.iter().collect(),
        _ => vec![&learned.id],
    });
    let words = marks
        .chain(codings.map(|coding| &coding.clue.id))
        .chain(clues)
        .chain(learned);
    size.chain(words.map(|word| word.value.as_str())).collect()
}

/// The costs with every name by its position among the catalogue's clues. What is not known is reported by [`check`].
pub fn resolve(text: &LooksText, clues: &[Clue]) -> Looks {
    let clue = |word: &Word| clues.iter().position(|clue| clue.id == word.value);
    let value = |number: &Option<Placed<f64>>| number.as_ref().map(|number| number.value);
    let state = |(word, state): &(Word, Option<Word>)| {
        let place = clue(word)?;
        let state = state.as_ref()?;
        let is_it = |known: &String| *known == state.value;
        Some((place, clues[place].states.iter().position(is_it)?))
    };
    let tool = |word: &Word| {
        text.tools
            .iter()
            .position(|tool| tool.id.value == word.value)
    };
    let costs = text.looks.iter().filter_map(|look| {
        Some(LookCost {
            clues: look.clues.iter().filter_map(clue).collect(),
            when: look.when.iter().map(state).collect::<Option<_>>()?,
            minutes: value(&look.minutes)?,
            tools: look.tools.iter().filter_map(tool).collect(),
        })
    });
    let tools = text.tools.iter().map(|tool| Tool {
        id: tool.id.value.clone(),
        name: tool.name.as_ref().unwrap_or(&tool.id).value.clone(),
        minutes: value(&tool.minutes).unwrap_or(0.0),
    });
    Looks {
        bits_per_minute: value(&text.bits_per_minute),
        minutes: value(&text.otherwise),
        costs: costs.collect(),
        tools: tools.collect(),
    }
}
