//! What is noted of a device (crown, anchor, shield …) or of a mark's companions (size number, pattern name).

/// What a mark has to do with a device or companion.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Presence {
    /// The device is part of the mark.
    There,
    /// A device that looks like it is part of the mark.
    Alike,
    /// It is a companion that usually stands beside the mark.
    Companion,
    /// Neither it nor anything like it belongs to the mark.
    Absent,
}

impl Presence {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::There, Self::Alike, Self::Companion, Self::Absent];
    /// The words for them, in the same order.
    pub const NAMES: [&str; 4] = ["there", "alike", "companion", "not there"];
}

/// What is noted of a device or companion that one has looked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Report {
    /// All of it was seen.
    Seen,
    /// A part of it was seen.
    PartlySeen,
    /// It was looked for and not seen.
    NotSeen,
}

impl Report {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Seen, Self::PartlySeen, Self::NotSeen];
    /// The words for them, in the same order.
    pub const NAMES: [&str; 3] = ["seen", "partly seen", "not seen"];

    /// The word for it.
    #[must_use]
    pub fn name(self) -> &'static str {
        Self::NAMES[self as usize]
    }

    /// The report of a word.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        let position = Self::NAMES.iter().position(|n| *n == name)?;
        Some(Self::ALL[position])
    }
}
