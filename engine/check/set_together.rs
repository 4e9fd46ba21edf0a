//! Beliefs that were set together.

use crate::diagnostic::Diagnostic;
use crate::model::{BeliefId, Beliefs, SetTogether, Spread};
use crate::nearest_name::nearest;
use crate::pack::text::{self, PackText, Word};

/// Finds the beliefs by how their descriptions begin. Each belongs to one group at most, and those of a group are of one
/// form: a stress run draws the first number of one with the first of the others, and so on.
pub fn read(pack: &PackText, beliefs: &Beliefs, out: &mut Vec<Diagnostic>) -> Vec<SetTogether> {
    let mut read: Vec<SetTogether> = Vec::new();
    for group in &pack.set_together {
        let found = found(group, beliefs, out);
        for &id in &found {
            if let Some(other) = read.iter().find(|other| other.beliefs.contains(&id)) {
                let what = format!(
                    "“{}” belongs to `{}` already",
                    beliefs.get(id).about,
                    other.name
                );
                let report = Diagnostic::error("pack::set-together", what, group.name.span);
                out.push(report.hint("name it in one group of beliefs set together"));
            }
        }
        one_form(group, &found, beliefs, out);
        let Some(correlation) = &group.correlation else {
            let what = format!(
                "`{}` does not say how closely its errors go together",
                group.name.value
            );
            let report = Diagnostic::error("pack::missing", what, group.name.span);
            out.push(report.hint(
                "add `correlation = \"80%\"`: 0% not at all, 100% whoever is wrong about one is wrong about all alike",
            ));
            continue;
        };
        read.push(SetTogether {
            name: group.name.value.clone(),
            beliefs: found,
            correlation: correlation.value.value,
        });
    }
    read
}

fn found(group: &text::SetTogether, beliefs: &Beliefs, out: &mut Vec<Diagnostic>) -> Vec<BeliefId> {
    let mut found = Vec::new();
    for word in &group.beliefs {
        let begins = beliefs
            .iter()
            .filter(|(_, b)| b.about.starts_with(&word.value));
        let named: Vec<BeliefId> = begins.map(|(id, _)| id).collect();
        if named.is_empty() {
            out.push(unknown(word, beliefs));
        }
        found.extend(named);
    }
    found.sort_unstable();
    found.dedup();
    if found.len() < 2 {
        let what = format!("`{}` holds fewer than two beliefs", group.name.value);
        let report = Diagnostic::error("pack::set-together", what, group.name.span);
        out.push(report.hint("name the beginnings of at least two beliefs' descriptions, as `pack.beliefs()` lists them in a script"));
    }
    found
}

fn unknown(word: &Word, beliefs: &Beliefs) -> Diagnostic {
    let what = format!("no belief of this pack begins with “{}”", word.value);
    let report = Diagnostic::error("pack::unknown-name", what, word.span);
    match nearest(&word.value, beliefs.iter().map(|(_, b)| b.about.as_str())) {
        Some(near) => report.hint(format!("did you mean “{near}”?")),
        None => report.hint("`pack.beliefs()` lists them in a script"),
    }
}

fn one_form(
    group: &text::SetTogether,
    found: &[BeliefId],
    beliefs: &Beliefs,
    out: &mut Vec<Diagnostic>,
) {
    let form = |id: &BeliefId| match &beliefs.get(*id).spread {
        Spread::Categorical { say } => (0, say.len()),
        Spread::Normal { .. } => (1, 2),
        Spread::Trivariate { .. } => (2, 9),
    };
    let Some(first) = found.first() else { return };
    if form(first).0 == 2 {
        let what = format!(
            "`{}` holds beliefs about colours, which are not drawn together",
            group.name.value
        );
        let report = Diagnostic::error("pack::set-together", what, group.name.span);
        out.push(report.hint("leave them out; rows of chances and of weights can be set together"));
    } else if let Some(other) = found.iter().find(|id| form(id) != form(first)) {
        let what = format!(
            "`{}` holds beliefs of different forms: “{}” and “{}”",
            group.name.value,
            beliefs.get(*first).about,
            beliefs.get(*other).about
        );
        let report = Diagnostic::error("pack::set-together", what, group.name.span);
        out.push(report.hint("set together rows about the same states, or about weights"));
    }
}
