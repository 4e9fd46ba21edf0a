//! The pack *Moor ware* written out by hand, and its posterior by summing over everything that was not seen.
//!
//! Numbers are those of `tests/packs/moor_ware`; nothing here uses the library.

use std::f64::consts::TAU;

/// Shares of the makers PH, HS, NB, unlisted, copy.
const SHARES: [f64; 5] = [0.30, 0.25, 0.25, 0.10, 0.10];
/// P(early, late, modern | maker).
const OUTPUT: [[f64; 3]; 5] = [
    [0.95, 0.05, 0.0],
    [0.05, 0.95, 0.0],
    [0.40, 0.60, 0.0],
    [0.50, 0.50, 0.0],
    [0.0, 0.0, 1.0],
];
/// Cold Spout, Nettle Bank, works not known.
const WORKS: [usize; 5] = [0, 0, 1, 2, 2];
const COPY: usize = 4;

const GRIT: [[f64; 3]; 3] = [[0.15, 0.35, 0.50], [0.60, 0.30, 0.10], [0.45, 0.35, 0.20]];
const FOOT: [[f64; 2]; 3] = [[0.15, 0.85], [0.90, 0.10], [0.60, 0.40]];
const JOIN: [[f64; 2]; 3] = [[0.20, 0.80], [0.85, 0.15], [0.70, 0.30]];
const LETTERS: [[f64; 5]; 5] = [
    [0.70, 0.27, 0.01, 0.01, 0.01],
    [0.70, 0.01, 0.27, 0.01, 0.01],
    [0.50, 0.01, 0.01, 0.47, 0.01],
    [0.80, 0.02, 0.02, 0.02, 0.14],
    [0.60, 0.25, 0.05, 0.05, 0.05],
];
/// Mean, standard deviation and correlation of L*, a*, b* by tint.
const COLOUR: [[[f64; 3]; 3]; 4] = [
    [[91.0, -0.8, 3.0], [2.0, 0.5, 1.2], [0.2, 0.3, -0.1]],
    [[88.5, -2.0, 0.5], [2.2, 0.6, 1.3], [0.3, 0.4, -0.2]],
    [[85.0, -3.2, -2.5], [2.5, 0.8, 1.5], [0.4, 0.5, -0.2]],
    [[80.0, -4.0, -6.5], [3.0, 1.0, 2.0], [0.4, 0.6, -0.3]],
];

/// What was seen, each as the chance of it given the states behind it; left out: 1.
pub struct Seen {
    pub tint: Option<(usize, [f64; 3])>,
    pub colour: Option<([f64; 3], [f64; 3])>,
    pub grit: Option<usize>,
    pub crazing: Option<usize>,
    pub pooling: Option<usize>,
    pub wear: Option<usize>,
    pub in_use: Option<usize>,
    pub body: Option<usize>,
    pub foot: Option<usize>,
    pub join: Option<usize>,
    pub letters: Option<usize>,
    /// Density of the weight given body, maker and period.
    pub weight: Box<dyn Fn(usize, usize, usize) -> f64>,
}

impl Seen {
    pub fn nothing() -> Self {
        Self {
            tint: None,
            colour: None,
            grit: None,
            crazing: None,
            pooling: None,
            wear: None,
            in_use: None,
            body: None,
            foot: None,
            join: None,
            letters: None,
            weight: Box::new(|_, _, _| 1.0),
        }
    }
}

fn tint(maker: usize, period: usize) -> [f64; 4] {
    match (maker, period) {
        (0..=2, 0) => [0.05, 0.25, 0.50, 0.20],
        (0..=2, _) => [0.20, 0.45, 0.30, 0.05],
        (3, _) => [0.30, 0.30, 0.30, 0.10],
        _ => [0.80, 0.15, 0.04, 0.01],
    }
}

/// None, light, heavy, simulated, by maker, period, and whether it was on show.
fn wear(maker: usize, period: usize, on_show: usize) -> [f64; 4] {
    let [none, light, heavy]: [f64; 3] = match (period, on_show) {
        (0, 0) => [0.02, 0.23, 0.75],
        (1, 0) => [0.04, 0.36, 0.60],
        (2, 0) => [0.40, 0.55, 0.05],
        (2, _) => [0.90, 0.09, 0.01],
        _ => [0.35, 0.55, 0.10],
    };
    let simulated = if maker == COPY { 0.30 } else { 0.005 };
    let left = 1.0 - simulated;
    [none * left, light * left, heavy * left, simulated]
}

/// P(read | there) of `n` grades with chances of right, one off and further off.
fn reading(read: usize, there: usize, n: usize, [right, one, further]: [f64; 3]) -> f64 {
    let near: Vec<usize> = (0..n).filter(|g| g.abs_diff(there) == 1).collect();
    let far: Vec<usize> = (0..n).filter(|g| g.abs_diff(there) > 1).collect();
    if read == there {
        right
    } else if near.contains(&read) {
        (one + if far.is_empty() { further } else { 0.0 }) / near.len() as f64
    } else {
        further / far.len() as f64
    }
}

/// Density of three normals, by the inverse and determinant of the covariance written out.
///
/// Source: Mardia, Kent & Bibby 1979, *Multivariate Analysis*, eq. 2.5.1; the inverse by cofactors.
pub fn colour(lab: [f64; 3], tint: usize, instrument: [f64; 3]) -> f64 {
    let [mean, sd, [la, lb, ab]] = COLOUR[tint];
    let v = |i: usize| sd[i] * sd[i] + instrument[i] * instrument[i];
    let (p, q, r) = (v(0), v(1), v(2));
    let (x, y, z) = (la * sd[0] * sd[1], lb * sd[0] * sd[2], ab * sd[1] * sd[2]);
    let det = p * q * r + 2.0 * x * y * z - p * z * z - q * y * y - r * x * x;
    let d: Vec<f64> = lab.iter().zip(mean).map(|(l, m)| l - m).collect();
    let quadratic = (q * r - z * z) * d[0] * d[0]
        + (p * r - y * y) * d[1] * d[1]
        + (p * q - x * x) * d[2] * d[2]
        + 2.0
            * ((y * z - x * r) * d[0] * d[1]
                + (x * z - y * q) * d[0] * d[2]
                + (x * y - p * z) * d[1] * d[2]);
    (-0.5 * quadratic / det).exp() / (TAU.powi(3) * det).sqrt()
}

/// P(maker, what was seen).
pub fn joint(seen: &Seen) -> [f64; 5] {
    let read = |seen: Option<usize>, there: usize, n: usize, steps: [f64; 3]| {
        seen.map_or(1.0, |read| reading(read, there, n, steps))
    };
    let is = |seen: Option<usize>, table: &[f64]| seen.map_or(1.0, |state| table[state]);
    let mut joint = [0.0; 5];
    for maker in 0..5 {
        let works = WORKS[maker];
        let grit: f64 = (0..3)
            .map(|there| GRIT[works][there] * read(seen.grit, there, 3, [0.80, 0.18, 0.02]))
            .sum();
        let letters = is(seen.letters, &LETTERS[maker]);
        let moulds = is(seen.foot, &FOOT[works]) * is(seen.join, &JOIN[works]);
        for (period, output) in OUTPUT[maker].into_iter().enumerate() {
            let glaze: f64 = (0..4)
                .map(|there| {
                    let eye = seen
                        .tint
                        .map_or(1.0, |(read, steps)| reading(read, there, 4, steps));
                    let measured = seen
                        .colour
                        .map_or(1.0, |(lab, instrument)| colour(lab, there, instrument));
                    let pools = if there < 2 {
                        [0.50, 0.35, 0.15]
                    } else {
                        [0.20, 0.40, 0.40]
                    };
                    let pooling: f64 = (0..3)
                        .map(|p| pools[p] * read(seen.pooling, p, 3, [0.85, 0.14, 0.01]))
                        .sum();
                    tint(maker, period)[there] * eye * measured * pooling
                })
                .sum();
            let open = if period < 2 { 0.60 } else { 0.15 };
            let crazing: f64 = [1.0 - open, open]
                .iter()
                .enumerate()
                .map(|(c, p)| p * read(seen.crazing, c, 2, [0.95, 0.05, 0.0]))
                .sum();
            let worn: f64 = (0..2)
                .filter(|use_| seen.in_use.is_none_or(|seen| seen == *use_))
                .map(|on_show| {
                    let kept = [0.60, 0.40][on_show];
                    let felt: f64 = (0..4)
                        .map(|w| {
                            wear(maker, period, on_show)[w]
                                * read(seen.wear, w, 4, [0.85, 0.13, 0.02])
                        })
                        .sum();
                    kept * felt
                })
                .sum();
            let stone = if maker == 2 { 0.70 } else { 0.20 };
            let weight: f64 = (0..2)
                .filter(|body| seen.body.is_none_or(|seen| seen == *body))
                .map(|body| [1.0 - stone, stone][body] * (seen.weight)(body, maker, period))
                .sum();
            joint[maker] +=
                SHARES[maker] * output * grit * letters * moulds * glaze * crazing * worn * weight;
        }
    }
    joint
}

/// Median and factor of the weight per litre.
pub fn hollow(body: usize, maker: usize, period: usize) -> (f64, f64) {
    match (body, maker, period) {
        (0, 0 | 1, 0) => (620.0, 1.10),
        (0, 0 | 1, _) => (580.0, 1.10),
        (_, 0 | 1, _) => (760.0, 1.12),
        (0, 2, _) => (500.0, 1.08),
        (_, 2, _) => (690.0, 1.08),
        (0, 3, _) => (560.0, 1.25),
        (_, 3, _) => (720.0, 1.25),
        _ => (450.0, 1.06),
    }
}

/// Median and factor of the weight per square centimetre.
pub fn flat(body: usize, maker: usize) -> (f64, f64) {
    match (body, maker) {
        (0, 0 | 1) => (1.25, 1.10),
        (_, 0 | 1) => (1.50, 1.12),
        (0, 2) => (1.05, 1.08),
        (_, 2) => (1.38, 1.08),
        (_, 3) => (1.25, 1.25),
        _ => (0.95, 1.06),
    }
}

/// Density of a lognormal. Source: Johnson, Kotz & Balakrishnan 1994, vol. 1, eq. 14.2 (from memory).
pub fn lognormal(x: f64, (median, factor): (f64, f64)) -> f64 {
    let sigma = factor.ln();
    let z = (x / median).ln() / sigma;
    (-0.5 * z * z).exp() / (x * sigma * TAU.sqrt())
}

/// Mean of that density over an interval, by Simpson's rule.
pub fn mean_lognormal(low: f64, high: f64, shape: (f64, f64)) -> f64 {
    const N: usize = 400;
    let at = |i: usize| lognormal(low + (high - low) * i as f64 / N as f64, shape);
    let inner: f64 = (1..N)
        .map(|i| if i % 2 == 1 { 4.0 } else { 2.0 } * at(i))
        .sum();
    (at(0) + inner + at(N)) / (3.0 * N as f64)
}
