//! From figures to places: where zero lies, where a figure ends, which numbers stand on the axis.

use super::{Bar, Unit};

/// Figures are drawn up to this size, larger ones as if they had it.
const LARGEST: f64 = 1e100;

/// The axis of a panel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Scale {
    pub least: f64,
    pub most: f64,
    /// Between two numbers on the axis.
    pub step: f64,
}

impl Scale {
    /// An axis for these figures, zero on it if bars start there. Probabilities that start at zero go up to 1.
    pub fn of(figures: impl Iterator<Item = f64>, unit: &Unit, with_zero: bool) -> Self {
        let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
        let figures = figures.filter(|f| f.is_finite());
        for figure in figures.map(|f| f.clamp(-LARGEST, LARGEST)) {
            (least, most) = (least.min(figure), most.max(figure));
        }
        if least > most {
            (least, most) = (0.0, 1.0);
        }
        if with_zero {
            (least, most) = (least.min(0.0), most.max(0.0));
            if matches!(unit, Unit::Probability | Unit::ShareOfDraws) {
                most = most.max(1.0);
            }
        }
        // A figure alone has no width; so large a one that its difference is none has none either.
        let width = most - least;
        if !(width.is_finite() && width > (least.abs().max(most.abs()) * 1e-9).max(1.0 / LARGEST)) {
            let room = least.abs().max(most.abs()).max(1.0) * 0.5;
            (least, most) = (least - room, most + room);
            if with_zero && most > 0.0 {
                (least, most) = (0.0, 1.0);
            }
        }
        let step = round_step((most - least) / 4.0);
        let mut scale = Self {
            least: (least / step).floor() * step,
            most: (most / step).ceil() * step,
            step,
        };
        if *unit == Unit::Probability {
            scale.least = scale.least.max(0.0);
            scale.most = scale.most.min(1.0);
        }
        scale
    }

    /// All figures of bars.
    pub fn figures(bars: &[Bar]) -> impl Iterator<Item = f64> {
        bars.iter()
            .flat_map(|bar| [bar.value, bar.low, bar.high])
            .flatten()
    }

    /// Where a figure lies, from 0 to 1.
    pub fn place(&self, figure: f64) -> f64 {
        ((figure - self.least) / (self.most - self.least)).clamp(0.0, 1.0)
    }

    /// The numbers on the axis.
    pub fn ticks(&self) -> Vec<f64> {
        let first = (self.least / self.step - 1e-9).ceil() as i64;
        let last = (self.most / self.step + 1e-9).floor() as i64;
        (first..=last).map(|k| k as f64 * self.step).collect()
    }

    /// A number on the axis, with as many digits as the step asks for.
    pub fn tick_text(&self, tick: f64) -> String {
        if !(1e-6..1e9).contains(&self.step) {
            return if tick == 0.0 {
                "0".to_owned()
            } else {
                format!("{tick:.2e}")
            };
        }
        let digits = (-self.step.log10().floor()).max(0.0) as usize;
        let text = format!("{tick:.digits$}");
        if text.chars().all(|c| matches!(c, '-' | '0' | '.')) {
            "0".to_owned()
        } else {
            text
        }
    }
}

/// The nearest of 1, 2 and 5 times a power of ten, not below.
fn round_step(rough: f64) -> f64 {
    let power = 10_f64.powf(rough.log10().floor());
    let found = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .find(|times| times * power >= rough * (1.0 - 1e-9));
    found.unwrap_or(10.0) * power
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn round_numbers_stand_on_the_axis() {
        let scale = Scale::of([-3.2, 11.0].into_iter(), &Unit::Decibans, true);
        assert_eq!(scale.ticks(), [-5.0, 0.0, 5.0, 10.0, 15.0]);
        assert_eq!(scale.place(0.0), 0.25);
        let scale = Scale::of([0.2, 0.3].into_iter(), &Unit::Probability, true);
        let ticks: Vec<String> = scale.ticks().iter().map(|t| scale.tick_text(*t)).collect();
        assert_eq!(ticks, ["0", "0.5", "1.0"]);
    }

    #[test]
    fn any_figures_have_an_axis() {
        let all = [
            vec![],
            vec![0.0],
            vec![7.0],
            vec![-7.0, -7.0],
            vec![1e300, -1e300],
            vec![f64::MAX, f64::MIN],
            vec![5e-324],
            vec![1e15, 1e15 + 1.0],
        ];
        for figures in all {
            for with_zero in [false, true] {
                for unit in [Unit::Probability, Unit::Decibans] {
                    let scale = Scale::of(figures.iter().copied(), &unit, with_zero);
                    assert!(scale.ticks().len() < 20, "{figures:?} {scale:?}");
                    let places = figures.iter().map(|f| scale.place(*f));
                    assert!(
                        places.clone().all(|p| (0.0..=1.0).contains(&p)),
                        "{figures:?}"
                    );
                }
            }
        }
    }
}
