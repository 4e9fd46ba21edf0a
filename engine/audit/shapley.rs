//! How a shift is shared out among those that brought it about, over all orders in which they could have come.

use chacha20::ChaCha8Rng;
use rand::SeedableRng;
use rand::seq::SliceRandom;

/// Players of a game that is worked out in full: 2^20 worths are kept.
pub const MOST_EXACT: usize = 20;

/// The Shapley value of each player, from the worth of every coalition.
///
/// `worth` holds 2^n entries; bit i of a place says whether player i takes part. The values add up to the worth of all
/// less the worth of none.
///
/// # Source
/// Shapley 1953, "A value for n-person games", *Contributions to the Theory of Games* II:307–317, eq. 12: the mean over
/// all orders of what a player adds to those before it.
///
/// # Panics
/// If the number of entries is not a power of two.
#[must_use]
pub fn shapley(worth: &[f64]) -> Vec<f64> {
    let n = players(worth);
    let weight = weights(n);
    (0..n)
        .map(|player| {
            // One sum for each size, so that the few weights are applied last.
            let mut by_size = vec![0.0; n];
            for coalition in (0..worth.len()).filter(|c| c >> player & 1 == 0) {
                let added = worth[coalition | 1 << player] - worth[coalition];
                by_size[coalition.count_ones() as usize] += added;
            }
            dot(&by_size, &weight)
        })
        .collect()
}

/// What two players are worth together beyond what they are worth apart, averaged over the coalitions they could join:
/// below 0 where each makes the other's contribution smaller.
///
/// # Source
/// Grabisch and Roubens 1999, "An axiomatic approach to the concept of interaction among players in cooperative games",
/// *Int. J. Game Theory* 28:547–565, the interaction index of pairs (from memory).
///
/// # Panics
/// If the number of entries is not a power of two, or the players are the same or not in the game.
#[must_use]
pub fn interaction(worth: &[f64], a: usize, b: usize) -> f64 {
    let n = players(worth);
    assert!(a != b && a < n && b < n, "two players of the game");
    let pair = 1 << a | 1 << b;
    let mut by_size = vec![0.0; n - 1];
    for coalition in (0..worth.len()).filter(|c| c & pair == 0) {
        let together = worth[coalition | pair] - worth[coalition];
        let apart = worth[coalition | 1 << a] + worth[coalition | 1 << b] - 2.0 * worth[coalition];
        by_size[coalition.count_ones() as usize] += together - apart;
    }
    dot(&by_size, &weights(n - 1))
}

fn players(worth: &[f64]) -> usize {
    assert!(worth.len().is_power_of_two(), "a worth for every coalition");
    worth.len().trailing_zeros() as usize
}

fn dot(x: &[f64], y: &[f64]) -> f64 {
    x.iter().zip(y).map(|(x, y)| x * y).sum()
}

/// s! (n − s − 1)! / n! for each size s of a coalition that one of n players joins.
fn weights(n: usize) -> Vec<f64> {
    // 1/n divided by the number of coalitions of that size among the others.
    let mut coalitions = 1.0;
    (0..n)
        .map(|size| {
            let weight = 1.0 / (n as f64 * coalitions);
            coalitions *= (n - 1 - size) as f64 / (size + 1) as f64;
            weight
        })
        .collect()
}

/// An estimate of one player's Shapley value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimated {
    /// The mean over the orders drawn.
    pub value: f64,
    /// Its standard error.
    pub standard_error: f64,
}

/// Shapley values estimated from random orders, each taken forwards and backwards, until every standard error is at most
/// `precision` or `most_orders` pairs have been drawn.
///
/// `worth` is asked for the worth of those who have come so far.
///
/// # Errors
/// The first error of `worth`.
///
/// # Source
/// Castro, Gómez and Tejada 2009, "Polynomial calculation of the Shapley value based on sampling", *Computers & Operations
/// Research* 36:1726–1730; antithetic pairs as in Mitchell, Cooper, Frank and Holmes 2022, *JMLR* 23(43), sec. 3 (both
/// from memory). The standard error is that of the mean of pairs.
pub fn sampled<E>(
    n: usize,
    mut worth: impl FnMut(&[bool]) -> Result<f64, E>,
    precision: f64,
    most_orders: usize,
    seed: u64,
) -> Result<Vec<Estimated>, E> {
    /// Fewer pairs tell too little of their own spread.
    const FEWEST_ORDERS: usize = 16;

    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let none = worth(&vec![false; n])?;
    let all = worth(&vec![true; n])?;
    let mut order: Vec<usize> = (0..n).collect();
    let mut sums = vec![Welford::default(); n];
    let mut pair = vec![0.0; n];
    for drawn in 1..=most_orders.max(FEWEST_ORDERS) {
        order.shuffle(&mut rng);
        pair.fill(0.0);
        for _ in 0..2 {
            let mut come = vec![false; n];
            let mut before = none;
            for (step, &player) in order.iter().enumerate() {
                come[player] = true;
                let after = if step + 1 == n { all } else { worth(&come)? };
                pair[player] += (after - before) / 2.0;
                before = after;
            }
            order.reverse();
        }
        sums.iter_mut().zip(&pair).for_each(|(sum, &x)| sum.add(x));
        let is_precise = |sum: &Welford| sum.standard_error() <= precision;
        if drawn >= FEWEST_ORDERS && sums.iter().all(is_precise) {
            break;
        }
    }
    let estimated = sums.iter().map(|sum| Estimated {
        value: sum.mean,
        standard_error: sum.standard_error(),
    });
    Ok(estimated.collect())
}

/// Running mean and spread (Welford 1962, *Technometrics* 4:419–420).
#[derive(Clone, Debug, Default)]
struct Welford {
    n: f64,
    mean: f64,
    squares: f64,
}

impl Welford {
    fn add(&mut self, x: f64) {
        self.n += 1.0;
        let before = x - self.mean;
        self.mean += before / self.n;
        self.squares += before * (x - self.mean);
    }

    fn standard_error(&self) -> f64 {
        (self.squares / (self.n - 1.0).max(1.0) / self.n).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use std::convert::Infallible;

    use proptest::prelude::*;

    use super::*;

    fn close(found: &[f64], expected: &[f64]) {
        for (f, e) in found.iter().zip(expected) {
            assert!((f - e).abs() < 1e-12, "{found:?} instead of {expected:?}");
        }
    }

    /// One left glove and two right ones; a pair is worth 1. Values 2/3, 1/6, 1/6 (Shapley's own kind of example; the
    /// figures from memory, and by hand: the left glove makes a pair unless it comes first, in 4 of 6 orders).
    #[test]
    fn gloves() {
        let worth: Vec<f64> = (0..8_u32)
            .map(|c| f64::from(u8::from(c & 1 == 1 && c > 1)))
            .collect();
        close(&shapley(&worth), &[2.0 / 3.0, 1.0 / 6.0, 1.0 / 6.0]);
    }

    /// A runway that must be as long as its longest user needs: each stretch is shared by those who need it.
    /// Source: Littlechild and Owen 1973, *Management Science* 20:370–372 (closed form, from memory).
    #[test]
    fn runway() {
        let needs = [1.0, 2.0, 5.0, 5.0];
        let worth: Vec<f64> = (0..16_usize)
            .map(|c| {
                let users = (0..4).filter(|i| c >> i & 1 == 1).map(|i| needs[i]);
                users.fold(0.0, f64::max)
            })
            .collect();
        close(
            &shapley(&worth),
            &[
                0.25,
                0.25 + 1.0 / 3.0,
                0.25 + 1.0 / 3.0 + 1.5,
                0.25 + 1.0 / 3.0 + 1.5,
            ],
        );
    }

    /// By the definition: what each adds, averaged over all orders.
    fn by_orders(worth: &[f64]) -> Vec<f64> {
        fn walk(worth: &[f64], come: usize, values: &mut [f64], share: f64) {
            let n = values.len();
            let left: Vec<usize> = (0..n).filter(|i| come >> i & 1 == 0).collect();
            let share = share / left.len().max(1) as f64;
            for i in left {
                values[i] += share * (worth[come | 1 << i] - worth[come]);
                walk(worth, come | 1 << i, values, share);
            }
        }
        let mut values = vec![0.0; players(worth)];
        walk(worth, 0, &mut values, 1.0);
        values
    }

    fn game() -> impl Strategy<Value = Vec<f64>> {
        (1..7_u32).prop_flat_map(|n| prop::collection::vec(-10.0..10.0, 1 << n))
    }

    proptest! {
        #[test]
        fn the_mean_over_all_orders(worth in game()) {
            close(&shapley(&worth), &by_orders(&worth));
        }

        /// Shapley's axioms.
        #[test]
        fn efficiency_symmetry_null_player_additivity(worth in game(), other in game()) {
            let n = players(&worth);
            let all = worth[worth.len() - 1] - worth[0];
            prop_assert!((shapley(&worth).iter().sum::<f64>() - all).abs() < 1e-11);
            // One more player who adds nothing.
            let doubled: Vec<f64> = worth.iter().chain(&worth).copied().collect();
            prop_assert!(shapley(&doubled)[n].abs() < 1e-12);
            prop_assert!(interaction(&doubled, 0, n).abs() < 1e-12);
            // One more player in the place of the first.
            let as_first = |c: usize| {
                let has = usize::from(c & 1 == 1 || c >> n & 1 == 1);
                worth[(c & (worth.len() - 1) & !1) | has]
            };
            let twins: Vec<f64> = (0..2 * worth.len()).map(as_first).collect();
            let values = shapley(&twins);
            prop_assert!((values[0] - values[n]).abs() < 1e-12);
            if other.len() == worth.len() {
                let sum: Vec<f64> = worth.iter().zip(&other).map(|(a, b)| a + b).collect();
                let apart: Vec<f64> = shapley(&worth).iter().zip(shapley(&other)).map(|(a, b)| a + b).collect();
                close(&shapley(&sum), &apart);
            }
        }

        /// An interaction is how far one player's value changes if the other is always there or never.
        #[test]
        fn interaction_is_a_difference_of_values(worth in game()) {
            let n = players(&worth);
            prop_assume!(n >= 2);
            let last = worth.len() / 2;
            let (absent, present) = worth.split_at(last);
            for a in 0..n - 1 {
                let expected = shapley(present)[a] - shapley(absent)[a];
                prop_assert!((interaction(&worth, a, n - 1) - expected).abs() < 1e-11);
                prop_assert_eq!(interaction(&worth, a, n - 1), interaction(&worth, n - 1, a));
            }
        }
    }

    #[test]
    fn sampling_comes_close_and_says_how_close() {
        let worth: Vec<f64> = (0..64_u32).map(|c| f64::from(c * c % 37)).collect();
        let exact = shapley(&worth);
        let place = |come: &[bool]| {
            let bits = come.iter().enumerate().map(|(i, &c)| usize::from(c) << i);
            Ok::<_, Infallible>(worth[bits.sum::<usize>()])
        };
        let found = sampled(6, place, 0.05, 100_000, 1).unwrap();
        for (f, e) in found.iter().zip(&exact) {
            assert!(f.standard_error <= 0.05 && f.standard_error > 0.0);
            assert!((f.value - e).abs() < 5.0 * f.standard_error, "{f:?} {e}");
        }
        assert_eq!(found, sampled(6, place, 0.05, 100_000, 1).unwrap());
        let total: f64 = found.iter().map(|f| f.value).sum();
        assert!((total - (worth[63] - worth[0])).abs() < 1e-9);
    }
}
