//! What law, record and inscriptions say of a piece's date.

use rhai::plugin::{NativeCallContext, export_module};
use rhai::{Dynamic, Engine, Map};

use super::fault::{Fault, raise};
use super::handles::{PieceHandle, Raw};
use super::looks::state_name;
use super::values::{DatesGiven, Registration};
use super::whole_numbers::whole_number;
use crate::dating::registration::{Corner, Diamond, Sign};
use crate::diagnostic::shorten;
use crate::piece::{Look, PieceError, Registered};

/// Registers the functions.
pub(super) fn register(engine: &mut Engine) {
    let module = rhai::exported_module!(dating_functions);
    engine.register_global_module(module.into());
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod dating_functions {
    /// Notes a feature that a rule of the pack dates, by the rule's name: `plate.found("pearlware")`.
    #[rhai_fn(return_raw, pure)]
    pub fn found(ctx: NativeCallContext, piece: &mut PieceHandle, rule: &str) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        piece.dating(crate::piece::found(piece.model(), rule).map(|(c, said)| vec![(c, said)]))
    }

    /// Notes a wording that stands on the piece; every rule that speaks of it applies: `plate.wording("Made in England")`.
    #[rhai_fn(return_raw, pure)]
    pub fn wording(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        text: &str,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        piece.dating(crate::piece::wording(piece.model(), text))
    }

    /// Notes a registered number, `plate.registration(141273)`, or the corners of a registration diamond:
    /// `plate.registration(#{ class: "IV", top: "D", right: 14, left: "B" })`; `year_letter` for one whose corner cannot be told.
    #[rhai_fn(return_raw, pure)]
    pub fn registration(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        read: Registration,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        piece.registered(&registered(&read).map_err(Fault::raise)?)
    }

    /// Notes a date on the piece or with it, in EDTF: `plate.dated("inscription", "1846~")`.
    #[rhai_fn(return_raw, pure)]
    pub fn dated(
        ctx: NativeCallContext,
        piece: &mut PieceHandle,
        clue: &str,
        date: DatesGiven,
    ) -> Raw<PieceHandle> {
        let piece = &piece.entering(&ctx);
        piece.note(
            clue,
            |clue| crate::piece::dated(piece.model(), clue, &state_name(&date)),
            false,
        )
    }
}

impl PieceHandle {
    /// Notes the rules that a feature shows.
    fn dating(&self, found: Result<Vec<(usize, String)>, PieceError>) -> Raw<Self> {
        let mut noted = self.piece.clone();
        for (clue, said) in found.map_err(raise)? {
            // Each rule is a finding of its own, all written down in the same place.
            let entering = noted.entering_at(self.piece.next_entered_at());
            noted = entering
                .note(clue, Look::Found, said, self.model())
                .map_err(raise)?;
        }
        Ok(self.with(noted))
    }

    fn registered(&self, read: &Registered) -> Raw<Self> {
        let (clue, look, said) = crate::piece::registration(self.model(), read).map_err(raise)?;
        let piece = self.piece.note(clue, look, said, self.model());
        Ok(self.with(piece.map_err(raise)?))
    }
}

/// Keys of a diamond beside its corners.
const OTHER_KEYS: [&str; 2] = ["class", "year_letter"];

/// A number, or a map of what stands where on a diamond.
fn registered(read: &Dynamic) -> Result<Registered, Fault> {
    let Some(map) = read.read_lock::<Map>() else {
        let number = whole_number(read, "a registered number")?;
        let number = u32::try_from(number)
            .map_err(|_| Fault::new(format!("{number} is not a registered number")))?;
        return Ok(Registered::Number(number));
    };
    let mut diamond = Diamond::default();
    for (key, value) in map.iter() {
        let corner = Corner::ALL.iter().position(|c| c.name() == key.as_str());
        if let Some(corner) = corner {
            diamond.corners[corner] = Some(sign(value)?);
            continue;
        }
        match key.as_str() {
            "class" => diamond.class = Some(shorten(&value.to_string())),
            "year_letter" => match sign(value)? {
                Sign::Letter(letter) => diamond.year_letter = Some(letter),
                Sign::Number(number) => {
                    return Err(Fault::new(format!("{number} is not a year letter")));
                }
            },
            _ => {
                let known = Corner::ALL.map(Corner::name).into_iter().chain(OTHER_KEYS);
                return Err(Fault::new(format!("a diamond has no `{}`", shorten(key)))
                    .nearest_or_known(key, known));
            }
        }
    }
    Ok(Registered::Diamond(diamond))
}

fn sign(value: &Dynamic) -> Result<Sign, Fault> {
    let text = value.to_string();
    text.parse::<Sign>().map_err(|e| Fault::new(e.to_string()))
}
