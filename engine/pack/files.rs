//! One function for each file of a pack: which tables it has, and which keys each table may have.

mod collection;
mod engravings;
mod lettering;
mod looks;
mod market;
mod marks;
mod observers;

use super::calendar;
use super::reader::Item;
use super::text::{
    Circumstance, Clue, ClueGroup, Included, LeftOut, Maker, PackText, Period, Placed, SetTogether,
    Shape, Size, Sizes, Table, Word, Wording,
};
use crate::diagnostic::Diagnostic;
use crate::learn::collection::Collection;
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
    looks: Option<Item<'t>>,
    market: Option<Item<'t>>,
    /// Rules files by name.
    rules: Vec<(String, Item<'t>)>,
    collection: Option<Item<'t>>,
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
            &self.looks,
            &self.collection,
            &self.market,
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
            "looks.toml" => &mut self.looks,
            "collection.toml" => &mut self.collection,
            "market.toml" => &mut self.market,
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
        "looks.toml" => "looks.toml",
        "rules" => "a rules file",
        "collection.toml" => "collection.toml",
        "market.toml" => "market.toml",
        _ => "clues.toml",
    }
}

/// The pack. Each file is read before any is missed, so that one run reports the defects of all of them.
pub(super) fn pack_text(
    items: Items<'_>,
    sources: Vec<SourceId>,
    not_whole: Vec<SourceId>,
    hash: String,
    table: Option<(SourceId, Collection)>,
    market: (Option<(SourceId, Collection)>, String),
    out: &mut Vec<Diagnostic>,
) -> Option<PackText> {
    let pack = items.pack.as_ref().map(|item| pack_file(item, out));
    let no_period = pack.as_ref().is_some_and(|pack| {
        pack.leaves_out
            .iter()
            .any(|left| left.what.value == "period")
    });
    let collection = items
        .collection
        .as_ref()
        .map(|item| collection::collection_file(item, table, out));
    let learns_shares = collection.as_ref().is_some_and(|c| c.maker.is_some());
    let makers = items
        .makers
        .as_ref()
        .map(|item| makers_file(item, learns_shares, no_period, out));
    let sizes = items.sizes.as_ref().map(|item| sizes_file(item, out));
    let marks = items
        .marks
        .as_ref()
        .map(|item| marks::marks_file(item, out));
    let lettering = items
        .lettering
        .as_ref()
        .map(|item| lettering::lettering_file(item, out));
    let engravings = items
        .engravings
        .as_ref()
        .map(|item| engravings::engravings_file(item, out));
    let clues = items.clues.as_ref().map(|item| clues_file(item, out));
    let observers = items
        .observers
        .as_ref()
        .map(|item| observers::observers_file(item, out));
    let looks = items
        .looks
        .as_ref()
        .map(|item| looks::looks_file(item, out));
    let (comparables, market_hash) = market;
    let market = items
        .market
        .as_ref()
        .map(|item| market::market_file(item, comparables, market_hash, out));
    let first = items.first()?;
    let rules = items
        .rules
        .iter()
        .map(|(name, item)| super::rules::rules_file(name, item, out))
        .collect();
    let pack = pack.unwrap_or_else(|| PackFile::nameless(first));
    let makers = makers.unwrap_or_default();
    let (hidden, clues) = clues.unwrap_or_default();
    Some(PackText {
        name: pack.name,
        ware: pack.ware,
        periods: pack.periods,
        circumstances: pack.circumstances,
        wording: pack.wording,
        groups: pack.groups,
        set_together: pack.set_together,
        regions: makers.regions,
        region_names: makers.region_names,
        works_names: makers.works_names,
        works: makers.works,
        shares_seen: makers.shares_seen,
        shares_span: makers.shares_span,
        makers: makers.makers,
        sizes,
        marks: marks.flatten(),
        lettering,
        engravings,
        hidden,
        clues,
        observers,
        included: pack.included,
        looks,
        market,
        rules,
        collection,
        leaves_out: pack.leaves_out,
        sources,
        not_whole,
        readable: true,
        hash,
    })
}

/// Hidden qualities, and clues.
fn clues_file(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> (Vec<Clue>, Vec<Clue>) {
    let hidden = item.items("hidden", "a hidden quality", out);
    let hidden = read_all(hidden, out, |quality, out| quality.hidden_quality(out));
    let clues = item.items("clue", "a clue", out);
    let clues = read_all(clues, out, |clue, out| clue.clue_of_list(out));
    item.finish(out);
    (hidden, clues)
}

/// What `pack.toml` says.
struct PackFile {
    name: Word,
    ware: Option<Word>,
    periods: Vec<Period>,
    circumstances: Vec<Circumstance>,
    wording: Option<Wording>,
    groups: Vec<ClueGroup>,
    set_together: Vec<SetTogether>,
    included: Included,
    leaves_out: Vec<LeftOut>,
}

impl PackFile {
    /// For a pack without a readable name, which is still checked for the rest.
    fn nameless(source: SourceId) -> Self {
        let span = Span {
            source,
            start: 0,
            end: 0,
        };
        Self {
            name: Word {
                value: String::new(),
                span,
            },
            ware: None,
            periods: Vec::new(),
            circumstances: Vec::new(),
            wording: None,
            groups: Vec::new(),
            set_together: Vec::new(),
            included: Included::default(),
            leaves_out: Vec::new(),
        }
    }
}

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
    let leaves_out = item
        .item("leaves_out", "what the pack leaves out", out)
        .map_or_else(Vec::new, |left| {
            let pairs = left.remaining_words(out).into_iter();
            pairs.map(|(what, why)| LeftOut { what, why }).collect()
        });
    // Periods known only by their order have no years; a pack that has some needs all of them.
    let no_makers = leaves_out.iter().any(|left| left.what.value == "maker");
    let mut periods = calendar::periods(item, out);
    periods.extend(read_all(
        item.items("period", "a period", out),
        out,
        |period, out| {
            Some(Period {
                id: period.word("id", out)?,
                years: if no_makers {
                    period.optional_years("years", out)
                } else {
                    period.years("years", out)
                },
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
    let words = item.item("words", "the house's own words", out);
    let words = words.map_or_else(Vec::new, |words| words.remaining_words(out));
    let scale = item.item("strength", "the scale for the strength of evidence", out);
    let scale = scale.and_then(|strength| {
        let scale = strength.word("scale", out);
        strength.finish(out);
        scale
    });
    let wording = wording.map(|wording| Wording {
        span: wording.span,
        rungs: wording.all_chances(out),
        words,
        scale,
    });
    let groups = item.items("group", "clues that are weighed as one", out);
    let groups = read_all(groups, out, |group, out| {
        let name = group.word("name", out);
        let clues = group.words("clues", out);
        Some(ClueGroup { name: name?, clues })
    });
    let set_together = item.items("set_together", "beliefs that were set together", out);
    let set_together = read_all(set_together, out, |together, out| {
        let name = together.word("name", out);
        let (beliefs, correlation) = (
            together.words("beliefs", out),
            together.optional_chance("correlation", out),
        );
        Some(SetTogether {
            name: name?,
            beliefs,
            correlation,
        })
    });
    item.finish(out);
    PackFile {
        name,
        ware,
        periods,
        circumstances,
        wording,
        groups,
        set_together,
        included,
        leaves_out,
    }
}

#[derive(Default)]
struct MakersFile {
    regions: Vec<Word>,
    region_names: Vec<Option<Word>>,
    works: Vec<Word>,
    works_names: Vec<Option<Word>>,
    shares_seen: Option<Placed<f64>>,
    shares_span: Option<Span>,
    makers: Vec<Maker>,
}

fn makers_file(
    item: &Item<'_>,
    learns_shares: bool,
    no_period: bool,
    out: &mut Vec<Diagnostic>,
) -> MakersFile {
    let names = |key, what, out: &mut Vec<Diagnostic>| {
        read_all(item.items(key, what, out), out, |entry, out| {
            let name = entry.optional_word("name", out);
            Some((entry.word("id", out)?, name))
        })
        .into_iter()
        .unzip()
    };
    let (regions, region_names): (Vec<Word>, Vec<Option<Word>>) = names("region", "a region", out);
    let (works, works_names): (Vec<Word>, Vec<Option<Word>>) = names("works", "a works", out);
    let what = "how much experience the makers' shares rest on";
    let shares = if learns_shares {
        item.item("shares", what, out)
    } else {
        item.required_item("shares", what, out)
    };
    let shares_seen = shares.as_ref().and_then(|shares| shares.seen(out));
    if let Some(shares) = &shares {
        shares.finish(out);
    }
    let makers = read_all(item.items("maker", "a maker", out), out, |maker, out| {
        let id = maker.word("id", out);
        let name = maker.word("name", out);
        let region = maker.word("region", out);
        let years = if no_period {
            maker.optional_years("years", out)
        } else {
            maker.years("years", out)
        };
        let share = if learns_shares {
            maker.optional_chance("share", out)
        } else {
            maker.chance("share", out)
        };
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
        region_names,
        works,
        works_names,
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
        let usual_weight = size.quantity("usual_weight", crate::units::MASS, out);
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
