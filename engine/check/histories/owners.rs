//! Who has an engraving after each event of its history.

use std::cell::Cell;

use super::{Holder, Names, reach};
use crate::dating::Edtf;
use crate::diagnostic::Diagnostic;
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

/// What an event does.
pub(super) enum Change<'t> {
    /// Cut, or copied from another.
    Begun(Option<&'t Word>),
    Event(&'t Event),
    /// What lasted is over: the step that began it.
    Over(usize),
}

/// Those who may have an engraving, and what is known of them.
pub(super) struct Owners<'n, 't> {
    pub(super) names: &'n Names<'t>,
    /// By how many years `~` may miss.
    pub(super) about: u32,
    /// Whether all is known of who has it; if not, that is reported, and who is missing may well be the one.
    pub(super) known: Cell<bool>,
}

impl<'t> Owners<'_, 't> {
    /// Who has an engraving after an event, which is the step of this number, from those who had it before.
    pub(super) fn after(
        &self,
        mut held: Vec<Held>,
        (engraving, since): (usize, usize),
        change: &Change<'t>,
        date: Option<&Placed<Edtf>>,
        out: &mut Vec<Diagnostic>,
    ) -> Vec<Held> {
        let receive = |word: &Word, how: How, out: &mut Vec<Diagnostic>| {
            let Some(holder) = self.names.holder(word, out) else {
                self.known.set(false);
                return None;
            };
            if let Some(date) = date {
                self.report_not_at_work(holder, word, engraving, date, out);
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
        let giver = self.giver(event, engraving, &held, out);
        match event.what {
            What::Sold | What::Inherited => {
                let Ok(giver) = giver else { return held };
                if let Some(giver) = giver {
                    held.remove(giver);
                }
                let to = event.to.first().and_then(|to| receive(to, How::Own, out));
                if let (Some(to), Some(word)) = (&to, event.to.first()) {
                    self.report_had_already(to.holder, word, engraving, &held, out);
                }
                held.extend(to);
            }
            What::Shared => {
                for word in &event.to {
                    let with = receive(word, How::Own, out);
                    if let Some(with) = &with {
                        self.report_had_already(with.holder, word, engraving, &held, out);
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
        engraving: usize,
        held: &[Held],
        out: &mut Vec<Diagnostic>,
    ) -> Result<Option<usize>, ()> {
        let own = || held.iter().enumerate().filter(|(_, h)| h.how == How::Own);
        let id = self.names.id(engraving);
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
        engraving: usize,
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
                    self.names.id(engraving)
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
        engraving: usize,
        date: &Placed<Edtf>,
        out: &mut Vec<Diagnostic>,
    ) {
        let Holder::Maker(maker) = holder else { return };
        let Some(years) = &self.names.pack.makers[maker].years else {
            return;
        };
        let slack = |soft: bool| {
            if soft { i64::from(self.about) } else { 0 }
        };
        let years_first =
            i64::from(years.value.first) - slack(years.value.first_qualifier.is_approximate());
        let years_last =
            i64::from(years.value.last) + slack(years.value.last_qualifier.is_approximate());
        let (first, last) = reach(&date.value, self.about);
        let too_late = first.is_some_and(|first| first > years_last);
        let too_soon = last.is_some_and(|last| last < years_first);
        if too_late || too_soon {
            out.push(
                Diagnostic::error(
                    "pack::history-years",
                    format!(
                        "`{}` comes to have `{}` in {}, {}",
                        word.value,
                        self.names.id(engraving),
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
