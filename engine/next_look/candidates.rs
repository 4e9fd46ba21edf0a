//! What can be looked at next, under which circumstances, and what that costs.

use serde::Serialize;

use crate::model::{ClueKind, ClueTarget, Model};
use crate::network::{Evidence, Finding, Role, VariableId};
use crate::piece::{Look, Piece};
use crate::units::Reading;

/// Something that can be looked at.
#[derive(Clone, Debug)]
pub struct Candidate {
    /// Position among the catalogue's clues.
    pub clue: usize,
    /// Where the reading will be entered.
    pub target: ClueTarget,
    /// The uncertain finding that the reading will replace, in words.
    pub replaces: Option<String>,
    /// Circumstances that it needs and that are not noted, by position among the clues.
    pub needs: Vec<usize>,
}

/// A clue that is not weighed, and why.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NotOffered {
    /// Names for people.
    pub what: Vec<String>,
    /// Why not.
    pub why: String,
}

/// A circumstance and its state, both by position.
pub type Circumstance = (usize, usize);

/// What a look takes.
#[derive(Clone, Debug, PartialEq)]
pub struct Cost {
    /// Minutes of the look itself.
    pub minutes: f64,
    /// Whether the pack gives none, so that this is the usual figure.
    pub is_usual: bool,
    /// Tools it needs, by position among the pack's.
    pub tools: Vec<usize>,
}

/// All that can be looked at.
#[derive(Clone, Debug, Default)]
pub struct Offer {
    /// In the order of the pack.
    pub candidates: Vec<Candidate>,
    /// What is left out of account.
    pub not_offered: Vec<NotOffered>,
}

const NO_CHANCE: &str = "the pack does not say how often it is met";
const NEEDS_SIZE: &str = "a weight is judged by the size: note or measure that first";
const NOT_ASKED: &str = "the pack says nothing of how its usual observer reads it";

impl Offer {
    /// Clues that are not noted, or noted with doubt. `again` names clues of which it was noted that one cannot tell, and which
    /// are to be looked at again all the same.
    #[must_use]
    pub fn new(model: &Model, piece: &Piece, evidence: &Evidence, again: &[usize]) -> Self {
        let catalogue = &model.catalogue;
        let mut offer = Self::default();
        for (clue, about) in catalogue.clues.iter().enumerate() {
            match about.kind {
                ClueKind::Circumstance => continue,
                ClueKind::Date | ClueKind::Rule { .. } | ClueKind::Registration { .. } => {
                    if !piece.findings().iter().any(|f| f.clue == clue) {
                        offer.leave_out(&about.name, NO_CHANCE);
                    }
                    continue;
                }
                ClueKind::Weight { .. } if piece.weighed().is_some() => continue,
                _ => {}
            }
            let findings = || piece.findings().iter().filter(|f| f.clue == clue);
            let is_doubtful = |look: &Look| matches!(look, Look::Uncertain(_) | Look::Believed(_));
            let doubtful = findings().find(|f| is_doubtful(&f.look));
            let is_open = findings().all(|f| matches!(f.look, Look::CannotTell(_)));
            let is_new = findings().next().is_none() || (is_open && again.contains(&clue));
            if doubtful.is_none() && !is_new {
                continue;
            }
            let observer = doubtful.map_or(catalogue.default_observer, |f| f.observer);
            let is_coded = matches!(
                about.kind,
                ClueKind::Mark | ClueKind::Coding | ClueKind::Choice
            );
            if is_coded && observer.is_some_and(|o| !catalogue.observers[o].asked(clue)) {
                offer.leave_out(&about.name, NOT_ASKED);
                continue;
            }
            let a_kilogram = Reading {
                value: 1000.0,
                tolerance: None,
            };
            if matches!(about.kind, ClueKind::Weight { .. })
                && piece.judged_weight(model, about, a_kilogram, None).is_err()
            {
                offer.leave_out(&about.name, NEEDS_SIZE);
                continue;
            }
            let target = catalogue.target(clue, observer);
            offer.candidates.push(Candidate {
                clue,
                target,
                replaces: doubtful.map(|f| f.said.clone()),
                needs: needs(model, target, evidence),
            });
        }
        offer
    }

    fn leave_out(&mut self, name: &str, why: &str) {
        match self.not_offered.iter_mut().find(|left| left.why == why) {
            Some(left) => left.what.push(name.to_owned()),
            None => self.not_offered.push(NotOffered {
                what: vec![name.to_owned()],
                why: why.to_owned(),
            }),
        }
    }

    /// Circumstances that some look needs and that are not noted, by position among the clues, in the pack's order.
    #[must_use]
    pub fn open_circumstances(&self) -> Vec<usize> {
        let needed = self.candidates.iter().flat_map(|c| c.needs.iter().copied());
        let mut needed: Vec<usize> = needed.collect();
        needed.sort_unstable();
        needed.dedup();
        needed
    }
}

/// Circumstances above a target that are not noted, by position among the clues.
fn needs(model: &Model, target: ClueTarget, evidence: &Evidence) -> Vec<usize> {
    let network = &model.network;
    let mut open: Vec<VariableId> = match target {
        ClueTarget::Variable(id) => vec![id],
        ClueTarget::Measure(id) => network.measure(id).parents.clone(),
    };
    let mut seen = vec![false; network.variables().len()];
    while let Some(id) = open.pop() {
        if !std::mem::replace(&mut seen[id.index()], true) {
            open.extend(network.parents(id));
        }
    }
    let clues = model.catalogue.clues.iter().enumerate();
    let needed = clues.filter(|(_, clue)| match clue.target {
        ClueTarget::Variable(id) => {
            network.variable(id).role == Role::Input
                && seen[id.index()]
                && evidence.finding(id).is_none()
        }
        ClueTarget::Measure(_) => false,
    });
    needed.map(|(clue, _)| clue).collect()
}

/// What a look costs under the circumstances noted and those assumed.
#[must_use]
pub fn cost(model: &Model, clue: usize, evidence: &Evidence, assumed: &[Circumstance]) -> Cost {
    let state_of = |circumstance: usize| {
        let assumed = assumed.iter().find(|(c, _)| *c == circumstance);
        if let Some(&(_, state)) = assumed {
            return Some(state);
        }
        match model.catalogue.clues[circumstance].target {
            ClueTarget::Variable(id) => match evidence.finding(id) {
                Some(Finding::State(state)) => Some(*state),
                _ => None,
            },
            ClueTarget::Measure(_) => None,
        }
    };
    let looks = &model.catalogue.looks;
    match looks.cost(clue, state_of) {
        Some(cost) => Cost {
            minutes: cost.minutes,
            is_usual: false,
            tools: cost.tools.clone(),
        },
        None => Cost {
            minutes: looks.minutes_otherwise(),
            is_usual: true,
            tools: Vec::new(),
        },
    }
}

/// The evidence with circumstances assumed.
#[must_use]
pub fn assuming(model: &Model, evidence: &Evidence, assumed: &[Circumstance]) -> Evidence {
    let mut evidence = evidence.clone();
    for &(circumstance, state) in assumed {
        if let ClueTarget::Variable(id) = model.catalogue.clues[circumstance].target {
            evidence.observe(id, state);
        }
    }
    evidence
}

/// Every way to settle some circumstances: the last changes fastest.
#[must_use]
pub fn settings(model: &Model, circumstances: &[usize]) -> Vec<Vec<Circumstance>> {
    let mut settings = vec![Vec::new()];
    for &circumstance in circumstances {
        let n_states = model.catalogue.clues[circumstance].states.len();
        let with = |setting: &Vec<Circumstance>| {
            let setting = setting.clone();
            (0..n_states).map(move |state| {
                let mut setting = setting.clone();
                setting.push((circumstance, state));
                setting
            })
        };
        settings = settings.iter().flat_map(with).collect();
    }
    settings
}
