//! A chain of events: one copper from its cutting to its end, under all of the names it has on the way.

use std::cell::Cell;

use super::{Holder, Names, Origin, event_form, origins, reach};
use crate::check::dating;
use crate::check::names;
use crate::dating::{Bin, Edtf, Happened, OpenEnd, Softness};
use crate::diagnostic::{Diagnostic, has_errors};
use crate::pack::text::histories::{Event, What};
use crate::pack::text::{Placed, Word};
use crate::source::Span;

/// How an engraving is had.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum How {
    /// One's own, alone or shared.
    Own,
    /// Lent, or to be had as stock: goes back, and cannot be sold by the one who has it.
    Passing,
}

/// Somebody who has an engraving.
#[derive(Clone, Copy, Debug)]
pub struct Held {
    /// Who.
    pub holder: Holder,
    /// Where that is said.
    pub line: Span,
    how: How,
    /// Lent away for the time being.
    away: bool,
    /// The event that brought it.
    since: usize,
}

impl Held {
    /// Whether a maker of a works, a later reproduction or not, can pull from it.
    pub fn by(&self, maker: usize, works: Option<usize>, reproduction: bool) -> bool {
        !self.away
            && match self.holder {
                Holder::Maker(holder) => holder == maker,
                Holder::Works(holder) => works == Some(holder),
                Holder::Anyone => !reproduction,
            }
    }
}

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

/// What an event does.
enum Change<'t> {
    /// Cut, or copied from another.
    Begun(Option<&'t Word>),
    Event(&'t Event),
    /// What lasted is over: the step that began it.
    Over(usize),
}

struct Walk<'n, 't> {
    names: &'n Names<'t>,
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
    /// Whether all is known of who has it; if not, that is reported, and who is missing may well be the one.
    known: Cell<bool>,
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
        let mut walk = Walk {
            names,
            softness: dating::softness(names.pack),
            bins,
            chain: Chain::default(),
            open: Vec::new(),
            before: None,
            engraving: index,
            origin: date.span,
            retired: None,
            known: Cell::new(
                clear[index] && (by.is_some() || matches!(origin, Some(Origin::Cut(_)))),
            ),
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
            self.known.set(false);
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

    /// Who has it after an event.
    fn held_after(
        &self,
        change: &Change<'t>,
        date: Option<&Placed<Edtf>>,
        out: &mut Vec<Diagnostic>,
    ) -> Vec<Held> {
        let since = self.chain.steps.len();
        let mut held = self
            .chain
            .steps
            .last()
            .map_or_else(Vec::new, |step| step.held.clone());
        let receive = |word: &Word, how: How, out: &mut Vec<Diagnostic>| {
            let Some(holder) = self.names.holder(word, out) else {
                self.known.set(false);
                return None;
            };
            if let Some(date) = date {
                self.report_not_at_work(holder, word, date, out);
            }
            let line = date.map_or(word.span, |date| date.span);
            Some(Held {
                holder,
                line,
                how,
                away: false,
                since,
            })
        };
        let event = match change {
            Change::Begun(by) => {
                held.extend(by.and_then(|by| receive(by, How::Own, out)));
                return held;
            }
            Change::Over(began) => {
                held.retain(|h| h.since != *began);
                // What was lent comes back, unless it is still away by another loan.
                if held.iter().all(|h| h.how == How::Own) {
                    held.iter_mut().for_each(|h| h.away = false);
                }
                return held;
            }
            Change::Event(event) => event,
        };
        let giver = self.giver(event, &held, out);
        match event.what {
            What::Sold | What::Inherited => {
                let Ok(giver) = giver else { return held };
                if let Some(giver) = giver {
                    held.remove(giver);
                }
                let to = event.to.first().and_then(|to| receive(to, How::Own, out));
                if let (Some(to), Some(word)) = (&to, event.to.first()) {
                    self.report_had_already(to.holder, word, &held, out);
                }
                held.extend(to);
            }
            What::Shared => {
                for word in &event.to {
                    let with = receive(word, How::Own, out);
                    if let Some(with) = &with {
                        self.report_had_already(with.holder, word, &held, out);
                    }
                    held.extend(with);
                }
            }
            What::Lent => {
                let Ok(giver) = giver else { return held };
                if let Some(giver) = giver {
                    held[giver].away = true;
                }
                held.extend(
                    event
                        .to
                        .first()
                        .and_then(|to| receive(to, How::Passing, out)),
                );
            }
            What::Stock if event.to.is_empty() => held.push(Held {
                holder: Holder::Anyone,
                line: event.span,
                how: How::Passing,
                away: false,
                since,
            }),
            What::Stock => held.extend(
                event
                    .to
                    .iter()
                    .filter_map(|to| receive(to, How::Passing, out)),
            ),
            What::Recut | What::Copied => {}
            What::Retired => held.clear(),
        }
        held
    }

    /// Which of those who have it gives it away: the one named, or the only one there is; nobody, for a plate that was cut for
    /// sale. An error is reported.
    fn giver(
        &self,
        event: &Event,
        held: &[Held],
        out: &mut Vec<Diagnostic>,
    ) -> Result<Option<usize>, ()> {
        let own = || held.iter().enumerate().filter(|(_, h)| h.how == How::Own);
        let id = self.names.id(self.engraving);
        let key = event.what.key();
        if let Some(by) = &event.by {
            let holder = self.names.holder(by, out).ok_or(())?;
            let has = |h: &Held| match (h.holder, holder) {
                (Holder::Works(works), Holder::Maker(maker)) => {
                    self.names.works_of(maker) == Some(works)
                }
                (one, other) => one == other,
            };
            if let Some((place, _)) = own().find(|(_, h)| has(h)) {
                return Ok(Some(place));
            }
            if !self.known.get() {
                return Ok(None);
            }
            let mut report = Diagnostic::error(
                "pack::history-owner",
                format!(
                    "`{}` does not own `{id}` when it is {key} in {}",
                    by.value, event.date.value
                ),
                by.span,
            );
            for (_, owner) in own() {
                report = report.also(
                    owner.line,
                    format!("since this, `{}` does", self.names.name(owner.holder)),
                );
            }
            out.push(report.hint(
                "name the one who has it then, or add the event by which this one came to have it",
            ));
            return Err(());
        }
        let needs_owner = matches!(event.what, What::Sold | What::Inherited | What::Lent);
        let owners: Vec<(usize, &Held)> = own().collect();
        match owners.as_slice() {
            [] => Ok(None),
            [(only, _)] => Ok(Some(*only)),
            several if needs_owner => {
                let mut report = Diagnostic::error(
                    "pack::history-owner",
                    format!(
                        "several own `{id}`, and nothing says who of them {}",
                        match event.what {
                            What::Lent => "lent it",
                            What::Inherited => "handed it down",
                            _ => "sold it",
                        }
                    ),
                    event.span,
                );
                for (_, owner) in several {
                    report = report.also(
                        owner.line,
                        format!("`{}` does", self.names.name(owner.holder)),
                    );
                }
                out.push(report.hint("add `by`: the maker or works that gave it away"));
                Err(())
            }
            _ => Ok(None),
        }
    }

    fn report_had_already(
        &self,
        holder: Holder,
        word: &Word,
        held: &[Held],
        out: &mut Vec<Diagnostic>,
    ) {
        let had = held
            .iter()
            .find(|h| h.how == How::Own && h.holder == holder);
        out.extend(had.map(|had| {
            Diagnostic::error(
                "pack::history-owner",
                format!(
                    "`{}` has `{}` already",
                    word.value,
                    self.names.id(self.engraving)
                ),
                word.span,
            )
            .also(had.line, "since this")
            .hint("take one of the two out")
        }));
    }

    /// A firm that is not yet, or no longer, at work receives nothing.
    fn report_not_at_work(
        &self,
        holder: Holder,
        word: &Word,
        date: &Placed<Edtf>,
        out: &mut Vec<Diagnostic>,
    ) {
        let Holder::Maker(maker) = holder else { return };
        let Some(years) = &self.names.pack.makers[maker].years else {
            return;
        };
        let slack = |soft: bool| {
            if soft {
                i64::from(self.softness.about)
            } else {
                0
            }
        };
        let years_first =
            i64::from(years.value.first) - slack(years.value.first_qualifier.is_approximate());
        let years_last =
            i64::from(years.value.last) + slack(years.value.last_qualifier.is_approximate());
        let (first, last) = reach(&date.value, self.softness.about);
        let too_late = first.is_some_and(|first| first > years_last);
        let too_soon = last.is_some_and(|last| last < years_first);
        if too_late || too_soon {
            out.push(
                Diagnostic::error(
                    "pack::history-years",
                    format!(
                        "`{}` comes to have `{}` in {}, {}",
                        word.value,
                        self.names.id(self.engraving),
                        date.value,
                        if too_late {
                            "after it closed"
                        } else {
                            "before it began"
                        }
                    ),
                    word.span,
                )
                .also(years.span, "its years")
                .hint("mend the date or the years; `~` means about"),
            );
        }
    }
}
