//! What to look at next, against sums over everything that can be the case.

use saggar::next_look::{About, LookWorth, NextLook, Options};
use saggar::piece::{Look, Piece, find_clue};
use saggar::query::AskError;
use saggar::report::Shown;

use super::world::{compiled, finish, here, noted, piece, shown};

pub fn next(piece: &Piece) -> NextLook {
    compiled().next_look(piece, &Options::default()).unwrap()
}

pub fn worth<'n>(next: &'n NextLook, clue: &str, with: Option<&str>) -> &'n LookWorth {
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
