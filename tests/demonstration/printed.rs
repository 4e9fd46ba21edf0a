//! The figures worked out for the demonstration data when they were invented, to the digits printed there.
//!
//! Source: the demonstration data's own sheet of answers, from two engines written apart (enumeration; message passing in a
//! junction tree). A regression of numbers; the jugs, the makers and every prior are invented.

use saggar::report::Shown;
use saggar::verdict::{Share, Verdict};

use super::world::{described, here, printed as texts, run_file, shown};
use saggar::contrast::Contrast;

/// Leading makers (4), periods (5) and engravings (3) of at least 0.005; P(evidence), given the print quality.
const FULL_MODEL: [(&str, &str, &str, &str, &str); 7] = [
    (
        "D1",
        "K02 1.0000",
        "P3 0.8450, P4 0.1471, P2 0.0078",
        "A2 0.9993",
        "1.4537e-4",
    ),
    (
        "D2",
        "K07 0.7685, K11 0.2313",
        "P4 0.5014, P5 0.4232, P6 0.0697, P7 0.0057",
        "C 0.7650, E 0.2301",
        "7.7032e-7",
    ),
    (
        "D4",
        "K01 0.7891, K02 0.2090",
        "P1 0.5678, P2 0.3862, P3 0.0453",
        "A 0.9997",
        "1.8543e-5",
    ),
    (
        "D5",
        "R 0.9387, K02 0.0613",
        "P8 0.9387, P4 0.0398, P3 0.0213",
        "F 0.9387, A2 0.0613",
        "2.6014e-5",
    ),
    ("D5b", "R 0.9981", "P8 0.9981", "F 0.9981", "4.7552e-5"),
    (
        "D6",
        "U 0.9009, K08 0.0453, K06 0.0261, K10 0.0201",
        "P3 0.2560, P4 0.2185, P2 0.1977, P5 0.1649, P6 0.0718",
        "B 0.9989",
        "1.8695e-7",
    ),
    (
        "D7",
        "K07 0.6915, K09 0.1119, K06 0.0718, K11 0.0424",
        "P4 0.3818, P5 0.3051, P3 0.1345, P6 0.0967, P7 0.0513",
        "C 0.8622, B 0.0443, E 0.0435",
        "1.7321e-4",
    ),
];

/// Leading makers (3): codings taken as independent, list closed, mark left out (`None`: not looked), codings left out.
const CONTRASTS: [(&str, &str, &str, Option<&str>, &str); 7] = [
    (
        "D1",
        "K02 1.0000",
        "K02 1.0000",
        Some("K02 0.8954, K03 0.1040"),
        "K02 1.0000",
    ),
    (
        "D2",
        "K07 0.7704, K11 0.2295",
        "K07 0.7686, K11 0.2314",
        Some("K07 0.7149, K11 0.2059, K09 0.0538"),
        "K07 0.7658, K11 0.2329",
    ),
    (
        "D4",
        "K01 0.8179, K02 0.1820",
        "K01 0.7906, K02 0.2094",
        Some("K01 0.6134, K02 0.3851"),
        "K01 0.4176, K04 0.2679, K02 0.2094",
    ),
    (
        "D5",
        "R 0.9421, K02 0.0579",
        "K02 1.0000",
        Some("R 0.8219, K03 0.1300, K02 0.0481"),
        "R 0.9260, K02 0.0740",
    ),
    (
        "D5b",
        "R 0.9981",
        "K02 1.0000",
        Some("R 0.9937"),
        "R 0.9260, K02 0.0740",
    ),
    (
        "D6",
        "U 0.4283, K08 0.3119, K10 0.1200",
        "K08 0.4568, K06 0.2639, K10 0.2033",
        Some("K10 0.4227, K06 0.2449, K08 0.2120"),
        "U 0.9072, K07 0.0317, K08 0.0170",
    ),
    (
        "D7",
        "K07 0.7306, K09 0.0923, K11 0.0463",
        "K07 0.7111, K09 0.1151, K06 0.0738",
        None,
        "K07 0.2054, K06 0.1081, K09 0.1039",
    ),
];

/// The `most` leading answers of at least 0.005, four digits each.
fn leading(shares: &[Share], most: usize) -> String {
    let mut shares: Vec<&Share> = shares.iter().collect();
    shares.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    let named = shares.iter().take(most).filter(|s| s.probability >= 0.005);
    named
        .map(|s| format!("{} {:.4}", s.id, s.probability))
        .collect::<Vec<_>>()
        .join(", ")
}

/// The verdict that the piece's own script shows first.
fn verdict(piece: &str) -> Verdict {
    let (description, variable) = described(piece);
    match shown(&format!("{description}show({variable}.verdict());")).remove(0) {
        Shown::Verdict(verdict) => *verdict,
        other => panic!("{}", other.to_text()),
    }
}

#[test]
fn the_full_model() {
    for (name, makers, periods, engravings, p_evidence) in FULL_MODEL {
        let verdict = verdict(name);
        assert_eq!(leading(&verdict.makers, 4), makers, "{name}");
        assert_eq!(leading(&verdict.periods, 5), periods, "{name}");
        assert_eq!(leading(&verdict.engravings, 3), engravings, "{name}");
        assert_eq!(
            format!("{:.4e}", verdict.log_evidence.exp()),
            p_evidence,
            "{name}"
        );
        let title = verdict.piece.split(':').next().unwrap();
        assert_eq!(title, name);
    }
}

/// The script that shows all contrasts describes the pieces once more; its rows are these.
#[test]
fn the_contrasts() {
    let (finished, shown) = run_file(&here("scripts/contrasts.rhai"), here("priors"));
    assert!(finished.failure.is_none());
    for (name, independent, closed, no_mark, no_codings) in CONTRASTS {
        let contrasts = shown.iter().find_map(|shown| match shown {
            Shown::Contrasts(c) if c.piece.split(':').next() == Some(name) => Some(c),
            _ => None,
        });
        let rows = &contrasts.unwrap().rows;
        let row = |words: &str| rows.iter().find(|r| r.assumption.starts_with(words));
        let makers = |row: Option<&Contrast>| row.map(|r| leading(&r.makers, 3));
        assert_eq!(
            makers(row("codings taken as independent")).unwrap(),
            independent,
            "{name}"
        );
        assert_eq!(makers(row("list closed")).unwrap(), closed, "{name}");
        assert_eq!(makers(row("mark left out")).as_deref(), no_mark, "{name}");
        assert_eq!(
            makers(row("codings left out")).unwrap(),
            no_codings,
            "{name}"
        );
        let full = FULL_MODEL.iter().find(|f| f.0 == name).unwrap();
        let row = row("full model").unwrap();
        assert_eq!(leading(&row.makers, 4), full.1, "{name}");
        assert_eq!(
            format!("{:.4e}", row.probability_of_evidence),
            full.4,
            "{name}"
        );
    }
}

/// D5 step by step: the reproduction's chance after each group of findings, in the order in which they are noted.
#[test]
fn the_reproduction_step_by_step() {
    let (description, _) = described("D5");
    let Shown::Audit(audit) = shown(&format!("{description}show(jug.audit(\"R\"));")).remove(0)
    else {
        panic!("no audit");
    };
    let after = |clue: &str| {
        let step = audit.findings.iter().find(|f| f.clue == clue).unwrap();
        format!("{:.3}", step.probability_after)
    };
    let expected = [
        ("size", "0.105"),
        ("mark", "0.401"),
        ("technique", "0.505"),
        ("weight", "0.768"),
        ("tint", "0.907"),
        ("inclusions", "0.929"),
        ("foot", "0.929"),
        ("join", "0.945"),
        ("wear", "0.920"),
        ("colour", "0.939"),
    ];
    for (clue, printed) in expected {
        assert_eq!(after(clue), printed, "{clue}");
    }
}

/// What the sheet says in words: works and regions, the size trap, the fall of P(evidence) when the list is closed.
#[test]
fn in_words() {
    let of_works = |v: &Verdict, id: &str| v.works.iter().find(|s| s.id == id).unwrap().probability;
    let d4 = verdict("D4");
    assert_eq!(format!("{:.3}", of_works(&d4, "Lantern Works")), "0.998");
    assert_eq!(
        d4.attribution.words,
        "Lantern Works, under one of its partnerships"
    );
    assert_eq!(
        (d4.dating.first_year, d4.dating.last_year),
        (Some(1818), Some(1839))
    );
    let d7 = verdict("D7");
    let saltharrow = d7.regions.iter().find(|r| r.id == "Saltharrow").unwrap();
    assert_eq!(format!("{:.2}", saltharrow.probability), "0.89");
    assert!(
        d7.attribution
            .words
            .starts_with("Saltharrow, maker not identified")
    );
    let d9 = verdict("D9");
    let words = "Thackle & Umber or Sandover Vint; printed from the Quayend copy (≥ 0.99)";
    assert_eq!(d9.attribution.words, words);
    let d5b = verdict("D5b").attribution;
    assert_eq!(d5b.words, "later copy");
    assert!(
        d5b.beside[0].contains("Tarrowby, Quist & Ulverdine"),
        "{:?}",
        d5b.beside
    );

    let (description, _) = described("D8");
    let wrong =
        ".titled(\"wrong\").without(\"weight\").suppose(\"size\", \"V\").weighs(\"1113 g\")";
    let said = texts(&format!(
        "{description}print(digits(jug.verdict().maker(\"K01\"), 2));
        print(digits(jug{wrong}.verdict().maker(\"K04\"), 2));"
    ));
    assert_eq!(said, ["0.78", "0.84"]);

    let (description, _) = described("D5");
    let Shown::Contrasts(d5) = shown(&format!("{description}show(jug.contrasts());")).remove(0)
    else {
        panic!("no contrasts");
    };
    let p = |words: &str| {
        let row = d5.rows.iter().find(|r| r.assumption.starts_with(words));
        row.unwrap().probability_of_evidence
    };
    assert_eq!(format!("{:.2e}", p("full model")), "2.60e-5");
    assert_eq!(format!("{:.2e}", p("list closed")), "1.59e-6");
    assert_eq!(format!("{:.0}", p("full model") / p("list closed")), "16");
}
