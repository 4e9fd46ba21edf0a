//! The clues of `clues.toml`, each by its kind, and the circumstances of the look.

use super::draft::{
    ClueDraft, Draft, DraftId, DraftMeasure, DraftRule, DraftTable, DraftVariable, Gaps, certain,
};
use super::rows::spreads::RowSpreads;
use super::{colour, hidden, names, rows, simulated, states};
use crate::diagnostic::Diagnostic;
use crate::model::column::ColumnRule;
use crate::model::column::weight::Bands;
use crate::model::{BeliefId, MeasureFamily, Weighing};
use crate::network::Role;
use crate::pack::text::{Clue, PackText, Placed, Row, Word};

/// Kinds a clue may have.
const KINDS: [&str; 6] = ["choice", "graded", "count", "weight", "colour", "date"];
/// Ways a weight may be judged.
const JUDGED: [(&str, Weighing); 4] = [
    ("usual weight", Weighing::UsualWeight),
    ("per litre", Weighing::PerLitre),
    ("per square centimetre", Weighing::PerSquareCentimetre),
    ("as it is", Weighing::AsItIs),
];

/// Declares the circumstances as inputs.
pub fn circumstances(
    pack: &PackText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Vec<DraftId> {
    let mut ids = Vec::new();
    for circumstance in &pack.circumstances {
        states::report(&circumstance.id, &circumstance.states, out);
        let about = circumstance.name.as_ref().unwrap_or(&circumstance.id);
        draft.variables.push(DraftVariable {
            name: circumstance.id.clone(),
            about: about.value.clone(),
            states: circumstance.states.clone(),
            ordered: true,
            role: Role::Input,
            parents: Vec::new(),
            table: None,
        });
        ids.push(draft.variables.len() - 1);
    }
    ids
}

/// Declares every clue of `clues.toml`.
pub fn declare(
    pack: &PackText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Vec<ClueDraft> {
    let mut drafts = Vec::new();
    for clue in &pack.clues {
        names::find("kind of clue", &clue.kind, KINDS, out);
        drafts.push(match (&clue.weighing, &clue.reads) {
            (None, _) if clue.kind.value == "colour" => colour::declare(clue, draft, out),
            (None, _) if clue.is_date() => {
                ClueDraft::Measure(super::dating::declare_date(clue, draft, out))
            }
            (None, Some(reads)) => hidden::declare_reading(clue, reads, pack, draft, out),
            (None, None) => states::declare(clue, draft),
            (Some(weighing), _) => {
                names::find(
                    "way to judge a weight",
                    &weighing.judged,
                    JUDGED.map(|(name, _)| name),
                    out,
                );
                names::find(
                    "family of distributions",
                    &weighing.family,
                    ["normal", "lognormal"],
                    out,
                );
                match &weighing.bands {
                    Some(edges) => declare_bands(clue, edges, draft, out),
                    None => {
                        draft.measures.push(DraftMeasure {
                            name: clue.id.clone(),
                            parents: Vec::new(),
                            belief_of_configuration: Vec::new(),
                            family: match weighing.family.value.as_str() {
                                "lognormal" => MeasureFamily::Lognormal,
                                _ => MeasureFamily::Normal,
                            },
                            dates: false,
                            learned: None,
                            place: clue.id.span,
                            gaps: Gaps::Leave,
                        });
                        ClueDraft::Measure(draft.measures.len() - 1)
                    }
                }
            }
        });
    }
    drafts
}

fn declare_bands(
    clue: &Clue,
    edges: &[Placed<f64>],
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> ClueDraft {
    if edges.is_empty() {
        out.push(
            Diagnostic::error("pack::bands", "a banded weight needs at least one edge", clue.id.span)
                .hint("give `bands = [0.9, 1.0, …]`, or leave `bands` out to use the measured value itself"),
        );
    }
    for pair in edges.windows(2) {
        if pair[1].value <= pair[0].value {
            out.push(
                Diagnostic::error(
                    "pack::bands",
                    "the edges of the bands must rise",
                    pair[1].span,
                )
                .label("not above the one before")
                .hint("write them from the smallest to the largest"),
            );
        }
    }
    if let Some(edge) = edges.first().filter(|edge| edge.value <= 0.0) {
        out.push(
            Diagnostic::error(
                "pack::bands",
                "an edge of a band must be above 0",
                edge.span,
            )
            .hint("the bands cut a ratio or a mass, and the lowest band begins at 0 by itself"),
        );
    }
    let place = |edge: usize, text: String| Placed {
        value: text,
        span: edges.get(edge).map_or(clue.id.span, |e| e.span),
    };
    let mut states = Vec::new();
    for band in 0..=edges.len() {
        states.push(
            match (
                band.checked_sub(1).and_then(|b| edges.get(b)),
                edges.get(band),
            ) {
                (None, Some(high)) => place(band, format!("under {:.2}", high.value)),
                (Some(low), Some(high)) => {
                    place(band, format!("{:.2}–{:.2}", low.value, high.value))
                }
                (Some(low), None) => place(band - 1, format!("{:.2} and over", low.value)),
                (None, None) => place(band, "any".to_owned()),
            },
        );
    }
    let about = clue.name.as_ref().unwrap_or(&clue.id).value.clone();
    ClueDraft::Variable(draft.declare(clue.id.clone(), &about, states, true))
}

/// The tables of every clue of `clues.toml`.
pub fn tables(
    pack: &PackText,
    drafts: &[ClueDraft],
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) {
    for (clue, id) in pack.clues.iter().zip(drafts) {
        hidden::report_misplaced(clue, out);
        if clue.weighing.is_some() {
            report_no_usual_weight(clue, pack, out);
            weight_table(clue, id, draft, out);
        } else if clue.kind.value == "colour" {
            colour::table(clue, id, draft, out);
        } else if clue.reads.is_some() {
            hidden::reading_table(clue, id, pack, draft, out);
        } else {
            states::table(clue, id, draft, out);
            simulated::tie(clue, id, pack, draft, out);
        }
    }
}

/// A weight judged for its size needs sizes to be judged for.
fn report_no_usual_weight(clue: &Clue, pack: &PackText, out: &mut Vec<Diagnostic>) {
    let judged = clue.weighing.as_ref().map(|weighing| &weighing.judged);
    let Some(judged) = judged.filter(|judged| judged.value == "usual weight") else {
        return;
    };
    let sizes = pack.sizes.iter().flat_map(|sizes| &sizes.sizes);
    if sizes.filter(|size| size.usual_weight.is_some()).count() == 0 {
        out.push(
            Diagnostic::error(
                "pack::missing",
                format!("`{}` is judged by the usual weight, and no size has one", clue.id.value),
                judged.span,
            )
            .hint("give the sizes in sizes.toml a `usual_weight`, or judge per litre, per square centimetre or as it is"),
        );
    }
}

fn weight_table(clue: &Clue, id: &ClueDraft, draft: &mut Draft<'_>, out: &mut Vec<Diagnostic>) {
    let Some(weighing) = &clue.weighing else {
        return;
    };
    let logarithmic = weighing.family.value == "lognormal";
    if let Some(word) = clue.states.first() {
        out.push(
            Diagnostic::error(
                "pack::row-form",
                "a weight has no states of its own",
                word.span,
            )
            .hint("give the edges of its bands in `bands`, or leave both out"),
        );
    }
    let moments = |row: &Row, out: &mut Vec<Diagnostic>| rows::moments(row, logarithmic, out);
    let Some(read) = RowSpreads::read(clue, draft, out, moments) else {
        return;
    };
    match *id {
        ClueDraft::Measure(measure) => read.set(&mut draft.measures[measure]),
        ClueDraft::Variable(variable) => {
            let edges: Vec<f64> = weighing
                .bands
                .iter()
                .flatten()
                .map(|edge| edge.value)
                .collect();
            let n_states = edges.len() + 1;
            let rule = |(row, belief): (&Row, &Option<BeliefId>)| match belief {
                Some(belief) => DraftRule {
                    rule: ColumnRule::Bands(Bands {
                        belief: *belief,
                        edges: edges.clone(),
                        logarithmic,
                    }),
                    possible: vec![true; n_states],
                    citations: vec![draft.citation(row.span)],
                },
                None => DraftRule {
                    possible: vec![true; n_states],
                    ..certain(0, n_states)
                },
            };
            let rules = clue
                .table
                .rows
                .iter()
                .zip(&read.beliefs)
                .map(rule)
                .collect();
            let table = DraftTable {
                rules,
                rule_of_configuration: read.row_of_configuration,
                place: clue.id.span,
                gaps: read.gaps,
            };
            draft.set_table(variable, read.parents, table);
        }
    }
}

/// How a weight is judged; the check has seen that the word is known.
pub fn weighing(word: &Word) -> Weighing {
    JUDGED
        .iter()
        .find(|(name, _)| *name == word.value)
        .map_or(Weighing::AsItIs, |(_, weighing)| *weighing)
}

/// Two clues taken from one measurement count the same thing twice.
pub fn report_shared_measurements(pack: &PackText, out: &mut Vec<Diagnostic>) {
    let codings = pack
        .engravings
        .iter()
        .flat_map(|e| e.codings.iter().map(|c| &c.clue));
    let mut first: Vec<(String, &Clue)> = Vec::new();
    for clue in pack.clues.iter().chain(codings) {
        let source = match (&clue.taken_from, &clue.weighing) {
            (Some(word), _) => word.value.clone(),
            (None, Some(_)) => "mass".to_owned(),
            (None, None) => continue,
        };
        let same = |(name, earlier): &&(String, &Clue)| {
            *name == source && !of_different_ware(earlier, clue)
        };
        match first.iter().find(same) {
            Some((_, earlier)) => out.push(
                Diagnostic::error(
                    "pack::shared-cause",
                    format!(
                        "`{}` and `{}` are both taken from the {source}",
                        earlier.id.value, clue.id.value
                    ),
                    clue.id.span,
                )
                .label("entered as if it were a second witness")
                .also(earlier.id.span, "the first")
                .hint("keep one of them: weight for size rather than raw weight"),
            ),
            None => first.push((source, clue)),
        }
    }
}

/// Whether one is judged by the capacity of hollow ware and the other by the area of flat ware: a piece is weighed for one
/// of them only.
fn of_different_ware(one: &Clue, other: &Clue) -> bool {
    let judged = |clue: &Clue| clue.weighing.as_ref().map(|w| weighing(&w.judged));
    matches!(
        (judged(one), judged(other)),
        (
            Some(Weighing::PerLitre),
            Some(Weighing::PerSquareCentimetre)
        ) | (
            Some(Weighing::PerSquareCentimetre),
            Some(Weighing::PerLitre)
        )
    )
}
