//! Packs with other numbers, for this run: a belief supposed, several experts pooled.

use std::sync::Arc;

use rhai::plugin::export_module;
use rhai::{Array, Dynamic, Engine, Map};

use super::chances::{chance_given, chance_of};
use super::fault::Fault;
use super::files::count_writing;
use super::handles::{PackHandle, Raw, VerdictHandle};
use super::numbers::number;
use super::values::Number;
use super::{granted, packs};
use crate::model::pooled::{Pooling, pool};
use crate::model::supposed::Supposed;
use crate::model::{CompiledModel, Spread};
use crate::rewrite;

/// Registers the functions.
pub(super) fn register(engine: &mut Engine) {
    let module = rhai::exported_module!(supposing_functions);
    engine.register_global_module(module.into());
}

#[allow(
    clippy::unwrap_used,
    reason = "written by the macro: an argument whose type Rhai has checked"
)]
#[export_module]
mod supposing_functions {
    use crate::script::handles::PieceHandle;

    /// The pack with one belief changed for this run; the prior files stay as they are, and verdicts say that it is changed.
    /// The belief is named by how its description begins (`pack.beliefs()` lists them). Chances by their states in `say`, all of
    /// them unless `others: "in proportion"` lets the rest move along; of a weight `mean` and `sd`; pieces behind it in `seen`:
    /// `pack.suppose("weight for size given maker = K07", #{ mean: 1.05, seen: 60 })`,
    /// `pack.suppose("foot given maker = K07", #{ say: #{ recessed: "50%" }, others: "in proportion" })`.
    #[rhai_fn(return_raw, pure)]
    pub fn suppose(pack: &mut PackHandle, about: &str, change: Map) -> Raw<PackHandle> {
        let supposed = supposed(&pack.compiled, about, &change)?;
        let belief = &pack.compiled.model.beliefs.get(supposed.belief).about;
        let what = format!("supposing another {belief}");
        let compiled = Arc::new(pack.compiled.supposing(&[supposed], &what));
        Ok(PackHandle {
            compiled,
            ..pack.clone()
        })
    }

    /// Writes the pack with all that is supposed of it to a new folder below the one granted with `--write`: only the numbers that
    /// changed differ, comments and order stay. Learned and shared rows that only a person can change are refused:
    /// `pack.suppose("weight for size given maker = K07", #{ mean: 1.05 }).save_as("heavier")`.
    #[rhai_fn(return_raw, pure)]
    pub fn save_as(pack: &mut PackHandle, name: &str) -> Raw<()> {
        save(pack, name).map_err(Fault::raise)
    }

    /// What a belief says: its chances by state, or `mean` and `sd`; and `seen`, the pieces behind it:
    /// `pack.belief("share of each maker").seen`.
    #[rhai_fn(return_raw, pure)]
    pub fn belief(pack: &mut PackHandle, about: &str) -> Raw<Map> {
        let model = &pack.compiled.model;
        let id = model.find_belief(about);
        let id = id.map_err(|error| Fault::from(error).raise())?;
        let belief = model.beliefs.get(id);
        let mut map = Map::new();
        match &belief.spread {
            Spread::Categorical { say } => {
                let names = crate::model::chance_names::chance_names(model, id);
                let chances = names.iter().zip(say);
                let say: Map = chances
                    .map(|(name, chance)| (name.as_str().into(), Dynamic::from(*chance)))
                    .collect();
                map.insert("say".into(), say.into());
            }
            Spread::Normal { mean, sd } => {
                map.insert("mean".into(), (*mean).into());
                map.insert("sd".into(), (*sd).into());
            }
            Spread::Trivariate { mean, .. } => {
                let mean: Array = mean.iter().map(|m| Dynamic::from(*m)).collect();
                map.insert("mean".into(), mean.into());
            }
        }
        map.insert("seen".into(), belief.seen.into());
        map.insert("row".into(), belief.citation.clone().into());
        Ok(map)
    }

    /// Several experts' packs as one, each belief their weighted mean (linear opinion pool). They must differ in numbers alone:
    /// `pool_linear([pack, pack.suppose("share of each maker", #{ seen: 20 })], [0.7, 0.3])`.
    #[rhai_fn(return_raw)]
    pub fn pool_linear(packs: Array, weights: Array) -> Raw<PackHandle> {
        pooled(&packs, &weights, Pooling::Linear).map_err(Fault::raise)
    }

    /// The same by the weighted geometric mean (logarithmic opinion pool), under which what one expert rules out is ruled out:
    /// `pool_logarithmic([pack, pack.suppose("share of each maker", #{ seen: 20 })], [0.5, 0.5])`.
    #[rhai_fn(return_raw)]
    pub fn pool_logarithmic(packs: Array, weights: Array) -> Raw<PackHandle> {
        pooled(&packs, &weights, Pooling::Logarithmic).map_err(Fault::raise)
    }

    /// The verdicts on many pieces of this pack at once, in their order, on all threads:
    /// `pack.judge_all([jug, jug.without("size")])[0].leader`.
    #[rhai_fn(return_raw, pure)]
    pub fn judge_all(pack: &mut PackHandle, pieces: Array) -> Raw<Array> {
        let mut described = Vec::with_capacity(pieces.len());
        for piece in &pieces {
            let Some(piece) = piece.read_lock::<PieceHandle>() else {
                let fault = Fault::new("`judge_all` takes a list of pieces");
                return Err(fault.hint("such as `pack.judge_all([jug, other])`").raise());
            };
            if !Arc::ptr_eq(&piece.pack.compiled, &pack.compiled) {
                let title = &piece.piece.title;
                let fault =
                    Fault::new(format!("the piece `{title}` was described by another pack"));
                return Err(fault.hint("take it over with `piece.under(pack)`").raise());
            }
            described.push(piece.piece.clone());
        }
        let mut verdicts = Array::with_capacity(described.len());
        for some in described.chunks(PIECES_BETWEEN_LOOKS) {
            if pack.run.is_to_end() {
                return Err(Fault::out_of_time().raise());
            }
            for (verdict, piece) in pack.compiled.verdicts(some).into_iter().zip(some) {
                let verdict = verdict.map_err(|error| {
                    Fault::from(error)
                        .hint(format!("in the piece `{}`", piece.title))
                        .raise()
                })?;
                verdicts.push(Dynamic::from(VerdictHandle(Arc::new(verdict))));
            }
        }
        Ok(verdicts)
    }
}

/// Pieces judged between two looks at the clock.
const PIECES_BETWEEN_LOOKS: usize = 512;

fn save(pack: &PackHandle, name: &str) -> Result<(), Fault> {
    let settings = &pack.run.settings;
    let plain = granted::plain(name).filter(|path| path.components().count() == 1);
    let Some(plain) = plain else {
        return Err(
            Fault::new("a pack is saved under a plain name, without `/`")
                .hint("such as `pack.save_as(\"my_pack\")`"),
        );
    };
    let Some(folder) = settings.write.first() else {
        return Err(
            Fault::new("a script writes only where it may").hint("grant a folder: --write FOLDER")
        );
    };
    let root = granted::real(folder)
        .map_err(|error| Fault::new(format!("`{}`: {error}", folder.display())))?;
    let stated = packs::handle(&pack.name, &pack.run);
    let stated = stated.map_err(|_| Fault::new("the pack can no longer be read"))?;
    let from = settings.priors.join(&*pack.name);
    let files = std::fs::read_dir(&from).into_iter().flatten().flatten();
    let lengths = files.map(|file| file.metadata().map_or(0, |data| data.len()));
    count_writing(lengths.sum(), &pack.run)?;
    let (stated, changed) = (&stated.compiled.model, &pack.compiled.model);
    Ok(rewrite::save(stated, changed, &from, &root.join(plain))?)
}

const CHANGES: [&str; 5] = ["say", "others", "mean", "sd", "seen"];

fn supposed(compiled: &CompiledModel, about: &str, change: &Map) -> Raw<Supposed> {
    let raise = |fault: Fault| fault.raise();
    if let Some(unknown) = change.keys().find(|key| !CHANGES.contains(&key.as_str())) {
        let fault = Fault::new(format!("a belief has no `{unknown}` to suppose"));
        return Err(raise(fault.nearest_or_known(unknown, CHANGES.into_iter())));
    }
    let model = &compiled.model;
    let belief = model.find_belief(about);
    let belief = belief.map_err(|error| raise(error.into()))?;
    let figure = |name: &str| {
        let value = change.get(name);
        let value = value.map(|value: &Number| {
            number(value)
                .map_err(|kind| raise(Fault::new(format!("`{name}` is a number, not {kind}"))))
        });
        value.transpose()
    };
    let seen = figure("seen")?;
    let in_proportion = match change.get("others").map(ToString::to_string).as_deref() {
        None => false,
        Some("in proportion") => true,
        Some(other) => {
            let fault = Fault::new(format!("`others` cannot be `{other}`"));
            return Err(raise(
                fault.hint("write `others: \"in proportion\"`, or name every state"),
            ));
        }
    };
    if let Some(say) = change.get("say") {
        let Some(say) = say.read_lock::<Map>() else {
            return Err(raise(
                Fault::new("`say` is a map of states and chances")
                    .hint("such as `say: #{ blue: \"40%\", white: \"60%\" }`"),
            ));
        };
        let mut chances = Vec::new();
        if say.contains_key("others") {
            return Err(raise(
                Fault::new("`others` stands beside `say`, not in it")
                    .hint("such as `#{ say: #{ blue: \"40%\" }, others: \"in proportion\" }`"),
            ));
        }
        for (state, chance) in say.iter() {
            chances.push((state.to_string(), chance_of(chance)?));
        }
        let supposed = model.suppose_chances(belief, &chances, in_proportion, seen);
        return supposed.map_err(|error| raise(error.into()));
    }
    let (mean, sd) = (figure("mean")?, figure("sd")?);
    if mean.is_some() || sd.is_some() {
        let supposed = model.suppose_normal(belief, mean, sd, seen);
        return supposed.map_err(|error| raise(error.into()));
    }
    match seen {
        Some(seen) => {
            let supposed = model.suppose_seen(belief, seen);
            supposed.map_err(|error| raise(error.into()))
        }
        None => Err(raise(
            Fault::new("nothing is supposed")
                .hint("give `say`, `mean`, `sd` or `seen`: `#{ seen: 20 }`"),
        )),
    }
}

fn pooled(packs: &Array, weights: &Array, pooling: Pooling) -> Result<PackHandle, Fault> {
    let mut handles = Vec::new();
    for pack in packs {
        let Some(pack) = pack.read_lock::<PackHandle>() else {
            return Err(Fault::new(
                "the first list holds packs, the second their weights",
            ));
        };
        handles.push(pack.clone());
    }
    if handles.len() != weights.len() {
        return Err(Fault::new(format!(
            "{} packs and {} weights: each pack has its weight",
            handles.len(),
            weights.len()
        )));
    }
    let mut weighed = Vec::new();
    for (pack, weight) in handles.iter().zip(weights) {
        let given = number(weight).or_else(|kind| chance_given(weight).map_err(|_| kind));
        let weight = given.map_err(|kind| {
            Fault::new(format!(
                "a weight is a number or a text such as \"50%\", not {kind}"
            ))
        })?;
        weighed.push((&*pack.compiled, weight));
    }
    let compiled = Arc::new(pool(&weighed, pooling)?);
    match handles.first() {
        Some(first) => Ok(PackHandle {
            compiled,
            ..first.clone()
        }),
        None => Err(Fault::new("no packs are named")),
    }
}
