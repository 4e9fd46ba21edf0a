//! What a pack with histories has and does not have besides them.

use crate::check::draft::{Draft, DraftId};
use crate::check::{dating, names};
use crate::dating::Bin;
use crate::diagnostic::Diagnostic;
use crate::pack::text::{Engravings as EngravingsText, PackText};
use crate::source::Span;

/// Rows and histories both.
pub fn report_two_forms(text: &EngravingsText, used: Span, out: &mut Vec<Diagnostic>) {
    let told = text.engravings.iter().find(|e| !e.history.is_empty());
    let mut report = Diagnostic::error(
        "pack::two-forms",
        "who used which engraving is said twice: in rows and in histories",
        used,
    );
    if let Some(told) = told {
        report = report.also(told.id.span, "this one has a history");
    }
    out.push(report.hint("keep [used], or `cut` and `events`: take the other out"));
}

/// Tables that only histories use.
pub fn report_without_histories(text: &EngravingsText, out: &mut Vec<Diagnostic>) {
    let from = &text.from_histories;
    let tables = [
        ("never_seen", from.never_seen.as_ref().map(|t| t.span)),
        ("use", from.shares.as_ref().map(|t| t.span)),
        ("plate", from.plate.as_ref().map(|p| p.span)),
    ];
    let classes = text.engravings.iter().flat_map(|e| &e.history.size_classes);
    if let Some(word) = classes.into_iter().next() {
        out.push(
            Diagnostic::error("pack::misplaced", "`size_classes` means nothing without histories", word.span)
                .hint("let [used] depend on `size_class` instead, or give the engravings `cut` and `events`"),
        );
    }
    for (name, span) in tables {
        if let Some(span) = span {
            out.push(
                Diagnostic::error(
                    "pack::misplaced",
                    format!("[{name}] means nothing without histories"),
                    span,
                )
                .hint("give the engravings `cut` and `events` instead of [used], or take it out"),
            );
        }
    }
}

/// Size classes, where some engravings are not of every class.
pub struct Classes {
    /// The variable.
    pub variable: DraftId,
    /// For each class, whether each engraving was cut for it.
    pub cut_for: Vec<Vec<bool>>,
}

/// The size classes, if an engraving is not of every class.
pub fn classes(
    text: &EngravingsText,
    draft: &Draft<'_>,
    out: &mut Vec<Diagnostic>,
) -> Option<Classes> {
    let named = || text.engravings.iter().flat_map(|e| &e.history.size_classes);
    let first = named().next()?;
    let Some(variable) = draft.find("size_class") else {
        out.push(
            Diagnostic::error("pack::missing", "the pack has no size classes", first.span)
                .hint("add sizes.toml with sizes and their classes, or take `size_classes` out"),
        );
        return None;
    };
    let states = &draft.variables[variable].states;
    let known = || states.iter().map(|s| s.value.as_str());
    let mut cut_for = vec![vec![true; text.engravings.len()]; states.len()];
    for (index, engraving) in text.engravings.iter().enumerate() {
        let own = &engraving.history.size_classes;
        names::report_duplicates("size class of this engraving", own, out);
        for word in own {
            names::find("size class", word, known(), out);
        }
        for (class, name) in states.iter().enumerate().filter(|_| !own.is_empty()) {
            cut_for[class][index] = own.iter().any(|word| word.value == name.value);
        }
    }
    for shows in &text.shows {
        let engraving = text
            .engravings
            .iter()
            .find(|e| e.id.value == shows.engraving.value);
        let own = engraving.map_or(&[][..], |e| &e.history.size_classes);
        if let Some(first) = own.first()
            && own.iter().all(|word| word.value != shows.size_class.value)
            && known().any(|name| name == shows.size_class.value)
        {
            out.push(
                Diagnostic::error(
                    "pack::unused-row",
                    format!(
                        "`{}` was not cut for {} pieces",
                        shows.engraving.value, shows.size_class.value
                    ),
                    shows.span,
                )
                .also(first.span, "but for these")
                .hint("take the row out, or add its size class there"),
            );
        }
    }
    Some(Classes { variable, cut_for })
}

/// The periods' years; none if the pack leaves out what histories speak of (reported).
pub fn bins(pack: &PackText, text: &EngravingsText, out: &mut Vec<Diagnostic>) -> Option<Vec<Bin>> {
    if pack.leaves_out("period") || pack.leaves_out("maker") {
        out.push(
            Diagnostic::error(
                "pack::history-years",
                "histories speak of makers and years, and the pack leaves them out",
                text.span,
            )
            .hint("take them out of [leaves_out], or say in [used] what the engraving depends on"),
        );
        return None;
    }
    dating::bins(pack)
}

/// The engraving that stands for one never seen; none if there are several (reported).
pub fn only_unseen(text: &EngravingsText, out: &mut Vec<Diagnostic>) -> Option<usize> {
    let mut unseen = text.engravings.iter().enumerate().filter(|(_, e)| e.unseen);
    let first = unseen.next()?;
    if let Some((_, second)) = unseen.next() {
        out.push(
            Diagnostic::error(
                "pack::duplicate",
                "two engravings stand for one never seen",
                second.id.span,
            )
            .also(first.1.id.span, "the other one")
            .hint("with histories one is enough: its chance is said in [never_seen]"),
        );
        return None;
    }
    Some(first.0)
}
