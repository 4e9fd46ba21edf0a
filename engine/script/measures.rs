//! What is measured of a piece in units: mass, capacity, widths, and coordinates of a colour.

use rhai::plugin::{NativeCallContext, export_module};
use rhai::{Engine, Map};

use super::fault::{Fault, raise};
use super::handles::{PieceHandle, Raw};
use super::numbers::number;
use super::values::{AreaGiven, CapacityGiven, LengthGiven, MassGiven, SizeGiven, quantity_text};
use crate::model::{Clue, ClueKind, Weighing};
use crate::piece::{Dimension, Look, PieceError, coloured, weight_clue};
use crate::units;

/// Registers the functions.
pub(super) fn register(engine: &mut Engine) {
    let module = rhai::exported_module!(measuring_functions);
    engine.register_global_module(module.into());
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod measuring_functions {
    /// Weighs the piece: `jug.weighs("745 g")`, `jug.weighs(738.g)`.
    #[rhai_fn(return_raw, pure)]
    pub fn weighs(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        mass: MassGiven,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        piece.weigh(&mass_text(&mass)?, None)
    }

    /// Weighs it, with the capacity or area it is judged by: `mug.weighs("840 g", "0.7 l")`, `dish.weighs(410.g, 380.cm2)`.
    #[rhai_fn(return_raw, pure, name = "weighs")]
    pub fn weighs_for(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        mass: MassGiven,
        size: SizeGiven,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        piece.weigh(&mass_text(&mass)?, Some(&size_text(&size)?))
    }

    /// Weighs it again: replaces the first weighing; the record keeps both: `jug.weighs("745 g").weighs_again("738 g ± 1 g")`.
    #[rhai_fn(return_raw, pure)]
    pub fn weighs_again(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        mass: MassGiven,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        piece.weigh_as(&mass_text(&mass)?, None, true)
    }

    /// Notes what hollow ware holds; alone it makes no claim, a mass is judged by it: `mug.holds("0.7 l ± 10 ml")`.
    #[rhai_fn(return_raw, pure)]
    pub fn holds(piece: &mut PieceHandle, capacity: CapacityGiven) -> Raw<PieceHandle> {
        let capacity = quantity_text(&capacity, "a capacity", "\"0.7 l\" or 0.7.l")?;
        let reading = units::CAPACITY.read(&capacity).map_err(raise)?;
        Ok(piece.sized(
            Dimension::Capacity(reading.into()),
            format!("holds {capacity}"),
        ))
    }

    /// Notes what flat ware covers; alone it makes no claim, a mass is judged by it: `dish.covers("380 cm2")`.
    #[rhai_fn(return_raw, pure)]
    pub fn covers(piece: &mut PieceHandle, area: AreaGiven) -> Raw<PieceHandle> {
        let area = quantity_text(&area, "an area", "\"380 cm2\" or 380.cm2")?;
        let reading = units::AREA.read(&area).map_err(raise)?;
        Ok(piece.sized(Dimension::Area(reading.into()), format!("covers {area}")))
    }

    /// Notes the diameter of round flat ware, from which its area follows: `dish.across("13 3/4 in")`, `dish.across(350.mm)`.
    #[rhai_fn(return_raw, pure)]
    pub fn across(piece: &mut PieceHandle, diameter: LengthGiven) -> Raw<PieceHandle> {
        let diameter = length_text(&diameter)?;
        let reading = units::LENGTH.read(&diameter).map_err(raise)?;
        let area = Dimension::across(reading, reading);
        Ok(piece.sized(area, format!("{diameter} across")))
    }

    /// Notes both widths of oval flat ware: `dish.across("350 mm", "270 mm")`.
    #[rhai_fn(return_raw, pure, name = "across")]
    pub fn across_both(
        piece: &mut PieceHandle,
        long: LengthGiven,
        short: LengthGiven,
    ) -> Raw<PieceHandle> {
        let (long, short) = (length_text(&long)?, length_text(&short)?);
        let one = units::LENGTH.read(&long).map_err(raise)?;
        let other = units::LENGTH.read(&short).map_err(raise)?;
        let area = Dimension::across(one, other);
        Ok(piece.sized(area, format!("{long} by {short} across")))
    }
}

fn mass_text(mass: &rhai::Dynamic) -> Raw<String> {
    quantity_text(mass, "a mass", "\"1345 g\" or 1345.g")
}

fn size_text(size: &rhai::Dynamic) -> Raw<String> {
    quantity_text(size, "a capacity or area", "\"0.7 l\", 0.7.l or 380.cm2")
}

fn length_text(length: &rhai::Dynamic) -> Raw<String> {
    quantity_text(length, "a length", "\"350 mm\" or 350.mm")
}

impl PieceHandle {
    fn weigh(&self, mass: &str, size: Option<&str>) -> Raw<Self> {
        self.weigh_as(mass, size, false)
    }

    fn weigh_as(&self, mass: &str, size: Option<&str>, again: bool) -> Raw<Self> {
        let model = self.model();
        let reading = units::MASS.read(mass).map_err(raise)?;
        if let Some(earlier) = self.piece.weighed().filter(|_| !again) {
            let said = &earlier.said;
            return Err(Fault::new(format!("the piece is weighed already: {said}"))
                .hint("if the second weighing is the better one it replaces the first: use weighs_again")
                .also(earlier.entered_at, format!("noted here: {said}"))
                .raise());
        }
        let per = size.map(|size| self.size_given(size)).transpose()?;
        let known = per.or(self.piece.dimension().map(|(dimension, _)| dimension));
        let clue = match self.piece.weighed().filter(|_| again) {
            Some(weighed) => weighed.clue,
            None => weight_clue(model, known).map_err(raise)?,
        };
        let said = size.map_or_else(|| mass.to_owned(), |size| format!("{mass} for {size}"));
        let look = Look::Weighed { mass: reading, per };
        let clue = &model.catalogue.clues[clue].id;
        self.note(clue, |_| Ok((look.clone(), said.clone())), again)
    }

    /// A capacity or area given with a mass: of the kind that the pack judges by.
    fn size_given(&self, size: &str) -> Raw<Dimension> {
        let clues = &self.model().catalogue.clues;
        let judged_by = |wanted: Weighing| {
            let is_wanted = |clue: &Clue| matches!(clue.kind, ClueKind::Weight { weighing, .. } if weighing == wanted);
            clues.iter().any(is_wanted)
        };
        let area = units::AREA
            .read(size)
            .map(|reading| Dimension::Area(reading.into()));
        if judged_by(Weighing::PerSquareCentimetre)
            && (area.is_ok() || !judged_by(Weighing::PerLitre))
        {
            return area.map_err(raise);
        }
        units::CAPACITY
            .read(size)
            .map(|reading| Dimension::Capacity(reading.into()))
            .map_err(raise)
    }

    fn sized(&self, dimension: Dimension, said: String) -> Self {
        self.with(self.piece.sized(dimension, said))
    }
}

/// A measured colour from a map of its coordinates.
pub(super) fn colour_look(clue: &Clue, colour: &Map) -> Result<(Look, String), PieceError> {
    let wrong = |what: String| PieceError::Colour {
        clue: clue.id.clone(),
        what,
    };
    let (mut coordinates, mut white, mut spread) = (Vec::new(), None, None);
    for (key, value) in colour {
        match key.as_str() {
            "white" => white = Some(value.to_string()),
            "sd" => {
                let list = value.read_lock::<rhai::Array>();
                let numbers =
                    list.map(|list| list.iter().map(number).collect::<Result<Vec<_>, _>>());
                let three = numbers
                    .and_then(Result::ok)
                    .and_then(|n| <[f64; 3]>::try_from(n).ok());
                let three =
                    three.ok_or_else(|| wrong("sd is not a list of three numbers".to_owned()))?;
                spread = Some(three);
            }
            key => {
                let value = number(value).map_err(|kind| wrong(format!("{key} is {kind}")))?;
                coordinates.push((key, value));
            }
        }
    }
    let look = coloured(clue, &coordinates, white.as_deref(), spread)?;
    let Look::Coloured { lab, .. } = &look else {
        return Ok((look, String::new()));
    };
    let mut said = format!("L* {:.1}, a* {:.1}, b* {:.1}", lab.l, lab.a, lab.b);
    if let Some([l, a, b]) = spread {
        said.push_str(&format!(", instrument ± {l}, {a}, {b}"));
    }
    Ok((look, said))
}
