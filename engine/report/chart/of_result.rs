//! What is drawn of each result.

use super::{Bar, Chart, Figures, GridRow, Panel, Unit};
use crate::audit::{Audit, Shared};
use crate::compare::Comparison;
use crate::contrast::Contrasts;
use crate::next_look::overturn::Overturn;
use crate::next_look::{LookWorth, NextLook, Reckoned};
use crate::ranking::MarkRanking;
use crate::report::Shown;
use crate::report::text::layout::SHOWN_FROM;
use crate::sensitivity::Sensitivity;
use crate::stress::{BANDS, Estimate, Explained, Stress};
use crate::vary::Varied;
use crate::verdict::Verdict;
use crate::why_not::WhyNot;

/// The results that have a chart, for the message about one that has none.
pub const WITH_CHART: &str = "a verdict, an audit, a stress run, an explained stress run, sensitivity, contrasts, variants, a comparison, reasons against, next looks, what would overturn, a ranking of marks";

/// Beliefs and looks drawn at most; the text of the result has all.
const MOST: usize = 12;

impl Shown {
    /// The chart of a result; none for what has none (see [`WITH_CHART`]).
    #[must_use]
    pub fn chart(&self) -> Option<Chart> {
        match self {
            Self::Verdict(verdict) => Some(of_verdict(verdict)),
            Self::Audit(audit) => Some(of_audit(audit)),
            Self::Stress(stress) => Some(of_stress(stress)),
            Self::Explained(explained) => Some(of_explained(explained)),
            Self::Sensitivity(sensitivity) => Some(of_sensitivity(sensitivity)),
            Self::Contrasts(contrasts) => Some(of_contrasts(contrasts)),
            Self::Varied(varied) => Some(of_varied(varied)),
            Self::Comparison(comparison) => Some(of_comparison(comparison)),
            Self::WhyNot(why) => Some(of_why_not(why)),
            Self::NextLook(next) => Some(of_next_look(next)),
            Self::Overturn(overturn) => Some(of_overturn(overturn)),
            Self::Marks(ranking) => Some(of_marks(ranking)),
            Self::Plot(chart) => Some((**chart).clone()),
            _ => None,
        }
    }
}

fn chart(title: impl Into<String>, piece: &str, panels: Vec<Panel>, notes: &[&str]) -> Chart {
    Chart {
        title: title.into(),
        piece: piece.to_owned(),
        panels,
        notes: notes.iter().map(|&note| note.to_owned()).collect(),
    }
}

fn panel(heading: impl Into<String>, unit: Unit, figures: Figures) -> Panel {
    Panel {
        heading: heading.into(),
        unit,
        figures,
    }
}

fn bars(heading: impl Into<String>, unit: Unit, bars: impl Iterator<Item = Bar>) -> Panel {
    let bars = bars.collect();
    panel(heading, unit, Figures::Bars { bars })
}

/// With one standard error to either side.
fn sampled(label: impl Into<String>, estimate: Estimate) -> Bar {
    let (value, error) = (estimate.value, estimate.standard_error);
    Bar::new(label, value).within(value - error, value + error)
}

const ONE_ERROR: &str = "In brackets: one standard error to either side.";

fn of_verdict(verdict: &Verdict) -> Chart {
    let mut panels = Vec::new();
    let makers = verdict.makers.iter();
    let (shown, others): (Vec<_>, Vec<_>) =
        makers.partition(|m| m.probability >= SHOWN_FROM || m.beyond_the_list);
    if !shown.is_empty() {
        let label = |id: &str, name: &str| match name == id {
            true => id.to_owned(),
            false => format!("{id} {name}"),
        };
        let mut drawn: Vec<Bar> = shown
            .iter()
            .map(|m| Bar::new(label(&m.id, &m.name), m.probability))
            .collect();
        if !others.is_empty() {
            let together = others.iter().map(|m| m.probability).sum();
            drawn.push(Bar::new(
                format!("the {} others together", others.len()),
                together,
            ));
        }
        panels.push(bars("maker", Unit::Probability, drawn.into_iter()));
    }
    if !verdict.periods.is_empty() {
        let drawn = verdict.periods.iter();
        let drawn = drawn.map(|p| Bar::new(p.name.clone(), p.probability));
        let figures = Figures::Columns {
            bars: drawn.collect(),
        };
        panels.push(panel("period", Unit::Probability, figures));
    }
    let note = format!(
        "Opinion: {} [{}]",
        verdict.attribution.words,
        crate::verdict::wording::chance(verdict.attribution.probability)
    );
    chart("who made it, and when", &verdict.piece, panels, &[&note])
}

fn of_shared(label: String, shared: Option<Shared>) -> Bar {
    match shared {
        None => Bar::none(label, "no finite share"),
        Some(shared) => match shared.standard_error {
            None => Bar::new(label, shared.decibans),
            Some(error) => Bar::new(label, shared.decibans)
                .within(shared.decibans - error, shared.decibans + error),
        },
    }
}

fn of_audit(audit: &Audit) -> Chart {
    let findings = audit.findings.iter();
    let findings = findings.map(|f| of_shared(format!("{}: {}", f.name, f.said), f.shared));
    let mut panels = vec![bars(
        "each finding's share of the shift of the odds",
        Unit::Decibans,
        findings,
    )];
    if !audit.groups.is_empty() {
        let groups = audit.groups.iter();
        let groups = groups.map(|g| of_shared(format!("{} ({})", g.name, g.n_findings), g.shared));
        panels.push(bars(
            "findings that hang together, each group as one",
            Unit::Decibans,
            groups,
        ));
    }
    let is_estimated = |f: &crate::audit::FindingWeight| {
        f.shared
            .is_some_and(|shared| shared.standard_error.is_some())
    };
    let mut notes = vec![
        "Each finding's share of the shift of the odds over all orders (Shapley value): above 0 for the claim, below 0 against it. 10 decibans are ten times the odds.",
    ];
    if panels.len() > 1 {
        notes.push("Each set of bars has a scale of its own.");
    }
    if audit.findings.iter().any(is_estimated) {
        notes.push(ONE_ERROR);
    }
    let question = &audit.question;
    let title = format!("{}, against {}", question.claim, question.against);
    chart(title, &audit.piece, panels, &notes)
}

fn of_stress(stress: &Stress) -> Chart {
    let ends = |band: usize| {
        let end = |band: usize| format!("{:.2}", band as f64 / BANDS as f64);
        format!("{}–{}", end(band), end(band + 1))
    };
    let counts = stress.draws_by_band.iter().enumerate();
    let counts = counts.map(|(band, &n)| Bar::new(ends(band), n as f64));
    let spread = Figures::Columns {
        bars: counts.collect(),
    };
    let span = Bar::new("median, and nine draws in ten", stress.median.value)
        .within(stress.low.value, stress.high.value);
    let mut panels = vec![
        panel(
            "how many draws give the claim which probability",
            Unit::Draws,
            spread,
        ),
        panel(
            "probability of the claim",
            Unit::Probability,
            Figures::Spans {
                stated: Some(stress.stated),
                bars: vec![span],
            },
        ),
    ];
    let mut leads = vec![sampled("the claim holds", stress.holds)];
    let others = stress.other_leaders.iter().take(MOST);
    leads.extend(others.map(|(maker, share)| Bar::new(format!("{maker} leads"), *share)));
    if let Some(wording) = &stress.wording {
        leads.push(sampled("worded alike", wording.holds));
    }
    panels.push(bars(
        "share of the draws",
        Unit::ShareOfDraws,
        leads.into_iter(),
    ));
    let run = format!(
        "{} draws, seed {}; the broken line marks the probability as stated. In the last figures, in brackets: one standard error to either side.",
        stress.draws, stress.seed
    );
    let title = format!("stress: {}", stress.question.claim);
    chart(title, &stress.piece, panels, &[&run])
}

fn of_explained(explained: &Explained) -> Chart {
    let shown = || explained.beliefs.iter().take(MOST);
    let alone = shown().map(|b| sampled(b.about.join("; "), b.first));
    let with = shown().map(|b| sampled(b.about.join("; "), b.total));
    let panels = vec![
        bars(
            "what the belief explains on its own",
            Unit::ShareOfVariance,
            alone,
        ),
        bars(
            "on its own and together with others",
            Unit::ShareOfVariance,
            with,
        ),
    ];
    let run = format!(
        "{} pairs of draws, seed {}; {} of {} beliefs are drawn. {ONE_ERROR}",
        explained.draws,
        explained.seed,
        explained.beliefs.len().min(MOST),
        explained.beliefs.len()
    );
    let title = format!("what explains the spread of: {}", explained.question.claim);
    chart(title, &explained.piece, panels, &[&run])
}

fn of_sensitivity(sensitivity: &Sensitivity) -> Chart {
    let moved = sensitivity.moved.iter().take(MOST).map(|moved| {
        let [low, high] = moved.range;
        Bar {
            label: format!("{}: {}", moved.about, moved.number),
            value: None,
            low: Some(low),
            high: Some(high),
            beside: None,
        }
    });
    let figures = Figures::Spans {
        stated: Some(sensitivity.probability),
        bars: moved.collect(),
    };
    let heading = "the claim's probability while one number moves within its interval";
    let [from, to] = sensitivity.levels;
    let note = format!(
        "Each number moves alone, between {from} and {to} of its doubt. The broken line marks the probability as stated."
    );
    chart(
        format!("what the answer hangs on: {}", sensitivity.question.claim),
        &sensitivity.piece,
        vec![panel(heading, Unit::Probability, figures)],
        &[&note],
    )
}

fn of_contrasts(contrasts: &Contrasts) -> Chart {
    let by_period = contrasts.rows.iter().all(|row| row.makers.is_empty());
    let rows = contrasts.rows.iter().map(|row| {
        let leading = if by_period { &row.periods } else { &row.makers };
        match leading.first() {
            Some(first) => Bar {
                beside: Some(first.id.clone()),
                ..Bar::new(row.assumption.clone(), first.probability)
            },
            None => Bar::none(row.assumption.clone(), "nothing leads"),
        }
    });
    let what = if by_period { "period" } else { "maker" };
    chart(
        "under other assumptions",
        &contrasts.piece,
        vec![bars(
            format!("the {what} that leads then"),
            Unit::Probability,
            rows,
        )],
        &[],
    )
}

fn of_varied(varied: &Varied) -> Chart {
    let question = &varied.question;
    let title = format!("what if: {}", question.claim);
    let heading = format!("the claim by {}", varied.clues.join(" and "));
    let figures = match varied.clues.len() {
        2 => grid_of(varied),
        _ => {
            let rows = varied.rows.iter().map(|row| match row.claim {
                Some(claim) => Bar::new(row.states.join(", "), claim),
                None => Bar::none(row.states.join(", "), "these cannot stand together"),
            });
            Figures::Bars {
                bars: rows.collect(),
            }
        }
    };
    let mut panels = vec![panel(heading, Unit::Probability, figures)];
    if varied.clues.len() == 1 {
        let chances = varied.rows.iter().map(|row| match row.chance {
            Some(chance) => Bar::new(row.states.join(", "), chance),
            None => Bar::none(row.states.join(", "), "a circumstance, which has no chance"),
        });
        let heading = "how probable it was to find this, given all other findings";
        panels.push(bars(heading, Unit::Probability, chances));
    }
    chart(title, &varied.piece, panels, &[])
}

/// Rows by the first clue, columns by the second, which turns faster.
fn grid_of(varied: &Varied) -> Figures {
    let mut columns: Vec<String> = Vec::new();
    let mut rows: Vec<GridRow> = Vec::new();
    for row in &varied.rows {
        let [first, second] = row.states.as_slice() else {
            continue;
        };
        if !columns.contains(second) {
            columns.push(second.clone());
        }
        match rows.last_mut().filter(|last| last.label == *first) {
            Some(last) => last.cells.push(row.claim),
            None => rows.push(GridRow {
                label: first.clone(),
                cells: vec![row.claim],
            }),
        }
    }
    Figures::Grid { columns, rows }
}

fn of_comparison(comparison: &Comparison) -> Chart {
    let said = |found: &Option<crate::compare::Found>| {
        let found = found.as_ref();
        found.map_or_else(|| "not looked".to_owned(), |f| f.said.clone())
    };
    let clues = comparison.clues.iter().map(|clue| {
        let label = format!(
            "{}: {} | {}",
            clue.clue,
            said(&clue.first),
            said(&clue.second)
        );
        match clue.decibans {
            Some(decibans) => Bar::new(label, decibans),
            None => Bar::none(label, "no finite share"),
        }
    });
    let (first, second) = (&comparison.first, &comparison.second);
    let side = |label: String, side: &crate::compare::Side| Bar::new(label, side.posterior);
    let same_piece = first.piece == second.piece;
    let name = |of: &crate::compare::Side| match same_piece {
        true => format!("{} under {}", of.piece, of.pack),
        false => of.piece.clone(),
    };
    let sides = [side(name(first), first), side(name(second), second)];
    chart(
        format!("two compared: {}", comparison.question.claim),
        "",
        vec![
            bars("the claim", Unit::Probability, sides.into_iter()),
            bars(
                "second less first: what each clue adds to the odds of the claim",
                Unit::Decibans,
                clues,
            ),
        ],
        &["Of each clue: what was found of the first | of the second."],
    )
}

fn of_why_not(why: &WhyNot) -> Chart {
    let findings = why.findings.iter().map(|f| {
        let label = format!("{}: {}", f.clue, f.said);
        match f.shared {
            Some(decibans) => Bar::new(label, decibans),
            None => Bar::none(label, "no finite share"),
        }
    });
    let question = &why.question;
    chart(
        format!("why not {}", question.against),
        &why.piece,
        vec![bars(
            format!("what each finding adds to the odds of {}", question.claim),
            Unit::Decibans,
            findings,
        )],
        &["Shares over all orders (Shapley values); below 0 the finding speaks for the other."],
    )
}

fn of_next_look(next: &NextLook) -> Chart {
    let label = |look: &LookWorth| {
        let with: Vec<&str> = look.with.iter().map(|with| with.state.as_str()).collect();
        match with.is_empty() {
            true => look.name.clone(),
            false => format!("{} ({})", look.name, with.join(", ")),
        }
    };
    let shown = || next.looks.iter().take(MOST);
    let bits = shown().map(|look| match look.reckoned {
        Reckoned::Sampling { bits, .. } => {
            Bar::new(label(look), look.bits).within(look.bits - bits, look.bits + bits)
        }
        _ => Bar::new(label(look), look.bits),
    });
    let minutes = shown().map(|look| Bar::new(label(look), look.minutes));
    let mut notes = vec!["In the order of bits for each minute, the most first."];
    let is_sampled = |look: &LookWorth| matches!(look.reckoned, Reckoned::Sampling { .. });
    if shown().any(is_sampled) {
        notes.push(ONE_ERROR);
    }
    chart(
        format!("what to look at next: {}", next.about),
        &next.piece,
        vec![
            bars("what the look is expected to tell", Unit::Bits, bits),
            bars("what it takes", Unit::Minutes, minutes),
        ],
        &notes,
    )
}

fn of_overturn(overturn: &Overturn) -> Chart {
    let readings = overturn.overturning.iter().take(MOST).map(|o| Bar {
        beside: Some(format!("then {}", o.after.leader)),
        ..Bar::new(format!("{}: {}", o.name, o.after.reading), o.after.chance)
    });
    let mut readings: Vec<Bar> = readings.collect();
    let pairs = overturn.pairs.iter().take(MOST).map(|pair| {
        let [one, other] = &pair.names;
        let [first, second] = &pair.readings;
        Bar {
            beside: Some(format!("then {}", pair.leader)),
            ..Bar::new(format!("{one}: {first}; {other}: {second}"), pair.chance)
        }
    });
    readings.extend(pairs);
    let mut notes = Vec::new();
    if readings.is_empty() {
        notes.push("No single reading that is left, and no pair of them, makes another lead.");
    }
    chart(
        format!("what would overturn {}", overturn.leader_name),
        &overturn.piece,
        vec![bars(
            "chance of a reading after which another leads",
            Unit::Probability,
            readings.into_iter(),
        )],
        &notes,
    )
}

fn of_marks(ranking: &MarkRanking) -> Chart {
    let marks = ranking.marks.iter().take(MOST);
    let marks = marks.map(|mark| Bar::new(mark.mark.clone(), mark.decibans));
    chart(
        format!("marks against the fragment {}", ranking.fragment),
        "",
        vec![bars(
            "how well the mark explains the fragment, against the best",
            Unit::Decibans,
            marks,
        )],
        &["0 is the best of them; at -10 the fragment is a tenth as probable."],
    )
}
