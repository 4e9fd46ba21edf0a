//! What the chances of a belief are called: the states of the table they are written into, or the outcomes of a reading.

use super::{BeliefId, ColumnRule, MeasureRules, Model, TableRules};
use crate::mark::{Report, StrikeQuality};

/// What the chances of a belief are called, in their order, from the first table or measure that is written from it.
#[must_use]
pub fn chance_names(model: &Model, belief: BeliefId) -> Vec<String> {
    let tables = model.network.variable_ids().zip(&model.tables);
    for (variable, table) in tables {
        let rules = table.iter().flat_map(|table: &TableRules| &table.rules);
        let states = &model.network.variable(variable).states;
        let mut written = rules
            .filter(|rule| rule.beliefs().contains(&belief))
            .peekable();
        if let Some(ColumnRule::MarkKinds(rule)) = written.peek()
            && rule.shares == belief
        {
            return labels_of_shares(written, states);
        }
        if let Some(rule) = written.next() {
            return labels_of_rule(rule, belief, states);
        }
    }
    let dates = |rules: &MeasureRules| matches!(rules, MeasureRules::Dating { exceptions } if *exceptions == belief);
    if model.measures.iter().any(dates) {
        return words(&["exception", "as the rule says"]);
    }
    let Some(lettering) = &model.lettering else {
        return Vec::new();
    };
    let own = &lettering.beliefs;
    if own.letters.iter().flatten().any(|&id| id == belief) {
        return words(&["yes", "no"]);
    }
    if own.quality.contains(&belief) {
        return words(&StrikeQuality::ALL.map(StrikeQuality::name));
    }
    if own.reports.iter().flatten().any(|&id| id == belief) {
        return words(&Report::ALL.map(Report::name));
    }
    let look_alike = own.look_alikes.iter().find(|(_, id)| *id == belief);
    let alphabet = lettering.alphabet.alphabet().iter();
    look_alike.map_or_else(Vec::new, |(letter, _)| {
        let others = alphabet.filter(|other| *other != letter);
        others.map(char::to_string).collect()
    })
}

fn labels_of_rule(rule: &ColumnRule, belief: BeliefId, states: &[String]) -> Vec<String> {
    match rule {
        ColumnRule::Stated(_) => states.to_vec(),
        ColumnRule::Misreading(_) => words(&["right", "wrong"]),
        ColumnRule::GradeReading(_) => words(&["right", "one off", "further off"]),
        ColumnRule::Simulated(rule) if rule.simulated == belief => words(&["simulated", "genuine"]),
        ColumnRule::Simulated(rule) => labels_of_rule(&rule.genuine, belief, states),
        ColumnRule::MarkKinds(_) => words(&["marked", "unmarked"]),
        ColumnRule::StrayInitials(rule) if rule.rate == belief => words(&["marked", "unmarked"]),
        ColumnRule::StrayInitials(_) => words(&["stray", "none"]),
        ColumnRule::Pulled(rule) if rule.never_seen == belief => words(&["never seen", "at hand"]),
        ColumnRule::Pulled(rule) => {
            let engravings = states.iter().zip(rule.shares.cell_of.iter());
            let seen = engravings.filter(|(_, cell)| cell.is_some());
            seen.map(|(name, _)| name.clone()).collect()
        }
        ColumnRule::PlateState(_) => words(&["worn on", "as it was"]),
        ColumnRule::WornReading(rule) if rule.loss == belief => words(&["lost", "kept"]),
        ColumnRule::WornReading(rule) if rule.kept.beliefs().contains(&belief) => {
            labels_of_rule(&rule.kept, belief, states)
        }
        ColumnRule::WornReading(rule) => labels_of_rule(&rule.lost, belief, states),
        ColumnRule::Certain(_) | ColumnRule::Bands(_) | ColumnRule::NeverReached => Vec::new(),
    }
}

/// The marks that a maker's shares are about: each period has those in use.
fn labels_of_shares<'r>(
    rules: impl Iterator<Item = &'r ColumnRule>,
    states: &[String],
) -> Vec<String> {
    let mut labels: Vec<String> = Vec::new();
    for rule in rules {
        let ColumnRule::MarkKinds(rule) = rule else {
            continue;
        };
        for kind in &rule.kinds {
            if labels.len() <= kind.cell {
                labels.resize(kind.cell + 1, String::new());
            }
            labels[kind.cell].clone_from(&states[kind.state]);
        }
    }
    // A mark in use in no period of the pack.
    for (cell, label) in labels
        .iter_mut()
        .enumerate()
        .filter(|(_, label)| label.is_empty())
    {
        *label = format!("mark {}", cell + 1);
    }
    labels
}

fn words(words: &[&str]) -> Vec<String> {
    words.iter().map(|&word| word.to_owned()).collect()
}
