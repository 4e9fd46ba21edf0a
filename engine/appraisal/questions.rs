//! What a hostile reader asks, answered from the results.

use serde::Serialize;

use super::Appraisal;
use crate::contrast::{Contrast, LIST_CLOSED};
use crate::verdict::Share;
use crate::verdict::wording::chance;

/// Numbers of the pack that are told, of those that move the answer most.
const WIDEST: usize = 3;

/// A question with its answers.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Answered {
    /// The question.
    pub question: &'static str,
    /// The answers, one after another.
    pub answers: Vec<String>,
}

/// The seven questions. `codings` names the clues that are coded.
pub(super) fn answered(appraisal: &Appraisal, codings: &[&str]) -> Vec<Answered> {
    let asked = |question, answers| Answered { question, answers };
    vec![
        asked(
            "What was believed before the piece was looked at?",
            priors(appraisal),
        ),
        asked(
            "Who coded the motifs, and blind?",
            coders(appraisal, codings),
        ),
        asked(
            "Why do findings that hang together count apart?",
            together(appraisal),
        ),
        asked("What if the tables are wrong?", wrong_tables(appraisal)),
        asked(
            "Was a maker not on the list considered?",
            open_list(appraisal),
        ),
        asked(
            "When was an opinion like this last wrong?",
            vec![
                "The program keeps no record of past opinions; the signatory has to answer."
                    .to_owned(),
            ],
        ),
        asked(
            "Are the same words used for the same strength?",
            words(appraisal),
        ),
    ]
}

fn priors(appraisal: &Appraisal) -> Vec<String> {
    let (audit, verdict) = (&appraisal.audit, &appraisal.verdict);
    let moved = match audit.findings.is_empty() {
        true => format!(
            "“{}” has the probability {} ({:+.2} decibans) by the prior files alone: no finding makes a claim.",
            audit.question.claim,
            four_digits(audit.prior),
            audit.prior_decibans
        ),
        false => format!(
            "“{}” had the probability {} before any finding ({:+.2} decibans), and has {} given all of them ({:+.2} decibans).",
            audit.question.claim,
            four_digits(audit.prior),
            audit.prior_decibans,
            four_digits(audit.posterior),
            audit.posterior_decibans
        ),
    };
    vec![
        moved,
        format!(
            "All beliefs are those of the prior files {} with the SHA-256 {}.",
            verdict.pack, verdict.pack_sha256
        ),
    ]
}

fn coders(appraisal: &Appraisal, codings: &[&str]) -> Vec<String> {
    let coded = appraisal.verdict.findings.iter();
    let coded = coded.filter(|finding| codings.contains(&finding.clue.as_str()));
    let said = coded.map(|finding| {
        let who = finding.observer.as_ref().or(finding.how.who.as_ref());
        let who = who.map_or("by whom is not noted", String::as_str);
        let blind = match finding.blind {
            true => "without knowing what another made of it",
            false => "not noted as blind",
        };
        format!("{}: {}, {who}, {blind}.", finding.name, finding.said)
    });
    let said: Vec<String> = said.collect();
    match said.is_empty() {
        true => vec!["No motif was coded.".to_owned()],
        false => said,
    }
}

fn together(appraisal: &Appraisal) -> Vec<String> {
    let audit = &appraisal.audit;
    let mut said = vec![
        "They do not: what hangs together in the network is weighed together. Shares of single findings add up to what all do.".to_owned(),
    ];
    for group in &audit.groups {
        said.push(format!(
            "{} ({} findings): {:+.2} decibans on their own, {:+.2} given all others.",
            group.name, group.n_findings, group.alone, group.left_out
        ));
    }
    if let Some(pair) = audit.pairs.first() {
        said.push(format!(
            "The two that change each other most: {} and {}, {:+.2} decibans together beyond apart.",
            pair.first, pair.second, pair.decibans
        ));
    }
    let row = row(appraisal, "codings taken as independent");
    said.extend(
        row.and_then(leads_then)
            .map(|then| format!("Were the codings independent, {then}.")),
    );
    said
}

fn wrong_tables(appraisal: &Appraisal) -> Vec<String> {
    let (stress, sensitivity) = (&appraisal.stress, &appraisal.sensitivity);
    let mut said = vec![
        format!(
            "All {} beliefs were drawn at once around what was said, {} times (seed {}): the probability of the claim lies from {} to {} in nine draws of ten, and it leads in {}.",
            stress.beliefs,
            stress.draws,
            stress.seed,
            chance(stress.low.value),
            chance(stress.high.value),
            stress.of_the_draws(stress.holds)
        ),
        format!(
            "Of {} numbers moved one by one within their intervals, {} change the lead by themselves.",
            sensitivity.numbers, sensitivity.change_lead
        ),
    ];
    // The sensitivity has them in its own order, the widest first.
    let widest = sensitivity.moved.iter().take(WIDEST);
    said.extend(widest.map(|moved| {
        format!(
            "{}, {}: from {:.4} to {:.4} (stated {:.4}) moves the probability between {} and {}.",
            moved.about,
            moved.number,
            moved.low.value,
            moved.high.value,
            moved.stated,
            four_digits(moved.range[0]),
            four_digits(moved.range[1])
        )
    }));
    said
}

fn open_list(appraisal: &Appraisal) -> Vec<String> {
    let verdict = &appraisal.verdict;
    let mut said: Vec<String> = Vec::new();
    for left in &verdict.leaves_out {
        said.push(format!(
            "These prior files leave out {}: {}.",
            left.what, left.why
        ));
    }
    if let Some(open) = &verdict.surprise.open_world {
        let weight = open
            .decibans
            .map(|decibans| format!(" ({decibans:+.2} decibans for {})", open.maker));
        said.push(format!("{}{}.", open.words, weight.unwrap_or_default()));
    }
    let row = row(appraisal, LIST_CLOSED);
    said.extend(
        row.and_then(leads_then)
            .map(|then| format!("With the list closed, {then}.")),
    );
    let beyond = verdict.makers.iter().filter(|maker| maker.beyond_the_list);
    let (gone, weighed): (Vec<&Share>, Vec<&Share>) =
        beyond.partition(|maker| maker.probability == 0.0);
    let names = |all: &[&Share]| -> String {
        let names = all.iter().map(|maker| maker.name.as_str());
        names.collect::<Vec<_>>().join(" and ")
    };
    if !weighed.is_empty() {
        said.push(format!(
            "Among the alternatives weighed above: {}.",
            names(&weighed)
        ));
    }
    if !gone.is_empty() {
        said.push(format!(
            "Not weighed, since these prior files rule it out given these findings: {}. Nothing of the kind can be ruled out for certain: the rows concerned need a small chance.",
            names(&gone)
        ));
    }
    said
}

fn words(appraisal: &Appraisal) -> Vec<String> {
    let attribution = &appraisal.verdict.attribution;
    let needs = match attribution.at_least > 0.0 {
        true => format!(
            "needs at least {:.2}, and the opinion has {}",
            attribution.at_least,
            chance(attribution.probability)
        ),
        false => "is the lowest, which claims nothing and needs no number".to_owned(),
    };
    let mut said = vec![format!(
        "The words follow from the numbers by the ladder printed above, which stands in the prior files: the rung “{}” {needs}.",
        attribution.rung,
    )];
    let stress = &appraisal.stress;
    if let Some(wording) = &stress.wording {
        said.push(format!(
            "Under doubt the words would be the same in {}.",
            stress.of_the_draws(wording.holds)
        ));
    }
    said
}

/// Four digits, and never a 1 that is not one.
fn four_digits(p: f64) -> String {
    match p >= 0.99995 {
        true => "> 0.9999".to_owned(),
        false => format!("{p:.4}"),
    }
}

fn row<'a>(appraisal: &'a Appraisal, assumption: &str) -> Option<&'a Contrast> {
    let rows = &appraisal.contrasts.rows;
    rows.iter().find(|row| row.assumption == assumption)
}

fn leads_then(row: &Contrast) -> Option<String> {
    let first = row.makers.first().or(row.periods.first())?;
    Some(format!(
        "{} would lead with {}",
        first.name,
        chance(first.probability)
    ))
}
