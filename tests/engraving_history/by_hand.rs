//! The pack *Fell ware* written out by hand: what may have happened in which year, and sums over all of it.
//!
//! Numbers are those of `tests/packs/fell_ware`; nothing here uses the library.

pub const MAKERS: [&str; 6] = ["CR", "RS", "TB", "PK", "unlisted", "copy"];
pub const PERIODS: [&str; 4] = ["P1", "P2", "P3", "modern"];

/// Engravings, in the order of the pack.
pub const A: usize = 0;
pub const A2: usize = 1;
pub const S: usize = 2;
pub const T: usize = 3;
pub const F: usize = 4;
pub const X: usize = 5;

const CR: usize = 0;
const RS: usize = 1;
const TB: usize = 2;
const PK: usize = 3;
const UNLISTED: usize = 4;
const COPY: usize = 5;

const YEARS: [(i64, i64); 4] = [(1820, 1834), (1835, 1849), (1850, 1864), (1960, 1979)];
const SHARE: [f64; 6] = [0.25, 0.25, 0.20, 0.12, 0.10, 0.08];
const FRESH: usize = 0;
const WORN: usize = 1;

/// P(period | maker). Crake & Rudd by years: fifteen of their sixteen lie in P1.
const OUTPUT: [[f64; 4]; 6] = [
    [15.0 / 16.0, 1.0 / 16.0, 0.0, 0.0],
    [0.0, 0.8, 0.2, 0.0],
    [0.2, 0.5, 0.3, 0.0],
    [0.0, 0.1, 0.9, 0.0],
    [0.3, 0.4, 0.3, 0.0],
    [0.0, 0.0, 0.0, 1.0],
];

/// How likely a year is one of the maker's: the soft ends count one seventh less each year.
fn at_work(maker: usize, year: i64) -> f64 {
    let from = |first: i64| if year >= first { 1.0 } else { 0.0 };
    let to = |last: i64| if year <= last { 1.0 } else { 0.0 };
    match maker {
        CR => from(1820) * to(1835),
        RS => from(1835) * ((1856 - year) as f64 / 7.0).clamp(0.0, 1.0),
        TB => ((year - 1824) as f64 / 7.0).clamp(0.0, 1.0) * to(1858),
        PK => from(1848) * to(1864),
        UNLISTED => from(1820) * to(1864),
        _ => from(1960) * to(1979),
    }
}

/// P(year | maker, period).
fn years(maker: usize, period: usize) -> Vec<(i64, f64)> {
    let (first, last) = YEARS[period];
    let weights: Vec<(i64, f64)> = (first..=last)
        .map(|year| (year, at_work(maker, year)))
        .collect();
    let sum: f64 = weights.iter().map(|(_, w)| w).sum();
    weights
        .into_iter()
        .map(|(year, w)| (year, w / sum))
        .collect()
}

/// One of these, each as likely.
fn evenly(first: i64, last: i64) -> Vec<(i64, f64)> {
    let n = (last - first + 1) as f64;
    (first..=last).map(|year| (year, 1.0 / n)).collect()
}

/// What a maker has at hand of one copper: the engraving, the state its wear counts from, and since when.
type AtHand = Option<(usize, usize, i64)>;

/// The Ghyll coppers.
fn ghyll(maker: usize, year: i64) -> Vec<(AtHand, f64)> {
    let mut all = Vec::new();
    for (recut, p) in evenly(1835, 1841) {
        for (sold, q) in evenly(1848, 1854) {
            let works = maker == CR || maker == RS;
            let lent = year == 1831 || year == 1832;
            let has = if year < 1820 {
                None
            } else if year < recut {
                let pulls = if lent { maker == TB } else { works };
                pulls.then_some((A, FRESH, 1820))
            } else if year < sold {
                works.then_some((A2, FRESH, recut))
            } else {
                (maker == PK).then_some((A2, WORN, sold))
            };
            all.push((has, p * q));
        }
    }
    all
}

/// The stock plates: cut in 1815, or with one chance in five in any year of the periods.
fn stock(maker: usize, year: i64) -> Vec<(AtHand, f64)> {
    let mut cuts = vec![(1815, 0.8)];
    for (first, last) in YEARS {
        cuts.extend((first..=last).map(|year| (year, 0.2 / 65.0)));
    }
    let mut all = Vec::new();
    for (cut, p) in cuts {
        for (offered, q) in evenly(1819, 1825) {
            let offered = offered.max(cut);
            let over = offered.max(1856);
            let has = (maker != COPY && year >= offered && year < over).then_some((S, FRESH, cut));
            all.push((has, p * q));
        }
    }
    all
}

/// The Tarn Side copy.
fn tarn(maker: usize, year: i64) -> Vec<(AtHand, f64)> {
    let mut all = Vec::new();
    for (copied, p) in evenly(1841, 1847) {
        for (apart, q) in evenly(1848, 1854) {
            for (retired, r) in evenly(1860, 1869) {
                let pulls = match maker {
                    TB => year < 1858,
                    RS => (1848..apart).contains(&year),
                    PK => year >= 1858,
                    _ => false,
                };
                let has = pulls && year >= copied && year < retired;
                all.push((has.then_some((T, FRESH, copied)), p * q * r));
            }
        }
    }
    all
}

fn photographic(maker: usize, year: i64) -> Vec<(AtHand, f64)> {
    let has = maker == COPY && year >= 1962;
    vec![(has.then_some((F, FRESH, 1962)), 1.0)]
}

/// Brings together what comes to the same.
fn merged(all: Vec<(AtHand, f64)>) -> Vec<(AtHand, f64)> {
    let mut merged: Vec<(AtHand, f64)> = Vec::new();
    for (has, p) in all {
        match merged.iter_mut().find(|(other, _)| *other == has) {
            Some((_, sum)) => *sum += p,
            None => merged.push((has, p)),
        }
    }
    merged
}

/// Shares of use of A, A2, S, T, F.
fn used(maker: usize) -> [f64; 5] {
    match maker {
        CR | RS => [0.2375, 0.2375, 0.05, 0.2375, 0.2375],
        TB => [0.1 / 3.0, 0.1 / 3.0, 0.3, 0.6, 0.1 / 3.0],
        _ => [0.2; 5],
    }
}

/// P(worn) of a plate in some state so many years ago.
fn worn(engraving: usize, from: usize, years: i64) -> f64 {
    let in_ten: f64 = if engraving == S { 0.45 } else { 0.25 };
    if from == WORN {
        1.0
    } else {
        1.0 - (1.0 - in_ten).powf(years as f64 / 10.0)
    }
}

/// P(engraving, plate | maker, period, size class). The Tarn Side copy was cut for small plates only.
fn prints(maker: usize, period: usize, large: bool) -> [[f64; 2]; 6] {
    let mut prints = [[0.0; 2]; 6];
    let never = if maker == UNLISTED { 0.6 } else { 0.05 };
    let used = used(maker);
    for (year, p_year) in years(maker, period) {
        if p_year == 0.0 {
            continue;
        }
        let ghyll = merged(ghyll(maker, year));
        let stock = merged(stock(maker, year));
        let tarn = if large {
            vec![(None, 1.0)]
        } else {
            merged(tarn(maker, year))
        };
        let photographic = photographic(maker, year);
        for (a, p) in &ghyll {
            for (b, q) in &stock {
                for (c, r) in &tarn {
                    for (d, s) in &photographic {
                        let chance = p_year * p * q * r * s;
                        let at_hand: Vec<(usize, usize, i64)> =
                            [a, b, c, d].into_iter().filter_map(|has| *has).collect();
                        let all: f64 = at_hand.iter().map(|(e, ..)| used[*e]).sum();
                        let unseen = if at_hand.is_empty() { 1.0 } else { never };
                        prints[X][FRESH] += chance * unseen * 0.7;
                        prints[X][WORN] += chance * unseen * 0.3;
                        for &(e, from, since) in &at_hand {
                            let part = chance * (1.0 - unseen) * used[e] / all;
                            let worn = worn(e, from, year - since);
                            prints[e][FRESH] += part * (1.0 - worn);
                            prints[e][WORN] += part * worn;
                        }
                    }
                }
            }
        }
    }
    prints
}

/// P(engraving | maker, period, size class).
pub fn chances(maker: usize, period: usize, large: bool) -> [f64; 6] {
    prints(maker, period, large).map(|of| of[FRESH] + of[WORN])
}

/// What was seen; left out: nothing.
#[derive(Default)]
pub struct Seen {
    pub large: Option<bool>,
    pub blurred: bool,
    pub sails: Option<usize>,
    pub bridge: Option<usize>,
    pub shading: Option<usize>,
    pub technique: Option<usize>,
    pub faded: Option<bool>,
}

/// Usual states of sails, bridge, shading and technique: small, then large.
const SHOWS: [[[usize; 4]; 5]; 2] = [
    [
        [0, 0, 1, 0],
        [0, 0, 2, 1],
        [1, 2, 0, 0],
        [0, 1, 2, 1],
        [0, 0, 2, 2],
    ],
    [
        [2, 1, 1, 0],
        [2, 1, 2, 1],
        [1, 0, 1, 0],
        [1, 1, 2, 1],
        [2, 1, 2, 2],
    ],
];

/// P(read | there) of three states in order: right, a neighbour, further off.
fn step(read: usize, there: usize, [right, one, further]: [f64; 3]) -> f64 {
    match (there, read.abs_diff(there)) {
        (_, 0) => right,
        (1, _) => (one + further) / 2.0,
        (_, 1) => one,
        _ => further,
    }
}

/// P(the codings as seen | engraving, plate, size class).
fn codings(seen: &Seen, engraving: usize, plate: usize, large: usize) -> f64 {
    if engraving == X {
        let even = |seen: Option<usize>| seen.map_or(1.0, |_| 1.0 / 3.0);
        let technique = seen.technique.map_or(1.0, |t| [0.50, 0.49, 0.01][t]);
        return even(seen.sails) * even(seen.bridge) * even(seen.shading) * technique;
    }
    let [sails, bridge, shading, technique] = SHOWS[large][engraving];
    let of_sails = seen.sails.map_or(1.0, |read| {
        let steps = if seen.blurred {
            [0.75, 0.20, 0.05]
        } else {
            [0.93, 0.06, 0.01]
        };
        step(read, sails, steps)
    });
    let of_bridge = seen.bridge.map_or(1.0, |read| {
        [[0.85, 0.14, 0.01], [0.10, 0.88, 0.02], [0.02, 0.01, 0.97]][bridge][read]
    });
    let of_shading = seen.shading.map_or(1.0, |read| match (plate, shading) {
        (FRESH, _) => step(read, shading, [0.90, 0.09, 0.01]),
        (_, 0) => step(read, 0, [0.80, 0.17, 0.03]),
        (_, there) => {
            let lost = if there == 2 { 0.35 } else { 0.30 };
            (1.0 - lost) * step(read, there, [0.80, 0.17, 0.03])
                + lost * step(read, there - 1, [0.80, 0.17, 0.03])
        }
    });
    let of_technique = seen.technique.map_or(1.0, |read| {
        let right = match (seen.blurred, plate) {
            (true, _) => 0.70,
            (false, FRESH) => 0.94,
            (false, _) => 0.80,
        };
        let reads = |there: usize| {
            if read == there {
                right
            } else {
                (1.0 - right) / 2.0
            }
        };
        if plate == WORN && technique == 1 {
            0.6 * reads(1) + 0.4 * reads(0)
        } else {
            reads(technique)
        }
    });
    of_sails * of_bridge * of_shading * of_technique
}

/// P(maker, engraving, plate, what was seen).
pub fn joint(seen: &Seen) -> [[[f64; 2]; 6]; 6] {
    let mut joint = [[[0.0; 2]; 6]; 6];
    for maker in 0..6 {
        for period in (0..4).filter(|&period| OUTPUT[maker][period] > 0.0) {
            for (large, p_size) in [0.4, 0.6].into_iter().enumerate() {
                if seen.large.is_some_and(|is| usize::from(is) != large) {
                    continue;
                }
                let prints = prints(maker, period, large == 1);
                for (engraving, of_plate) in prints.iter().enumerate() {
                    for (plate, p) in of_plate.iter().enumerate() {
                        let faded = if plate == FRESH { 0.10 } else { 0.75 };
                        let impression = seen
                            .faded
                            .map_or(1.0, |is| if is { faded } else { 1.0 - faded });
                        joint[maker][engraving][plate] += SHARE[maker]
                            * OUTPUT[maker][period]
                            * p
                            * p_size
                            * impression
                            * codings(seen, engraving, plate, large);
                    }
                }
            }
        }
    }
    joint
}
