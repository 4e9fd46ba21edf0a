//! The beliefs of `lettering.toml`.

use crate::check::draft::{Draft, report_few_pieces};
use crate::check::marks::STRIKES;
use crate::check::names;
use crate::check::rows::{self, Parent, say};
use crate::diagnostic::{Diagnostic, has_errors};
use crate::mark::{Presence, Reading, Report, StrikeChances, StrikeQuality};
use crate::model::belief::{BeliefId, Spread};
use crate::model::lettering::{LetteringBeliefs, N_STRIKES};
use crate::pack::text::{Lettering, Placed, Row, RowBody, Table, Word};

/// All beliefs about reading; `None` if anything is wrong with them, which is then reported.
pub fn read(
    text: &Lettering,
    alphabet: &Reading,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<LetteringBeliefs> {
    let qualities = StrikeQuality::ALL.map(StrikeQuality::name);
    let quality = Parent {
        name: "quality",
        states: qualities.to_vec(),
        ordered: false,
    };
    let step = parent("step", &StrikeChances::NAMES);
    let strike = parent("strike", &STRIKES[..N_STRIKES]);
    let presence = parent("presence", &Presence::NAMES);
    let looks = by_case(
        "look of the strike",
        &text.quality,
        &[strike],
        &qualities,
        draft,
        out,
    );
    let letters = by_case(
        "letters",
        &text.letters,
        &[step, quality.again()],
        &[],
        draft,
        out,
    );
    let reports = by_case(
        "seen of a device",
        &text.seen_of_device,
        &[presence, quality],
        &Report::NAMES,
        draft,
        out,
    );
    let look_alikes = look_alikes(text, alphabet, draft, out);
    let (looks, letters, reports) = (looks?, letters?, reports?);
    let n = qualities.len();
    Some(LetteringBeliefs {
        letters: std::array::from_fn(|q| std::array::from_fn(|step| letters[step * n + q])),
        quality: std::array::from_fn(|strike| looks[strike]),
        look_alikes: look_alikes?,
        reports: std::array::from_fn(|p| std::array::from_fn(|q| reports[p * n + q])),
    })
}

fn parent<'a>(name: &'a str, states: &[&'a str]) -> Parent<'a> {
    Parent {
        name,
        states: states.to_vec(),
        ordered: false,
    }
}

impl<'a> Parent<'a> {
    fn again(&self) -> Parent<'a> {
        parent(self.name, &self.states)
    }
}

/// One belief for each case of a table (last parent fastest): chances of `states`, or one chance if there are none.
fn by_case(
    about: &str,
    table: &Table,
    parents: &[Parent<'_>],
    states: &[&str],
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<Vec<BeliefId>> {
    let n_before = out.len();
    report_other_parents(about, table, parents, out);
    let fit = rows::first_fit(table, parents, out);
    report_few_pieces("these rows rest", table.seen.as_ref(), out);
    let states: Vec<Word> = states.iter().map(|s| word(s, table)).collect();
    let n_reports = out.len();
    let beliefs: Vec<Option<BeliefId>> = table
        .rows
        .iter()
        .map(|row| belief(about, row, table, &states, draft, out))
        .collect();
    rows::merge_seen_left_out(n_reports, out);
    let missing = fit.row_of_configuration.iter().position(Option::is_none);
    if let Some(case) = missing.filter(|_| fit.sound && table.readable) {
        out.push(
            Diagnostic::error(
                "pack::missing-row",
                format!(
                    "no row of `{about}` says what holds for {}",
                    spell(case, parents)
                ),
                table.span,
            )
            .hint("add a row for it, or one with `otherwise = true`"),
        );
    }
    if has_errors(&out[n_before..]) {
        return None;
    }
    let of_case = fit.row_of_configuration.iter().map(|row| beliefs[(*row)?]);
    of_case.collect()
}

fn word(text: &str, table: &Table) -> Word {
    Placed {
        value: text.to_owned(),
        span: table.span,
    }
}

fn report_other_parents(
    about: &str,
    table: &Table,
    parents: &[Parent<'_>],
    out: &mut Vec<Diagnostic>,
) {
    for other in &table.depends_on {
        let known = parents.iter().map(|p| p.name);
        if !known.clone().any(|name| name == other.value) {
            let what = format!("name that `{about}` can depend on");
            out.push(names::unknown(&what, other, known));
        }
    }
}

/// `step = misread, quality = clear`.
fn spell(mut case: usize, parents: &[Parent<'_>]) -> String {
    let mut names = Vec::new();
    for parent in parents.iter().rev() {
        names.push(format!(
            "{} = {}",
            parent.name,
            parent.states[case % parent.states.len()]
        ));
        case /= parent.states.len();
    }
    names.reverse();
    names.join(", ")
}

fn belief(
    about: &str,
    row: &Row,
    table: &Table,
    states: &[Word],
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<BeliefId> {
    let say = match &row.body {
        Some(RowBody::States(say)) if !states.is_empty() => say::say_chances(say, states, out)?,
        Some(RowBody::Single(chance)) if states.is_empty() => say::single(chance, 2, out)?,
        Some(_) => {
            let hint = if states.is_empty() {
                "write one chance: `say = \"5%\"`".to_owned()
            } else {
                let names = names::list(states.iter().map(|s| s.value.as_str()));
                format!("write `say = {{ … }}` with a chance for each of: {names}")
            };
            out.push(
                Diagnostic::error(
                    "pack::row-form",
                    format!("this row of `{about}` does not say what it should"),
                    row.span,
                )
                .hint(hint),
            );
            return None;
        }
        None => return None,
    };
    let endless = states.is_empty()
        && say[0] == 1.0
        && row
            .conditions
            .iter()
            .any(|c| c.values.iter().any(|v| v.value == "inserted"));
    if endless {
        out.push(
            Diagnostic::error(
                "pack::quantity",
                "if a character is inserted for certain, and another after it, the reading never ends",
                row.span,
            )
            .hint("say a chance below 1"),
        );
        return None;
    }
    let seen = rows::row_seen(row, table, out);
    let about = rows::describe(about, row);
    Some(draft.belief(about, Spread::Categorical { say }, seen, row.span))
}

/// What each letter with a row is taken for. A letter without one may be taken for any other, evenly.
fn look_alikes(
    text: &Lettering,
    alphabet: &Reading,
    draft: &mut Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<Vec<(char, BeliefId)>> {
    let Some(table) = &text.look_alikes else {
        return Some(Vec::new());
    };
    let n_before = out.len();
    let letters: Vec<String> = alphabet.alphabet().iter().map(char::to_string).collect();
    let parents = [parent(
        "letter",
        &letters.iter().map(String::as_str).collect::<Vec<_>>(),
    )];
    report_other_parents("look_alikes", table, &parents, out);
    let fit = rows::first_fit(table, &parents, out);
    report_few_pieces("these rows rest", table.seen.as_ref(), out);
    let n_reports = out.len();
    let mut beliefs = Vec::new();
    let mut faulty = vec![false; table.rows.len()];
    for (position, row) in fit.row_of_configuration.iter().enumerate() {
        let Some(row) = row.filter(|&row| !faulty[row]) else {
            continue;
        };
        let others = letters.iter().enumerate().filter(|(p, _)| *p != position);
        let states: Vec<Word> = others.map(|(_, letter)| word(letter, table)).collect();
        let stated = &table.rows[row];
        match belief("taken for", stated, table, &states, draft, out) {
            Some(belief) => beliefs.push((alphabet.alphabet()[position], belief)),
            None => faulty[row] = true,
        }
    }
    rows::merge_seen_left_out(n_reports, out);
    (!has_errors(&out[n_before..])).then_some(beliefs)
}
