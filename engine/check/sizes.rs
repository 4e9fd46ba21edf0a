//! Sizes and the classes within which prints can be compared.

use super::draft::{Draft, DraftId, DraftTable, Gaps, certain};
use super::names;
use super::rows::stated_table;
use crate::diagnostic::Diagnostic;
use crate::pack::text::{Placed, Sizes as SizesText, Word};

/// The variables declared here.
pub struct Sizes {
    /// Size.
    pub size: DraftId,
    /// Size class.
    pub size_class: DraftId,
}

/// Declares size and size class.
pub fn declare(text: &SizesText, draft: &mut Draft<'_>, out: &mut Vec<Diagnostic>) -> Sizes {
    let sizes: Vec<Word> = text.sizes.iter().map(|s| s.id.clone()).collect();
    names::report_duplicates("size", &sizes, out);
    names::report_duplicates("shape", text.shapes.iter().map(|s| &s.id), out);
    for ware in text.shapes.iter().filter_map(|shape| shape.ware.as_ref()) {
        names::find("ware of a shape", ware, ["hollow", "flat"], out);
    }
    for shape in text.sizes.iter().filter_map(|size| size.shape.as_ref()) {
        names::find(
            "shape",
            shape,
            text.shapes.iter().map(|s| s.id.value.as_str()),
            out,
        );
    }
    let mut classes: Vec<Word> = Vec::new();
    for class in text.sizes.iter().filter_map(|size| size.class.as_ref()) {
        if classes.iter().all(|c| c.value != class.value) {
            classes.push(class.clone());
        }
    }
    let place = text.share.span;
    let here = |name: &str| Placed {
        value: name.to_owned(),
        span: place,
    };
    Sizes {
        size: draft.declare(here("size"), "size", sizes, true),
        size_class: draft.declare(here("size_class"), "size class", classes, true),
    }
}

/// Size given its parents, and the class fixed by the size.
pub fn tables(text: &SizesText, sizes: &Sizes, draft: &mut Draft<'_>, out: &mut Vec<Diagnostic>) {
    let parents = draft.parents(&text.share.depends_on, out);
    let states = draft.variables[sizes.size].states.clone();
    if let Some(mut table) = stated_table(draft, &text.share, &parents, &states, "size", out) {
        table.gaps = Gaps::ReportAs("share").if_sound(table.gaps != Gaps::Leave);
        draft.set_table(sizes.size, parents, table);
    }
    let classes = &draft.variables[sizes.size_class].states;
    let n_classes = classes.len();
    let class_of = |size: &crate::pack::text::Size| {
        let class = size.class.as_ref()?;
        classes.iter().position(|c| c.value == class.value)
    };
    let table = DraftTable {
        rule_of_configuration: text.sizes.iter().map(class_of).collect(),
        rules: (0..n_classes)
            .map(|class| certain(class, n_classes))
            .collect(),
        place: text.share.span,
        gaps: Gaps::Leave,
    };
    draft.set_table(sizes.size_class, vec![sizes.size], table);
}
