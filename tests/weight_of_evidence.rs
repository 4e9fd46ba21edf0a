//! Weights of evidence against published figures: textbook likelihood ratios, two hypotheses, and three.
//!
//! Source of every figure: the files of `tests/reference/02-weight-of-evidence`, whose README says how each was checked.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use nalgebra::DMatrix;
use saggar::circuit::Circuit;
use saggar::model::CompiledModel;
use saggar::network::{Cpt, Evidence, Network, Role, Variable, VariableId};
use saggar::piece::{Look, Piece, find_clue, uncertain};
use saggar::question::{Claim, Question};
use saggar::source::Sources;
use saggar::{check, pack};
use serde::Deserialize;

const TOLERANCE: f64 = 1e-12;

fn file(name: &str) -> PathBuf {
    let folder =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/02-weight-of-evidence");
    folder.join(name)
}

fn json<T: serde::de::DeserializeOwned>(name: &str) -> T {
    serde_json::from_str(&std::fs::read_to_string(file(name)).unwrap()).unwrap()
}

#[track_caller]
fn assert_close(found: f64, expected: f64, what: &str) {
    let within = TOLERANCE * expected.abs().max(1.0);
    assert!(
        (found - expected).abs() <= within,
        "{what}: {found}, not {expected}"
    );
}

/// Hypotheses with their prior, and items of evidence that depend on nothing but the hypothesis.
struct Bench {
    network: Network,
    circuit: Circuit,
}

impl Bench {
    /// `likelihoods[item][hypothesis]`: the chance of the item's first state.
    fn new(prior: &[f64], likelihoods: &[Vec<f64>]) -> Self {
        let variable = |name: String, n: usize| Variable {
            name,
            states: (0..n).map(|s| s.to_string()).collect(),
            role: Role::Chance,
        };
        let mut variables = vec![variable("hypothesis".to_owned(), prior.len())];
        let mut cpts = vec![Cpt {
            parents: Vec::new(),
            table: DMatrix::from_column_slice(prior.len(), 1, prior),
        }];
        for (i, item) in likelihoods.iter().enumerate() {
            variables.push(variable(format!("e{i}"), 2));
            let cells: Vec<f64> = item.iter().flat_map(|&p| [p, 1.0 - p]).collect();
            cpts.push(Cpt {
                parents: vec![VariableId::new(0)],
                table: DMatrix::from_column_slice(2, prior.len(), &cells),
            });
        }
        let network = Network::new(variables, cpts, Vec::new()).unwrap();
        let circuit = Circuit::compile(&network).unwrap();
        Self { network, circuit }
    }

    /// Chances of the hypotheses when the items listed have shown their first state (`true`) or their second.
    fn posterior(&self, seen: &[(usize, bool)]) -> Vec<f64> {
        let mut evidence = Evidence::new();
        for &(item, first) in seen {
            let id = VariableId::new(u32::try_from(item).unwrap() + 1);
            evidence.observe(id, usize::from(!first));
        }
        let parameters = self.network.parameters();
        let posterior = self.circuit.evaluate(&parameters, &evidence).unwrap();
        posterior.marginal(VariableId::new(0)).unwrap().to_vec()
    }

    fn decibans(&self, hypothesis: usize, seen: &[(usize, bool)]) -> f64 {
        let p = self.posterior(seen);
        let others = (0..p.len()).filter(|&h| h != hypothesis);
        10.0 * (p[hypothesis] / others.map(|h| p[h]).sum::<f64>()).log10()
    }
}

fn number(text: &str) -> f64 {
    match text.split_once('/') {
        Some((above, below)) => above.parse::<f64>().unwrap() / below.parse::<f64>().unwrap(),
        None => text.parse().unwrap(),
    }
}

/// Source: `woe.csv`, the source of each case in its column `source`. The weight is the shift of the log-odds, whatever the
/// prior.
#[test]
fn textbook_likelihood_ratios() {
    let mut reader = csv::Reader::from_path(file("woe.csv")).unwrap();
    let mut n_cases = 0;
    for row in reader.deserialize() {
        let row: BTreeMap<String, String> = row.unwrap();
        let (what, value) = (&row["case"], |column: &str| number(&row[column]));
        let likelihoods = vec![value("p_e_given_h"), value("p_e_given_not_h")];
        for prior in [0.5, 0.01, 0.9] {
            let bench = Bench::new(&[prior, 1.0 - prior], std::slice::from_ref(&likelihoods));
            let weight = bench.decibans(0, &[(0, true)]) - bench.decibans(0, &[]);
            assert_close(weight, value("decibans"), what);
            let nats = weight * std::f64::consts::LN_10 / 10.0;
            assert_close(nats, value("nats"), what);
            assert_close(nats / std::f64::consts::LN_2, value("bits"), what);
            assert_close(nats.exp(), value("lr"), what);
        }
        n_cases += 1;
    }
    assert_eq!(n_cases, 9);
}

/// Source: `jaynes_two_hypotheses.json`; Jaynes 2003, ch. 4: a third or a sixth of the widgets are bad, prior odds 1:10.
#[test]
fn widgets_of_two_machines() {
    #[derive(Deserialize)]
    struct File {
        prior_odds_db: f64,
        cases: Vec<Case>,
    }
    #[derive(Deserialize)]
    struct Case {
        bad: usize,
        good: usize,
        evidence_db: f64,
        posterior: f64,
    }
    let file: File = json("jaynes_two_hypotheses.json");
    assert_eq!(file.cases.len(), 4);
    for case in file.cases {
        let draws = case.bad + case.good;
        let bench = Bench::new(
            &[1.0 / 11.0, 10.0 / 11.0],
            &vec![vec![1.0 / 3.0, 1.0 / 6.0]; draws],
        );
        assert_close(bench.decibans(0, &[]), file.prior_odds_db, "prior");
        let seen: Vec<(usize, bool)> = (0..draws).map(|i| (i, i < case.bad)).collect();
        let what = format!("{} bad, {} good", case.bad, case.good);
        assert_close(bench.decibans(0, &seen), case.evidence_db, &what);
        assert_close(bench.posterior(&seen)[0], case.posterior, &what);
        // The figure the page prints.
        if case.bad == 12 {
            assert_eq!(format!("{:+.0}", bench.decibans(0, &seen)), "+26");
        }
    }
}

#[derive(Deserialize)]
struct Composite {
    items: Vec<String>,
    prior: BTreeMap<String, f64>,
    likelihood: BTreeMap<String, BTreeMap<String, f64>>,
    results: Vec<ForHypothesis>,
}

#[derive(Deserialize)]
struct ForHypothesis {
    hypothesis: String,
    prior: f64,
    posterior: f64,
    total_decibans: f64,
    single_item_weights: Vec<Weight>,
    sum_of_single: f64,
    sequential_weights: Vec<Weight>,
    sum_of_sequential: f64,
}

#[derive(Deserialize)]
struct Weight {
    item: String,
    decibans: f64,
}

/// Source: `composite_alternative.json`. With three hypotheses "not H" is a mixture, so weights of single items do not add
/// up to the total; weights in order do.
#[test]
fn three_hypotheses() {
    let example: Composite = json("composite_alternative.json");
    let makers: Vec<&String> = example.prior.keys().collect();
    let prior: Vec<f64> = example.prior.values().copied().collect();
    let of_item = |item: &String| {
        makers
            .iter()
            .map(|&m| example.likelihood[item][m])
            .collect()
    };
    let bench = Bench::new(
        &prior,
        &example.items.iter().map(of_item).collect::<Vec<_>>(),
    );
    assert_eq!(example.results.len(), 3);
    for expected in &example.results {
        let what = &expected.hypothesis;
        let h = makers.iter().position(|m| *m == what).unwrap();
        let seen: Vec<(usize, bool)> = (0..3).map(|i| (i, true)).collect();
        assert_close(bench.posterior(&[])[h], expected.prior, what);
        assert_close(bench.posterior(&seen)[h], expected.posterior, what);
        let shift = |from: &[(usize, bool)], to: &[(usize, bool)]| {
            bench.decibans(h, to) - bench.decibans(h, from)
        };
        let total = shift(&[], &seen);
        assert_close(total, expected.total_decibans, what);
        let (mut singles, mut in_order) = (0.0, 0.0);
        for i in 0..3 {
            assert_eq!(expected.single_item_weights[i].item, example.items[i]);
            let single = shift(&[], &seen[i..=i]);
            assert_close(single, expected.single_item_weights[i].decibans, what);
            let next = shift(&seen[..i], &seen[..=i]);
            assert_close(next, expected.sequential_weights[i].decibans, what);
            singles += single;
            in_order += next;
        }
        assert_close(singles, expected.sum_of_single, what);
        assert_close(in_order, expected.sum_of_sequential, what);
        assert!((singles - total).abs() > 0.5, "{what}");
        assert!((in_order - total).abs() < 1e-9, "{what}");
    }
}

/// The smallest pack that says the same as `composite_alternative.json`: three listed makers, three clues. The two answers
/// that every pack has, unlisted and reproduction, get a millionth of a millionth each.
fn composite_pack(example: &Composite) -> CompiledModel {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
    write("pack.toml", &pack_toml());
    write("makers.toml", &makers_toml(example));
    write("clues.toml", &clues_toml(example));
    let (mut sources, mut found) = (Sources::default(), Vec::new());
    let text = pack::read(folder.path(), &mut sources, &mut found).unwrap();
    let model = text.and_then(|text| check::check(&text, &sources, &mut found));
    let said = || found.iter().map(|d| d.message.clone()).collect::<Vec<_>>();
    model
        .unwrap_or_else(|| panic!("{:?}", said()))
        .compile()
        .unwrap()
}

fn pack_toml() -> String {
    let mut text = "[pack]\nname = \"Composite\"\n".to_owned();
    for (id, years) in [("P1", "1800/1850"), ("P2", "1950/1989")] {
        text += &format!("\n[[period]]\nid = \"{id}\"\nyears = \"{years}\"\n");
    }
    text += "\n[wording]\n";
    for rung in [
        "marked",
        "attributed",
        "works",
        "probably",
        "either",
        "region",
        "engraving",
        "copy",
    ] {
        text += &format!("{rung} = \"90%\"\n");
    }
    text
}

fn makers_toml(example: &Composite) -> String {
    let mut text = "region = [ { id = \"here\" } ]\n\n[shares]\nseen = 100\n".to_owned();
    let mut maker = |id: &str, share: f64, more: &str| {
        text += &format!(
            "\n[[maker]]\nid = \"{id}\"\nname = \"{id}\"\nregion = \"here\"\nyears = \"1800/1850\"\nshare = {share:?}\n{more}output = {{ say = {{ P1 = \"50%\", P2 = \"50%\" }}, seen = 10 }}\n"
        );
    };
    for (id, share) in &example.prior {
        // The last maker makes room for the two that are always there.
        let room = if id == "maker_c" { 2e-12 } else { 0.0 };
        maker(id, share - room, "");
    }
    maker("other", 1e-12, "role = \"unlisted\"\n");
    maker("copy", 1e-12, "role = \"reproduction\"\n");
    text
}

fn clues_toml(example: &Composite) -> String {
    let mut text = String::new();
    for (item, likelihood) in &example.likelihood {
        text += &format!(
            "\n[[clue]]\nid = \"{item}\"\nname = \"{item}\"\nkind = \"choice\"\nstates = [\"yes\", \"no\"]\ndepends_on = [\"maker\"]\nseen = 10\nrow = [\n"
        );
        for (maker, p) in likelihood {
            text += &format!(
                "  {{ maker = \"{maker}\", say = {{ yes = {p:?}, no = {:?} }} }},\n",
                1.0 - p
            );
        }
        text += "  { maker = [\"other\", \"copy\"], say = { yes = 0.5, no = 0.5 } },\n]\n";
    }
    text
}

/// Source: `composite_alternative.json`, through a pack and its audit. The two makers added move every figure by about
/// 1e-11 decibans.
#[test]
fn three_makers_through_a_pack() {
    let example: Composite = json("composite_alternative.json");
    let compiled = composite_pack(&example);
    let model = &compiled.model;
    let mut jug = Piece::new("composite");
    for item in &example.items {
        let clue = find_clue(model, item).unwrap();
        let look = Look::Seen(0);
        jug = jug.note(clue, look, "yes".to_owned(), model).unwrap();
    }
    for expected in &example.results {
        let question = Question::of(Claim::maker(&expected.hypothesis));
        let audit = compiled.audit_on(&jug, &question).unwrap();
        let near = |found: f64, figure: f64| {
            assert!(
                (found - figure).abs() < 1e-9,
                "{}: {found}, not {figure}",
                expected.hypothesis
            );
        };
        near(audit.prior, expected.prior);
        near(audit.posterior, expected.posterior);
        near(audit.total_decibans, expected.total_decibans);
        for (found, i) in audit.findings.iter().zip(0..) {
            near(found.in_order, expected.sequential_weights[i].decibans);
            near(found.alone, expected.single_item_weights[i].decibans);
        }
        let alone: f64 = audit.findings.iter().map(|f| f.alone).sum();
        near(alone, expected.sum_of_single);
        assert!((alone - audit.total_decibans).abs() > 0.5);
    }
}

/// Likelihood evidence of 4 to 1 weighs what a clue of 4 to 1 weighs.
///
/// Source: `woe.csv`, the case `taxi_witness_blue` (Tversky & Kahneman 1982, from memory): 6.0206 decibans.
#[test]
fn likelihood_evidence_weighs_its_ratio() {
    let example: Composite = json("composite_alternative.json");
    let compiled = composite_pack(&example);
    let model = &compiled.model;
    let clue = find_clue(model, "e1").unwrap();
    let unsure = uncertain(&model.catalogue.clues[clue], [("yes", 0.8), ("no", 0.2)]).unwrap();
    let jug = Piece::new("unsure")
        .note(clue, unsure, "4:1".to_owned(), model)
        .unwrap();
    let answer = compiled.ask(&jug).unwrap();
    let e1 = model.network.find("e1").unwrap();
    let before = answer.posterior.marginal_without_own_evidence(e1).unwrap();
    let after = answer.posterior.marginal(e1).unwrap();
    let odds = |p: &[f64]| p[0] / p[1];
    let weight = 10.0 * (odds(after) / odds(before)).log10();
    assert_close(weight, 6.020_599_913_279_624, "4 to 1");
}
