//! CIELAB against published figures.
//!
//! Source of every figure: the files of `tests/reference/14-cielab`, whose README says how each was checked.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use std::path::Path;

use saggar::cielab::{D50, Lab, delta_e_2000};

fn rows<const N: usize>(name: &str, skipped: usize) -> Vec<[f64; N]> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/14-cielab");
    let mut reader = csv::Reader::from_path(folder.join(name)).unwrap();
    let numbers = |record: csv::StringRecord| {
        let numbers: Vec<f64> = record
            .iter()
            .skip(skipped)
            .map(|n| n.parse().unwrap())
            .collect();
        <[f64; N]>::try_from(numbers).unwrap()
    };
    reader
        .records()
        .map(|record| numbers(record.unwrap()))
        .collect()
}

/// Source: Sharma, Wu & Dalal 2005, table 1, to its four places; every pair both ways.
#[test]
fn differences_as_published() {
    let pairs = rows::<7>("sharma_2005_table_1.csv", 0);
    assert_eq!(pairs.len(), 34);
    for [l1, a1, b1, l2, a2, b2, expected] in pairs {
        let (one, other) = (
            Lab {
                l: l1,
                a: a1,
                b: b1,
            },
            Lab {
                l: l2,
                a: a2,
                b: b2,
            },
        );
        for found in [delta_e_2000(one, other), delta_e_2000(other, one)] {
            assert!(
                (found - expected).abs() < 5.001e-5,
                "{one:?} {other:?}: {found}"
            );
        }
    }
}

/// Source: chart averages under D50, to their three places; the white here has four places, which moves the third by a few.
#[test]
fn tristimulus_values_come_to_the_published_coordinates() {
    for [x, y, z, l, a, b] in rows::<6>("colour_chart_d50.csv", 1) {
        let precise = [0.964_22, 1.0, 0.825_21];
        let found = Lab::from_xyz([x, y, z], precise).unwrap();
        for (found, expected) in [(found.l, l), (found.a, a), (found.b, b)] {
            assert!((found - expected).abs() < 5e-4, "{found} {expected}");
        }
        let found = Lab::from_xyz([x, y, z], D50).unwrap();
        assert!(delta_e_2000(found, Lab { l, a, b }) < 0.02);
    }
}

/// Source: by definition white is (100, 0, 0) and black (0, 0, 0).
#[test]
fn white_and_black() {
    let white = Lab::from_xyz(D50, D50).unwrap();
    assert!(
        delta_e_2000(
            white,
            Lab {
                l: 100.0,
                a: 0.0,
                b: 0.0
            }
        ) < 1e-12
    );
    let black = Lab::from_xyz([0.0; 3], D50).unwrap();
    assert!(
        black.l.abs() < 1e-12 && black.a.abs() < 1e-12 && black.b.abs() < 1e-12,
        "{black:?}"
    );
}
