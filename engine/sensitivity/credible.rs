//! Between which values a doubted number lies with nine chances in ten.
//!
//! Beliefs are doubted as a stress run doubts them ([`crate::model::Spread`] has the sources): one chance of a Dirichlet is
//! a beta, the mean of a normal is a t, its variance a scaled inverse χ².

use statrs::distribution::{Beta, ChiSquared, ContinuousCDF, StudentsT};

/// 5 % lie below the first value, 95 % below the second.
pub const LEVELS: [f64; 2] = [0.05, 0.95];

/// One chance of several, said with `seen` pieces behind it: Beta(`seen` × say, `seen` × (1 − say)). What is certain stays
/// so.
///
/// Source: the marginal of a Dirichlet (Kotz, Balakrishnan & Johnson 2000, *Continuous Multivariate Distributions* vol. 1,
/// ch. 49).
#[must_use]
pub fn chance(say: f64, rest: f64, seen: f64) -> [f64; 2] {
    if say == 0.0 || rest == 0.0 {
        return [say; 2];
    }
    match Beta::new(seen * say, seen * rest) {
        Ok(beta) => LEVELS.map(|level| quantile(&beta, level, 0.0, 1.0)),
        Err(_) => [say; 2],
    }
}

/// A mean with `seen` pieces behind it: t with `seen` degrees of freedom, of scale sd/√`seen`.
///
/// Source: Gelman et al. 2013, *Bayesian Data Analysis* (3rd ed.), sec. 3.3.
#[must_use]
pub fn mean(mean: f64, sd: f64, seen: f64, freedom: f64) -> [f64; 2] {
    match StudentsT::new(0.0, 1.0, freedom) {
        Ok(t) => {
            let far = t.inverse_cdf(LEVELS[1]) * sd / seen.sqrt();
            [mean - far, mean + far]
        }
        Err(_) => [mean; 2],
    }
}

/// A standard deviation with `seen` pieces behind it: sd √(`seen` / χ²), χ² with so many degrees of freedom.
///
/// Source: Gelman et al. 2013, *Bayesian Data Analysis* (3rd ed.), sec. 3.3.
#[must_use]
pub fn deviation(sd: f64, seen: f64, freedom: f64) -> [f64; 2] {
    match ChiSquared::new(freedom) {
        // A large χ² makes a small deviation.
        Ok(chi_squared) => {
            [LEVELS[1], LEVELS[0]].map(|level| sd * (seen / chi_squared.inverse_cdf(level)).sqrt())
        }
        Err(_) => [sd; 2],
    }
}

/// The value below which the given share lies, found anew by halving if the library's own is off.
fn quantile(beta: &Beta, level: f64, mut low: f64, mut high: f64) -> f64 {
    let found = beta.inverse_cdf(level);
    if (beta.cdf(found) - level).abs() < 1e-12 {
        return found;
    }
    loop {
        let middle = f64::midpoint(low, high);
        if middle <= low || middle >= high {
            return middle;
        }
        if beta.cdf(middle) < level {
            low = middle;
        } else {
            high = middle;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn near(found: [f64; 2], expected: [f64; 2]) {
        for (found, expected) in found.iter().zip(expected) {
            let off = (found / expected - 1.0).abs();
            assert!(off < 1e-9, "{found}, not {expected}");
        }
    }

    /// Source: mpmath 1.3, `betainc` regularised, halved to 40 digits; the last from SciPy 1.17.1, `scipy.stats.beta.ppf`.
    #[test]
    fn quantiles_of_the_beta() {
        let of = |say: f64, seen: f64| chance(say, 1.0 - say, seen);
        near(
            of(0.3, 60.0),
            [0.207_350_926_037_863_67, 0.400_290_877_152_773_5],
        );
        near(
            of(0.05, 60.0),
            [0.014_000_874_503_575_207, 0.102_889_162_709_954_02],
        );
        near(
            of(0.02, 12.0),
            [2.234_418_826_656_152_5e-7, 0.098_106_696_872_356_27],
        );
        near(
            of(0.001, 5.0),
            [7.784_714_899_321_362e-262, 4.385_008_834_498_806e-6],
        );
        near(
            of(0.97, 200.0),
            [0.947_899_773_827_154_1, 0.986_789_559_297_091_3],
        );
        near(
            of(0.5, 1.5),
            [0.025_263_335_549_436_333, 0.974_736_664_450_563_7],
        );
        near(
            of(0.25, 1e5),
            [0.247_750_547_183_453_85, 0.252_255_137_988_001_3],
        );
    }

    /// One piece in ten seen, of ten: Beta(1, 9), whose quantile is 1 − (1 − p)^(1/9).
    #[test]
    fn a_beta_with_a_closed_form() {
        near(
            chance(0.1, 0.9, 10.0),
            LEVELS.map(|p| 1.0 - (1.0 - p).powf(1.0 / 9.0)),
        );
        assert_eq!(chance(0.0, 1.0, 10.0), [0.0, 0.0]);
        assert_eq!(chance(1.0, 0.0, 10.0), [1.0, 1.0]);
    }

    /// Source: SciPy 1.17.1, `scipy.stats.t.ppf` and `scipy.stats.chi2.ppf`; to three digits the printed tables' 1.697, 18.49
    /// and 43.77 for 30 degrees of freedom.
    #[test]
    fn quantiles_of_the_t_and_of_chi_squared() {
        let t = 1.697_260_886_593_957;
        let far = t * 0.06 / 30_f64.sqrt();
        near(mean(1.1, 0.06, 30.0, 30.0), [1.1 - far, 1.1 + far]);
        let sd = |chi_squared: f64| 0.06 * (30.0 / chi_squared).sqrt();
        near(
            deviation(0.06, 30.0, 30.0),
            [sd(43.772_971_825_742_19), sd(18.492_660_981_953_47)],
        );
        let few = [sd2(4.980_195_284_308_651), sd2(0.033_232_776_312_490_386)];
        near(deviation(2.0, 1.5, 1.5), few);
    }

    fn sd2(chi_squared: f64) -> f64 {
        2.0 * (1.5 / chi_squared).sqrt()
    }
}
