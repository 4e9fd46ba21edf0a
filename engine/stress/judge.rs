//! A block of draws: drawn, written into the tables side by side, and judged together.

use super::draw::Sampler;
use super::needed::Needed;
use super::source::Source;
use super::{Outcome, StressError};
use crate::circuit::{LANES, LaneWorkspace, Lanes, ParameterLanes, QueryError, Specialised};
use crate::model::{CompiledModel, Values};
use crate::network::{MeasureId, Parameters};
use crate::piece::{Piece, PieceEvidence};
use crate::query::{AskError, marginal, most_probable};

/// What is the same for every block of a run.
pub(super) struct Judge<'a> {
    pub compiled: &'a CompiledModel,
    pub piece: &'a Piece,
    pub entered: &'a PieceEvidence,
    pub question: &'a Specialised,
    pub needed: &'a Needed,
    pub samplers: &'a [Sampler],
    pub seed: u64,
    pub leader: usize,
}

/// One thread's memory.
pub(super) struct Bench {
    values: Values<Lanes>,
    /// The values of one lane.
    single_values: Values,
    parameters: ParameterLanes,
    workspace: LaneWorkspace,
    single: Parameters,
    densities: Vec<(MeasureId, Vec<Lanes>)>,
}

impl Judge<'_> {
    /// Memory for one thread.
    pub fn bench(&self) -> Bench {
        let model = &self.compiled.model;
        Bench {
            values: Values::in_lanes(&model.beliefs.stated()),
            single_values: model.beliefs.stated(),
            parameters: ParameterLanes::of(&self.compiled.parameters),
            workspace: LaneWorkspace::default(),
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
        pulp::Arch::new().dispatch(Draw {
            judge: self,
            source: Source::new(self.seed, block as u64),
            values: &mut bench.values,
            parameters: &mut bench.parameters,
        });
        self.densities(bench)?;
        let answer =
            self.question
                .evaluate_in(&mut bench.workspace, &bench.parameters, &bench.densities);
        let mut outcomes = Vec::with_capacity(n_draws);
        for lane in 0..n_draws {
            outcomes.push(if answer.holds(lane) {
                let p: Vec<f64> = answer.posterior.iter().map(|lanes| lanes.0[lane]).collect();
                Some(self.outcome(&p))
            } else {
                bench.parameters.copy_lane(lane, &mut bench.single);
                bench.values.copy_lane(lane, &mut bench.single_values);
                self.alone(&bench.single, &bench.single_values)?
            });
        }
        Ok(outcomes)
    }

    fn outcome(&self, p: &[f64]) -> Outcome {
        Outcome {
            stated_leader: p[self.leader],
            leads: most_probable(p).unwrap_or(0),
        }
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
            Ok(posterior) => Ok(Some(
                self.outcome(marginal(&posterior, model.catalogue.maker)),
            )),
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
        for sampler in self.judge.samplers {
            sampler.draw(&mut self.source, self.values);
        }
        let model = &self.judge.compiled.model;
        self.judge.needed.write(model, self.values, self.parameters);
    }
}
