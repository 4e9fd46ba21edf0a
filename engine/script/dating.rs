//! Registrations as scripts write them.

use rhai::{Dynamic, Map};

use super::error::Fault;
use super::numbers::whole_number;
use crate::dating::registration::{Corner, Diamond, Sign};
use crate::diagnostic::shorten;
use crate::piece::Registered;

/// Keys of a diamond beside its corners.
const OTHER_KEYS: [&str; 2] = ["class", "year_letter"];

/// A number, or a map of what stands where on a diamond.
pub(super) fn registered(read: &Dynamic) -> Result<Registered, Fault> {
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
