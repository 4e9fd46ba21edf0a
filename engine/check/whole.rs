//! The model, put together from a draft without defects.

mod catalogue;

use nalgebra::DMatrix;

use super::collection::LearnedDraft;
use super::dating::Dating;
use super::draft::{ClueDraft, Draft, DraftId};
use super::engravings::declared::Engravings;
use super::lettering::{self, LetteringDraft};
use super::makers::Makers;
use super::marks::Marks;
use super::observers::Observers;
use super::set_together;
use super::sizes::Sizes;
use crate::diagnostic::Diagnostic;
use crate::model::{Altered, ClueKind, ColumnRule, MeasureRules, Model, TableRules, Wording};
use crate::network::{Cpt, Measure, MeasureId, Network, Variable, VariableId};
use crate::pack::text::PackText;
use catalogue::catalogue;

/// What the parts of the check declared.
pub struct Parts {
    pub circumstances: Vec<DraftId>,
    pub makers: Makers,
    pub sizes: Option<Sizes>,
    pub marks: Option<Marks>,
    pub lettering: Option<LetteringDraft>,
    pub engravings: Option<Engravings>,
    pub histories: Option<crate::model::Histories>,
    pub hidden: Vec<DraftId>,
    pub clues: Vec<ClueDraft>,
    pub observers: Option<Observers>,
    pub dating: Dating,
    pub learned: Vec<LearnedDraft>,
    pub wording: Wording,
    pub market: Option<crate::model::market::Market>,
}

/// Puts the model together.
pub fn model(
    pack: &PackText,
    draft: Draft<'_>,
    mut parts: Parts,
    out: &mut Vec<Diagnostic>,
) -> Option<Model> {
    let values = draft.beliefs.stated();
    let id = |id: DraftId| VariableId::new(u32::try_from(id).unwrap_or(u32::MAX));
    let mut variables = Vec::new();
    let mut cpts = Vec::new();
    let mut tables = Vec::new();
    for variable in &draft.variables {
        let n_states = variable.states.len();
        let rules = variable.table.as_ref().map(|table| {
            // The rule of cases that cannot happen stands last.
            let never = table.rules.len();
            let mut rules: Vec<ColumnRule> = table.rules.iter().map(|r| r.rule.clone()).collect();
            let mut citations: Vec<Vec<String>> =
                table.rules.iter().map(|r| r.citations.clone()).collect();
            if table.rule_of_configuration.contains(&None) {
                rules.push(ColumnRule::NeverReached);
                citations.push(Vec::new());
            }
            TableRules {
                rules,
                citations,
                rule_of_configuration: table
                    .rule_of_configuration
                    .iter()
                    .map(|r| r.unwrap_or(never))
                    .collect(),
            }
        });
        let table = match &rules {
            None => DMatrix::from_element(n_states, 1, 1.0),
            Some(rules) => {
                let mut table = DMatrix::zeros(n_states, rules.rule_of_configuration.len());
                for (mut column, &rule) in table.column_iter_mut().zip(&rules.rule_of_configuration)
                {
                    rules.rules[rule].write(&values, column.as_mut_slice());
                }
                table
            }
        };
        variables.push(Variable {
            name: variable.name.value.clone(),
            states: variable.states.iter().map(|s| s.value.clone()).collect(),
            role: variable.role,
        });
        cpts.push(Cpt {
            parents: variable.parents.iter().map(|&p| id(p)).collect(),
            table,
        });
        tables.push(rules);
    }
    let mut measures = Vec::new();
    let mut measure_rules = Vec::new();
    for measure in &draft.measures {
        measures.push(Measure {
            name: measure.name.value.clone(),
            parents: measure.parents.iter().map(|&p| id(p)).collect(),
        });
        if let Some(learned) = &measure.learned {
            measure_rules.push(MeasureRules::Learned(std::sync::Arc::clone(learned)));
            continue;
        }
        // A case that cannot happen takes any belief: it is never weighed.
        let any = measure
            .belief_of_configuration
            .iter()
            .flatten()
            .next()
            .copied()?;
        if measure.dates {
            measure_rules.push(MeasureRules::Dating { exceptions: any });
            continue;
        }
        measure_rules.push(MeasureRules::Quantity {
            belief_of_configuration: measure
                .belief_of_configuration
                .iter()
                .map(|b| b.unwrap_or(any))
                .collect(),
            family: measure.family,
        });
    }
    let catalogue = catalogue(pack, &draft, &parts, out)?;
    let mut lettering = None;
    if let (Some(read), Some(marks)) = (parts.lettering.take(), &parts.marks) {
        let absent = catalogue
            .clues
            .iter()
            .find(|clue| clue.kind == ClueKind::Mark)
            .and_then(|clue| clue.absent);
        let measure = MeasureId::new(u32::try_from(measures.len()).unwrap_or(u32::MAX));
        let (rules, entered_on, citation_of_configuration) =
            lettering::rules(read, measure, marks, absent, &draft)?;
        measures.push(entered_on);
        measure_rules.push(MeasureRules::Fragment {
            citation_of_configuration,
        });
        lettering = Some(rules);
    }
    let network = match Network::new(variables, cpts, measures) {
        Ok(network) => network,
        Err(error) => {
            out.push(Diagnostic::error(
                "pack::network",
                error.to_string(),
                pack.name.span,
            ));
            return None;
        }
    };
    Some(Model {
        name: pack.name.value.clone(),
        hash: pack.hash.clone(),
        altered: Altered::default(),
        network,
        set_together: set_together::read(pack, &draft.beliefs, out),
        beliefs: draft.beliefs,
        tables,
        measures: measure_rules,
        lettering,
        histories: parts.histories,
        catalogue,
        market: parts.market.take().map(std::sync::Arc::new),
    })
}
