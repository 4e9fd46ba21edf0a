//! What-if tables, comparisons and why-nots as an appraiser reads them.

use super::audit::strength;
use super::layout::{four_digits, heading, line, signed, small, wrapped};
use crate::compare::{Comparison, Found, Side};
use crate::report::table::{Align, table};
use crate::vary::Varied;
use crate::why_not::WhyNot;

fn or_none(figure: Option<f64>, show: impl Fn(f64) -> String) -> String {
    figure.map_or_else(|| "none".to_owned(), show)
}

/// A clue varied over its states.
#[must_use]
pub fn varied(varied: &Varied) -> String {
    let mut out = String::new();
    heading(&mut out, "WHAT IF", &varied.piece);
    let question = &varied.question;
    let asked = format!("{}, against {}", question.claim, question.against);
    line(&mut out, "claim", &asked);
    let without = format!(
        "{} with {} not looked at",
        small(varied.without),
        varied.clues.join(", ")
    );
    line(&mut out, "", &without);
    out.push('\n');
    let rows = varied.rows.iter().map(|row| {
        let mut cells = row.states.clone();
        cells.push(or_none(row.chance, small));
        cells.push(or_none(row.claim, small));
        let leader = row.leader.as_ref().zip(row.leader_probability);
        cells.push(leader.map_or_else(
            || "these cannot stand together".to_owned(),
            |(leader, p)| format!("{leader} {}", four_digits(p)),
        ));
        cells.push(row.words.clone().unwrap_or_default());
        cells
    });
    let clues = varied.clues.iter().map(|clue| (clue.as_str(), Align::Left));
    let header = [
        ("chance", Align::Right),
        ("claim", Align::Right),
        ("leader", Align::Left),
        ("opinion", Align::Left),
    ];
    out += &table(&clues.chain(header).collect::<Vec<_>>(), rows.collect());
    out.push('\n');
    wrapped(
        &mut out,
        "  ",
        "chance: how probable it was to find this, given all other findings. claim: the probability of the claim then.",
    );
    out
}

/// Two verdicts side by side.
#[must_use]
pub fn comparison(comparison: &Comparison) -> String {
    let mut out = String::new();
    let (first, second) = (&comparison.first, &comparison.second);
    heading(
        &mut out,
        "COMPARISON",
        &format!("{} | {}", first.piece, second.piece),
    );
    let question = &comparison.question;
    let asked = format!("{}, against {}", question.claim, question.against);
    line(&mut out, "claim", &asked);
    for (label, side) in [("first", first), ("second", second)] {
        line(&mut out, label, &of_side(side));
    }
    let apart = format!(
        "{} decibans, second less first: {} before any finding, {} by the findings",
        signed(comparison.posterior_decibans),
        signed(comparison.prior_decibans),
        signed(comparison.posterior_decibans - comparison.prior_decibans)
    );
    line(&mut out, "difference", &apart);
    out.push('\n');
    let said = |found: &Option<Found>| {
        let found = found.as_ref();
        found.map_or_else(|| "not looked".to_owned(), |f| f.said.clone())
    };
    let shared = |found: &Option<Found>| match found {
        Some(found) => or_none(found.shared, signed),
        None => String::new(),
    };
    let rows = comparison.clues.iter().map(|clue| {
        vec![
            clue.clue.clone(),
            said(&clue.first),
            shared(&clue.first),
            said(&clue.second),
            shared(&clue.second),
            or_none(clue.decibans, signed),
        ]
    });
    let header = [
        ("clue", Align::Left),
        ("first", Align::Left),
        ("share", Align::Right),
        ("second", Align::Left),
        ("share", Align::Right),
        ("differs by", Align::Right),
    ];
    out += &table(&header, rows.collect());
    out.push('\n');
    wrapped(
        &mut out,
        "  ",
        "share: what the finding adds to the odds of the claim, over all orders (Shapley value), in decibans. The differences add up to that of the findings.",
    );
    out
}

fn of_side(side: &Side) -> String {
    format!(
        "{} (before any finding {}): {}  [pack {}, {}]",
        small(side.posterior),
        small(side.prior),
        side.words,
        side.pack,
        side.pack_sha256.get(..12).unwrap_or(&side.pack_sha256)
    )
}

/// Why not a named maker.
#[must_use]
pub fn why_not(why: &WhyNot) -> String {
    let mut out = String::new();
    heading(&mut out, "WHY NOT", &why.piece);
    let question = &why.question;
    if why.asked_leads {
        let leads = format!(
            "{}: it leads, with {}",
            question.claim,
            small(why.probability)
        );
        line(&mut out, "asked", &leads);
        line(&mut out, "next", &question.against);
    } else {
        let asked = format!("{}: {}", question.against, small(why.probability));
        line(&mut out, "asked", &asked);
        line(&mut out, "leader", &question.claim);
    }
    let is_ruled_out = why.posterior_decibans == f64::INFINITY;
    let behind = if is_ruled_out {
        "the findings rule it out; look for those with a chance of 0 from it".to_owned()
    } else {
        let (now, before) = (why.posterior_decibans, why.prior_decibans);
        format!("{now:.2} decibans, {before:.2} before any finding")
    };
    line(&mut out, "behind by", &behind);
    if !is_ruled_out {
        let [words, ratio] = strength(&why.strength);
        let words = format!("{words}, that of the leader");
        line(&mut out, "strength", &words);
        line(&mut out, "", &ratio);
    }
    out.push('\n');
    let rows = why.findings.iter().map(|f| {
        vec![
            format!("{}: {}", f.clue, f.said),
            or_none(f.shared, signed),
            f.from_leader.map_or_else(String::new, small),
            f.from_maker.map_or_else(String::new, small),
            f.expected
                .as_ref()
                .map_or_else(String::new, |(state, p)| format!("{state} {}", small(*p))),
        ]
    });
    let header = [
        ("finding", Align::Left),
        ("for the leader", Align::Right),
        ("chance from it", Align::Right),
        ("from the other", Align::Right),
        ("to be expected from the other", Align::Left),
    ];
    out += &table(&header, rows.collect());
    out.push('\n');
    wrapped(
        &mut out,
        "  ",
        "for the leader: share of the shift of the odds between the two (Shapley value), in decibans; below 0 the finding speaks for the other. Chances are given all other findings.",
    );
    out
}
