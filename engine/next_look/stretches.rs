//! The stretches of a line over which something stays the same.

use super::measured::Grid;

/// Halvings of a step of the grid in search of an edge.
const HALVINGS: u32 = 16;

/// Stretches from left to right, each with what holds there and its upper end; the last reaches to infinity.
///
/// What holds is asked at the points of the grid that matter, and an edge between two of them is found by halving; what comes
/// and goes between two neighbours is not seen. None if it cannot be said what holds somewhere, or nowhere matters.
pub fn stretches<K: Clone + PartialEq>(
    grid: &Grid,
    matters: impl Fn(f64) -> bool,
    mut holds: impl FnMut(f64) -> Option<K>,
) -> Option<Vec<(K, f64)>> {
    let mut found: Vec<(K, f64)> = Vec::new();
    let mut last: Option<(f64, K)> = None;
    for x in grid.places() {
        if !matters(x) {
            continue;
        }
        let here = holds(x)?;
        if let Some((before, there)) = last.replace((x, here.clone())) {
            let (from, to) = ((before, &there), (x, &here));
            edges(from, to, HALVINGS, &matters, &mut holds, &mut found)?;
        }
    }
    let (_, here) = last?;
    found.push((here, f64::INFINITY));
    Some(found)
}

/// The edges between two points, from left to right.
fn edges<K: Clone + PartialEq>(
    from: (f64, &K),
    to: (f64, &K),
    halvings: u32,
    matters: &impl Fn(f64) -> bool,
    holds: &mut impl FnMut(f64) -> Option<K>,
    found: &mut Vec<(K, f64)>,
) -> Option<()> {
    if from.1 == to.1 {
        return Some(());
    }
    let middle = f64::midpoint(from.0, to.0);
    if halvings == 0 || !matters(middle) {
        found.push((from.1.clone(), middle));
        return Some(());
    }
    let here = holds(middle)?;
    edges(from, (middle, &here), halvings - 1, matters, holds, found)?;
    edges((middle, &here), to, halvings - 1, matters, holds, found)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::next_look::worlds::Outcomes;

    #[test]
    fn edges_are_found() {
        let outcomes = Outcomes {
            n: 1,
            chances: vec![1.0],
        };
        let grid = Grid::over(&[(0.0, 1.0)], &outcomes);
        let kind = |x: f64| match x {
            x if x < -0.7 => Some("low"),
            x if x < 0.123 => Some("middle"),
            _ => Some("high"),
        };
        let found = stretches(&grid, |_| true, kind).unwrap();
        let names: Vec<&str> = found.iter().map(|(name, _)| *name).collect();
        assert_eq!(names, ["low", "middle", "high"]);
        assert!((found[0].1 + 0.7).abs() < 1e-5 && (found[1].1 - 0.123).abs() < 1e-5);
        assert_eq!(found[2].1, f64::INFINITY);
        // Where nothing matters nothing is asked.
        let far = stretches(&grid, |x| x > 3.0, |x| (x > 3.0).then_some(())).unwrap();
        assert_eq!(far.len(), 1);
        assert!(stretches(&grid, |_| false, kind).is_none());
        assert!(stretches(&grid, |_| true, |_| None::<()>).is_none());
    }
}
