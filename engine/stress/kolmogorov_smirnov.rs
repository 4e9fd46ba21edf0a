//! Whether two samples come from one distribution, for tests.

/// Two-sample Kolmogorov–Smirnov test of samples of one size.
///
/// Numbers below 1e-300 count as 0, and numbers within 1e-12 of 1 as 1: what an underflow leaves, and the last digits of a
/// chance that is all but certain, are matters of rounding.
///
/// Source: critical value 1.95 √(2/n) at 0.1 % (Smirnov 1948, *Annals of Mathematical Statistics* 19:279–281).
pub(super) fn assert_same_distribution(mut a: Vec<f64>, mut b: Vec<f64>, what: &str) {
    assert_eq!(a.len(), b.len());
    let n = a.len() as f64;
    for x in a.iter_mut().chain(&mut b) {
        if *x < 1e-300 {
            *x = 0.0;
        } else if (*x - 1.0).abs() < 1e-12 {
            *x = 1.0;
        }
    }
    a.sort_by(f64::total_cmp);
    b.sort_by(f64::total_cmp);
    // At each value met in either sample: the share at or below it.
    let at_or_below = |sorted: &[f64], x: f64| sorted.partition_point(|&s| s <= x) as f64 / n;
    let distance = a
        .iter()
        .chain(&b)
        .map(|&x| (at_or_below(&a, x) - at_or_below(&b, x)).abs())
        .fold(0.0, f64::max);
    let critical = 1.95 * (2.0 / n).sqrt();
    assert!(
        distance < critical,
        "{what}: {distance}, critical {critical}"
    );
}
