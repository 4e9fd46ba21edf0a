//! The engine a script runs in: Rhai with the language of pieces, and without what cannot be bounded.

use std::sync::Arc;

use rhai::{Array, Engine, EvalAltResult, ImmutableString, Position, Scope};

use super::fault::Fault;
use super::imports::Imports;
use super::limits::{self, LONGEST_TEXT};
use super::{
    Run, asking, comparisons, dating, files, findings, lists, measures, next_looks, numbers, packs,
    pieces, plots, questions, reports, results, sensitivity, stress, supposing, tuning, values,
    valuing, what_if,
};
use crate::report::Shown;

/// A group of functions: its heading in the reference, what it is for, and what registers it.
pub(super) struct Topic {
    pub title: &'static str,
    pub about: &'static str,
    pub register: fn(&mut Engine, &Arc<Run>),
}

/// All of the language that is not Rhai's own, in the order of the reference.
pub(super) const TOPICS: &[Topic] = &[
    Topic {
        title: "Packs",
        about: "A pack holds what the expert believes of one class of ware.",
        register: packs::register,
    },
    Topic {
        title: "Describing a piece",
        about: "Every function gives a new piece; the one before the dot stays as it is: `jug = jug.saw(\"tint\", \"blue\")`.",
        register: |engine, _| pieces::register(engine),
    },
    Topic {
        title: "How it was seen",
        about: "How a finding was come by, how sure it is, whose it is, what it may be compared with.",
        register: |engine, _| findings::register(engine),
    },
    Topic {
        title: "Measuring",
        about: "What is weighed and measured, as a text with its unit or as a quantity.",
        register: |engine, _| measures::register(engine),
    },
    Topic {
        title: "Dates, law and record",
        about: "What inscriptions, wordings, features and registrations say of the date.",
        register: |engine, _| dating::register(engine),
    },
    Topic {
        title: "Asking",
        about: "What follows from all that is noted.",
        register: |engine, _| asking::register(engine),
    },
    Topic {
        title: "Questions",
        about: "Claims about a piece, put together, weighed against all else or against one another.",
        register: |engine, _| questions::register(engine),
    },
    Topic {
        title: "What if",
        about: "A clue varied over its states, two verdicts side by side, other assumptions, why not another maker.",
        register: |engine, _| what_if::register(engine),
    },
    Topic {
        title: "Doubting the priors",
        about: "All beliefs drawn at once around what was said, many times.",
        register: |engine, _| stress::register(engine),
    },
    Topic {
        title: "One belief at a time",
        about: "What the answer would be if one number of the pack were another, exactly.",
        register: |engine, _| sensitivity::register(engine),
    },
    Topic {
        title: "What to look at next",
        about: "What each look is expected to tell for its minutes, plans of several, and what would overturn the verdict.",
        register: |engine, _| next_looks::register(engine),
    },
    Topic {
        title: "Worth",
        about: "What a piece is worth: for a stated purpose, users, definition, date and market, on the wording that the market accepts.",
        register: |engine, _| valuing::register(engine),
    },
    Topic {
        title: "Results",
        about: "Showing a result, and taking single figures out of it.",
        register: results::register,
    },
    Topic {
        title: "Pictures",
        about: "A chart of a result or of figures of your own, shown in the terminal or saved as a picture.",
        register: plots::register,
    },
    Topic {
        title: "Reports",
        about: "A written opinion for an instruction, as text, as a page to print, or as data.",
        register: reports::register,
    },
    Topic {
        title: "Other priors",
        about: "A belief supposed for this run, several experts pooled, and many pieces judged at once.",
        register: |engine, _| supposing::register(engine),
    },
    Topic {
        title: "Tuning a prior",
        about: "What to write into a prior file after more pieces were seen.",
        register: tuning::register,
    },
    Topic {
        title: "Files",
        about: "Tables to read and texts to write, below the folders granted. A name is a path below such a folder.",
        register: files::register,
    },
    Topic {
        title: "Quantities, odds and dates",
        about: "Values of their own. Each is taken wherever its text is taken, and means the same.",
        register: |engine, _| {
            values::register(engine);
            comparisons::register(engine);
        },
    },
    Topic {
        title: "Lists",
        about: "Putting lists in order. What goes wrong in a function that compares ends the script as it would anywhere.",
        register: |engine, _| lists::register(engine),
    },
    Topic {
        title: "Numbers",
        about: "3 and 3.0 are the same number. What has no finite result is an error.",
        register: |engine, _| numbers::register(engine),
    },
];

/// A fresh engine with the language of pieces and every limit set.
pub(super) fn engine(run: &Arc<Run>) -> Engine {
    let mut engine = Engine::new();
    engine.set_module_resolver(Imports::new(run));
    engine.disable_symbol("eval");
    // A closure shares what it captures, and neither size nor depth of shared values is bounded: a million closures, each
    // capturing the one before, would overflow the stack when dropped. `curry` nests functions in the same way.
    engine.set_allow_anonymous_fn(false);
    engine.disable_symbol("curry");
    engine.set_strict_variables(true);
    engine.set_fail_on_invalid_map_property(true);
    limits::set(&mut engine, run);
    // A script's own `print` is a result like any other, so that it stands in its place among them.
    let shown = Arc::clone(run);
    engine.on_print(move |text| {
        shown.show(Shown::Text {
            text: text.to_owned(),
        });
    });
    let shown = Arc::clone(run);
    engine.on_debug(move |text, _, position| {
        let line = position.line().unwrap_or(0);
        shown.show(Shown::Text {
            text: format!("line {line}: {text}"),
        });
    });
    register_replace(&mut engine);
    register_no_clock(&mut engine);
    // Rhai's own `7 / 2` is 3 unless it looks for another.
    engine.set_fast_operators(false);
    for topic in TOPICS {
        (topic.register)(&mut engine, run);
    }
    engine
}

/// What a script finds when it begins: `args`, the words behind `--` on the command line.
pub(super) fn scope(run: &Arc<Run>) -> Scope<'static> {
    let arguments = run.settings.arguments.iter();
    let arguments: Array = arguments.map(|text| text.clone().into()).collect();
    let mut scope = Scope::new();
    scope.push_constant("args", arguments);
    scope
}

/// Rhai's `replace` looks at the size only after the work: one call could ask for ten gigabytes.
fn register_replace(engine: &mut Engine) {
    fn replace(text: &mut ImmutableString, old: &str, new: &str) -> Result<(), Box<EvalAltResult>> {
        let n_places = text.matches(old).count();
        let length = text.len() + n_places * new.len();
        if length - n_places * old.len() > LONGEST_TEXT {
            let what = "Length of string".to_owned();
            return Err(EvalAltResult::ErrorDataTooLarge(what, Position::NONE).into());
        }
        *text = text.replace(old, new).into();
        Ok(())
    }
    engine
        .register_fn("replace", replace)
        .register_fn(
            "replace",
            |t: &mut ImmutableString, old: char, new: char| {
                replace(t, &old.to_string(), &new.to_string())
            },
        )
        .register_fn(
            "replace",
            |t: &mut ImmutableString, old: char, new: &str| replace(t, &old.to_string(), new),
        )
        .register_fn(
            "replace",
            |t: &mut ImmutableString, old: &str, new: char| replace(t, old, &new.to_string()),
        );
}

/// Rhai's `sleep` would outlast the time limit, and `timestamp` give other results whenever a script runs.
fn register_no_clock(engine: &mut Engine) {
    fn refuse() -> Result<(), Box<EvalAltResult>> {
        Err(Fault::new("scripts cannot sleep").raise())
    }
    engine
        .register_fn("sleep", |_: f64| refuse())
        .register_fn("sleep", |_: i64| refuse())
        .register_fn("timestamp", || -> Result<(), Box<EvalAltResult>> {
            Err(Fault::new("scripts cannot ask for the time")
                .hint("the same script gives the same results whenever it runs; write the date as a text")
                .raise())
        });
}
