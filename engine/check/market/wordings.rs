//! Wordings of the market: which rungs they speak for, and of which pieces they are true.

use std::collections::BTreeSet;

use super::CODE;
use crate::check::draft::DraftVariable;
use crate::check::names;
use crate::diagnostic::Diagnostic;
use crate::model::wording::{NOT_IDENTIFIED, RUNGS};
use crate::pack::text::PackText;
use crate::pack::text::market::Market as MarketText;

/// Every rung of the house's ladder leads to one wording of the market, so that a verdict is always worth something.
pub(super) fn check(text: &MarketText, out: &mut Vec<Diagnostic>) {
    let all = || RUNGS.into_iter().chain([NOT_IDENTIFIED]);
    let rungs = || text.wordings.iter().flat_map(|wording| &wording.rungs);
    for rung in rungs() {
        names::find("rung of the wording", rung, all(), out);
    }
    // What holds of any piece speaks for a rung once; beside it stand wordings for pieces of which more is noted.
    let always = text
        .wordings
        .iter()
        .filter(|wording| wording.only_where.is_empty());
    names::report_duplicates(
        "rung",
        always.clone().flat_map(|wording| &wording.rungs),
        out,
    );
    for wording in &text.wordings {
        let names = wording.names.as_ref();
        let names = names.filter(|names| names.value != "nobody");
        let claims_nothing = wording.rungs.iter().find(|rung| {
            matches!(
                rung.value.as_str(),
                "either" | "region" | "engraving" | "copy" | NOT_IDENTIFIED
            )
        });
        if let (Some(names), Some(rung)) = (names, claims_nothing) {
            let message = format!("a verdict of `{}` names no {}", rung.value, names.value);
            let report = Diagnostic::error(CODE, message, rung.span).also(names.span, "named here");
            out.push(
                report.hint("move it to the `rungs` of a [[wording]] with `names = \"nobody\"`"),
            );
        }
    }
    let told = always.flat_map(|wording| &wording.rungs);
    let told: BTreeSet<&str> = told.map(|rung| rung.value.as_str()).collect();
    let missing: Vec<&str> = all().filter(|rung| !told.contains(rung)).collect();
    if !missing.is_empty() {
        let message = format!("no wording of the market speaks for {}", missing.join(", "));
        let hint = "add each to the `rungs` of the [[wording]] that the market would use for it, whatever is noted of the piece: one without `only_where`";
        out.push(Diagnostic::error(CODE, message, text.span).hint(hint));
    }
}

/// The findings that wordings ask for: each a clue that is noted by its states, and a state of it; and wordings that speak of a
/// missing mark without asking for one. `noted`: whatever may be noted of a piece by its states.
pub(in crate::check) fn check_findings(
    text: &MarketText,
    pack: &PackText,
    noted: &[&DraftVariable],
    out: &mut Vec<Diagnostic>,
) {
    let mark = pack.marks.as_ref().map(|marks| &marks.reading);
    let absent = mark.and_then(|mark| mark.absent.as_ref());
    for wording in &text.wordings {
        let mut asks_for_no_mark = false;
        for (clue, state) in &wording.only_where {
            let ids = noted.iter().map(|clue| clue.name.value.as_str());
            let found = names::find("clue with states", clue, ids, out);
            let (Some(found), Some(state)) = (found.map(|place| noted[place]), state) else {
                continue;
            };
            let states = found.states.iter().map(|state| state.value.as_str());
            let what = format!("state of `{}`:", found.name.value);
            if names::find(&what, state, states, out).is_none() {
                continue;
            }
            let is_mark = mark.is_some_and(|mark| mark.id.value == found.name.value);
            if !is_mark || absent.is_none_or(|absent| absent.value != state.value) {
                continue;
            }
            asks_for_no_mark = true;
            if let Some(rung) = wording.rungs.iter().find(|rung| rung.value == "marked") {
                let message = "a piece without a mark is never catalogued as marked";
                out.push(
                    Diagnostic::error(CODE, message, state.span)
                        .also(rung.span, "the rung of a full mark")
                        .hint("take one of the two out"),
                );
            }
        }
        if let (Some(words), Some(mark), Some(absent)) = (&wording.words, mark, absent)
            && words.value.to_lowercase().contains("unmarked")
            && !asks_for_no_mark
        {
            let message = format!(
                "`{}` may be said of a piece that bears a mark",
                wording.id.value
            );
            let hint = format!(
                "say of which pieces it is true, such as `only_where = {{ {} = \"{}\" }}`, and give its rungs to a wording without that too",
                mark.id.value, absent.value
            );
            out.push(Diagnostic::warning(CODE, message, words.span).hint(hint));
        }
    }
}
