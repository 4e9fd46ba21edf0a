//! The regression behind values, against certified values, closed forms and sums written out.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use std::path::Path;

use saggar::value::regression::{Coefficient, Fit, RegressionError, ScatterBelief};
use statrs::distribution::{ContinuousCDF, StudentsT};

const FLAT: Coefficient = Coefficient {
    mean: 0.0,
    sd: None,
};
const OPEN: ScatterBelief = ScatterBelief {
    scale: 1.0,
    seen: 0.0,
};

/// Digits in which two numbers agree.
fn digits(found: f64, wanted: f64) -> f64 {
    -((found - wanted).abs() / wanted.abs()).max(1e-16).log10()
}

/// Source: NIST/ITL Statistical Reference Datasets, linear least squares: Norris, Longley, Filip
/// (`tests/reference/09-regression/certified.json`).
#[test]
fn certified_values() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/09-regression");
    let text = std::fs::read_to_string(folder.join("certified.json")).unwrap();
    let certified: serde_json::Value = serde_json::from_str(&text).unwrap();
    let mut n_sets = 0;
    for set in certified["sets"].as_array().unwrap() {
        let name = set["name"].as_str().unwrap();
        // Digits asked for: coefficients, standard errors, residual standard deviation. Filip's polynomial of degree ten leaves
        // about seven to a double.
        let [of_coefficients, of_errors, of_scatter] = match name {
            "norris" => [12.0, 12.0, 12.0],
            "longley" => [10.0, 10.0, 10.0],
            "filip" => [6.0, 6.0, 6.0],
            other => panic!("{other}"),
        };
        let numbers = |key: &str| -> Vec<f64> {
            let list = set[key].as_array().unwrap().iter();
            list.map(|number| number.as_str().unwrap().replace('D', "e").parse().unwrap())
                .collect()
        };
        let (wanted, errors) = (numbers("certified"), numbers("certified_se"));
        let residual: f64 = set["certified_residual_sd"]
            .as_str()
            .unwrap()
            .parse()
            .unwrap();
        let k = wanted.len();
        let mut reader =
            csv::Reader::from_path(folder.join(set["file"].as_str().unwrap())).unwrap();
        let (mut rows, mut prices) = (Vec::new(), Vec::new());
        for record in reader.records() {
            let cells: Vec<f64> = record
                .unwrap()
                .iter()
                .map(|cell| cell.parse().unwrap())
                .collect();
            prices.push(cells[0]);
            rows.push(if cells.len() == 2 {
                (0..k)
                    .map(|power| cells[1].powi(i32::try_from(power).unwrap()))
                    .collect()
            } else {
                std::iter::once(1.0)
                    .chain(cells[1..].iter().copied())
                    .collect()
            });
        }
        assert_eq!(
            rows.len(),
            usize::try_from(set["n"].as_u64().unwrap()).unwrap()
        );
        let fit = Fit::new(&rows, &prices, &vec![FLAT; k], OPEN).unwrap();
        let scatter = fit.scatter();
        let lowest = |found: &[f64], wanted: &[f64]| {
            let pairs = found.iter().zip(wanted);
            pairs
                .map(|(&f, &w)| digits(f, w))
                .fold(f64::INFINITY, f64::min)
        };
        let reached = [
            lowest(&fit.means(), &wanted),
            lowest(&fit.standard_errors(scatter), &errors),
            digits(scatter, residual),
        ];
        println!("{name}: digits of coefficients, standard errors, scatter: {reached:.1?}");
        assert!(reached[0] >= of_coefficients, "{name} {reached:?}");
        assert!(reached[1] >= of_errors, "{name} {reached:?}");
        assert!(reached[2] >= of_scatter, "{name} {reached:?}");
        n_sets += 1;
    }
    assert_eq!(n_sets, 3);
}

/// With flat priors the next price has a Student-t distribution.
/// Source: Gelman et al. 2013, *Bayesian Data Analysis*, 3rd ed., sec. 14.2, eq. (14.8).
#[test]
fn the_next_price_is_student_t() {
    let x = [0.0, 1.0, 2.0, 4.0, 7.0];
    let y = [1.1, 1.9, 3.2, 4.7, 8.4];
    let rows: Vec<Vec<f64>> = x.iter().map(|&x| vec![1.0, x]).collect();
    let fit = Fit::new(&rows, &y, &[FLAT; 2], OPEN).unwrap();
    // Least squares by hand.
    let n = 5.0;
    let (mx, my) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let sxx: f64 = x.iter().map(|x| (x - mx).powi(2)).sum();
    let sxy: f64 = x.iter().zip(&y).map(|(x, y)| (x - mx) * (y - my)).sum();
    let b = sxy / sxx;
    let rss: f64 = x
        .iter()
        .zip(&y)
        .map(|(x, y)| (y - my - b * (x - mx)).powi(2))
        .sum();
    let at = 3.0;
    let spread = (rss / 3.0 * (1.0 + 1.0 / n + (at - mx).powi(2) / sxx)).sqrt();
    let t = StudentsT::new(my + b * (at - mx), spread, 3.0).unwrap();
    let predicted = fit.predict(&[1.0, at]);
    for chance in [0.05, 0.25, 0.5, 0.75, 0.95] {
        let (found, wanted) = (predicted.quantile(chance), t.inverse_cdf(chance));
        assert!(
            (t.cdf(found) - chance).abs() < 1e-9,
            "{chance}: {found} {wanted}"
        );
        let coarser = predicted.coarser().quantile(chance);
        assert!(
            (found - coarser).abs() < 1e-9,
            "{chance}: {found} {coarser}"
        );
    }
}

/// The conjugate normal and inverse gamma prior: beliefs about coefficients scaled by σ are rows of data.
/// Source: O'Hagan & Forster 2004, *Bayesian Inference*, ch. 11: V = (V₀⁻¹ + XᵀX)⁻¹, d = d₀ + n,
/// a = a₀ + m₀ᵀV₀⁻¹m₀ + yᵀy − mᵀV⁻¹m; one more price is Student-t with d degrees of freedom.
#[test]
fn the_conjugate_closed_form() {
    let (m0, v0) = ([1.0, 0.5], [4.0, 0.25]);
    let (d0, s0) = (6.0, 0.4);
    let x = [0.3, 1.2, 2.5];
    let y = [1.4, 1.2, 2.9];
    // By hand, two by two.
    let mut p = [[1.0 / v0[0], 0.0], [0.0, 1.0 / v0[1]]];
    let mut h = [m0[0] / v0[0], m0[1] / v0[1]];
    let mut a = d0 * s0 * s0 + m0[0] * m0[0] / v0[0] + m0[1] * m0[1] / v0[1];
    for (x, y) in x.into_iter().zip(y) {
        p[0][0] += 1.0;
        p[0][1] += x;
        p[1][0] += x;
        p[1][1] += x * x;
        h[0] += y;
        h[1] += x * y;
        a += y * y;
    }
    let det = p[0][0] * p[1][1] - p[0][1] * p[1][0];
    let v = [
        [p[1][1] / det, -p[0][1] / det],
        [-p[1][0] / det, p[0][0] / det],
    ];
    let m = [
        v[0][0] * h[0] + v[0][1] * h[1],
        v[1][0] * h[0] + v[1][1] * h[1],
    ];
    a -= m[0] * h[0] + m[1] * h[1];
    let d = d0 + 3.0;
    let at = [1.0, 2.0];
    let inner =
        at[0] * (v[0][0] * at[0] + v[0][1] * at[1]) + at[1] * (v[1][0] * at[0] + v[1][1] * at[1]);
    let t = StudentsT::new(m[0] + 2.0 * m[1], (a / d * (1.0 + inner)).sqrt(), d).unwrap();

    let mut rows: Vec<Vec<f64>> = x.iter().map(|&x| vec![1.0, x]).collect();
    let mut prices = y.to_vec();
    for place in 0..2 {
        let mut row = vec![0.0; 2];
        row[place] = 1.0 / v0[place].sqrt();
        rows.push(row);
        prices.push(m0[place] / v0[place].sqrt());
    }
    let scatter = ScatterBelief {
        scale: s0,
        seen: d0,
    };
    // The two rows are priors scaled by σ, whose density has σ⁻² in it, as a row of data has: nothing else to account for, but
    // that flat priors leave σ² free by two degrees more.
    let fit = Fit::new(&rows, &prices, &[FLAT; 2], scatter).unwrap();
    let predicted = fit.predict(&at);
    for chance in [0.05, 0.25, 0.5, 0.75, 0.95] {
        let found = predicted.quantile(chance);
        assert!(
            (t.cdf(found) - chance).abs() < 1e-9,
            "{chance}: {found} {}",
            t.inverse_cdf(chance)
        );
    }
}

/// The distribution of the next price by brute force: coefficient and ln σ on a plain grid of two dimensions.
#[test]
fn brute_force_in_two_dimensions() {
    let y = [4.6, 4.9, 4.4];
    let (mean, sd) = (4.2, 0.5);
    let (scale, seen) = (0.25, 8.0);
    let (mut total, mut below) = (0.0, [0.0; 3]);
    let cuts = [4.2, 4.55, 5.0];
    for i in -600..=600 {
        let b: f64 = mean + f64::from(i) * 0.01 * sd;
        for j in -400..=400 {
            let sigma: f64 = scale * (f64::from(j) * 0.01).exp();
            let squares: f64 = y.iter().map(|y| (y - b).powi(2)).sum();
            let ln = -(seen + 3.0) * sigma.ln()
                - (squares + seen * scale * scale) / (2.0 * sigma * sigma)
                - ((b - mean) / sd).powi(2) / 2.0;
            let weight = ln.exp();
            total += weight;
            for (below, cut) in below.iter_mut().zip(cuts) {
                *below += weight * 0.5 * libm::erfc((b - cut) / sigma / std::f64::consts::SQRT_2);
            }
        }
    }
    let rows = vec![vec![1.0]; 3];
    let belief = Coefficient { mean, sd: Some(sd) };
    let fit = Fit::new(&rows, &y, &[belief], ScatterBelief { scale, seen }).unwrap();
    let predicted = fit.predict(&[1.0]);
    for (below, cut) in below.into_iter().zip(cuts) {
        let (found, wanted) = (predicted.at_most(cut), below / total);
        assert!((found - wanted).abs() < 1e-8, "{cut}: {found} {wanted}");
    }
}

#[test]
fn what_is_left_open_is_refused() {
    let rows = vec![vec![1.0, 2.0], vec![1.0, 2.0], vec![1.0, 2.0]];
    let error = Fit::new(&rows, &[1.0, 2.0, 3.0], &[FLAT; 2], OPEN).unwrap_err();
    assert_eq!(error, RegressionError::Open(1));
    let error = Fit::new(&rows[..1], &[1.0], &[FLAT; 2], OPEN).unwrap_err();
    assert_eq!(error, RegressionError::ScatterOpen);
    let error = Fit::new(&rows, &[1.0, f64::NAN, 3.0], &[FLAT; 2], OPEN).unwrap_err();
    assert_eq!(error, RegressionError::NotFinite);
}
