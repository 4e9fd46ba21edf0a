//! Dates against the examples of the EDTF specification.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use std::path::Path;

use saggar::dating::edtf::{Bound, Edtf, EdtfErrorKind};

fn rows(name: &str) -> Vec<csv::StringRecord> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/reference/12-edtf")
        .join(name);
    let mut reader = csv::Reader::from_path(path).unwrap();
    reader.records().map(Result::unwrap).collect()
}

fn bound(bound: Bound) -> String {
    match bound {
        Bound::Year(year) => year.to_string(),
        Bound::Open => "open".to_owned(),
        Bound::Unknown => "unknown".to_owned(),
    }
}

/// Source: the examples of the specification, see tests/reference/12-edtf/README.md.
#[test]
fn examples_of_levels_0_and_1_have_their_years_and_are_printed_back() {
    let mut n = 0;
    for row in rows("edtf.csv") {
        let (text, level) = (&row[0], &row[1]);
        let read = Edtf::parse(text);
        if level == "2" {
            let error = read.unwrap_err();
            assert_eq!(error.kind, EdtfErrorKind::LevelTwo, "{text}: {error}");
            continue;
        }
        let date = read.unwrap();
        assert_eq!(bound(date.earliest()), row[2], "{text}");
        assert_eq!(bound(date.latest()), row[3], "{text}");
        assert_eq!(date.to_string(), text);
        n += 1;
    }
    assert!(n >= 18, "only {n} examples");
}

/// Source: the same; the first two columns of the file.
#[test]
fn what_the_specification_does_not_allow_is_refused_with_a_place_and_a_remedy() {
    for row in rows("invalid.csv") {
        let error = Edtf::parse(&row[0]).unwrap_err();
        assert!(error.column >= 1 && error.column <= row[0].chars().count() + 1);
        assert!(!error.remedy().is_empty());
    }
}
