//! Figures from samples, each with its Monte Carlo standard error.

use serde::Serialize;

/// A figure from samples with its Monte Carlo standard error.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Estimate {
    /// The figure.
    pub value: f64,
    /// Its standard error over the draws.
    pub standard_error: f64,
}

/// The mean, with √(s²/n).
pub(super) fn mean(values: &[f64]) -> Estimate {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let variance = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0).max(1.0);
    Estimate {
        value: mean,
        standard_error: (variance / n).sqrt(),
    }
}

/// A share of draws, with the binomial standard error √(p(1−p)/n).
pub(super) fn share(count: usize, n: usize) -> Estimate {
    let (count, n) = (count as f64, n as f64);
    let p = count / n;
    Estimate {
        value: p,
        standard_error: (p * (1.0 - p) / n).sqrt(),
    }
}

/// How large a share may be, with 95 % confidence, of what never came in `n` draws: 1 − 0.05^(1/n), about 3/n.
///
/// Source: the upper end of Clopper & Pearson 1934, "The use of confidence or fiducial limits illustrated in the case of the
/// binomial", Biometrika 26, for no success; the rule of three of Hanley & Lippman-Hand 1983, "If nothing goes wrong, is
/// everything all right?", JAMA 249 (both from memory).
pub(super) fn unseen_up_to(n: usize) -> f64 {
    -(0.05_f64.ln() / n as f64).exp_m1()
}

/// A quantile of sorted values (linear between order statistics), with half the distance between the quantiles one
/// binomial standard error to either side as its standard error.
///
/// Source: the order-statistic interval of David & Nagaraja 2003, *Order Statistics* (3rd ed.), sec. 7.1.
pub(super) fn quantile(sorted: &[f64], p: f64) -> Estimate {
    let n = sorted.len() as f64;
    let at = |p: f64| {
        let place = p.clamp(0.0, 1.0) * (n - 1.0);
        let (low, high) = (place.floor() as usize, place.ceil() as usize);
        sorted[low] + (sorted[high] - sorted[low]) * place.fract()
    };
    let step = (p * (1.0 - p) / n).sqrt();
    Estimate {
        value: at(p),
        standard_error: (at(p + step) - at(p - step)) / 2.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quantiles_lie_between_order_statistics() {
        let sorted: Vec<f64> = (0..=100).map(f64::from).collect();
        assert_eq!(quantile(&sorted, 0.05).value, 5.0);
        assert_eq!(quantile(&sorted, 0.5).value, 50.0);
        assert_eq!(quantile(&[1.0], 0.95).value, 1.0);
        assert!((quantile(&[0.0, 1.0], 0.25).value - 0.25).abs() < 1e-15);
    }

    /// Source: the rule of three; and by its definition, (1 − p)ⁿ = 0.05.
    #[test]
    fn what_never_came_may_still_be() {
        assert!((unseen_up_to(1) - 0.95).abs() < 1e-15);
        for n in [2, 100, 1000, 1_000_000] {
            let p = unseen_up_to(n);
            assert!(((1.0 - p).powf(n as f64) - 0.05).abs() < 1e-9);
            assert!(n < 100 || (p * n as f64 - 3.0).abs() < 0.05, "{p}");
        }
    }

    #[test]
    fn a_share_carries_its_binomial_error() {
        let estimate = share(25, 100);
        assert_eq!(estimate.value, 0.25);
        assert!(
            (estimate.standard_error - 0.25_f64.mul_add(0.75, 0.0).sqrt() / 10.0).abs() < 1e-15
        );
    }
}
