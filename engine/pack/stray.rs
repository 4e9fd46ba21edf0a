//! Files beside those of a pack that nothing reads.

use std::path::Path;

use super::{COMPARABLES_TABLE, MARKET_FILE, OPTIONAL_FILES, REQUIRED_FILES};
use crate::diagnostic::Diagnostic;
use crate::source::{Sources, Span};

/// A file such as `mark.toml` beside the known ones is most likely a slip, and would be ignored in silence.
pub(super) fn report_stray_files(folder: &Path, sources: &mut Sources, out: &mut Vec<Diagnostic>) {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return;
    };
    let mut names: Vec<String> = entries
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .filter(|name| name.ends_with(".toml"))
        .collect();
    names.sort();
    let known = || REQUIRED_FILES.into_iter().chain(OPTIONAL_FILES);
    if folder.join(COMPARABLES_TABLE).exists() && !folder.join(MARKET_FILE).exists() {
        let path = folder.join(COMPARABLES_TABLE).display().to_string();
        let source = sources.add(path, "");
        let (start, end) = (0, 0);
        let message = format!("{COMPARABLES_TABLE} is not read without a {MARKET_FILE} beside it");
        let report = Diagnostic::warning("pack::stray-file", message, Span { source, start, end });
        out.push(report.hint(
            "write market.toml: currency, the usual piece, how prices differ, definitions of value",
        ));
    }
    for name in names {
        if known().any(|k| k == name) {
            continue;
        }
        let source = sources.add(folder.join(&name).display().to_string(), "");
        out.push(
            Diagnostic::warning(
                "pack::stray-file",
                format!("{name} is not a file of a pack and is not read"),
                Span {
                    source,
                    start: 0,
                    end: 0,
                },
            )
            .did_you_mean(crate::nearest_name::nearest(&name, known()))
            .hint("rename it, or keep it in another folder"),
        );
    }
}
