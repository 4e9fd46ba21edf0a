//! Rules files: limits that make sense, each with its source.

mod registers;

use std::path::Path;

use super::names;
use super::rows::say::report_zero;
use crate::dating::edtf::Edtf;
use crate::dating::rules::{Rule, RuleBook, words};
use crate::dating::terminus::{Limit, Strength, Term};
use crate::diagnostic::{Diagnostic, has_errors};
use crate::pack::text::rules::{ExceptionsText, LimitText, RuleText, RulesText};
use crate::pack::text::{Placed, Word};
use crate::source::{Sources, Span};

/// What stands behind the exceptions of a rule or of registers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exceptions {
    /// How likely a year outside is beside one inside.
    pub say: f64,
    /// Equivalent sample size.
    pub seen: f64,
    /// Where that is said, or the rule itself.
    pub span: Span,
}

/// A checked rules file, with what its likelihoods rest on.
pub struct Checked {
    /// The rules.
    pub book: RuleBook,
    /// Exceptions of each rule.
    pub exceptions: Vec<Exceptions>,
    /// Exceptions of the registers.
    pub of_registers: Option<Exceptions>,
}

/// Reads and checks a rules file on its own. Defects are pushed to `out`; `None` if there is an error among them.
pub fn load(path: &Path, sources: &mut Sources, out: &mut Vec<Diagnostic>) -> Option<RuleBook> {
    let n_before = out.len();
    let text = crate::pack::rules::read(path, sources, out)?;
    let checked = check(&text, out);
    (!has_errors(&out[n_before..])).then_some(checked.book)
}

/// Checks a rules file. What has a defect is reported and left out.
pub fn check(text: &RulesText, out: &mut Vec<Diagnostic>) -> Checked {
    names::report_duplicates("rule", text.rules.iter().map(|rule| &rule.id), out);
    let mut checked = Checked {
        book: RuleBook {
            name: text.name.clone(),
            rules: Vec::new(),
            registers: None,
        },
        exceptions: Vec::new(),
        of_registers: None,
    };
    for rule in &text.rules {
        if let Some((rule, exceptions)) = of_rule(rule, text.usual.as_ref(), out) {
            checked.book.rules.push(rule);
            checked.exceptions.push(exceptions);
        }
    }
    if let Some(registers) = &text.registers {
        let usual = text.usual.as_ref();
        if let Some((registers, exceptions)) = registers::check(registers, usual, out) {
            checked.book.registers = Some(registers);
            checked.of_registers = Some(exceptions);
        }
    }
    checked
}

fn of_rule(
    text: &RuleText,
    usual: Option<&ExceptionsText>,
    out: &mut Vec<Diagnostic>,
) -> Option<(Rule, Exceptions)> {
    let n_before = out.len();
    let not_before = text.not_before.as_ref().map(|text| limit(text, out));
    let not_after = text.not_after.as_ref().map(|text| limit(text, out));
    if let (None, None) = (&text.not_before, &text.not_after) {
        out.push(
            Diagnostic::error(
                "rules::no-limit",
                format!("the rule `{}` has no limit", text.id.value),
                text.span,
            )
            .hint("add `not_before = { year = \"1891\", strength = \"hard\" }` or `not_after`"),
        );
    }
    let term = Term {
        not_before: not_before.unwrap_or_default(),
        not_after: not_after.unwrap_or_default(),
    };
    if let (Some(after), Some(before)) = (term.not_before, term.not_after)
        && after.date.earliest_year() > before.date.latest_year()
        && let (Some(first), Some(last)) = (&text.not_before, &text.not_after)
    {
        out.push(
            Diagnostic::error(
                "pack::empty-interval",
                format!(
                    "the rule `{}` leaves no year: not before {}, not after {}",
                    text.id.value, after.date, before.date
                ),
                last.span,
            )
            .also(first.span, "not before")
            .hint("the year not before comes first"),
        );
    }
    for word in text.reads.iter().chain(&text.unless) {
        if words(&word.value).is_empty() {
            out.push(
                Diagnostic::error(
                    "rules::wording",
                    "this wording has no word in it",
                    word.span,
                )
                .hint("write the words that stand on the piece: \"Made in England\""),
            );
        }
    }
    let has_usual = [term.not_before, term.not_after]
        .into_iter()
        .flatten()
        .any(|limit| limit.strength == Strength::Usual);
    let exceptions = if has_usual {
        exceptions(&text.exceptions, usual, out)
    } else {
        if let Some(say) = &text.exceptions.say {
            out.push(
                Diagnostic::error(
                    "rules::exceptions",
                    format!(
                        "the rule `{}` is hard and can have no exceptions",
                        text.id.value
                    ),
                    say.span,
                )
                .hint("take them out, or make a limit \"usual\""),
            );
        }
        Some(Exceptions {
            say: 0.0,
            seen: 1.0,
            span: text.span,
        })
    };
    let value = |word: &Option<Word>| word.as_ref().map(|word| word.value.clone());
    let (Some(name), Some(feature), Some(source), Some(exceptions)) = (
        value(&text.name),
        value(&text.feature),
        value(&text.source),
        exceptions,
    ) else {
        return None;
    };
    let rule = Rule {
        id: text.id.value.clone(),
        name,
        feature,
        reads: text.reads.iter().map(|w| words(&w.value)).collect(),
        unless: text.unless.iter().map(|w| words(&w.value)).collect(),
        term,
        exceptions: exceptions.say,
        source,
        checked: value(&text.checked),
        note: value(&text.note),
    };
    let exceptions = Exceptions {
        span: text.span,
        ..exceptions
    };
    (!has_errors(&out[n_before..])).then_some((rule, exceptions))
}

fn limit(text: &LimitText, out: &mut Vec<Diagnostic>) -> Option<Limit> {
    let strength = text.strength.as_ref().and_then(|word| {
        names::find("strength of a limit", word, ["hard", "usual"], out)
            .map(|place| [Strength::Hard, Strength::Usual][place])
    });
    let date = match text.year.as_ref() {
        Some(Placed {
            value: Edtf::Date(date),
            ..
        }) => Some(*date),
        Some(interval) => {
            out.push(
                Diagnostic::error(
                    "rules::limit",
                    format!(
                        "a limit is one year, and this is the interval {}",
                        interval.value
                    ),
                    interval.span,
                )
                .hint("write its beginning in `not_before` and its end in `not_after`"),
            );
            None
        }
        None => None,
    };
    Some(Limit {
        date: date?,
        strength: strength?,
    })
}

/// A rule's own exceptions, or those of the file.
fn exceptions(
    own: &ExceptionsText,
    usual: Option<&ExceptionsText>,
    out: &mut Vec<Diagnostic>,
) -> Option<Exceptions> {
    let said = own
        .say
        .as_ref()
        .map(|say| (say, own.seen.as_ref()))
        .or_else(|| usual.and_then(|usual| Some((usual.say.as_ref()?, usual.seen.as_ref()))));
    let Some((say, seen)) = said else {
        out.push(
            Diagnostic::error(
                "rules::exceptions",
                "nothing says how often this usual limit is broken",
                own.span,
            )
            .hint("add `exceptions = \"5%\"` and `seen = 20` here, or once in [usual]"),
        );
        return None;
    };
    if own.say.is_some() {
        report_zero(say, out);
    }
    Some(Exceptions {
        say: say.value.value,
        seen: super::draft::seen(seen, usual.and_then(|u| u.seen.as_ref()), say.span, out),
        span: say.span,
    })
}
