//! Written opinions from scripts.

use std::path::Path;
use std::sync::Arc;

use rhai::plugin::{Dynamic, FuncRegistration, export_module};
use rhai::{Engine, Map};

use super::fault::{Fault, raise};
use super::files::write_text;
use super::handles::{AppraisalHandle, InstructionHandle, PieceHandle, Raw};
use super::numbers::in_words;
use super::one_line::one_line;
use super::whole_numbers::{draws, whole_number};
use super::{Run, lock};
use crate::appraisal::{Added, FIELDS};
use crate::instruction::Instruction;
use crate::stress::StressPlan;

/// Draws of the stress run if nothing is said.
const DRAWS: i64 = 1000;
const OPTIONS: [&str; 5] = ["title", "draws", "seed", "object", "condition"];

/// Registers the functions.
pub(super) fn register(engine: &mut Engine, run: &Arc<Run>) {
    engine.register_type_with_name::<AppraisalHandle>("report");
    let shared = Arc::clone(run);
    FuncRegistration::new("save_as")
        .with_params_info(["report: &mut AppraisalHandle", "name: &str", "()"])
        .with_comments([
            "/// Writes the report as one page (HTML) below the folder granted with `--write FOLDER`, in the place of one that is there:",
            "/// `jug.report(instruction(#{ purpose: \"sale\", users: \"the owner\", effective: \"2024-03-31\", inspected: \"2024-03-02\", inspector: \"E. Rowan\",",
            "/// seen: \"in hand\", interest: \"none\" })).save_as(\"jug.html\")`.",
        ])
        .register_into_engine(
            engine,
            move |report: &mut AppraisalHandle, name: &str| -> Raw<()> {
                if !name.to_lowercase().ends_with(".html") {
                    let fault = Fault::new(format!("a report is saved as HTML, and `{name}` is no name of one"));
                    return Err(fault.hint("end the name in .html, such as \"jug.html\"").raise());
                }
                let text = crate::report::html::appraisal(&report.0);
                write_text(name, &text, &shared).map_err(Fault::raise)
            },
        );
    let module = rhai::exported_module!(report_functions);
    engine.register_global_module(module.into());
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod report_functions {
    /// A written opinion: all results, what was looked at and what not, and what a hostile reader asks. With a definition in the
    /// instruction it holds the value too: `show(jug.report(instruction(#{ purpose: "sale", users: "the owner", effective: "2024-03-31",
    /// inspected: "2024-03-02", inspector: "E. Rowan", seen: "in hand", interest: "none" })))`.
    #[rhai_fn(return_raw, pure)]
    pub fn report(piece: &mut PieceHandle, instruction: InstructionHandle) -> Raw<AppraisalHandle> {
        written(piece, &instruction.0, &Map::new())
    }

    /// The same with any of these options: `title`; `draws` and `seed` of the stress run; `condition` in words; `object`, a map
    /// of the fields of Object ID (photographs, type, measurements, materials, inscriptions, features, title, subject, date,
    /// maker, description): `jug.report(instruction(#{ purpose: "sale", users: "the owner", effective: "2024-03-31", inspected: "2024-03-02",
    /// inspector: "E. Rowan", seen: "in hand", interest: "none" }), #{ draws: 200, object: #{ type: "jug" } })`.
    #[rhai_fn(return_raw, pure, name = "report")]
    pub fn report_with(
        piece: &mut PieceHandle,
        instruction: InstructionHandle,
        options: Map,
    ) -> Raw<AppraisalHandle> {
        written(piece, &instruction.0, &options)
    }

    /// The report as the text of a page (HTML): `let page = jug.report(instruction(#{ purpose: "sale", users: "the owner",
    /// effective: "2024-03-31", inspected: "2024-03-02", inspector: "E. Rowan", seen: "in hand", interest: "none" })).html();`.
    #[rhai_fn(pure)]
    pub fn html(report: &mut AppraisalHandle) -> String {
        crate::report::html::appraisal(&report.0)
    }
}

fn written(piece: &PieceHandle, instruction: &Instruction, options: &Map) -> Raw<AppraisalHandle> {
    let run = &piece.pack.run;
    let mut added = added(options).map_err(Fault::raise)?;
    added.script = script_name(run);
    let n_draws = options.get("draws").cloned().unwrap_or(DRAWS.into());
    let n_draws = draws(&n_draws).map_err(Fault::raise)?;
    let seed = match options.get("seed") {
        None => run.settings.seed,
        Some(seed) => {
            let seed = whole_number(seed, "the seed").map_err(Fault::raise)?;
            u64::try_from(seed).map_err(|_| Fault::new("a seed is not negative").raise())?
        }
    };
    let stop = run.stop();
    let plan = StressPlan {
        doubt: run.settings.doubt,
        stop: Some(&stop),
        ..StressPlan::new(n_draws, seed)
    };
    let compiled = &piece.pack.compiled;
    let appraisal = compiled.appraisal(&piece.piece, instruction, &added, &plan);
    Ok(AppraisalHandle(appraisal.map_err(raise)?.into()))
}

fn added(options: &Map) -> Result<Added, Fault> {
    if let Some(unknown) = options.keys().find(|key| !OPTIONS.contains(&key.as_str())) {
        let fault = Fault::new(format!("a report knows no option `{unknown}`"));
        return Err(fault.nearest_or_known(unknown, OPTIONS.into_iter()));
    }
    let text = |name: &str| {
        let given = options.get(name).map(|value| text(name, value));
        given.transpose()
    };
    let mut object = Vec::new();
    if let Some(given) = options.get("object") {
        let map = given.read_lock::<Map>().ok_or_else(|| {
            Fault::new(format!(
                "`object` is a map of fields, not {}",
                in_words(given)
            ))
            .hint("such as object: #{ type: \"jug\", title: \"Tidewheel\" }")
        })?;
        for (name, value) in map.iter() {
            let known = FIELDS.iter().map(|(name, _)| *name);
            let place = known.clone().position(|field| field == name.as_str());
            let Some(place) = place else {
                let fault = Fault::new(format!("an object has no field `{name}`"));
                return Err(fault.nearest_or_known(name, known));
            };
            object.push((place, self::text(name, value)?));
        }
    }
    Ok(Added {
        title: text("title")?,
        object,
        condition: text("condition")?,
        script: None,
    })
}

fn text(name: &str, value: &Dynamic) -> Result<String, Fault> {
    let text = super::values::text(value).filter(|text| !text.trim().is_empty());
    text.ok_or_else(|| {
        let given = match value.is_string() {
            true => "empty",
            false => in_words(value),
        };
        Fault::new(format!("`{name}` is a text, not {given}"))
    })
    .and_then(|text| one_line(&format!("`{name}`"), &text))
}

/// The name of the script's file, without its folder; nothing in a session.
fn script_name(run: &Run) -> Option<String> {
    let entry = lock(&run.entries).last().copied()?;
    let name = lock(&run.sources).file(entry).name.clone();
    let is_file = name.ends_with(".rhai");
    let name = Path::new(&name).file_name()?.to_string_lossy().into_owned();
    is_file.then_some(name)
}
