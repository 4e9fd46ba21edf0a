//! Packs with one number changed, every table written anew and the piece judged again: what a belief's row in the table says
//! of it must come out.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::Duration;

use saggar::cielab::Lab;
use saggar::model::{CompiledModel, Spread};
use saggar::network::{EvidenceItem, ItemContent, VariableId};
use saggar::piece::{Dimension, Look, Piece, find_clue, find_state, fragment};
use saggar::question::{Claim, Question};
use saggar::report::Shown;
use saggar::script::{self, Settings};
use saggar::sensitivity::{End, Follows, Moved, Sensitivity};
use saggar::source::Sources;
use saggar::units::Reading;
use saggar::{check, sensitivity};

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn compiled(pack: &str) -> CompiledModel {
    let (mut sources, mut found) = (Sources::default(), Vec::new());
    let model = check::load(&here(pack), &mut sources, &mut found).unwrap();
    model.unwrap().compile().unwrap()
}

fn noted(compiled: &CompiledModel, seen: &[(&str, &str)]) -> Piece {
    let model = &compiled.model;
    seen.iter().fold(Piece::new("x"), |piece, (clue, state)| {
        let index = find_clue(model, clue).unwrap();
        let state_idx = find_state(&model.catalogue.clues[index], state).unwrap();
        let look = Look::Seen(state_idx);
        piece.note(index, look, (*state).to_owned(), model).unwrap()
    })
}

const D2: [(&str, &str); 14] = [
    ("size", "V"),
    ("search", "full"),
    ("mark", "bell or beehive"),
    ("print", "blurred"),
    ("sluice", "cross"),
    ("weathercock", "right"),
    ("dovecote", "round"),
    ("weight", "1.10–1.20"),
    ("tint", "faint blue"),
    ("inclusions", "many"),
    ("foot", "recessed"),
    ("join", "gap"),
    ("wear", "tactile heavy"),
    ("colour", "mid"),
];

/// P(state, evidence) of every state of a variable, with numbers of beliefs changed: nothing but the model's own way to write
/// its tables, and one evaluation.
fn anew(
    compiled: &CompiledModel,
    piece: &Piece,
    variable: VariableId,
    changes: &[(usize, usize, f64)],
) -> Vec<f64> {
    let model = &compiled.model;
    let mut values = model.beliefs.stated();
    for &(belief, cell, x) in changes {
        let (id, stated) = model.beliefs.iter().nth(belief).unwrap();
        values
            .of_mut(id)
            .copy_from_slice(&moved(&stated.spread, cell, x));
    }
    let mut parameters = compiled.parameters.clone();
    model.write_tables(&values, &mut parameters);
    let mut evidence = piece.evidence(model, &values).unwrap().evidence;
    // A stated belief counts by the likelihoods that made it true with the pack as stated.
    let stated = compiled.ask(piece).unwrap().entered.evidence;
    for (item, content) in stated.items() {
        if let (EvidenceItem::Variable(id), ItemContent::Likelihood(values)) = (item, content)
            && evidence.finding(id).is_none()
        {
            evidence.likelihood(id, values.to_vec());
        }
    }
    let posterior = compiled.circuit.evaluate(&parameters, &evidence).unwrap();
    let p = posterior.log_evidence().exp();
    let marginal = posterior.marginal(variable).unwrap();
    marginal.iter().map(|q| q * p).collect()
}

/// One number of a belief at `x`: a chance with the others in proportion, a mean, a standard deviation with the correlations.
fn moved(spread: &Spread, cell: usize, x: f64) -> Vec<f64> {
    match spread {
        Spread::Categorical { say } => {
            let share = |j: usize| say[j] / (1.0 - say[cell]) * (1.0 - x);
            let of = |j: usize| if j == cell { x } else { share(j) };
            (0..say.len()).map(of).collect()
        }
        Spread::Normal { mean, sd } => {
            if cell == 0 {
                vec![x, *sd]
            } else {
                vec![*mean, x]
            }
        }
        Spread::Trivariate { mean, covariance } => {
            let mut cells = mean.to_vec();
            cells.extend(covariance);
            if cell < 3 {
                cells[cell] = x;
                return cells;
            }
            let axis = cell - 3;
            let sd = [covariance[0], covariance[3], covariance[5]].map(f64::sqrt);
            let scaled = |i: usize| if i == axis { x } else { sd[i] };
            let pairs = [(0, 0), (0, 1), (0, 2), (1, 1), (1, 2), (2, 2)];
            for (place, (i, j)) in pairs.into_iter().enumerate() {
                let correlation = covariance[place] / (sd[i] * sd[j]);
                cells[3 + place] = correlation * scaled(i) * scaled(j);
            }
            cells
        }
    }
}

/// A question, and who could take the lead, by states of a variable.
struct Asked<'a> {
    compiled: &'a CompiledModel,
    piece: &'a Piece,
    variable: VariableId,
    claim: Vec<usize>,
    alternative: Vec<usize>,
    leading: Vec<usize>,
    rivals: Vec<Vec<usize>>,
}

fn sum(masses: &[f64], states: &[usize]) -> f64 {
    states.iter().map(|&s| masses[s]).sum()
}

impl Asked<'_> {
    /// Probability of the claim, and by which part of all the lead is ahead of the nearest rival.
    fn at(&self, changes: &[(usize, usize, f64)]) -> (f64, f64) {
        let masses = anew(self.compiled, self.piece, self.variable, changes);
        let (claim, alternative) = (sum(&masses, &self.claim), sum(&masses, &self.alternative));
        let ahead = |rival: &Vec<usize>| sum(&masses, &self.leading) - sum(&masses, rival);
        let lead = self.rivals.iter().map(ahead).fold(f64::INFINITY, f64::min);
        (claim / (claim + alternative), lead / (claim + alternative))
    }

    fn check(&self, sensitivity: &Sensitivity) {
        let (stated, _) = self.at(&[]);
        assert!((sensitivity.probability - stated).abs() < 1e-12);
        for moved in &sensitivity.moved {
            self.check_row(moved, stated);
        }
        for pair in &sensitivity.pairs {
            self.check_pair(sensitivity, pair);
        }
        let spans = sensitivity.moved.iter().map(|m| m.range[1] - m.range[0]);
        assert!(spans.collect::<Vec<f64>>().is_sorted_by(|a, b| a >= b));
    }

    fn check_row(&self, moved: &Moved, stated: f64) {
        let what = format!("{}: {}", moved.about, moved.number);
        let at = |x: f64| self.at(&[(moved.belief, moved.cell, x)]);
        for End {
            value,
            probability,
            bounds,
            ..
        } in [moved.low, moved.high]
        {
            let (expected, _) = at(value);
            assert!(
                (probability - expected).abs() < 1e-10,
                "{what} at {value}: {probability}, not {expected}"
            );
            let slack = 1e-9;
            assert!(
                bounds[0] - slack <= expected && expected <= bounds[1] + slack,
                "{what}: {bounds:?}"
            );
        }
        let (low, high) = (moved.low.value, moved.high.value);
        for part in [0.25, 0.5, 0.8] {
            let (p, _) = at(low + (high - low) * part);
            let slack = if moved.follows == Follows::Linear {
                1e-10
            } else {
                1e-3
            };
            assert!(
                moved.range[0] - slack <= p && p <= moved.range[1] + slack,
                "{what}: {p}"
            );
        }
        let ends = [&moved.tips_below, &moved.tips_above]
            .into_iter()
            .zip(moved.searched);
        for (tip, end) in ends {
            let until = tip.as_ref().map_or(end, |tip| tip.value);
            if let Some(tip) = tip {
                // Up to the point the lead holds, at it no longer. (It may be lost in a jump: shares brought back to one have
                // nothing left to be brought back where all of them are said of what is not at hand.)
                let (_, lead) = at(tip.value);
                let (_, before) = at(tip.value + (moved.stated - tip.value) * 1e-9);
                assert!(
                    lead <= 1e-8 && before >= -1e-8,
                    "{what} tips at {}: {before}, {lead}",
                    tip.value
                );
                let beyond =
                    tip.value + (tip.value - moved.stated).signum() * 1e-6 * tip.value.abs();
                let inside = (moved.searched[0]..=moved.searched[1]).contains(&beyond);
                assert!(!inside || at(beyond).1 < 0.0, "{what}");
            }
            for part in [0.1, 0.5, 0.9, 0.999] {
                let x = moved.stated + (until - moved.stated) * part;
                assert!(
                    at(x).1 >= -1e-9,
                    "{what}: something else leads at {x} before {until}"
                );
            }
        }
        let h = 1e-5 * (high - low).max(1e-3);
        let room = moved.searched[0] <= moved.stated - h && moved.stated + h <= moved.searched[1];
        if let (Some(derivative), true) = (moved.derivative, room) {
            let slope = (at(moved.stated + h).0 - at(moved.stated - h).0) / (2.0 * h);
            let error = (derivative - slope).abs();
            assert!(
                error < 1e-5 * (1.0 + slope.abs()) + 1e-13 / h,
                "{what}: {derivative}, not {slope}"
            );
        }
        // Where nothing has moved, nothing has changed.
        if moved.low.value == moved.stated {
            assert!((moved.low.probability - stated).abs() < 1e-12, "{what}");
        }
    }

    fn check_pair(&self, sensitivity: &Sensitivity, pair: &sensitivity::Pair) {
        let named = |name: &str| {
            let is_it = |m: &&Moved| format!("{}: {}", m.about, m.number) == name;
            sensitivity.moved.iter().find(is_it).unwrap()
        };
        let (first, second) = (named(&pair.first), named(&pair.second));
        let at = |x: f64, y: f64| {
            let changes = [
                (first.belief, first.cell, x),
                (second.belief, second.cell, y),
            ];
            self.at(&changes)
        };
        for corner in [pair.low, pair.high] {
            let (p, _) = at(corner.first, corner.second);
            assert!(
                (corner.probability - p).abs() < 1e-10,
                "{} and {}",
                pair.first,
                pair.second
            );
        }
        let mut holds = true;
        for i in 0..=6 {
            for j in 0..=6 {
                let part = |m: &Moved, k: i32| {
                    m.low.value + (m.high.value - m.low.value) * f64::from(k) / 6.0
                };
                let (p, lead) = at(part(first, i), part(second, j));
                holds &= lead >= 0.0;
                assert!(
                    pair.low.probability - 1e-10 <= p && p <= pair.high.probability + 1e-10,
                    "{} and {}: {p}",
                    pair.first,
                    pair.second
                );
            }
        }
        assert_eq!(holds, pair.lead_holds, "{} and {}", pair.first, pair.second);
    }
}

/// What the leader's lead hangs on.
fn check_leader(compiled: &CompiledModel, piece: &Piece, top: usize) -> Sensitivity {
    let sensitivity = compiled.sensitivity(piece, top).unwrap();
    let makers = &compiled.model.catalogue.makers;
    let leader = makers
        .iter()
        .position(|m| format!("{} {}", m.id, m.name) == sensitivity.leads)
        .unwrap();
    let others: Vec<usize> = (0..makers.len()).filter(|&m| m != leader).collect();
    let asked = Asked {
        compiled,
        piece,
        variable: compiled.model.catalogue.maker,
        claim: vec![leader],
        alternative: others.clone(),
        leading: vec![leader],
        rivals: others.into_iter().map(|m| vec![m]).collect(),
    };
    asked.check(&sensitivity);
    sensitivity
}

fn forms(sensitivity: &Sensitivity) -> (usize, usize, usize) {
    let n = |is: fn(&Follows) -> bool| {
        let of = sensitivity.moved.iter().filter(|m| is(&m.follows));
        of.count()
    };
    (
        n(|f| *f == Follows::Linear),
        n(|f| matches!(f, Follows::Polynomial { .. })),
        n(|f| *f == Follows::Curve),
    )
}

/// All numbers of the demonstration pack that the half mark's verdict can depend on: rows of one table, a coder's eye on three
/// codings at once, shares of marks, means and spreads of weights.
#[test]
fn every_number_of_the_demonstration_pack() {
    let compiled = compiled("priors/tidewheel");
    let piece = noted(&compiled, &D2);
    let sensitivity = check_leader(&compiled, &piece, usize::MAX);
    assert_eq!(sensitivity.moved.len(), sensitivity.numbers);
    let (linear, polynomial, curve) = forms(&sensitivity);
    assert!(
        linear > 500 && polynomial > 0 && curve > 30,
        "{linear} {polynomial} {curve}"
    );
    assert!(sensitivity.pairs.iter().any(|pair| pair.exact));
    assert!(sensitivity.pairs.iter().any(|pair| !pair.exact));
}

/// A mark read letter by letter depends on how letters are lost and misread; a belief stated beside it stays as it counted.
#[test]
fn numbers_behind_a_fragment_and_a_stated_belief() {
    let compiled = compiled("priors/tidewheel");
    let model = &compiled.model;
    let piece = noted(
        &compiled,
        &[
            ("size", "IV"),
            ("search", "full"),
            ("print", "clear"),
            ("foot", "single"),
        ],
    );
    let seen = [("ribbon", "partly seen"), ("lantern", "not seen")];
    let (clue, look, said) = fragment(model, "T? & U", Some("part-struck"), seen).unwrap();
    let piece = piece.note(clue, look, said, model).unwrap();
    let tint = find_clue(model, "tint").unwrap();
    let look = Look::Believed(vec![0.1, 0.5, 0.3, 0.1]);
    let piece = piece
        .note(tint, look, "believed".to_owned(), model)
        .unwrap();
    let sensitivity = check_leader(&compiled, &piece, 40);
    let of_letters = |m: &Moved| m.citation.contains("lettering.toml");
    assert!(sensitivity.moved.iter().any(of_letters));
}

/// Hidden qualities, a grade judged by eye and a colour measured, a mass with its tolerance, wear put on.
#[test]
fn numbers_behind_colours_and_weights() {
    let compiled = compiled("tests/packs/moor_ware");
    let model = &compiled.model;
    let seen = [
        ("light", "daylight"),
        ("tint", "blue"),
        ("inclusions", "few"),
        ("wear", "heavy"),
        ("foot", "double"),
        ("body", "earthenware"),
    ];
    let colour = find_clue(model, "colour").unwrap();
    let lab = Lab {
        l: 86.0,
        a: -2.9,
        b: -1.5,
    };
    let look = Look::Coloured { lab, spread: None };
    let piece = noted(&compiled, &seen);
    let piece = piece
        .note(colour, look, "measured".to_owned(), model)
        .unwrap();
    let weight = find_clue(model, "weight of hollow ware").unwrap();
    let look = Look::Weighed {
        mass: Reading::exact(410.0),
        per: Some(Dimension::Capacity(Reading::exact(0.7).into())),
    };
    let piece = piece
        .note(weight, look, "weighed".to_owned(), model)
        .unwrap();
    let sensitivity = check_leader(&compiled, &piece, usize::MAX);
    let (linear, _, curve) = forms(&sensitivity);
    assert!(linear > 20 && curve > 20, "{linear} {curve}");
}

/// Engravings with a history: shares of use brought back to one, wear raised to the power of years, readings of worn plates.
#[test]
fn numbers_behind_engravings_with_a_history() {
    let compiled = compiled("tests/packs/fell_ware");
    let seen = [
        ("size", "10 in"),
        ("print", "clear"),
        ("sails", "6"),
        ("bridge", "arched"),
        ("shading", "middle"),
        ("technique", "line"),
        ("impression", "faded"),
        ("foot", "single"),
    ];
    let sensitivity = check_leader(&compiled, &noted(&compiled, &seen), usize::MAX);
    let (linear, _, curve) = forms(&sensitivity);
    assert!(linear > 20 && curve > 5, "{linear} {curve}");
    let about = |word: &str| sensitivity.moved.iter().any(|m| m.about.contains(word));
    assert!(
        about("shading") && about("technique"),
        "{:?}",
        sensitivity.moved
    );
}

/// Any question: a claim over two variables against a maker.
#[test]
fn a_claim_over_several_variables() {
    let compiled = compiled("priors/tidewheel");
    let piece = noted(&compiled, &D2);
    let early = Claim::Between {
        first: "P3".to_owned(),
        last: "P4".to_owned(),
    };
    let question =
        Question::of(Claim::region("Saltharrow").and(early)).against(Claim::maker("K11"));
    let sensitivity = compiled.sensitivity_on(&piece, &question, 25).unwrap();
    assert!(sensitivity.of_two_alone);
    let posed = compiled.pose(&question).unwrap();
    let masses = anew(&posed.compiled, &piece, posed.variable, &[]);
    let (claim, alternative) = (posed.hypothesis.clone(), posed.alternative.clone());
    let (leading, rival) = if sum(&masses, &claim) >= sum(&masses, &alternative) {
        (claim, alternative)
    } else {
        (alternative, claim)
    };
    let asked = Asked {
        compiled: &posed.compiled,
        piece: &piece,
        variable: posed.variable,
        claim: posed.hypothesis.clone(),
        alternative: posed.alternative.clone(),
        leading,
        rivals: vec![rival],
    };
    asked.check(&sensitivity);
}

fn shown(text: &str) -> Vec<Shown> {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("script.rhai");
    std::fs::write(&path, text).unwrap();
    let results: Arc<Mutex<Vec<Shown>>> = Arc::default();
    let sink = Arc::clone(&results);
    let settings = Settings {
        time_limit: Duration::from_secs(120),
        ..Settings::new(here("priors"))
    };
    let finished = script::run(&path, settings, move |s| sink.lock().unwrap().push(s)).unwrap();
    if let Some(failure) = finished.failure {
        panic!("{:?}", failure.diagnostics);
    }
    std::mem::take(&mut *results.lock().unwrap())
}

#[test]
fn as_an_appraiser_reads_it() {
    let script = std::fs::read_to_string(here("scripts/d2_partial_mark.rhai")).unwrap();
    let (described, _) = script.split_once("\nshow(").unwrap();
    let asked = r#"
        show(jug.sensitivity());
        show(jug.sensitivity(maker("K07").against(maker("K11")), 4));
        show(jug.sensitivity(region("Saltharrow").and(between("P3", "P4")), 3));
    "#;
    let results = shown(&format!("{described}{asked}"));
    let text: Vec<String> = results.iter().map(Shown::to_text).collect();
    insta::assert_snapshot!(text.join("\n"));
}

/// What a coding reads as depends on how clear the print is, a circumstance without a probability: the claim is named, not a
/// variable.
#[test]
fn what_cannot_be_asked_says_why() {
    let compiled = compiled("priors/tidewheel");
    let question = Question::of(Claim::is("wheel", "10"));
    let ask = |piece: &Piece| compiled.sensitivity_on(piece, &question, 3);
    let message = ask(&Piece::new("x")).unwrap_err().to_string();
    assert!(
        message.starts_with("`wheel 10` cannot be judged without `print`"),
        "{message}"
    );
    let seen = noted(&compiled, &[("size", "V"), ("print", "blurred")]);
    assert!(ask(&seen).is_ok());
}

/// With nothing noted, the answer is the share of each maker, and hangs on nothing else; no number is told of more than asked.
#[test]
fn before_any_finding() {
    let compiled = compiled("priors/tidewheel");
    let sensitivity = check_leader(&compiled, &Piece::new("x"), 5);
    assert_eq!(sensitivity.beliefs, 1);
    assert_eq!(sensitivity.moved.len(), 5);
    for moved in &sensitivity.moved {
        assert!(
            moved.about.starts_with("share of each maker"),
            "{}",
            moved.about
        );
        assert_eq!(moved.follows, Follows::Linear);
    }
}
