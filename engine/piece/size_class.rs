//! Codings are compared within one size class: every class has coppers of its own.

use super::{Look, Piece, PieceError};
use crate::model::{ClueKind, ClueTarget, Model};
use crate::nearest_name::nearest;

/// The size classes of a model and the class of each size; none for wares without sizes.
fn classes(model: &Model) -> Option<(&[String], Vec<usize>)> {
    let id = model.network.find("size_class")?;
    let table = &model.network.cpt(id).table;
    let class_of = |size: usize| (0..table.nrows()).find(|&class| table[(class, size)] > 0.5);
    let of_size: Option<Vec<usize>> = (0..table.ncols()).map(class_of).collect();
    Some((&model.network.variable(id).states, of_size?))
}

/// The position of a size class by name.
///
/// # Errors
/// [`PieceError::UnknownSizeClass`], with the nearest known name.
pub fn find_class(model: &Model, name: &str) -> Result<usize, PieceError> {
    let known = classes(model).map_or(&[][..], |(names, _)| names);
    known
        .iter()
        .position(|class| class == name)
        .ok_or_else(|| PieceError::UnknownSizeClass {
            name: super::shorten(name),
            nearest: nearest(name, known.iter().map(String::as_str)).map(str::to_owned),
            known: known.to_vec(),
        })
}

/// Refuses codings that were made for another size class than the piece's. A piece whose size is not noted may yet turn out
/// to be of any class.
///
/// # Errors
/// [`PieceError::OtherSizeClass`] for the first of them.
pub(super) fn check(piece: &Piece, model: &Model) -> Result<(), PieceError> {
    let mut coded = piece
        .findings()
        .iter()
        .filter_map(|f| Some((f, f.compared.filter(|c| !c.loosely)?.size_class)))
        .peekable();
    if coded.peek().is_none() {
        return Ok(());
    }
    let clues = &model.catalogue.clues;
    let size = piece
        .findings()
        .iter()
        .find(|f| clues[f.clue].kind == ClueKind::Size);
    let (Some(size), Some((names, of_size))) = (size, classes(model)) else {
        return Ok(());
    };
    let may_be = |class: usize| match &size.look {
        Look::Seen(size) => of_size[*size] == class,
        Look::Uncertain(weights) | Look::Believed(weights) => {
            let mut sizes = weights.iter().zip(&of_size);
            sizes.any(|(&weight, &of)| weight > 0.0 && of == class)
        }
        _ => true,
    };
    match coded.find(|&(_, class)| !may_be(class)) {
        None => Ok(()),
        Some((finding, class)) => {
            let own: Vec<&str> = (0..names.len())
                .filter(|&c| may_be(c))
                .map(|c| names[c].as_str())
                .collect();
            Err(PieceError::OtherSizeClass {
                clue: clues[finding.clue].id.clone(),
                coded_for: names[class].clone(),
                size: size.said.clone(),
                size_class: own.join(" or "),
            })
        }
    }
}

/// Whether a clue is a coding of the print, which alone depends on the size class.
///
/// # Errors
/// [`PieceError::NotACoding`].
pub fn require_coding(model: &Model, clue: usize) -> Result<(), PieceError> {
    let clue = &model.catalogue.clues[clue];
    match (&clue.kind, clue.target) {
        (ClueKind::Coding, ClueTarget::Variable(_)) => Ok(()),
        _ => Err(PieceError::NotACoding {
            clue: clue.id.clone(),
        }),
    }
}
