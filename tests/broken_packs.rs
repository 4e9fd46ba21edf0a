//! Broken copies of the demo pack: what the reader, the check and the renderer say of each.
//!
//! A case is a text file in `broken_packs/cases`: a comment that says what is broken, then the edits that break it. What is
//! said is kept as a snapshot of the same name in `broken_packs/snapshots`.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "broken_packs/case.rs"]
mod case;
#[path = "broken_packs/damage.rs"]
mod damage;

use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};

use case::{Case, Outcome};
use saggar::diagnostic::Severity;

#[test]
fn each_case_says_what_is_wrong() {
    let mut failed = Vec::new();
    let mut told: BTreeMap<Vec<String>, String> = BTreeMap::new();
    let cases = Case::all();
    assert!(cases.len() >= 26, "only {} cases", cases.len());
    for case in &cases {
        let said = case.run();
        let worst = said.diagnostics.iter().map(|d| d.severity).min();
        let expected = match case.outcome {
            Outcome::Error => (Some(Severity::Error), false),
            Outcome::Warning => (Some(Severity::Warning), true),
        };
        if (worst, said.has_model) != expected {
            failed.push(format!(
                "{}: {worst:?}, model: {}",
                case.name, said.has_model
            ));
        }
        let messages = said.diagnostics.iter().map(|d| d.message.clone()).collect();
        if let Some(other) = told.insert(messages, case.name.clone()) {
            failed.push(format!("{} says the same as {other}", case.name));
        }
        let compared = catch_unwind(AssertUnwindSafe(|| {
            insta::with_settings!({
                snapshot_path => "broken_packs/snapshots",
                prepend_module_to_snapshot => false,
                omit_expression => true,
                description => case.what.as_str(),
            }, { insta::assert_snapshot!(case.name.as_str(), said.text); });
        }));
        if compared.is_err() {
            failed.push(format!("{}: not as in its snapshot", case.name));
        }
    }
    assert!(failed.is_empty(), "{}", failed.join("\n"));
}

/// A snapshot whose case is gone would never be compared.
#[test]
fn each_snapshot_has_its_case() {
    let cases = Case::all();
    for entry in std::fs::read_dir(case::here("snapshots")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        let name = name.trim_end_matches(".snap");
        assert!(cases.iter().any(|case| case.name == name), "{name}");
    }
}

#[test]
fn the_demo_pack_has_no_diagnostic() {
    let said = case::check_folder(&case::demo_pack());
    assert_eq!(said.text, "");
    assert!(said.has_model);
}
