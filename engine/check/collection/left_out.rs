//! What a pack leaves out, and says why.

use crate::check::names;
use crate::diagnostic::Diagnostic;
use crate::pack::text::PackText;

/// What may be left out, and so need a reason in `[leaves_out]`.
const LEAVES_OUT: [&str; 4] = ["maker", "period", "unlisted", "reproduction"];

/// Reports what is wrong with `[leaves_out]`.
pub fn report(pack: &PackText, out: &mut Vec<Diagnostic>) {
    for left in &pack.leaves_out {
        names::find("thing to leave out", &left.what, LEAVES_OUT, out);
        let given = match left.what.value.as_str() {
            "maker" => pack.makers.first().map(|maker| maker.id.span),
            "period" => pack.periods.first().map(|period| period.id.span),
            word => pack
                .makers
                .iter()
                .find_map(|maker| maker.role.as_ref().filter(|role| role.value == word))
                .map(|role| role.span),
        };
        if let Some(given) = given {
            let message = format!("the pack leaves out `{}` and has one", left.what.value);
            out.push(
                Diagnostic::error("pack::leaves-out", message, left.what.span)
                    .also(given, "here")
                    .hint("take out one of the two"),
            );
        }
    }
    if pack.leaves_out("maker") && pack.leaves_out("period") {
        out.push(
            Diagnostic::error(
                "pack::leaves-out",
                "the pack leaves out both questions",
                pack.name.span,
            )
            .hint("a pack says who made a piece, or when, or both"),
        );
    }
}
