//! A stress run as an appraiser reads it.

use super::layout::{estimate, heading, line, rows_cited, small, wrapped};
use crate::report::table::{Align, table};
use crate::stress::{Estimate, Explained, FEW_DRAWS, Stress};

/// Other leaders and other words shown at most.
const SHOWN: usize = 4;

/// A stress run.
#[must_use]
pub fn stress(stress: &Stress) -> String {
    let mut out = String::new();
    heading(&mut out, "STRESS", &stress.piece);
    let drawn = if stress.beliefs == stress.all_beliefs {
        format!("all {} beliefs at once", stress.beliefs)
    } else {
        format!(
            "{} of {} beliefs, the others as stated",
            stress.beliefs, stress.all_beliefs
        )
    };
    let run = format!("{} draws of {drawn}, seed {}", stress.draws, stress.seed);
    line(&mut out, "run", &run);
    if stress.doubt != 1.0 {
        let doubt = format!(
            "every belief taken to rest on its pieces divided by {}",
            stress.doubt
        );
        line(&mut out, "doubt", &doubt);
    }
    let by_maker = stress.wording.is_some();
    let question = &stress.question;
    let claim = format!("{}: {} as stated", question.claim, small(stress.stated));
    line(&mut out, if by_maker { "leader" } else { "claim" }, &claim);
    if !by_maker {
        line(&mut out, "against", &question.against);
    }
    let span = format!(
        "{} to {} in 9 draws of 10",
        estimate(stress.low),
        estimate(stress.high)
    );
    line(&mut out, "", &span);
    let middle = format!(
        "median {}, mean {}",
        estimate(stress.median),
        estimate(stress.mean)
    );
    line(&mut out, "", &middle);
    let holds = if by_maker {
        format!("leads in {}", stress.of_the_draws(stress.holds))
    } else {
        format!(
            "on the same side of the other as stated in {}",
            stress.of_the_draws(stress.holds)
        )
    };
    line(&mut out, "holds", &holds);
    for (maker, share) in stress.other_leaders.iter().take(SHOWN) {
        line(&mut out, "", &format!("{maker} leads in {}", small(*share)));
    }
    if let Some(wording) = &stress.wording {
        let same = format!(
            "“{}” in {}",
            wording.words,
            stress.of_the_draws(wording.holds)
        );
        line(&mut out, "wording", &same);
        for (words, share) in wording.others.iter().take(SHOWN) {
            line(&mut out, "", &format!("“{words}” in {}", small(*share)));
        }
    }
    if stress.impossible_draws > 0 {
        let left_out = format!(
            "{} draws made the findings impossible and are left out",
            stress.impossible_draws
        );
        line(&mut out, "note", &left_out);
    }
    wrapped(&mut out, "  ", "± is one Monte Carlo standard error.");
    few(&mut out, stress.draws);
    out
}

/// Points out a run that is too short to rest on.
fn few(out: &mut String, draws: usize) {
    if draws < FEW_DRAWS {
        let words = format!(
            "only {draws} draws: neither the figures nor their standard errors can be relied on; take {FEW_DRAWS} or more"
        );
        wrapped(out, "! ", &words);
    }
}

/// Beliefs shown at most; the rest are summed up.
const BELIEFS_SHOWN: usize = 12;

/// Which beliefs explain a stress run's spread.
#[must_use]
pub fn explained(explained: &Explained) -> String {
    let mut out = String::new();
    heading(&mut out, "STRESS EXPLAINED", &explained.piece);
    let question = &explained.question;
    let claim = format!("{}: {} as stated", question.claim, small(explained.stated));
    line(&mut out, "claim", &claim);
    let run = format!(
        "{} pairs of draws of the {} beliefs that can matter, seed {}",
        explained.draws,
        explained.beliefs.len(),
        explained.seed
    );
    line(&mut out, "run", &run);
    if explained.doubt != 1.0 {
        let doubt = format!(
            "every belief taken to rest on its pieces divided by {}",
            explained.doubt
        );
        line(&mut out, "doubt", &doubt);
    }
    let spread = format!("standard deviation {:.4}", explained.standard_deviation);
    line(&mut out, "spread", &spread);
    if explained.impossible_draws > 0 {
        let left_out = format!(
            "{} draws made the findings impossible and are left out",
            explained.impossible_draws
        );
        line(&mut out, "note", &left_out);
    }
    out.push('\n');
    let index = |e: Estimate| format!("{:.3} ± {:.3}", e.value, e.standard_error);
    let shown = explained.beliefs.iter().take(BELIEFS_SHOWN);
    let mut rows: Vec<Vec<String>> = shown
        .map(|belief| {
            vec![
                belief.about.join("; "),
                index(belief.first),
                index(belief.total),
                rows_cited(&belief.rows),
            ]
        })
        .collect();
    let others = explained.beliefs.iter().skip(BELIEFS_SHOWN);
    if others.len() > 0 {
        let sum: f64 = others.clone().map(|belief| belief.first.value).sum();
        rows.push(vec![
            format!("{} others", others.len()),
            format!("{sum:.3}"),
            String::new(),
            String::new(),
        ]);
    }
    let header = [
        ("belief", Align::Left),
        ("on its own", Align::Right),
        ("with others", Align::Right),
        ("rows", Align::Left),
    ];
    out += &table(&header, rows);
    out.push('\n');
    for note in [
        "Shares of the variance of the claim's probability when all beliefs are doubted at once (variance-based indices, sampled; ± is one standard error).",
        "on its own: how much narrower the spread would be if this belief were known. with others: how much of the spread would be left if only this belief were unknown, with all that it does together with others.",
    ] {
        wrapped(&mut out, "  ", note);
    }
    few(&mut out, explained.draws);
    out
}
