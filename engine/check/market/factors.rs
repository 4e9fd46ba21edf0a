//! A belief about prices, from its median, range and coverage to a normal distribution of the logarithm.

use statrs::distribution::{ContinuousCDF, Normal};

use super::CODE;
use crate::diagnostic::Diagnostic;
use crate::model::market::Factor;
use crate::pack::text::Placed;
use crate::pack::text::market::Factor as FactorText;
use crate::source::Sources;

/// How far the middle of the range may lie from what is said, as a share of the range's width: both in logarithms. Beyond, no
/// lognormal distribution comes near to both. Our own choice.
const FARTHEST_FROM_THE_MIDDLE: f64 = 0.25;

/// The belief whose median is what is said, and whose central interval of the coverage is as wide, as a factor, as the range.
pub fn factor(text: &FactorText, sources: &Sources, out: &mut Vec<Diagnostic>) -> Option<Factor> {
    let coverage = text.coverage.as_ref()?;
    let chance = coverage.value.value;
    if !(chance > 0.0 && chance < 1.0) {
        let message = "a range holds with a chance above 0 and below 1";
        let hint = "write how often you expect the truth inside, such as `coverage = \"90%\"`";
        out.push(Diagnostic::error(CODE, message, coverage.span).hint(hint));
        return None;
    }
    let (say, [low, high]) = (text.say.as_ref()?, text.between.as_ref()?);
    if low.value >= high.value {
        let message = format!(
            "the range ends at {}, before it begins at {}",
            high.value, low.value
        );
        let report = Diagnostic::error(CODE, message, high.span).also(low.span, "its beginning");
        out.push(report.hint("write the lower end first"));
        return None;
    }
    if say.value < low.value || say.value > high.value {
        let message = format!("what is said, {}, lies outside its own range", say.value);
        let report = Diagnostic::error(CODE, message, say.span);
        let report = report
            .also(low.span, "from here")
            .also(high.span, "to here");
        out.push(
            report.hint("one of the three is a slip: the range must reach around what is said"),
        );
        return None;
    }
    let width = (high.value / low.value).ln();
    let off = (say.value.ln() - (low.value.ln() + high.value.ln()) / 2.0) / width;
    if off.abs() > FARTHEST_FROM_THE_MIDDLE {
        let middle = (low.value * high.value).sqrt();
        let message = format!(
            "the range reaches x{:.2} down and x{:.2} up from what is said",
            say.value / low.value,
            high.value / say.value
        );
        let report = Diagnostic::error(CODE, message, say.span)
            .label(format!("the middle of the range is {middle:.3}"));
        out.push(report.hint("a belief about prices reaches about as many times up as down; move what is said or an end of the range"));
        return None;
    }
    let z = Normal::standard().inverse_cdf(0.5 + chance / 2.0);
    Some(Factor {
        ln_median: say.value.ln(),
        ln_sd: width / (2.0 * z),
        citation: sources.citation(text.span),
    })
}

/// A factor by which things lie apart, one standard deviation, as its logarithm.
pub fn apart(number: Option<&Placed<f64>>, out: &mut Vec<Diagnostic>) -> Option<f64> {
    let number = number?;
    if number.value > 1.0 {
        return Some(number.value.ln());
    }
    let message = format!("x{} is no distance", number.value);
    let hint = "write the factor by which two in three differ at most, such as \"x1.3\"";
    out.push(
        Diagnostic::error(CODE, message, number.span)
            .label("expected a factor above x1")
            .hint(hint),
    );
    None
}
