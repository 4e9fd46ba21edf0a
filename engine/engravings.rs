//! Who could pull from which engraving, when, and how often it did: read from a model, to be shown.

use serde::Serialize;

use crate::model::histories::{HistoryLine, Spell};
use crate::model::{CompiledModel, Model};

/// The engravings of a pack.
#[derive(Clone, Debug, Serialize)]
pub struct Engravings {
    /// The pack's name.
    pub pack: String,
    /// SHA-256 of the pack's files.
    pub pack_sha256: String,
    /// Whether histories say who used them; else rows of chances do.
    pub by_histories: bool,
    /// Each engraving.
    pub engravings: Vec<EngravingTold>,
    /// For each maker and period that can be, and perhaps each size class, the chance of each engraving; empty if it depends on other things.
    pub chances: Vec<ChancesOf>,
}

/// One engraving.
#[derive(Clone, Debug, Serialize)]
pub struct EngravingTold {
    /// Short code.
    pub id: String,
    /// Name for people.
    pub name: String,
    /// Its history, in order.
    pub history: Vec<HistoryLine>,
    /// Who could pull from it.
    pub at_hand: Vec<HadBy>,
}

/// A maker that could pull from an engraving.
#[derive(Clone, Debug, Serialize)]
pub struct HadBy {
    /// The maker.
    pub maker: String,
    /// When.
    pub spells: Vec<Spell>,
}

/// Chances of the engravings.
#[derive(Clone, Debug, Serialize)]
pub struct ChancesOf {
    /// The maker.
    pub maker: String,
    /// The period.
    pub period: String,
    /// The size class, if some engravings are not of every class.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub size_class: Option<String>,
    /// One for each engraving.
    pub chances: Vec<f64>,
}

impl Model {
    /// The engravings, who could pull from them when, and how often each maker did; `None` for wares without.
    #[must_use]
    pub fn engravings(&self) -> Option<Engravings> {
        let catalogue = &self.catalogue;
        let id = catalogue.engraving?;
        let states = &self.network.variable(id).states;
        let told = |index: usize, state: &String| {
            let had = self.histories.iter().flat_map(|h| &h.at_hand);
            EngravingTold {
                id: state.clone(),
                name: catalogue.engravings[index].clone(),
                history: self
                    .histories
                    .as_ref()
                    .and_then(|histories| histories.lines.get(index).cloned())
                    .unwrap_or_default(),
                at_hand: had
                    .filter(|had| had.engraving == index)
                    .map(|had| HadBy {
                        maker: catalogue.makers[had.maker].id.clone(),
                        spells: had.spells.clone(),
                    })
                    .collect(),
            }
        };
        Some(Engravings {
            pack: self.name.clone(),
            pack_sha256: self.hash.clone(),
            by_histories: self.histories.is_some(),
            engravings: states
                .iter()
                .enumerate()
                .map(|(index, state)| told(index, state))
                .collect(),
            chances: self.chances_of_engravings(),
        })
    }

    fn chances_of_engravings(&self) -> Vec<ChancesOf> {
        let catalogue = &self.catalogue;
        let Some(id) = catalogue.engraving else {
            return Vec::new();
        };
        let (table, output) = (self.network.cpt(id), self.network.cpt(catalogue.period));
        let class = self.network.find("size_class");
        let by_class: Vec<_> = [catalogue.maker, catalogue.period]
            .into_iter()
            .chain(class)
            .collect();
        let classes: Vec<Option<&String>> = match class {
            Some(class) if table.parents == by_class => self
                .network
                .variable(class)
                .states
                .iter()
                .map(Some)
                .collect(),
            _ if table.parents == by_class[..2] => vec![None],
            _ => return Vec::new(),
        };
        if output.parents != [catalogue.maker] {
            return Vec::new();
        }
        let n_periods = catalogue.periods.len();
        let mut chances = Vec::new();
        for (maker, of) in catalogue.makers.iter().enumerate() {
            for (period, when) in catalogue.periods.iter().enumerate() {
                if output.table[(period, maker)] > 0.0 {
                    for (class, name) in classes.iter().enumerate() {
                        let case = (maker * n_periods + period) * classes.len() + class;
                        chances.push(ChancesOf {
                            maker: of.id.clone(),
                            period: when.id.clone(),
                            size_class: name.cloned(),
                            chances: table.table.column(case).iter().copied().collect(),
                        });
                    }
                }
            }
        }
        chances
    }
}

impl CompiledModel {
    /// As [`Model::engravings`].
    #[must_use]
    pub fn engravings(&self) -> Option<Engravings> {
        self.model.engravings()
    }
}
