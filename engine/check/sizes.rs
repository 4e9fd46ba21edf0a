//! Sizes and the classes within which prints can be compared.

use super::draft::{Draft, DraftId, DraftTable, certain};
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
    for shape in &text.shapes {
        names::find("ware of a shape", &shape.ware, ["hollow", "flat"], out);
    }
    for size in &text.sizes {
        names::find(
            "shape",
            &size.shape,
            text.shapes.iter().map(|s| s.id.value.as_str()),
            out,
        );
    }
    let mut classes: Vec<Word> = Vec::new();
    for size in &text.sizes {
        if classes.iter().all(|c| c.value != size.class.value) {
            classes.push(size.class.clone());
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
    if let Some(table) = stated_table(draft, &text.share, &parents, &states, "size", out) {
        draft.set_table(sizes.size, parents, table);
    }
    let classes = &draft.variables[sizes.size_class].states;
    let n_classes = classes.len();
    let class_of =
        |size: &crate::pack::text::Size| classes.iter().position(|c| c.value == size.class.value);
    let table = DraftTable {
        rule_of_configuration: text.sizes.iter().map(class_of).collect(),
        rules: (0..n_classes)
            .map(|class| certain(class, n_classes))
            .collect(),
        place: text.share.span,
    };
    draft.set_table(sizes.size_class, vec![sizes.size], table);
}
