//! The conclusion in the trade's words, from numbers, by the pack's thresholds.
//!
//! The ladder is the house's, printed with every verdict: a word never stands without its number. Terms: common practice
//! of cataloguing, no single source. It says nothing of the strength of the evidence, which is another ladder.

use serde::Serialize;

use super::opinion::{Grounds, Opinion, makers_of_full_mark, opinion, second_to};
use crate::circuit::Posterior;
use crate::model::wording::OWN_WORDS;
use crate::model::{MakerRole, Model};
use crate::network::VariableId;
use crate::piece::Piece;
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
    let grounds = Grounds::of(model, posterior);
    let p = &grounds.maker;
    let named_by_mark = makers_of_full_mark(model, piece);
    let has_own_mark = |maker: usize| named_by_mark.as_ref().is_some_and(|m| m.contains(&maker));
    let opinion = opinion(model, &grounds, has_own_mark, conflict > 0.0);
    let mut said = Attribution {
        words: words(model, opinion, Some(&grounds)),
        rung: opinion.rung(),
        probability: opinion.probability(&grounds),
        at_least: opinion.at_least(&catalogue.wording),
        beside: Vec::new(),
    };
    let Some(first) = most_probable(p) else {
        return said;
    };
    let Some(second) = second_to(p, first) else {
        return said;
    };
    let name = |maker: usize| catalogue.makers[maker].name.clone();
    let role = catalogue.makers[first].role;
    let own_mark = has_own_mark(first);

    match opinion {
        Opinion::Works { .. } | Opinion::Either { .. } => {
            let both = [first, second].map(|m| format!("{} {}", name(m), chance(p[m])));
            said.beside.push(both.join(", "));
        }
        Opinion::Region { .. } | Opinion::Engraving { .. } | Opinion::NotIdentified => {
            said.beside
                .push(format!("perhaps {} ({})", name(first), chance(p[first])));
        }
        _ if p[second] >= 0.01 => {
            said.beside
                .push(format!("rival: {} ({})", name(second), chance(p[second])));
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

/// The words of an opinion; with the chance of the engraving it names, if chances are given.
#[must_use]
pub fn words(model: &Model, opinion: Opinion, grounds: Option<&Grounds>) -> String {
    let catalogue = &model.catalogue;
    let maker = |maker: usize| catalogue.makers[maker].name.as_str();
    let state = |id: VariableId, state: usize| {
        catalogue.place_name(&model.network.variable(id).states[state])
    };
    let say = |rung: &str, names: &[(&str, &str)]| {
        let ours = OWN_WORDS.iter().find(|(known, _)| *known == rung);
        let own = catalogue.wording.words.get(rung).map(String::as_str);
        let words = own.or(ours.map(|(_, words)| *words)).unwrap_or(rung);
        let named = names.iter();
        named.fold(words.to_owned(), |words, (name, value)| {
            words.replace(name, value)
        })
    };
    let printed_from = |words: String, engraving: Option<usize>| match engraving {
        Some(engraving) => {
            let name = &catalogue.engravings[engraving];
            let p = grounds.map(|grounds| chance(grounds.engraving[engraving]));
            let p = p.map_or_else(String::new, |p| format!(" ({p})"));
            format!("{words}; printed from the {name}{p}")
        }
        None => words,
    };
    match opinion {
        Opinion::Copy => say("copy", &[]),
        Opinion::Unlisted { engraving } => printed_from(say("unlisted", &[]), engraving),
        Opinion::Marked { maker: m } => say("marked", &[("{maker}", maker(m))]),
        Opinion::Attributed { maker: m } => say("attributed", &[("{maker}", maker(m))]),
        Opinion::Works { works } => {
            let id = catalogue.works.unwrap_or(catalogue.maker);
            say("works", &[("{works}", state(id, works))])
        }
        Opinion::Probably { maker: m } => say("probably", &[("{maker}", maker(m))]),
        Opinion::Either { makers, engraving } => {
            let [mut first, mut second] = makers;
            if grounds.is_some_and(|s| s.maker[second] > s.maker[first]) {
                (first, second) = (second, first);
            }
            let names = [("{maker}", maker(first)), ("{second}", maker(second))];
            printed_from(say("either", &names), engraving)
        }
        Opinion::Region { region, engraving } => {
            let region = [("{region}", state(catalogue.region, region))];
            printed_from(say("region", &region), engraving)
        }
        Opinion::Engraving { engraving } => {
            printed_from(say("not identified", &[]), Some(engraving))
        }
        Opinion::NotIdentified => say("not identified", &[]),
    }
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
