//! `lettering.toml` as written: how the letters and devices of a mark are read.

use super::{Placed, Table, Word};
use crate::source::Span;

/// Everything about the reading of lettering.
#[derive(Clone, Debug)]
pub struct Lettering {
    /// Devices that marks may name.
    pub devices: Vec<Word>,
    /// Companions that marks may name.
    pub companions: Vec<Word>,
    /// Devices that look alike when half of them is seen.
    pub alike: Vec<Vec<Word>>,
    /// Lengths of a lettering nobody knows: fewest characters, most characters.
    pub unknown: Option<(Placed<f64>, Placed<f64>)>,
    /// How the strike looks, by how the mark came out.
    pub quality: Table,
    /// What becomes of a letter, by step and quality.
    pub letters: Table,
    /// What a misread letter is taken for.
    pub look_alikes: Option<Table>,
    /// What is noted of a device or companion, by what the mark has and quality.
    pub seen_of_device: Table,
    /// The whole file.
    pub span: Span,
}
