//! Sizes and shapes, as written.

use super::{Placed, Table, Word};

/// A nominal size of a shape.
#[derive(Clone, Debug)]
pub struct Size {
    /// Name.
    pub id: Word,
    /// The shape it is a size of.
    pub shape: Option<Word>,
    /// The class within which prints can be compared.
    pub class: Option<Word>,
    /// Usual mass in grams.
    pub usual_weight: Option<Placed<f64>>,
}

/// A shape of vessel.
#[derive(Clone, Debug)]
pub struct Shape {
    /// Name.
    pub id: Word,
    /// `hollow` (judged per litre) or `flat` (judged per area).
    pub ware: Option<Word>,
}

/// Everything about sizes.
#[derive(Clone, Debug)]
pub struct Sizes {
    /// Shapes.
    pub shapes: Vec<Shape>,
    /// Sizes, smallest first.
    pub sizes: Vec<Size>,
    /// Size given maker.
    pub share: Table,
}
