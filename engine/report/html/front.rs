//! What was asked, the opinion, the object, and what stands at the end.

use maud::{Markup, html};

use super::{clean, pairs, section, table};
use crate::appraisal::Appraisal;
use crate::report::text::layout::{four_digits, small};
use crate::report::text::no_claim;
use crate::verdict::wording::chance;

const NOT_NOTED: &str = "not noted";

fn or_not_noted(text: Option<&String>) -> String {
    text.map_or_else(|| NOT_NOTED.to_owned(), Clone::clone)
}

pub(super) fn instruction(appraisal: &Appraisal) -> Markup {
    let asked = &appraisal.instruction;
    let assumptions = match asked.assumptions.is_empty() {
        true => "none stated".to_owned(),
        false => asked.assumptions.join("; "),
    };
    let pairs = pairs(&[
        ("piece", appraisal.verdict.piece.clone()),
        ("client", or_not_noted(asked.client.as_ref())),
        ("purpose", asked.purpose.clone()),
        ("for the use of", asked.users.clone()),
        ("holds for the day", asked.effective.clone()),
        (
            "inspected",
            format!("{}, by {}", asked.inspected, asked.inspector),
        ),
        ("how seen", asked.seen.words().to_owned()),
        ("interest of the inspector", asked.interest.clone()),
        ("taken as true", assumptions),
    ]);
    section(
        "instruction",
        "Instruction",
        &html! {
            (pairs)
            @for doubt in &appraisal.doubts { p { strong { "Mind: " } (clean(doubt)) "." } }
        },
    )
}

pub(super) fn opinion(appraisal: &Appraisal) -> Markup {
    let attribution = &appraisal.verdict.attribution;
    let rule = match attribution.at_least > 0.0 {
        true => format!("house rule: at least {:.2}", attribution.at_least),
        false => "the lowest rung, which needs no number".to_owned(),
    };
    let rungs: Vec<Vec<String>> = appraisal
        .ladder
        .iter()
        .map(|rung| {
            vec![
                rung.words.clone(),
                rung.at_least
                    .map_or_else(String::new, |p| format!("{p:.2}")),
                rung.also.unwrap_or_default().to_owned(),
            ]
        })
        .collect();
    section(
        "opinion",
        "Opinion",
        &html! {
            p class="opinion" { (clean(&attribution.words)) " (" (chance(attribution.probability)) "; " (rule) ")" }
            @if let Some(words) = no_claim(&appraisal.verdict) { p class="missing" { "Findings: " (words) "." } }
            @for beside in &attribution.beside { p { (clean(beside)) } }
            (table(
                "The house's ladder of words. It speaks of how probable the conclusion is, not of the strength of the evidence.",
                &["words", "at least", "also needed"],
                &[false, true, false],
                &rungs,
            ))
        },
    )
}

pub(super) fn alternatives(appraisal: &Appraisal) -> Markup {
    let rows: Vec<Vec<String>> = appraisal
        .alternatives
        .iter()
        .map(|maker| {
            vec![
                format!("{} {}", maker.id, maker.name),
                small(maker.probability),
                maker.years.clone().unwrap_or_else(|| "no years".to_owned()),
            ]
        })
        .collect();
    let chart = crate::report::Shown::Verdict(Box::new(appraisal.verdict.clone())).chart();
    section(
        "alternatives",
        "Alternatives weighed",
        &html! {
            (table("Makers, the most probable first.", &["maker", "probability", "the firm's years"], &[false, true, false], &rows))
            @for left in &appraisal.verdict.leaves_out { p { "Left out: " (clean(&left.what)) " (" (clean(&left.why)) ")" } }
            @if let Some(chart) = chart { figure { (crate::report::chart::svg::picture(&chart, "verdict")) } }
        },
    )
}

pub(super) fn dates(appraisal: &Appraisal) -> Markup {
    let dating = &appraisal.verdict.dating;
    let span = dating.in_words();
    let said = format!(
        "{span} ({}; the shortest span of whole periods that holds at least {})",
        chance(dating.probability),
        dating.at_least
    );
    let mode = format!(
        "{} ({})",
        dating.mode_years,
        chance(dating.mode_probability)
    );
    let engravings: Vec<Vec<String>> = appraisal
        .engravings
        .iter()
        .map(|engraving| {
            let had = engraving.had_by.iter();
            let had = had.map(|(maker, spells)| {
                let spells = spells.iter().map(|(first, last)| format!("{first}–{last}"));
                format!("{maker} {}", spells.collect::<Vec<_>>().join(", "))
            });
            let had: Vec<String> = had.collect();
            let had = match had.is_empty() {
                true => "the prior files hold no history".to_owned(),
                false => had.join("; "),
            };
            vec![engraving.name.clone(), small(engraving.probability), had]
        })
        .collect();
    section(
        "date",
        "Date",
        &html! {
            @if appraisal.verdict.periods.is_empty() {
                p class="missing" { "These prior files leave out the date." }
            } @else {
                (pairs(&[("date of the piece", said), ("most likely", mode)]))
            }
            @if !engravings.is_empty() {
                (table(
                    "The years of an engraving are not those of the piece: who can have pulled from it, and when.",
                    &["engraving", "probability", "at hand"],
                    &[false, true, false],
                    &engravings,
                ))
            }
        },
    )
}

pub(super) fn object(appraisal: &Appraisal) -> Markup {
    let rows: Vec<Vec<String>> = appraisal
        .object
        .iter()
        .flat_map(|field| {
            let source = match (field.text.is_some(), field.from_findings) {
                (false, _) => "",
                (true, true) => "findings and verdict",
                (true, false) => "the expert",
            };
            let told = field.told.iter().map(|told| {
                [
                    format!("{}, as told", field.field),
                    told.clone(),
                    "the expert; not this opinion".to_owned(),
                ]
            });
            let own = [
                field.field.to_owned(),
                or_not_noted(field.text.as_ref()),
                source.to_owned(),
            ];
            std::iter::once(own)
                .chain(told)
                .map(Vec::from)
                .collect::<Vec<_>>()
        })
        .collect();
    section(
        "object",
        "The object",
        &table(
            "By the fields of Object ID (International Council of Museums).",
            &["field", "what is said", "by"],
            &[false, false, false],
            &rows,
        ),
    )
}

pub(super) fn looked_at(appraisal: &Appraisal) -> Markup {
    let verdict = &appraisal.verdict;
    let rows: Vec<Vec<String>> = verdict
        .findings
        .iter()
        .map(|finding| {
            let how = &finding.how;
            let who = finding.observer.as_ref().or(how.who.as_ref());
            let tool = [how.light.as_ref(), how.tool.as_ref(), how.cleaning.as_ref()];
            let tool: Vec<&str> = tool.into_iter().flatten().map(String::as_str).collect();
            let before = finding.replaced.iter().map(|earlier| earlier.said.as_str());
            let before: Vec<&str> = before.collect();
            let said = match before.is_empty() {
                true => finding.said.clone(),
                false => format!("{} (before: {})", finding.said, before.join("; ")),
            };
            vec![
                finding.name.clone(),
                said,
                or_not_noted(who),
                or_not_noted(how.when.as_ref()),
                match tool.is_empty() {
                    true => NOT_NOTED.to_owned(),
                    false => tool.join(", "),
                },
            ]
        })
        .collect();
    let not_looked = match verdict.not_looked.is_empty() {
        true => "nothing that the prior files know of".to_owned(),
        false => verdict.not_looked.join(", "),
    };
    section(
        "findings",
        "What was looked at, and what was not",
        &html! {
            (table(
                "Findings in the order noted.",
                &["clue", "what was found", "who", "when", "light, tool, cleaning"],
                &[false; 5],
                &rows,
            ))
            p { strong { "Not looked at: " } (clean(&not_looked)) "." }
            @if let Some(what_if) = &verdict.what_if {
                @for left in &what_if.left_out { p { strong { "Left out (what-if): " } (clean(&left.name)) ": " (clean(&left.said)) "." } }
            }
        },
    )
}

pub(super) fn condition(appraisal: &Appraisal) -> Markup {
    section(
        "condition",
        "Condition",
        &html! { p { (clean(appraisal.condition.as_deref().unwrap_or("Condition: not noted."))) }
            @if let Some(doubt) = &appraisal.condition_doubt { p { strong { "Mind: " } (clean(doubt)) "." } }
        },
    )
}

pub(super) fn limits(appraisal: &Appraisal) -> Markup {
    let verdict = &appraisal.verdict;
    section(
        "limits",
        "Limits and cautions",
        &html! {
            @for missing in &appraisal.missing {
                p class="missing" { "Not in this report: " (missing.part) " (" (clean(&missing.why)) ")." }
            }
            ul {
                @for caution in &verdict.cautions { li { (caution) } }
                @for caution in &appraisal.cautions { li { (caution) } }
            }
        },
    )
}

pub(super) fn again(appraisal: &Appraisal) -> Markup {
    let verdict = &appraisal.verdict;
    let script = appraisal.script.clone();
    section(
        "again",
        "To come to the same result again",
        &pairs(&[
            ("program", format!("Saggar {}", appraisal.version)),
            (
                "script",
                script.unwrap_or_else(|| "entered by hand".to_owned()),
            ),
            ("prior files", verdict.pack.clone()),
            ("their SHA-256", verdict.pack_sha256.clone()),
            ("seed", appraisal.stress.seed.to_string()),
            ("draws", appraisal.stress.draws.to_string()),
            (
                "chance of the leader",
                four_digits(appraisal.audit.posterior),
            ),
        ]),
    )
}

pub(super) fn signature(appraisal: &Appraisal) -> Markup {
    let name = clean(&appraisal.instruction.inspector);
    section(
        "signature",
        "Signature",
        &html! {
            p { "This opinion is that of whoever signs it. The program certifies nothing." }
            div class="sign" { div { (name) } div { "place and day" } }
        },
    )
}
