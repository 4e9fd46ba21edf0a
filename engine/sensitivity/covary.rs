//! One chance of a row moved, the others with it in proportion.

/// The row with entry `k` at `x`, the others scaled to what is left, so that the ratios between them stay.
///
/// `None` for an entry that is not there, and for an entry of 1 beside more than one other: nothing says how they would
/// share what it loses. Beside one other there is no question.
///
/// # Source
/// Proportional co-variation: Castillo, Gutiérrez & Hadi 1997, IEEE Trans. SMC-A 27:412–423; that no
/// other change of the row lies nearer to it: Chan & Darwiche 2004, "Sensitivity analysis in Bayesian networks: from single to
/// multiple parameters", UAI (from memory).
#[must_use]
pub fn covary(row: &[f64], k: usize, x: f64) -> Option<Vec<f64>> {
    let entry = *row.get(k)?;
    let mut others = row.iter().enumerate().filter(|&(j, _)| j != k);
    // Summed rather than taken as 1 − entry, which loses digits where the entry is near 1.
    let rest: f64 = others.clone().map(|(_, &p)| p).sum();
    if entry == x {
        return Some(row.to_vec());
    }
    if rest > 0.0 {
        let moved = |(j, &p): (usize, &f64)| if j == k { x } else { p / rest * (1.0 - x) };
        return Some(row.iter().enumerate().map(moved).collect());
    }
    let (only, _) = others.next().filter(|_| row.len() == 2)?;
    let mut moved = vec![x; 2];
    moved[only] = 1.0 - x;
    Some(moved)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ratios_of_the_others_stay() {
        let row = covary(&[0.2, 0.5, 0.3], 0, 0.6).unwrap();
        for (found, expected) in row.iter().zip([0.6, 0.25, 0.15]) {
            assert!((found - expected).abs() < 1e-15);
        }
        assert_eq!(covary(&[0.2, 0.5, 0.3], 0, 1.0).unwrap(), [1.0, 0.0, 0.0]);
        assert_eq!(covary(&[0.2, 0.5, 0.3], 1, 0.5).unwrap(), [0.2, 0.5, 0.3]);
    }

    #[test]
    fn an_entry_of_one_gives_to_the_only_other() {
        assert_eq!(covary(&[0.0, 1.0], 1, 0.75).unwrap(), [0.25, 0.75]);
        assert_eq!(covary(&[0.0, 1.0], 0, 0.25).unwrap(), [0.25, 0.75]);
        assert_eq!(covary(&[0.0, 1.0, 0.0], 1, 0.75), None);
        assert_eq!(
            covary(&[0.0, 1.0, 0.0], 0, 0.25).unwrap(),
            [0.25, 0.75, 0.0]
        );
        assert_eq!(covary(&[0.5, 0.5], 2, 0.1), None);
    }
}
