//! One function for each file of a pack: which tables it has, and which keys each table may have.

mod lettering;
mod observers;

use super::calendar;
use super::reader::Item;
use super::text::{
    Circumstance, Clue, Coding, Engraving, Engravings, Included, Kind, Maker, Mark, MarkedBy,
    Marks, PackText, Period, Placed, Shape, Shows, Size, Sizes, Stray, Table, Word, Wording,
};
use crate::diagnostic::Diagnostic;
use crate::source::{SourceId, Span};

/// The documents of a pack.
#[derive(Default)]
pub(super) struct Items<'t> {
    pack: Option<Item<'t>>,
    makers: Option<Item<'t>>,
    sizes: Option<Item<'t>>,
    marks: Option<Item<'t>>,
    lettering: Option<Item<'t>>,
    engravings: Option<Item<'t>>,
    clues: Option<Item<'t>>,
    observers: Option<Item<'t>>,
    /// Rules files by name.
    rules: Vec<(String, Item<'t>)>,
}

impl<'t> Items<'t> {
    /// The first file that could be read.
    fn first(&self) -> Option<SourceId> {
        let all = [
            &self.pack,
            &self.makers,
            &self.clues,
            &self.sizes,
            &self.marks,
            &self.lettering,
            &self.engravings,
            &self.observers,
        ];
        all.into_iter()
            .flatten()
            .next()
            .map(|item| item.span.source)
    }

    /// A rules file that the pack includes.
    pub fn include(&mut self, name: String, item: Item<'t>) {
        self.rules.push((name, item));
    }

    pub fn set(&mut self, name: &str, item: Item<'t>) {
        let place = match name {
            "pack.toml" => &mut self.pack,
            "makers.toml" => &mut self.makers,
            "sizes.toml" => &mut self.sizes,
            "marks.toml" => &mut self.marks,
            "lettering.toml" => &mut self.lettering,
            "engravings.toml" => &mut self.engravings,
            "observers.toml" => &mut self.observers,
            _ => &mut self.clues,
        };
        *place = Some(item);
    }
}

/// What a file is called in messages.
pub(super) fn what(name: &str) -> &'static str {
    match name {
        "pack.toml" => "pack.toml",
        "makers.toml" => "makers.toml",
        "sizes.toml" => "sizes.toml",
        "marks.toml" => "marks.toml",
        "lettering.toml" => "lettering.toml",
        "engravings.toml" => "engravings.toml",
        "observers.toml" => "observers.toml",
        "rules" => "a rules file",
        _ => "clues.toml",
    }
}

/// The pack. Each file is read before any is missed, so that one run reports the defects of all of them.
pub(super) fn pack_text(
    items: Items<'_>,
    sources: Vec<SourceId>,
    not_whole: Vec<SourceId>,
    hash: String,
    out: &mut Vec<Diagnostic>,
) -> Option<PackText> {
    let pack = items.pack.as_ref().map(|item| pack_file(item, out));
    let makers = items.makers.as_ref().map(|item| makers_file(item, out));
    let sizes = items.sizes.as_ref().map(|item| sizes_file(item, out));
    let marks = items.marks.as_ref().map(|item| marks_file(item, out));
    let lettering = items
        .lettering
        .as_ref()
        .map(|item| lettering::lettering_file(item, out));
    let engravings = items
        .engravings
        .as_ref()
        .map(|item| engravings_file(item, out));
    let clues = items.clues.as_ref().map(|item| clues_file(item, out));
    let observers = items
        .observers
        .as_ref()
        .map(|item| observers::observers_file(item, out));
    let first = items.first()?;
    let rules = items
        .rules
        .iter()
        .map(|(name, item)| super::rules::rules_file(name, item, out))
        .collect();
    let (name, ware, periods, circumstances, wording, included) = pack.unwrap_or_else(|| {
        let nowhere = Span {
            source: first,
            start: 0,
            end: 0,
        };
        let name = Word {
            value: String::new(),
            span: nowhere,
        };
        (
            name,
            None,
            Vec::new(),
            Vec::new(),
            None,
            Included::default(),
        )
    });
    let makers = makers.unwrap_or_default();
    Some(PackText {
        name,
        ware,
        periods,
        circumstances,
        wording,
        regions: makers.regions,
        works: makers.works,
        shares_seen: makers.shares_seen,
        shares_span: makers.shares_span,
        makers: makers.makers,
        sizes,
        marks: marks.flatten(),
        lettering,
        engravings,
        clues: clues.unwrap_or_default(),
        observers,
        included,
        rules,
        sources,
        not_whole,
        readable: true,
        hash,
    })
}

fn clues_file(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> Vec<Clue> {
    let clues = read_all(item.items("clue", "a clue", out), out, |clue, out| {
        clue.clue(None, "choice", out)
    });
    item.finish(out);
    clues
}

type PackFile = (
    Word,
    Option<Word>,
    Vec<Period>,
    Vec<Circumstance>,
    Option<Wording>,
    Included,
);

fn pack_file(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> PackFile {
    // A pack without a readable name is still checked for the rest.
    let mut name = Word {
        value: String::new(),
        span: item.span,
    };
    let mut ware = None;
    let mut included = Included::default();
    if let Some(pack) = item.required_item("pack", "the pack's name and ware", out) {
        name = pack.word("name", out).unwrap_or(name);
        ware = pack.optional_word("ware", out);
        pack.optional_word("about", out);
        included.rules = pack.words("rules", out);
        pack.finish(out);
    }
    if let Some(dating) = item.item("dating", "[dating]", out) {
        included.about = dating.number("about", out);
        included.wrong = dating.optional_chance("wrong", out);
        dating.finish(out);
    }
    let mut periods = calendar::periods(item, out);
    periods.extend(read_all(
        item.items("period", "a period", out),
        out,
        |period, out| {
            Some(Period {
                id: period.word("id", out)?,
                years: period.years("years", out),
            })
        },
    ));
    let circumstances = read_all(
        item.items("circumstance", "a circumstance", out),
        out,
        |c, out| {
            let id = c.word("id", out);
            let (name, states, look) = (
                c.optional_word("name", out),
                c.words("states", out),
                c.optional_word("look", out),
            );
            Some(Circumstance {
                id: id?,
                name,
                states,
                look,
            })
        },
    );
    let wording = item.required_item("wording", "the thresholds of the verdict's words", out);
    let wording = wording.map(|wording| Wording {
        span: wording.span,
        rungs: wording.all_chances(out),
    });
    item.finish(out);
    (name, ware, periods, circumstances, wording, included)
}

#[derive(Default)]
struct MakersFile {
    regions: Vec<Word>,
    works: Vec<Word>,
    shares_seen: Option<Placed<f64>>,
    shares_span: Option<Span>,
    makers: Vec<Maker>,
}

fn makers_file(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> MakersFile {
    let names = |key, what, out: &mut Vec<Diagnostic>| {
        read_all(item.items(key, what, out), out, |entry, out| {
            entry.optional_word("name", out);
            entry.word("id", out)
        })
    };
    let regions = names("region", "a region", out);
    let works = names("works", "a works", out);
    let shares = item.required_item(
        "shares",
        "how much experience the makers' shares rest on",
        out,
    );
    let shares_seen = shares.as_ref().and_then(|shares| shares.seen(out));
    if let Some(shares) = &shares {
        shares.finish(out);
    }
    let makers = read_all(item.items("maker", "a maker", out), out, |maker, out| {
        let id = maker.word("id", out);
        let name = maker.word("name", out);
        let region = maker.word("region", out);
        let years = maker.years("years", out);
        let share = maker.chance("share", out);
        let (output, output_years) = maker.output("output", out);
        let role = maker.optional_word("role", out);
        let works = maker.optional_word("works", out);
        Some(Maker {
            id: id?,
            name,
            works,
            region,
            years,
            share,
            output,
            output_years,
            role,
        })
    });
    item.finish(out);
    MakersFile {
        regions,
        works,
        shares_seen,
        shares_span: shares.map(|shares| shares.span),
        makers,
    }
}

fn sizes_file(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> Sizes {
    let shapes = read_all(item.items("shape", "a shape", out), out, |shape, out| {
        let (id, ware) = (shape.word("id", out), shape.word("ware", out));
        Some(Shape { id: id?, ware })
    });
    let sizes = read_all(item.items("size", "a size", out), out, |size, out| {
        let (id, shape, class) = (
            size.word("id", out),
            size.word("shape", out),
            size.word("class", out),
        );
        let usual_weight = size.optional_word("usual_weight", out).and_then(|word| {
            match crate::units::grams(&word.value) {
                Ok(value) => Some(Placed {
                    value,
                    span: word.span,
                }),
                Err(error) => {
                    out.push(Diagnostic::error(
                        "pack::unit",
                        error.to_string(),
                        word.span,
                    ));
                    None
                }
            }
        });
        Some(Size {
            id: id?,
            shape,
            class,
            usual_weight,
        })
    });
    let share = table(item, "share", "size given maker", out);
    item.finish(out);
    Sizes {
        shapes,
        sizes,
        share,
    }
}

fn marks_file(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> Option<Marks> {
    let marks = read_all(item.items("mark", "a mark", out), out, |mark, out| {
        let (id, method) = (mark.word("id", out), mark.word("method", out));
        let text = mark.optional_word("text", out);
        let (devices, companions) = (mark.words("devices", out), mark.words("companions", out));
        Some(Mark {
            id: id?,
            method,
            text,
            devices,
            companions,
        })
    });
    let strike = table(item, "strike", "how well a mark came out, by method", out);
    let rate = table(
        item,
        "rate",
        "the chance of being marked, by maker and period",
        out,
    );
    let marked_by = read_all(
        item.items("marked_by", "the marks of a maker", out),
        out,
        |entry, out| {
            let maker = entry.word("maker", out);
            let kinds = read_all(
                entry.items("kinds", "a mark in use", out),
                out,
                |kind, out| {
                    let (mark, say) = (kind.word("mark", out), kind.chance("say", out));
                    let years = kind.optional_years("years", out);
                    Some(Kind {
                        mark: mark?,
                        say,
                        years,
                    })
                },
            );
            let seen = entry.seen(out);
            Some(MarkedBy {
                span: maker.as_ref()?.span,
                maker: maker?,
                kinds,
                seen,
            })
        },
    );
    let stray = item.item("stray", "stray initials", out).map(|stray| {
        let say = stray.chance("say", out);
        let (seen, except) = (stray.seen(out), stray.words("except", out));
        stray.finish(out);
        Stray {
            span: say.as_ref().map_or(stray.span, |say| say.span),
            say,
            seen,
            except,
        }
    });
    let reading = item
        .required_item("reading", "what is read of a mark", out)
        .and_then(|reading| {
            let clue = reading.clue(Some("mark"), "choice", out);
            reading.finish(out);
            clue
        });
    item.finish(out);
    Some(Marks {
        marks,
        strike,
        rate,
        marked_by,
        stray,
        reading: reading?,
    })
}

fn engravings_file(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> Engravings {
    let engravings = read_all(
        item.items("engraving", "an engraving", out),
        out,
        |engraving, out| {
            let id = engraving.word("id", out);
            let (name, unseen) = (
                engraving.optional_word("name", out),
                engraving.flag("unseen", out),
            );
            Some(Engraving {
                id: id?,
                name,
                unseen,
            })
        },
    );
    let used = table(item, "used", "which engraving, by maker and period", out);
    let right = table(item, "right", "the chance that a coding is read right", out);
    let codings = read_all(item.items("coding", "a coding", out), out, |coding, out| {
        let clue = coding.clue(None, "choice", out);
        let unseen = coding.seen_say("unseen", out);
        Some(Coding {
            clue: clue?,
            unseen,
        })
    });
    let shows = read_all(
        item.items("shows", "what an engraving shows", out),
        out,
        |shows, out| {
            let engraving = shows.word("engraving", out);
            let size_class = shows.word("size_class", out);
            let states = shows.remaining_words(out);
            Some(Shows {
                span: engraving.as_ref()?.span,
                engraving: engraving?,
                size_class: size_class?,
                states,
            })
        },
    );
    item.finish(out);
    Engravings {
        engravings,
        used,
        right,
        codings,
        shows,
    }
}

/// Reads every entry of a list and reports the keys it should not have.
fn read_all<'t, T>(
    items: Vec<Item<'t>>,
    out: &mut Vec<Diagnostic>,
    mut read: impl FnMut(&Item<'t>, &mut Vec<Diagnostic>) -> Option<T>,
) -> Vec<T> {
    let mut all = Vec::with_capacity(items.len());
    for item in items {
        let entry = read(&item, out);
        item.finish(out);
        all.extend(entry);
    }
    all
}

/// A table that must be there; without rows if it is not, so that what else the file holds is still checked.
fn table(
    item: &Item<'_>,
    key: &'static str,
    what: &'static str,
    out: &mut Vec<Diagnostic>,
) -> Table {
    match item.required_item(key, what, out) {
        Some(table) => {
            let read = table.table(out);
            table.finish(out);
            read
        }
        None => Table {
            depends_on: Vec::new(),
            seen: None,
            rows: Vec::new(),
            readable: false,
            span: item.span,
        },
    }
}
