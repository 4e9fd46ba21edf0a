//! A chain of events: one copper from its cutting to its end, under all of the names it has on the way.

use std::cell::Cell;

use super::owners::{Change, Held, Owners};
use super::{Names, Origin, event_form, origins, reach};
use crate::check::dating;
use crate::check::names;
use crate::dating::{Bin, Edtf, Happened, OpenEnd, Softness};
use crate::diagnostic::{Diagnostic, has_errors};
use crate::pack::text::histories::{Event, What};
use crate::pack::text::{Placed, Word};
use crate::source::Span;

/// What holds once an event has happened, until the next has.
#[derive(Clone, Debug)]
pub struct Step {
    /// When it happened, the events before it aside.
    pub happened: Happened,
    /// The engraving that is pulled from; none once it is retired.
    pub engraving: Option<usize>,
    /// Who has it.
    pub held: Vec<Held>,
    /// The state of the plate, if the event sets it: wear counts from here.
    pub plate: Option<usize>,
    /// Where the engraving came from.
    pub origin: Span,
}

/// One copper, event by event.
#[derive(Clone, Debug, Default)]
pub struct Chain {
    /// Its steps, in order.
    pub steps: Vec<Step>,
}

/// A chain on the way.
struct Walk<'n, 't> {
    names: &'n Names<'t>,
    owners: Owners<'n, 't>,
    softness: Softness,
    bins: &'n [Bin],
    chain: Chain,
    /// What is still to end: the year after, when, the step that began it.
    open: Vec<(i64, Happened, usize)>,
    /// The date before, with its place and how far it reaches back.
    before: Option<(Placed<Edtf>, i64)>,
    engraving: usize,
    origin: Span,
    retired: Option<Span>,
}

/// The chains of a pack. What contradicts itself is reported.
pub fn chains(names: &Names<'_>, bins: &[Bin], out: &mut Vec<Diagnostic>) -> Vec<Chain> {
    let n_reports = out.len();
    let (origins, clear) = origins(names, out);
    let mut walked = vec![false; origins.len()];
    let mut chains = Vec::new();
    for (index, origin) in origins.iter().enumerate() {
        let history = &names.text.engravings[index].history;
        let (date, by) = match origin {
            Some(Origin::Cut(cut)) => ((*cut).clone(), history.by.as_ref()),
            Some(Origin::Of(_, event)) if event.what == What::Copied => {
                (event.date.clone(), event.by.as_ref())
            }
            _ => continue,
        };
        let plate = match origin {
            Some(Origin::Of(_, event)) => event.plate.as_ref(),
            _ => None,
        };
        let softness = dating::softness(names.pack);
        let owners = Owners {
            names,
            about: softness.about,
            known: Cell::new(
                clear[index] && (by.is_some() || matches!(origin, Some(Origin::Cut(_)))),
            ),
        };
        let mut walk = Walk {
            names,
            owners,
            softness,
            bins,
            chain: Chain::default(),
            open: Vec::new(),
            before: None,
            engraving: index,
            origin: date.span,
            retired: None,
        };
        walk.begin(&date, by, plate, out);
        let mut next = Some(index);
        while let Some(engraving) = next.take() {
            walked[engraving] = true;
            for event in &names.text.engravings[engraving].history.events {
                if next.is_some() {
                    walk.report_over(engraving, event, out);
                } else if let Some(target) = walk.event(event, out) {
                    // One that comes of two places is reported, and followed from one of them only.
                    let is_from_here = matches!(origins[target], Some(Origin::Of(source, of)) if source == engraving && std::ptr::eq(of, event));
                    next = (is_from_here && !walked[target]).then_some(target);
                }
            }
        }
        walk.finish();
        chains.push(walk.chain);
    }
    if !has_errors(&out[n_reports..])
        && let Some(lost) = (0..walked.len()).find(|&i| !walked[i] && origins[i].is_some())
    {
        out.push(
            Diagnostic::error(
                "pack::history-origin",
                format!("`{}` comes of itself, by way of others", names.id(lost)),
                names.text.engravings[lost].id.span,
            )
            .hint("the first of them was cut: give it `cut`, and take it out of `as`"),
        );
    }
    chains
}

impl<'t> Walk<'_, 't> {
    fn begin(
        &mut self,
        date: &Placed<Edtf>,
        by: Option<&'t Word>,
        plate: Option<&Word>,
        out: &mut Vec<Diagnostic>,
    ) {
        let plate = self.plate(plate, out).or(Some(0));
        if let Some(happened) = self.happened(date, out) {
            self.step(happened, &Change::Begun(by), date, plate, out);
        }
        self.before = Some((
            date.clone(),
            reach(&date.value, self.softness.about)
                .0
                .unwrap_or(i64::MIN),
        ));
    }

    /// One event; the engraving it makes of this one, if it is re-cut.
    fn event(&mut self, event: &'t Event, out: &mut Vec<Diagnostic>) -> Option<usize> {
        if self.retired.is_some() {
            self.report_over(self.engraving, event, out);
            return None;
        }
        if !event_form(event, out) {
            self.owners.known.set(false);
            return None;
        }
        self.report_order(event, out);
        let plate = self.plate(event.plate.as_ref(), out);
        if event.what == What::Copied {
            // A chain of its own.
            return None;
        }
        let (happened, over) = if event.what.lasts() {
            let (begun, over) = self.softness.lasted(&event.date.value);
            (begun, Some(over))
        } else {
            (self.happened(&event.date, out)?, None)
        };
        let begins = reach(&event.date.value, 0).0.unwrap_or(i64::MIN);
        self.close_until(begins);
        let target = match (&event.becomes, event.what) {
            (Some(word), What::Recut) => self.names.engraving(word, &mut Vec::new()),
            _ => None,
        };
        let plate = match event.what {
            What::Recut => plate.or(Some(0)),
            _ => plate,
        };
        let step = self.chain.steps.len();
        self.step(happened, &Change::Event(event), &event.date, plate, out);
        if let (Some(over), Some(last)) = (over, reach(&event.date.value, 0).1) {
            self.open.push((last.saturating_add(1), over, step));
        }
        match event.what {
            What::Recut => {
                let target = target?;
                self.engraving = target;
                self.origin = event.span;
                if let Some(step) = self.chain.steps.last_mut() {
                    step.engraving = Some(target);
                    step.origin = event.span;
                }
                Some(target)
            }
            What::Retired => {
                self.retired = Some(event.span);
                None
            }
            _ => None,
        }
    }

    fn report_over(&self, engraving: usize, event: &Event, out: &mut Vec<Diagnostic>) {
        let over = self.retired.unwrap_or(self.origin);
        out.push(
            Diagnostic::error(
                "pack::history-over",
                format!(
                    "`{}` is {} after its end",
                    self.names.id(engraving),
                    event.what.key()
                ),
                event.span,
            )
            .also(over, "here its history ends")
            .hint("events stand in order of time; what became of a re-cut engraving stands with the one it became"),
        );
    }

    /// Ends what lasted until before a year.
    fn close_until(&mut self, year: i64) {
        self.open.sort_by_key(|(at, _, step)| (*at, *step));
        while self.open.first().is_some_and(|(at, ..)| *at <= year) {
            let (_, happened, began) = self.open.remove(0);
            let held = self.held_after(&Change::Over(began), None, &mut Vec::new());
            self.push(happened, held, None);
        }
    }

    fn finish(&mut self) {
        self.close_until(i64::MAX);
    }

    fn happened(&self, date: &Placed<Edtf>, out: &mut Vec<Diagnostic>) -> Option<Happened> {
        match self.softness.happened(&date.value, self.bins) {
            Ok(happened) => Some(happened),
            Err(error @ OpenEnd) => {
                out.push(
                    Diagnostic::error("pack::event", error.to_string(), date.span)
                        .hint("write the years between which it happened: \"1863/1871\""),
                );
                None
            }
        }
    }

    fn plate(&self, word: Option<&Word>, out: &mut Vec<Diagnostic>) -> Option<usize> {
        let word = word?;
        let Some(plate) = &self.names.text.from_histories.plate else {
            out.push(
                Diagnostic::error("pack::missing", "the pack says nothing of the wear of plates", word.span)
                    .hint("add `[plate]` with `states = [\"fresh\", \"worn\"]` and how fast they wear, or take `plate` out"),
            );
            return None;
        };
        let known = plate.states.iter().map(|s| s.value.as_str());
        names::find("state of a plate", word, known, out)
    }

    fn report_order(&mut self, event: &Event, out: &mut Vec<Diagnostic>) {
        let about = self.softness.about;
        let (first, last) = reach(&event.date.value, about);
        let too_soon = |since: i64| last.is_some_and(|last| last < since);
        match &self.before {
            Some((before, since)) if too_soon(*since) => out.push(
                Diagnostic::error(
                    "pack::history-order",
                    format!(
                        "`{}` is {} in {}, before what happened in {}",
                        self.names.id(self.engraving),
                        event.what.key(),
                        event.date.value,
                        before.value
                    ),
                    event.span,
                )
                .also(before.span, "before this")
                .hint("events stand in order of time, after the cutting: mend a date or move the line; `~` means about"),
            ),
            _ => {
                let since = first.unwrap_or(i64::MIN);
                if self.before.as_ref().is_none_or(|(_, before)| *before <= since) {
                    self.before = Some((event.date.clone(), since));
                }
            }
        }
    }

    fn step(
        &mut self,
        happened: Happened,
        change: &Change<'t>,
        date: &Placed<Edtf>,
        plate: Option<usize>,
        out: &mut Vec<Diagnostic>,
    ) {
        let held = self.held_after(change, Some(date), out);
        self.push(happened, held, plate);
    }

    fn held_after(
        &self,
        change: &Change<'t>,
        date: Option<&Placed<Edtf>>,
        out: &mut Vec<Diagnostic>,
    ) -> Vec<Held> {
        let steps = &self.chain.steps;
        let held = steps.last().map_or_else(Vec::new, |step| step.held.clone());
        self.owners
            .after(held, (self.engraving, steps.len()), change, date, out)
    }

    fn push(&mut self, happened: Happened, held: Vec<Held>, plate: Option<usize>) {
        let over = self.retired.is_some();
        self.chain.steps.push(Step {
            happened,
            engraving: (!over).then_some(self.engraving),
            held,
            plate,
            origin: self.origin,
        });
    }
}
