//! Histories of engravings: who had which copper when, from dated events.
//!
//! An engraving is cut, for a maker, a works or nobody; then its events follow in order. A re-cut makes it another engraving
//! of the pack, whose own events follow on; together they are one *chain*. A copy begins a chain of its own. What a works has,
//! each of its partnerships has in its own years.
//!
//! The rule by which a maker's chances in a period follow ([`pulls`]):
//! 1. A piece of a maker and period was made in some year of both: a year counts with the chance that the maker's years cover
//!    it ([`crate::dating::soft`]).
//! 2. Each event happened in some year, as soft as its date ([`crate::dating::event`]), no sooner than the event before it in
//!    its chain, and otherwise independently. It holds from the beginning of its year on.
//! 3. In a year the maker can pull from the engravings it has then: those at hand. With the chance *never seen* it printed from
//!    another all the same; else from one of those at hand, each in proportion to its share of use. With none at hand, it
//!    printed from one never seen.
//! 4. A print of a size class is from an engraving that was cut for the class.
//! 5. The chances of a maker and period are the mean over years and over what happened when.

pub mod chain;
pub mod forms;
pub mod owners;
pub mod plates;
pub mod pulls;
pub mod shares;
pub mod table;
pub mod words;

use super::names;
use crate::dating::{Bound, Edtf};
use crate::diagnostic::Diagnostic;
use crate::pack::text::histories::{Event, What};
use crate::pack::text::{Engravings, PackText, Placed, Word};
use crate::source::Span;

/// Who can have an engraving.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Holder {
    /// One maker, by position.
    Maker(usize),
    /// Whoever works at a works, by position.
    Works(usize),
    /// Every maker but later reproductions.
    Anyone,
}

/// The names that histories use.
pub struct Names<'p> {
    /// The pack.
    pub pack: &'p PackText,
    /// The engravings.
    pub text: &'p Engravings,
}

impl Names<'_> {
    /// The maker or works of a name; reported if there is none, or both.
    pub fn holder(&self, word: &Word, out: &mut Vec<Diagnostic>) -> Option<Holder> {
        let makers = || self.pack.makers.iter().map(|m| m.id.value.as_str());
        let works = || self.pack.works.iter().map(|w| w.value.as_str());
        let maker = makers().position(|name| name == word.value);
        let place = works().position(|name| name == word.value);
        match (maker, place) {
            (Some(maker), None) => Some(Holder::Maker(maker)),
            (None, Some(place)) => Some(Holder::Works(place)),
            (None, None) => {
                let known: Vec<&str> = makers().chain(works()).collect();
                out.push(names::unknown("maker or works", word, known));
                None
            }
            (Some(_), Some(_)) => {
                out.push(
                    Diagnostic::error(
                        "pack::history-owner",
                        format!("`{}` is a maker and a works", word.value),
                        word.span,
                    )
                    .hint("give one of them another `id` in makers.toml"),
                );
                None
            }
        }
    }

    /// The name of a holder.
    pub fn name(&self, holder: Holder) -> &str {
        match holder {
            Holder::Maker(maker) => &self.pack.makers[maker].id.value,
            Holder::Works(works) => &self.pack.works[works].value,
            Holder::Anyone => "anyone",
        }
    }

    /// The works of a maker, by position.
    pub fn works_of(&self, maker: usize) -> Option<usize> {
        let name = self.pack.makers[maker].works.as_ref()?;
        self.pack.works.iter().position(|w| w.value == name.value)
    }

    /// The engraving of a name; reported if there is none.
    pub fn engraving(&self, word: &Word, out: &mut Vec<Diagnostic>) -> Option<usize> {
        let known = self.text.engravings.iter().map(|e| e.id.value.as_str());
        names::find("engraving", word, known, out)
    }

    fn id(&self, engraving: usize) -> &str {
        &self.text.engravings[engraving].id.value
    }
}

/// Whether a pack says who used its engravings by their histories.
pub fn are_told(text: &Engravings) -> bool {
    text.engravings.iter().any(|e| !e.history.is_empty())
}

/// Where an engraving comes from.
pub enum Origin<'t> {
    /// Cut.
    Cut(&'t Placed<Edtf>),
    /// Of another engraving, by an event of its history.
    Of(usize, &'t Event),
}

/// For each engraving where it comes from, none for one never seen or if that is not said (reported); and whether only one
/// place is said.
pub fn origins<'t>(
    names: &Names<'t>,
    out: &mut Vec<Diagnostic>,
) -> (Vec<Option<Origin<'t>>>, Vec<bool>) {
    let text = names.text;
    let mut clear = vec![true; text.engravings.len()];
    // An event whose engraving is not known may well be the one that another comes of.
    let mut all_known = true;
    let mut origins: Vec<Option<Origin<'t>>> = text.engravings.iter().map(|_| None).collect();
    for (index, engraving) in text.engravings.iter().enumerate() {
        let history = &engraving.history;
        if engraving.unseen && !history.is_empty() {
            out.push(
                Diagnostic::error(
                    "pack::history-origin",
                    "an engraving never seen has no history",
                    engraving.id.span,
                )
                .hint("take out `cut`, `by` and `events`; its chance is said in [never_seen]"),
            );
            continue;
        }
        if let (None, Some(by)) = (&history.cut, &history.by) {
            out.push(
                Diagnostic::error(
                    "pack::history-origin",
                    format!("nothing says when `{}` was cut for `{}`", engraving.id.value, by.value),
                    by.span,
                )
                .hint("add `cut = \"1820~\"`; of an engraving that came of another, the event there says by whom"),
            );
        }
        if let Some(cut) = &history.cut {
            origins[index] = Some(Origin::Cut(cut));
        }
    }
    let made = text.engravings.iter().enumerate().flat_map(|(index, e)| {
        let events = e.history.events.iter();
        events.map(move |event| (index, event))
    });
    for (source, event) in made {
        if !makes_another(event.what) {
            continue;
        }
        let named = event.becomes.as_ref();
        let target = named.and_then(|word| Some((word, names.engraving(word, out)?)));
        let Some((word, target)) = target else {
            all_known = false;
            continue;
        };
        if target == source || text.engravings[target].unseen {
            out.push(
                Diagnostic::error(
                    "pack::history-origin",
                    if target == source {
                        format!("`{}` cannot come of itself", word.value)
                    } else {
                        "what comes of an engraving has been seen".to_owned()
                    },
                    word.span,
                )
                .hint("name another engraving of the pack in `as`"),
            );
            all_known = false;
            continue;
        }
        let earlier = match &origins[target] {
            None => None,
            Some(Origin::Cut(cut)) => Some(cut.span),
            Some(Origin::Of(_, event)) => Some(event.span),
        };
        if let Some(earlier) = earlier {
            out.push(
                Diagnostic::error(
                    "pack::history-origin",
                    format!("`{}` comes from two places", word.value),
                    event.span,
                )
                .also(earlier, "the other one")
                .hint("take one of them out: it is cut, or comes of one event of one engraving"),
            );
            clear[target] = false;
            continue;
        }
        origins[target] = Some(Origin::Of(source, event));
    }
    for (engraving, origin) in text.engravings.iter().zip(&origins) {
        if all_known && origin.is_none() && !engraving.unseen && engraving.history.by.is_none() {
            out.push(
                Diagnostic::error(
                    "pack::history-origin",
                    format!("nothing says where `{}` comes from", engraving.id.value),
                    engraving.id.span,
                )
                .hint("add `cut = \"1820~\"` and `by`, or name it in `as` of the event that it came of"),
            );
        }
    }
    (origins, clear)
}

fn makes_another(what: What) -> bool {
    matches!(what, What::Recut | What::Copied)
}

/// The years of a date as far as softness stretches them, `?` aside; `None` for an open end.
fn reach(date: &Edtf, about: u32) -> (Option<i64>, Option<i64>) {
    let (start, end) = match date {
        Edtf::Date(date) => (Some(*date), Some(*date)),
        Edtf::Interval(start, end) => (of_end(start), of_end(end)),
    };
    let about = |date: Option<crate::dating::Date>| {
        let soft = date.is_some_and(|date| date.qualifier.is_approximate());
        if soft { i64::from(about) } else { 0 }
    };
    let year = |bound: Bound| match bound {
        Bound::Year(year) => Some(year),
        Bound::Open | Bound::Unknown => None,
    };
    (
        year(date.earliest()).map(|year| year - about(start)),
        year(date.latest()).map(|year| year + about(end)),
    )
}

fn of_end(end: &crate::dating::End) -> Option<crate::dating::Date> {
    match end {
        crate::dating::End::Date(date) => Some(*date),
        crate::dating::End::Open | crate::dating::End::Unknown => None,
    }
}

/// Reports a key that an event of this kind needs or cannot have.
fn event_form(event: &Event, out: &mut Vec<Diagnostic>) -> bool {
    let n_reports = out.len();
    let key = event.what.key();
    let (to, with_by, becomes) = match event.what {
        What::Sold | What::Inherited | What::Lent => (Some(1..2), true, false),
        What::Shared => (Some(1..usize::MAX), true, false),
        What::Stock => (Some(0..usize::MAX), false, false),
        What::Recut => (None, true, true),
        What::Copied => (None, true, true),
        What::Retired => (None, false, false),
    };
    let mut complain = |message: String, span: Span, hint: String| {
        out.push(Diagnostic::error("pack::event", message, span).hint(hint));
    };
    let second = if event.what == What::Shared {
        "with"
    } else {
        "to"
    };
    match to {
        None => {
            if let Some(word) = event.to.first() {
                complain(
                    format!("what is {key} goes to nobody"),
                    word.span,
                    "take it out; a sale is an event of its own".to_owned(),
                );
            }
        }
        Some(number) if !number.contains(&event.to.len()) => complain(
            if event.to.is_empty() {
                format!("nothing says {second} whom it was {key}")
            } else {
                format!("it was {key} to several at once")
            },
            event.to.get(1).map_or(event.span, |word| word.span),
            format!(
                "name one maker or works: {{ {key} = \"{}\", {second} = \"…\" }}",
                event.date.value
            ),
        ),
        Some(_) => {}
    }
    if let Some(by) = event.by.as_ref().filter(|_| !with_by) {
        complain(
            format!("`by` means nothing for what is {key}"),
            by.span,
            "take it out".to_owned(),
        );
    }
    if event.what == What::Copied && event.by.is_none() {
        complain(
            "nothing says who made the copy".to_owned(),
            event.span,
            "add `by`: a maker or a works".to_owned(),
        );
    }
    match (&event.becomes, becomes) {
        (None, true) => complain(
            format!("nothing says what engraving it was {key} as"),
            event.span,
            format!(
                "add the engraving that comes of it: {{ {key} = \"{}\", as = \"…\" }}",
                event.date.value
            ),
        ),
        (Some(word), false) => complain(
            format!("no engraving comes of what is {key}"),
            word.span,
            "take `as` out".to_owned(),
        ),
        _ => {}
    }
    if let Some(word) = event.plate.as_ref().filter(|_| event.what == What::Retired) {
        complain(
            "nobody prints from a plate that is retired".to_owned(),
            word.span,
            "take `plate` out".to_owned(),
        );
    }
    out.len() == n_reports
}
