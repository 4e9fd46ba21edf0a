//! When each maker worked: shares of the periods, or years.

use super::Makers;
use crate::check::dating;
use crate::check::draft::{Draft, DraftRule, DraftTable, Gaps, certain, report_few_pieces, seen};
use crate::check::rows::say::{possible_states, say_chances};
use crate::dating::edtf::Edtf;
use crate::diagnostic::Diagnostic;
use crate::pack::text::{Maker, PackText, Period, Placed, SeenSay};

pub(super) fn output(
    pack: &PackText,
    makers: &Makers,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) {
    let states = draft.variables[makers.period].states.clone();
    let mut rules: Vec<DraftRule> = Vec::new();
    let mut rule_of_configuration = Vec::new();
    for maker in &pack.makers {
        let Some(output) = &maker.output else {
            out.push(
                Diagnostic::error(
                    "pack::missing",
                    format!("maker `{}` has no `output`", maker.id.value),
                    maker.id.span,
                )
                .hint("add `output = { say = { period = chance, … }, seen = … }`, or `{ years = \"1836~/1871\", seen = … }`"),
            );
            rule_of_configuration.push(None);
            continue;
        };
        let said = output.say.as_ref();
        let chances = said.and_then(|say| say_chances(say, &states, out));
        if let Some(years) = &maker.output_years {
            rules.push(by_years(maker, years, output, pack, draft, out));
            rule_of_configuration.push(Some(rules.len() - 1));
            continue;
        }
        rules.push(match (said, chances) {
            (Some(said), Some(chances)) => {
                report_few_pieces("this rests", output.seen.as_ref(), out);
                let experience = match &output.seen {
                    Some(seen) => seen.value,
                    None if chances.contains(&1.0) => 1.0,
                    None => seen(None, None, said.span, out),
                };
                let about = format!("output of {} by period", maker.id.value);
                draft.categorical(about, chances, experience, said.span)
            }
            // Reported already; the check goes on as if all were well with it.
            (said, _) => DraftRule {
                possible: said.map_or_else(
                    || vec![true; states.len()],
                    |said| possible_states(said, &states),
                ),
                ..certain(0, states.len())
            },
        });
        rule_of_configuration.push(Some(rules.len() - 1));
    }
    let table = DraftTable {
        rules,
        rule_of_configuration,
        place: pack.name.span,
        gaps: Gaps::Leave,
    };
    draft.set_table(makers.period, vec![makers.maker], table);
}

/// Output given as years with soft ends instead of a chance for each period.
fn by_years(
    maker: &Maker,
    years: &Placed<Edtf>,
    output: &SeenSay,
    pack: &PackText,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> DraftRule {
    let n_states = pack.periods.len();
    let experience = seen(output.seen.as_ref(), None, years.span, out);
    // With a defect the check goes on as if the maker worked in its own years.
    let works_in = |period: &Period| match (&maker.years, &period.years) {
        (Some(own), Some(period)) => own.value.overlap(&period.value).is_some(),
        _ => true,
    };
    let defect = || DraftRule {
        possible: pack.periods.iter().map(works_in).collect(),
        ..certain(0, n_states)
    };
    let Some(bins) = dating::bins(pack) else {
        return defect();
    };
    match dating::softness(pack).distribution(&years.value, &bins) {
        Ok(chances) => {
            let about = format!("output of {} by period", maker.id.value);
            draft.categorical(about, chances, experience, years.span)
        }
        Err(error) => {
            out.push(
                Diagnostic::error(
                    "pack::outside-periods",
                    format!(
                        "{} lies outside all periods, which run from {} to {}",
                        error.date, error.first, error.last
                    ),
                    years.span,
                )
                .hint("mend the years, or add a [[period]] for them"),
            );
            defect()
        }
    }
}
