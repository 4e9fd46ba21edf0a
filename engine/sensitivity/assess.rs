//! One number by itself: the answer over its interval, its derivative and its tipping points.

use crate::model::Model;
use crate::query::AskError;

use super::curve::Polynomial;
use super::distance::bounds;
use super::entry::Entry;
use super::probe::{Masses, Probe};
use super::terms::Place;
use super::{Contest, End, Follows, Moved, TippingPoint};

/// Values within an interval at which a curve that costs little is looked at, beside its ends.
const WITHIN: usize = 15;
/// Steps in which a tipping point is looked for on each side of a curve that costs little.
const STEPS: usize = 256;
/// Where each step costs an evaluation of the network or of a fragment under every mark.
const COSTLY_STEPS: usize = 32;

/// A number with the answer over its interval.
pub(super) struct Assessment {
    pub entry: Entry,
    /// The polynomial, or none for a curve.
    pub polynomial: Option<Polynomial>,
    /// Masses at the ends of the interval.
    ends: [Masses; 2],
    /// Least and largest probability within it.
    pub range: [f64; 2],
    /// Whether what leads as stated leads wherever the interval was looked at.
    pub lead_holds: bool,
}

impl Assessment {
    /// Works out the answer over the interval.
    pub fn new(
        model: &Model,
        probe: &mut Probe<'_>,
        contest: &Contest,
        entry: Entry,
    ) -> Result<Self, AskError> {
        let polynomial = Polynomial::of(&entry, probe, model)?;
        let mut assessment = Self {
            entry,
            polynomial,
            ends: [Vec::new(), Vec::new()],
            range: [f64::NAN; 2],
            lead_holds: true,
        };
        let [low, high] = assessment.entry.interval;
        for (end, x) in [low, high].into_iter().enumerate() {
            assessment.ends[end] = assessment.masses(model, probe, x)?;
        }
        let mut range = [f64::INFINITY, f64::NEG_INFINITY];
        let mut lead_holds = true;
        let mut take = |masses: &Masses| {
            lead_holds &= contest.overtaken_by(masses).is_none();
            // Where the evidence is impossible there is no answer.
            let p = contest.probability(masses);
            if !p.is_nan() {
                range = [range[0].min(p), range[1].max(p)];
            }
        };
        assessment.ends.iter().for_each(&mut take);
        // A ratio of linear functions has its extremes at the ends.
        if !assessment.is_linear() && !assessment.is_costly(probe) {
            for i in 1..=WITHIN {
                let x = low + (high - low) * i as f64 / (WITHIN + 1) as f64;
                take(&assessment.masses(model, probe, x)?);
            }
        }
        assessment.range = range;
        assessment.lead_holds = lead_holds;
        Ok(assessment)
    }

    /// How far the answer moves over the interval.
    pub fn span(&self) -> f64 {
        (self.range[1] - self.range[0]).max(0.0)
    }

    pub fn is_linear(&self) -> bool {
        self.polynomial.as_ref().is_some_and(|p| p.degree() == 1)
    }

    /// Whether each value costs an evaluation of the network, or of a fragment under every mark.
    fn is_costly(&self, probe: &Probe<'_>) -> bool {
        self.polynomial.is_none()
            && match probe.places(self.entry.belief) {
                [Place::Table(..)] => false,
                [Place::Density(measure)] => probe.is_fragment(*measure),
                _ => true,
            }
    }

    fn masses(&self, model: &Model, probe: &mut Probe<'_>, x: f64) -> Result<Masses, AskError> {
        match &self.polynomial {
            Some(polynomial) => Ok(polynomial.at(x)),
            None => {
                let belief = self.entry.belief;
                let cells = self.entry.cells(&model.beliefs.get(belief).spread, x);
                probe.with(belief, &cells)
            }
        }
    }

    /// All that is told of the number.
    pub fn told(
        &self,
        model: &Model,
        probe: &mut Probe<'_>,
        contest: &Contest,
        stated: &[f64],
    ) -> Result<Moved, AskError> {
        let belief = model.beliefs.get(self.entry.belief);
        let [low, high] = self.entry.interval;
        let mut tips = [None, None];
        for (tip, to) in tips.iter_mut().zip(self.entry.domain) {
            if let Some((value, rival)) = self.tips(model, probe, contest, to)? {
                *tip = Some(TippingPoint {
                    value,
                    then: contest.rivals[rival].name.clone(),
                    distance: self.distance(model, probe, value)?,
                });
            }
        }
        let [tips_below, tips_above] = tips;
        Ok(Moved {
            about: belief.about.clone(),
            belief: self.entry.belief.index(),
            cell: self.entry.cell(),
            number: self.entry.label.clone(),
            citation: belief.citation.clone(),
            seen: belief.seen,
            stated: self.entry.stated,
            low: self.end(model, probe, contest, stated, low, &self.ends[0])?,
            high: self.end(model, probe, contest, stated, high, &self.ends[1])?,
            range: self.range,
            derivative: self.derivative(model, probe, contest)?,
            tips_below,
            tips_above,
            searched: self.entry.domain,
            follows: match &self.polynomial {
                Some(p) if p.degree() == 1 => Follows::Linear,
                Some(p) => Follows::Polynomial { degree: p.degree() },
                None => Follows::Curve,
            },
        })
    }

    fn end(
        &self,
        model: &Model,
        probe: &mut Probe<'_>,
        contest: &Contest,
        stated: &[f64],
        value: f64,
        masses: &Masses,
    ) -> Result<End, AskError> {
        let distance = self.distance(model, probe, value)?;
        let (low, high) = bounds(
            contest.probability(stated),
            distance.unwrap_or(f64::INFINITY),
        );
        Ok(End {
            value,
            probability: contest.probability(masses),
            decibans: contest.decibans(masses) - contest.decibans(stated),
            distance,
            bounds: [low, high],
        })
    }

    fn distance(
        &self,
        model: &Model,
        probe: &mut Probe<'_>,
        x: f64,
    ) -> Result<Option<f64>, AskError> {
        let belief = self.entry.belief;
        let cells = self.entry.cells(&model.beliefs.get(belief).spread, x);
        let distance = probe.distance(belief, &cells)?;
        Ok(Some(distance).filter(|d| d.is_finite()))
    }

    /// The derivative of the probability at the stated value.
    fn derivative(
        &self,
        model: &Model,
        probe: &mut Probe<'_>,
        contest: &Contest,
    ) -> Result<Option<f64>, AskError> {
        let x = self.entry.stated;
        if let Some(polynomial) = &self.polynomial {
            let (h, a) = contest.sides(&polynomial.at(x));
            let (dh, da) = contest.sides(&polynomial.derivative(x));
            // (h/(h + a))′
            return Ok(Some((dh * a - h * da) / (h + a).powi(2)));
        }
        let [low, high] = self.entry.interval;
        let [first, last] = self.entry.domain;
        let room = (x - first).min(last - x);
        let step = ((high - low) / 8.0).min(room);
        if step <= 0.0 {
            return Ok(None);
        }
        let slope = |h: f64, probe: &mut Probe<'_>| -> Result<f64, AskError> {
            let above = contest.probability(&self.masses(model, probe, x + h)?);
            let below = contest.probability(&self.masses(model, probe, x - h)?);
            Ok((above - below) / (2.0 * h))
        };
        ridders(step, |h| slope(h, probe)).map(Some)
    }

    /// The nearest value towards `to` at which a rival takes the lead, and which.
    fn tips(
        &self,
        model: &Model,
        probe: &mut Probe<'_>,
        contest: &Contest,
        to: f64,
    ) -> Result<Option<(f64, usize)>, AskError> {
        let from = self.entry.stated;
        if from == to {
            return Ok(None);
        }
        if let Some(polynomial) = &self.polynomial {
            let of = |rival: usize| {
                let lead = |masses: &Masses| contest.lead(rival, masses);
                Some((polynomial.first_below(from, to, lead)?, rival))
            };
            let off = |(value, _): &(f64, usize)| (value - from).abs();
            let points = (0..contest.rivals.len()).filter_map(of);
            return Ok(points.min_by(|a, b| off(a).total_cmp(&off(b))));
        }
        let steps = if self.is_costly(probe) {
            COSTLY_STEPS
        } else {
            STEPS
        };
        let at = |i: usize| {
            let part = i as f64 / steps as f64;
            // A chance and a mean in even steps, a standard deviation in even ratios.
            if self.entry.is_ratio() {
                from * (to / from).powf(part)
            } else {
                from + (to - from) * part
            }
        };
        for i in 1..=steps {
            let mut beyond = at(i);
            let masses = self.masses(model, probe, beyond)?;
            let Some(mut rival) = contest.overtaken_by(&masses) else {
                continue;
            };
            let mut before = at(i - 1);
            loop {
                let middle = f64::midpoint(before, beyond);
                if (beyond - before).abs() <= 1e-12 * from.abs().max(beyond.abs()) {
                    return Ok(Some((beyond, rival)));
                }
                match contest.overtaken_by(&self.masses(model, probe, middle)?) {
                    Some(first) => (beyond, rival) = (middle, first),
                    None => before = middle,
                }
            }
        }
        Ok(None)
    }
}

/// A derivative from differences over shrinking steps, carried on to a step of 0; the best of them by its own estimate of
/// its error.
///
/// Source: Ridders 1982, "Accurate computation of F′(x) and F′(x)F″(x)", Advances in Engineering Software 4:75–76.
fn ridders(
    first_step: f64,
    mut slope: impl FnMut(f64) -> Result<f64, AskError>,
) -> Result<f64, AskError> {
    const ROUNDS: usize = 10;
    const SHRINK: f64 = 1.4;
    let mut step = first_step;
    let mut row = vec![slope(step)?];
    let (mut best, mut error) = (row[0], f64::INFINITY);
    for _ in 1..ROUNDS {
        step /= SHRINK;
        let mut next = vec![slope(step)?];
        let mut factor = SHRINK * SHRINK;
        for (j, &above) in row.iter().enumerate() {
            let carried = (next[j] * factor - above) / (factor - 1.0);
            let off = (carried - next[j]).abs().max((carried - above).abs());
            if off <= error {
                (best, error) = (carried, off);
            }
            next.push(carried);
            factor *= SHRINK * SHRINK;
        }
        row = next;
    }
    Ok(best)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_derivative_from_differences() {
        let at = |f: fn(f64) -> f64, x: f64, step: f64| {
            ridders(step, |h| Ok((f(x + h) - f(x - h)) / (2.0 * h))).unwrap()
        };
        assert!((at(f64::exp, 1.0, 0.4) - 1.0_f64.exp()).abs() < 1e-10);
        assert!((at(f64::sin, 0.3, 0.2) - 0.3_f64.cos()).abs() < 1e-11);
    }
}
