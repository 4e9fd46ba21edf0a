//! What it costs to look at a clue, and when a further look is no longer worth it.

/// Minutes that a look takes where the pack gives none. Common practice, no source.
pub const MINUTES: f64 = 5.0;
/// Bits that a look must bring for each of its minutes, where the pack does not say: a further look at an open question of
/// one bit is then worth an hour and a half at most. Common practice, no source.
pub const BITS_PER_MINUTE: f64 = 0.01;

/// A thing that looks need and that is fetched once for all of them.
#[derive(Clone, Debug, PartialEq)]
pub struct Tool {
    /// Short name.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Minutes until it is at hand.
    pub minutes: f64,
}

/// What some looks cost.
#[derive(Clone, Debug, PartialEq)]
pub struct LookCost {
    /// The clues, by position in the catalogue.
    pub clues: Vec<usize>,
    /// Circumstances under which it holds: position of the circumstance among the clues, and its state. All must be so.
    pub when: Vec<(usize, usize)>,
    /// Minutes of the look itself.
    pub minutes: f64,
    /// Tools it needs, by position in [`Looks::tools`].
    pub tools: Vec<usize>,
}

/// Everything a pack says about the cost of looking.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Looks {
    /// Least bits per minute of a look worth taking; none: [`BITS_PER_MINUTE`].
    pub bits_per_minute: Option<f64>,
    /// Minutes of a look that no entry speaks of; none: [`MINUTES`].
    pub minutes: Option<f64>,
    /// Tools.
    pub tools: Vec<Tool>,
    /// Costs, in the order of the file; the first that fits a look speaks.
    pub costs: Vec<LookCost>,
}

impl Looks {
    /// Least bits per minute of a look worth taking, as the pack says or by default.
    #[must_use]
    pub fn least_bits_per_minute(&self) -> f64 {
        self.bits_per_minute.unwrap_or(BITS_PER_MINUTE)
    }

    /// Minutes of a look that no entry speaks of, as the pack says or by default.
    #[must_use]
    pub fn minutes_otherwise(&self) -> f64 {
        self.minutes.unwrap_or(MINUTES)
    }

    /// The entry for a look at a clue, by position, under circumstances; `state_of` gives the state of a circumstance that
    /// is known. None if the pack has no entry for it.
    #[must_use]
    pub fn cost(
        &self,
        clue: usize,
        state_of: impl Fn(usize) -> Option<usize>,
    ) -> Option<&LookCost> {
        let fits = |cost: &&LookCost| {
            let holds =
                |&(circumstance, state): &(usize, usize)| state_of(circumstance) == Some(state);
            cost.clues.contains(&clue) && cost.when.iter().all(holds)
        };
        self.costs.iter().find(fits)
    }

    /// Clues that no entry speaks of under all circumstances, among those given by position.
    pub fn without_minutes<'a>(
        &'a self,
        clues: impl Iterator<Item = usize> + 'a,
    ) -> impl Iterator<Item = usize> + 'a {
        clues.filter(|clue| !self.costs.iter().any(|cost| cost.clues.contains(clue)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_entry_that_fits_speaks() {
        let cost = |when, minutes| LookCost {
            clues: vec![3],
            when,
            minutes,
            tools: Vec::new(),
        };
        let looks = Looks {
            costs: vec![cost(vec![(0, 1)], 10.0), cost(vec![], 2.0)],
            ..Looks::default()
        };
        let minutes = |state| looks.cost(3, |_| state).map(|cost| cost.minutes);
        assert_eq!(minutes(Some(1)), Some(10.0));
        assert_eq!(minutes(Some(0)), Some(2.0));
        assert_eq!(minutes(None), Some(2.0));
        assert_eq!(looks.cost(2, |_| None), None);
        assert_eq!(
            looks
                .without_minutes([2, 3].into_iter())
                .collect::<Vec<_>>(),
            [2]
        );
    }
}
