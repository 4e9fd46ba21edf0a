//! `saggar check`: every defect of a pack, and the numbers that it did not give.

use std::path::Path;

use saggar::diagnostic::Severity;
use saggar::model::{ClueKind, Model};
use saggar::source::Sources;

use super::{FAILED, engravings, plural, print_diagnostics, read, say};

/// Runs the command.
pub(super) fn run(folder: &Path, strict: bool, defaults: bool) -> u8 {
    let mut sources = Sources::default();
    let mut found = Vec::new();
    let model = match read(folder, &mut sources, &mut found) {
        Ok(model) => model,
        Err(code) => return code,
    };
    print_diagnostics(&found, &sources);
    let count = |severity| found.iter().filter(|d| d.severity == severity).count();
    let (defects, warnings) = (count(Severity::Error), count(Severity::Warning));
    let counted = format!(
        "{}, {}",
        plural(defects, "defect"),
        plural(warnings, "warning")
    );
    let outcome = match &model {
        Some(model) => {
            let c = &model.catalogue;
            format!(
                "{}: {counted} ({}, {}, {}, {})",
                model.name,
                plural(c.makers.len(), "maker"),
                plural(c.periods.len(), "period"),
                plural(c.clues.len(), "clue"),
                plural(model.beliefs.len(), "belief"),
            )
        }
        None => format!("{}: {counted}", folder.display()),
    };
    say(&format!("{outcome}\n"));
    if let Some(model) = model.as_ref().filter(|_| defaults) {
        say(&dates(model));
        say(&looks(model));
        say(&engravings::defaults(model));
    }
    u8::from(model.is_none() || (strict && warnings > 0)) * FAILED
}

/// How soft dates are, and who says so.
fn dates(model: &Model) -> String {
    let softness = model.catalogue.softness;
    let default = saggar::dating::Softness::default();
    let who = |is_default: bool| {
        if is_default {
            "as by default"
        } else {
            "the pack says so"
        }
    };
    format!(
        "  dates: a date marked ~ may lie {} either way  [{}; `about` in [dating] of pack.toml]\n  \
         dates: a date marked ? is wrong with chance {}  [{}; `wrong` in [dating]]\n",
        plural(softness.about as usize, "year"),
        who(softness.about == default.about),
        softness.wrong,
        who(softness.wrong == default.wrong),
    )
}

/// What a look costs where the pack does not say, when looking ends, and who says so.
fn looks(model: &Model) -> String {
    let catalogue = &model.catalogue;
    let looks = &catalogue.looks;
    let who = |is_default: bool| match is_default {
        true => "as by default, common practice, no source",
        false => "the pack says so",
    };
    let looked_at = catalogue.clues.iter().enumerate().filter(|(_, clue)| {
        !matches!(
            clue.kind,
            ClueKind::Circumstance
                | ClueKind::Date
                | ClueKind::Rule { .. }
                | ClueKind::Registration { .. }
        )
    });
    let unsaid = looks.without_minutes(looked_at.map(|(place, _)| place));
    let unsaid: Vec<&str> = unsaid.map(|c| catalogue.clues[c].id.as_str()).collect();
    let of_which = if unsaid.is_empty() {
        "none is left to it".to_owned()
    } else {
        format!("it holds for {}", unsaid.join(", "))
    };
    format!(
        "  looks: a look takes {} minutes where no entry speaks of it; {of_which}  [{}; `minutes_otherwise` in [worth] of looks.toml]\n  \
         looks: a look is worth its minutes from {} bits a minute  [{}; `bits_per_minute` in [worth]]\n",
        looks.minutes_otherwise(),
        who(looks.minutes.is_none()),
        looks.least_bits_per_minute(),
        who(looks.bits_per_minute.is_none()),
    )
}
