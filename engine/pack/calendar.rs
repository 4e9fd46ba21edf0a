//! Periods of equal length: `[calendar]` with `years` and a `step` of 1, 2, 5 or 10 years.
//!
//! Each period is called by its first year, so that rows can say `period = "1830..1845"`.

use super::reader::Item;
use super::text::{Period, Placed};
use super::years::Years;
use crate::dating::edtf::Qualifier;
use crate::diagnostic::Diagnostic;

/// Lengths a period of the calendar may have, in years.
const STEPS: [i32; 4] = [1, 2, 5, 10];

/// The periods of `[calendar]`; none if the pack has no such table.
pub(super) fn periods(item: &Item<'_>, out: &mut Vec<Diagnostic>) -> Vec<Period> {
    let Some(calendar) = item.item("calendar", "[calendar]", out) else {
        return Vec::new();
    };
    let (years, step) = (
        calendar.years("years", out),
        calendar.required_number("step", out),
    );
    calendar.finish(out);
    let (Some(years), Some(step)) = (years, step) else {
        return Vec::new();
    };
    let Some(length) = STEPS.into_iter().find(|&s| f64::from(s) == step.value) else {
        out.push(
            Diagnostic::error(
                "pack::calendar-step",
                format!("the calendar cannot go by {} years", step.value),
                step.span,
            )
            .label("expected 1, 2, 5 or 10")
            .hint("for periods of other lengths write each as a [[period]] of its own"),
        );
        return Vec::new();
    };
    if years.value.count() % length != 0 {
        let last = years.value.last - years.value.count() % length;
        out.push(
            Diagnostic::error(
                "pack::calendar-step",
                format!(
                    "{} years cannot be cut into periods of {length}",
                    years.value.count()
                ),
                years.span,
            )
            .also(step.span, "the step")
            .hint(format!(
                "end with {last} or {}; both ends are counted",
                last + length
            )),
        );
        return Vec::new();
    }
    (years.value.first..=years.value.last)
        .step_by(length.unsigned_abs() as usize)
        .map(|first| Period {
            id: Placed {
                value: format!("{first:04}"),
                span: years.span,
            },
            years: Some(Placed {
                value: Years {
                    first,
                    last: first + length - 1,
                    first_qualifier: Qualifier::Exact,
                    last_qualifier: Qualifier::Exact,
                },
                span: years.span,
            }),
        })
        .collect()
}
