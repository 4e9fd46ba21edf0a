//! Wordings of the market: which rungs they speak for, and of which pieces they are true.

use std::collections::BTreeSet;

use super::CODE;
use crate::check::names;
use crate::diagnostic::Diagnostic;
use crate::model::wording::{NOT_IDENTIFIED, RUNGS};
use crate::model::{Catalogue, ClueKind};
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
/// missing mark without asking for one.
pub(in crate::check) fn check_findings(
    text: &MarketText,
    catalogue: &Catalogue,
    out: &mut Vec<Diagnostic>,
) {
    let known = || {
        catalogue
            .clues
            .iter()
            .filter(|clue| !clue.states.is_empty())
    };
    let mark = || {
        catalogue
            .clues
            .iter()
            .find(|clue| clue.kind == ClueKind::Mark)
    };
    for wording in &text.wordings {
        for (clue, state) in &wording.only_where {
            let ids = known().map(|clue| clue.id.as_str());
            let found = names::find("clue with states", clue, ids.clone(), out);
            let (Some(found), Some(state)) = (found.and_then(|place| known().nth(place)), state)
            else {
                continue;
            };
            let states = found.states.iter().map(String::as_str);
            let place = names::find(&format!("state of `{}`:", found.id), state, states, out);
            let marked = wording.rungs.iter().find(|rung| rung.value == "marked");
            if let (Some(rung), ClueKind::Mark) = (marked, &found.kind)
                && place.is_some()
                && place == found.absent
            {
                let message = "a piece without a mark is never catalogued as marked";
                out.push(
                    Diagnostic::error(CODE, message, state.span)
                        .also(rung.span, "the rung of a full mark")
                        .hint("take one of the two out"),
                );
            }
        }
        let asks_for_no_mark = wording.only_where.iter().any(|(clue, state)| {
            let clue = mark().filter(|mark| mark.id == clue.value);
            let absent = clue.and_then(|mark| mark.states.get(mark.absent?));
            absent.is_some() && absent == state.as_ref().map(|state| &state.value)
        });
        if let (Some(words), Some(mark)) = (&wording.words, mark())
            && words.value.to_lowercase().contains("unmarked")
            && !asks_for_no_mark
        {
            let absent = mark.absent.and_then(|absent| mark.states.get(absent));
            let message = format!(
                "`{}` may be said of a piece that bears a mark",
                wording.id.value
            );
            let hint = format!(
                "say of which pieces it is true, such as `only_where = {{ {} = \"{}\" }}`, and give its rungs to a wording without that too",
                mark.id,
                absent.map_or("…", String::as_str)
            );
            out.push(Diagnostic::warning(CODE, message, words.span).hint(hint));
        }
    }
}
