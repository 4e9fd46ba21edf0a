//! A measured colour as it is noted.

use super::{Look, PieceError};
use crate::cielab::{D50, D65, Lab, LabError};
use crate::model::{Clue, ClueKind};

/// A colour from named coordinates: L, a, b; or L, C, h (degrees); or X, Y, Z with the white they are judged against. `sd`
/// holds the instrument's standard deviations of L*, a* and b*, where they are not the pack's.
///
/// # Errors
/// [`PieceError::NotAColour`] for another kind of clue, [`PieceError::Colour`] for coordinates that are missing, too many,
/// or no colour.
pub fn coloured(
    clue: &Clue,
    coordinates: &[(&str, f64)],
    white: Option<&str>,
    spread: Option<[f64; 3]>,
) -> Result<Look, PieceError> {
    if clue.kind != ClueKind::Colour {
        return Err(PieceError::NotAColour {
            clue: clue.id.clone(),
            known: clue.states.clone(),
        });
    }
    let wrong = |what: String| PieceError::Colour {
        clue: clue.id.clone(),
        what,
    };
    let lab = |found: Result<Lab, LabError>| {
        found.map_err(|error| wrong(error.to_string().replace("; ", ", ")))
    };
    let mut names: Vec<&str> = coordinates.iter().map(|(name, _)| *name).collect();
    names.sort_unstable();
    let of = |wanted: &str| {
        let found = coordinates.iter().find(|(name, _)| *name == wanted);
        found.map_or(f64::NAN, |(_, value)| *value)
    };
    let colour = match (names.as_slice(), white) {
        (["L", "a", "b"], None) => lab(Lab::new(of("L"), of("a"), of("b")))?,
        (["C", "L", "h"], None) => lab(Lab::from_lch(of("L"), of("C"), of("h")))?,
        (["X", "Y", "Z"], Some(white)) => {
            let white = match white {
                "D50" => D50,
                "D65" => D65,
                other => {
                    return Err(wrong(format!(
                        "`{other}` is not a white it knows (D50, D65)"
                    )));
                }
            };
            lab(Lab::from_xyz([of("X"), of("Y"), of("Z")], white))?
        }
        (["X", "Y", "Z"], None) => {
            return Err(wrong(
                "X, Y and Z do not say which white they are judged against".to_owned(),
            ));
        }
        (_, Some(_)) => return Err(wrong("a white goes with X, Y and Z only".to_owned())),
        (names, None) => {
            return Err(wrong(format!(
                "`{}` are not three coordinates of one kind",
                names.join(", ")
            )));
        }
    };
    if let Some(sd) = spread
        .iter()
        .flatten()
        .find(|sd| !(**sd > 0.0 && sd.is_finite()))
    {
        return Err(wrong(format!(
            "a standard deviation of the instrument is {sd}, and must be above 0"
        )));
    }
    Ok(Look::Coloured {
        lab: colour,
        spread,
    })
}
