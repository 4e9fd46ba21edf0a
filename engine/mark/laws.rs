//! The misreading model against literal enumeration of its story, published counts, and laws.

use std::collections::BTreeMap;

use chacha20::ChaCha8Rng;
use proptest::prelude::*;
use rand::{RngExt, SeedableRng};

use super::lettering::Encoded;
use super::*;

const CHANCES: StrikeChances = StrikeChances {
    loss_begins: 0.15,
    loss_goes_on: 0.6,
    loss_noted: 0.7,
    misread: 0.1,
    inserted: 0.05,
    gap_noted: 0.08,
    stop_passed_over: 0.3,
};

/// A, B and a stop; A is taken for B three times in four.
fn small() -> Reading {
    let mut reading = Reading::of_alphabet("AB.");
    assert_eq!(reading.alphabet(), ['.', 'A', 'B']);
    reading.set_look_alikes('A', &[0.25, 0.75]);
    reading
}

/// The tokens of a text in which `?` is a gap and everything else a letter; may be empty, unlike a [`Fragment`].
fn encode(reading: &Reading, text: &str) -> Encoded {
    let token = |c| (c != '?').then(|| vec![reading.position(c).unwrap()]);
    Encoded {
        tokens: text.chars().map(token).collect(),
    }
}

fn probability(reading: &Reading, text: &str, fragment: &str, chances: &StrikeChances) -> f64 {
    let lettering = reading.lettering(text).unwrap();
    ln_probability(reading, &lettering, &encode(reading, fragment), chances).exp()
}

/// Every string of at most `n` characters and gaps, no two gaps together.
fn strings(alphabet: &str, n: usize) -> Vec<String> {
    let mut all = vec![String::new()];
    let mut longest = all.clone();
    for _ in 0..n {
        longest = longest
            .iter()
            .flat_map(|s| {
                let signs = alphabet.chars().chain(['?']);
                signs
                    .filter(|c| *c != '?' || !s.ends_with('?'))
                    .map(|c| format!("{s}{c}"))
                    .collect::<Vec<_>>()
            })
            .collect();
        all.extend(longest.iter().cloned());
    }
    all
}

/// What is written so far, and whether the letter before was lost in a run that is noted, or not noted.
type Branches = BTreeMap<(String, Option<bool>), f64>;

/// A place of the story with at most `most` inserted characters.
fn place(
    branches: &Branches,
    alphabet: &[char],
    c: &StrikeChances,
    most: usize,
    out: &mut Branches,
) {
    let mut inserted = Branches::new();
    for ((written, lost), p) in branches {
        for (gap, p) in [("", p * (1.0 - c.gap_noted)), ("?", p * c.gap_noted)] {
            let written = format!("{written}{gap}");
            for a in alphabet {
                let share = c.inserted / alphabet.len() as f64;
                *inserted
                    .entry((format!("{written}{a}"), *lost))
                    .or_default() += p * share;
            }
            *out.entry((written, *lost)).or_default() += p * (1.0 - c.inserted);
        }
    }
    if most > 0 {
        place(&inserted, alphabet, c, most - 1, out);
    }
}

/// The story of [`alignment`] told literally, branch by branch, `?` merged at the end. Branches that have written more than
/// `most` characters are left out: what is written only grows.
fn tell(reading: &Reading, text: &str, c: &StrikeChances, most: usize) -> BTreeMap<String, f64> {
    let alphabet = reading.alphabet();
    let mut branches = Branches::new();
    let nothing = Branches::from([((String::new(), None), 1.0)]);
    place(&nothing, alphabet, c, most, &mut branches);
    for letter in text.chars() {
        let mut out = Branches::new();
        for ((written, lost), mut p) in branches {
            if letter == '.' {
                *out.entry((written.clone(), lost)).or_default() += p * c.stop_passed_over;
                p *= 1.0 - c.stop_passed_over;
            }
            let loss = if lost.is_some() {
                c.loss_goes_on
            } else {
                c.loss_begins
            };
            let runs = match lost {
                None => vec![(true, c.loss_noted), (false, 1.0 - c.loss_noted)],
                Some(noted) => vec![(noted, 1.0)],
            };
            for (noted, share) in runs {
                let gap = if noted { "?" } else { "" };
                let lost = (format!("{written}{gap}"), Some(noted));
                *out.entry(lost).or_default() += p * loss * share;
            }
            let a = reading.position(letter).unwrap();
            for (b, read) in alphabet.iter().enumerate() {
                let chance = reading.read_as(a, b, c.misread);
                *out.entry((format!("{written}{read}"), None)).or_default() +=
                    p * (1.0 - loss) * chance;
            }
        }
        let n_characters = |written: &str| written.chars().filter(|c| *c != '?').count();
        out.retain(|(written, _), _| n_characters(written) <= most);
        branches = Branches::new();
        place(&out, alphabet, c, most, &mut branches);
        branches.retain(|(written, _), _| n_characters(written) <= most);
    }
    let mut told = BTreeMap::new();
    for ((mut written, _), p) in branches {
        while written.contains("??") {
            written = written.replace("??", "?");
        }
        *told.entry(written).or_insert(0.0) += p;
    }
    told
}

#[test]
fn forward_equals_the_story_told_branch_by_branch() {
    let reading = small();
    for text in ["", "A", ".", "AB", "A.B", "BAA"] {
        let most = if text.len() < 2 { 3 } else { 2 };
        let told = tell(&reading, text, &CHANCES, most);
        for fragment in strings("AB.", most) {
            let expected = told.get(&fragment).copied().unwrap_or(0.0);
            let got = probability(&reading, text, &fragment, &CHANCES);
            assert!(
                (got - expected).abs() <= 1e-14 * expected.max(1e-3),
                "{text} read as {fragment}: {got} against {expected}"
            );
        }
    }
}

/// Long marks and short ones: the chances of all fragments sum to 1. What is missing are fragments of more than six
/// tokens, which need an inserted character or a `?` beside nearly every letter.
#[test]
fn all_fragments_sum_to_one() {
    let reading = small();
    let chances = StrikeChances {
        inserted: 1e-6,
        gap_noted: 1e-3,
        ..CHANCES
    };
    let all = strings("AB.", 6);
    for text in ["", "A", "B.", "ABA", "A.BB"] {
        let sum: f64 = all
            .iter()
            .map(|fragment| probability(&reading, text, fragment, &chances))
            .sum();
        assert!((sum - 1.0).abs() < 2e-5, "{text}: {sum}");
    }
}

#[test]
fn an_unknown_text_is_the_mean_over_all_texts() {
    let reading = small();
    let unknown = Lettering::unknown(1, 2).unwrap();
    for fragment in strings("AB.", 3) {
        let got = ln_probability(&reading, &unknown, &encode(&reading, &fragment), &CHANCES).exp();
        let texts = strings("AB.", 2)
            .into_iter()
            .filter(|t| !t.is_empty() && !t.contains('?'));
        let expected: f64 = texts
            .map(|text| {
                let share = 0.5 / 3f64.powi(i32::try_from(text.len()).unwrap());
                share * probability(&reading, &text, &fragment, &CHANCES)
            })
            .sum();
        assert!((got - expected).abs() <= 1e-14, "{fragment}");
    }
}

/// With losses alone, independent and never noted, the model is the deletion channel: P(y | x) = N(x, y) dⁿ⁻ᵐ (1 − d)ᵐ, N the
/// number of ways in which y is a subsequence of x.
///
/// Source: Mitzenmacher 2009, "A survey of results for deletion channels and related synchronization channels",
/// *Probability Surveys* 6:1–33 (the formula from memory). The counts 3 and 5 are those of the well-known exercise on distinct
/// subsequences (from memory), and easily counted by hand.
#[test]
fn losses_alone_are_the_deletion_channel() {
    let d: f64 = 0.2;
    let chances = StrikeChances {
        loss_begins: d,
        loss_goes_on: d,
        loss_noted: 0.0,
        misread: 0.0,
        inserted: 0.0,
        gap_noted: 0.0,
        stop_passed_over: 0.0,
    };
    let reading = Reading::of_alphabet("ABGIRT");
    for (text, fragment, ways) in [("RABBBIT", "RABBIT", 3.0), ("BABGBAG", "BAG", 5.0)] {
        let (n, m) = (text.len(), fragment.len());
        let expected = ways * d.powi((n - m) as i32) * (1.0 - d).powi(m as i32);
        let got = probability(&reading, text, fragment, &chances);
        assert!((got / expected - 1.0).abs() < 1e-13, "{text}: {got}");
    }
}

/// Without insertions, stops and noted gaps the model is the pair HMM with one gapped sequence: match state M and gap state X,
/// fM(i,j) = p(xᵢ,yⱼ) ((1−δ) fM(i−1,j−1) + (1−ε) fX(i−1,j−1)), fX(i,j) = δ fM(i−1,j) + ε fX(i−1,j).
///
/// Source: Durbin, Eddy, Krogh & Mitchison 1998, sec. 4.2, the forward algorithm (recurrences from memory), without its second
/// gap state and with certain end.
#[test]
fn without_noted_gaps_it_is_the_textbook_forward_algorithm() {
    let (delta, epsilon) = (CHANCES.loss_begins, CHANCES.loss_goes_on);
    let chances = StrikeChances {
        loss_noted: 0.0,
        inserted: 0.0,
        gap_noted: 0.0,
        stop_passed_over: 0.0,
        ..CHANCES
    };
    let reading = small();
    let textbook = |x: &[usize], y: &[usize]| {
        let (n, m) = (x.len(), y.len());
        let mut match_ = vec![vec![0.0; m + 1]; n + 1];
        let mut gap = match_.clone();
        match_[0][0] = 1.0;
        for i in 1..=n {
            for j in 0..=m {
                gap[i][j] = delta * match_[i - 1][j] + epsilon * gap[i - 1][j];
                if j > 0 {
                    let p = reading.read_as(x[i - 1], y[j - 1], chances.misread);
                    match_[i][j] = p
                        * ((1.0 - delta) * match_[i - 1][j - 1]
                            + (1.0 - epsilon) * gap[i - 1][j - 1]);
                }
            }
        }
        match_[n][m] + gap[n][m]
    };
    let positions =
        |s: &str| -> Vec<usize> { s.chars().map(|c| reading.position(c).unwrap()).collect() };
    for (text, fragment) in [
        ("ABBA", "AB"),
        ("BABAB", "BBB"),
        ("AAAA", "AAAA"),
        ("AB", "ABA"),
    ] {
        let expected = textbook(&positions(text), &positions(fragment));
        let got = probability(&reading, text, fragment, &chances);
        assert!((got - expected).abs() < 1e-15, "{text} {fragment}");
    }
}

/// Readings drawn by the story come as often as the model says, each within five standard errors.
#[test]
fn drawn_readings_come_as_often_as_said() {
    let reading = small();
    let c = CHANCES;
    let text: Vec<char> = "BA.A".chars().collect();
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    let draws = 200_000;
    let mut drawn: BTreeMap<String, usize> = BTreeMap::new();
    for _ in 0..draws {
        let mut written = String::new();
        let mut lost: Option<bool> = None;
        for at in 0..=text.len() {
            loop {
                if rng.random_bool(c.gap_noted) {
                    written.push('?');
                }
                if !rng.random_bool(c.inserted) {
                    break;
                }
                written.push(reading.alphabet()[rng.random_range(0..3)]);
            }
            let Some(&letter) = text.get(at) else { break };
            if letter == '.' && rng.random_bool(c.stop_passed_over) {
                continue;
            }
            let loss = if lost.is_some() {
                c.loss_goes_on
            } else {
                c.loss_begins
            };
            if rng.random_bool(loss) {
                let noted = lost.unwrap_or_else(|| rng.random_bool(c.loss_noted));
                lost = Some(noted);
                if noted {
                    written.push('?');
                }
                continue;
            }
            lost = None;
            let a = reading.position(letter).unwrap();
            let mut left: f64 = rng.random();
            let b = (0..3).find(|&b| {
                left -= reading.read_as(a, b, c.misread);
                left < 0.0
            });
            written.push(reading.alphabet()[b.unwrap_or(a)]);
        }
        while written.contains("??") {
            written = written.replace("??", "?");
        }
        *drawn.entry(written).or_insert(0) += 1;
    }
    let mut compared = 0;
    for (fragment, &n) in drawn.iter().filter(|(_, n)| **n > 200) {
        let p = probability(&reading, "BA.A", fragment, &c);
        let standard_error = (p * (1.0 - p) / f64::from(draws)).sqrt();
        let share = n as f64 / f64::from(draws);
        assert!(
            (share - p).abs() < 5.0 * standard_error,
            "{fragment}: {share} against {p}"
        );
        compared += 1;
    }
    assert!(compared > 50);
}

/// Sixty letters that nothing in the mark accounts for: less than the least number there is, and still told apart.
#[test]
fn nothing_underflows() {
    let reading = Reading::of_texts(["T & U"]);
    let chances = StrikeChances {
        inserted: 1e-8,
        misread: 1e-3,
        ..CHANCES
    };
    let fragment = Fragment::parse(&"W".repeat(60)).unwrap();
    let fragment = reading.encode(&fragment).unwrap();
    let ln = |text| {
        let lettering = reading.lettering(text).unwrap();
        ln_probability(&reading, &lettering, &fragment, &chances)
    };
    let (none, one) = (ln(""), ln("W"));
    assert!(none < -1000.0 && none.is_finite());
    assert!(one > none + 10.0, "{none} {one}");
    // By hand: sixty inserted characters, each as common as a W, no gap before any of them nor before the end.
    let common = reading.common(reading.position('W').unwrap());
    let by_hand = 61.0 * (1.0 - chances.gap_noted).ln()
        + 60.0 * (chances.inserted * common).ln()
        + (1.0 - chances.inserted).ln();
    assert!((none - by_hand).abs() < 1e-9 * by_hand.abs());
}

#[test]
fn logarithms_agree_with_plain_numbers() {
    assert_eq!(
        alignment::ln_add(f64::NEG_INFINITY, f64::NEG_INFINITY),
        f64::NEG_INFINITY
    );
    assert!((alignment::ln_add(0.25f64.ln(), 0.5f64.ln()) - 0.75f64.ln()).abs() < 1e-15);
}

#[test]
fn the_best_alignment_shows_what_was_lost() {
    let reading = Reading::of_texts(["THROWER & SONS"]);
    let lettering = reading.lettering("THROWER & SONS").unwrap();
    let fragment = reading
        .encode(&Fragment::parse("?ROW? & S").unwrap())
        .unwrap();
    let best = best_alignment(&reading, &lettering, &fragment, &CHANCES).unwrap();
    let read: Vec<(usize, usize)> = best
        .columns
        .iter()
        .filter_map(|column| match column {
            Aligned::Read { letter, token } => Some((*letter, *token)),
            _ => None,
        })
        .collect();
    // R, O, W, & and the S of SONS, the first or the last; the first run of lost letters begins at the T.
    assert_eq!(read[..4], [(2, 1), (3, 2), (4, 3), (7, 5)]);
    assert_eq!(
        best.columns[0],
        Aligned::Lost {
            letter: 0,
            token: Some(0),
            noted: true
        }
    );
    assert!(best.ln_p <= ln_probability(&reading, &lettering, &fragment, &CHANCES));
}

fn chances() -> impl Strategy<Value = StrikeChances> {
    let chance = || 0.0..=1.0f64;
    (
        chance(),
        chance(),
        chance(),
        chance(),
        0.0..0.9f64,
        chance(),
        chance(),
    )
        .prop_map(|c| StrikeChances {
            loss_begins: c.0,
            loss_goes_on: c.1,
            loss_noted: c.2,
            misread: c.3,
            inserted: c.4,
            gap_noted: c.5,
            stop_passed_over: c.6,
        })
}

proptest! {
    #[test]
    fn is_a_probability(text in "[AB.]{0,6}", fragment in "\\??([AB.]\\??){0,6}", c in chances()) {
        let p = probability(&small(), &text, &fragment, &c);
        prop_assert!((0.0..=1.0 + 1e-12).contains(&p), "{p}");
    }

    /// A letter in doubt is its alternatives together.
    #[test]
    fn alternatives_add(text in "[AB.]{0,5}", before in "[AB]{0,2}", after in "[AB]{0,2}", c in chances()) {
        let reading = small();
        let lettering = reading.lettering(&text).unwrap();
        let p = |token: &str| {
            let fragment = Fragment::parse(&format!("{before}{token}{after}A")).unwrap();
            ln_probability(&reading, &lettering, &reading.encode(&fragment).unwrap(), &c).exp()
        };
        prop_assert!((p("[AB]") - p("A") - p("B")).abs() < 1e-12);
        prop_assert!((p("_") - p("A") - p("B") - p(".")).abs() < 1e-12);
    }

    /// The best alignment is one of all, and accounts for every letter and every token once, in order.
    #[test]
    fn the_best_alignment_is_whole(text in "[AB.]{0,6}", fragment in "\\??([AB.]\\??){0,6}") {
        let reading = small();
        let lettering = reading.lettering(&text).unwrap();
        let fragment = encode(&reading, &fragment);
        let best = best_alignment(&reading, &lettering, &fragment, &CHANCES).unwrap();
        prop_assert!(best.ln_p <= ln_probability(&reading, &lettering, &fragment, &CHANCES) + 1e-12);
        let (mut letters, mut tokens) = (Vec::new(), Vec::new());
        for column in &best.columns {
            match *column {
                Aligned::Read { letter, token } => { letters.push(letter); tokens.push(token); }
                Aligned::Lost { letter, token, .. } => { letters.push(letter); tokens.extend(token); }
                Aligned::PassedOver { letter } => letters.push(letter),
                Aligned::Inserted { token } => tokens.push(token),
            }
        }
        prop_assert_eq!(letters, (0..text.len()).collect::<Vec<_>>());
        prop_assert_eq!(tokens, (0..fragment.tokens.len()).collect::<Vec<_>>());
    }

    /// Under a clear strike the mark that says just what is read explains it better than one that differs in a letter.
    #[test]
    fn the_mark_itself_explains_its_reading_best(text in "[ABCDE]{1,6}", at in 0usize..6, other in "[FGH]") {
        let clear = StrikeChances {
            loss_begins: 0.02, loss_goes_on: 0.5, loss_noted: 0.8, misread: 0.02, inserted: 0.002, gap_noted: 0.02,
            stop_passed_over: 0.3,
        };
        let reading = Reading::of_texts([]);
        let at = at % text.len();
        let mut differs = text.clone();
        differs.replace_range(at..=at, &other);
        let p = |mark: &str| probability(&reading, mark, &text, &clear);
        prop_assert!(p(&text) > 10.0 * p(&differs));
    }

    /// The more is lost, the less the loss of one more costs: a fragment of a run is likelier the likelier runs go on.
    #[test]
    fn runs_that_go_on_favour_one_long_loss(c in chances(), n in 2usize..6) {
        let c = StrikeChances { loss_begins: 0.1, misread: 0.0, inserted: 0.0, gap_noted: 0.0, loss_noted: 1.0, ..c };
        let reading = small();
        let text = format!("A{}", "B".repeat(n));
        let p = |loss_goes_on| probability(&reading, &text, "A?", &StrikeChances { loss_goes_on, ..c });
        prop_assert!(p(0.9) > p(0.5) && p(0.5) > p(0.1));
    }
}
