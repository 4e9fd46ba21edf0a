//! Engravings with histories: the pack *Fell ware* against sums over everything that may have happened, written out by hand.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

#[path = "engraving_history/by_hand.rs"]
mod by_hand;
mod outside;

use std::path::{Path, PathBuf};

use by_hand::{A, A2, F, MAKERS, PERIODS, S, Seen, T, X};
use proptest::prelude::*;
use saggar::diagnostic::render::render;
use saggar::model::CompiledModel;
use saggar::network::{Role, VariableId};
use saggar::piece::{Look, Piece, find_clue, find_state};
use saggar::query::marginal;
use saggar::question::{Claim, Question};
use saggar::source::Sources;
use saggar::stress::StressPlan;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/packs/fell_ware")
}

fn compile(folder: &Path) -> CompiledModel {
    let mut sources = Sources::default();
    let mut out = Vec::new();
    let pack = saggar::pack::read(folder, &mut sources, &mut out).unwrap();
    let model = saggar::check::check(&pack.unwrap(), &sources, &mut out);
    let said: Vec<String> = out.iter().map(|d| render(d, &sources, false)).collect();
    assert!(said.is_empty(), "{}", said.join("\n\n"));
    model.unwrap().compile().unwrap()
}

/// The pack with each of its files rewritten.
fn rewritten(mut rewrite: impl FnMut(String) -> String) -> CompiledModel {
    let temporary = tempfile::tempdir().unwrap();
    for entry in std::fs::read_dir(folder()).unwrap() {
        let path = entry.unwrap().path();
        let text = rewrite(std::fs::read_to_string(&path).unwrap());
        std::fs::write(temporary.path().join(path.file_name().unwrap()), text).unwrap();
    }
    compile(temporary.path())
}

/// The pack with some texts replaced, each in the files where it stands.
fn edited(edits: &[(&str, &str)]) -> CompiledModel {
    let mut found = vec![false; edits.len()];
    let pack = rewritten(|mut text| {
        for ((from, to), found) in edits.iter().zip(&mut found) {
            *found |= text.contains(from);
            text = text.replace(from, to);
        }
        text
    });
    assert!(found.iter().all(|&found| found), "{edits:?}");
    pack
}

/// P(engraving | maker, period, size class), where the maker may be at work.
fn rows(pack: &CompiledModel) -> Vec<(String, Vec<f64>)> {
    let told = pack.engravings().unwrap().chances;
    told.into_iter()
        .map(|of| {
            (
                format!("{} {} {}", of.maker, of.period, of.size_class.unwrap()),
                of.chances,
            )
        })
        .collect()
}

fn piece(pack: &CompiledModel, looks: &[(&str, &str)]) -> Piece {
    looks
        .iter()
        .fold(Piece::new("plate"), |piece, (clue, state)| {
            let index = find_clue(&pack.model, clue).unwrap();
            let seen = find_state(&pack.model.catalogue.clues[index], state).unwrap();
            piece
                .note(index, Look::Seen(seen), (*state).to_owned(), &pack.model)
                .unwrap()
        })
}

/// Source: the rule of the module `check::histories`, by summing over the years of every event.
#[test]
fn who_pulled_from_what() {
    let pack = compile(&folder());
    let rows = rows(&pack);
    let mut n_rows = 0;
    for (maker, name) in MAKERS.iter().enumerate() {
        for (period, when) in PERIODS.iter().enumerate() {
            for (large, size_class) in [(false, "small"), (true, "large")] {
                let name = format!("{name} {when} {size_class}");
                let Some((_, found)) = rows.iter().find(|(row, _)| *row == name) else {
                    continue;
                };
                n_rows += 1;
                let expected = by_hand::chances(maker, period, large);
                for (e, (found, expected)) in found.iter().zip(expected).enumerate() {
                    assert!(
                        (found - expected).abs() < 1e-13,
                        "{name} {e}: {found}, not {expected}"
                    );
                }
            }
        }
    }
    assert_eq!((n_rows, rows.len()), (26, 26));
}

/// A few of them so simple that no program is needed.
///
/// Source: by hand. Copies: of twenty years 1960 to 1979 the copper was there in eighteen, and 5 in 100 prints are from another.
/// Crake & Rudd in P2: the year 1835; the stock plates were cut (with 0.8, or else in one of sixteen of the 65 years of the
/// periods, all being 1820 to 1835), and the old coppers re-cut with one chance in seven.
#[test]
fn on_the_back_of_an_envelope() {
    let rows = rows(&compile(&folder()));
    let row = |name: &str| &rows.iter().find(|(row, _)| row == name).unwrap().1;
    let copy = row("copy modern small");
    assert!((copy[F] - 0.9 * 0.95).abs() < 1e-14);
    assert!((copy[X] - (0.1 + 0.9 * 0.05)).abs() < 1e-14);
    let crake = row("CR P2 large");
    let stock = 0.8 + 0.2 * 16.0 / 65.0;
    // Shares of use: the stock plates 0.05, the other four evenly.
    let with_stock = 0.2375 / (0.2375 + 0.05);
    let coppers = 0.95 * (stock * with_stock + (1.0 - stock));
    assert!((crake[A] - coppers * 6.0 / 7.0).abs() < 1e-14);
    assert!((crake[A2] - coppers / 7.0).abs() < 1e-14);
    assert!((crake[S] - 0.95 * stock * (1.0 - with_stock)).abs() < 1e-14);
    assert!((crake[X] - 0.05).abs() < 1e-14);
    assert_eq!((crake[T], crake[F]), (0.0, 0.0));
}

/// Compares P(maker | what was seen), the same of engraving and plate, and P(what was seen) with sums by hand.
#[track_caller]
fn check(pack: &CompiledModel, looks: &[(&str, &str)], seen: &Seen) {
    let answer = pack.ask(&piece(pack, looks)).unwrap();
    let joint = by_hand::joint(seen);
    let sum: f64 = joint.iter().flatten().flatten().sum();
    let of_makers = marginal(&answer.posterior, pack.model.catalogue.maker);
    for (maker, found) in of_makers.iter().enumerate() {
        let expected = joint[maker].iter().flatten().sum::<f64>() / sum;
        assert!(
            (found - expected).abs() < 1e-12,
            "{}: {found}, not {expected}",
            MAKERS[maker]
        );
    }
    let of_engravings = marginal(&answer.posterior, pack.model.catalogue.engraving.unwrap());
    for (engraving, found) in of_engravings.iter().enumerate() {
        let expected = joint.iter().flat_map(|of| of[engraving]).sum::<f64>() / sum;
        assert!(
            (found - expected).abs() < 1e-12,
            "{engraving}: {found}, not {expected}"
        );
    }
    let of_plate = marginal(&answer.posterior, pack.model.catalogue.plate.unwrap());
    for (plate, found) in of_plate.iter().enumerate() {
        let expected = joint.iter().flatten().map(|of| of[plate]).sum::<f64>() / sum;
        assert!(
            (found - expected).abs() < 1e-12,
            "{plate}: {found}, not {expected}"
        );
    }
    assert!((answer.posterior.log_evidence() - sum.ln()).abs() < 1e-12);
}

/// Source: Bayes' theorem, with the sum over all that was not seen.
#[test]
fn verdicts_by_hand() {
    let pack = compile(&folder());
    check(&pack, &[], &Seen::default());
    check(
        &pack,
        &[("impression", "faded")],
        &Seen {
            faded: Some(true),
            ..Seen::default()
        },
    );
    check(
        &pack,
        &[
            ("size", "10 in"),
            ("print", "clear"),
            ("sails", "8"),
            ("bridge", "arched"),
            ("shading", "middle"),
            ("technique", "line"),
            ("impression", "faded"),
        ],
        &Seen {
            large: Some(true),
            blurred: false,
            sails: Some(2),
            bridge: Some(1),
            shading: Some(1),
            technique: Some(0),
            faded: Some(true),
        },
    );
    check(
        &pack,
        &[
            ("print", "blurred"),
            ("sails", "4"),
            ("bridge", "plain"),
            ("shading", "dense"),
            ("technique", "line+stipple"),
        ],
        &Seen {
            blurred: true,
            sails: Some(0),
            bridge: Some(0),
            shading: Some(2),
            technique: Some(1),
            ..Seen::default()
        },
    );
    check(
        &pack,
        &[
            ("size", "6 in"),
            ("print", "clear"),
            ("bridge", "none"),
            ("shading", "sparse"),
        ],
        &Seen {
            large: Some(false),
            bridge: Some(2),
            shading: Some(0),
            ..Seen::default()
        },
    );
}

/// Two codings of one copper are one witness, and so are two looks at its wear.
///
/// Source: Bayes' theorem, through the same sums.
#[test]
fn every_coding_alone() {
    let pack = compile(&folder());
    let print = ("print", "clear");
    for (state, name) in ["sparse", "middle", "dense"].into_iter().enumerate() {
        let seen = Seen {
            shading: Some(state),
            ..Seen::default()
        };
        check(&pack, &[print, ("shading", name)], &seen);
    }
    for (state, name) in ["line", "line+stipple", "screen"].into_iter().enumerate() {
        let seen = Seen {
            technique: Some(state),
            ..Seen::default()
        };
        check(&pack, &[print, ("technique", name)], &seen);
    }
    for (state, name) in ["plain", "arched", "none"].into_iter().enumerate() {
        let seen = Seen {
            bridge: Some(state),
            ..Seen::default()
        };
        check(&pack, &[print, ("bridge", name)], &seen);
    }
}

#[test]
fn the_audit_cites_the_history() {
    let pack = compile(&folder());
    let piece = piece(
        &pack,
        &[
            ("size", "10 in"),
            ("print", "clear"),
            ("sails", "8"),
            ("technique", "line+stipple"),
        ],
    );
    let kell = Question::of(Claim::maker("PK"));
    let audit = pack.audit_on(&piece, &kell).unwrap();
    let cited: Vec<(&str, &str)> = audit
        .histories
        .iter()
        .map(|h| (h.engraving.as_str(), h.said.as_str()))
        .collect();
    assert!(
        cited.contains(&("A2", "sold 1851~ to PK, the plate worn")),
        "{cited:?}"
    );
    assert!(cited.contains(&("A2", "re-cut 1838~ from A")), "{cited:?}");
    let text = std::fs::read_to_string(folder().join("engravings.toml")).unwrap();
    for history in audit
        .histories
        .iter()
        .filter(|h| h.said.starts_with("sold"))
    {
        let line: usize = history.line.rsplit(':').next().unwrap().parse().unwrap();
        assert!(
            text.lines()
                .nth(line - 1)
                .unwrap()
                .contains("sold   = \"1851~\"")
        );
    }
    // Without a coding nothing was seen of the print.
    let audit = pack.audit_on(&Piece::new("plate"), &kell).unwrap();
    assert!(audit.histories.is_empty());
}

#[test]
fn shares_of_use_are_even_by_default() {
    let text = std::fs::read_to_string(folder().join("engravings.toml")).unwrap();
    let from = text.find("[use]").unwrap();
    let to = text.find("# How plates wear").unwrap();
    let pack = edited(&[(&text[from..to], "")]);
    assert!(pack.model.histories.as_ref().unwrap().shares_by_default);
    let rows = rows(&pack);
    let (_, crake) = rows.iter().find(|(row, _)| row == "CR P2 large").unwrap();
    let stock = 0.8 + 0.2 * 16.0 / 65.0;
    assert!((crake[S] - 0.95 * stock * 0.5).abs() < 1e-14);
}

/// The pack with exact dates but for those given.
fn with_dates(about: u32, recut: &str, sold: &str) -> CompiledModel {
    edited(&[
        ("about = 3", &format!("about = {about}")),
        ("1835/1852~", "1835/1852"),
        ("1828~/1858", "1828/1858"),
        ("\"1844~\"", "\"1844\""),
        ("\"1822~/1855\"", "\"1822/1855\""),
        ("\"1815?\"", "\"1815\""),
        ("\"1848/1850~\"", "\"1848/1850\""),
        // Last, since what they become may look like another of these.
        ("\"1851~\"", &format!("\"{sold}\"")),
        ("\"1838~\"", &format!("\"{recut}\"")),
    ])
}

/// Total variation distance of each row from the same row of another pack.
fn moved(one: &CompiledModel, other: &CompiledModel) -> f64 {
    type Named = (String, Vec<f64>);
    let distance = |((name, a), (same, b)): (&Named, &Named)| {
        assert_eq!(name, same);
        0.5 * a.iter().zip(b).map(|(a, b)| (a - b).abs()).sum::<f64>()
    };
    rows(one)
        .iter()
        .zip(&rows(other))
        .map(distance)
        .fold(0.0, f64::max)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, failure_persistence: None, ..ProptestConfig::default() })]

    /// A row is the mean of something between 0 and 1 over the years of the events: it moves by no more than their
    /// distributions do. One year more either way moves a date that is about by 2 / (2 about + 3); one year later by
    /// 1 / (2 about + 1).
    #[test]
    fn dates_move_chances_smoothly(about in 0..12_u32, recut in 1836..1844_i32, sold in 1849..1852_i32, both in any::<bool>()) {
        let sign = if both { "~" } else { "" };
        let dates = |recut: i32| (format!("{recut}~"), format!("{sold}{sign}"));
        let (of_recut, of_sale) = dates(recut);
        let pack = with_dates(about, &of_recut, &of_sale);
        for (name, row) in rows(&pack) {
            prop_assert!((row.iter().sum::<f64>() - 1.0).abs() < 1e-12, "{} {:?}", name, row);
            prop_assert!(row.iter().all(|p| (0.0..=1.0).contains(p)), "{} {:?}", name, row);
        }
        let soft = if both { 2.0 } else { 1.0 };
        let wider = with_dates(about + 1, &of_recut, &of_sale);
        let most = soft * 2.0 / f64::from(2 * about + 3);
        prop_assert!(moved(&pack, &wider) <= most + 1e-12, "{} {}", moved(&pack, &wider), most);
        let later = with_dates(about, &dates(recut + 1).0, &of_sale);
        let most = 1.0 / f64::from(2 * about + 1);
        prop_assert!(moved(&pack, &later) <= most + 1e-12, "{} {}", moved(&pack, &later), most);
    }
}

/// One event of a random history; what it says may make no sense.
fn event() -> impl Strategy<Value = String> {
    let kind = prop::sample::select(vec![
        "sold",
        "inherited",
        "shared",
        "lent",
        "stock",
        "recut",
        "copied",
        "retired",
    ]);
    let who = || {
        prop::sample::select(vec![
            "CR",
            "RS",
            "TB",
            "PK",
            "unlisted",
            "copy",
            "Ghyll Foot",
            "Tarn Side",
        ])
    };
    let sign = || prop::sample::select(vec!["", "~", "?", "%"]);
    let date = (1815..1870_i32, 0..12_i32, sign(), sign(), 0..4_u8).prop_map(
        |(year, length, a, b, form)| match form {
            0 => format!("{}X{a}", year / 10),
            1 => format!("{year}{a}/{}{b}", year + length),
            2 => format!("{year}{a}/.."),
            _ => format!("{year}{a}"),
        },
    );
    let worn = prop::sample::select(vec!["", "", ", plate = \"worn\"", ", plate = \"fresh\""]);
    (kind, date, who(), who(), any::<bool>(), worn).prop_map(
        |(kind, date, to, by, says_by, worn)| {
            let to = match kind {
                "shared" => format!(", with = [\"{to}\"]"),
                "recut" => ", as = \"A2\"".to_owned(),
                "copied" => format!(", as = \"T\", by = \"{by}\""),
                "retired" => String::new(),
                _ => format!(", to = \"{to}\""),
            };
            let by = if says_by && !matches!(kind, "copied" | "stock" | "retired") {
                format!(", by = \"{by}\"")
            } else {
                String::new()
            };
            let worn = if kind == "retired" { "" } else { worn };
            format!("  {{ {kind} = \"{date}\"{to}{by}{worn} }},\n")
        },
    )
}

/// The histories of the pack, in their place: engravings A, A2 and T.
const OF_A: &str =
    "  { lent  = \"1831/1832\", to = \"TB\" },\n  { recut = \"1838~\", as = \"A2\" },\n";

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    /// A history makes sense, and then gives chances; or it is refused with the place.
    #[test]
    fn any_history_gives_chances_or_is_refused(events in prop::collection::vec(event(), 0..4), in_order in any::<bool>()) {
        let mut events = events;
        if in_order {
            events.sort_by_key(|event| event.split('"').nth(1).unwrap().to_owned());
        }
        let temporary = tempfile::tempdir().unwrap();
        for entry in std::fs::read_dir(folder()).unwrap() {
            let path = entry.unwrap().path();
            let text = std::fs::read_to_string(&path).unwrap();
            let text = text.replace(OF_A, &(events.concat() + OF_A.lines().last().unwrap() + "\n"));
            std::fs::write(temporary.path().join(path.file_name().unwrap()), text).unwrap();
        }
        let (mut sources, mut out) = (Sources::default(), Vec::new());
        let model = saggar::check::load(temporary.path(), &mut sources, &mut out).unwrap();
        match model {
            None => {
                prop_assert!(!out.is_empty());
                for report in &out {
                    prop_assert!(!render(report, &sources, false).is_empty());
                }
            }
            Some(model) => {
                for of in model.engravings().unwrap().chances {
                    let sum: f64 = of.chances.iter().sum();
                    prop_assert!((sum - 1.0).abs() < 1e-12, "{:?} {:?}", events, of);
                    prop_assert!(of.chances.iter().all(|p| (0.0..=1.0).contains(p)), "{:?} {:?}", events, of);
                }
                let is_chance = |id: &VariableId| model.network.variable(*id).role == Role::Chance;
                for id in model.network.variable_ids().filter(is_chance) {
                    for column in model.network.cpt(id).table.column_iter() {
                        let (sum, least) = (column.sum(), column.min());
                        prop_assert!((sum - 1.0).abs() < 1e-12 && least >= 0.0, "{:?} {:?}", events, column);
                    }
                }
            }
        }
    }
}

#[test]
fn all_that_is_said_can_be_doubted() {
    let pack = compile(&folder());
    let about: Vec<&str> = pack
        .model
        .beliefs
        .iter()
        .map(|(_, b)| b.about.as_str())
        .collect();
    for wanted in [
        "an engraving never seen given maker = unlisted",
        "use of the engravings at hand given maker = CR/RS",
        "wear of a plate in ten years given engraving = S",
        "plate of an engraving never seen",
        "line+stipple of technique lost on a worn plate",
        "reading of sails given print = clear",
        "reading of bridge given bridge = plain",
    ] {
        assert!(about.contains(&wanted), "{wanted}: {about:?}");
    }
}

/// With a thousand million pieces behind every belief nothing is left to be doubted: every draw gives the stated figure. So the
/// tables of a draw are written as those of the verdict are.
#[test]
fn a_stress_run_draws_around_what_is_said() {
    let firm = rewritten(|text| {
        let lines = text.lines().map(|line| {
            let mut line = line.to_owned();
            let mut from = 0;
            while let Some(at) = line[from..].find("seen").map(|at| from + at) {
                let rest = &line[at + 4..];
                let digits = rest.trim_start_matches([' ', '=']);
                let number = digits.chars().take_while(char::is_ascii_digit).count();
                let end = at + 4 + (rest.len() - digits.len()) + number;
                if number > 0 && rest.trim_start().starts_with('=') {
                    line.insert_str(end, "e8");
                }
                from = end;
            }
            line + "\n"
        });
        lines.collect()
    });
    let looks = [
        ("size", "10 in"),
        ("print", "clear"),
        ("shading", "middle"),
        ("technique", "line"),
        ("impression", "faded"),
    ];
    let stress = firm
        .stress(&piece(&firm, &looks), &StressPlan::new(64, 1))
        .unwrap();
    for drawn in [stress.low, stress.mean, stress.high] {
        assert!((drawn.value - stress.stated).abs() < 1e-3, "{stress:?}");
    }
    let pack = compile(&folder());
    let doubted = |threads| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        let stress = pool.install(|| {
            pack.stress(&piece(&pack, &looks), &StressPlan::new(200, 7))
                .unwrap()
        });
        serde_json::to_string(&stress).unwrap()
    };
    assert_eq!(doubted(1), doubted(3));
    let stress = pack
        .stress(&piece(&pack, &looks), &StressPlan::new(200, 7))
        .unwrap();
    assert!(stress.high.value - stress.low.value > 0.05, "{stress:?}");
}

#[test]
fn told_on_the_command_line() {
    let run = |arguments: &[&str]| {
        let ran = outside::run(arguments);
        assert_eq!(ran.code, 0, "{arguments:?}");
        ran.out
    };
    let text = run(&["engravings", "tests/packs/fell_ware"]);
    insta::with_settings!({ snapshot_path => "engraving_history/snapshots", prepend_module_to_snapshot => false, omit_expression => true }, {
        insta::assert_snapshot!("fell_ware", text);
    });
    let json = run(&["engravings", "tests/packs/fell_ware", "--json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let kell = &json["results"][0]["engravings"][A2]["at_hand"][2];
    assert_eq!(kell["maker"], "PK");
    assert_eq!(
        kell["spells"][0]["possible"],
        serde_json::json!([1848, 1864])
    );
    let rows = run(&["engravings", "priors/tidewheel"]);
    assert!(rows.contains("The engravings have no histories."));
    let defaults = run(&["check", "--defaults", "tests/packs/fell_ware"]);
    assert!(
        defaults.contains("those at hand are used as the pack says"),
        "{defaults}"
    );
}
