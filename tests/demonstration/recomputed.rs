//! Every piece against values recomputed by a separate program, in full precision.
//!
//! Source: `answers.json`, whose note says how it was made.

use saggar::report::Shown;
use saggar::verdict::Share;

use super::world::{Answers, Chances, SCRIPTS, described, recomputed, shown};

const TOLERANCE: f64 = 1e-12;

#[track_caller]
fn assert_all(shares: &[Share], expected: &Chances, what: &str) {
    for share in shares {
        let expected = expected.get(&share.id).copied().unwrap_or(0.0);
        let found = share.probability;
        assert!(
            (found - expected).abs() <= TOLERANCE,
            "{what}, {}: {found}, not {expected}",
            share.id
        );
    }
    let names = |id: &&String| shares.iter().any(|s| s.id == **id);
    assert!(
        shares.len() == 4 || expected.keys().all(|id| names(&id)),
        "{what}: a name is missing"
    );
}

#[track_caller]
fn assert_evidence(log_evidence: f64, answers: &Answers, what: &str) {
    let expected = answers.p_evidence.ln();
    assert!(
        (log_evidence - expected).abs() <= TOLERANCE,
        "{what}: {log_evidence}, not {expected}"
    );
}

#[test]
fn verdicts_and_contrasts_of_all_pieces() {
    for (name, ..) in SCRIPTS {
        let expected = &recomputed()[name];
        let (description, variable) = described(name);
        let script =
            format!("{description}show({variable}.verdict()); show({variable}.contrasts());");
        let shown = shown(&script);
        let [Shown::Verdict(verdict), Shown::Contrasts(contrasts)] = &shown[..] else {
            panic!("{name}");
        };
        assert_all(&verdict.makers, &expected.full.maker, name);
        assert_all(&verdict.periods, &expected.full.period, name);
        assert_all(&verdict.engravings, &expected.full.engraving, name);
        assert_evidence(verdict.log_evidence, &expected.full, name);
        let mut rows = contrasts.rows.iter();
        let mut in_turn = vec![
            ("full model", &expected.full),
            ("list closed", &expected.closed),
            ("codings taken", &expected.independent),
        ];
        in_turn.extend(
            expected
                .no_mark
                .as_ref()
                .map(|answers| ("mark left out", answers)),
        );
        in_turn.push(("codings left", &expected.no_motifs));
        for (assumption, answers) in in_turn {
            let row = rows.next().unwrap();
            let what = format!("{name}, {}", row.assumption);
            assert!(row.assumption.starts_with(assumption), "{what}");
            assert_all(&row.makers, &answers.maker, &what);
            assert_all(&row.periods, &answers.period, &what);
            assert_all(&row.engravings, &answers.engraving, &what);
            assert_evidence(row.log_evidence, answers, &what);
        }
        // Then each group of clues that the pack names, for which the sheet has no answers.
        let groups: Vec<&str> = rows.map(|row| row.assumption.as_str()).collect();
        assert_eq!(
            groups,
            ["body and glaze left out", "potting left out"],
            "{name}"
        );
    }
}
