//! What an answer hangs on, as an appraiser reads it.

use super::layout::{heading, line, rows_cited, signed, small, wrapped};
use crate::report::table::{Align, table};
use crate::sensitivity::{End, Follows, Moved, Pair, Sensitivity, TippingPoint};

/// Cells of the widest bar.
const WIDTH: usize = 28;
/// How many pairs are shown, the widest first.
const PAIRS_SHOWN: usize = 5;

/// A table with a bar for each number, the widest first.
#[must_use]
pub fn sensitivity(sensitivity: &Sensitivity) -> String {
    let mut out = String::new();
    heading(&mut out, "SENSITIVITY", &sensitivity.piece);
    let question = &sensitivity.question;
    line(
        &mut out,
        "question",
        &format!("{} against {}", question.claim, question.against),
    );
    let stands = format!(
        "{} as stated{}  [odds {} decibans]",
        small(sensitivity.probability),
        if sensitivity.of_two_alone {
            ", of the two alone"
        } else {
            ""
        },
        signed(sensitivity.decibans)
    );
    line(&mut out, "stands", &stands);
    line(&mut out, "leads", &sensitivity.leads);
    let moved = format!(
        "{} numbers of the {} beliefs it can depend on, one at a time; the pack holds {}",
        sensitivity.numbers, sensitivity.beliefs, sensitivity.all_beliefs
    );
    line(&mut out, "moved", &moved);
    line(&mut out, "holds", &holds(sensitivity));
    out.push('\n');
    let ends = axis(&sensitivity.moved);
    let bars = format!("{} to {}", small(ends[0]), small(ends[1]));
    let rows = sensitivity.moved.iter().map(|moved| {
        vec![
            format!("{}{}", named(moved), several(moved)),
            value(moved.stated),
            format!("{}–{}", value(moved.low.value), value(moved.high.value)),
            small(moved.low.probability),
            small(moved.high.probability),
            bar(moved, sensitivity.probability, ends),
            tips(moved),
            rows_cited(std::slice::from_ref(&moved.citation)),
        ]
    });
    let header = [
        ("belief: number", Align::Left),
        ("said", Align::Right),
        ("9 in 10", Align::Right),
        ("at low", Align::Right),
        ("at high", Align::Right),
        (bars.as_str(), Align::Left),
        ("lead changes", Align::Left),
        ("row", Align::Left),
    ];
    out += &table(&header, rows.collect());
    bounded(&mut out, &sensitivity.moved);
    pairs(&mut out, &sensitivity.pairs);
    out.push('\n');
    notes(&mut out, sensitivity);
    out
}

fn named(moved: &Moved) -> String {
    format!("{}: {}", moved.about, moved.number)
}

/// That a number counts in several tables at once.
fn several(moved: &Moved) -> String {
    match moved.follows {
        Follows::Polynomial { degree } => format!(" (in {degree} tables)"),
        Follows::Linear | Follows::Curve => String::new(),
    }
}

/// Whether any number alone changes the lead within its interval.
fn holds(sensitivity: &Sensitivity) -> String {
    let n = sensitivity.numbers;
    match sensitivity.change_lead {
        0 => format!("none of the {n} changes the lead by itself within its interval"),
        1 => format!("one of the {n} changes the lead by itself within its interval"),
        changes => {
            format!("{changes} of the {n} change the lead by themselves within their intervals")
        }
    }
}

/// The least and the largest probability of all bars.
fn axis(moved: &[Moved]) -> [f64; 2] {
    moved.iter().fold([1.0, 0.0], |[low, high], moved| {
        [low.min(moved.range[0]), high.max(moved.range[1])]
    })
}

/// From the least to the largest probability, with a stroke where the answer stands.
fn bar(moved: &Moved, stated: f64, [low, high]: [f64; 2]) -> String {
    let place = |p: f64| {
        let part = if high > low {
            (p - low) / (high - low)
        } else {
            0.0
        };
        (part * (WIDTH - 1) as f64)
            .round()
            .clamp(0.0, (WIDTH - 1) as f64) as usize
    };
    let (from, to, here) = (place(moved.range[0]), place(moved.range[1]), place(stated));
    let cell = |i: usize| match i {
        i if i == here => '┃',
        i if (from..=to).contains(&i) => '━',
        _ => ' ',
    };
    let bar: String = (0..WIDTH).map(cell).collect();
    bar.trim_end().to_owned()
}

fn tips(moved: &Moved) -> String {
    let tip = |word: &str, tip: &TippingPoint| {
        // Of claims in words there are two, and the question above names them.
        let is_code = !tip.then.contains(char::is_whitespace);
        let whom = if is_code {
            format!(" to {}", tip.then)
        } else {
            String::new()
        };
        format!("{word} {}{whom}", value(tip.value))
    };
    let below = moved.tips_below.as_ref().map(|t| tip("below", t));
    let above = moved.tips_above.as_ref().map(|t| tip("above", t));
    let both: Vec<String> = below.into_iter().chain(above).collect();
    if both.is_empty() {
        "never".to_owned()
    } else {
        both.join(", ")
    }
}

/// How far each move goes, and how far it could have moved any answer.
fn bounded(out: &mut String, moved: &[Moved]) {
    let rows: Vec<Vec<String>> = moved
        .iter()
        .map(|moved| {
            let end = |end: &End| {
                let distance = end
                    .distance
                    .map_or("no bound".to_owned(), |d| format!("{d:.3}"));
                vec![
                    signed(end.decibans),
                    distance,
                    format!("{}–{}", small(end.bounds[0]), small(end.bounds[1])),
                ]
            };
            let mut row = vec![named(moved)];
            row.push(moved.derivative.map_or_else(String::new, slope));
            row.extend(end(&moved.low));
            row.extend(end(&moved.high));
            row
        })
        .collect();
    if rows.is_empty() {
        return;
    }
    out.push('\n');
    let header = [
        ("how far each moves", Align::Left),
        ("slope", Align::Right),
        ("at low", Align::Right),
        ("distance", Align::Right),
        ("bound", Align::Right),
        ("at high", Align::Right),
        ("distance", Align::Right),
        ("bound", Align::Right),
    ];
    *out += &table(&header, rows);
}

fn pairs(out: &mut String, pairs: &[Pair]) {
    if pairs.is_empty() {
        return;
    }
    out.push('\n');
    let alone = |range: [f64; 2]| format!("{}–{}", small(range[0]), small(range[1]));
    let rows = pairs.iter().take(PAIRS_SHOWN).map(|pair| {
        let mark = if pair.exact { "" } else { " *" };
        vec![
            format!("{}\n  and {}", pair.first, pair.second),
            format!(
                "{}{mark}",
                alone([pair.low.probability, pair.high.probability])
            ),
            format!("{}\n{}", alone(pair.first_alone), alone(pair.second_alone)),
            if pair.lead_holds {
                "holds"
            } else {
                "can change"
            }
            .to_owned(),
        ]
    });
    let header = [
        ("two together", Align::Left),
        ("over both", Align::Right),
        ("each alone", Align::Right),
        ("lead", Align::Left),
    ];
    *out += &table(&header, rows.collect());
}

fn notes(out: &mut String, sensitivity: &Sensitivity) {
    let [low, high] = sensitivity.levels;
    let interval = format!(
        "9 in 10: {:.0} % of the doubt about the number lies below the first value, {:.0} % above the second; closer where more \
         pieces stand behind it. The bar runs over the answers between them, ┃ is the answer as stated. A chance is moved with \
         the others of its row in proportion.",
        low * 100.0,
        (1.0 - high) * 100.0
    );
    wrapped(out, "  ", &interval);
    let curves = sensitivity
        .moved
        .iter()
        .any(|m| m.follows == Follows::Curve);
    for note in [
        "lead changes: the nearest value, on either side of what is said, at which another answer becomes the more probable, \
         everything else as stated; never: no value does.",
        "All figures are exact, not sampled.",
    ] {
        wrapped(out, "  ", note);
    }
    if curves {
        wrapped(
            out,
            "  ",
            "Of means, standard deviations and shares of marks, whose answers follow a curve, the extremes and changes of \
             lead are looked for step by step; of means within ten standard deviations, of standard deviations up to sixteen \
             times and down to a sixteenth.",
        );
    }
    wrapped(
        out,
        "  ",
        "slope: change of the probability for each unit of the number. at low, at high: shift of the log-odds there, in decibans. \
         distance: the Chan–Darwiche distance of the move, in nats; bound: where it alone would hold the answer, whatever was \
         asked.",
    );
    if !sensitivity.pairs.is_empty() {
        let shown = sensitivity.pairs.iter().take(PAIRS_SHOWN);
        let grid = if shown.into_iter().all(|pair| pair.exact) {
            ""
        } else {
            " * over a grid; the others are exact."
        };
        wrapped(
            out,
            "  ",
            &format!(
                "two together: the least and the largest answer over both intervals at once.{grid}"
            ),
        );
    }
}

/// A number of a belief: a chance or a measure.
fn value(value: f64) -> String {
    if value.abs() > 1.0 {
        format!("{value:.3}")
    } else if value < 0.0 {
        format!("{value:.4}")
    } else {
        small(value)
    }
}

fn slope(slope: f64) -> String {
    if slope != 0.0 && slope.abs() < 0.0005 {
        format!("{slope:+.1e}")
    } else {
        format!("{slope:+.3}")
    }
}
