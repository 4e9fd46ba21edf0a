//! Questions over several variables, against sums over makers and periods taken one pair at a time.

use saggar::model::CompiledModel;
use saggar::piece::Piece;
use saggar::query::{AskError, marginal};
use saggar::question::{Claim, Question, QuestionError};

use super::world::{SCRIPTS, compiled, piece};

/// P(findings, maker, period) for each maker and period.
fn joint(compiled: &CompiledModel, piece: &Piece) -> Vec<Vec<f64>> {
    let answer = compiled.ask(piece).unwrap();
    let catalogue = &compiled.model.catalogue;
    let row = |maker: usize| {
        let mut evidence = answer.entered.evidence.clone();
        evidence.observe(catalogue.maker, maker);
        match compiled.evaluate(&evidence, piece, &answer.entered) {
            Ok(posterior) => {
                let p = posterior.log_evidence().exp();
                let periods = marginal(&posterior, catalogue.period);
                periods.iter().map(|period| p * period).collect()
            }
            Err(AskError::Contradiction { .. }) => vec![0.0; catalogue.periods.len()],
            Err(error) => panic!("{error}"),
        }
    };
    (0..catalogue.makers.len()).map(row).collect()
}

fn total(joint: &[Vec<f64>], holds: impl Fn(&str, usize) -> bool) -> f64 {
    let makers = &compiled().model.catalogue.makers;
    let cells = makers.iter().zip(joint);
    cells
        .flat_map(|(maker, row)| row.iter().enumerate().map(move |(p, x)| (maker, p, *x)))
        .filter(|(maker, period, _)| holds(&maker.id, *period))
        .map(|(_, _, x)| x)
        .sum()
}

const SALTHARROW: [&str; 4] = ["K06", "K07", "K08", "K09"];

#[test]
fn a_claim_over_several_variables_is_a_sum_over_their_states() {
    let compiled = compiled();
    for (name, ..) in SCRIPTS {
        let piece = piece(name);
        let joint = joint(compiled, &piece);
        let everything = total(&joint, |_, _| true);
        let claims = [
            (
                Claim::region("Saltharrow").and(Claim::Years("1840/1869".to_owned())),
                total(&joint, |m, p| {
                    SALTHARROW.contains(&m) && (2..=4).contains(&p)
                }),
            ),
            (
                Claim::maker("Thackle & Umber").or(Claim::is("period", "P1")),
                total(&joint, |m, p| m == "K07" || p == 0),
            ),
            (
                Claim::works("Lantern Works")
                    .and(Claim::is("period", "P3"))
                    .negated(),
                total(&joint, |m, p| {
                    !(["K01", "K02", "K03"].contains(&m) && p == 2)
                }),
            ),
        ];
        for (claim, expected) in claims {
            let found = compiled.probability(&piece, &claim).unwrap();
            let expected = expected / everything;
            assert!(
                (found - expected).abs() < 1e-12,
                "{name} {claim:?}: {found}, not {expected}"
            );
        }
    }
}

#[test]
fn weights_for_one_claim_against_another_follow_the_sums() {
    let compiled = compiled();
    let late = |first: &str| Claim::Between {
        first: first.to_owned(),
        last: "P8".to_owned(),
    };
    let question =
        Question::of(Claim::region("Saltharrow").and(late("P4"))).against(Claim::maker("K11"));
    for name in ["D2", "D4", "D7"] {
        let piece = piece(name);
        let audit = compiled.audit_on(&piece, &question).unwrap();
        let decibans = |piece: &Piece| {
            let joint = joint(compiled, piece);
            let claim = total(&joint, |m, p| SALTHARROW.contains(&m) && p >= 3);
            10.0 * (claim / total(&joint, |m, _| m == "K11")).log10()
        };
        let close = |found: f64, expected: f64| {
            assert!(
                (found - expected).abs() < 1e-9,
                "{name}: {found}, not {expected}"
            );
        };
        close(audit.posterior_decibans, decibans(&piece));
        close(
            audit.posterior_decibans - audit.prior_decibans,
            audit.total_decibans,
        );
        let shared = audit.findings.iter().map(|f| f.shared.unwrap().decibans);
        close(shared.sum(), audit.total_decibans);
        for finding in &audit.findings {
            let clue = saggar::piece::find_clue(&compiled.model, &finding.clue).unwrap();
            close(
                finding.left_out,
                audit.posterior_decibans - decibans(&piece.without(clue)),
            );
        }
    }
}

#[test]
fn questions_that_cannot_be_put_say_why() {
    let compiled = compiled();
    let refused = |question: Question| compiled.pose(&question).unwrap_err().to_string();
    let years = |years: &str| Question::of(Claim::Years(years.to_owned()));
    let said = [
        refused(Question::of(Claim::maker("K13"))),
        refused(Question::of(Claim::is("glaze", "blue"))),
        refused(Question::of(Claim::is("search", "full"))),
        refused(Question::of(Claim::region("Saltharrow")).against(Claim::maker("K07"))),
        refused(years("1845/1859")),
        refused(years("soon")),
        refused(years("1900/1910")),
        refused(Question::of(Claim::Between {
            first: "P4".to_owned(),
            last: "P2".to_owned(),
        })),
        refused(Question::of(Claim::Between {
            first: "P1".to_owned(),
            last: "P8".to_owned(),
        })),
    ];
    insta::assert_snapshot!(said.join("\n"));
    let wide = [
        "wheel",
        "sluice",
        "weathercock",
        "dovecote",
        "wall",
        "border",
        "tint",
        "foot",
    ]
    .iter()
    .zip([
        "8", "plain", "left", "round", "coursed", "reed", "blue", "single",
    ])
    .map(|(about, state)| Claim::is(about, state))
    .reduce(Claim::and)
    .unwrap()
    .and(Claim::maker("K07"))
    .and(Claim::is("period", "P4"));
    let error = compiled.pose(&Question::of(wide)).unwrap_err();
    assert!(matches!(error, QuestionError::TooWide { .. }), "{error}");
}
