//! How common each class is, with districts above classes.

/// The chance of each class before anything is seen of a piece: the district's by Laplace's rule of succession, times the
/// class's within its district by the same rule. No class has chance 0, however few pieces stand for it.
///
/// `districts` holds the district of each class, `class_of` the class of each piece.
///
/// Source: Laplace 1814, *Essai philosophique sur les probabilités*: (n + 1)/(N + k), the mean of a Dirichlet with all
/// parameters 1 (Gelman et al. 2013, sec. 3.4).
#[must_use]
pub fn shares(districts: &[usize], class_of: &[usize]) -> Vec<f64> {
    let n_districts = districts.iter().max().map_or(0, |last| last + 1);
    let mut of_class = vec![0.0; districts.len()];
    let mut of_district = vec![0.0; n_districts];
    let mut classes_in = vec![0.0; n_districts];
    for &district in districts {
        classes_in[district] += 1.0;
    }
    for &class in class_of {
        of_class[class] += 1.0;
        of_district[districts[class]] += 1.0;
    }
    let used = classes_in.iter().filter(|&&n| n > 0.0).count() as f64;
    let n_pieces = class_of.len() as f64;
    districts
        .iter()
        .zip(of_class)
        .map(|(&district, n)| {
            (of_district[district] + 1.0) / (n_pieces + used) * (n + 1.0)
                / (of_district[district] + classes_in[district])
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn succession_at_each_level() {
        // Two classes in district 0 with 3 and 0 pieces, one class in district 1 with 1 piece.
        let shares = shares(&[0, 0, 1], &[0, 0, 0, 2]);
        let expected = [4.0 / 6.0 * 4.0 / 5.0, 4.0 / 6.0 / 5.0, 2.0 / 6.0];
        for (share, expected) in shares.iter().zip(expected) {
            assert!((share - expected).abs() < 1e-15);
        }
    }
}
