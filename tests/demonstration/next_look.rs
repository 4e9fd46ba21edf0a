//! What to look at next, against sums over everything that can be the case.

use saggar::model::{ClueTarget, CompiledModel};
use saggar::network::{Evidence, VariableId};
use saggar::next_look::plan::Step;
use saggar::next_look::{About, LookWorth, NextLook, Options, Reckoned, information};
use saggar::piece::{HowSeen, Look, Piece, find_clue, find_state, uncertain};
use saggar::query::AskError;
use saggar::question::{Claim, Question};
use saggar::report::Shown;
use saggar::verdict::Verdict;

use super::depth_first::sums;
use super::world::{compiled, finish, here, noted, piece, shown};

fn next(piece: &Piece) -> NextLook {
    compiled().next_look(piece, &Options::default()).unwrap()
}

fn worth<'n>(next: &'n NextLook, clue: &str, with: Option<&str>) -> &'n LookWorth {
    let is_it = |look: &&LookWorth| {
        look.clue == clue && look.with.first().map(|w| w.state.as_str()) == with
    };
    next.looks.iter().find(is_it).unwrap()
}

#[track_caller]
fn near(found: f64, printed: f64) {
    assert!((found - printed).abs() <= 0.0005, "{found}, not {printed}");
}

/// Source: own sums over the invented world, by two engines written apart; printed to three digits, D7 to two.
#[test]
fn the_figures_of_the_demonstration() {
    let d2 = next(&piece("D2"));
    near(d2.entropy, 0.782);
    for (clue, bits) in [
        ("technique", 0.388),
        ("wheel", 0.325),
        ("border", 0.259),
        ("wall", 0.259),
    ] {
        near(worth(&d2, clue, None).bits, bits);
    }
    let d7 = next(&piece("D7"));
    for (found, printed) in [
        (d7.entropy, 1.71),
        (worth(&d7, "mark", Some("full")).bits, 0.54),
        (worth(&d7, "weight", None).bits, 0.21),
    ] {
        assert!((found - printed).abs() <= 0.005, "{found}, not {printed}");
    }
}

/// P(maker, reading | evidence) for every reading, by enumeration.
fn joint(evidence: &Evidence, target: VariableId) -> Vec<Vec<f64>> {
    let network = &compiled().model.network;
    let maker = compiled().model.catalogue.maker;
    let all = sums(network, evidence, &[maker, target]);
    let readings = all.posterior(target);
    let row = |(state, &p): (usize, &f64)| {
        if p == 0.0 {
            return vec![0.0; network.n_states(maker)];
        }
        // The hard reading in place of whatever was seen before.
        let mut so = evidence.clone();
        so.observe(target, state);
        let given = sums(network, &so, &[maker]).posterior(maker);
        given.iter().map(|q| q * p).collect()
    };
    readings.iter().enumerate().map(row).collect()
}

fn entropy(p: &[f64]) -> f64 {
    let sum: f64 = p.iter().sum();
    p.iter()
        .filter(|&&p| p > 0.0)
        .map(|p| -p * (p / sum).log2())
        .sum()
}

fn leader(p: &[f64]) -> usize {
    (0..p.len())
        .max_by(|&a, &b| p[a].total_cmp(&p[b]).then(b.cmp(&a)))
        .unwrap()
}

/// Every look of two pieces: bits, chance of another leader, and every reading that would overturn.
#[test]
fn every_look_against_enumeration() {
    let compiled = compiled();
    let model = &compiled.model;
    for name in ["D2", "D5", "D7"] {
        let piece = piece(name);
        let next = next(&piece);
        let overturn = compiled.overturn(&piece, &Options::default()).unwrap();
        let answer = compiled.ask(&piece).unwrap();
        let now = answer.posterior.marginal(model.catalogue.maker).unwrap();
        let mut n_overturning = 0;
        for look in &next.looks {
            let clue = find_clue(model, &look.clue).unwrap();
            let ClueTarget::Variable(target) = model.catalogue.clues[clue].target else {
                panic!()
            };
            let mut evidence = answer.entered.evidence.clone();
            for with in &look.with {
                let circumstance = find_clue(model, &with.circumstance).unwrap();
                let about = &model.catalogue.clues[circumstance];
                let ClueTarget::Variable(id) = about.target else {
                    panic!()
                };
                let state = about.states.iter().position(|s| *s == with.state).unwrap();
                evidence.observe(id, state);
            }
            let joint = joint(&evidence, target);
            let bits = entropy(now) - joint.iter().map(|row| entropy(row)).sum::<f64>();
            let what = format!("{name}, {}", look.clue);
            assert_eq!(look.reckoned, Reckoned::Sum);
            assert!(
                (look.bits - bits).abs() < 1e-10,
                "{what}: {} {bits}",
                look.bits
            );
            let changing = joint
                .iter()
                .enumerate()
                .filter(|(_, row)| row.iter().sum::<f64>() > 0.0 && leader(row) != leader(now));
            let mut changes = 0.0;
            for (state, row) in changing {
                let p: f64 = row.iter().sum();
                changes += p;
                n_overturning += 1;
                let reading = &model.catalogue.clues[clue].states[state];
                let is_it = |o: &&saggar::next_look::overturn::Overturning| {
                    o.clue == look.clue && o.with == look.with && o.after.reading == *reading
                };
                let listed = overturn.overturning.iter().find(is_it).unwrap();
                assert!((listed.after.chance - p).abs() < 1e-10, "{what}: {reading}");
                assert_eq!(listed.after.leader, model.catalogue.makers[leader(row)].id);
                assert!((listed.after.probability - row[leader(row)] / p).abs() < 1e-9);
            }
            assert!(
                (look.leader_changes - changes).abs() < 1e-10,
                "{what}: {changes}"
            );
        }
        assert_eq!(overturn.overturning.len(), n_overturning, "{name}");
    }
}

/// What a plan says of two looks in turn, against enumeration of both readings.
#[test]
fn a_plan_of_two_looks_against_enumeration() {
    let compiled = compiled();
    let model = &compiled.model;
    let piece = piece("D2");
    let plans = compiled.plan(&piece, 2, &Options::default()).unwrap();
    let [plan] = &plans.plans[..] else { panic!() };
    let target = |clue: &str| match model.catalogue.clues[find_clue(model, clue).unwrap()].target {
        ClueTarget::Variable(id) => id,
        ClueTarget::Measure(_) => panic!(),
    };
    let evidence = compiled.ask(&piece).unwrap().entered.evidence;
    // The entropy expected after a step, times the chance so far, by enumeration.
    fn after(evidence: &Evidence, step: Option<&Step>, target: &dyn Fn(&str) -> VariableId) -> f64 {
        let maker = super::world::compiled().model.catalogue.maker;
        let Some(step) = step else {
            return entropy(
                &sums(&super::world::compiled().model.network, evidence, &[maker]).posterior(maker),
            );
        };
        let id = target(&step.look.clue);
        let joint = joint(evidence, id);
        let possible = joint
            .iter()
            .enumerate()
            .filter(|(_, row)| row.iter().sum::<f64>() > 0.0);
        let possible: Vec<(usize, &Vec<f64>)> = possible.collect();
        assert_eq!(possible.len(), step.readings.len());
        let of_reading =
            |((state, row), branch): (&(usize, &Vec<f64>), &saggar::next_look::plan::Branch)| {
                let p: f64 = row.iter().sum();
                assert!((branch.chance - p).abs() < 1e-10);
                let mut so = evidence.clone();
                so.observe(id, *state);
                p * after(&so, branch.then.as_ref(), target)
            };
        possible.iter().zip(&step.readings).map(of_reading).sum()
    }
    for policy in [&plan.best, &plan.step_by_step] {
        let expected = after(&evidence, policy.first.as_ref(), &target);
        assert!(
            (policy.end.entropy - expected).abs() < 1e-9,
            "{expected} {:?}",
            policy.end
        );
    }
    let [first, second] = &plan.fixed.looks[..] else {
        panic!()
    };
    let mut expected = 0.0;
    let (one, other) = (target(&first.look.clue), target(&second.look.clue));
    for (state, row) in joint(&evidence, one).iter().enumerate() {
        let mut so = evidence.clone();
        so.observe(one, state);
        let p: f64 = row.iter().sum();
        expected += p * joint(&so, other)
            .iter()
            .map(|row| entropy(row))
            .sum::<f64>();
    }
    assert!((plan.fixed.end.entropy - expected).abs() < 1e-9);
    assert!(plan.best.end.worth > plan.fixed.end.worth);
    assert_eq!(plan.fixed.end.minutes, first.minutes + second.minutes);
}

/// A loupe is fetched once: the second look that needs it takes less.
#[test]
fn tools_are_fetched_once() {
    let next = next(&piece("D2"));
    assert_eq!(worth(&next, "wheel", None).minutes, 3.5);
    assert_eq!(worth(&next, "wheel", None).tools, ["x3 loupe"]);
    let options = Options::default();
    let plans = compiled().plan(&piece("D2"), 4, &options).unwrap();
    let minutes = |clue: &str| {
        let listed = plans.plans[0]
            .fixed
            .looks
            .iter()
            .find(|l| l.look.clue == clue);
        listed.unwrap().minutes
    };
    assert_eq!((minutes("wheel"), minutes("wall")), (3.5, 3.0));
}

/// A finding that is not certain is offered again, one that is certain never, and one that cannot be told if asked for.
#[test]
fn what_is_offered() {
    let d2 = next(&piece("D2"));
    let offered: Vec<&str> = d2.looks.iter().map(|look| look.clue.as_str()).collect();
    assert_eq!(offered, ["border", "wheel", "technique", "wall"]);
    assert!(worth(&d2, "technique", None).replaces.is_some());
    assert_eq!(worth(&d2, "wheel", None).replaces, None);
    let model = &compiled().model;
    let border = find_clue(model, "border").unwrap();
    let chipped = Look::CannotTell("chipped".to_owned());
    let piece = piece("D2")
        .note(border, chipped, "cannot tell".to_owned(), model)
        .unwrap();
    let is_offered = |next: &NextLook| next.looks.iter().any(|look| look.clue == "border");
    assert!(!is_offered(&next(&piece)));
    let again = Options {
        again: vec![border],
        ..Options::default()
    };
    assert!(is_offered(&compiled().next_look(&piece, &again).unwrap()));
}

/// Circumstances that are not noted are offered each way; those that are stay as they are.
#[test]
fn circumstances_of_a_look() {
    let compiled = compiled();
    let bare = noted(compiled, &Piece::new("bare"), "size", "IV");
    let of = |piece: &Piece, clue: &str| {
        let next = next(piece);
        let looks = next.looks.iter().filter(|look| look.clue == clue);
        let mut states: Vec<Vec<String>> = looks
            .map(|look| look.with.iter().map(|with| with.state.clone()).collect())
            .collect();
        states.sort();
        states
    };
    assert_eq!(of(&bare, "mark"), [["full"], ["quick"]]);
    assert_eq!(of(&bare, "wheel"), [["blurred"], ["clear"]]);
    assert_eq!(of(&bare, "tint"), [[""; 0]]);
    let blurred = noted(compiled, &bare, "print", "blurred");
    assert_eq!(of(&blurred, "wheel"), [[""; 0]]);
    // A full search brings more than a quick one, and takes longer.
    let next = next(&bare);
    let (full, quick) = (
        worth(&next, "mark", Some("full")),
        worth(&next, "mark", Some("quick")),
    );
    assert!(full.bits > quick.bits && full.minutes > quick.minutes);
    // Without the size, a weight cannot be judged.
    let unsized_jug = compiled
        .next_look(&Piece::new("?"), &Options::default())
        .unwrap();
    assert!(
        unsized_jug
            .not_offered
            .iter()
            .any(|left| left.what == ["weight for size"])
    );
    assert!(unsized_jug.looks.iter().any(|look| look.clue == "size"));
}

/// The answers of a question are classes: one claim, the other, and neither.
#[test]
fn other_questions() {
    let compiled = compiled();
    let piece = piece("D2");
    let about = |about| {
        let options = Options {
            about,
            ..Options::default()
        };
        compiled.next_look(&piece, &options).unwrap()
    };
    let answer = compiled.ask(&piece).unwrap();
    let entropy_of = |id| entropy(answer.posterior.marginal(id).unwrap());
    let catalogue = &compiled.model.catalogue;
    assert!((about(About::Region).entropy - entropy_of(catalogue.region)).abs() < 1e-12);
    assert!((about(About::Period).entropy - entropy_of(catalogue.period)).abs() < 1e-12);
    assert!((about(About::Works).entropy - entropy_of(catalogue.works.unwrap())).abs() < 1e-12);
    let p = answer.posterior.marginal(catalogue.maker).unwrap();
    let two = about(About::Question(Question::of(Claim::maker("K07"))));
    assert!((two.entropy - entropy(&[p[6], 1.0 - p[6]])).abs() < 1e-9);
    assert_eq!(two.leader, "claim");
    let three = about(About::Question(
        Question::of(Claim::maker("K07")).against(Claim::maker("K11")),
    ));
    assert!((three.entropy - entropy(&[p[6], p[10], 1.0 - p[6] - p[10]])).abs() < 1e-9);
    // A claim over two variables is a variable of its own.
    let middle = Claim::Years("1850/1859".to_owned());
    let both = about(About::Question(Question::of(
        Claim::region("Saltharrow").and(middle),
    )));
    assert!(both.entropy > 0.1 && both.looks.iter().all(|look| look.bits >= 0.0));
}

/// With all seen nothing is left; where no single reading overturns, pairs are looked for.
#[test]
fn nothing_overturns_a_full_mark() {
    let compiled = compiled();
    let d4 = compiled
        .overturn(&piece("D4"), &Options::default())
        .unwrap();
    assert!(
        d4.overturning.is_empty() && d4.pairs.is_empty() && d4.looks.is_empty(),
        "{d4:?}"
    );
    let mut jug = Piece::new("much, but not all");
    for (clue, state) in [
        ("size", "IV"),
        ("search", "full"),
        ("mark", "lantern TQ&U, full"),
        ("print", "clear"),
        ("weathercock", "left"),
    ] {
        jug = noted(compiled, &jug, clue, state);
    }
    let overturn = compiled.overturn(&jug, &Options::default()).unwrap();
    let next = next(&jug);
    let single: f64 = next.looks.iter().map(|look| look.leader_changes).sum();
    assert_eq!(single == 0.0, overturn.overturning.is_empty());
    // Pairs are listed only where no single reading overturns, and each of them does.
    for pair in &overturn.pairs {
        assert!(overturn.overturning.is_empty());
        assert_ne!(pair.leader, overturn.leader);
        let one = noted(compiled, &jug, &pair.clues[0], &pair.readings[0]);
        let both = noted(compiled, &one, &pair.clues[1], &pair.readings[1]);
        let verdict = compiled.verdict(&both).unwrap();
        assert_eq!(verdict.makers[0].id, pair.leader);
        assert!((verdict.makers[0].probability - pair.probability).abs() < 1e-9);
    }
}

#[test]
fn in_scripts() {
    let results = shown(
        r#"
        let pack = open_pack("tidewheel");
        let jug = pack.piece("a jug").saw("size", "IV").saw("print", "clear").saw("search", "full").saw("mark", "none found");
        let next = jug.next_look();
        print(next.clue + " " + digits(next.bits("technique"), 3) + " of " + digits(next.entropy, 3));
        show(next); show(jug.plan(2)); show(jug.overturn()); show(jug.next_look(#{ about: "period", again: ["wall"] }));
        show(jug.plan(1, #{ about: "works" })); show(jug.overturn(#{ about: "region" }));
        show(jug.next_look(#{ about: region("Saltharrow") }));
        show(jug.next_look(#{ about: maker("K01").against(maker("K02")) }));
    "#,
    );
    let kinds: Vec<String> = results
        .iter()
        .map(|s| {
            serde_json::to_value(s).unwrap()["kind"]
                .as_str()
                .unwrap()
                .to_owned()
        })
        .collect();
    assert_eq!(
        kinds,
        [
            "text",
            "next_look",
            "plan",
            "overturn",
            "next_look",
            "plan",
            "overturn",
            "next_look",
            "next_look"
        ]
    );
    let Shown::NextLook(next) = &results[1] else {
        panic!()
    };
    assert!(
        next.looks
            .windows(2)
            .all(|w| w[0].bits_per_minute >= w[1].bits_per_minute)
    );
}

#[test]
fn what_is_refused() {
    for (asked, expected) in [
        ("jug.plan(0)", "a plan holds from 1 to 4 looks, not 0"),
        ("jug.plan(5)", "a plan holds from 1 to 4 looks, not 5"),
        ("jug.plan(-1)", "a plan holds from 1 to 4 looks, not 0"),
        (
            "jug.plan(1.5)",
            "the number of looks is a whole number, not 1.5",
        ),
        (
            "jug.next_look(#{ about: \"marker\" })",
            "nothing can be looked at to tell of `marker`",
        ),
        (
            "jug.next_look(#{ abuot: \"maker\" })",
            "a next look has no `abuot`",
        ),
        (
            "jug.next_look(#{ again: [\"bordr\"] })",
            "there is no clue `bordr`",
        ),
        (
            "jug.next_look(#{ again: \"border\" })",
            "`again` takes a list of clues",
        ),
        (
            "jug.next_look().bits(\"size\")",
            "there is nothing left to look at in `size`",
        ),
        (
            "jug.saw(\"mark\", \"none found\").next_look()",
            "`mark` cannot be judged without `search`",
        ),
    ] {
        let script = format!(
            "let pack = open_pack(\"tidewheel\"); let jug = pack.piece(\"x\").saw(\"size\", \"II\"); {asked};"
        );
        let (finished, _) = finish(&script, here("priors"));
        let failure = finished.failure.unwrap();
        let message = &failure.diagnostics[0].message;
        assert!(message.starts_with(expected), "{asked}: {message}");
    }
    // A pack that leaves out makers is asked about the period.
    let folder = here("shared/pottery/bornholm_periods");
    let graves = super::world::compile(&folder);
    let grave = Piece::new("a grave");
    assert_eq!(
        graves.next_look(&grave, &Options::default()).unwrap().about,
        "the period"
    );
    let about = Options {
        about: About::Maker,
        ..Options::default()
    };
    let error = graves.next_look(&grave, &about).unwrap_err();
    assert_eq!(
        error,
        saggar::next_look::NextLookError::Ask(AskError::MakerNotAsked)
    );
}

/// Every reading noted of the piece in turn, as an appraiser would: the chance of reading so, the leader and the opinion then.
fn replayed(compiled: &CompiledModel, piece: &Piece) {
    let model = &compiled.model;
    let options = Options::default();
    let next = compiled.next_look(piece, &options).unwrap();
    let overturn = compiled.overturn(piece, &options).unwrap();
    let now = compiled.verdict(piece).unwrap();
    let words = |verdict: &Verdict| {
        let words = &verdict.attribution.words;
        words.split(" (0.").next().unwrap().to_owned()
    };
    let mut n_readings = 0;
    for look in &overturn.looks {
        let clue = find_clue(model, &look.clue).unwrap();
        let mut with = piece.clone();
        for w in &look.with {
            with = noted(compiled, &with, &w.circumstance, &w.state);
        }
        let (mut total, mut changes) = (0.0, 0.0);
        for reading in &look.readings {
            let state = find_state(&model.catalogue.clues[clue], &reading.after.reading).unwrap();
            let (seen, said) = (Look::Seen(state), reading.after.reading.clone());
            let is_noted = piece.findings().iter().any(|f| f.clue == clue);
            let then = match is_noted {
                true => with.note_again(clue, seen, said, model),
                false => with.note(clue, seen, said, model),
            };
            let verdict = compiled.verdict(&then.unwrap()).unwrap();
            let what = format!("{}: {}", look.clue, reading.after.reading);
            assert_eq!(verdict.makers[0].id, reading.after.leader, "{what}");
            let off = verdict.makers[0].probability - reading.after.probability;
            assert!(off.abs() < 1e-9, "{what}: {off}");
            for share in &reading.answers {
                let maker = verdict.makers.iter().find(|m| m.id == share.id).unwrap();
                assert!(
                    (maker.probability - share.probability).abs() < 1e-9,
                    "{what}"
                );
            }
            total += reading.after.chance;
            if words(&verdict) != words(&now) {
                changes += reading.after.chance;
            }
            n_readings += 1;
        }
        assert!((total - 1.0).abs() < 1e-9, "{}: {total}", look.clue);
        let worth = next
            .looks
            .iter()
            .find(|w| w.clue == look.clue && w.with == look.with);
        let found = worth.unwrap().opinion_changes.unwrap();
        assert!(
            (found - changes).abs() < 1e-9,
            "{}: {found} {changes}",
            look.clue
        );
    }
    assert!(n_readings > 10);
}

#[test]
fn readings_noted_in_turn() {
    for name in ["D2", "D7"] {
        replayed(compiled(), &piece(name));
    }
    let mut jug = Piece::new("little known");
    for (clue, state) in [
        ("size", "IV"),
        ("print", "clear"),
        ("wheel", "10"),
        ("border", "reed"),
    ] {
        jug = noted(compiled(), &jug, clue, state);
    }
    replayed(compiled(), &jug);
    // Attributed without a mark; with a full one of its own, it is "marked".
    let mut jug = Piece::new("no mark looked for");
    for (clue, state) in [
        ("size", "IV"),
        ("print", "clear"),
        ("search", "full"),
        ("wheel", "8"),
        ("sluice", "cross"),
        ("wall", "random"),
        ("border", "bell"),
        ("technique", "stipple"),
    ] {
        jug = noted(compiled(), &jug, clue, state);
    }
    let verdict = compiled().verdict(&jug).unwrap();
    assert_eq!(verdict.attribution.words, "attributed to Wrayling & Co.");
    replayed(compiled(), &jug);
}

/// In a pack with observers a look is the usual observer's, who errs; of a doubtful coding, that of whoever made it.
#[test]
fn looks_of_observers() {
    let priors = super::edited_pack::edited_pack(
        "clues.toml",
        "# Tidewheel jugs: glaze",
        "# Tidewheel jugs: glaze",
    );
    let observers = r#"
        default = "house"

        [[observer]]
        id        = "house"
        otherwise = "as the tables say"
        reads     = [{ clues = ["wheel", "border"], say = "80%", seen = 120 }]

        [[observer]]
        id        = "rowan"
        otherwise = "as the tables say"
        reads     = [{ clues = ["wall"], say = "70%", seen = 40 }]
    "#;
    let folder = priors.path().join("tidewheel");
    std::fs::write(folder.join("observers.toml"), observers).unwrap();
    let compiled = super::world::compile(&folder);
    let model = &compiled.model;
    let mut jug = Piece::new("a jug");
    for (clue, state) in [("size", "IV"), ("print", "clear"), ("sluice", "cross")] {
        jug = noted(&compiled, &jug, clue, state);
    }
    let jug = jug.looked_at(jug.how().noted("who", "rowan").unwrap());
    let wall = find_clue(model, "wall").unwrap();
    let look = uncertain(
        &model.catalogue.clues[wall],
        [("coursed", 0.8), ("random", 0.2)],
    )
    .unwrap();
    let jug = jug.note(wall, look, "unsure".to_owned(), model).unwrap();
    let bits = |next: &NextLook, clue: &str| worth(next, clue, None).bits;
    let found = compiled.next_look(&jug, &Options::default()).unwrap();
    let rowan = model
        .catalogue
        .observers
        .iter()
        .find(|o| o.id == "rowan")
        .unwrap();
    let answer = compiled.ask(&jug).unwrap();
    let maker = model.catalogue.maker;
    let expected = information(
        &compiled.circuit,
        &compiled.parameters,
        &answer.entered.evidence,
        maker,
        rowan.readings[&wall],
    );
    assert!((bits(&found, "wall") - expected.unwrap().bits).abs() < 1e-10);
    // Errors on top of those of the tables leave less to be told.
    let clean = {
        let mut jug = Piece::new("a jug");
        for (clue, state) in [("size", "IV"), ("print", "clear"), ("sluice", "cross")] {
            jug = noted(self::compiled(), &jug, clue, state);
        }
        next(&jug)
    };
    assert!(bits(&found, "border") < bits(&clean, "border"));
    let house = jug.looked_at(HowSeen::default());
    replayed(&compiled, &house.without(wall));
}
