//! What is learned from a pack's collection: shares of makers and periods, quantities measured together, coded features.

mod columns;
pub mod left_out;
pub mod shares;

use std::sync::Arc;

use super::draft::{ClueDraft, Draft, DraftId, DraftMeasure, DraftRule, DraftTable, Gaps};
use super::makers::Makers;
use super::names;
use crate::diagnostic::Diagnostic;
use crate::learn::{LearnError, codes, groups};
use crate::model::MeasureFamily;
use crate::model::together::Together;
use crate::pack::text::{Collection, Learned, PackText, Placed};
use crate::source::Span;
use columns::{cells, class_column, classes, districts, maker_names, period_names};

/// Ways of learning.
const KINDS: [&str; 2] = ["measured together", "present or absent"];
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
