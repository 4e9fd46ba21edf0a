//! A piece judged by another pack: its findings carried over by name.

use serde::Serialize;

use super::{Compared, Finding, LeftOut, Look, Piece, find_class};
use crate::model::{Clue, ClueKind, Model};

/// A finding that the other pack has no place for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NotCarried {
    /// The clue, for people.
    pub clue: String,
    /// The finding.
    pub said: String,
    /// Why.
    pub why: String,
}

impl Piece {
    /// The piece as another model takes it, and the findings that it has no place for: clues, states, observers and size
    /// classes are found by their names.
    #[must_use]
    pub fn carried(&self, from: &Model, to: &Model) -> (Self, Vec<NotCarried>) {
        let mut piece = self.clone();
        piece.findings.clear();
        piece.left_out.clear();
        for left in &self.left_out {
            let id = &from.catalogue.clues[left.clue].id;
            let place = to.catalogue.clues.iter().position(|clue| clue.id == *id);
            piece.left_out.extend(place.map(|clue| LeftOut {
                clue,
                said: left.said.clone(),
            }));
        }
        let mut left = Vec::new();
        for finding in &self.findings {
            match carried(finding, from, to) {
                Ok(finding) => piece.findings.push(finding),
                Err(why) => left.push(NotCarried {
                    clue: from.catalogue.clues[finding.clue].name.clone(),
                    said: finding.said.clone(),
                    why,
                }),
            }
        }
        (piece, left)
    }
}

fn carried(finding: &Finding, from: &Model, to: &Model) -> Result<Finding, String> {
    let old = &from.catalogue.clues[finding.clue];
    let clues = &to.catalogue.clues;
    let clue = clues.iter().position(|clue| clue.id == old.id);
    let clue = clue.ok_or_else(|| format!("the pack has no clue `{}`", old.id))?;
    let new = &clues[clue];
    if std::mem::discriminant(&old.kind) != std::mem::discriminant(&new.kind)
        || std::mem::discriminant(&old.target) != std::mem::discriminant(&new.target)
    {
        return Err(format!("`{}` is another kind of clue there", old.id));
    }
    let observer = match finding.observer {
        None => to.catalogue.default_observer,
        Some(observer) => {
            let id = &from.catalogue.observers[observer].id;
            let known = &to.catalogue.observers;
            let place = known.iter().position(|other| other.id == *id);
            if place.is_none() && !known.is_empty() {
                return Err(format!("the pack has no observer `{id}`"));
            }
            place
        }
    };
    let compared = finding.compared.map(|compared| {
        let classes = from.network.find("size_class");
        let name = classes.map(|id| &from.network.variable(id).states[compared.size_class]);
        let size_class = name.and_then(|name| find_class(to, name).ok());
        size_class
            .map(|size_class| Compared {
                size_class,
                ..compared
            })
            .ok_or_else(|| "the pack has other size classes".to_owned())
    });
    Ok(Finding {
        clue,
        observer,
        look: look(&finding.look, old, new, from, to)?,
        compared: compared.transpose()?,
        ..finding.clone()
    })
}

fn look(look: &Look, old: &Clue, new: &Clue, from: &Model, to: &Model) -> Result<Look, String> {
    let place = |state: usize| {
        let name = &old.states[state];
        let place = new.states.iter().position(|known| known == name);
        place.ok_or_else(|| format!("`{}` has no state `{name}` there", new.id))
    };
    let weights = |weights: &[f64]| {
        let mut carried = vec![0.0; new.states.len()];
        for (state, &weight) in weights.iter().enumerate().filter(|(_, w)| **w > 0.0) {
            carried[place(state)?] = weight;
        }
        Ok::<_, String>(carried)
    };
    Ok(match look {
        Look::Seen(state) => Look::Seen(place(*state)?),
        Look::Uncertain(given) => Look::Uncertain(weights(given)?),
        Look::Believed(given) => Look::Believed(weights(given)?),
        Look::Fragment(_) => {
            let things = |model: &Model| model.lettering.as_ref().map(|l| l.things.clone());
            if things(from) != things(to) {
                return Err("the pack reads the lettering of marks in another way".to_owned());
            }
            look.clone()
        }
        Look::Measured(_) => {
            let columns = |clue: &Clue| match &clue.kind {
                ClueKind::Together { columns } => columns.clone(),
                _ => Vec::new(),
            };
            if columns(old) != columns(new) {
                return Err(format!("`{}` holds other quantities there", new.id));
            }
            look.clone()
        }
        Look::CannotTell(_)
        | Look::Weighed { .. }
        | Look::Coloured { .. }
        | Look::Found
        | Look::Dated(_)
        | Look::Registered(_) => look.clone(),
    })
}
