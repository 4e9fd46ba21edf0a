//! Which sales count for an estimate, and why the others do not.

use serde::Serialize;

use super::design::Described;
use crate::model::market::{Comparable, Market, PriceKind};

/// A sale that does not count.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LeftOut {
    /// Its short name.
    pub id: String,
    /// The catalogue's words.
    pub catalogued: String,
    /// Why.
    pub why: String,
}

/// A sale that counts.
pub struct Used<'a> {
    /// The line.
    pub line: &'a Comparable,
    /// What was sold.
    pub piece: Described,
    /// The hammer price.
    pub hammer: f64,
}

/// The sales that count at a date, and those that do not. Of lines that go back to one source or set, the one speaks that
/// the others name in `same_as`; else the latest; else the first by name: so the order of the lines does not matter.
#[must_use]
pub fn sort(market: &Market, effective: f64) -> (Vec<Used<'_>>, Vec<LeftOut>) {
    let lines = &market.comparables;
    let judged: Vec<Result<Used<'_>, String>> = lines
        .iter()
        .map(|line| usable(market, line, effective))
        .collect();
    let set_of = sets(lines);
    let speaker = |set: usize| {
        let members = (0..lines.len()).filter(|&line| set_of[line] == set && judged[line].is_ok());
        members.max_by(|&a, &b| {
            let is_named = |line: usize| lines[line].same_as.is_none();
            let later = lines[a].years.total_cmp(&lines[b].years);
            let rank = is_named(a).cmp(&is_named(b)).then(later);
            rank.then_with(|| lines[b].id.cmp(&lines[a].id))
        })
    };
    let speakers: Vec<Option<usize>> = set_of.iter().map(|&set| speaker(set)).collect();
    let (mut used, mut left) = (Vec::new(), Vec::new());
    for (place, judged) in judged.into_iter().enumerate() {
        let line = &lines[place];
        let why = match (judged, speakers[place]) {
            (Ok(sale), Some(speaker)) if speaker == place => {
                used.push(sale);
                continue;
            }
            (Err(why), _) => why,
            (Ok(_), speaker) => {
                let speaker = speaker.map_or("another line", |place| lines[place].id.as_str());
                format!("goes back to the same source or set as {speaker}, which speaks for both")
            }
        };
        left.push(LeftOut {
            id: line.id.clone(),
            catalogued: line.catalogued.clone(),
            why,
        });
    }
    (used, left)
}

/// For each line, the set it belongs to: the first line of the chain that `same_as` makes.
fn sets(lines: &[Comparable]) -> Vec<usize> {
    let mut set_of: Vec<usize> = (0..lines.len()).collect();
    // A chain may be written in any order, and in a circle: the least is handed on until nothing changes.
    loop {
        let mut is_settled = true;
        for (place, line) in lines.iter().enumerate() {
            let Some(other) = line.same_as else { continue };
            let least = set_of[place].min(set_of[other]);
            if set_of[place] != least || set_of[other] != least {
                (set_of[place], set_of[other]) = (least, least);
                is_settled = false;
            }
        }
        if is_settled {
            return set_of;
        }
    }
}

fn usable<'a>(market: &Market, line: &'a Comparable, effective: f64) -> Result<Used<'a>, String> {
    if line.is_asked {
        return Err("an asking price: nobody has paid it".to_owned());
    }
    if line.currency != market.currency {
        return Err(format!(
            "in {}, not in {}: nothing is converted",
            line.currency, market.currency
        ));
    }
    if line.years > effective {
        return Err("sold after the date of value".to_owned());
    }
    if line.years < effective - market.oldest {
        return Err(format!(
            "more than {} years before the date of value",
            market.oldest
        ));
    }
    let Some(hammer) = line.hammer else {
        return Err("the hammer price is not told".to_owned());
    };
    let Some(grade) = line.grade else {
        return Err("its condition is not told".to_owned());
    };
    let size = match (line.size, market.usual.size) {
        (Some(size), _) => size,
        (None, None) => 0,
        (None, Some(_)) => return Err("its size is not told".to_owned()),
    };
    Ok(Used {
        line,
        hammer,
        piece: Described {
            who: line.who,
            wording: line.wording,
            size,
            grade,
            sale: line.sale,
            years: line.years,
            price: PriceKind::Hammer,
        },
    })
}
