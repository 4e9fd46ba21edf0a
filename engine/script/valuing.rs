//! Instructions, condition and value.

use rhai::plugin::{Dynamic, export_module};
use rhai::{Array, Engine, EvalAltResult, Map};

use super::fault::{Fault, raise};
use super::handles::{InstructionHandle, PaysHandle, PieceHandle, Raw, ValueHandle};
use super::next_looks;
use super::numbers::number;
use super::one_line::one_line;
use super::values::{self, WholeNumber};
use super::whole_numbers::whole_number;
use crate::instruction::{Instruction, Said};
use crate::nearest_name::nearest;
use crate::pays::{Costs, PaysError};
use crate::piece::find_clue;
use crate::value::Asked;

/// Registers the functions.
pub(super) fn register(engine: &mut Engine) {
    engine.register_type_with_name::<InstructionHandle>("instruction");
    engine.register_type_with_name::<ValueHandle>("value");
    engine.register_type_with_name::<PaysHandle>("pays");
    let module = rhai::exported_module!(valuing_functions);
    engine.register_global_module(module.into());
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod valuing_functions {
    /// What an opinion is asked for; all but client, definition and assumptions must be said. `seen` is "in hand", "from
    /// photographs" or "from a description"; `interest` is the inspector's own in the piece:
    /// `instruction(#{ purpose: "probate", users: "the executors", definition: "probate", effective: "2024-03-31", inspected: "2024-03-02", inspector: "E. Rowan", seen: "in hand", interest: "none" })`.
    #[rhai_fn(return_raw, name = "instruction")]
    pub fn instruction_of(said: Map) -> Raw<InstructionHandle> {
        let said: Vec<(String, Said)> = said
            .iter()
            .map(|(name, value)| Ok((name.to_string(), self::said(name, value)?)))
            .collect::<Result<_, Fault>>()
            .map_err(Fault::raise)?;
        let said = said
            .iter()
            .map(|(name, value)| (name.as_str(), value.clone()));
        let instruction = Instruction::new(said);
        let instruction =
            instruction.map_err(|error| Fault::with_remedy(&error.to_string()).raise())?;
        Ok(InstructionHandle(instruction.into()))
    }

    /// The condition of the piece, by the pack's own grades, and its defects in words, with millimetres; none found is an empty
    /// list. It says nothing of the maker: `jug.in_condition(4, ["hairline 12 mm from the rim"])`.
    #[rhai_fn(return_raw, pure)]
    pub fn in_condition(
        piece: &mut PieceHandle,
        grade: WholeNumber,
        defects: Array,
    ) -> Raw<PieceHandle> {
        let grade = whole_number(&grade, "a grade of condition").map_err(Fault::raise)?;
        let text = |defect: &Dynamic| {
            let text = values::text(defect).ok_or_else(|| {
                Fault::new("a defect is a text, in quotes")
                    .hint("such as [\"hairline 12 mm from the rim\"]")
            });
            text.and_then(|text| one_line("a defect", &text))
                .map_err(Fault::raise)
        };
        let defects: Result<Vec<String>, Box<EvalAltResult>> = defects.iter().map(text).collect();
        let noted = piece.piece.in_condition(grade, defects?, piece.model());
        Ok(piece.with(noted.map_err(raise)?))
    }

    /// What the piece is worth for an instruction that names a definition of value of the pack: one row for each wording that the
    /// market might accept, the verdict's own first. The piece's size and condition must be noted:
    /// `show(jug.in_condition(4, []).value(asked))`.
    #[rhai_fn(return_raw, pure)]
    pub fn value(piece: &mut PieceHandle, instruction: InstructionHandle) -> Raw<ValueHandle> {
        of(piece, &instruction, &Asked::default())
    }

    /// The same, with one other wording and whom it names beside the verdict's own:
    /// `jug.in_condition(4, []).value(asked, #{ wording: "attributed", names: "K01" })`.
    #[rhai_fn(return_raw, pure, name = "value")]
    pub fn value_as(
        piece: &mut PieceHandle,
        instruction: InstructionHandle,
        catalogued: Map,
    ) -> Raw<ValueHandle> {
        let mut asked = Asked::default();
        for (name, given) in &catalogued {
            let place = match name.as_str() {
                "wording" => &mut asked.wording,
                "names" => &mut asked.names,
                other => {
                    let fault = Fault::new(format!(
                        "what is asked for is a wording and whom it names, not `{other}`"
                    ));
                    let hint = nearest(other, ["wording", "names"]).map_or_else(
                        || "such as #{ wording: \"attributed\", names: \"K01\" }".to_owned(),
                        |near| format!("did you mean `{near}`?"),
                    );
                    return Err(fault.hint(hint).raise());
                }
            };
            *place = Some(values::text(given).ok_or_else(|| {
                let fault = Fault::new(format!("`{name}` is a text, in quotes"));
                fault
                    .hint("such as #{ wording: \"attributed\", names: \"K01\" }")
                    .raise()
            })?);
        }
        of(piece, &instruction, &asked)
    }

    /// Whether a further look pays: what the piece would be catalogued as after each look, what that fetches, and what an hour
    /// of looking costs, in the market's currency. `fees` are paid beside the minutes, such as to a laboratory; `again` as for
    /// `next_look`: `show(jug.in_condition(4, []).pays(asked, #{ per_hour: 60, fees: #{ technique: 25 } }))`.
    #[rhai_fn(return_raw, pure)]
    pub fn pays(
        piece: &mut PieceHandle,
        instruction: InstructionHandle,
        costs: Map,
    ) -> Raw<PaysHandle> {
        let costs = self::costs(piece, &costs)?;
        let pays = piece
            .pack
            .compiled
            .pays(&piece.piece, &instruction.0, &costs);
        Ok(PaysHandle(pays.map_err(raise)?.into()))
    }
}

fn of(piece: &PieceHandle, instruction: &InstructionHandle, asked: &Asked) -> Raw<ValueHandle> {
    let worth = piece
        .pack
        .compiled
        .value(&piece.piece, &instruction.0, asked);
    Ok(ValueHandle(worth.map_err(raise)?.into()))
}

const COSTS: [&str; 3] = ["per_hour", "fees", "again"];
const SUCH_AS: &str = "such as #{ per_hour: 60, fees: #{ technique: 25 } }";

/// What looking costs; an hour must be said.
fn costs(piece: &PieceHandle, map: &Map) -> Raw<Costs> {
    let money = |what: &str, value: &Dynamic| {
        number(value).map_err(|kind| {
            let fault = Fault::new(format!("{what} is a number, not {kind}"));
            fault.hint(SUCH_AS).raise()
        })
    };
    let mut costs = Costs::default();
    for (key, value) in map {
        match key.as_str() {
            "per_hour" => costs.per_hour = money("what an hour costs", value)?,
            "again" => costs.again = next_looks::again(piece, value)?,
            "fees" => {
                let fees = value.read_lock::<Map>().ok_or_else(|| {
                    let fault = Fault::new("`fees` is a map of clues, each with what is paid");
                    fault.hint(SUCH_AS).raise()
                })?;
                for (clue, fee) in fees.iter() {
                    let place = find_clue(piece.model(), clue).map_err(raise)?;
                    costs
                        .fees
                        .push((place, money(&format!("the fee for `{clue}`"), fee)?));
                }
            }
            other => {
                return Err(Fault::new(format!("looking has no cost `{other}`"))
                    .nearest_or_known(other, COSTS.into_iter())
                    .raise());
            }
        }
    }
    if !map.contains_key("per_hour") {
        let fault = Fault::new("what an hour of looking costs is not said");
        return Err(fault.hint(SUCH_AS).raise());
    }
    Ok(costs)
}

impl From<PaysError> for Fault {
    fn from(error: PaysError) -> Self {
        match error {
            PaysError::Value(error) => error.into(),
            PaysError::NextLook(error) => error.into(),
            other => Self::with_remedy(&other.to_string()),
        }
    }
}

/// What a script says of one thing of an instruction.
fn said(name: &str, value: &Dynamic) -> Result<Said, Fault> {
    let what = format!("`{name}` of an instruction");
    if let Some(text) = values::text(value) {
        return Ok(Said::Text(one_line(&what, &text)?));
    }
    if let Some(list) = value.read_lock::<Array>() {
        let texts: Option<Vec<String>> = list.iter().map(values::text).collect();
        let Some(texts) = texts else {
            return Ok(Said::Other("a list of other things than texts".to_owned()));
        };
        for text in &texts {
            one_line(&what, text)?;
        }
        return Ok(Said::List(texts));
    }
    let what = match number(value) {
        Ok(_) => "a number".to_owned(),
        Err(kind) => kind.to_owned(),
    };
    Ok(Said::Other(what))
}
