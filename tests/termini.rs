//! Termini from law and record: the rules file against the reference tables, registrations against worked cases, and what a
//! pack that includes the rules makes of them against Bayes' theorem written out year by year.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "termini/pack.rs"]
mod pack;

use std::path::{Path, PathBuf};

use saggar::check::rules;
use saggar::dating::Edtf;
use saggar::dating::registration::{Diamond, Registers, RegistrationError, Sign};
use saggar::dating::rules::RuleBook;
use saggar::dating::terminus::{Binding, Limit, Strength, together};
use saggar::diagnostic::render::render;
use saggar::model::CompiledModel;
use saggar::piece::{self, Look, Piece, PieceError, Registered, find_clue};
use saggar::query::{AskError, marginal};
use saggar::source::Sources;
use saggar::stress::StressPlan;

fn here(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

fn termini() -> RuleBook {
    let (mut sources, mut out) = (Sources::default(), Vec::new());
    let book = rules::load(&here("priors/rules/termini.toml"), &mut sources, &mut out);
    let said: Vec<String> = out.iter().map(|d| render(d, &sources, false)).collect();
    assert!(said.is_empty(), "{}", said.join("\n\n"));
    book.unwrap()
}

fn registers() -> Registers {
    termini().registers.unwrap()
}

fn rows(name: &str) -> Vec<csv::StringRecord> {
    let path = here("tests/reference/11-dating").join(name);
    let mut reader = csv::Reader::from_path(path).unwrap();
    reader.records().map(Result::unwrap).collect()
}

fn limit(limit: Option<Limit>) -> (String, String) {
    limit.map_or_else(Default::default, |l| {
        (l.date.to_string(), l.strength.to_string())
    })
}

/// Source: tests/reference/11-dating/rules.csv, each row with its own.
#[test]
fn the_rules_file_holds_the_reference_table() {
    let book = termini();
    let rows = rows("rules.csv");
    assert_eq!(book.rules.len(), rows.len());
    for (rule, row) in book.rules.iter().zip(&rows) {
        assert_eq!(rule.id, row[0]);
        assert_eq!(
            (&*rule.feature, &*rule.name),
            (&row[1], &row[2]),
            "{}",
            rule.id
        );
        let (after, before) = (limit(rule.term.not_before), limit(rule.term.not_after));
        assert_eq!((&*after.0, &*after.1), (&row[3], &row[4]), "{}", rule.id);
        assert_eq!((&*before.0, &*before.1), (&row[5], &row[6]), "{}", rule.id);
        assert_eq!(rule.source, row[7], "{}", rule.id);
        assert_eq!(
            rule.checked.as_deref().unwrap_or(""),
            &row[8],
            "{}",
            rule.id
        );
        assert_eq!(rule.note.as_deref().unwrap_or(""), &row[9], "{}", rule.id);
    }
}

/// Source: tests/reference/11-dating/combined_cases.csv (arithmetic on the table).
#[test]
fn rules_together_leave_the_span_or_the_conflict_of_the_worked_cases() {
    let book = termini();
    let year = |binding: Option<Binding>| binding.map_or_else(String::new, |b| b.year.to_string());
    for row in rows("combined_cases.csv") {
        let terms: Vec<_> = row[0]
            .split('+')
            .map(|id| book.rules[book.find(id).unwrap()].term)
            .collect();
        let found = together(&terms);
        assert_eq!(year(found.earliest), row[1], "{}", &row[0]);
        assert_eq!(year(found.latest), row[2], "{}", &row[0]);
        let conflict = match found.conflict {
            None => "",
            Some(Strength::Usual) => "soft",
            Some(Strength::Hard) => "hard",
        };
        assert_eq!(conflict, &row[4], "{}", &row[0]);
    }
}

/// A diamond from the places its series gives to year letter, month letter and day.
fn diamond(series: &str, year: char, month: char, day: u32) -> Diamond {
    let (year, month) = (Some(Sign::Letter(year)), Some(Sign::Letter(month)));
    let day = Some(Sign::Number(day));
    Diamond {
        class: Some("IV".to_owned()),
        // Top, right, bottom, left; see diamond.json.
        corners: match series {
            "1" => [year, day, Some(Sign::Number(3)), month],
            _ => [day, year, month, Some(Sign::Number(3))],
        },
        year_letter: None,
    }
}

fn dates(decoded: &saggar::dating::registration::Decoded) -> Vec<String> {
    let candidates = decoded.candidates.iter();
    candidates.map(|c| c.registered.to_string()).collect()
}

/// Source: tests/reference/11-dating/diamond_cases.csv; tables of the Antique Metalware Society and A. M. Murray.
#[test]
fn diamonds_have_the_dates_of_the_worked_cases() {
    let registers = registers();
    for row in rows("diamond_cases.csv") {
        let letter = |at: usize| row[at].chars().next().unwrap();
        let mark = diamond(&row[0], letter(2), letter(3), row[4].parse().unwrap());
        let decoded = registers.diamond(&mark).unwrap();
        assert_eq!(dates(&decoded), [&row[5]], "{mark}");
        assert_eq!(decoded.class.as_deref(), Some("ceramics"));
        // The other series is ruled out, with a reason.
        assert_eq!(decoded.refused.len(), 1);
    }
}

/// Source: the letter tables, every row of both series.
#[test]
fn every_year_letter_and_month_letter_is_that_of_the_table() {
    let registers = registers();
    for row in rows("diamond_year_letters.csv") {
        let letter = row[0].chars().next().unwrap();
        for (series, column) in [("1", 1), ("2", 2)] {
            let mark = Diamond {
                class: None,
                ..diamond(series, letter, 'C', 1)
            };
            match registers.diamond(&mark) {
                Ok(decoded) => assert_eq!(dates(&decoded), [format!("{}-01-01", &row[column])]),
                Err(_) => assert_eq!(&row[column], "", "{mark}"),
            }
        }
    }
    for row in rows("diamond_month_letters.csv") {
        let mark = diamond("1", 'X', row[0].chars().next().unwrap(), 1);
        let month: u8 = row[1].parse().unwrap();
        assert_eq!(
            dates(&registers.diamond(&mark).unwrap()),
            [format!("1842-{month:02}-01")]
        );
    }
}

/// Source: diamond.json, `exceptions_from_memory`.
#[test]
fn slips_of_the_register_are_listed_beside_the_regular_reading() {
    let registers = registers();
    let read = |series, year, month, day| {
        registers
            .diamond(&diamond(series, year, month, day))
            .map(|d| dates(&d))
    };
    assert_eq!(
        read("1", 'K', 'R', 5).unwrap(),
        ["1857-08-05", "1857-09-05"]
    );
    assert_eq!(read("1", 'K', 'R', 25).unwrap(), ["1857-08-25"]);
    assert_eq!(
        read("1", 'Z', 'K', 15).unwrap(),
        ["1860-11-15", "1860-12-15"]
    );
    assert_eq!(read("2", 'W', 'G', 3).unwrap(), ["1878-03-03"]);
    assert!(read("2", 'W', 'G', 9).is_err());
}

/// Source: edtf.csv, own example `[1842,1868]`: year letter X, series unknown.
#[test]
fn a_letter_without_its_corner_may_be_of_either_series() {
    let mark = Diamond {
        year_letter: Some('X'),
        ..Diamond::default()
    };
    assert_eq!(
        dates(&registers().diamond(&mark).unwrap()),
        ["1842", "1868"]
    );
}

#[test]
fn a_mark_of_no_series_says_why() {
    let registers = registers();
    let fails = |mark: Diamond| registers.diamond(&mark).unwrap_err();
    assert_eq!(fails(Diamond::default()), RegistrationError::NoYearLetter);
    // 30 February, and a month letter that does not exist.
    for mark in [
        diamond("1", 'X', 'G', 30),
        diamond("1", 'X', 'Q', 3),
        diamond("2", 'B', 'C', 3),
    ] {
        let error = fails(mark);
        assert!(
            matches!(&error, RegistrationError::NoSeries { refused } if refused.len() == 2),
            "{error}"
        );
    }
    let class = Diamond {
        class: Some("V".to_owned()),
        ..diamond("1", 'X', 'C', 3)
    };
    assert!(matches!(fails(class), RegistrationError::Class { .. }));
}

/// Source: tests/reference/11-dating/registered_number_cases.csv and registered_numbers.csv.
#[test]
fn numbers_have_the_years_of_the_table() {
    let registers = registers();
    let read = |number| dates(&registers.number(number).unwrap());
    for row in rows("registered_number_cases.csv") {
        assert_eq!(read(row[0].parse().unwrap()), [&row[1]]);
    }
    for row in rows("registered_numbers.csv") {
        let (year, first): (i64, u32) = (row[0].parse().unwrap(), row[1].parse().unwrap());
        let expected = match (&row[2], year) {
            (_, 1909) => "1908/..".to_owned(),
            (said, _) if said.contains("+-1") => format!("{}/{}", year - 1, year + 1),
            _ => year.to_string(),
        };
        assert_eq!(read(first), [expected]);
    }
    assert_eq!(
        registers.number(0).unwrap_err(),
        RegistrationError::Number {
            number: 0,
            first: 1
        }
    );
}

fn compiled(folder: &Path) -> CompiledModel {
    let (mut sources, mut out) = (Sources::default(), Vec::new());
    let model = saggar::check::load(folder, &mut sources, &mut out).unwrap();
    let said: Vec<String> = out.iter().map(|d| render(d, &sources, false)).collect();
    assert!(said.is_empty(), "{}", said.join("\n\n"));
    model.unwrap().compile().unwrap()
}

/// Everything that is noted of the piece in the comparison below.
fn noted(compiled: &CompiledModel) -> Piece {
    let model = &compiled.model;
    let mut piece = Piece::new("a plate");
    for (clue, said) in piece::wording(model, "Ashbrook Ltd., Made in England").unwrap() {
        piece = piece.note(clue, Look::Found, said, model).unwrap();
    }
    let (clue, said) = piece::found(model, "pearlware").unwrap();
    piece = piece.note(clue, Look::Found, said, model).unwrap();
    let (clue, look, said) = piece::registration(model, &Registered::Number(100_000)).unwrap();
    piece = piece.note(clue, look, said, model).unwrap();
    let clue = find_clue(model, "inscription").unwrap();
    let (look, said) = piece::dated(model, &model.catalogue.clues[clue], "1898?/1905").unwrap();
    piece.note(clue, look, said, model).unwrap()
}

/// Years of a bin for which something holds, as a share.
fn mean(bin: (i64, i64), of_year: impl Fn(i64) -> f64) -> f64 {
    (bin.0..=bin.1).map(of_year).sum::<f64>() / (bin.1 - bin.0 + 1) as f64
}

/// First and last year of each period.
fn bins(step: i64) -> Vec<(i64, i64)> {
    (pack::CALENDAR.0..=pack::CALENDAR.1)
        .step_by(usize::try_from(step).unwrap())
        .map(|first| (first, first + step - 1))
        .collect()
}

/// The share of each bin in the years that `covers` weighs.
fn shares(bins: &[(i64, i64)], covers: impl Fn(i64) -> f64) -> Vec<f64> {
    let sums: Vec<f64> = bins
        .iter()
        .map(|&(a, b)| (a..=b).map(&covers).sum::<f64>())
        .collect();
    let all: f64 = sums.iter().sum();
    sums.iter().map(|sum| sum / all).collect()
}

/// Bayes' theorem, with every likelihood counted year by year, for each step a calendar may have.
#[test]
fn posteriors_are_those_of_bayes_for_every_step_of_the_calendar() {
    for step in [1, 2, 5, 10] {
        let priors = pack::folder(step);
        let compiled = compiled(&priors.path().join("dated"));
        let piece = noted(&compiled);
        let answer = compiled.ask(&piece).unwrap();

        let bins = bins(step);
        let inside = |holds: bool, otherwise: f64| if holds { 1.0 } else { otherwise };
        // Ltd: not before 1855 (hard), 1880 (usual); Made in 1891, Made in England 1914 (usual), each 5 % outside.
        // Pearlware: 1776 to 1840, usual. Number 100 000: registered 1888, usual for 20 years. `about` is 4 years.
        let likelihood: Vec<f64> = {
            let right_start = shares(&bins, |y| inside((1898..=1905).contains(&y), 0.0));
            let any_start = shares(&bins, |y| inside(y <= 1905, 0.0));
            let n_years = (pack::CALENDAR.1 - pack::CALENDAR.0 + 1) as f64;
            bins.iter()
                .enumerate()
                .map(|(place, &bin)| {
                    let date = 0.7 * right_start[place] + 0.3 * any_start[place];
                    mean(bin, |y| inside(y >= 1855, 0.0))
                        * mean(bin, |y| inside(y >= 1880, 0.05))
                        * mean(bin, |y| inside(y >= 1891, 0.05))
                        * mean(bin, |y| inside(y >= 1914, 0.05))
                        * mean(bin, |y| inside(y >= 1776, 0.05) * inside(y <= 1840, 0.05))
                        * mean(bin, |y| inside(y >= 1888, 0.0) * inside(y <= 1908, 0.05))
                        * (0.9 * date / step as f64 + 0.1 / n_years)
                })
                .collect()
        };
        // From 1860, four years either way: of nine years equally likely, those up to this one.
        let started = |y: i64| (1856..=1864).filter(|start| *start <= y).count() as f64 / 9.0;
        let output = [
            (0.5, shares(&bins, |y| started(y) * inside(y <= 1909, 0.0))),
            (0.3, shares(&bins, |_| 1.0)),
            (0.2, shares(&bins, |y| inside(y >= 1950, 0.0))),
        ];
        let joint: Vec<Vec<f64>> = output
            .iter()
            .map(|(share, output)| {
                let terms = output.iter().zip(&likelihood);
                terms.map(|(output, l)| share * output * l).collect()
            })
            .collect();
        let evidence: f64 = joint.iter().flatten().sum();
        let close = |found: f64, expected: f64, what: &str| {
            assert!(
                (found - expected).abs() < 1e-12,
                "step {step}, {what}: {found}, not {expected}"
            );
        };
        let makers = marginal(&answer.posterior, compiled.model.catalogue.maker);
        for (maker, joint) in makers.iter().zip(&joint) {
            close(*maker, joint.iter().sum::<f64>() / evidence, "maker");
        }
        let periods = marginal(&answer.posterior, compiled.model.catalogue.period);
        assert_eq!(periods.len(), bins.len());
        for (place, period) in periods.iter().enumerate() {
            let expected: f64 = joint.iter().map(|joint| joint[place]).sum();
            close(*period, expected / evidence, "period");
        }
    }
}

#[test]
fn the_audit_names_each_rule_with_its_source_and_stress_doubts_the_exceptions() {
    let priors = pack::folder(10);
    let compiled = compiled(&priors.path().join("dated"));
    let piece = noted(&compiled);
    let audit = compiled.audit(&piece).unwrap();
    let named: Vec<&str> = audit.rules.iter().map(|r| r.rule.as_str()).collect();
    assert_eq!(
        named,
        [
            "made_in",
            "made_in_england_usual",
            "limited",
            "limited_usual",
            "pearlware",
            "registration"
        ]
    );
    assert!(audit.rules[2].source.contains("Limited Liability Act 1855"));
    let text = saggar::report::Shown::Audit(audit.clone()).to_text();
    assert!(
        text.contains("not before 1855 (hard)") && text.contains("no legal advice"),
        "{text}"
    );
    let cited = &audit.findings[0].rows;
    assert!(cited[0].contains("termini.toml:"), "{cited:?}");
    let run = |seed| compiled.stress(&piece, &StressPlan::new(32, seed)).unwrap();
    assert_eq!(run(1).median, run(1).median);
    assert!(run(1).low.value < run(1).high.value);
}

#[test]
fn what_cannot_stand_together_or_is_not_known_is_an_error_of_its_own() {
    let priors = pack::folder(5);
    let compiled = compiled(&priors.path().join("dated"));
    let model = &compiled.model;
    let mut piece = Piece::new("a plate");
    for rule in ["occupied_japan", "microwave"] {
        let (clue, said) = piece::found(model, rule).unwrap();
        piece = piece.note(clue, Look::Found, said, model).unwrap();
    }
    let AskError::Contradiction { conflicting, .. } = compiled.ask(&piece).unwrap_err() else {
        panic!("hard limits apart");
    };
    assert_eq!(conflicting.len(), 2);
    let unknown = piece::found(model, "nipon").unwrap_err();
    assert!(matches!(unknown, PieceError::UnknownRule { nearest: Some(n), .. } if n == "nippon"));
    assert!(matches!(
        piece::wording(model, "semi china").unwrap_err(),
        PieceError::UnknownWording { .. }
    ));
    let clue = find_clue(model, "inscription").unwrap();
    let inscription = &model.catalogue.clues[clue];
    let dated = |text| piece::dated(model, inscription, text).unwrap_err();
    assert!(matches!(dated("1885-02-30"), PieceError::Date(_)));
    assert!(matches!(dated("1785"), PieceError::Outside(_)));
    let clue = find_clue(model, "rule nippon").unwrap();
    assert!(matches!(
        piece::dated(model, &model.catalogue.clues[clue], "1900").unwrap_err(),
        PieceError::NotADate { .. }
    ));
    assert!(Edtf::parse("1885-02-28").is_ok());
}
