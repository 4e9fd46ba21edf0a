//! A block of draws: drawn, written into the tables side by side, and judged together.

use super::draw::{Sampler, samplers};
use super::ladder::Ladder;
use super::needed::Needed;
use super::plan::{StressError, StressPlan};
use super::source::Source;
use super::variance::PairedDraw;
use crate::circuit::{
    LANES, LaneAnswer, LaneWorkspace, Lanes, ParameterLanes, Posterior, QueryError, Specialised,
};
use crate::model::{CompiledModel, Values};
use crate::network::{MeasureId, Parameters};
use crate::piece::{Piece, PieceEvidence};
use crate::query::{Answer, AskError, marginal, most_probable};
use crate::question::Posed;
use crate::stop::Stop;
use crate::verdict::opinion::Opinion;

/// What one draw made of the question.
#[derive(Clone, Copy, Debug)]
pub(super) struct Outcome {
    /// Probability of the claim.
    pub claim: f64,
    /// Whether it holds as it does at the stated beliefs.
    pub holds: bool,
    /// The state of the variable asked about that leads.
    pub leads: usize,
    /// What the verdict would say, if that is looked at.
    pub opinion: Option<Opinion>,
}

/// What is the same for every block of a run.
pub(super) struct Judge<'a> {
    compiled: &'a CompiledModel,
    piece: &'a Piece,
    entered: &'a PieceEvidence,
    posed: &'a Posed<'a>,
    question: Specialised,
    /// The engraving, if the verdict's words are looked at and may name one.
    engraving: Option<Specialised>,
    ladder: Option<Ladder<'a>>,
    needed: Needed,
    /// Beliefs that are drawn and that the question can depend on.
    pub samplers: Vec<Sampler>,
    seed: u64,
    /// The maker asked about, if the question is whether it still leads.
    leader: Option<usize>,
    /// Whether the claim is more probable than its alternative at the stated beliefs.
    favours_claim: bool,
}

/// One thread's memory.
pub(super) struct Bench {
    values: Values<Lanes>,
    /// The values of one lane.
    single_values: Values,
    parameters: ParameterLanes,
    workspace: LaneWorkspace,
    workspace_of_engraving: LaneWorkspace,
    single: Parameters,
    densities: Vec<(MeasureId, Vec<Lanes>)>,
}

impl<'a> Judge<'a> {
    /// Makes ready for a run. `leader` is the maker asked about, if the question is whether it still leads and is named
    /// alike. With it comes the outcome at the stated beliefs.
    pub fn new(
        piece: &'a Piece,
        answer: &'a Answer,
        posed: &'a Posed<'a>,
        leader: Option<usize>,
        plan: &StressPlan<'_>,
    ) -> Result<(Self, Outcome), AskError> {
        let compiled = &*posed.compiled;
        let model = &compiled.model;
        let entered = &answer.entered;
        let about = |variable| {
            Specialised::compile_posterior(model.network.structure(), &entered.evidence, variable)
                .map_err(|error| compiled.explain(error, piece, entered))
        };
        let question = about(posed.variable)?;
        let ladder = leader.map(|_| Ladder::new(compiled, piece, answer));
        let ladder = ladder.transpose()?;
        let engraving = match (&ladder, model.catalogue.engraving) {
            (Some(_), Some(variable)) => Some(about(variable)?),
            _ => None,
        };
        let questions: Vec<&Specialised> = std::iter::once(&question).chain(&engraving).collect();
        let mut needed = Needed::of(model, &questions, &entered.evidence);
        let is_drawn = |id| plan.beliefs.is_none_or(|beliefs| beliefs.contains(&id));
        let samplers = samplers(model, &needed, is_drawn, plan.doubt);
        needed.keep_drawn(model, is_drawn);
        let mut judge = Self {
            compiled,
            piece,
            entered,
            posed,
            question,
            engraving,
            ladder,
            needed,
            samplers,
            seed: plan.seed,
            leader,
            favours_claim: true,
        };
        let posterior = compiled.evaluate(&entered.evidence, piece, entered)?;
        let stated = judge.outcome_of(&posterior);
        judge.favours_claim = stated.holds;
        let stated = Outcome {
            holds: true,
            ..stated
        };
        Ok((judge, stated))
    }

    /// Memory for one thread.
    pub fn bench(&self) -> Bench {
        let model = &self.compiled.model;
        Bench {
            values: Values::in_lanes(&model.beliefs.stated()),
            single_values: model.beliefs.stated(),
            parameters: ParameterLanes::of(&self.compiled.parameters),
            workspace: LaneWorkspace::default(),
            workspace_of_engraving: LaneWorkspace::default(),
            single: self.compiled.parameters.clone(),
            densities: Vec::new(),
        }
    }

    /// Judges the piece under some draws, the first [`LANES`] of a block or fewer.
    pub fn block(
        &self,
        bench: &mut Bench,
        block: usize,
        n_draws: usize,
    ) -> Result<Vec<Option<Outcome>>, StressError> {
        self.draw(bench, block as u64);
        self.judge(bench, n_draws)
    }

    /// Pairs of draws of all beliefs, and the first of each with every sampler's beliefs from the second in turn. Block `i`
    /// has streams `2i` and `2i + 1` of the seed.
    pub fn swapped(
        &self,
        bench: &mut Bench,
        block: usize,
        n_draws: usize,
        stop: Option<&Stop>,
    ) -> Result<Vec<Option<PairedDraw>>, StressError> {
        let claims = |bench: &mut Bench| {
            if stop.is_some_and(Stop::is_due) {
                return Err(StressError::Stopped);
            }
            let outcomes = self.judge(bench, n_draws)?;
            Ok(outcomes.iter().map(|o| Some(o.as_ref()?.claim)).collect())
        };
        self.draw(bench, 2 * block as u64 + 1);
        let other = bench.values.clone();
        let b: Vec<Option<f64>> = claims(bench)?;
        self.draw(bench, 2 * block as u64);
        let a: Vec<Option<f64>> = claims(bench)?;
        let mut swapped: Vec<Vec<Option<f64>>> = Vec::with_capacity(self.samplers.len());
        let model = &self.compiled.model;
        for sampler in &self.samplers {
            let is_of_it = |id| sampler.beliefs().contains(&id);
            let own: Vec<Vec<Lanes>> = sampler
                .beliefs()
                .iter()
                .map(|&id| bench.values.of(id).to_vec())
                .collect();
            for &id in sampler.beliefs() {
                bench.values.of_mut(id).copy_from_slice(other.of(id));
            }
            let write = |bench: &mut Bench| {
                let (values, parameters) = (&bench.values, &mut bench.parameters);
                self.needed.write_from(model, values, parameters, is_of_it);
            };
            write(bench);
            swapped.push(claims(bench)?);
            for (&id, own) in sampler.beliefs().iter().zip(own) {
                bench.values.of_mut(id).copy_from_slice(&own);
            }
            write(bench);
        }
        let pair = |lane: usize| {
            let swapped = swapped.iter().map(|claims| claims[lane]);
            Some(PairedDraw {
                a: a[lane]?,
                b: b[lane]?,
                swapped: swapped.collect::<Option<_>>()?,
            })
        };
        Ok((0..n_draws).map(pair).collect())
    }

    /// Draws all beliefs anew and writes the tables.
    fn draw(&self, bench: &mut Bench, stream: u64) {
        pulp::Arch::new().dispatch(Draw {
            judge: self,
            source: Source::new(self.seed, stream),
            values: &mut bench.values,
            parameters: &mut bench.parameters,
        });
    }

    /// Judges the piece under what was drawn.
    fn judge(
        &self,
        bench: &mut Bench,
        n_draws: usize,
    ) -> Result<Vec<Option<Outcome>>, StressError> {
        self.densities(bench)?;
        let parameters = &bench.parameters;
        let densities = &bench.densities;
        let answer = self
            .question
            .evaluate_in(&mut bench.workspace, parameters, densities);
        let engraving = self.engraving.as_ref().map(|question| {
            question.evaluate_in(&mut bench.workspace_of_engraving, parameters, densities)
        });
        let of_lane = |answer: &LaneAnswer<'_>, lane: usize| -> Vec<f64> {
            answer.posterior.iter().map(|lanes| lanes.0[lane]).collect()
        };
        let mut outcomes = Vec::with_capacity(n_draws);
        for lane in 0..n_draws {
            let holds = engraving.as_ref().is_none_or(|answer| answer.holds(lane));
            outcomes.push(if holds && answer.holds(lane) {
                let engravings = engraving.as_ref().map(|answer| of_lane(answer, lane));
                Some(self.outcome(of_lane(&answer, lane), engravings.unwrap_or_default()))
            } else {
                parameters.copy_lane(lane, &mut bench.single);
                bench.values.copy_lane(lane, &mut bench.single_values);
                self.alone(&bench.single, &bench.single_values)?
            });
        }
        Ok(outcomes)
    }

    /// What the chances of the states asked about, and of engravings, come to.
    fn outcome(&self, p: Vec<f64>, engravings: Vec<f64>) -> Outcome {
        let (claim, alternative) = self.posed.of(&p);
        let leads = most_probable(&p).unwrap_or(0);
        Outcome {
            claim,
            holds: match self.leader {
                Some(leader) => leads == leader,
                None => (claim > alternative) == self.favours_claim,
            },
            leads,
            opinion: self
                .ladder
                .as_ref()
                .map(|ladder| ladder.opinion(p, engravings)),
        }
    }

    fn outcome_of(&self, posterior: &Posterior) -> Outcome {
        let chances = |variable| marginal(posterior, variable).to_vec();
        let engraving = self.compiled.model.catalogue.engraving;
        let engravings = engraving.map(chances).unwrap_or_default();
        self.outcome(chances(self.posed.variable), engravings)
    }

    /// One draw on its own, with the range that never runs out.
    fn alone(
        &self,
        parameters: &Parameters,
        values: &Values,
    ) -> Result<Option<Outcome>, StressError> {
        let model = &self.compiled.model;
        let mut entered = self
            .piece
            .evidence(model, values)
            .map_err(AskError::Piece)?;
        entered.take_beliefs(self.piece, self.entered);
        match self
            .compiled
            .circuit
            .evaluate(parameters, &entered.evidence)
        {
            Ok(posterior) => Ok(Some(self.outcome_of(&posterior))),
            Err(QueryError::ImpossibleEvidence { .. }) => Ok(None),
            Err(error) => Err(self
                .compiled
                .explain(error, self.piece, self.entered)
                .into()),
        }
    }

    /// Densities of measured quantities depend on the beliefs drawn.
    fn densities(&self, bench: &mut Bench) -> Result<(), StressError> {
        let model = &self.compiled.model;
        let is_measured = |id| self.entered.evidence.densities(id).is_some();
        if !model.network.measure_ids().any(is_measured) {
            return Ok(());
        }
        bench.densities.clear();
        for lane in 0..LANES {
            bench.values.copy_lane(lane, &mut bench.single_values);
            let entered = self
                .piece
                .evidence(model, &bench.single_values)
                .map_err(AskError::Piece)?;
            for id in model.network.measure_ids() {
                let Some(densities) = entered.evidence.densities(id) else {
                    continue;
                };
                let place = bench
                    .densities
                    .iter()
                    .position(|(m, _)| *m == id)
                    .unwrap_or_else(|| {
                        bench
                            .densities
                            .push((id, vec![Lanes::all(0.0); densities.len()]));
                        bench.densities.len() - 1
                    });
                for (cell, &density) in bench.densities[place].1.iter_mut().zip(densities) {
                    cell.0[lane] = density;
                }
            }
        }
        Ok(())
    }
}

/// The beliefs and columns of one block, as a task for the widest vectors there are.
struct Draw<'a> {
    judge: &'a Judge<'a>,
    source: Source,
    values: &'a mut Values<Lanes>,
    parameters: &'a mut ParameterLanes,
}

impl pulp::WithSimd for Draw<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: pulp::Simd>(mut self, _: S) {
        for sampler in &self.judge.samplers {
            sampler.draw(&mut self.source, self.values);
        }
        let model = &self.judge.compiled.model;
        self.judge.needed.write(model, self.values, self.parameters);
    }
}
