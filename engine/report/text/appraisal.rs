//! A written opinion in the terminal: the instruction, the results one after another, and what a reader may ask.

use super::layout::{heading, line, small, what_if, wrapped};
use super::{audit, contrasts, next_look, overturn, stress, verdict};
use crate::appraisal::Appraisal;
use crate::instruction::Instruction;
use crate::report::value;

/// A written opinion.
#[must_use]
pub fn appraisal(appraisal: &Appraisal) -> String {
    let mut out = String::new();
    heading(&mut out, "REPORT", &appraisal.title);
    what_if(&mut out, appraisal.verdict.what_if.as_ref());
    asked_for(&mut out, &appraisal.instruction);
    line(
        &mut out,
        "condition",
        appraisal.condition.as_deref().unwrap_or("not noted"),
    );
    for doubt in appraisal.condition_doubt.iter().chain(&appraisal.doubts) {
        wrapped(&mut out, "  mind: ", doubt);
    }
    out.push('\n');
    line(
        &mut out,
        "ladder",
        "the house's words, and the probability they need",
    );
    for rung in &appraisal.ladder {
        let at_least = rung
            .at_least
            .map_or_else(|| "    ".to_owned(), |p| format!("{p:.2}"));
        let also = rung
            .also
            .map_or_else(String::new, |also| format!("  [also needed: {also}]"));
        line(&mut out, "", &format!("{at_least}  {}{also}", rung.words));
    }
    for (place, maker) in appraisal.alternatives.iter().enumerate() {
        let key = if place == 0 { "weighed" } else { "" };
        let years = maker.years.as_deref().unwrap_or("no years");
        let text = format!(
            "{} {} {}  [{years}]",
            maker.id,
            maker.name,
            small(maker.probability)
        );
        line(&mut out, key, &text);
    }
    out.push('\n');
    heading(&mut out, "OBJECT", "by the fields of Object ID");
    for field in &appraisal.object {
        let text = field.text.as_deref().unwrap_or("not noted");
        let by = match (field.text.is_some(), field.from_findings) {
            (true, false) => "  [as told by the expert]",
            _ => "",
        };
        wrapped(
            &mut out,
            &format!("  {}: ", field.field),
            &format!("{text}{by}"),
        );
        if let Some(told) = &field.told {
            let beside = format!("as told by the expert, not this opinion: {told}");
            wrapped(&mut out, "    ", &beside);
        }
    }
    out.push('\n');
    let mut parts = vec![
        verdict(&appraisal.verdict),
        audit(&appraisal.audit),
        stress(&appraisal.stress),
        contrasts(&appraisal.contrasts),
    ];
    parts.extend(appraisal.overturn.as_ref().map(overturn));
    parts.extend(appraisal.next_look.as_ref().map(next_look));
    parts.extend(appraisal.value.as_ref().map(value::text));
    for part in parts {
        out += &part;
        out.push('\n');
    }
    heading(&mut out, "QUESTIONS", "of a hostile reader");
    for asked in &appraisal.questions {
        wrapped(&mut out, "  ", asked.question);
        for answer in &asked.answers {
            wrapped(&mut out, "    - ", answer);
        }
    }
    out.push('\n');
    for missing in &appraisal.missing {
        wrapped(
            &mut out,
            "  not in this report: ",
            &format!("{} ({})", missing.part, missing.why),
        );
    }
    for caution in &appraisal.cautions {
        wrapped(&mut out, "! ", caution);
    }
    wrapped(
        &mut out,
        "  ",
        &format!(
            "program: Saggar {}; script: {}",
            appraisal.version,
            appraisal.script.as_deref().unwrap_or("entered by hand")
        ),
    );
    out
}

/// What an opinion is asked for, on its own.
#[must_use]
pub fn instruction(asked: &Instruction) -> String {
    let mut out = String::new();
    heading(&mut out, "INSTRUCTION", &asked.purpose);
    asked_for(&mut out, asked);
    if let Some(definition) = &asked.definition {
        line(&mut out, "value", definition);
    }
    out
}

fn asked_for(out: &mut String, asked: &Instruction) {
    let client = asked.client.as_deref().unwrap_or("not noted");
    let inspected = format!(
        "{}, by {}, {}",
        asked.inspected,
        asked.inspector,
        asked.seen.words()
    );
    for (key, text) in [
        ("client", client),
        ("purpose", &asked.purpose),
        ("for use of", &asked.users),
        ("holds for", &asked.effective),
        ("inspected", &inspected),
        ("interest", &asked.interest),
    ] {
        line(out, key, text);
    }
    for (place, assumption) in asked.assumptions.iter().enumerate() {
        line(out, if place == 0 { "assumed" } else { "" }, assumption);
    }
}
