//! What a piece is worth: what must and must not move a value, and the demonstration pieces. All prices are invented.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

mod outside;

use std::path::Path;

use saggar::check;
use saggar::instruction::{Instruction, Said};
use saggar::model::CompiledModel;
use saggar::piece::{Look, Piece, find_clue, find_state};
use saggar::source::Sources;
use saggar::value::{Asked, Estimate, Value, ValueError};

/// The demonstration pack with its two files of the market changed.
fn pack(change: impl Fn(&str, String) -> String) -> CompiledModel {
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("priors");
    let temporary = tempfile::tempdir().unwrap();
    for folder in ["tidewheel", "rules"] {
        std::fs::create_dir(temporary.path().join(folder)).unwrap();
        for entry in std::fs::read_dir(from.join(folder)).unwrap() {
            let name = entry.unwrap().file_name().into_string().unwrap();
            let text = std::fs::read_to_string(from.join(folder).join(&name)).unwrap();
            std::fs::write(
                temporary.path().join(folder).join(&name),
                change(&name, text),
            )
            .unwrap();
        }
    }
    let (mut sources, mut found) = (Sources::default(), Vec::new());
    let model = check::load(
        &temporary.path().join("tidewheel"),
        &mut sources,
        &mut found,
    )
    .unwrap();
    let found: Vec<&String> = found.iter().map(|report| &report.message).collect();
    model
        .unwrap_or_else(|| panic!("{found:?}"))
        .compile()
        .unwrap()
}

fn as_it_is() -> CompiledModel {
    pack(|_, text| text)
}

/// Lines added to the sales.
fn with_sales(lines: &str) -> CompiledModel {
    pack(|name, text| {
        if name == "comparables.csv" {
            text + lines
        } else {
            text
        }
    })
}

fn instruction(definition: &str) -> Instruction {
    let said = [
        ("purpose", "a test"),
        ("users", "the test"),
        ("definition", definition),
        ("effective", "2024-03-31"),
        ("inspected", "2024-03-02"),
        ("inspector", "E. Rowan"),
        ("seen", "in hand"),
        ("interest", "none"),
    ];
    Instruction::new(said.map(|(name, text)| (name, Said::Text(text.to_owned())))).unwrap()
}

fn piece(pack: &CompiledModel, seen: &[(&str, &str)]) -> Piece {
    let model = &pack.model;
    let mut piece = Piece::new("a jug");
    for (clue, state) in seen {
        let clue = find_clue(model, clue).unwrap();
        let place = find_state(&model.catalogue.clues[clue], state).unwrap();
        piece = piece
            .note(clue, Look::Seen(place), (*state).to_owned(), model)
            .unwrap();
    }
    piece
}

const MARKED: [(&str, &str); 5] = [
    ("size", "IV"),
    ("search", "full"),
    ("mark", "lantern TQ&U, full"),
    ("print", "clear"),
    ("technique", "line+stipple"),
];
const UNMARKED: [(&str, &str); 3] = [("size", "IV"), ("search", "full"), ("mark", "none found")];
const COPY: [(&str, &str); 9] = [
    ("size", "V"),
    ("search", "full"),
    ("mark", "lantern TQ&U, full"),
    ("print", "clear"),
    ("technique", "screen"),
    ("tint", "white"),
    ("inclusions", "none"),
    ("foot", "double"),
    ("join", "neat"),
];

fn value(
    pack: &CompiledModel,
    seen: &[(&str, &str)],
    definition: &str,
    asked: &Asked,
) -> Result<Value, ValueError> {
    let piece = piece(pack, seen)
        .in_condition(4, Vec::new(), &pack.model)
        .unwrap();
    pack.value(&piece, &instruction(definition), asked)
}

fn asked(wording: &str, names: Option<&str>) -> Asked {
    Asked {
        wording: Some(wording.to_owned()),
        names: names.map(str::to_owned),
    }
}

/// The estimate in one wording.
fn estimate(
    pack: &CompiledModel,
    definition: &str,
    wording: &str,
    names: Option<&str>,
) -> Estimate {
    // A works alone is named of pieces without a mark.
    let seen: &[(&str, &str)] = match wording {
        "works" => &UNMARKED,
        _ => &MARKED,
    };
    let value = value(pack, seen, definition, &asked(wording, names)).unwrap();
    let mut estimates = value.estimates.into_iter().rev();
    estimates
        .find(|estimate| estimate.wording == wording)
        .unwrap()
}

fn attributed(pack: &CompiledModel) -> Estimate {
    estimate(pack, "probate", "attributed", Some("K02"))
}

#[track_caller]
fn near(one: f64, other: f64, within: f64) {
    assert!((one / other).ln().abs() < within, "{one} {other}");
}

#[test]
fn a_new_sale_leaves_the_verdict_as_it_is() {
    let (one, other) = (as_it_is(), with_sales(SALE));
    assert_eq!(one.model.hash, other.model.hash);
    let hash = |pack: &CompiledModel| pack.model.market.as_ref().unwrap().hash.clone();
    assert_ne!(hash(&one), hash(&other));
    let jug = piece(&one, &MARKED);
    let verdicts = [one.verdict(&jug).unwrap(), other.verdict(&jug).unwrap()];
    assert_eq!(verdicts[0].makers, verdicts[1].makers);
}

const SALE: &str =
    "c20,2023-10,regional auction,sold,attributed,K02,attributed,IV,4,300,375,GBP,,invented\n";

#[test]
fn a_sale_moves_the_estimate_towards_its_price() {
    let (before, after) = (attributed(&as_it_is()), attributed(&with_sales(SALE)));
    assert!(before.band.median < 120.0, "{:?}", before.band);
    assert!(after.band.median > before.band.median * 1.1 && after.band.median < 300.0);
    assert_eq!(after.direct, ["c4", "c20"]);
}

/// The weight of a sale is the slope of the estimate's logarithm in that of the price; where a price lies as expected, a higher one
/// does not change the scatter as well.
#[test]
fn the_weight_of_a_sale() {
    let at = |price: &str| {
        attributed(&with_sales(
            &SALE.replace(",300,375,", &format!(",{price},,")),
        ))
    };
    let (one, other) = (at("90"), at("90.9"));
    let weight = |id: &str| {
        one.adjusted
            .iter()
            .find(|sale| sale.id == id)
            .unwrap()
            .weight
    };
    let moved = (other.band.median / one.band.median).ln() / 1.01_f64.ln();
    assert!(
        (moved - weight("c20")).abs() < 0.01,
        "{moved} {}",
        weight("c20")
    );
}

#[test]
fn a_sale_where_it_was_expected_narrows_the_band() {
    let before = attributed(&as_it_is());
    // As the estimate is: at the date of value, at the kind of sale of the definition.
    let line = format!(
        "c20,2024-03-30,regional auction,sold,attributed,K02,attributed,IV,4,{},,GBP,,invented\n",
        before.band.median
    );
    let after = attributed(&with_sales(&line));
    near(after.band.median, before.band.median, 0.005);
    let width = |estimate: &Estimate| (estimate.band.high / estimate.band.low).ln();
    assert!(width(&after) < width(&before));
}

#[test]
fn what_does_not_count_moves_nothing() {
    let before = attributed(&as_it_is());
    let lines = "c21,2023-01,dealer,asked,attributed,K02,attributed,IV,4,900,,GBP,,a list\n\
        c22,2023-01,regional auction,sold,attributed,K02,attributed,IV,4,900,,EUR,,abroad\n\
        c23,2001-01,regional auction,sold,attributed,K02,attributed,IV,4,900,,GBP,,long ago\n\
        c24,2024-05,regional auction,sold,attributed,K02,attributed,IV,4,900,,GBP,,later\n\
        c25,2023-01,regional auction,sold,attributed,K02,attributed,IV,,900,,GBP,,no grade\n\
        c26,2023-01,regional auction,sold,attributed,K02,attributed,,4,900,,GBP,,no size\n\
        c27,2023-01,regional auction,sold,attributed,K02,attributed,IV,4,,900,GBP,,no hammer\n\
        c28,2023-02,online auction,sold,attributed,K02,attributed,IV,4,900,,GBP,c4,the same set\n";
    let pack = with_sales(lines);
    assert_eq!(attributed(&pack), before);
    let left = value(&pack, &MARKED, "probate", &Asked::default())
        .unwrap()
        .left_out;
    let left: Vec<String> = left
        .iter()
        .map(|left| format!("{}: {}", left.id, left.why))
        .collect();
    insta::assert_snapshot!("not_counted", left.join("\n"));
}

#[test]
fn the_order_of_the_lines_does_not_matter() {
    let turned = pack(|name, text| {
        if name != "comparables.csv" {
            return text;
        }
        let mut lines: Vec<&str> = text.lines().collect();
        lines[1..].reverse();
        lines.join("\n")
    });
    let (one, other) = (attributed(&as_it_is()), attributed(&turned));
    near(one.band.median, other.band.median, 1e-12);
    near(one.band.lowest, other.band.lowest, 1e-12);
}

#[test]
fn money_has_no_unit_of_its_own() {
    let doubled = pack(|name, text| match name {
        "comparables.csv" => {
            let mut lines = text.lines();
            let head = lines.next().unwrap().to_owned() + "\n";
            let mut reader = csv::ReaderBuilder::new()
                .has_headers(false)
                .from_reader(text.as_bytes());
            let rows = reader.records().skip(1).map(|row| {
                let twice = |cell: &str| {
                    cell.parse::<f64>()
                        .map_or(String::new(), |n| (2.0 * n).to_string())
                };
                let row = row.unwrap();
                let cells = row.iter().enumerate().map(|(place, cell)| match place {
                    9 | 10 => twice(cell),
                    _ => format!("\"{}\"", cell.replace('"', "\"\"")),
                });
                cells.collect::<Vec<_>>().join(",") + "\n"
            });
            head + rows.collect::<String>().as_str()
        }
        "market.toml" => text.replace(
            "say = 110, between = [55, 220]",
            "say = 220, between = [110, 440]",
        ),
        _ => text,
    });
    let (one, other) = (attributed(&as_it_is()), attributed(&doubled));
    near(other.band.median / one.band.median, 2.0, 1e-9);
    near(other.band.highest / one.band.highest, 2.0, 1e-9);
    near(other.beliefs_alone.low / one.beliefs_alone.low, 2.0, 1e-9);
}

/// With nothing sold, the median is the product of what is said, and the band that of a Student-t distribution blurred by it.
#[test]
fn the_beliefs_alone() {
    let estimate = attributed(&as_it_is());
    near(estimate.beliefs_alone.median, 110.0 * 0.75, 1e-9);
    assert!(estimate.grid_error < 1e-9, "{}", estimate.grid_error);
    let retail = self::estimate(&as_it_is(), "replacement", "attributed", Some("K02"));
    near(retail.beliefs_alone.median, 110.0 * 0.75 * 2.4, 1e-9);
    let paid = self::estimate(&as_it_is(), "fair market value", "attributed", Some("K02"));
    near(paid.band.median, estimate.band.median * 1.25, 1e-9);
}

#[test]
fn what_is_not_noted_is_asked_for() {
    let pack = as_it_is();
    let said = |error: ValueError| error.to_string();
    let without_size = value(&pack, &MARKED[1..3], "probate", &Asked::default()).unwrap_err();
    let jug = piece(&pack, &MARKED);
    let without_condition = pack
        .value(&jug, &instruction("probate"), &Asked::default())
        .unwrap_err();
    let unknown = value(&pack, &MARKED, "probat", &Asked::default()).unwrap_err();
    let wording = value(&pack, &MARKED, "probate", &asked("atributed", Some("K02"))).unwrap_err();
    let nobody = value(&pack, &MARKED, "probate", &asked("attributed", None)).unwrap_err();
    let maker = value(&pack, &MARKED, "probate", &asked("attributed", Some("K99"))).unwrap_err();
    let mark = value(&pack, &COPY, "probate", &asked("marked", Some("K02"))).unwrap_err();
    let other = value(&pack, &MARKED, "probate", &asked("marked", Some("K07"))).unwrap_err();
    let bare = pack_without_market()
        .value(&jug, &instruction("probate"), &Asked::default())
        .unwrap_err();
    let mut open = instruction("probate");
    open.definition = None;
    let jug = jug.in_condition(4, Vec::new(), &pack.model).unwrap();
    let none = pack.value(&jug, &open, &Asked::default()).unwrap_err();
    let grade = jug
        .without(0)
        .in_condition(4, Vec::new(), &pack.model)
        .unwrap_err()
        .to_string();
    let all = [
        without_size,
        without_condition,
        unknown,
        wording,
        nobody,
        maker,
        mark,
        other,
        bare,
        none,
    ];
    let mut all: Vec<String> = all.into_iter().map(said).collect();
    all.push(grade);
    insta::assert_snapshot!("refused", all.join("\n"));
}

fn pack_without_market() -> CompiledModel {
    let (mut sources, mut found) = (Sources::default(), Vec::new());
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("priors");
    for name in ["tidewheel", "rules"] {
        std::fs::create_dir(folder.join(name)).unwrap();
        for entry in std::fs::read_dir(from.join(name)).unwrap() {
            let path = entry.unwrap().path();
            let file = path.file_name().unwrap();
            if file != "market.toml" && file != "comparables.csv" {
                std::fs::copy(&path, folder.join(name).join(file)).unwrap();
            }
        }
    }
    let model = check::load(&folder.join("tidewheel"), &mut sources, &mut found).unwrap();
    model.unwrap().compile().unwrap()
}

/// A wording is worth what it is worth, whatever its chance: the verdict decides which row is the value and nothing else.
#[test]
fn no_price_is_weighed_by_a_chance() {
    let pack = as_it_is();
    let marked = attributed(&pack);
    let bare = value(
        &pack,
        &MARKED[..2],
        "probate",
        &asked("attributed", Some("K02")),
    )
    .unwrap();
    let estimate = bare
        .estimates
        .iter()
        .find(|e| e.wording == "attributed")
        .unwrap();
    assert!(!estimate.support.is_supported && marked.support.is_supported);
    assert_eq!(estimate.band, marked.band);
}

/// What is noted of a piece with a mark looked for, and whether `word` is offered or supported.
fn catalogued(seen: &[(&str, &str)]) -> Vec<(String, bool, bool)> {
    let value = value(&as_it_is(), seen, "auction estimate", &Asked::default()).unwrap();
    let estimates = value.estimates.into_iter();
    estimates
        .map(|e| (e.catalogued, e.support.is_supported, e.is_the_value))
        .collect()
}

/// "Unmarked" is a finding, and a piece of known origin is not sold as of an unknown one.
#[test]
fn no_wording_is_offered_that_is_false_of_the_piece() {
    let unmarked = |seen: &[(&str, &str)]| {
        let all = catalogued(seen);
        all.iter().any(|(words, ..)| words.contains("unmarked"))
    };
    let none = [
        ("size", "VI"),
        ("search", "full"),
        ("mark", "none found"),
        ("wheel", "10"),
        ("print", "clear"),
    ];
    let quick = [
        ("size", "VI"),
        ("search", "quick"),
        ("mark", "none found"),
        ("wheel", "10"),
        ("print", "clear"),
    ];
    assert!(unmarked(&none), "{:?}", catalogued(&none));
    assert!(!unmarked(&quick) && !unmarked(&none[..2]) && !unmarked(&MARKED));
    let anyone = |seen: &[(&str, &str)]| {
        let all = catalogued(seen);
        let of = all
            .into_iter()
            .find(|(words, ..)| words == "maker not identified");
        of.map(|(_, is_supported, _)| is_supported)
    };
    assert_eq!(
        [anyone(&MARKED), anyone(&COPY), anyone(&none[..2])],
        [Some(false), Some(false), Some(true)]
    );
    // A weaker wording that is true stands.
    let weaker = catalogued(&MARKED);
    assert!(
        weaker
            .iter()
            .any(|(words, is_supported, _)| words == "Lantern Works" && *is_supported),
        "{weaker:?}"
    );
    // Asked for all the same, it is refused.
    let pack = as_it_is();
    let refused = value(
        &pack,
        &MARKED,
        "probate",
        &asked("works", Some("Lantern Works")),
    )
    .unwrap_err();
    assert!(matches!(refused, ValueError::Untrue { .. }), "{refused}");
}

/// Grades against defects, looks long before or after the day, purposes of another definition.
#[test]
fn what_does_not_fit_is_pointed_out() {
    let pack = as_it_is();
    let notes = |grade: i64, defects: &[&str], change: &[(&str, &str)]| {
        let defects = defects.iter().map(|defect| (*defect).to_owned()).collect();
        let jug = piece(&pack, &MARKED)
            .in_condition(grade, defects, &pack.model)
            .unwrap();
        let said = [
            ("purpose", "a sale"),
            ("users", "the test"),
            ("definition", "auction estimate"),
            ("effective", "2024-03-31"),
            ("inspected", "2024-03-02"),
            ("inspector", "E. Rowan"),
            ("seen", "in hand"),
            ("interest", "none"),
        ];
        let said = said.map(|(name, text)| {
            let other = change.iter().find(|(of, _)| *of == name);
            (
                name,
                Said::Text(other.map_or(text, |(_, text)| text).to_owned()),
            )
        });
        let instruction = Instruction::new(said).unwrap();
        let value = pack.value(&jug, &instruction, &Asked::default()).unwrap();
        value.notes.join("\n")
    };
    let chip: &[&str] = &["rim chip 30 mm"];
    assert_eq!(notes(4, &[], &[]), "");
    assert_eq!(notes(5, &[], &[]), "");
    assert_eq!(notes(2, chip, &[]), "");
    assert!(
        notes(5, chip, &[]).contains("graded 5"),
        "{}",
        notes(5, chip, &[])
    );
    assert!(notes(2, &[], &[]).contains("no defect is noted"));
    assert!(
        notes(4, &[], &[("inspected", "2024-04-01")])
            .contains("looked at on 2024-04-01, after 2024-03-31")
    );
    // Nobody runs this in 2070.
    assert!(
        notes(4, &[], &[("effective", "2070-01-01")])
            .contains("what happens in between is not known")
    );
    let purpose = notes(4, &[], &[("purpose", "insurance of the contents")]);
    assert!(
        purpose.contains("the definition `replacement`")
            && purpose.contains("by `auction estimate`"),
        "{purpose}"
    );
}

/// Words in quotation marks are the source's own.
///
/// Source: Inheritance Tax Act 1984, s. 160; 26 CFR 20.2031-1(b), as quoted by the United States Tax Court in *Estate of Baird*
/// (2001) and *Trompeter* (2004).
#[test]
fn definitions_are_quoted_letter_by_letter() {
    let act = "Except as otherwise provided by this Act, the value at any time of any property shall for the purposes of this Act be the price which the property might reasonably be expected to fetch if sold in the open market at that time; but that price shall not be assumed to be reduced on the ground that the whole property is to be placed on the market at one and the same time.";
    let code = "The fair market value is the price at which the property would change hands between a willing buyer and a willing seller, neither being under any compulsion to buy or to sell and both having reasonable knowledge of relevant facts.";
    let pack = as_it_is();
    let mut n_quoted = 0;
    for definition in &pack.model.market.as_ref().unwrap().definitions {
        if definition.is_verbatim {
            assert!(
                act.contains(&definition.words) || code.contains(&definition.words),
                "{}",
                definition.words
            );
            n_quoted += 1;
        }
    }
    assert_eq!(n_quoted, 2);
}

/// The demonstration's invented ranges: D1 probate about 110 and replacement about 260 to 300, D5 10 to 20 as a reproduction.
#[test]
fn the_demonstration_pieces() {
    let ran = outside::run(&["run", "scripts/valuation.rhai"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    insta::assert_snapshot!("valuation", ran.out);
    let pack = as_it_is();
    let marked = |definition| {
        estimate(&pack, definition, "marked", Some("K02"))
            .band
            .median
    };
    assert!(
        (100.0..125.0).contains(&marked("probate")),
        "{}",
        marked("probate")
    );
    assert!(
        (255.0..305.0).contains(&marked("replacement")),
        "{}",
        marked("replacement")
    );
    let copy = value(&pack, &COPY, "probate", &Asked::default()).unwrap();
    assert!(copy.estimates[0].is_the_value && copy.estimates[0].wording == "copy");
    assert!(copy.mark_not_accepted.is_some());
    assert!(
        copy.estimates
            .iter()
            .all(|estimate| estimate.wording != "marked")
    );
    assert!(
        copy.estimates[0].band.median < 20.0,
        "{}",
        copy.estimates[0].band.median
    );
}

/// The whole model of prices against a program written apart, in another form and with no code in common.
///
/// Source: `tests/reference/15-prices/by_covariance.py`.
#[test]
fn bands_are_those_of_a_program_written_apart() {
    let pack = as_it_is();
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/15-prices/expected.csv");
    let mut table = csv::Reader::from_path(path).unwrap();
    let mut n_rows = 0;
    for row in table.records() {
        let row = row.unwrap();
        let names = Some(&row[2]).filter(|names| !names.is_empty());
        let found = estimate(&pack, &row[0], &row[1], names).band;
        let found = [
            found.lowest,
            found.low,
            found.median,
            found.high,
            found.highest,
        ];
        for (found, expected) in found.into_iter().zip(row.iter().skip(3)) {
            let expected: f64 = expected.parse().unwrap();
            // Eight digits are written down.
            let off = (found / expected - 1.0).abs();
            assert!(off < 1e-8, "{row:?}: {found} for {expected}");
        }
        n_rows += 1;
    }
    assert_eq!(n_rows, 8);
}
