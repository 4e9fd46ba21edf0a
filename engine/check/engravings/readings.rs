//! How codings are read: right with a chance, off by a step, or state by state; and what a worn plate makes of them.

use std::collections::BTreeMap;

use crate::check::draft::{Draft, DraftId, DraftRule, report_few_pieces, seen};
use crate::check::hidden::STEPS;
use crate::check::rows::singles::{Called, Singles};
use crate::check::rows::{self, Parent, say};
use crate::check::{gaps, names};
use crate::diagnostic::Diagnostic;
use crate::model::belief::{BeliefId, Spread, Values};
use crate::model::column::ColumnRule;
use crate::model::column::grades::GradeReading;
use crate::model::column::misreading::Misreading;
use crate::model::column::worn::WornReading;
use crate::pack::text::{Coding, Placed, Row, RowBody, Say, Table, Word};

/// What a row says of a reading.
#[derive(Clone)]
enum Said {
    /// One chance of reading right, whatever the state; the rest evenly over the others.
    Right(BeliefId),
    /// Chances of steps.
    Steps(BeliefId),
    /// The chance of each reading, for the states that the row names.
    States(BeliefId),
}

/// How a row is said, once its belief is entered.
type MadeOf = fn(BeliefId) -> Said;

/// How one coding is read.
pub struct Reading {
    /// Whether all of its table could be read.
    sound: bool,
    /// Whether rows name the states that they speak of.
    by_state: bool,
    /// Parents besides engraving and size class, last one fastest.
    pub parents: Vec<DraftId>,
    /// For each usual state and parent configuration (configuration fastest) what is said, with its line.
    said: Vec<Option<(Said, String)>>,
    /// What wear makes of a state: state of the plate, usual state → what it looks like, the chance of it, its line.
    worn: BTreeMap<(usize, usize), (usize, BeliefId, String)>,
    /// The variable of the plate, if the coding depends on it.
    plate: Option<DraftId>,
}

/// The readings that `[right]` speaks of.
pub fn shared(table: &Table, draft: &mut Draft<'_>, out: &mut Vec<Diagnostic>) -> Singles {
    let called = Called {
        table: "right",
        what: "the chance of a right reading",
        about: "right reading of a coding",
        example: "say = \"92%\"",
    };
    Singles::read(table, &called, None, draft, out)
}

impl Reading {
    /// The readings of a coding: by its own table, else by the shared one.
    pub fn of(
        coding: &Coding,
        shared: &Singles,
        draft: &mut Draft<'_>,
        out: &mut Vec<Diagnostic>,
    ) -> Self {
        let n_states = coding.clue.states.len();
        let mut reading = match &coding.right {
            Some(table) => own(coding, table, draft, out),
            None => Self {
                sound: shared.sound,
                by_state: false,
                parents: shared.parents.clone(),
                said: (0..n_states)
                    .flat_map(|_| &shared.belief_of_configuration)
                    .map(|belief| {
                        belief
                            .clone()
                            .map(|(belief, line)| (Said::Right(belief), line))
                    })
                    .collect(),
                worn: BTreeMap::new(),
                plate: None,
            },
        };
        let plate = draft.find(super::declared::PLATE);
        reading.plate = plate.filter(|plate| reading.parents.contains(plate));
        if !coding.worn_looks.is_empty() {
            reading.wear(coding, plate, draft, out);
        }
        reading
    }

    /// Reports states of which nothing says how they are read.
    pub fn report_gaps(
        &self,
        coding: &Coding,
        draft: &Draft<'_>,
        order: &[DraftId],
        out: &mut Vec<Diagnostic>,
    ) {
        let Some(table) = coding.right.as_ref().filter(|_| self.sound) else {
            return;
        };
        let n = draft.n_configurations(&self.parents).unwrap_or(0);
        let missing =
            |state: usize, configuration: usize| self.said[state * n + configuration].is_none();
        let id = &coding.clue.id.value;
        for (state, name) in coding.clue.states.iter().enumerate() {
            if self.parents.is_empty() && missing(state, 0) {
                out.push(
                    Diagnostic::error(
                        "pack::missing-row",
                        format!(
                            "no row of `right` says how `{}` of `{id}` is read",
                            name.value
                        ),
                        table.span,
                    )
                    .hint("add a row for it, or one row with `otherwise = true`"),
                );
            }
            if !self.parents.is_empty() {
                let called = if self.by_state {
                    format!("right of {id} = {}", name.value)
                } else {
                    format!("right of {id}")
                };
                let missing = |case: usize| missing(state, case);
                gaps::report_missing_rows(
                    draft,
                    order,
                    &called,
                    &self.parents,
                    missing,
                    table.span,
                    out,
                );
            }
            if !self.by_state {
                return;
            }
        }
    }

    /// What tells one column of a usual state from another: the belief of its row and that of its loss.
    pub fn key(
        &self,
        usual: usize,
        configuration: usize,
        draft: &Draft<'_>,
    ) -> Option<(BeliefId, Option<BeliefId>)> {
        let n = draft.n_configurations(&self.parents)?;
        let (said, _) = self.said.get(usual * n + configuration)?.as_ref()?;
        let loss = self.loss(usual, configuration, draft);
        Some((said.belief(), loss.map(|(_, loss, _)| *loss)))
    }

    fn loss(
        &self,
        usual: usize,
        configuration: usize,
        draft: &Draft<'_>,
    ) -> Option<&(usize, BeliefId, String)> {
        let plate = rows::singles::project(configuration, &self.parents, &[self.plate?], draft);
        self.worn.get(&(plate, usual))
    }

    /// The column of a usual state in a configuration of the parents; none if no row speaks.
    pub fn column(
        &self,
        usual: usize,
        configuration: usize,
        n_states: usize,
        draft: &Draft<'_>,
        stated: &Values,
    ) -> Option<DraftRule> {
        let n = draft.n_configurations(&self.parents)?;
        let of = |state: usize| {
            let (said, line) = self.said.get(state * n + configuration)?.as_ref()?;
            Some((said.rule(state), line.clone()))
        };
        let (kept, line) = of(usual)?;
        let mut citations = vec![line];
        let rule = match self.loss(usual, configuration, draft) {
            None => kept,
            Some((like, loss, loss_line)) => {
                let (lost, lost_line) = of(*like)?;
                citations.extend([lost_line, loss_line.clone()]);
                citations.dedup();
                ColumnRule::WornReading(WornReading {
                    kept: Box::new(kept),
                    lost: Box::new(lost),
                    loss: *loss,
                })
            }
        };
        let mut column = vec![0.0; n_states];
        rule.write(stated, &mut column);
        Some(DraftRule {
            possible: column.iter().map(|&p| p > 0.0).collect(),
            rule,
            citations,
        })
    }

    /// What wear makes of the states.
    fn wear(
        &mut self,
        coding: &Coding,
        plate: Option<DraftId>,
        draft: &mut Draft<'_>,
        out: &mut Vec<Diagnostic>,
    ) {
        let Some(plate) = plate else {
            out.push(
                Diagnostic::error(
                    "pack::missing",
                    "the pack says nothing of the wear of plates",
                    coding.worn_looks[0].span,
                )
                .hint("add `[plate]` with `states = [\"fresh\", \"worn\"]` and how fast they wear, or take `worn_looks` out"),
            );
            return;
        };
        if !self.parents.contains(&plate) {
            let n_plates = draft.variables[plate].states.len();
            self.parents.push(plate);
            self.said = self
                .said
                .iter()
                .flat_map(|said| vec![said.clone(); n_plates])
                .collect();
            self.plate = Some(plate);
        }
        let states = || coding.clue.states.iter().map(|s| s.value.as_str());
        let plates: Vec<String> = draft.variables[plate]
            .states
            .iter()
            .map(|s| s.value.clone())
            .collect();
        let mut first: BTreeMap<(usize, usize), &Word> = BTreeMap::new();
        for look in &coding.worn_looks {
            let worn = names::find(
                "state of a plate",
                &look.plate,
                plates.iter().map(String::as_str),
                out,
            );
            let mut state = |word: &Word| {
                let known = states().position(|s| s == word.value);
                if known.is_none() {
                    out.push(names::unknown_state(&coding.clue.id.value, word, states()));
                }
                known
            };
            let (from, like) = (state(&look.state), state(&look.like));
            let say = look
                .say
                .as_ref()
                .and_then(|chance| say::single(chance, 2, out));
            let experience = seen(look.seen.as_ref(), None, look.span, out);
            let (Some(worn), Some(from), Some(like), Some(say)) = (worn, from, like, say) else {
                continue;
            };
            if from == like {
                out.push(
                    Diagnostic::error(
                        "pack::row-form",
                        format!("`{}` cannot be lost to itself", look.state.value),
                        look.like.span,
                    )
                    .hint("name the state that it looks like once detail is lost"),
                );
                continue;
            }
            if let Some(earlier) = first.insert((worn, from), &look.state) {
                out.push(
                    Diagnostic::error(
                        "pack::duplicate",
                        format!(
                            "what `{}` looks like on a {} plate is said twice",
                            look.state.value, look.plate.value
                        ),
                        look.span,
                    )
                    .label("second time")
                    .also(earlier.span, "first time")
                    .hint("take one of them out"),
                );
                continue;
            }
            let about = format!(
                "{} of {} lost on a {} plate",
                look.state.value, coding.clue.id.value, look.plate.value
            );
            let belief = draft.belief(about, Spread::Categorical { say }, experience, look.span);
            self.worn
                .insert((worn, from), (like, belief, draft.citation(look.span)));
        }
    }
}

impl Said {
    fn belief(&self) -> BeliefId {
        match self {
            Self::Right(belief) | Self::Steps(belief) | Self::States(belief) => *belief,
        }
    }

    fn rule(&self, there: usize) -> ColumnRule {
        match self {
            Self::Right(right) => ColumnRule::Misreading(Misreading {
                usual: there,
                right: *right,
            }),
            Self::Steps(steps) => ColumnRule::GradeReading(GradeReading {
                there,
                steps: *steps,
            }),
            Self::States(chances) => ColumnRule::Stated(*chances),
        }
    }
}

/// A table of the coding's own. Rows may name its states: then they speak of the state that is there.
fn own(
    coding: &Coding,
    table: &Table,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Reading {
    let id = &coding.clue.id.value;
    let nothing = || Reading {
        sound: false,
        by_state: false,
        parents: Vec::new(),
        said: vec![None; coding.clue.states.len()],
        worn: BTreeMap::new(),
        plate: None,
    };
    if let Some(word) = table.depends_on.iter().find(|word| word.value == *id) {
        out.push(
            Diagnostic::error(
                "pack::row-form",
                format!("a reading of `{id}` depends on it by itself"),
                word.span,
            )
            .hint("take it out of `depends_on`; rows may name its states all the same"),
        );
        return nothing();
    }
    let parents = draft.parents(&table.depends_on, out);
    if draft.n_configurations(&parents).is_none() {
        out.push(rows::too_many_cases("right", table));
        return nothing();
    }
    let names_state = |row: &Row| row.conditions.iter().any(|c| c.parent.value == *id);
    let by_state = table.rows.iter().any(names_state);
    let (fit, n) = {
        let mut views = rows::parent_views(draft, &parents);
        let n: usize = views.iter().map(|v| v.states.len()).product();
        if by_state {
            let own = Parent {
                name: id,
                states: coding
                    .clue
                    .states
                    .iter()
                    .map(|s| s.value.as_str())
                    .collect(),
                ordered: coding.clue.kind.value != "choice",
            };
            views.insert(0, own);
        }
        (rows::first_fit(table, &views, out), n)
    };
    report_few_pieces("these rows rest", table.seen.as_ref(), out);
    let n_reports = out.len();
    let mut rules = Vec::new();
    for row in &table.rows {
        rules.push(said(coding, row, names_state(row), out).map(|(said, say)| {
            let experience = rows::row_seen(row, table, out);
            let about = rows::describe(&format!("reading of {id}"), row);
            let belief = draft.belief(about, Spread::Categorical { say }, experience, row.span);
            (said(belief), draft.citation(row.span))
        }));
    }
    rows::merge_seen_left_out(n_reports, out);
    let row = |state: usize, configuration: usize| {
        fit.row_of_configuration[if by_state {
            state * n + configuration
        } else {
            configuration
        }]
    };
    Reading {
        sound: fit.sound && rules.iter().all(Option::is_some),
        by_state,
        said: (0..coding.clue.states.len())
            .flat_map(|state| (0..n).map(move |configuration| (state, configuration)))
            .map(|(state, configuration)| {
                row(state, configuration).and_then(|row| rules[row].clone())
            })
            .collect(),
        parents,
        worn: BTreeMap::new(),
        plate: None,
    }
}

/// What a row says: how, and the chances.
fn said(
    coding: &Coding,
    row: &Row,
    names_state: bool,
    out: &mut Vec<Diagnostic>,
) -> Option<(MadeOf, Vec<f64>)> {
    let ordered = coding.clue.kind.value != "choice";
    let says_steps = |say: &Say| {
        let is_step = |word: &Word| STEPS.contains(&word.value.as_str());
        say.entries.iter().any(|(word, _)| is_step(word))
    };
    match row.body.as_ref()? {
        RowBody::Single(chance) => Some((Said::Right, say::single(chance, 2, out)?)),
        RowBody::States(said) if ordered && says_steps(said) => {
            let steps = STEPS[..coding.clue.states.len().clamp(2, STEPS.len())].iter();
            let steps: Vec<Word> = steps
                .map(|step| Placed {
                    value: (*step).to_owned(),
                    span: said.span,
                })
                .collect();
            Some((Said::Steps, say::say_chances(said, &steps, out)?))
        }
        RowBody::States(said) if !ordered && says_steps(said) => {
            let id = &coding.clue.id.value;
            out.push(
                Diagnostic::error(
                    "pack::row-form",
                    format!("`{id}` has no order, so that no reading of it is one off"),
                    said.span,
                )
                .hint(format!("make its kind \"graded\" or \"count\", or name the state that is there, `{id} = \"…\"`, and say the chance of each reading")),
            );
            None
        }
        RowBody::States(said) if names_state => Some((
            Said::States,
            say::say_chances(said, &coding.clue.states, out)?,
        )),
        _ => {
            let id = &coding.clue.id.value;
            let steps = if ordered {
                "; or, since its states have an order, `say = { right = …, \"one off\" = …, \"further off\" = … }`"
            } else {
                ""
            };
            out.push(
                Diagnostic::error("pack::row-form", format!("this row does not say how a state of `{id}` is read"), row.span)
                    .hint(format!("write `say = \"92%\"` for a right reading{steps}; or name the state that is there, `{id} = \"…\"`, and say the chance of each reading")),
            );
            None
        }
    }
}
