//! Histories of engravings, as far as people are told of them. What follows from them for the network stands in its tables.

/// One line of a history.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub struct HistoryLine {
    /// What happened, when, to whom.
    pub said: String,
    /// `file:line`.
    pub line: String,
}

/// When a maker could pull from an engraving: years without a gap, within the maker's own and the periods.
#[derive(Clone, Debug, PartialEq, serde::Serialize)]
pub struct Spell {
    /// First and last year in which it is at all possible.
    pub possible: (i64, i64),
    /// First and last year in which it is at least as likely as not; none if there is none.
    pub likely: Option<(i64, i64)>,
}

/// The engravings a maker had at hand.
#[derive(Clone, Debug, PartialEq)]
pub struct AtHand {
    /// Maker, by position.
    pub maker: usize,
    /// Engraving, by position.
    pub engraving: usize,
    /// When.
    pub spells: Vec<Spell>,
}

/// The histories of a pack.
#[derive(Clone, Debug, PartialEq)]
pub struct Histories {
    /// For each engraving its history, in order.
    pub lines: Vec<Vec<HistoryLine>>,
    /// Who could pull from what, when; by maker, then by engraving.
    pub at_hand: Vec<AtHand>,
    /// For each engraving and configuration of its parents (maker, period and perhaps size class, the last fastest) the lines
    /// by which the maker had it then, `file:line`.
    pub brought_by: Vec<Vec<String>>,
    /// Whether the shares of use are the default.
    pub shares_by_default: bool,
}

impl Histories {
    /// What a line says, told of one engraving; of a line that is no event, the chance of one never seen.
    #[must_use]
    pub fn said(&self, engraving: usize, line: &str) -> &str {
        let own = self.lines.get(engraving).into_iter().flatten();
        let mut all = own.chain(self.lines.iter().flatten());
        all.find(|told| told.line == line)
            .map_or("an engraving never seen", |told| told.said.as_str())
    }

    /// The lines by which a maker had an engraving in a configuration of its parents; those of the chance of one never seen, for that.
    #[must_use]
    pub fn brought_by(&self, engraving: usize, configuration: usize) -> &[String] {
        let n = self.brought_by.len() / self.lines.len().max(1);
        self.brought_by
            .get(engraving * n + configuration)
            .map_or(&[], Vec::as_slice)
    }
}
