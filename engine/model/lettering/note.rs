//! A fragment as noted: letters, quality of the strike, devices, checked against a pack's registry.

use super::LetteringRules;
use crate::mark::{Encoded, Fragment, FragmentError, Report, StrikeError, StrikeQuality};
use crate::nearest_name::nearest;

/// What was read of a mark, in terms of one pack.
#[derive(Clone, Debug, PartialEq)]
pub struct MarkFragment {
    /// The letters.
    pub fragment: Fragment,
    /// The letters in terms of the pack's alphabet.
    pub encoded: Encoded,
    /// The quality of the strike, if stated.
    pub quality: Option<StrikeQuality>,
    /// Devices and companions looked for, by position among the pack's things. One that is not here was not looked for.
    pub reports: Vec<(usize, Report)>,
}

/// Why a fragment cannot be noted.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NoteError {
    /// The letters.
    #[error(transparent)]
    Fragment(#[from] FragmentError),
    /// The quality.
    #[error(transparent)]
    Strike(#[from] StrikeError),
    /// No mark of the pack can have it.
    #[error("no mark of this pack has a device or companion `{name}`{}", match nearest {
        Some(nearest) => format!("; did you mean `{nearest}`?"),
        None => format!("; known: {}", known.join(", ")),
    })]
    UnknownThing {
        /// What was written.
        name: String,
        /// The nearest known name.
        nearest: Option<String>,
        /// All known names.
        known: Vec<String>,
    },
    /// Not a word for what is noted of a device.
    #[error(
        "`{word}` does not say what was seen of `{thing}`; it is one of: seen, partly seen, not seen"
    )]
    UnknownReport {
        /// The device.
        thing: String,
        /// What was written.
        word: String,
    },
    /// Two reports of one device.
    #[error("`{0}` is noted twice; note each device or companion once")]
    Twice(String),
}

impl LetteringRules {
    /// A fragment in terms of this pack: the letters, the quality of the strike if one is stated, and for each device or
    /// companion looked for a word for what was seen of it.
    ///
    /// # Errors
    /// [`NoteError`] for letters that are no fragment or not in the alphabet, and for words that are not known.
    pub fn note<'a>(
        &self,
        letters: &str,
        quality: Option<&str>,
        seen: impl IntoIterator<Item = (&'a str, &'a str)>,
    ) -> Result<MarkFragment, NoteError> {
        let fragment = Fragment::parse(letters)?;
        let encoded = self.alphabet.encode(&fragment)?;
        let quality = quality.map(StrikeQuality::from_name).transpose()?;
        let mut reports: Vec<(usize, Report)> = Vec::new();
        for (thing, word) in seen {
            let cut = |text: &str| text.chars().take(80).collect::<String>();
            let known = || self.things.iter().map(String::as_str);
            let Some(position) = known().position(|name| name == thing) else {
                return Err(NoteError::UnknownThing {
                    name: cut(thing),
                    nearest: nearest(thing, known()).map(str::to_owned),
                    known: self.things.clone(),
                });
            };
            let report = Report::from_name(word).ok_or_else(|| NoteError::UnknownReport {
                thing: thing.to_owned(),
                word: cut(word),
            })?;
            if reports.iter().any(|(earlier, _)| *earlier == position) {
                return Err(NoteError::Twice(thing.to_owned()));
            }
            reports.push((position, report));
        }
        Ok(MarkFragment {
            fragment,
            encoded,
            quality,
            reports,
        })
    }

    /// A fragment in words, for the record.
    #[must_use]
    pub fn said(&self, noted: &MarkFragment) -> String {
        let mut said = format!("reads {}", noted.fragment.written());
        if let Some(quality) = noted.quality {
            said += &format!(", {}", quality.name());
        }
        for (thing, report) in &noted.reports {
            said += &format!(", {} {}", self.things[*thing], report.name());
        }
        said
    }
}
