//! A fragment as evidence.

use proptest::prelude::*;
use saggar::mark::{StrikeQuality, ln_probability};
use saggar::network::VariableId;
use saggar::piece::{Look, Piece, PieceError, find_clue};
use saggar::query::{AskError, marginal};
use saggar::stress::StressPlan;

use super::{compile, read, seen, tidewheel};

/// P(letters | mark), by position in the registry, under one quality of strike; a stranger's last.
fn likelihoods(letters: &str, quality: StrikeQuality) -> Vec<f64> {
    let model = &tidewheel().model;
    let rules = model.lettering.as_ref().unwrap();
    let (reading, chances) = rules.at(&model.beliefs.stated());
    let encoded = rules.note(letters, None, []).unwrap().encoded;
    let letterings = rules.marks.iter().map(|mark| &mark.lettering);
    letterings
        .chain([&rules.unknown])
        .map(|lettering| {
            ln_probability(&reading, lettering, &encoded, &chances[quality.index()]).exp()
        })
        .collect()
}

/// P(smeared | strike full, partial, lost), as lettering.toml says; a mark that is not there looks like nothing.
const SMEARED: [f64; 4] = [0.07, 0.20, 0.40, 0.0];

/// The joint of maker and fragment summed by hand over period, mark, strike and stray initials, from the network's tables.
fn by_enumeration(letters: &str, search: usize) -> Vec<f64> {
    let compiled = tidewheel();
    let model = &compiled.model;
    let network = &model.network;
    let find = |name: &str| network.find(name).unwrap();
    let ids = [
        "maker",
        "period",
        "mark_kind",
        "strike",
        "stray",
        "mark",
        "search",
    ]
    .map(find);
    let [maker, period, mark_kind, strike, stray, mark, search_id] = ids;
    let n = |id| network.n_states(id);
    // A chance from a table, its parents taken by name.
    let chance = |id: VariableId, state: usize, given: &[(VariableId, usize)]| -> f64 {
        let of = |parent: VariableId| given.iter().find(|(id, _)| *id == parent).unwrap().1;
        network.cpt(id).table[(state, network.configuration(id, of))]
    };
    let likelihood = likelihoods(letters, StrikeQuality::Smeared);
    let none_found = network
        .variable(mark)
        .states
        .iter()
        .position(|state| state == "none found")
        .unwrap();
    (0..n(maker))
        .map(|m| {
            let mut sum = 0.0;
            for p in 0..n(period) {
                let origin = [(maker, m), (period, p)];
                let here = chance(maker, m, &[]) * chance(period, p, &origin);
                for k in 0..n(mark_kind) {
                    for (s, smeared) in SMEARED.into_iter().enumerate() {
                        for y in 0..2 {
                            let all = [
                                (maker, m),
                                (period, p),
                                (mark_kind, k),
                                (strike, s),
                                (stray, y),
                                (search_id, search),
                            ];
                            let joint = here
                                * chance(mark_kind, k, &origin)
                                * chance(strike, s, &all)
                                * chance(stray, y, &origin);
                            let found = 1.0 - chance(mark, none_found, &all);
                            let read = match (y, k) {
                                (0, _) => SMEARED[0] * likelihood[19],
                                (_, 0) => 0.0,
                                _ => smeared * likelihood[k - 1],
                            };
                            sum += joint * found * read;
                        }
                    }
                }
            }
            sum
        })
        .collect()
}

#[test]
fn a_fragment_moves_the_makers_as_enumeration_says() {
    let compiled = tidewheel();
    for (search, state) in [(0, "quick"), (1, "full")] {
        let states = &compiled.model.catalogue.clue("search").unwrap().states;
        assert_eq!(states[search], state);
        for letters in ["T? & U", "?W[&8]", "J R", "TARROWBY"] {
            let piece = seen(compiled, &[("search", state)]);
            let piece = read(compiled, &piece, letters, Some("smeared"), &[]).unwrap();
            let answer = compiled.ask(&piece).unwrap();
            let joint = by_enumeration(letters, search);
            let total: f64 = joint.iter().sum();
            let log_evidence = answer.posterior.log_evidence();
            assert!((log_evidence - total.ln()).abs() < 1e-12, "{letters}");
            let got = marginal(&answer.posterior, compiled.model.catalogue.maker);
            for (got, joint) in got.iter().zip(&joint) {
                assert!((got - joint / total).abs() < 1e-12, "{letters}");
            }
        }
    }
}

/// The posterior of a maker by its short code.
fn maker(piece: &Piece, id: &str) -> f64 {
    let verdict = tidewheel().verdict(piece).unwrap();
    let share = verdict.makers.iter().find(|m| m.id == id);
    share.unwrap().probability
}

const D3: [(&str, &str); 2] = [("size", "IV"), ("search", "full")];

#[test]
fn one_letter_turns_the_verdict_from_one_firm_to_the_other() {
    let compiled = tidewheel();
    let bare = seen(compiled, &D3);
    let with = |letters| read(compiled, &bare, letters, None, &[]).unwrap();
    assert!(maker(&with("T & U"), "K07") > 0.9);
    // The full mark of K02 is also the one that reproductions bear: both rise, and nobody else.
    let full = with("T Q & U");
    assert!(maker(&full, "K02") + maker(&full, "R") > 0.95);
    assert!(maker(&full, "R") > maker(&bare, "R"));
    // A letter in doubt lies between.
    let doubt = maker(&with("T[QX] & U"), "K07");
    assert!(maker(&full, "K07") <= doubt && doubt < maker(&with("T & U"), "K07"));
}

#[test]
fn initials_of_nobody_point_off_the_list() {
    let compiled = tidewheel();
    let piece = read(compiled, &seen(compiled, &D3), "J R", Some("clear"), &[]).unwrap();
    assert!(maker(&piece, "U") > 0.5);
    // ... and rule nobody out.
    let verdict = compiled.verdict(&piece).unwrap();
    assert!(verdict.makers.iter().all(|m| m.probability > 0.0));
}

#[test]
fn not_looked_for_an_absent_mark_and_a_fragment_are_three_things() {
    let compiled = tidewheel();
    let bare = seen(compiled, &D3);
    let index = find_clue(&compiled.model, "mark").unwrap();
    let fragment = read(compiled, &bare, "T & U", None, &[]).unwrap();
    assert_eq!(fragment.without(index), bare);
    let absent = seen(compiled, &[D3[0], D3[1], ("mark", "none found")]);
    // K05 marked nine jugs in ten: without a mark it falls; a mark not looked for leaves it where it was.
    assert!(maker(&absent, "K05") < 0.5 * maker(&bare, "K05"));
    let nothing = seen(compiled, &[("size", "IV")]);
    assert!((maker(&bare, "K05") - maker(&nothing, "K05")).abs() < 1e-12);
    // One mark is not noted twice, once by its letters and once by a reading.
    let twice = read(compiled, &absent, "T & U", None, &[]).unwrap_err();
    assert!(matches!(twice, PieceError::Contradicts { .. }), "{twice}");
}

/// A device not spoken of says nothing; one looked for and not seen speaks against the marks that have it.
#[test]
fn devices_weigh_by_what_was_seen_of_them() {
    let compiled = tidewheel();
    let ratio = |looked_for: &[(&str, &str)]| {
        let looked_for = looked_for.iter().copied();
        let ranking = compiled
            .model
            .rank_marks("T? & U", Some("part-struck"), looked_for)
            .unwrap();
        let ln = |name: &str| {
            let mark = ranking.marks.iter().find(|m| m.mark == name);
            mark.unwrap().ln_likelihood
        };
        (ln("printed ribbon T&U") - ln("printed lantern TQ&U")).exp()
    };
    let without = ratio(&[]);
    // From lettering.toml: part-struck, there: 25, 45, 30; not there: 1, 4, 95 in 100.
    let expected = without * (0.45 / 0.04) * (0.95 / 0.30);
    let got = ratio(&[("ribbon", "partly seen"), ("lantern", "not seen")]);
    assert!((got / expected - 1.0).abs() < 1e-12);
    let against = ratio(&[("ribbon", "not seen"), ("lantern", "seen")]);
    assert!((against / (without * (0.30 / 0.95) * (0.01 / 0.25)) - 1.0).abs() < 1e-12);
}

/// The four stated qualities share out what is read when none is stated.
#[test]
fn stated_qualities_add_to_the_unstated() {
    let model = &tidewheel().model;
    let ln = |quality| -> Vec<(String, f64)> {
        let looked_for = [("lantern", "partly seen")];
        let ranking = model.rank_marks("T[QO]?U", quality, looked_for).unwrap();
        let mut marks: Vec<_> = ranking
            .marks
            .into_iter()
            .map(|m| (m.mark, m.ln_likelihood))
            .collect();
        marks.sort_by(|a, b| a.0.cmp(&b.0));
        marks
    };
    let stated = StrikeQuality::ALL.map(|quality| ln(Some(quality.name())));
    for (position, (mark, whole)) in ln(None).into_iter().enumerate() {
        let sum: f64 = stated.iter().map(|marks| marks[position].1.exp()).sum();
        assert!((sum / whole.exp() - 1.0).abs() < 1e-12, "{mark}");
    }
    // By hand for one of them: printed marks strike 75, 20, 5 in 100 full, partial, lost.
    let smeared = 0.75 * SMEARED[0] + 0.20 * SMEARED[1] + 0.05 * SMEARED[2];
    let letters = likelihoods("T[QO]?U", StrikeQuality::Smeared)[2];
    let got = &stated[3]
        .iter()
        .find(|(mark, _)| mark == "printed lantern TQ&U");
    let expected = smeared * letters * 0.35;
    assert!((got.unwrap().1.exp() / expected - 1.0).abs() < 1e-12);
}

/// A half-struck bell looks like a beehive, and a companion may or may not stand beside its mark.
#[test]
fn look_alikes_and_companions_have_chances_of_their_own() {
    let folder = edited(&[(
        "marks.toml",
        r#"devices = ["ribbon"],    text = "P & S" }"#,
        r#"devices = ["ribbon"],    text = "P & S", companions = ["pattern name"] }"#,
    )]);
    let compiled = compile(folder.path());
    let ln = |mark: &str, looked_for: &[(&str, &str)]| {
        let looked_for = looked_for.iter().copied();
        let ranking = compiled
            .model
            .rank_marks("P & S", Some("faint"), looked_for);
        let marks = ranking.unwrap().marks;
        marks.iter().find(|m| m.mark == mark).unwrap().ln_likelihood
    };
    // From lettering.toml, faint: there 50, 35, 15; alike 6, 30, 64; companion 40, 20, 40; not there 1, 4, 95 in 100.
    for (mark, thing, seen, expected) in [
        ("impressed bell", "bell", "partly seen", 0.35),
        ("impressed beehive", "bell", "partly seen", 0.30),
        ("impressed star", "bell", "partly seen", 0.04),
        ("printed ribbon P&S", "pattern name", "seen", 0.40),
        ("printed ribbon P&S", "pattern name", "not seen", 0.40),
        ("printed ribbon SV", "pattern name", "seen", 0.01),
        ("printed ribbon SV", "pattern name", "not seen", 0.95),
    ] {
        let got = (ln(mark, &[(thing, seen)]) - ln(mark, &[])).exp();
        assert!(
            (got / expected - 1.0).abs() < 1e-12,
            "{mark}, {thing} {seen}: {got}"
        );
    }
}

/// A copy of the demonstration pack with places of its files changed, each there exactly once.
fn edited(edits: &[(&str, &str, &str)]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for entry in std::fs::read_dir("priors/tidewheel").unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap();
        let mut text = std::fs::read_to_string(&path).unwrap();
        for (_, old, new) in edits.iter().filter(|(file, ..)| *file == name) {
            assert_eq!(text.matches(old).count(), 1, "{old}");
            text = text.replace(old, new);
        }
        std::fs::write(folder.path().join(name), text).unwrap();
    }
    folder
}

/// The famous mark stands on the firm's own ware and, as it is, on reproductions; an imitation of it has an entry of its
/// own. All three remain possible whatever is read, each as likely as its letters make it.
#[test]
fn a_true_mark_on_a_copy_and_an_imitated_mark_are_both_possible() {
    let folder = edited(&[
        (
            "marks.toml",
            r#"  { id = "modern",                method"#,
            r#"  { id = "imitation TO&U", method = "printed", devices = ["lantern"], text = "T O & U" },
  { id = "modern",                method"#,
        ),
        (
            "marks.toml",
            r#"{ mark = "modern",                say = "10%" },"#,
            r#"{ mark = "modern", say = "5%" }, { mark = "imitation TO&U", say = "5%" },"#,
        ),
        (
            "marks.toml",
            r#"{ strike = "full", mark_kind = "modern", "#,
            r#"{ strike = "full", mark_kind = ["modern", "imitation TO&U"], "#,
        ),
        (
            "marks.toml",
            r#""other", "modern"], say"#,
            r#""other", "modern", "imitation TO&U"], say"#,
        ),
    ]);
    let compiled = compile(folder.path());
    let shares = |letters: &str| {
        let piece = seen(&compiled, &D3);
        let piece = read(
            &compiled,
            &piece,
            letters,
            Some("clear"),
            &[("lantern", "seen")],
        );
        let verdict = compiled.verdict(&piece.unwrap()).unwrap();
        let of = |id| {
            verdict
                .makers
                .iter()
                .find(|m| m.id == id)
                .unwrap()
                .probability
        };
        (of("K02"), of("R"))
    };
    let (own, copy) = shares("T Q & U");
    assert!(own > 0.5 && copy > 0.0005, "{own} {copy}");
    let (own_if_o, copy_if_o) = shares("T O & U");
    assert!(
        copy_if_o > 10.0 * copy && own_if_o > 0.01,
        "{own_if_o} {copy_if_o}"
    );
    assert!(copy_if_o + own_if_o > 0.99);
}

#[test]
fn the_audit_names_the_fragment_and_the_entries_of_its_marks() {
    let compiled = tidewheel();
    let piece = read(
        compiled,
        &seen(compiled, &D3),
        "T? & U",
        Some("part-struck"),
        &[("ribbon", "seen")],
    )
    .unwrap();
    let audit = compiled.audit(&piece).unwrap();
    let finding = audit.findings.last().unwrap();
    assert_eq!(finding.said, "reads T? & U, part-struck, ribbon seen");
    let marks = std::fs::read_to_string("priors/tidewheel/marks.toml").unwrap();
    let line = marks
        .lines()
        .position(|line| line.contains("id = \"printed ribbon T&U\""))
        .unwrap();
    let [row] = &finding.rows[..] else {
        panic!("{:?}", finding.rows);
    };
    assert!(row.ends_with(&format!("marks.toml:{}", line + 1)), "{row}");
    let shift = audit.posterior_decibans - audit.prior_decibans;
    assert!((audit.total_decibans - shift).abs() < 1e-9);
    assert!(finding.in_order > 10.0);
}

/// The beliefs about reading are doubted with all others: the answer scatters more than with the maker prior alone, and
/// the same seed gives the same figures.
#[test]
fn a_stress_run_doubts_the_reading_too() {
    let compiled = tidewheel();
    let piece = read(compiled, &seen(compiled, &D3), "T? & U", None, &[]).unwrap();
    let run = |seed| compiled.stress(&piece, &StressPlan::new(60, seed)).unwrap();
    assert_eq!(run(5).mean, run(5).mean);
    assert_ne!(run(5).mean, run(6).mean);
    let reading: Vec<_> = compiled
        .model
        .beliefs
        .iter()
        .filter(|(_, belief)| belief.about.starts_with("letters"))
        .map(|(id, _)| id)
        .collect();
    assert_eq!(reading.len(), 22);
    let only = compiled
        .stress(&piece, &StressPlan::new(60, 5).over(&reading))
        .unwrap();
    assert!(only.high.value > only.low.value, "{only:?}");
}

/// Fragments change nothing for a piece that has none, whatever is doubted.
#[test]
fn without_lettering_the_rest_of_the_pack_answers_the_same() {
    let folder = tempfile::tempdir().unwrap();
    for entry in std::fs::read_dir("priors/tidewheel").unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap();
        if name != "lettering.toml" {
            std::fs::copy(&path, folder.path().join(name)).unwrap();
        }
    }
    let plain = compile(folder.path());
    let with = tidewheel();
    let states = [D3[0], D3[1], ("mark", "ribbon T?&U"), ("tint", "blue")];
    let (a, b) = (seen(&plain, &states), seen(with, &states));
    let (x, y) = (plain.ask(&a).unwrap(), with.ask(&b).unwrap());
    let makers = |answer: &saggar::query::Answer| {
        marginal(&answer.posterior, with.model.catalogue.maker).to_vec()
    };
    for (x, y) in makers(&x).iter().zip(makers(&y)) {
        assert!((x - y).abs() < 1e-14);
    }
    let stress = |compiled: &saggar::model::CompiledModel, piece| {
        let stress = compiled.stress(piece, &StressPlan::new(40, 3)).unwrap();
        stress.mean.value
    };
    assert!((stress(&plain, &a) - stress(with, &b)).abs() < 1e-12);
    // And a fragment is refused with the remedy.
    let refused = read(
        &plain,
        &a.without(find_clue(&plain.model, "mark").unwrap()),
        "T",
        None,
        &[],
    );
    let said = refused.unwrap_err();
    assert_eq!(said, PieceError::NoLettering);
    assert!(said.to_string().contains("give it a lettering.toml"));
}

#[test]
fn a_fragment_needs_the_search_it_was_found_by() {
    let compiled = tidewheel();
    let piece = read(compiled, &Piece::new("jug"), "T & U", None, &[]).unwrap();
    let error = compiled.ask(&piece).unwrap_err();
    assert!(
        matches!(&error, AskError::CircumstanceNotGiven { circumstance, needed_by, .. }
            if circumstance == "search" && needed_by == "mark"),
        "{error}"
    );
}

/// Letters that nothing explains leave a posterior, not a contradiction or a division by nothing.
#[test]
fn sixty_strange_letters_still_have_an_answer() {
    let compiled = tidewheel();
    let letters = "XZ".repeat(30);
    let piece = read(compiled, &seen(compiled, &D3), &letters, Some("clear"), &[]).unwrap();
    let answer = compiled.ask(&piece).unwrap();
    let p = marginal(&answer.posterior, compiled.model.catalogue.maker);
    assert!((p.iter().sum::<f64>() - 1.0).abs() < 1e-12);
    assert!(answer.posterior.log_evidence().is_finite());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    /// Whatever is read, makers stay a distribution, and the clue of the finding is the mark.
    #[test]
    fn any_fragment_has_an_answer(letters in "[?_]?[A-Z&.]{1,6}\\??[A-Z]{0,3}") {
        let compiled = tidewheel();
        if let Ok(piece) = read(compiled, &seen(compiled, &D3), &letters, None, &[]) {
            prop_assert!(matches!(piece.findings().last().unwrap().look, Look::Fragment(_)));
            let verdict = compiled.verdict(&piece).unwrap();
            let sum: f64 = verdict.makers.iter().map(|m| m.probability).sum();
            prop_assert!((sum - 1.0).abs() < 1e-12);
        }
    }
}
