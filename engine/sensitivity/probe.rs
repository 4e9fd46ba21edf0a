//! The answer with some numbers of some beliefs changed.

use std::collections::BTreeMap;

use crate::circuit::{QueryError, Workspace};
use crate::model::{BeliefId, CompiledModel, Values};
use crate::network::{EvidenceItem, MeasureId, Parameters, VariableId};
use crate::piece::Piece;
use crate::query::{Answer, AskError};

use super::distance::Ratios;
use super::terms::{Place, Terms};

/// P(state, evidence) for every state of the variable asked about, over P(evidence) as stated.
pub(super) type Masses = Vec<f64>;

/// Works out answers under changed beliefs. What it changes it puts back.
pub(super) struct Probe<'a> {
    compiled: &'a CompiledModel,
    piece: &'a Piece,
    answer: &'a Answer,
    variable: VariableId,
    pub terms: &'a Terms,
    values: Values,
    stated: Values,
    parameters: Parameters,
    workspace: Workspace,
    /// For each measure, the piece without the other measured findings, which cost time and say nothing about it.
    alone: BTreeMap<MeasureId, Piece>,
}

impl<'a> Probe<'a> {
    pub fn new(
        compiled: &'a CompiledModel,
        piece: &'a Piece,
        answer: &'a Answer,
        variable: VariableId,
        terms: &'a Terms,
    ) -> Self {
        let stated = compiled.model.beliefs.stated();
        let measured = |item: EvidenceItem| match item {
            EvidenceItem::Measure(id) => Some(id),
            EvidenceItem::Variable(_) => None,
        };
        let items = &answer.entered.items;
        let alone = items.iter().filter_map(|&(item, _)| {
            let measure = measured(item)?;
            let others = items
                .iter()
                .filter(|(other, _)| *other != item && measured(*other).is_some());
            let clues = others.map(|&(_, position)| piece.findings()[position].clue);
            Some((
                measure,
                clues.fold(piece.clone(), |piece, clue| piece.without(clue)),
            ))
        });
        Self {
            alone: alone.collect(),
            compiled,
            piece,
            answer,
            variable,
            terms,
            values: stated.clone(),
            stated,
            parameters: compiled.parameters.clone(),
            workspace: compiled.circuit.workspace(),
        }
    }

    /// Where a belief is used.
    pub fn places(&self, belief: BeliefId) -> &'a [Place] {
        self.terms.places.get(&belief).map_or(&[], Vec::as_slice)
    }

    /// Whether a measured value is a fragment of a mark.
    pub fn is_fragment(&self, measure: MeasureId) -> bool {
        let lettering = self.compiled.model.lettering.as_ref();
        lettering.is_some_and(|lettering| lettering.measure == measure)
    }

    /// The answer with all numbers of one belief changed: read from the derivatives if it feeds one table or one measured
    /// value, else evaluated anew.
    pub fn with(&mut self, belief: BeliefId, cells: &[f64]) -> Result<Masses, AskError> {
        match self.places(belief) {
            [Place::Table(id, rules)] => {
                self.change(belief, cells);
                let masses = self
                    .terms
                    .with_table(&self.compiled.model, *id, rules, &self.values);
                self.put_back(belief);
                Ok(masses)
            }
            &[Place::Density(measure)] => {
                self.change(belief, cells);
                let densities = self.densities(measure);
                self.put_back(belief);
                Ok(self.terms.with_densities(measure, &densities?))
            }
            _ => self.with_all(&[(belief, cells)]),
        }
    }

    /// The answer with several beliefs changed, evaluated anew.
    pub fn with_all(&mut self, changes: &[(BeliefId, &[f64])]) -> Result<Masses, AskError> {
        for &(belief, cells) in changes {
            self.change(belief, cells);
        }
        let beliefs = || changes.iter().map(|&(belief, _)| belief);
        self.write_tables(beliefs());
        let masses = self.evaluate(beliefs());
        for belief in beliefs() {
            self.put_back(belief);
        }
        self.write_tables(beliefs());
        masses
    }

    fn evaluate(
        &mut self,
        mut beliefs: impl Iterator<Item = BeliefId>,
    ) -> Result<Masses, AskError> {
        let places = self.terms;
        let is_density = |place: &Place| matches!(place, Place::Density(_));
        let measured = beliefs.any(|belief| {
            let places = places.places.get(&belief);
            places.is_some_and(|places| places.iter().any(is_density))
        });
        let anew;
        let evidence = if measured {
            let mut entered = self.piece.evidence(&self.compiled.model, &self.values)?;
            entered.take_beliefs(self.piece, &self.answer.entered);
            anew = entered.evidence;
            &anew
        } else {
            &self.answer.entered.evidence
        };
        let circuit = &self.compiled.circuit;
        match circuit.evaluate_in(&mut self.workspace, &self.parameters, evidence) {
            Ok(posterior) => {
                let times = (posterior.log_evidence() - self.answer.posterior.log_evidence()).exp();
                let marginal = posterior.marginal(self.variable).unwrap_or(&[]);
                Ok(marginal.iter().map(|p| p * times).collect())
            }
            Err(QueryError::ImpossibleEvidence { .. }) => Ok(vec![0.0; self.terms.n_states]),
            Err(error) => Err(self
                .compiled
                .explain(error, self.piece, &self.answer.entered)),
        }
    }

    /// How far from the pack as stated a changed belief lies, in nats: the distance of what is written from it; of several
    /// tables, the sum, which the distance does not exceed.
    pub fn distance(&mut self, belief: BeliefId, cells: &[f64]) -> Result<f64, AskError> {
        let mut distance = 0.0;
        for place in self.places(belief) {
            let ratios = match place {
                Place::Table(id, rules) => self.ratios_of_table(*id, rules, belief, cells),
                Place::Density(measure) => self.ratios_of_densities(*measure, belief, cells)?,
            };
            distance += ratios.distance();
        }
        Ok(distance)
    }

    fn ratios_of_table(
        &mut self,
        id: VariableId,
        rules: &[usize],
        belief: BeliefId,
        cells: &[f64],
    ) -> Ratios {
        let mut ratios = Ratios::unchanged();
        let model = &self.compiled.model;
        let Some(table) = &model.tables[id.index()] else {
            return ratios;
        };
        let n = model.network.n_states(id);
        let (mut before, mut after) = (vec![0.0; n], vec![0.0; n]);
        self.change(belief, cells);
        for &rule in rules {
            table.rules[rule].write(&self.stated, &mut before);
            table.rules[rule].write(&self.values, &mut after);
            for (&before, &after) in before.iter().zip(&after) {
                ratios.add(before, after);
            }
        }
        self.put_back(belief);
        ratios
    }

    fn ratios_of_densities(
        &mut self,
        measure: MeasureId,
        belief: BeliefId,
        cells: &[f64],
    ) -> Result<Ratios, AskError> {
        let mut ratios = Ratios::none();
        self.change(belief, cells);
        let after = self.densities(measure);
        self.put_back(belief);
        let before = self.answer.entered.evidence.densities(measure);
        for (&before, after) in before.unwrap_or(&[]).iter().zip(after?) {
            ratios.add(before, after);
        }
        Ok(ratios)
    }

    fn densities(&self, measure: MeasureId) -> Result<Vec<f64>, AskError> {
        let piece = self.alone.get(&measure).unwrap_or(self.piece);
        let entered = piece.evidence(&self.compiled.model, &self.values)?;
        Ok(entered.evidence.densities(measure).unwrap_or(&[]).to_vec())
    }

    fn change(&mut self, belief: BeliefId, cells: &[f64]) {
        self.values.of_mut(belief).copy_from_slice(cells);
    }

    fn put_back(&mut self, belief: BeliefId) {
        self.values
            .of_mut(belief)
            .copy_from_slice(self.stated.of(belief));
    }

    fn write_tables(&mut self, beliefs: impl Iterator<Item = BeliefId>) {
        for belief in beliefs {
            for place in self.places(belief) {
                let Place::Table(id, rules) = place else {
                    continue;
                };
                let Some(table) = &self.compiled.model.tables[id.index()] else {
                    continue;
                };
                for (configuration, rule) in table.rule_of_configuration.iter().enumerate() {
                    if rules.contains(rule) {
                        let column = self.parameters.column_mut(*id, configuration);
                        table.rules[*rule].write(&self.values, column);
                    }
                }
            }
        }
    }
}
