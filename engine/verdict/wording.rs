//! The conclusion in the trade's words, from numbers, by the pack's thresholds.
//!
//! The ladder is the house's, printed with every verdict: a word never stands without its number. Terms: common practice
//! of cataloguing, no single source. It says nothing of the strength of the evidence, which is another ladder.

use serde::Serialize;

use crate::circuit::Posterior;
use crate::model::{ClueKind, MakerRole, Model};
use crate::piece::{Look, Piece};
use crate::query::{marginal, most_probable};

/// The opinion in words.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Attribution {
    /// The words.
    pub words: String,
    /// The rung of the ladder they stand on.
    pub rung: &'static str,
    /// Probability of what the words claim.
    pub probability: f64,
    /// The rung's threshold; 0 for the lowest rung.
    pub at_least: f64,
    /// What stands beside the opinion: the rival, the engraving, a mark the opinion does not accept.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub beside: Vec<String>,
}

/// A works is named under "one of its partnerships" only if a second partnership has at least this chance.
const SECOND_PARTNERSHIP: f64 = 0.01;

/// Puts a posterior into words. The name alone needs findings without conflict (see [`super::surprise`], in decibans).
#[must_use]
pub fn attribution(
    model: &Model,
    piece: &Piece,
    posterior: &Posterior,
    conflict: f64,
) -> Attribution {
    let catalogue = &model.catalogue;
    if catalogue.leaves_out("maker") {
        return period_alone(model, posterior);
    }
    let ladder = &catalogue.wording;
    let p = marginal(posterior, catalogue.maker);
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&a, &b| p[b].total_cmp(&p[a]));
    let (Some(&first), Some(&second)) = (order.first(), order.get(1)) else {
        return Attribution {
            words: "maker not identified".to_owned(),
            rung: "not identified",
            probability: 0.0,
            at_least: 0.0,
            beside: Vec::new(),
        };
    };
    let name = |maker: usize| catalogue.makers[maker].name.clone();
    let named_by_mark = makers_of_full_mark(model, piece);
    let own_mark = named_by_mark
        .as_ref()
        .is_some_and(|makers| makers.contains(&first));
    let says = |words: String, rung: &'static str, probability: f64, at_least: f64| Attribution {
        words,
        rung,
        probability,
        at_least,
        beside: Vec::new(),
    };

    let role = catalogue.makers[first].role;
    let works = works_of(model, posterior, first, p);
    let (engraving, engraving_p) = top_engraving(model, posterior);
    let printed_from = |words: &str| match &engraving {
        Some(name) if engraving_p >= ladder.engraving => {
            format!("{words}; printed from the {name} ({})", chance(engraving_p))
        }
        _ => words.to_owned(),
    };
    let either = p[first] + p[second];
    let (region, region_p) = top(model, posterior, catalogue.region);

    let mut said = match role {
        MakerRole::Reproduction if p[first] >= ladder.copy => {
            says("later copy".to_owned(), "copy", p[first], ladder.copy)
        }
        MakerRole::Unlisted if p[first] >= ladder.attributed => says(
            printed_from("by none of the listed makers"),
            "attributed",
            p[first],
            ladder.attributed,
        ),
        MakerRole::Listed if p[first] >= ladder.marked && own_mark && conflict <= 0.0 => says(
            format!("{}, marked", name(first)),
            "marked",
            p[first],
            ladder.marked,
        ),
        MakerRole::Listed if p[first] >= ladder.attributed => says(
            format!("attributed to {}", name(first)),
            "attributed",
            p[first],
            ladder.attributed,
        ),
        _ => match works {
            Some((works, works_p)) if works_p >= ladder.works => says(
                format!("{works}, under one of its partnerships"),
                "works",
                works_p,
                ladder.works,
            ),
            _ if role == MakerRole::Listed && p[first] >= ladder.probably => says(
                format!("probably {}", name(first)),
                "probably",
                p[first],
                ladder.probably,
            ),
            _ if either >= ladder.either => says(
                printed_from(&format!("{} or {}", name(first), name(second))),
                "either",
                either,
                ladder.either,
            ),
            _ if region_p >= ladder.region && role == MakerRole::Listed => says(
                printed_from(&format!("{region}, maker not identified")),
                "region",
                region_p,
                ladder.region,
            ),
            _ if engraving_p >= ladder.engraving => says(
                printed_from("maker not identified"),
                "engraving",
                engraving_p,
                ladder.engraving,
            ),
            _ => says(
                "maker not identified".to_owned(),
                "not identified",
                p[first],
                0.0,
            ),
        },
    };

    match said.rung {
        "works" | "either" => {
            let both = [first, second].map(|m| format!("{} {}", name(m), chance(p[m])));
            said.beside.push(both.join(", "));
        }
        "region" | "engraving" | "not identified" => {
            said.beside
                .push(format!("perhaps {} ({})", name(first), chance(p[first])));
        }
        _ if p[second] >= 0.01 => {
            said.beside
                .push(format!("rival: {} ({})", name(second), chance(p[second])))
        }
        _ => {}
    }
    if own_mark && said.rung == "attributed" && conflict > 0.0 {
        said.beside.push(
            "carries a full mark of its own, and the findings pull against each other".to_owned(),
        );
    }
    if let Some(makers) = named_by_mark.filter(|_| !own_mark || role != MakerRole::Listed) {
        let listed = makers
            .into_iter()
            .filter(|&m| catalogue.makers[m].role == MakerRole::Listed);
        let names: Vec<String> = listed.map(name).collect();
        if !names.is_empty() {
            said.beside.push(format!(
                "bears a mark of {}, which the opinion does not accept",
                names.join(" or ")
            ));
        }
    }
    said
}

/// The opinion of a pack that asks for the period alone.
fn period_alone(model: &Model, posterior: &Posterior) -> Attribution {
    let p = marginal(posterior, model.catalogue.period);
    let first = most_probable(p).unwrap_or(0);
    let second = (0..p.len())
        .filter(|&period| period != first)
        .max_by(|&a, &b| p[a].total_cmp(&p[b]));
    let name = |period: usize| model.catalogue.periods[period].in_words();
    let rival = second.filter(|&second| p[second] >= 0.01);
    Attribution {
        words: format!("of period {}", name(first)),
        rung: "period",
        probability: p[first],
        at_least: 0.0,
        beside: rival
            .map(|second| format!("rival: {} ({})", name(second), chance(p[second])))
            .into_iter()
            .collect(),
    }
}

/// A probability as it stands beside a word: two digits, and no nearer to certainty than 0.99.
#[must_use]
pub fn chance(p: f64) -> String {
    if p >= 0.99 {
        "≥ 0.99".to_owned()
    } else if p <= 0.01 {
        "≤ 0.01".to_owned()
    } else {
        format!("{p:.2}")
    }
}

/// The makers who used the mark that was read in full, if one was.
fn makers_of_full_mark(model: &Model, piece: &Piece) -> Option<Vec<usize>> {
    let clues = &model.catalogue.clues;
    let state = piece
        .findings()
        .iter()
        .find_map(|f| match (&clues[f.clue].kind, &f.look) {
            (ClueKind::Mark, Look::Seen(state)) => Some(*state),
            _ => None,
        })?;
    model.catalogue.full_readings.get(&state).cloned()
}

/// The leader's works and its probability, if a second of its partnerships is a serious answer.
fn works_of(
    model: &Model,
    posterior: &Posterior,
    leader: usize,
    p: &[f64],
) -> Option<(String, f64)> {
    let id = model.catalogue.works?;
    let works = model.catalogue.makers[leader].works?;
    let partners = |m: &usize| *m != leader && model.catalogue.makers[*m].works == Some(works);
    let second = (0..p.len())
        .filter(partners)
        .map(|m| p[m])
        .fold(0.0, f64::max);
    if second < SECOND_PARTNERSHIP {
        return None;
    }
    let probability = *marginal(posterior, id).get(works)?;
    Some((
        model.network.variable(id).states[works].clone(),
        probability,
    ))
}

fn top(model: &Model, posterior: &Posterior, id: crate::network::VariableId) -> (String, f64) {
    let p = marginal(posterior, id);
    let best = most_probable(p);
    best.map_or_else(
        || (String::new(), 0.0),
        |state| (model.network.variable(id).states[state].clone(), p[state]),
    )
}

fn top_engraving(model: &Model, posterior: &Posterior) -> (Option<String>, f64) {
    let Some(id) = model.catalogue.engraving else {
        return (None, 0.0);
    };
    let p = marginal(posterior, id);
    let best = most_probable(p);
    best.map_or((None, 0.0), |state| {
        (model.catalogue.engravings.get(state).cloned(), p[state])
    })
}
