//! What is learned from a pack's collection: shares of makers and periods, quantities measured together, coded features.

use std::sync::Arc;

use super::clues::ClueDraft;
use super::draft::{Draft, DraftId, DraftMeasure, DraftRule, DraftTable, Gaps};
use super::makers::Makers;
use super::names;
use crate::diagnostic::Diagnostic;
use crate::learn::{self, LearnError, codes, groups};
use crate::model::MeasureFamily;
use crate::model::together::Together;
use crate::pack::text::{Collection, Learned, PackText, Placed, Word};
use crate::source::Span;

/// Ways of learning.
const KINDS: [&str; 2] = ["measured together", "present or absent"];
/// What may be left out, and so need a reason in `[leaves_out]`.
const LEAVES_OUT: [&str; 4] = ["maker", "period", "unlisted", "reproduction"];
/// States of a coded feature.
const PRESENT: [&str; 2] = ["present", "absent"];

/// Where what is learned went.
#[derive(Clone, Debug)]
pub enum LearnedDraft {
    /// A measure, by position.
    Together(usize),
    /// The hidden phase, and a clue for each feature.
    Coded {
        /// The phase.
        phase: DraftId,
        /// The features.
        features: Vec<ClueDraft>,
    },
}

/// Reports what is wrong with `[leaves_out]`.
pub fn report_left_out(pack: &PackText, out: &mut Vec<Diagnostic>) {
    for left in &pack.leaves_out {
        names::find("thing to leave out", &left.what, LEAVES_OUT, out);
        let given = match left.what.value.as_str() {
            "maker" => pack.makers.first().map(|maker| maker.id.span),
            "period" => pack.periods.first().map(|period| period.id.span),
            word => pack
                .makers
                .iter()
                .find_map(|maker| maker.role.as_ref().filter(|role| role.value == word))
                .map(|role| role.span),
        };
        if let Some(given) = given {
            let message = format!("the pack leaves out `{}` and has one", left.what.value);
            out.push(
                Diagnostic::error("pack::leaves-out", message, left.what.span)
                    .also(given, "here")
                    .hint("take out one of the two"),
            );
        }
    }
    if pack.leaves_out("maker") && pack.leaves_out("period") {
        out.push(
            Diagnostic::error(
                "pack::leaves-out",
                "the pack leaves out both questions",
                pack.name.span,
            )
            .hint("a pack says who made a piece, or when, or both"),
        );
    }
}

/// Declares what is learned.
pub fn declare(
    pack: &PackText,
    makers: &Makers,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Vec<LearnedDraft> {
    let Some(collection) = &pack.collection else {
        return Vec::new();
    };
    let mut drafts = Vec::new();
    for learned in &collection.learned {
        names::find("way of learning", &learned.kind, KINDS, out);
        let about = learned.name.as_ref().unwrap_or(&learned.id).value.clone();
        if learned.kind.value == KINDS[0] {
            draft.measures.push(DraftMeasure {
                name: learned.id.clone(),
                parents: Vec::new(),
                belief_of_configuration: Vec::new(),
                family: MeasureFamily::Normal,
                dates: false,
                learned: None,
                place: learned.id.span,
                gaps: Gaps::Leave,
            });
            drafts.push(LearnedDraft::Together(draft.measures.len() - 1));
            continue;
        }
        let states = draft.variables[makers.period].states.clone();
        let phase = draft.declare(learned.id.clone(), &about, states, true);
        let features = learned
            .columns
            .iter()
            .map(|column| {
                let here = |state: &str| Placed {
                    value: state.to_owned(),
                    span: column.span,
                };
                let states = PRESENT.map(here).to_vec();
                ClueDraft::Variable(draft.declare(column.clone(), &column.value, states, false))
            })
            .collect();
        drafts.push(LearnedDraft::Coded { phase, features });
    }
    drafts
}

/// How common each maker is, learned where no maker has a `share`.
pub fn maker_shares(
    pack: &PackText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<DraftRule> {
    let collection = pack.collection.as_ref()?;
    let column = collection.maker.as_ref()?;
    let class_of = classes(collection, column, "maker", &maker_names(pack), out)?;
    let say = learn::shares::shares(&districts(pack), &class_of);
    let seen = (class_of.len() + say.len()) as f64;
    Some(draft.categorical("share of each maker".to_owned(), say, seen, column.span))
}

/// How common each period is, for a pack that leaves out the makers.
pub fn period_shares(
    pack: &PackText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<DraftRule> {
    let Some((collection, column)) = pack
        .collection
        .as_ref()
        .and_then(|c| Some((c, c.period.as_ref()?)))
    else {
        out.push(
            Diagnostic::error(
                "pack::collection",
                "nothing says how common each period is",
                pack.name.span,
            )
            .hint("name in [collection] the column that says the `period`, or give the makers with their output"),
        );
        return None;
    };
    let names = period_names(pack);
    let class_of = classes(collection, column, "period", &names, out)?;
    let each_its_own: Vec<usize> = (0..names.len()).collect();
    let say = learn::shares::shares(&each_its_own, &class_of);
    let seen = (class_of.len() + say.len()) as f64;
    Some(draft.categorical("share of each period".to_owned(), say, seen, column.span))
}

/// Learns what the pack says is to be learned.
pub fn tables(
    pack: &PackText,
    makers: &Makers,
    drafts: &[LearnedDraft],
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) {
    let Some(collection) = &pack.collection else {
        return;
    };
    // The shares have met the same defects of the column that says the class.
    let mut found = Vec::new();
    learn_all(pack, collection, makers, drafts, draft, &mut found);
    found.retain(|report| !out.contains(report));
    out.append(&mut found);
}

fn learn_all(
    pack: &PackText,
    collection: &Collection,
    makers: &Makers,
    drafts: &[LearnedDraft],
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) {
    if collection.learned.is_empty() {
        out.push(
            Diagnostic::error(
                "pack::collection",
                "nothing is learned from the collection",
                collection.span,
            )
            .hint("add [[learned]] with `id`, `kind`, `given` and `columns`"),
        );
    }
    if let (Some(piece), Some(table)) = (&collection.piece, &collection.table) {
        names::find(
            "column",
            piece,
            table.columns.iter().map(String::as_str),
            out,
        );
    }
    for (learned, drafted) in collection.learned.iter().zip(drafts) {
        match drafted {
            LearnedDraft::Together(measure) => {
                let Some(together) = learn_together(pack, collection, learned, draft, out) else {
                    continue;
                };
                draft.measures[*measure].parents = vec![makers.maker];
                draft.measures[*measure].learned = Some(Arc::new(together));
            }
            LearnedDraft::Coded { phase, features } => {
                learn_codes(
                    pack,
                    collection,
                    learned,
                    (makers, *phase, features),
                    draft,
                    out,
                );
            }
        }
    }
}

fn learn_together(
    pack: &PackText,
    collection: &Collection,
    learned: &Learned,
    draft: &Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<Together> {
    let by_maker = class_column(collection, learned, "maker", collection.maker.as_ref(), out)?;
    let class_of = classes(collection, by_maker, "maker", &maker_names(pack), out);
    let rows = cells(collection, learned, out, |text| {
        text.parse().ok().filter(|x: &f64| x.is_finite())
    });
    let (class_of, rows) = (class_of?, rows?);
    let districts = districts(pack);
    let pieces = groups::Pieces {
        rows: &rows,
        class_of: &class_of,
        districts: &districts,
    };
    let readings = report(groups::learn(pieces), learned, out)?;
    Some(Together {
        columns: learned.columns.iter().map(|c| c.value.clone()).collect(),
        readings,
        names: collection
            .piece
            .as_ref()
            .and_then(|piece| collection.table.as_ref()?.column(&piece.value))
            .map_or_else(Vec::new, |piece| {
                let rows = collection.table.iter().flat_map(|table| &table.rows);
                rows.map(|row| row.cells[piece].clone()).collect()
            }),
        rows,
        class_of,
        districts,
        citation: draft.citation(learned.id.span),
    })
}

fn learn_codes(
    pack: &PackText,
    collection: &Collection,
    learned: &Learned,
    (makers, phase, features): (&Makers, DraftId, &[ClueDraft]),
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<()> {
    let column = class_column(
        collection,
        learned,
        "period",
        collection.period.as_ref(),
        out,
    )?;
    let names = period_names(pack);
    let class_of = classes(collection, column, "period", &names, out);
    let rows = cells(collection, learned, out, |text| {
        let count: f64 = text.parse().ok()?;
        (count >= 0.0 && count.is_finite()).then_some(count > 0.0)
    });
    let coded = codes::Coded {
        rows: &rows?,
        class_of: &class_of?,
        n_classes: names.len(),
    };
    let chances = report(codes::learn(coded), learned, out)?;
    let place = learned.id.span;
    let about = draft.variables[phase].about.clone();
    let n = names.len();
    let rules = (0..n)
        .map(|period| {
            let say = chances.phase.row(period).iter().copied().collect();
            let about = format!("{about} given period = {}", names[period].0);
            draft.categorical(about, say, chances.phase_seen[period], place)
        })
        .collect();
    draft.set_table(phase, vec![makers.period], one_rule_each(rules, place));
    for (feature, drafted) in features.iter().enumerate() {
        let ClueDraft::Variable(id) = *drafted else {
            continue;
        };
        let place = learned.columns[feature].span;
        let rules = (0..n)
            .map(|state| {
                let p = chances.present[(state, feature)];
                let about = format!(
                    "{} given {} = {}",
                    draft.variables[id].about, learned.id.value, names[state].0
                );
                draft.categorical(about, vec![p, 1.0 - p], chances.present_seen[state], place)
            })
            .collect();
        draft.set_table(id, vec![phase], one_rule_each(rules, place));
    }
    Some(())
}

fn one_rule_each(rules: Vec<DraftRule>, place: Span) -> DraftTable {
    DraftTable {
        rule_of_configuration: (0..rules.len()).map(Some).collect(),
        rules,
        place,
        gaps: Gaps::Leave,
    }
}

fn report<T>(
    result: Result<T, LearnError>,
    learned: &Learned,
    out: &mut Vec<Diagnostic>,
) -> Option<T> {
    result
        .map_err(|error| {
            let message = format!("`{}` cannot be learned: {error}", learned.id.value);
            out.push(Diagnostic::error(
                "pack::collection",
                message,
                learned.id.span,
            ));
        })
        .ok()
}

/// The column that says the class, for a learned thing that must be given it.
fn class_column<'p>(
    collection: &'p Collection,
    learned: &Learned,
    wanted: &'static str,
    column: Option<&'p Word>,
    out: &mut Vec<Diagnostic>,
) -> Option<&'p Word> {
    if learned.given.value != wanted {
        let message = format!(
            "what is {} is learned for each {wanted}, and this says `{}`",
            learned.kind.value, learned.given.value
        );
        out.push(
            Diagnostic::error("pack::collection", message, learned.given.span)
                .hint(format!("write `given = \"{wanted}\"`")),
        );
        return None;
    }
    if column.is_none() {
        let message = format!("[collection] does not name the column that says the {wanted}");
        out.push(
            Diagnostic::error("pack::collection", message, collection.span)
                .hint(format!("add `{wanted} = \"…\"`")),
        );
    }
    column
}

type Names = Vec<(String, Option<String>)>;

fn maker_names(pack: &PackText) -> Names {
    let name = |maker: &crate::pack::text::Maker| maker.name.as_ref().map(|n| n.value.clone());
    pack.makers
        .iter()
        .map(|maker| (maker.id.value.clone(), name(maker)))
        .collect()
}

fn period_names(pack: &PackText) -> Names {
    let periods = pack.periods.iter();
    periods.map(|p| (p.id.value.clone(), None)).collect()
}

/// The region of each maker, numbered; a maker whose region is not readable has one of its own.
fn districts(pack: &PackText) -> Vec<usize> {
    let region = |maker: &crate::pack::text::Maker| {
        let word = maker.region.as_ref()?;
        pack.regions.iter().position(|r| r.value == word.value)
    };
    pack.makers
        .iter()
        .enumerate()
        .map(|(i, maker)| region(maker).unwrap_or(pack.regions.len() + i))
        .collect()
}

/// The class of each row: a name or short code of the pack.
fn classes(
    collection: &Collection,
    column: &Word,
    what: &str,
    names: &Names,
    out: &mut Vec<Diagnostic>,
) -> Option<Vec<usize>> {
    let table = collection.table.as_ref()?;
    let known = table.columns.iter().map(String::as_str);
    let column = names::find("column", column, known, out)?;
    let mut class_of = Vec::with_capacity(table.rows.len());
    for row in &table.rows {
        let word = Word {
            value: row.cells[column].clone(),
            span: place(collection, &row.range),
        };
        let is = |(id, name): &(String, Option<String>)| {
            *id == word.value || name.as_ref() == Some(&word.value)
        };
        match names.iter().position(is) {
            Some(class) => class_of.push(class),
            None => {
                let known = names.iter().map(|(id, name)| name.as_deref().unwrap_or(id));
                out.push(names::unknown(what, &word, known));
            }
        }
    }
    (class_of.len() == table.rows.len()).then_some(class_of)
}

/// The cells of some columns, each read in one way.
fn cells<T>(
    collection: &Collection,
    learned: &Learned,
    out: &mut Vec<Diagnostic>,
    read: impl Fn(&str) -> Option<T>,
) -> Option<Vec<Vec<T>>> {
    let table = collection.table.as_ref()?;
    if learned.columns.is_empty() {
        out.push(
            Diagnostic::error(
                "pack::missing",
                format!("`{}` has no columns", learned.id.value),
                learned.id.span,
            )
            .hint("add `columns = [\"…\", \"…\"]`: columns of collection.csv"),
        );
        return None;
    }
    names::report_duplicates("column", &learned.columns, out);
    let known = || table.columns.iter().map(String::as_str);
    let places: Vec<Option<usize>> = learned
        .columns
        .iter()
        .map(|column| names::find("column", column, known(), out))
        .collect();
    let places: Option<Vec<usize>> = places.into_iter().collect();
    let places = places?;
    let mut rows = Vec::with_capacity(table.rows.len());
    for row in &table.rows {
        let mut cells = Vec::with_capacity(places.len());
        for &column in &places {
            match read(&row.cells[column]) {
                Some(cell) => cells.push(cell),
                None => {
                    let message = format!(
                        "`{}` of this row is not a number: `{}`",
                        table.columns[column],
                        crate::diagnostic::shorten(&row.cells[column])
                    );
                    out.push(
                        Diagnostic::error("pack::collection", message, place(collection, &row.range))
                            .hint("a row takes part only if every cell is filled: measure it, or take the row out"),
                    );
                }
            }
        }
        if cells.len() == places.len() {
            rows.push(cells);
        }
    }
    (rows.len() == table.rows.len()).then_some(rows)
}

fn place(collection: &Collection, range: &std::ops::Range<usize>) -> Span {
    Span {
        source: collection.source,
        start: range.start,
        end: range.end,
    }
}
