//! The lettering of marks: the registry's texts and devices, and the beliefs about reading them.

mod beliefs;

use super::draft::{ClueDraft, Draft};
use super::marks::Marks;
use super::names;
use crate::diagnostic::{Diagnostic, has_errors};
use crate::mark::lettering::LONGEST_LETTERING;
use crate::mark::{Lettering, Presence, Reading};
use crate::model::lettering::{
    LetteringBeliefs, LetteringParents, LetteringRules, N_STRIKES, RegisteredMark,
};
use crate::network::{Measure, MeasureId, VariableId};
use crate::pack::text::{Lettering as LetteringText, Mark, Marks as MarksText, PackText, Word};

/// What a mark's text is where nobody knows what it says.
const NOBODY_KNOWS: &str = "?";

/// What could be made of the lettering.
pub struct LetteringDraft {
    alphabet: Reading,
    unknown: Lettering,
    marks: Vec<RegisteredMark>,
    things: Vec<String>,
    beliefs: LetteringBeliefs,
}

/// Checks the lettering; `None` if anything is wrong with it, which is then reported.
pub fn check(
    pack: &PackText,
    text: &LetteringText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<LetteringDraft> {
    let n_reports = out.len();
    let Some(marks) = &pack.marks else {
        out.push(
            Diagnostic::error(
                "pack::lettering",
                "lettering.toml says how marks are read, and the pack has no marks.toml",
                text.span,
            )
            .hint("add marks.toml, or take lettering.toml out"),
        );
        return None;
    };
    names::report_duplicates(
        "device or companion",
        text.devices.iter().chain(&text.companions),
        out,
    );
    let things: Vec<&str> = text
        .devices
        .iter()
        .chain(&text.companions)
        .map(|w| w.value.as_str())
        .collect();
    for group in &text.alike {
        for word in group {
            names::find("device", word, words(&text.devices), out);
        }
    }
    let unknown = unknown(text, out);
    let texts = marks.marks.iter().filter_map(|mark| mark.text.as_ref());
    let known_texts = texts.filter(|text| text.value.trim() != NOBODY_KNOWS);
    let alphabet = Reading::of_texts(known_texts.map(|text| text.value.as_str()));
    let registered: Vec<Option<RegisteredMark>> = marks
        .marks
        .iter()
        .map(|mark| {
            registered(
                mark, text, marks, pack, &alphabet, &unknown, &things, draft, out,
            )
        })
        .collect();
    let beliefs = beliefs::read(text, &alphabet, draft, out);
    if has_errors(&out[n_reports..]) {
        return None;
    }
    Some(LetteringDraft {
        alphabet,
        unknown: unknown?,
        marks: registered.into_iter().collect::<Option<_>>()?,
        things: things.into_iter().map(str::to_owned).collect(),
        beliefs: beliefs?,
    })
}

fn words(words: &[Word]) -> impl Iterator<Item = &str> + Clone {
    words.iter().map(|w| w.value.as_str())
}

/// The lettering nobody knows.
fn unknown(text: &LetteringText, out: &mut Vec<Diagnostic>) -> Option<Lettering> {
    let (shortest, longest) = text.unknown.as_ref()?;
    let whole = |x: f64| {
        (x.fract() == 0.0 && (0.0..=LONGEST_LETTERING as f64).contains(&x)).then_some(x as usize)
    };
    let lettering = whole(shortest.value)
        .zip(whole(longest.value))
        .and_then(|(shortest, longest)| Lettering::unknown(shortest, longest).ok());
    if lettering.is_none() {
        out.push(
            Diagnostic::error(
                "pack::quantity",
                format!(
                    "a lettering has from {} to {} characters here",
                    shortest.value, longest.value
                ),
                longest.span,
            )
            .hint(format!(
                "write whole numbers from 0 to {LONGEST_LETTERING}, the shorter one as `shortest`"
            )),
        );
    }
    lettering
}

#[allow(clippy::too_many_arguments)] // One caller; a struct would only rename the same things.
fn registered(
    mark: &Mark,
    text: &LetteringText,
    marks: &MarksText,
    pack: &PackText,
    alphabet: &Reading,
    unknown: &Option<Lettering>,
    things: &[&str],
    draft: &Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<RegisteredMark> {
    for device in &mark.devices {
        names::find("device", device, words(&text.devices), out);
    }
    for companion in &mark.companions {
        names::find("companion", companion, words(&text.companions), out);
    }
    let lettering = match &mark.text {
        Some(says) if says.value.trim() == NOBODY_KNOWS => unknown.clone(),
        Some(says) => spelt(says, alphabet, out),
        None if mark.devices.is_empty() => {
            out.push(
                Diagnostic::error(
                    "pack::missing",
                    format!("the mark `{}` has neither `text` nor `devices`", mark.id.value),
                    mark.id.span,
                )
                .hint("add what it says (`text = \"…\"`, or `text = \"?\"` if nobody knows) or what it shows (`devices = [\"…\"]`)"),
            );
            None
        }
        None => alphabet.lettering("").ok(),
    };
    let has = |list: &[Word], thing: &str| list.iter().any(|w| w.value == thing);
    let alike = |thing: &str| {
        let groups = text.alike.iter().filter(|group| has(group, thing));
        groups
            .flatten()
            .any(|other| has(&mark.devices, &other.value))
    };
    let presence = |&thing: &&str| {
        if has(&mark.devices, thing) {
            Presence::There
        } else if has(&mark.companions, thing) {
            Presence::Companion
        } else if alike(thing) {
            Presence::Alike
        } else {
            Presence::Absent
        }
    };
    let makers = marks.marked_by.iter().filter_map(|entry| {
        let kind = entry.kinds.iter().find(|k| k.mark.value == mark.id.value)?;
        let maker = pack
            .makers
            .iter()
            .position(|m| m.id.value == entry.maker.value)?;
        Some((maker, kind.years.as_ref().map(|years| years.value)))
    });
    Some(RegisteredMark {
        id: mark.id.value.clone(),
        text: mark.text.as_ref().map(|says| says.value.clone()),
        lettering: lettering?,
        method: mark.method.as_ref()?.value.clone(),
        presence: things.iter().map(presence).collect(),
        makers: makers.collect(),
        citation: draft.citation(mark.id.span),
    })
}

/// A text that can be read letter by letter.
fn spelt(says: &Word, alphabet: &Reading, out: &mut Vec<Diagnostic>) -> Option<Lettering> {
    if let Some(sign) = says.value.chars().find(|c| "?_[]".contains(*c)) {
        out.push(
            Diagnostic::error(
                "pack::lettering",
                format!("`{sign}` stands for what cannot be read, and no mark says it"),
                says.span,
            )
            .hint("write what the whole mark says, or \"?\" alone if nobody knows"),
        );
        return None;
    }
    match alphabet.lettering(&says.value) {
        Ok(lettering) => Some(lettering),
        Err(error) => {
            out.push(
                Diagnostic::error("pack::lettering", error.to_string(), says.span)
                    .hint("shorten it to what is read of it"),
            );
            None
        }
    }
}

/// The rules of the fragment's densities and the measure they are entered on, once the network's variables are known.
pub fn rules(
    lettering: LetteringDraft,
    measure: MeasureId,
    marks: &Marks,
    absent: Option<usize>,
    draft: &Draft<'_>,
) -> Option<(LetteringRules, Measure, Vec<Option<String>>)> {
    let ClueDraft::Variable(reading) = marks.reading else {
        return None;
    };
    let id = |id: usize| VariableId::new(u32::try_from(id).unwrap_or(u32::MAX));
    let mut parents = draft.variables[reading].parents.clone();
    let n_of_reading = parents.len();
    for needed in [Some(marks.mark_kind), Some(marks.strike), marks.stray] {
        if let Some(needed) = needed
            && !parents.contains(&needed)
        {
            parents.push(needed);
        }
    }
    let place = |wanted: usize| parents.iter().position(|&p| p == wanted);
    let sizes: Vec<usize> = parents
        .iter()
        .map(|&p| draft.variables[p].states.len())
        .collect();
    let at = LetteringParents {
        reading: id(reading),
        absent,
        n_of_reading,
        mark: place(marks.mark_kind)?,
        strike: place(marks.strike)?,
        stray: marks.stray.and_then(place),
        strike_variable: id(marks.strike),
        sizes,
    };
    debug_assert!(draft.variables[marks.strike].states.len() > N_STRIKES);
    let faster: usize = at.sizes[at.mark + 1..].iter().product();
    let citations = (0..at.sizes.iter().product())
        .map(|configuration: usize| {
            let mark = configuration / faster % at.sizes[at.mark];
            let mark = lettering.marks.get(mark.checked_sub(1)?)?;
            Some(mark.citation.clone())
        })
        .collect();
    let rules = LetteringRules {
        measure,
        parents: at,
        alphabet: lettering.alphabet,
        unknown: lettering.unknown,
        marks: lettering.marks,
        things: lettering.things,
        beliefs: lettering.beliefs,
    };
    let measure = Measure {
        name: names::FRAGMENT.to_owned(),
        parents: parents.into_iter().map(id).collect(),
    };
    Some((rules, measure, citations))
}
