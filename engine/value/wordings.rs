//! What a piece might be catalogued as, and whether the house's verdict supports it now.

use serde::Serialize;

use super::ValueError;
use crate::circuit::Posterior;
use crate::model::market::{Market, MarketWording, Named, Who};
use crate::model::{MakerRole, Model, Wording};
use crate::nearest_name::nearest;
use crate::piece::{Look, Piece};
use crate::verdict::opinion::{Grounds, Opinion, makers_of_full_mark, opinion};

/// Makers and works below this chance are not offered unless asked for. Our own choice.
pub(super) const SERIOUS: f64 = 0.05;

/// What is asked for beside the house's own wording.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Asked {
    /// A wording, by its name.
    pub wording: Option<String>,
    /// A maker or works, by code or name.
    pub names: Option<String>,
}

/// Whether the verdict supports a wording.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Support {
    /// Whether it does.
    pub is_supported: bool,
    /// What the wording needs.
    pub needs: f64,
    /// What it has.
    pub has: f64,
    /// What else stands against it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
}

/// A wording of somebody or nobody.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Candidate {
    /// The wording, by position.
    pub wording: usize,
    /// Whom it names.
    pub who: Who,
}

/// What the wordings are judged by.
pub struct Ground<'a> {
    pub model: &'a Model,
    pub market: &'a Market,
    grounds: Grounds,
    opinion: Opinion,
    /// Wordings that what was noted of the piece does not bear out, with why; by position.
    untrue: Vec<Option<String>>,
    /// The makers whose full mark the piece bears.
    marked_by: Vec<usize>,
    in_conflict: bool,
}

impl<'a> Ground<'a> {
    /// What a posterior supports, the findings being in conflict by so many decibans.
    pub fn new(
        model: &'a Model,
        market: &'a Market,
        piece: &Piece,
        posterior: &Posterior,
        conflict: f64,
    ) -> Self {
        let grounds = Grounds::of(model, posterior);
        let marked_by = makers_of_full_mark(model, piece).unwrap_or_default();
        let in_conflict = conflict > 0.0;
        let has_own_mark = |maker| marked_by.contains(&maker);
        Self {
            opinion: opinion(model, &grounds, has_own_mark, in_conflict),
            untrue: untrue(model, market, piece),
            model,
            market,
            grounds,
            marked_by,
            in_conflict,
        }
    }

    /// The rung of the verdict.
    pub fn rung(&self) -> &'static str {
        self.opinion.rung()
    }

    /// The wording for a rung.
    fn of_rung(&self, rung: &str) -> usize {
        let wordings = self.market.wordings.iter().enumerate();
        let speaks = wordings.filter(|(place, wording)| {
            self.untrue[*place].is_none() && wording.rungs.iter().any(|known| known == rung)
        });
        // What is said of pieces of which more is noted goes before what may be said of any.
        let found = speaks.min_by_key(|(_, wording)| wording.only_where.is_empty());
        // Every rung has a wording for any piece: the check has seen to that.
        let last = self.market.wordings.len().saturating_sub(1);
        found.map_or(last, |(place, _)| place)
    }

    /// The house's own wording: what the value rests on.
    pub fn own(&self) -> Candidate {
        let nobody = || Candidate {
            wording: self.of_rung("not identified"),
            who: Who::Nobody,
        };
        let wording = self.of_rung(self.opinion.rung());
        let maker = match self.opinion {
            Opinion::Marked { maker }
            | Opinion::Attributed { maker }
            | Opinion::Probably { maker } => Some(maker),
            Opinion::Unlisted { .. } => return nobody(),
            _ => None,
        };
        let works = match self.opinion {
            Opinion::Works { works } => Some(works),
            _ => maker.and_then(|maker| self.model.catalogue.makers[maker].works),
        };
        let who = match self.market.wordings[wording].names {
            Named::Maker => maker.map(Who::Maker),
            Named::Works => works.map(Who::Works),
            Named::Nobody => Some(Who::Nobody),
        };
        who.map_or_else(nobody, |who| Candidate { wording, who })
    }

    /// Every wording that is offered: the house's own first.
    ///
    /// # Errors
    /// [`ValueError`] if a wording or name is asked for that does not exist, or a mark that is not accepted.
    pub fn offered(&self, asked: &Asked) -> Result<Vec<Candidate>, ValueError> {
        let mut offered = vec![self.own()];
        let others = if *asked == Asked::default() {
            self.serious()
        } else {
            vec![self.asked(asked)?]
        };
        for candidate in others {
            if !offered.contains(&candidate) {
                offered.push(candidate);
            }
        }
        Ok(offered)
    }

    /// Whether another wording says the same of the piece and more.
    fn is_said_more_fully(&self, wording: usize) -> bool {
        let kind = &self.market.wordings[wording];
        let fuller = |(place, other): (usize, &MarketWording)| {
            self.untrue[place].is_none()
                && !other.only_where.is_empty()
                && other.names == kind.names
                && kind.rungs.iter().all(|rung| other.rungs.contains(rung))
        };
        let mut all = self.market.wordings.iter().enumerate();
        kind.only_where.is_empty() && all.any(fuller)
    }

    fn serious(&self) -> Vec<Candidate> {
        let mut all = Vec::new();
        let by_chance = |p: &[f64]| {
            let mut places: Vec<usize> =
                (0..p.len()).filter(|&place| p[place] >= SERIOUS).collect();
            places.sort_by(|&a, &b| p[b].total_cmp(&p[a]).then(a.cmp(&b)));
            places
        };
        let makers = &self.model.catalogue.makers;
        for (wording, kind) in self.market.wordings.iter().enumerate() {
            if self.untrue[wording].is_some() || self.is_said_more_fully(wording) {
                continue;
            }
            let is_marked = kind.rungs.iter().any(|rung| rung == "marked");
            match kind.names {
                Named::Maker => {
                    let listed = by_chance(&self.grounds.maker).into_iter();
                    let listed = listed.filter(|&maker| makers[maker].role == MakerRole::Listed);
                    let fits =
                        listed.filter(|&maker| !is_marked || self.mark_refused(maker).is_none());
                    all.extend(fits.map(|maker| Candidate {
                        wording,
                        who: Who::Maker(maker),
                    }));
                }
                Named::Works => {
                    let works = by_chance(&self.grounds.works).into_iter();
                    let named = works
                        .filter(|&works| makers.iter().any(|maker| maker.works == Some(works)));
                    all.extend(named.map(|works| Candidate {
                        wording,
                        who: Who::Works(works),
                    }));
                }
                Named::Nobody => {
                    let is_copy = kind.rungs.iter().any(|rung| rung == "copy");
                    if !is_copy || self.chance_of_copy() >= SERIOUS {
                        all.push(Candidate {
                            wording,
                            who: Who::Nobody,
                        });
                    }
                }
            }
        }
        all
    }

    fn asked(&self, asked: &Asked) -> Result<Candidate, ValueError> {
        let wordings = &self.market.wordings;
        let wording = match &asked.wording {
            Some(name) => wordings
                .iter()
                .position(|wording| wording.id == *name)
                .ok_or_else(|| ValueError::UnknownWording {
                    name: crate::diagnostic::shorten(name),
                    nearest: nearest(name, wordings.iter().map(|wording| wording.id.as_str()))
                        .map(str::to_owned),
                    known: wordings.iter().map(|wording| wording.id.clone()).collect(),
                })?,
            None => self.of_rung("attributed"),
        };
        let kind = &wordings[wording];
        let makers = &self.model.catalogue.makers;
        let works = self.works();
        let who = match (kind.names, &asked.names) {
            (Named::Nobody, None) => Who::Nobody,
            (Named::Nobody, Some(_)) => {
                return Err(ValueError::NamesNobody {
                    wording: kind.id.clone(),
                });
            }
            (_, None) => {
                return Err(ValueError::NamesSomebody {
                    wording: kind.id.clone(),
                });
            }
            (Named::Maker, Some(name)) => {
                let place = makers
                    .iter()
                    .position(|maker| maker.id == *name || maker.name == *name);
                let known = || {
                    makers
                        .iter()
                        .flat_map(|maker| [maker.id.as_str(), maker.name.as_str()])
                };
                Who::Maker(place.ok_or_else(|| ValueError::UnknownName {
                    what: "maker",
                    name: crate::diagnostic::shorten(name),
                    nearest: nearest(name, known()).map(str::to_owned),
                })?)
            }
            (Named::Works, Some(name)) => {
                let ids = self
                    .model
                    .catalogue
                    .works
                    .map(|id| &self.model.network.variable(id).states);
                let by_id = ids.and_then(|ids| ids.iter().position(|id| id == name));
                let place = by_id.or_else(|| works.iter().position(|works| works == name));
                Who::Works(place.ok_or_else(|| ValueError::UnknownName {
                    what: "works",
                    name: crate::diagnostic::shorten(name),
                    nearest: nearest(name, works.iter().map(String::as_str)).map(str::to_owned),
                })?)
            }
        };
        if let Some(why) = &self.untrue[wording] {
            return Err(ValueError::Untrue {
                wording: kind.id.clone(),
                why: why.clone(),
            });
        }
        if let (true, Who::Maker(maker)) = (kind.rungs.iter().any(|rung| rung == "marked"), who)
            && let Some(why) = self.mark_refused(maker)
        {
            return Err(ValueError::MarkNotAccepted {
                maker: makers[maker].name.clone(),
                why,
            });
        }
        Ok(Candidate { wording, who })
    }

    fn works(&self) -> Vec<String> {
        let id = self.model.catalogue.works;
        id.map_or_else(Vec::new, |id| {
            let states = self.model.network.variable(id).states.iter();
            states
                .map(|id| self.model.catalogue.place_name(id).to_owned())
                .collect()
        })
    }

    /// Why the piece is never catalogued as marked by a maker.
    fn mark_refused(&self, maker: usize) -> Option<String> {
        if !self.marked_by.contains(&maker) {
            return Some("no full mark of theirs was read on the piece".to_owned());
        }
        let is_theirs = match self.opinion {
            Opinion::Copy | Opinion::Unlisted { .. } => false,
            Opinion::Marked { maker: other } | Opinion::Attributed { maker: other } => {
                other == maker
            }
            _ => true,
        };
        (!is_theirs).then(|| "it bears their mark, which the opinion does not accept".to_owned())
    }

    /// The chance of a later reproduction.
    pub fn chance_of_copy(&self) -> f64 {
        let place = self.model.catalogue.maker_of_role(MakerRole::Reproduction);
        place.map_or(0.0, |maker| self.grounds.maker[maker])
    }

    /// Whether the verdict supports a wording.
    pub fn support(&self, candidate: Candidate) -> Support {
        let kind = &self.market.wordings[candidate.wording];
        let rung = kind.rungs.first().map_or("", String::as_str);
        let is_marked = kind.rungs.iter().any(|rung| rung == "marked");
        let is_copy = kind.rungs.iter().any(|rung| rung == "copy");
        let needs = threshold(&self.model.catalogue.wording, rung);
        let has = match candidate.who {
            Who::Maker(maker) => self.grounds.maker[maker],
            Who::Works(works) => self.grounds.works.get(works).copied().unwrap_or(0.0),
            Who::Nobody if is_copy => self.chance_of_copy(),
            Who::Nobody => 1.0,
        };
        let because = match candidate.who {
            Who::Maker(maker) if is_marked => self.mark_refused(maker).or_else(|| {
                let why = "the findings pull against each other";
                self.in_conflict.then(|| why.to_owned())
            }),
            Who::Nobody if kind.rungs.iter().any(|rung| rung == "not identified") => {
                self.identified()
            }
            _ => None,
        };
        let is_own = candidate == self.own();
        Support {
            is_supported: is_own || (has >= needs && because.is_none()),
            needs,
            has,
            because,
        }
    }

    /// Why it would mislead to leave the maker open.
    fn identified(&self) -> Option<String> {
        match self.opinion {
            Opinion::Copy => Some(
                "the opinion is that it is a later reproduction, and whoever buys must be told"
                    .to_owned(),
            ),
            Opinion::Marked { maker } | Opinion::Attributed { maker }
                if self.marked_by.contains(&maker) =>
            {
                let name = &self.model.catalogue.makers[maker].name;
                Some(format!(
                    "it bears the full mark of {name}, and the opinion is that it is theirs"
                ))
            }
            _ => None,
        }
    }

    /// The words of a wording.
    pub fn words(&self, candidate: Candidate) -> String {
        let kind = &self.market.wordings[candidate.wording];
        let (maker, works) = match candidate.who {
            Who::Maker(maker) => {
                let maker = &self.model.catalogue.makers[maker];
                (
                    maker.name.clone(),
                    maker
                        .works
                        .and_then(|works| self.works().get(works).cloned()),
                )
            }
            Who::Works(works) => (String::new(), self.works().get(works).cloned()),
            Who::Nobody => (String::new(), None),
        };
        let words = kind.words.replace("{maker}", &maker);
        words.replace("{works}", &works.unwrap_or_default())
    }
}

/// For each wording what stands against it in the record of the piece.
fn untrue(model: &Model, market: &Market, piece: &Piece) -> Vec<Option<String>> {
    let noted = |(clue, state): &(String, String)| {
        let place = model
            .catalogue
            .clues
            .iter()
            .position(|known| known.id == *clue)?;
        let about = &model.catalogue.clues[place];
        let asked = about.states.iter().position(|known| known == state);
        let of_clue: Vec<_> = piece
            .findings()
            .iter()
            .filter(|f| f.clue == place)
            .collect();
        let is_so = |look: &Look| matches!(look, Look::Seen(seen) if Some(*seen) == asked);
        if !of_clue.is_empty() && of_clue.iter().all(|finding| is_so(&finding.look)) {
            return None;
        }
        let said: Vec<&str> = of_clue
            .iter()
            .map(|finding| finding.said.as_str())
            .collect();
        let said = match said.is_empty() {
            true => "not looked at".to_owned(),
            false => said.join("; "),
        };
        Some(format!(
            "it is said only where {} is noted as {state} ({said})",
            about.name
        ))
    };
    let why = |asked: &Vec<(String, String)>| {
        let why: Vec<String> = asked.iter().filter_map(noted).collect();
        (!why.is_empty()).then(|| why.join(", and "))
    };
    let wordings = market.wordings.iter();
    wordings.map(|wording| why(&wording.only_where)).collect()
}

/// How probable a verdict must be for a rung; 0 for one that claims nothing.
fn threshold(ladder: &Wording, rung: &str) -> f64 {
    match rung {
        "marked" => ladder.marked,
        "attributed" => ladder.attributed,
        "works" => ladder.works,
        "probably" => ladder.probably,
        "either" => ladder.either,
        "region" => ladder.region,
        "engraving" => ladder.engraving,
        "copy" => ladder.copy,
        _ => 0.0,
    }
}
