//! How well a mark was struck, and what that does to each of its letters.

/// How the strike looks to the reader.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum StrikeQuality {
    /// Every part came out.
    Clear,
    /// All of it is there, and weak.
    Faint,
    /// A part of it did not print or was not stamped.
    PartStruck,
    /// It moved, or ran in the glaze.
    Smeared,
}

impl StrikeQuality {
    /// All of them, best first.
    pub const ALL: [Self; 4] = [Self::Clear, Self::Faint, Self::PartStruck, Self::Smeared];

    /// The word for it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Clear => "clear",
            Self::Faint => "faint",
            Self::PartStruck => "part-struck",
            Self::Smeared => "smeared",
        }
    }

    /// Its position in [`StrikeQuality::ALL`].
    #[must_use]
    pub fn index(self) -> usize {
        self as usize
    }

    /// The quality of a word.
    ///
    /// # Errors
    /// [`StrikeError::UnknownQuality`], with the known words.
    pub fn from_name(name: &str) -> Result<Self, StrikeError> {
        let found = Self::ALL.into_iter().find(|quality| quality.name() == name);
        found.ok_or_else(|| StrikeError::UnknownQuality(name.chars().take(40).collect()))
    }
}

/// What can become of one letter under one quality of strike. Each is a probability.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StrikeChances {
    /// A run of lost letters begins at this letter, after one that was not lost.
    pub loss_begins: f64,
    /// After a lost letter the next is lost too: a strike fails by stretches, not letter by letter.
    pub loss_goes_on: f64,
    /// The reader notes a run of lost letters, as one `?`; else it goes unnoticed and the letters beside it are read as
    /// neighbours.
    pub loss_noted: f64,
    /// A letter that is read is taken for another.
    pub misread: f64,
    /// Before each letter and at the end: something that is no letter (a scratch, grit, a turn of the border) is read as
    /// one more letter. Below 1.
    pub inserted: f64,
    /// At the same places: the reader notes a `?` where nothing is lost.
    pub gap_noted: f64,
    /// A space or a stop is passed over in writing down what is read.
    pub stop_passed_over: f64,
}

/// Why chances are none.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum StrikeError {
    /// Not a quality of strike.
    #[error("`{0}` is not a quality of strike; it is one of: clear, faint, part-struck, smeared")]
    UnknownQuality(String),
    /// Not a probability.
    #[error("{what} is {value}; it must be a probability from 0 to 1{}", if *below_one { ", and below 1" } else { "" })]
    NotAProbability {
        /// Which.
        what: &'static str,
        /// Its value.
        value: f64,
        /// Whether 1 itself is too much.
        below_one: bool,
    },
}

impl StrikeChances {
    /// What can become of a letter, in the words of a pack and in the order of [`StrikeChances::from_list`].
    pub const NAMES: [&str; 7] = [
        "loss begins",
        "loss goes on",
        "loss noted",
        "misread",
        "inserted",
        "gap noted",
        "stop passed over",
    ];

    /// The chances in the order of [`StrikeChances::NAMES`].
    #[must_use]
    pub fn from_list(list: [f64; 7]) -> Self {
        let [
            loss_begins,
            loss_goes_on,
            loss_noted,
            misread,
            inserted,
            gap_noted,
            stop_passed_over,
        ] = list;
        Self {
            loss_begins,
            loss_goes_on,
            loss_noted,
            misread,
            inserted,
            gap_noted,
            stop_passed_over,
        }
    }

    /// The chances in the order of [`StrikeChances::NAMES`].
    #[must_use]
    pub fn list(&self) -> [f64; 7] {
        let Self {
            loss_begins,
            loss_goes_on,
            loss_noted,
            misread,
            inserted,
            gap_noted,
            stop_passed_over,
        } = *self;
        [
            loss_begins,
            loss_goes_on,
            loss_noted,
            misread,
            inserted,
            gap_noted,
            stop_passed_over,
        ]
    }

    /// Itself, if every chance is one.
    ///
    /// # Errors
    /// [`StrikeError::NotAProbability`] for the first that is not from 0 to 1, or for `inserted = 1`, with which a reading
    /// would never end.
    pub fn checked(self) -> Result<Self, StrikeError> {
        for (what, value) in Self::NAMES.into_iter().zip(self.list()) {
            let below_one = what == "inserted";
            if !(0.0..=1.0).contains(&value) || below_one && value == 1.0 {
                return Err(StrikeError::NotAProbability {
                    what,
                    value,
                    below_one,
                });
            }
        }
        Ok(self)
    }
}
