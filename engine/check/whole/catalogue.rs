//! What people and scripts find in a model: makers, periods, clues, observers, each with its variable.

use std::collections::{BTreeMap, BTreeSet};

use super::Parts;
use crate::check::clues::weighing;
use crate::check::collection::LearnedDraft;
use crate::check::dating::{CLUE_OF_REGISTERS, clue_of_rule};
use crate::check::draft::{ClueDraft, Draft, DraftId};
use crate::check::groups;
use crate::check::makers::NOT_ASKED;
use crate::check::marks::STRIKES;
use crate::diagnostic::Diagnostic;
use crate::model::catalogue::WORKS_NOT_KNOWN;
use crate::model::{
    Catalogue, Clue, ClueKind, ClueTarget, HiddenQuality, LeftOut, Maker, MakerRole, Observer,
    Period, Size,
};
use crate::network::{MeasureId, VariableId};
use crate::pack::text::{Clue as ClueText, PackText};

/// The catalogue of the model; `None` if something that it needs is not readable (already reported).
pub(super) fn catalogue(
    pack: &PackText,
    draft: &Draft<'_>,
    parts: &Parts,
    out: &mut Vec<Diagnostic>,
) -> Option<Catalogue> {
    let id = |id: DraftId| VariableId::new(u32::try_from(id).unwrap_or(u32::MAX));
    let works = |maker: &crate::pack::text::Maker| {
        let name = maker.works.as_ref()?;
        pack.works
            .iter()
            .position(|w| w.value == name.value && w.value != WORKS_NOT_KNOWN)
    };
    let clues = clues(pack, draft, parts);
    let looks = pack.looks.as_ref();
    let looks = looks.map_or_else(Default::default, |text| {
        crate::check::looks::resolve(text, &clues)
    });
    let not_asked = |what: &str| pack.leaves_out(what);
    let no_maker = not_asked("maker").then(|| Maker {
        id: NOT_ASKED.to_owned(),
        name: "maker not asked".to_owned(),
        works: None,
        years: None,
        role: MakerRole::Listed,
    });
    let no_period = not_asked("period").then(|| Period {
        id: NOT_ASKED.to_owned(),
        years: None,
    });
    Some(Catalogue {
        ware: pack.ware.as_ref().map(|w| w.value.clone()),
        makers: pack
            .makers
            .iter()
            .zip(&parts.makers.roles)
            .map(|(maker, &role)| {
                Some(Maker {
                    id: maker.id.value.clone(),
                    name: maker.name.as_ref()?.value.clone(),
                    works: works(maker),
                    years: maker.years.as_ref().map(|years| years.value),
                    role,
                })
            })
            .chain(no_maker.map(Some))
            .collect::<Option<_>>()?,
        place_names: pack
            .regions
            .iter()
            .zip(&pack.region_names)
            .chain(pack.works.iter().zip(&pack.works_names))
            .filter_map(|(id, name)| Some((id.value.clone(), name.as_ref()?.value.clone())))
            .collect(),
        periods: pack
            .periods
            .iter()
            .map(|period| Period {
                id: period.id.value.clone(),
                years: period.years.as_ref().map(|years| years.value),
            })
            .chain(no_period)
            .collect(),
        sizes: pack
            .sizes
            .iter()
            .flat_map(|s| &s.sizes)
            .map(|size| Size {
                id: size.id.value.clone(),
                usual_weight: size.usual_weight.as_ref().map(|w| w.value),
            })
            .collect(),
        engravings: pack
            .engravings
            .iter()
            .flat_map(|e| &e.engravings)
            .map(|e| e.name.as_ref().unwrap_or(&e.id).value.clone())
            .collect(),
        hidden: pack
            .hidden
            .iter()
            .zip(&parts.hidden)
            .map(|(quality, &variable)| HiddenQuality {
                name: quality.name.as_ref().unwrap_or(&quality.id).value.clone(),
                variable: id(variable),
            })
            .collect(),
        groups: groups::read(pack, &clues, out),
        observers: observers(pack, parts, &clues),
        default_observer: parts.observers.as_ref().and_then(|o| o.default),
        clues,
        rules: parts.dating.books.clone(),
        softness: parts.dating.softness,
        full_readings: full_readings(pack, draft, parts),
        wording: parts.wording.clone(),
        looks,
        maker: id(parts.makers.maker),
        region: id(parts.makers.region),
        period: id(parts.makers.period),
        works: parts.makers.works.map(id),
        engraving: parts.engravings.as_ref().map(|e| id(e.engraving)),
        plate: parts.engravings.as_ref().and_then(|e| e.plate).map(id),
        leaves_out: pack
            .leaves_out
            .iter()
            .map(|left| {
                Some(LeftOut {
                    what: left.what.value.clone(),
                    why: left.why.as_ref()?.value.clone(),
                })
            })
            .collect::<Option<_>>()?,
    })
}

/// Observers, in the order of the file.
fn observers(pack: &PackText, parts: &Parts, clues: &[Clue]) -> Vec<Observer> {
    let texts = pack.observers.iter().flat_map(|text| &text.observers);
    let readings = parts.observers.iter().flat_map(|drafted| &drafted.readings);
    let observer = |(text, readings): (&crate::pack::text::Observer, &Vec<(String, DraftId)>)| {
        let reading = |(name, id): &(String, DraftId)| {
            let clue = clues.iter().position(|clue| clue.id == *name)?;
            Some((
                clue,
                VariableId::new(u32::try_from(*id).unwrap_or(u32::MAX)),
            ))
        };
        Observer {
            id: text.id.value.clone(),
            name: text.name.as_ref().unwrap_or(&text.id).value.clone(),
            as_the_tables_say: text
                .otherwise
                .as_ref()
                .is_some_and(|word| word.value == "as the tables say"),
            readings: readings.iter().filter_map(reading).collect(),
        }
    };
    texts.zip(readings).map(observer).collect()
}

/// Clues in the order in which a piece is described.
fn clues(pack: &PackText, draft: &Draft<'_>, parts: &Parts) -> Vec<Clue> {
    let mut clues = Vec::new();
    let id = |id: DraftId| VariableId::new(u32::try_from(id).unwrap_or(u32::MAX));
    let of_variable =
        |variable: DraftId, kind: ClueKind, absent: Option<&str>, look: Option<&str>| {
            let drafted = &draft.variables[variable];
            Clue {
                id: drafted.name.value.clone(),
                name: drafted.about.clone(),
                kind,
                target: ClueTarget::Variable(id(variable)),
                states: drafted.states.iter().map(|s| s.value.clone()).collect(),
                absent: absent
                    .and_then(|absent| drafted.states.iter().position(|s| s.value == absent)),
                look: look.map(str::to_owned),
                tells_of: None,
            }
        };
    let of_text = |text: &ClueText, drafted: ClueDraft, kind: ClueKind| {
        let absent = text.absent.as_ref().map(|w| w.value.as_str());
        let look = text.look.as_ref().map(|w| w.value.as_str());
        match drafted {
            ClueDraft::Variable(variable) => of_variable(variable, kind, absent, look),
            ClueDraft::Measure(measure) => Clue {
                id: text.id.value.clone(),
                name: text.name.as_ref().unwrap_or(&text.id).value.clone(),
                kind,
                target: ClueTarget::Measure(MeasureId::new(
                    u32::try_from(measure).unwrap_or(u32::MAX),
                )),
                states: Vec::new(),
                absent: None,
                look: look.map(str::to_owned),
                tells_of: None,
            },
        }
    };
    for (circumstance, &variable) in pack.circumstances.iter().zip(&parts.circumstances) {
        let look = circumstance.look.as_ref().map(|w| w.value.as_str());
        clues.push(of_variable(variable, ClueKind::Circumstance, None, look));
    }
    if let Some(sizes) = &parts.sizes {
        clues.push(of_variable(sizes.size, ClueKind::Size, None, None));
    }
    if let (Some(text), Some(marks)) = (&pack.marks, &parts.marks) {
        clues.push(of_text(&text.reading, marks.reading, ClueKind::Mark));
    }
    if let (Some(text), Some(engravings)) = (&pack.engravings, &parts.engravings) {
        for (coding, &drafted) in text.codings.iter().zip(&engravings.codings) {
            clues.push(of_text(&coding.clue, drafted, ClueKind::Coding));
        }
    }
    for (text, &drafted) in pack.clues.iter().zip(&parts.clues) {
        let kind = match &text.weighing {
            None if text.is_date() => ClueKind::Date,
            None if text.kind.value == "colour" => ClueKind::Colour,
            None => ClueKind::Choice,
            Some(w) => ClueKind::Weight {
                weighing: weighing(&w.judged),
                edges: w.bands.iter().flatten().map(|edge| edge.value).collect(),
                tolerance: w.tolerance.as_ref().map(|tolerance| tolerance.value),
            },
        };
        let mut clue = of_text(text, drafted, kind);
        clue.tells_of = tells_of(text, pack);
        clues.push(clue);
    }
    let dating = &parts.dating;
    for (book, (rules, (measures, of_registers))) in
        dating.books.iter().zip(&dating.measures).enumerate()
    {
        let of_measure = |id: String, name: &str, kind: ClueKind, measure: usize| Clue {
            id,
            name: name.to_owned(),
            kind,
            target: ClueTarget::Measure(MeasureId::new(u32::try_from(measure).unwrap_or(u32::MAX))),
            states: Vec::new(),
            absent: None,
            look: None,
            tells_of: None,
        };
        for (place, (rule, &measure)) in rules.rules.iter().zip(measures).enumerate() {
            let kind = ClueKind::Rule { book, rule: place };
            clues.push(of_measure(
                clue_of_rule(&rule.id),
                &rule.name,
                kind,
                measure,
            ));
        }
        if let Some(measure) = *of_registers {
            let kind = ClueKind::Registration { book };
            let name = "registered design";
            clues.push(of_measure(
                CLUE_OF_REGISTERS.to_owned(),
                name,
                kind,
                measure,
            ));
        }
    }
    let learned = pack.collection.iter().flat_map(|c| &c.learned);
    for (text, drafted) in learned.zip(&parts.learned) {
        let look = text.look.as_ref().map(|w| w.value.as_str());
        match drafted {
            LearnedDraft::Together(measure) => clues.push(Clue {
                id: text.id.value.clone(),
                name: text.name.as_ref().unwrap_or(&text.id).value.clone(),
                kind: ClueKind::Together {
                    columns: text.columns.iter().map(|c| c.value.clone()).collect(),
                },
                target: ClueTarget::Measure(MeasureId::new(
                    u32::try_from(*measure).unwrap_or(u32::MAX),
                )),
                states: Vec::new(),
                absent: None,
                look: look.map(str::to_owned),
                tells_of: None,
            }),
            LearnedDraft::Coded { features, .. } => {
                for feature in features {
                    if let ClueDraft::Variable(variable) = *feature {
                        let kind = ClueKind::Choice;
                        clues.push(of_variable(variable, kind, Some("absent"), look));
                    }
                }
            }
        }
    }
    clues
}

/// The hidden quality that a clue reads, or the first that its table depends on.
fn tells_of(clue: &ClueText, pack: &PackText) -> Option<usize> {
    let named = clue.reads.iter().chain(&clue.table.depends_on);
    named
        .filter_map(|word| pack.hidden.iter().position(|q| q.id.value == word.value))
        .next()
}

/// For each reading that a full strike of some mark gives more often than not: the makers who used such a mark.
fn full_readings(pack: &PackText, draft: &Draft<'_>, parts: &Parts) -> BTreeMap<usize, Vec<usize>> {
    let mut readings: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
    let (Some(text), Some(marks)) = (&pack.marks, &parts.marks) else {
        return BTreeMap::new();
    };
    let ClueDraft::Variable(reading) = marks.reading else {
        return BTreeMap::new();
    };
    let variable = &draft.variables[reading];
    let Some(table) = &variable.table else {
        return BTreeMap::new();
    };
    let values = draft.beliefs.stated();
    let mut column = vec![0.0; variable.states.len()];
    let sizes: Vec<usize> = variable
        .parents
        .iter()
        .map(|&p| draft.variables[p].states.len())
        .collect();
    for (configuration, rule) in table.rule_of_configuration.iter().enumerate() {
        let state_of = |wanted: DraftId| {
            let place = variable.parents.iter().position(|&p| p == wanted)?;
            let faster: usize = sizes[place + 1..].iter().product();
            Some(configuration / faster % sizes[place])
        };
        let full = state_of(marks.strike).is_some_and(|s| STRIKES[s] == "full");
        let stray = marks.stray.and_then(state_of) == Some(0);
        let Some(kind) = state_of(marks.mark_kind).filter(|&kind| kind > 0 && full && !stray)
        else {
            continue;
        };
        let Some(rule) = rule else { continue };
        table.rules[*rule].rule.write(&values, &mut column);
        let Some(state) = column.iter().position(|&p| p > 0.5) else {
            continue;
        };
        let mark = &text.marks[kind - 1].id.value;
        let users = text
            .marked_by
            .iter()
            .filter(|entry| entry.kinds.iter().any(|k| k.mark.value == *mark));
        let makers = users.filter_map(|entry| {
            pack.makers
                .iter()
                .position(|m| m.id.value == entry.maker.value)
        });
        readings.entry(state).or_default().extend(makers);
    }
    readings
        .into_iter()
        .map(|(state, makers)| (state, makers.into_iter().collect()))
        .collect()
}
