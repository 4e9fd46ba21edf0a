//! What dates a piece: rules that the pack includes, registers, dates on or with it. Each becomes a measure of the period.

use super::draft::{Draft, DraftId, DraftMeasure, Gaps, seen};
use super::names;
use super::rows::say::report_zero;
use super::rules::{self, Exceptions};
use crate::dating::rules::RuleBook;
use crate::dating::soft::{Bin, Softness};
use crate::diagnostic::Diagnostic;
use crate::model::MeasureFamily;
use crate::model::belief::Spread;
use crate::pack::is_rules_name;
use crate::pack::text::{Clue, PackText, Placed, Word};
use crate::source::Span;

/// Years of softness beyond which `about` says nothing.
const MOST_YEARS: f64 = 100.0;

/// The rules of a pack, each with its measure.
pub struct Dating {
    /// How soft dates are.
    pub softness: Softness,
    /// Rules files.
    pub books: Vec<RuleBook>,
    /// For each file, the measure of each rule, and of its registers.
    pub measures: Vec<(Vec<usize>, Option<usize>)>,
}

/// The name of a rule among the clues.
#[must_use]
pub fn clue_of_rule(rule: &str) -> String {
    format!("rule {rule}")
}

/// The name of a file's registers among the clues.
pub const CLUE_OF_REGISTERS: &str = "registration";

/// Declares the rules that the pack includes.
pub fn declare(
    pack: &PackText,
    draft: &mut Draft<'_>,
    period: DraftId,
    out: &mut Vec<Diagnostic>,
) -> Dating {
    report_softness(pack, out);
    let softness = softness(pack);
    names::report_duplicates("rules file", &pack.included.rules, out);
    for word in &pack.included.rules {
        if !is_rules_name(&word.value) {
            out.push(
                Diagnostic::error(
                    "pack::rules-name",
                    format!("`{}` is not the name of a rules file", word.value),
                    word.span,
                )
                .hint("write the name without folder and ending: rules = [\"termini\"] is ../rules/termini.toml"),
            );
        }
    }
    let mut dating = Dating {
        softness,
        books: Vec::new(),
        measures: Vec::new(),
    };
    let mut named: Vec<Word> = Vec::new();
    for text in &pack.rules {
        let checked = rules::check(text, out);
        let mut measures = Vec::new();
        for (rule, exceptions) in checked.book.rules.iter().zip(&checked.exceptions) {
            let name = clue_of_rule(&rule.id);
            measures.push(measure(draft, period, &name, "exceptions to", *exceptions));
            named.push(here(name, exceptions.span));
        }
        let of_registers = checked.of_registers.map(|exceptions| {
            named.push(here(CLUE_OF_REGISTERS.to_owned(), exceptions.span));
            measure(draft, period, CLUE_OF_REGISTERS, "late use of", exceptions)
        });
        dating.books.push(checked.book);
        dating.measures.push((measures, of_registers));
    }
    // Names repeated within one file are reported already.
    if dating.books.len() > 1 {
        names::report_duplicates("rule of the included files", &named, out);
    }
    for clue in &pack.clues {
        let taken = named.iter().find(|name| name.value == clue.id.value);
        names::report_duplicates("clue", taken.into_iter().chain([&clue.id]), out);
    }
    dating
}

/// Declares a clue of kind `date`.
pub fn declare_date(clue: &Clue, draft: &mut Draft<'_>, out: &mut Vec<Diagnostic>) -> usize {
    let given = [
        clue.states.first(),
        clue.table.depends_on.first(),
        clue.absent.as_ref(),
    ];
    if let Some(word) = given.into_iter().flatten().next() {
        out.push(
            Diagnostic::error(
                "pack::row-form",
                "a date has no states and depends on the period alone",
                word.span,
            )
            .hint("say only how often such a date is `wrong`, and `seen`"),
        );
    }
    if let Some(row) = clue.table.rows.first() {
        out.push(
            Diagnostic::error("pack::row-form", "a date has no rows", row.span)
                .hint("say only how often such a date is `wrong`, and `seen`"),
        );
    }
    let say = clue.wrong.as_ref().map_or(0.0, |wrong| {
        report_zero(wrong, out);
        wrong.value.value
    });
    let span = clue.wrong.as_ref().map_or(clue.id.span, |wrong| wrong.span);
    let exceptions = Exceptions {
        say,
        seen: seen(clue.table.seen.as_ref(), None, clue.id.span, out),
        span,
    };
    let period = draft.find("period").unwrap_or(0);
    measure(draft, period, &clue.id.value, "wrong dates of", exceptions)
}

fn measure(
    draft: &mut Draft<'_>,
    period: DraftId,
    name: &str,
    about: &str,
    exceptions: Exceptions,
) -> usize {
    let spread = Spread::Categorical {
        say: vec![exceptions.say, 1.0 - exceptions.say],
    };
    let about = format!("{about} {name}");
    let belief = draft.belief(about, spread, exceptions.seen, exceptions.span);
    let n_periods = draft.variables[period].states.len();
    draft.measures.push(DraftMeasure {
        name: here(name.to_owned(), exceptions.span),
        parents: vec![period],
        belief_of_configuration: vec![Some(belief); n_periods],
        family: MeasureFamily::Normal,
        dates: true,
        learned: None,
        place: exceptions.span,
        gaps: Gaps::Leave,
    });
    draft.measures.len() - 1
}

fn here(value: String, span: Span) -> Word {
    Placed { value, span }
}

/// How soft the pack's dates are: what it says, else the defaults.
pub fn softness(pack: &PackText) -> Softness {
    let default = Softness::default();
    let about = pack.included.about.as_ref().filter(|about| is_fit(about));
    Softness {
        about: about.map_or(default.about, |about| about.value as u32),
        wrong: pack
            .included
            .wrong
            .as_ref()
            .map_or(default.wrong, |wrong| wrong.value.value),
    }
}

fn report_softness(pack: &PackText, out: &mut Vec<Diagnostic>) {
    let about = pack.included.about.as_ref().filter(|about| !is_fit(about));
    out.extend(about.map(|about| {
        Diagnostic::error(
            "pack::dating",
            format!("a date marked ~ cannot be {} years out", about.value),
            about.span,
        )
        .label(format!("expected whole years from 0 to {MOST_YEARS}"))
    }));
}

fn is_fit(about: &Placed<f64>) -> bool {
    about.value.fract() == 0.0 && (0.0..=MOST_YEARS).contains(&about.value)
}

/// First and last years of the pack's periods; `None` if one could not be read.
pub fn bins(pack: &PackText) -> Option<Vec<Bin>> {
    let years = |years: &Placed<crate::pack::years::Years>| {
        (i64::from(years.value.first), i64::from(years.value.last))
    };
    pack.periods
        .iter()
        .map(|period| period.years.as_ref().map(years))
        .collect()
}
